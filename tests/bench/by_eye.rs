//! Craft whose speed controllers tell no speed: what nobody measures is asked of who stands there.

use super::stand::{Did, Hands, IDLE, Played, Stand, keys};
use quadjig::seam::Key;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{Question, UiEvent};
use quadjig::virtual_board::WorldConfig;

const TITLE: &str = "Did each of these motors start at once, and turn evenly?";

/// Plays the search on a craft without speeds; at each question of what was seen one of these keys is pressed, the last of
/// them from then on.
fn played(pressed: &[char]) -> (Played, usize) {
    let config = WorldConfig { speed_telemetry: false, ..WorldConfig::default() };
    let mut asked = 0;
    let hands = Hands::willing(&config).who_answers(|question: &Question| {
        (question.title == TITLE).then(|| {
            let key = pressed.get(asked).or(pressed.last()).copied().unwrap();
            asked += 1;
            keys(900, 100, [Key::Char(key)])
        })
    });
    let played = Stand { hands, ..Stand::on(IDLE, config.clone()) }.play();
    (played, asked)
}

fn found(played: &Played) -> Option<(i32, usize)> {
    played.log.entries.iter().find_map(|entry| match &entry.did {
        Did::UiEvent(UiEvent::Idle(found)) => Some((found.lowest?.0, found.starts.len())),
        _ => None,
    })
}

/// Before, every such craft was told of a bearing, a screw or a winding.
#[test]
fn a_craft_without_speeds_is_searched_by_eye() {
    let (played, asked) = played(&['2', 'y']);
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    // The front right motor did not turn at the first value; the second is proved by its three starts.
    assert_eq!((found(&played), asked), (Some((1100, 4)), 4));
    let at = |entry: &Did| matches!(entry, Did::UiEvent(UiEvent::Start(start)) if start.pulse.0 == 1075);
    let first = played.log.entries.iter().find(|entry| at(&entry.did)).unwrap();
    let Did::UiEvent(UiEvent::Start(start)) = &first.did else { panic!() };
    let turned: Vec<bool> = start.motors.iter().map(|motor| motor.turns).collect();
    assert_eq!(turned, [true, false, true, true]);
    assert_eq!(played.log.questions().iter().filter(|q| q.title.contains("smooth")).count(), 0, "it was said already");
}

#[test]
fn a_start_that_nobody_saw_is_made_again() {
    let (played, asked) = played(&['a', 'y']);
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    assert_eq!((found(&played), asked), (Some((1075, 3)), 4));
}

#[test]
fn whoever_says_no_to_all_of_it_ends_the_search() {
    let (played, _) = played(&['n']);
    assert!(matches!(played.fault(), Fault::NotFound(why) if why.contains("as you saw")), "{:?}", played.fault());
}
