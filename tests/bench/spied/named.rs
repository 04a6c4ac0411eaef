//! Crafts that are told by a typed name alone: what names one, what never does, and what a name does not allow.

use super::{demands, did_not_leave_them_turning, once_turning, stopped_at_once};
use crate::bench::stand::{Hands, keys};
use crate::spy::{Act, Class, Craft, Do, Played, Scene, View, bound};
use quadjig::board::craft_name::CraftName;
use quadjig::board::signals::{Identity, Outgoing};
use quadjig::interlock::Interlock;
use quadjig::measure::time::Time;
use quadjig::rehearsal::operator::{Deed, typed};
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Declined};
use quadjig::seam::{Key, PortInfo};
use quadjig::virtual_board::{Conduct, GivenId, WorldConfig};
use std::time::Duration;

const NAMELESS: [GivenId; 3] = [GivenId::Zero, GivenId::Refused, GivenId::Silent];
/// Motors turn by the switch.
const START: &str = "require battery in\ntest idle in 1 start\n";

fn of(id: GivenId) -> WorldConfig {
    WorldConfig { conduct: Conduct { id, ..Conduct::default() }, ..WorldConfig::default() }
}

fn called<'a>(config: &WorldConfig, names: &[&str]) -> Hands<'a> {
    let names: Vec<String> = names.iter().map(ToString::to_string).collect();
    let mut asked = 0;
    Hands::willing(config).who_answers(move |question| {
        (question.about == About::Name).then(|| {
            let name = names.get(asked).or(names.last()).expect("a name");
            asked += 1;
            typed(name)
        })
    })
}

/// Files in the folder of the craft.
fn kept(played: &Played) -> usize {
    played.disk.craft.len()
}

#[test]
fn what_is_no_name_names_nothing() {
    let long = "x".repeat(200);
    let bad = ["", "   ", "a/b", "/", "..", ".", "wren_95", "wren--95", "-wren", "wr\u{e9}n", "wren\u{202e}", &long];
    let bad = bad.into_iter().chain(["VIRTUAL wren", "vir tual", "\u{1b}[2Jwren/..", "c:wren", "~", "wren\0x/"]);
    for name in bad {
        let config = of(GivenId::Refused);
        let mut scene = Scene::new(&config, "keep\n");
        scene.hands = called(&config, &[name]);
        let played = scene.play();
        let Err(Fault::Declined { what, why }) = &played.result else { panic!("{name:?}: {:?}", played.result) };
        assert_eq!(what, "What is this craft called?", "{name:?}");
        assert!(matches!(why, Declined::NotAName(_) | Declined::EnterAlone), "{name:?}: {why:?}");
        assert_eq!(kept(&played), 0, "{name:?}");
        let more = played.log.sent_that(|sent| !matches!(sent.class, Class::Identity | Class::Heartbeat));
        assert!(more.is_empty(), "{name:?}: {more:?}");
    }
}

/// A name comes from a hand at the keyboard.
#[test]
fn a_pasted_name_and_escape_name_nothing() {
    for pasted in [true, false] {
        let config = of(GivenId::Zero);
        let mut scene = Scene::new(&config, "keep\n");
        scene.hands = Hands::willing(&config).who_answers(move |question| {
            let name = || "wren 95".chars().map(Key::Char).chain([Key::Enter]);
            (question.about == About::Name)
                .then(|| if pasted { keys(900, 3, name()) } else { keys(900, 70, [Key::Char('w'), Key::Escape]) })
        });
        let played = scene.play();
        let wanted = if pasted { Declined::Pasted } else { Declined::Refused };
        assert!(matches!(&played.result, Err(Fault::Declined { why, .. }) if *why == wanted), "{:?}", played.result);
        assert_eq!(kept(&played), 0);
    }
    let config = of(GivenId::Zero);
    let mut scene = Scene::new(&config, "keep\n");
    scene.hands = Hands::willing(&config).who_answers(|question| {
        let mut deeds = typed("wren 95");
        deeds.insert(0, (Duration::from_millis(500), Deed::Paste));
        (question.about == About::Name).then_some(deeds)
    });
    let played = scene.play();
    assert!(matches!(&played.result, Err(Fault::Declined { why: Declined::Pasted, .. })), "{:?}", played.result);
}

#[test]
fn a_name_finds_the_record_that_was_begun_under_it() {
    let config = of(GivenId::Refused);
    let lines = "require battery out\nkeep\n";
    let first = Scene { hands: called(&config, &["..", "Wren 95"]), ..Scene::new(&config, lines) }.play();
    assert_eq!(first.result, Ok(()));
    assert!(first.flat().contains("called wren-95, as typed"), "{}", first.screen);
    // A slip of the hand that begins a record of its own is seen.
    let new = "Nothing is kept yet of a craft called wren-95.";
    assert!(first.flat().contains(new), "{}", first.screen);
    let again = Scene { board: first.board, disk: first.disk, ..Scene::new(&config, lines) };
    let again = Scene { hands: called(&config, &["wren-95"]), ..again }.play();
    assert_eq!(again.result, Ok(()));
    assert!(!again.flat().contains("Nothing is kept yet"), "{}", again.screen);
}

/// A board with an id of its own is asked for no name.
#[test]
fn an_id_is_enough() {
    let played = Scene::new(&WorldConfig::default(), "keep\n").play();
    assert!(played.log.questions().iter().all(|(_, question)| question.about != About::Name));
}

