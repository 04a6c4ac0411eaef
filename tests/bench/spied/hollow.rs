//! Boards that acknowledge what they did not do: nothing that was not seen is said, on the screen, in the journal, or
//! in the JSON of a rehearsal. Without evidence the words are "accepted, not shown".

use crate::bench::stand::{Hands, job};
use crate::spy::{Act, Class, Craft, Do, Played, Scene};
use quadjig::board::shipped;
use quadjig::rehearsal::fleet::Craft as FleetCraft;
use quadjig::rehearsal::rehearse::{Script, rehearse, willing};
use quadjig::rehearsal::simulated::Disk;
use quadjig::report::rehearsal::RehearseJson;
use quadjig::seam::ui::Gesture;
use quadjig::virtual_board::{BoardKind, Conduct, ConsoleConfig, Deed, World, WorldConfig};
use std::time::Duration;

const SETTINGS: &str = "keep\ntest arm\n";
/// Names and values that [`SETTINGS`] asks for.
const WANTED: [(&str, i64); 2] = [("IDLE_US", 1150), ("SPIN_AT_ZERO", 1)];
/// What is said only of what was seen after a restart.
const KEPT: [&str; 4] = ["still there", "Restarted", "kept over a restart", "kept-over-restart"];

fn hollow() -> Vec<(String, Conduct)> {
    let mut all = Vec::new();
    for deed in [Deed::Hollow, Deed::Silent, Deed::Late(Duration::from_millis(300)), Deed::Late(Duration::from_secs(6))]
    {
        let usual = Conduct::default();
        all.push((format!("writes {deed:?}"), Conduct { writes: deed, ..usual }));
        all.push((format!("stores {deed:?}"), Conduct { stores: deed, ..usual }));
        all.push((format!("restarts {deed:?}"), Conduct { restarts: deed, ..usual }));
        all.push((format!("stores and restarts {deed:?}"), Conduct { stores: deed, restarts: deed, ..usual }));
    }
    all
}

/// What the screen and the journal say falsely, by the world's own truth at the end.
fn lies(played: &Played, starts: u32) -> Vec<String> {
    let (screen, journal) = (played.flat(), played.journal());
    let mut lies = Vec::new();
    let stored = WANTED.iter().all(|(name, wanted)| played.setting(name, true) == *wanted);
    for words in KEPT {
        let said = screen.contains(words) || journal.contains(words);
        if said && (played.board.starts() == starts || !stored) {
            let (times, is) = (played.board.starts() - starts, if stored { "" } else { "not " });
            lies.push(format!("`{words}`, restarted {times} times, {is}stored"));
        }
    }
    for (word, (name, wanted)) in ["idle = 1150 us", "zero throttle = spin"].iter().zip(WANTED) {
        // What was read back and is gone after a restart, having been stored hollowly, was no lie then.
        let never = played.config.conduct.writes != Deed::Done;
        // Several that were read back stand in one sentence, which ends with these words.
        let mut parts: Vec<&str> = screen.split("(read back)").collect();
        parts.pop();
        let told = parts.iter().any(|part| part.rsplit("good").next().is_some_and(|sentence| sentence.contains(word)));
        if never && told && played.setting(name, false) != wanted {
            lies.push(format!("`{word}` read back, and {name} is {}", played.setting(name, false)));
        }
    }
    lies
}

#[test]
fn nothing_is_said_to_be_kept_or_restarted_that_was_not() {
    let mut told = Vec::new();
    for (kind, no_banner) in [(BoardKind::Finch, false), (BoardKind::FinchC, false), (BoardKind::FinchC, true)] {
        for stays in [false, true] {
            for (what, conduct) in hollow() {
                let console = ConsoleConfig { no_banner, ..ConsoleConfig::default() };
                let config = WorldConfig { board: kind, console, conduct, ..WorldConfig::default() };
                let played = Scene { stays, limit: Duration::from_secs(400), ..Scene::new(&config, SETTINGS) }.play();
                let lies = lies(&played, 1);
                if !lies.is_empty() {
                    told.push(format!("{}, no banner {no_banner}, port stays {stays}, {what}: {lies:?}", kind.name()));
                }
            }
        }
    }
    assert!(told.is_empty(), "{} of 96 runs told what was not so:\n{}", told.len(), told.join("\n"));
}

