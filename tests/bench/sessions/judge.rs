//! What must be so of a session, by the world's own truth and by what was shown and asked.
//!
//! Must not be here: what hands do.

use super::SURE;
use super::hands::Erring;
use crate::bench::stand::{Did, Played, is_start};
use quadjig::measure::time::Time;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Gesture, StartedBy, UiEvent};
use std::time::Duration;

/// What the search adds, as neither recipe says otherwise, us.
const MARGIN: i32 = 25;
/// Motors that turn so fast were started, rpm.
const TURNS: f64 = 300.0;
/// An invitation, and as long as the oldest flag may be.
const INVITED: Duration = Duration::from_millis(22_500);
/// The first start by command comes within so long of its answer, `safety.md`, entry guards 2.
const ANSWERED: Duration = Duration::from_secs(12);
/// Nothing that nobody asked for turns longer: the oldest flag, a stop, and the run-down of a motor.
const UNASKED: Duration = Duration::from_secs(4);

/// How a session went, in numbers.
pub struct Went {
    pub voids: u64,
    pub stops: u64,
    pub again: u64,
    pub questions: u64,
    pub keys: u64,
    pub minutes: u64,
}

pub fn went(played: &Played) -> Went {
    let shown = |is: &dyn Fn(&Did) -> bool| played.log.entries.iter().filter(|entry| is(&entry.did)).count() as u64;
    let last = played.log.truth.last().map_or(0, |truth| truth.at.0);
    Went {
        voids: shown(
            &|did| matches!(did, Did::UiEvent(UiEvent::Line(_, line)) if line.contains("no motor is judged by it")),
        ),
        stops: shown(&|did| matches!(did, Did::UiEvent(UiEvent::StopBegins { .. }))),
        again: shown(&|did| matches!(did, Did::Asked(question) if question.about == About::Again)),
        questions: shown(&|did| matches!(did, Did::Asked(_))),
        keys: shown(&|did| matches!(did, Did::Event(event) if event.starts_with("Key("))),
        minutes: last / 60_000_000,
    }
}

/// Everything that is not as it must be; `key`: somebody pressed one while motors turned.
pub fn broken(played: &Played, hands: &Erring, key: bool) -> Vec<String> {
    let mut broken = Vec::new();
    let code = played.code();
    if code != 0 && hands.unasked() > 0 && was_writing(played) {
        // What a write came to that was broken off nobody knows: the next start says so.
    } else if code != if key { 4 } else { 0 } {
        broken.push(format!("it ended with {code}: {:?}", played.result));
    }
    let idle = &played.board.truth()["settings"]["IDLE_US"]["stored"];
    if code == 0 && *idle != SURE.0 + MARGIN {
        broken.push(format!("the idle is {idle}"));
    }
    for entry in &played.log.entries {
        let Did::UiEvent(UiEvent::Start(start)) = &entry.did else { continue };
        for motor in start.motors.iter().filter(|motor| start.pulse >= SURE && !motor.turns) {
            broken.push(format!("{} at {}: {}", motor.corner, start.pulse, motor.judged));
        }
    }
    let unasked = turnings(played).into_iter().filter(|(from, _)| !was_asked(played, *from)).collect::<Vec<_>>();
    if unasked.len() as u64 > hands.unasked() {
        broken.push(format!(
            "{} turnings that nobody asked for, {} by hands: {unasked:?}",
            unasked.len(),
            hands.unasked()
        ));
    }
    for (from, to) in unasked {
        if to.since(from) > UNASKED {
            broken.push(format!("what nobody asked for turned from {} to {} ms", from.0 / 1000, to.0 / 1000));
        }
    }
    broken
}

/// Whether a hand's stop fell into a write, a store or a restart: nothing goes on over what is unknown.
pub fn was_writing(played: &Played) -> bool {
    let stopped = matches!(played.result, Some(Err(Fault::Stopped { confirmed: true, .. })));
    let last = played.log.entries.iter().rev().find_map(|entry| match &entry.did {
        Did::UiEvent(UiEvent::StepBegins { title, .. }) => Some(title),
        _ => None,
    });
    stopped && last.is_some_and(|title| ["Write", "Store", "Restart"].iter().any(|word| title.starts_with(word)))
}

/// A motor that starts and falls back turns in bursts no further apart: one turning.
const BURSTS: Duration = Duration::from_millis(600);

/// From when to when anything turned.
fn turnings(played: &Played) -> Vec<(Time, Time)> {
    let mut all: Vec<(Time, Time)> = Vec::new();
    for truth in played.log.truth.iter().filter(|truth| truth.fastest > TURNS) {
        match all.last_mut() {
            Some((_, to)) if truth.at.since(*to) <= BURSTS => *to = truth.at,
            _ => all.push((truth.at, truth.at)),
        }
    }
    all
}

/// Whether what began to turn then had been asked for: the operator was invited to switch it on, or its word was typed.
fn was_asked(played: &Played, from: Time) -> bool {
    let before = || played.log.entries.iter().rev().skip_while(|entry| entry.at > from);
    let question = before().find_map(|entry| match &entry.did {
        Did::Asked(question) if is_start(question) => Some(question),
        _ => None,
    });
    let Some(About::Motor(step)) = question.map(|question| &question.about) else { return false };
    let on = |gesture: &Gesture| matches!(gesture, Gesture::SwitchTo { position, .. } if *position > 0);
    let asked = before().find_map(|entry| match (&entry.did, &step.by) {
        (Did::UiEvent(UiEvent::Invite(gesture, ..)), StartedBy::Switch { .. }) if on(gesture) => {
            Some((entry.at, INVITED))
        }
        (Did::Closed, StartedBy::Command) => Some((entry.at, ANSWERED)),
        _ => None,
    });
    asked.is_some_and(|(at, within)| from.since(at) <= within)
}

/// What was shown and asked towards the end.
pub fn story(played: &Played) -> String {
    let entries = played.log.entries.iter().filter_map(|entry| {
        let what = match &entry.did {
            Did::UiEvent(UiEvent::Plan(_) | UiEvent::Cautions | UiEvent::Strip(_)) => return None,
            Did::UiEvent(UiEvent::Invite(_, sentence, ..)) => sentence.clone(),
            Did::UiEvent(UiEvent::Start(start)) => {
                let motors = start.motors.iter().map(|motor| format!("{}: {}", motor.corner, motor.judged));
                format!("{} start {}: {}", start.pulse, start.start, motors.collect::<Vec<_>>().join(", "))
            }
            Did::UiEvent(shown) => format!("{shown:?}"),
            Did::Asked(question) => format!("? {} {:?}", question.title, question.lines),
            _ => return None,
        };
        Some(format!("{:>8} {}\n", entry.at.0 / 1000, what.chars().take(220).collect::<String>()))
    });
    let told: Vec<String> = entries.collect();
    told[told.len().saturating_sub(30)..].concat()
}
