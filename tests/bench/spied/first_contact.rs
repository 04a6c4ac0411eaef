//! Before a craft was seen at rest it may be flying: it is asked, and nothing else leaves, not even a sign of life, on
//! hearing which some boards begin to wait for the next.

use super::demands;
use crate::spy::{Act, Class, Craft, Do, Played, Scene};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, Conduct, WorldConfig};
use std::time::Duration;

const START: &str = "keep\nrequire battery in\ntest idle in 2 starts\n";

/// A craft that its own pilot has armed.
fn flying<'a>(config: &WorldConfig) -> Scene<'a> {
    let mut scene = Scene { limit: Duration::from_secs(200), ..Scene::on_bound(config, START) };
    for line in ["props on", "battery in", "flip B 2"] {
        scene.board.line(Time(0), line).unwrap();
    }
    scene.board.advance(Time(1_000_000));
    assert!(scene.board.armed());
    scene
}

/// Everything but questions.
fn more_than_asked(played: &Played) -> Vec<String> {
    let quiet = |class: &Class| matches!(class, Class::Identity | Class::Ask | Class::Blank | Class::Streams);
    let all = played.log.sent_that(|sent| !quiet(&sent.class));
    all.iter().map(|sent| format!("{} ms {:?}", sent.at.0 / 1000, sent.class)).take(6).collect()
}

#[test]
fn a_craft_that_is_found_armed_hears_questions_alone() {
    for kind in [BoardKind::Finch, BoardKind::FinchC] {
        let config = WorldConfig { board: kind, ..WorldConfig::default() };
        let played = flying(&config).play();
        assert!(played.result.is_err());
        assert!(played.board.armed(), "{}", played.log.tail());
        let more = more_than_asked(&played);
        assert!(more.is_empty(), "{}: {more:?}\n{}", kind.name(), played.log.tail());
    }
}

/// Keys and signals close such a session; they have nothing sent.
#[test]
fn nothing_that_stops_reaches_a_craft_that_was_never_seen_at_rest() {
    for (what, demand) in demands() {
        for at in [20, 300, 900] {
            let scene = flying(&WorldConfig::default());
            let act = Act::when(|view| view.now > Time(1_000_000), at, vec![Do::Event(demand())]);
            let played = scene.act(act).play();
            let stops = played.log.sent_that(|sent| sent.class.stops());
            assert!(stops.is_empty() && played.board.armed(), "{what} after {at} ms\n{}", played.log.tail());
        }
    }
}

#[test]
fn no_sign_of_life_leaves_before_the_craft_was_seen_at_rest() {
    for flag_every in [50, 1000] {
        let conduct = Conduct { flag_every: Duration::from_millis(flag_every), ..Conduct::default() };
        let config = WorldConfig { conduct, ..WorldConfig::default() };
        let played = Scene::on_bound(&config, START).play();
        let beat = played.log.sent.iter().find(|sent| sent.class == Class::Heartbeat);
        let beat = beat.unwrap_or_else(|| panic!("no sign of life ever left\n{}", played.log.tail())).at;
        // At rest for 1 s with a fresh flag: that takes a second from the opening at least.
        let opened = played.log.when("event Opened").unwrap();
        let waited = beat.since(opened);
        assert!(waited >= Duration::from_secs(1), "the first left {waited:?} after the opening");
        assert!(played.log.first_armed(Craft::A).is_none_or(|armed| armed > beat));
    }
}
