//! Boards that lack something set up a craft from end to end all the same: no id, no voltage sensor, a slow
//! clock, a slow flag, a console, packets.

use crate::bench::stand::{Hands, keys};
use crate::spy::{Craft, Scene};
use quadjig::seam::Key;
use quadjig::seam::ui::About;
use quadjig::virtual_board::{ArmBy, BoardKind, Conduct, GivenId, WorldConfig};
use std::time::Duration;

/// Settings, the arm switch, the idle and the cut, from the box.
const SET_UP: &str = "keep\ntest arm\nrequire battery in\nrequire level within 2 deg\n\
                      idle start at 1100 step 25 until all spin, at most 1225, for 1 s, in 2 starts, then add 10\nkeep\n\
                      test idle in 2 starts\ntest cut within 900 ms\n";

fn boards() -> Vec<(&'static str, WorldConfig)> {
    let usual = Conduct::default();
    let with = |conduct: Conduct| WorldConfig { conduct, ..WorldConfig::default() };
    let console = |conduct: Conduct| WorldConfig { board: BoardKind::FinchC, ..with(conduct) };
    vec![
        ("as usual", with(usual)),
        ("an id of zeros", with(Conduct { id: GivenId::Zero, ..usual })),
        ("an id refused", with(Conduct { id: GivenId::Refused, ..usual })),
        ("no answer to who it is", with(Conduct { id: GivenId::Silent, ..usual })),
        ("no voltage sensor", with(Conduct { voltage_sensor: false, ..usual })),
        ("a clock slow by 2 %", with(Conduct { clock_rate: 0.98, ..usual })),
        ("a clock slow by 100 ppm", with(Conduct { clock_rate: 0.9999, ..usual })),
        ("a flag once a second", with(Conduct { flag_every: Duration::from_secs(1), ..usual })),
        ("arming by change", WorldConfig { arm_by: ArmBy::Change, ..with(usual) }),
        ("rows", WorldConfig { board: BoardKind::FinchR, ..with(usual) }),
        ("a console", console(usual)),
        ("a console with an id of zeros", console(Conduct { id: GivenId::Zero, ..usual })),
        ("packets", WorldConfig { board: BoardKind::FinchP, ..with(usual) }),
        ("packets of stuffed bytes", WorldConfig { board: BoardKind::FinchQ, ..with(usual) }),
        (
            "packets with an id of zeros",
            WorldConfig { board: BoardKind::FinchP, ..with(Conduct { id: GivenId::Zero, ..usual }) },
        ),
        ("a console without a voltage sensor", console(Conduct { voltage_sensor: false, ..usual })),
    ]
}

#[test]
fn each_board_is_set_up_from_end_to_end() {
    let mut fell = Vec::new();
    for (what, config) in boards() {
        let mut scene = Scene { limit: Duration::from_secs(900), ..Scene::new(&config, SET_UP) };
        scene.recipe = scene.recipe.replace("idle at 1150\n", "");
        let played = scene.play();
        let stored = played.setting("IDLE_US", true);
        let turned = played.log.fastest(Craft::A) > 1000.0;
        if played.result != Ok(()) || stored.as_u64().is_none_or(|idle| idle <= 1100) || !turned {
            fell.push(format!("{what}: {:?}, idle stored as {stored}", played.result));
        }
    }
    assert!(fell.is_empty(), "{} of {} boards:\n{}", fell.len(), boards().len(), fell.join("\n"));
}

/// A board without motor speeds is set up from end to end by what its operator saw of each start; who never saw all motors
/// start has the old idle put back.
#[test]
fn a_board_without_speeds_is_set_up_by_what_was_seen() {
    for board in [BoardKind::Finch, BoardKind::FinchC] {
        let config = WorldConfig { board, speed_telemetry: false, ..WorldConfig::default() };
        let play = |seen: char| {
            let mut scene = Scene { limit: Duration::from_secs(1200), ..Scene::new(&config, SET_UP) };
            scene.recipe = scene.recipe.replace("idle at 1150\n", "");
            scene.hands = Hands::willing(&config).who_answers(move |question| {
                let turned = matches!(question.about, About::Told(_));
                let given_up = question.about == About::Again;
                turned.then(|| keys(900, 70, [Key::Char(seen)])).or(given_up.then(|| keys(900, 70, [Key::Char('g')])))
            });
            scene.play()
        };
        let played = play('e');
        assert_eq!(played.result, Ok(()), "{board:?}\n{}", played.log.tail());
        assert!(played.setting("IDLE_US", true).as_u64().is_some_and(|idle| idle > 1100), "{board:?}");
        assert!(played.log.fastest(Craft::A) > 1000.0, "{board:?}: nothing turned");
        let played = play('1');
        assert!(played.result.is_err(), "{board:?}: {:?}", played.result);
        assert_eq!(played.setting("IDLE_US", false), 1050, "{board:?}: the old idle was not put back");
        assert_eq!(played.setting("IDLE_US", true), 1050, "{board:?}");
    }
}

/// What a board without an id is called is asked, and its record is found again under that name.
#[test]
fn a_board_without_an_id_is_found_again_by_its_name() {
    for id in [GivenId::Zero, GivenId::Refused] {
        let config = WorldConfig { conduct: Conduct { id, ..Conduct::default() }, ..WorldConfig::default() };
        let first =
            Scene { limit: Duration::from_secs(300), ..Scene::new(&config, "require battery out\nkeep\n") }.play();
        assert_eq!(first.result, Ok(()), "{id:?}");
        let again = Scene::new(&config, "require battery out\nkeep\n");
        let again = Scene { board: first.board, disk: first.disk, limit: Duration::from_secs(300), ..again }.play();
        assert_eq!(again.result, Ok(()), "{id:?}");
        let writes = again.log.sent_that(|sent| matches!(sent.class, crate::spy::Class::Write(..)));
        assert!(writes.is_empty(), "{id:?}: {writes:?}");
    }
}
