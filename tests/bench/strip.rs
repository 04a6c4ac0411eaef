//! The strip: what is told under what is asked, in whole runs.

use super::stand::{Did, FAILSAFE, Hands, Played, START, Stand};
use quadjig::measure::time::Time;
use quadjig::rehearsal::operator::Deed;
use quadjig::seam::strip::{Now, Strip};
use quadjig::seam::ui::{Gesture, UiEvent};
use quadjig::virtual_board::WorldConfig;
use std::time::Duration;

/// Every strip with its moment.
fn strips(played: &Played) -> Vec<(Time, Option<Strip>)> {
    let told = played.log.entries.iter().filter_map(|entry| match &entry.did {
        Did::UiEvent(UiEvent::Strip(strip)) => Some((entry.at, strip.clone())),
        _ => None,
    });
    told.collect()
}

fn seen(played: &Played, is: impl Fn(&Now) -> bool) -> bool {
    strips(played).iter().filter_map(|(_, strip)| strip.as_ref()).any(|strip| strip.now.iter().any(&is))
}

/// Five a second at most: it is there to be seen by an eye, and a slow terminal has to keep up with it.
#[test]
fn it_is_told_five_times_a_second_at_most_and_ends_with_what_it_is_of() {
    let played = Stand::new(START).play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    let strips = strips(&played);
    assert!(strips.len() > 20, "{}", strips.len());
    for pair in strips.windows(2) {
        assert!(pair[1].0.since(pair[0].0) >= Duration::from_millis(200), "{pair:?}");
    }
    assert_eq!(strips.last().unwrap().1, None, "nothing is asked any more");
}

#[test]
fn the_switch_that_is_asked_for_is_seen_where_it_is_and_there() {
    let played = Stand::new(START).play();
    let at = |is: u32, asked: u32| {
        seen(&played, |now| {
            matches!(now, Now::Switch { switch, position, asked: Some(to), pulse: Some(_) }
                if switch.0 == "B" && *position == Some(is) && *to == asked)
        })
    };
    assert!(at(0, 2), "before the hand is there");
}

/// Speeds of a start are told as it turns, of each motor; they are what the motors truly do.
#[test]
fn every_motor_of_a_start_is_told_with_its_speeds_as_it_turns() {
    let played = Stand::new(START).play();
    let turning: Vec<(Time, Strip)> = strips(&played)
        .into_iter()
        .filter_map(|(at, strip)| Some((at, strip?)))
        .filter(|(_, strip)| strip.now.iter().any(|now| matches!(now, Now::Motor { rpm: Some(5000..), .. })))
        .collect();
    assert!(turning.len() > 5, "{turning:?}");
    assert!(turning.iter().any(|(_, strip)| strip.now.first() == Some(&Now::Armed(true))), "{turning:?}");
    for (at, strip) in &turning {
        let motors: Vec<&Now> = strip.now.iter().filter(|now| matches!(now, Now::Motor { .. })).collect();
        assert_eq!(motors.len(), 4, "{strip:?}");
        assert!(strip.time.is_some(), "{strip:?}");
        let truth = played.log.truth.iter().rev().find(|truth| truth.at <= *at).unwrap();
        for now in motors {
            let Now::Motor { rpm: Some(rpm), trace, .. } = now else { panic!("{now:?}") };
            assert!(f64::from(*rpm) < truth.fastest * 1.2 + 2000.0, "{now:?}, and truly {truth:?}");
            assert!(trace.len() <= 8 && trace.last() == Some(rpm), "{now:?}");
        }
    }
}

/// Half a gesture is no proof of a radio: what is missing is said while there is time to do it.
#[test]
fn a_gesture_that_is_taken_halfway_is_told_what_is_missing() {
    let config = WorldConfig::default();
    let line = |ms: u64, line: &str| (Duration::from_millis(ms), Deed::World(line.to_owned()));
    let hands = Hands::willing(&config).who_follows(move |gesture| match gesture {
        Gesture::WiggleRoll => {
            Some(vec![line(500, "stick roll 60%"), line(6000, "stick roll -60%"), line(7000, "stick roll 0%")])
        }
        _ => None,
    });
    let played = Stand { hands, ..Stand::on(START, config) }.play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    let said = |what: &str| seen(&played, |now| matches!(now, Now::Missing(said) if said.contains(what)));
    assert!(said("not moved far enough") && said("now to the other side, the left"), "{:?}", strips(&played));
    only_what_moved(&played);
}

/// The noise of a channel that nobody touches is no movement. Source: a stick that rests keeps within 25 us, as
/// `measure::moved` has it.
#[track_caller]
fn only_what_moved(played: &Played) {
    let moved = |now: &Now| matches!(now, Now::Moves { between: (least, most), .. } if most.0 - least.0 > 25);
    assert!(seen(played, moved));
    assert!(!seen(played, |now| matches!(now, Now::Moves { .. }) && !moved(now)), "{:?}", strips(played));
}

/// A switch that is being found stands on no card: its channel is told as it moves, and nobody says that it is not heard.
#[test]
fn a_switch_that_is_being_found_is_never_told_as_unheard() {
    let recipe = "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n\
        require props off\nrequire battery out\nfind switch B with 3 positions\n";
    let played = Stand::new(recipe).play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    assert!(!seen(&played, |now| matches!(now, Now::Switch { pulse: None, .. })), "{:?}", strips(&played));
    assert!(seen(&played, |now| matches!(now, Now::Moves { channel: 6, .. })), "{:?}", strips(&played));
    only_what_moved(&played);
}

#[test]
fn the_radio_that_is_asked_off_is_told_as_it_goes() {
    let played = Stand::new(FAILSAFE).play();
    assert!(seen(&played, |now| *now == Now::Radio(false)) || seen(&played, |now| matches!(now, Now::Motor { .. })));
}

/// A stop has the screen to itself.
#[test]
fn nothing_is_told_beside_a_stop() {
    use super::stand::{Plot, Then};
    use quadjig::seam::{Event, Key};
    let stop = Plot::turning(300, vec![Then::Event(Event::Key(Key::Char('x')))]);
    let played = Stand::new(START).plot(stop).play();
    let began =
        played.log.entries.iter().find(|e| matches!(e.did, Did::UiEvent(UiEvent::StopBegins { .. }))).unwrap().at;
    let ended = played.log.entries.iter().find(|e| matches!(e.did, Did::UiEvent(UiEvent::StopConfirmed))).unwrap().at;
    let beside = strips(&played).into_iter().filter(|(at, strip)| *at >= began && *at <= ended && strip.is_some());
    assert_eq!(beside.count(), 0);
}