/// The plain board does what it says, and the words are said: else the test above shows nothing.
#[test]
fn a_board_that_means_well_is_said_to_keep_its_settings() {
    for stays in [false, true] {
        let played = Scene { stays, ..Scene::new(&WorldConfig::default(), SETTINGS) }.play();
        assert_eq!(played.result, Ok(()), "{}", played.log.tail());
        assert_eq!(lies(&played, 1), [""; 0]);
        assert_eq!(played.board.starts(), 2);
        assert!(played.journal().contains("kept-over-restart"), "{}", played.journal());
    }
}

/// A console on a wire that stays shows its restart by its banner; one without says nothing, and is away for a while.
#[test]
fn a_console_on_a_wire_that_stays_shows_its_restart_as_well_as_it_can() {
    for (no_banner, words) in
        [(false, "Restarted; the same board is back"), (true, "Restarted, as far as silence shows")]
    {
        let console = ConsoleConfig { no_banner, ..ConsoleConfig::default() };
        let config = WorldConfig { board: BoardKind::FinchC, console, ..WorldConfig::default() };
        let played = Scene { stays: true, ..Scene::new(&config, SETTINGS) }.play();
        assert_eq!(played.result, Ok(()), "no banner {no_banner}: {}", played.log.tail());
        assert_eq!(lies(&played, 1), [""; 0]);
        assert!(played.flat().contains(words), "no banner {no_banner}: {}", played.flat());
        assert!(played.journal().contains("kept-over-restart"), "{}", played.journal());
        assert_eq!(played.journal().contains("\"by_silence\":true"), no_banner, "{}", played.journal());
    }
}

const FAILSAFE: &str = "failsafe cut motors after 500 ms\nkeep\nrequire battery in\ntest failsafe within 3 s\n";

/// A disarm is believed once an armed craft was seen to obey it. One sent to a craft at rest shows nothing.
#[test]
fn a_disarm_that_was_not_seen_to_work_is_not_said_to_be_taken() {
    for (what, disarms) in [("hollow", Deed::Hollow), ("late by 6 s", Deed::Late(Duration::from_secs(6)))] {
        let config = WorldConfig { conduct: Conduct { disarms, ..Conduct::default() }, ..WorldConfig::default() };
        let played = Scene { limit: Duration::from_secs(600), ..Scene::new(&config, FAILSAFE) }.play();
        let screen = played.flat();
        assert!(!screen.contains("obeys a disarm"), "{what}: {}", played.log.tail());
        let lost = played.log.invitations().iter().any(|(_, text)| text.contains("switch the radio off"));
        assert!(
            !lost,
            "{what}: the radio was to go off, with nothing but it to stop the motors\n{}",
            played.log.tail()
        );
    }
}

#[test]
fn a_disarm_that_works_is_shown_on_an_armed_craft_before_the_radio_goes_off() {
    let played = Scene::new(&WorldConfig::default(), FAILSAFE).play();
    assert_eq!(played.result, Ok(()), "{}", played.log.tail());
    let off = played.log.when("switch the radio off").unwrap();
    let obeyed = played.log.sent_that(|sent| sent.class == Class::Stop && sent.at < off).into_iter().any(|sent| {
        let truth = |after: u64| {
            let at = sent.at + Duration::from_millis(after);
            played.log.truth.iter().find(|truth| truth.craft == Craft::A && truth.at >= at).is_some_and(|t| t.armed)
        };
        // Armed as it left, and not any more a moment later.
        played.log.truth.iter().rfind(|t| t.craft == Craft::A && t.at <= sent.at).is_some_and(|t| t.armed) && !truth(20)
    });
    assert!(obeyed, "no disarm was tried on an armed craft\n{}", played.log.tail());
    assert!(played.flat().contains("obeys a disarm"), "{}", played.screen);
}

