//! Each frame is judged again as it leaves: a repeat, and a line that waited behind a poll, by what is so now.

use crate::bench::stand::Hands;
use crate::spy::{Act, Class, Craft, Do, Played, Scene};
use quadjig::measure::time::Time;
use quadjig::seam::ui::Gesture;
use quadjig::virtual_board::{BoardKind, WorldConfig};
use std::time::Duration;

/// Settings only: arm is bound, with the battery out.
const BIND: &str = "require battery out\nkeep\n";
/// A switch that moved shows in the channels after so long: 20 ms of the receiver, 50 ms of the stream.
const SEEN: Duration = Duration::from_millis(80);
/// Where the switch arms.
const BAND: u16 = 1754;

/// Nobody obeys "put the switch to 0": it stays where it went.
fn stubborn(config: &WorldConfig) -> Hands<'static> {
    Hands::willing(config)
        .who_follows(|gesture| matches!(gesture, Gesture::SwitchTo { .. } | Gesture::AllSwitches { .. }).then(Vec::new))
}

/// The last of the writes opens the band; its first sendings are lost, and meanwhile the switch moves into it.
#[test]
fn a_repeat_does_not_open_a_band_over_a_switch_that_moved_into_it() {
    for lost in [1, 2, 3] {
        let config = WorldConfig::default();
        let mut scene =
            Scene { hands: stubborn(&config), limit: Duration::from_secs(300), ..Scene::new(&config, BIND) };
        scene = scene.act(Act::when(|_| true, 0, vec![Do::Lose(lost, opens)])).act(Act::when(
            |view| view.log.sent.iter().any(|s| opens(&s.class)),
            0,
            vec![Do::Line("flip B 2")],
        ));
        let played = scene.play();
        let moved = played.log.when("flip B 2").expect("no band was opened: this shows nothing");
        let late = played.log.sent_that(|s| s.at > moved + SEEN && opens(&s.class));
        assert!(
            late.is_empty(),
            "lost {lost} times: sending {} left {} ms after the switch stood in the band, and the craft armed: {}\n{}",
            lost + 1,
            late[0].at.since(moved).as_millis(),
            played.log.first_armed(Craft::A).is_some(),
            played.log.tail()
        );
        assert_eq!(played.log.first_armed(Craft::A), None, "the craft armed\n{}", played.log.tail());
    }
}

/// Whether a write makes a band in which 2000 µs lies: the upper end is moved last (`safety.md`, settings).
fn opens(class: &Class) -> bool {
    matches!(class, Class::Write(name, value) if name.ends_with("_TO") && value.parse::<u16>().is_ok_and(|to| to > 2000))
}

/// What the session was told of channel 6 last before a moment: the whole answer had come.
fn told_before(played: &Played, at: Time) -> Option<u16> {
    let mut text = String::new();
    for (_, part) in played.log.told.iter().filter(|(when, _)| *when <= at) {
        text.push_str(part);
    }
    let line = text.rsplit("\r\n").skip(1).find(|line| line.starts_with("channels ") && line.len() > 20)?;
    line.split(' ').nth(6)?.parse().ok()
}

/// A line waits until the answer to the one before has come. The hand moves at every moment of that wait in turn.
#[test]
fn a_line_that_waited_behind_a_poll_does_not_open_a_band_over_the_switch() {
    let mut judged = 0;
    for moved_after in (0..1000).step_by(20) {
        let mut config = WorldConfig { board: BoardKind::FinchC, ..WorldConfig::default() };
        config.console.answers_after = Duration::from_millis(40);
        let mut scene = Scene { hands: stubborn(&config), limit: Duration::from_secs(20), ..Scene::new(&config, BIND) };
        scene = scene.act(Act::when(
            |view| view.log.sent.iter().any(|sent| matches!(sent.class, Class::Write(..))),
            moved_after,
            vec![Do::Line("flip B 2")],
        ));
        let played = scene.play();
        for sent in played.log.sent_that(|sent| opens(&sent.class)) {
            judged += 1;
            let told = told_before(&played, sent.at);
            assert!(
                told.is_none_or(|pulse| pulse < BAND),
                "the hand moved {moved_after} ms after the first write; {:?} left although channel 6 was told at \
                 {told:?} us\n{}",
                sent.class,
                played.log.tail()
            );
        }
    }
    assert!(judged > 5, "no band was opened at all: this shows nothing");
}