#[test]
fn everything_stops_a_craft_that_is_told_by_its_name() {
    for id in [GivenId::Refused, GivenId::Silent] {
        for (what, demand) in demands() {
            let played = Scene::on_bound(&of(id), START).act(once_turning(demand)).play();
            assert!(played.log.fastest(Craft::A) > 1000.0, "{id:?}, {what}: nothing turned\n{}", played.log.tail());
            stopped_at_once(&played, what, &demand());
            did_not_leave_them_turning(&played, what);
        }
    }
}

/// Nothing measures a link by a name: only an answer does.
#[test]
fn a_slow_link_turns_nothing_on_a_craft_that_was_named() {
    for id in [GivenId::Zero, GivenId::Refused] {
        let scene = Scene { lag: Duration::from_millis(400), ..Scene::on_bound(&of(id), START) };
        let played = scene.play();
        assert!(played.log.fastest(Craft::A) < 1000.0, "{id:?}\n{}", played.log.tail());
        let starts = played.log.invitations().iter().filter(|(_, text)| text.starts_with("Start ")).count();
        assert_eq!(starts, 0, "{id:?}: {:?}\n{}", played.result, played.log.tail());
    }
}

/// See above, at the very moment of the naming.
#[test]
fn a_name_measures_nothing() {
    let mut interlock = Interlock::default();
    interlock.opened(&PortInfo::default());
    interlock.asks(&Outgoing::Identify);
    let named = Identity { name: CraftName::read("wren 95").ok(), ..Identity::unsaid() };
    interlock.named(&named);
    assert_eq!(interlock.who(), Some(&named));
    assert_eq!(interlock.round_trip(), None);
}

/// Doubt ends by the clock that runs on, where who it is is never answered.
#[test]
fn a_moment_without_this_program_ends_no_run_on_a_named_craft() {
    for id in NAMELESS {
        let recipe = "require battery out\nkeep\nrequire battery in\nidle at 1160\nkeep\n";
        let scene = Scene::on_bound(&of(id), recipe).act(Act::said("The battery is in", 300, vec![Do::Freeze(600)]));
        let played = scene.play();
        assert_eq!(played.result, Ok(()), "{id:?}\n{}", played.log.tail());
    }
}

/// What was said of the propellers is said of a craft, and a restart leaves no sign of which one it is.
#[test]
fn a_restart_keeps_nothing_that_was_said_of_a_named_craft() {
    for id in NAMELESS {
        let played = Scene::new(&of(id), &format!("keep\n{START}")).play();
        assert_eq!(played.result, Ok(()), "{id:?}\n{}", played.log.tail());
        let props = played.log.questions().iter().filter(|(_, question)| question.about == About::Props).count();
        assert_eq!(props, 2, "{id:?}");
    }
}

/// At the prompt another such craft is put on the cable: it is told by nothing but the name that is typed.
#[test]
fn another_named_craft_on_the_cable_is_written_nothing() {
    for id in NAMELESS {
        for same in [false, true] {
            let config = of(id);
            let mut other = bound(&WorldConfig { seed: 0xB, ..config.clone() });
            other.line(Time(0), "flip B 0").unwrap();
            let sat = |view: &View<'_>| view.now > Time(9_000_000);
            let lines = vec![(30_000, "idle at 1111"), (3000, "look")];
            let mut scene = Scene { typed: Some(lines), ..Scene::on_bound(&config, "") };
            (scene.other, scene.limit) = (Some(other), Duration::from_secs(600));
            let names: &[&str] = if same { &["wren 95"] } else { &["wren 95", "wren 96"] };
            scene.hands = called(&config, names);
            let played = scene.act(Act::when(sat, 0, vec![Do::Replug(600)])).play();
            assert!(played.log.first_of_b.is_some(), "{id:?}\n{}", played.log.tail());
            let asked = played.log.questions().iter().filter(|(_, q)| q.about == About::Name).count();
            assert!(asked > 1, "{id:?}: asked {asked} times\n{}", played.log.tail());
            let acted = played.log.reached_b_that(|sent| sent.class.acts());
            assert!(same || acted.is_empty(), "{id:?}: {acted:?}\n{}", played.log.tail());
        }
    }
}

/// The other one comes onto a wire that stays open, after a silence or none: nothing of the one before is done to it.
#[test]
fn a_quiet_change_of_named_crafts_is_noticed_before_anything_leaves() {
    let mut fell = Vec::new();
    for id in NAMELESS {
        for silent in [0, 700, 2500, 11_000] {
            let config = of(id);
            let mut board = bound(&WorldConfig { seed: 0xB, ..config.clone() });
            board.line(Time(0), "restart").unwrap();
            let lines = vec![(16_000, "idle at 1111"), (2000, "keep")];
            let mut scene = Scene { typed: Some(lines), stays: true, ..Scene::on_bound(&config, "") };
            (scene.other, scene.limit) = (Some(board), Duration::from_secs(600));
            scene.hands = called(&config, &["wren 95", "wren 96"]);
            let sat = |view: &View<'_>| view.now > Time(9_000_000);
            let played = scene
                .act(Act::when(sat, 0, vec![Do::Silent(true)]))
                .act(Act::when(sat, silent, vec![Do::Swap, Do::Silent(false)]))
                .play();
            assert!(played.log.first_of_b.is_some(), "{id:?}");
            let acted = played.log.reached_b_that(|sent| sent.class.acts());
            if !acted.is_empty() {
                fell.push(format!("{id:?}, silent for {silent} ms: {acted:?}"));
            }
        }
    }
    assert!(fell.is_empty(), "{}", fell.join("\n"));
}