/// A motor run that is acknowledged and moves nothing proves no signal.
#[test]
fn a_motor_that_did_not_turn_proves_nothing() {
    let lines = "signal dshot300 at 4 kHz\nkeep\npower cycle\n";
    for speeds in [true, false] {
        let mut config = WorldConfig { speed_telemetry: speeds, ..WorldConfig::default() };
        config.conduct = Conduct { runs: Deed::Hollow, ..Conduct::default() };
        let played = Scene { limit: Duration::from_secs(900), ..Scene::new(&config, lines) }.play();
        assert!(played.log.fastest(Craft::A) < 1.0);
        assert!(played.result.is_err(), "speeds {speeds}: {}", played.screen);
    }
}

/// The JSON of a rehearsal says `finished` of no craft whose settings are not what was asked for.
#[test]
fn the_json_of_a_rehearsal_calls_no_craft_finished_that_is_not() {
    let mut told = Vec::new();
    for (what, conduct) in hollow() {
        let config = WorldConfig { conduct, ..WorldConfig::default() };
        let recipe = crate::spy::recipe_with(BoardKind::Finch, SETTINGS);
        let sheets = vec![shipped::sheet("finch").unwrap().unwrap()];
        let quadjig::bench::attended::Task::Recipe(recipe) = job(&recipe, None, None, sheets.clone()).task else {
            panic!("a recipe")
        };
        let script = Script { recipe: *recipe, sheets, card: None };
        let mut operator = willing(&config);
        let rehearsed = rehearse(&script, World::new(config), &mut operator, Disk::default(), |_, _| {});
        let truth = rehearsed.board.truth();
        let stored = WANTED.iter().all(|(name, wanted)| truth["settings"][name]["stored"] == *wanted);
        let restarted = rehearsed.restarts > 0;
        let json = serde_json::to_value(RehearseJson::of(&[FleetCraft::of(1, rehearsed)])).unwrap();
        let finished = json["outcome"] == "finished" || json["fleet"][0]["outcome"] == "finished";
        if finished && !(stored && restarted) {
            told.push(format!("{what}: stored {stored}, restarted {restarted}: {json}"));
        }
    }
    assert!(told.is_empty(), "{}", told.join("\n"));
}

/// A wire that is silent for a while takes no power from a board: the speed controllers have not chosen the new signal,
/// and nothing turns before they have (`safety.md`, energy; `interlock.md` 3, what shows a restart).
#[test]
fn a_silence_in_a_power_cycle_is_no_power_cycle() {
    let config = WorldConfig::default();
    let hands = Hands::willing(&config).who_follows({
        let mut out = 0;
        move |gesture| match gesture {
            // The battery stays in when it is to come out.
            Gesture::Battery { inside: false } => {
                out += 1;
                (out == 1).then(Vec::new)
            }
            _ => None,
        }
    });
    let lines = "require battery in\nsignal dshot300 at 4 kHz\nkeep\npower cycle\n";
    let scene = Scene { hands, limit: Duration::from_secs(600), ..Scene::on_bound(&config, lines) };
    let played = scene
        .act(Act::said("Take the battery out.", 200, vec![Do::Silent(true)]))
        .act(Act::said("The board went dark", 10_000, vec![Do::Silent(false)]))
        .play();
    let log = &played.log;
    assert!(played.flat().contains("went dark with its battery"), "{}", log.tail());
    assert!(!log.truth.iter().any(|truth| truth.fastest > 300.0), "a motor turned\n{}", log.tail());
    let runs = log.sent_that(|sent| matches!(sent.class, Class::Run(_)));
    assert!(runs.is_empty(), "{runs:?}\n{}", log.tail());
    assert!(format!("{:?}", played.result).contains("lost its power"), "{:?}", played.result);
}
