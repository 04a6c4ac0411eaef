//! A cable that is pulled out while a motor is run by command, on purpose: what is said and when, what leaves, and for whom.

use crate::bench::stand::Hands;
use crate::spy::{Act, Class, Craft, Do, Played, Scene, Seen, bound};
use quadjig::measure::time::Time;
use quadjig::plan::trial::SheetTrial;
use quadjig::rehearsal::operator::Deed;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{Gesture, Question, UiEvent};
use quadjig::seam::{Event, Key};
use quadjig::virtual_board::{BoardKind, WorldConfig};
use std::time::Duration;

/// The run that the sheet of the Finch allows, and the second in which a motor may coast after it.
const STANDS_AFTER: Duration = Duration::from_secs(4);
const PULL: &str = "Pull the USB cable out";
const ASKED_OF_THE_HAND: &str = "Did motor 1 stop by itself";

fn world(line: &str, after_ms: u64) -> (Duration, Deed) {
    (Duration::from_millis(after_ms), Deed::World(line.to_owned()))
}

/// An operator who does this once the cable is to be pulled, and answers so what was seen then.
fn hands(config: &WorldConfig, deeds: &'static [(&'static str, u64)], seen: char) -> Hands<'static> {
    Hands::willing(config)
        .who_follows(move |gesture| {
            let pulls = *gesture == Gesture::PullCable;
            pulls.then(|| deeds.iter().map(|(line, after)| world(line, *after)).collect())
        })
        .who_answers(move |question: &Question| {
            let asked = question.title.starts_with(ASKED_OF_THE_HAND);
            asked.then(|| vec![(Duration::from_secs(1), Deed::Key(Key::Char(seen)))])
        })
}

/// The trial on a board that does so with the time of a run.
fn scene(lease: &'static str, deeds: &'static [(&'static str, u64)], seen: char) -> Scene<'static> {
    let config = WorldConfig::default();
    let mut scene = Scene::on_bound(&config, "");
    scene.trial = Some(SheetTrial::Cable);
    scene.hands = hands(&config, deeds, seen);
    scene.board.line(scene.board.now(), lease).unwrap();
    scene
}

/// When the first thing like this was shown.
fn shown(played: &Played, is: fn(&UiEvent) -> bool) -> Option<Time> {
    let found = played.log.seen.iter().find(|(_, _, seen)| matches!(seen, Seen::Shown(shown) if is(shown)));
    found.map(|(at, ..)| *at)
}

fn large(shown: &UiEvent) -> bool {
    matches!(shown, UiEvent::PullTheBattery)
}

fn cable_out(shown: &UiEvent) -> bool {
    matches!(shown, UiEvent::CableOut(_))
}

fn runs(played: &Played) -> usize {
    played.log.sent_that(|sent| matches!(sent.class, Class::Run(_)) && !sent.held).len()
}

/// How long a motor of the craft turned after a moment.
fn turned_after(played: &Played, from: Time) -> Duration {
    let last = played.log.truth.iter().rfind(|truth| truth.craft == Craft::A && truth.fastest > 100.0);
    last.map_or(Duration::ZERO, |truth| truth.at.since(from))
}

/// Pulled a third of a second into the run; a hand that saw the motor stand puts it in again.
#[test]
fn a_board_that_ends_a_run_without_its_cable_is_told_so_by_who_saw_it() {
    let played = scene("lease kept", &[("usb out", 350), ("usb in", 6000)], 'y').play();
    let lost = shown(&played, cable_out).unwrap_or_else(|| panic!("{}", played.log.tail()));
    assert_eq!(played.result, Ok(()), "{}", played.log.tail());
    assert_eq!(runs(&played), 2, "one in silence, one without its cable");
    assert!(played.log.says("motor-run: the sheet says up to 3 s; seen: it ran for 1.5 s"), "{}", played.log.tail());
    assert!(played.log.says("seen: it stopped by itself with its cable out, as you said"), "{}", played.log.tail());
    let journal = played.journal();
    assert!(journal.contains("\"outcome\":\"done\""), "{journal}");
    // Its own time was all that it had: the end came before anything could be sent again.
    let turned = turned_after(&played, lost);
    assert!(turned > Duration::from_secs(2) && turned < STANDS_AFTER, "{turned:?}");
    // The large words come once it has to stand, and again as for any stop that nobody confirmed.
    let large = shown(&played, large).unwrap().since(lost);
    assert!(large > Duration::from_secs(3) && large < STANDS_AFTER, "{large:?}");
    // Nobody is told to pull a cable that is out.
    let usb = shown(&played, |shown| matches!(shown, UiEvent::PullTheUsbCable));
    assert!(usb.is_none_or(|usb| usb.since(lost) > Duration::from_secs(5)), "{}", played.log.tail());
}

#[test]
fn a_board_that_goes_on_without_its_cable_contradicts_its_sheet() {
    let deeds = &[("usb out", 350), ("battery out", 5500), ("usb in", 8000)];
    let played = scene("lease unplugged", deeds, 'n').play();
    let lost = shown(&played, cable_out).unwrap_or_else(|| panic!("{}", played.log.tail()));
    assert!(matches!(played.result, Err(Fault::Contradicted(_))), "{:?}\n{}", played.result, played.log.tail());
    let lie = "CONTRADICTED: motor-run: by the sheet up to 3 s; seen: it went on with its cable out, as you said. Write no \
               [motor-run] until";
    assert!(played.log.says(lie), "{}", played.log.tail());
    assert!(turned_after(&played, lost) > STANDS_AFTER, "it ended by itself: this shows nothing");
    assert!(played.journal().contains("CONTRADICTED"), "{}", played.journal());
}

/// The run in silence comes first, and a board that does not end it never comes to its cable.
#[test]
fn a_board_that_does_not_end_a_run_in_silence_is_never_run_without_its_cable() {
    let played = scene("lease ignored", &[("usb out", 350)], 'y').play();
    assert!(matches!(played.result, Err(Fault::Stopped { confirmed: true, .. })), "{:?}", played.result);
    assert_eq!((played.log.motor_questions().len(), runs(&played)), (1, 1), "{}", played.log.tail());
    assert!(played.log.says("it went on after its time, until it was stopped"), "{}", played.log.tail());
    assert!(shown(&played, cable_out).is_none() && !played.log.says(PULL));
}

#[test]
fn a_cable_that_stays_in_is_asked_for_three_times_whole_and_nothing_is_shown() {
    let played = scene("lease kept", &[], 'y').play();
    let why = "what becomes of a run when its cable goes: the cable was in until each of them had ended";
    assert_eq!(played.result, Err(Fault::Unproved(why.to_owned())), "{}", played.log.tail());
    let asked = played.log.motor_questions();
    assert_eq!((asked.len(), runs(&played)), (4, 4));
    assert!(asked.iter().all(|(_, question)| question.before.is_none()), "a question was shortened");
    assert!(!played.log.stopped(), "{}", played.log.tail());
}

/// Its start is lost on the way, and the cable goes: nobody saw that motor turn.
#[test]
fn a_cable_that_goes_before_the_motor_was_seen_to_turn_shows_nothing() {
    let is_run = |class: &Class| matches!(class, Class::Run(_));
    let of_cable = |view: &crate::spy::View<'_>| view.log.motor_questions().len() == 2;
    let runs_twice = |view: &crate::spy::View<'_>| {
        view.log.sent.iter().filter(|sent| matches!(sent.class, Class::Run(_))).count() == 2
    };
    let played = scene("lease kept", &[], 'y')
        .act(Act::when(of_cable, 50, vec![Do::Lose(9, is_run)]))
        .act(Act::when(runs_twice, 100, vec![Do::Line("usb out")]))
        .play();
    assert!(matches!(played.result, Err(Fault::Stopped { confirmed: false, .. })), "{:?}", played.result);
    assert!(played.log.says("The cable went before the motor was seen to turn"), "{}", played.log.tail());
    // It might have turned all the same.
    assert!(shown(&played, cable_out).is_some() && shown(&played, large).is_some());
    assert!(played.log.questions().iter().all(|(_, question)| !question.title.starts_with(ASKED_OF_THE_HAND)));
}

/// While it still had time the wire came back: the stop leaves for it, as for any craft that this session started.
#[test]
fn a_cable_that_is_in_again_too_early_has_the_motor_stopped_and_shows_nothing() {
    let played = scene("lease unplugged", &[("usb out", 350), ("usb in", 1000)], 'y').play();
    let lost = shown(&played, cable_out).unwrap_or_else(|| panic!("{}", played.log.tail()));
    assert!(matches!(played.result, Err(Fault::Unproved(_))), "{:?}", played.result);
    assert!(played.log.says("it was in again before the run had to be over"), "{}", played.log.tail());
    assert!(played.log.stop_after(lost).is_some_and(|stop| stop.reached.is_some()), "{}", played.log.tail());
    assert!(turned_after(&played, lost) < STANDS_AFTER);
}

/// Any key stops it over the cable while that is in, and it is an ordinary stop.
#[test]
fn a_key_before_the_cable_goes_is_a_stop_like_any_other() {
    let key = Do::Event(Event::Key(Key::Char('x')));
    let played = scene("lease kept", &[], 'y').act(Act::said(PULL, 200, vec![key])).play();
    assert!(matches!(played.result, Err(Fault::Stopped { confirmed: true, .. })), "{:?}", played.result);
    assert!(shown(&played, cable_out).is_none());
    assert!(played.log.questions().iter().all(|(_, question)| !question.title.starts_with(ASKED_OF_THE_HAND)));
}

/// The cable comes back at another craft, at once or once the run is over: it is asked who it is, and nothing else.
#[test]
fn nothing_leaves_for_another_craft_that_answers_afterwards() {
    for kind in [BoardKind::Finch, BoardKind::FinchC, BoardKind::FinchP] {
        for (armed, back) in [(false, 400), (true, 5000)] {
            let config = WorldConfig { board: kind, ..WorldConfig::default() };
            let mut scene = Scene::on_bound(&config, "");
            let mut other = bound(&WorldConfig { seed: 0xB, ..config.clone() });
            other.line(other.now(), "battery in").unwrap();
            if armed {
                other.line(other.now(), "flip B 2").unwrap();
            }
            scene.trial = Some(SheetTrial::Cable);
            scene.hands = hands(&config, &[], 'u');
            scene.other = Some(other);
            let played = scene.act(Act::said(PULL, 300, vec![Do::Replug(back)])).play();
            assert!(played.log.first_of_b.is_some(), "{}", played.log.tail());
            let acted = played.log.reached_b_that(|sent| sent.class.acts());
            assert!(acted.is_empty(), "{kind:?}, armed {armed}, after {back} ms: {acted:?}\n{}", played.log.tail());
            assert!(shown(&played, cable_out).is_some(), "{}", played.log.tail());
            assert!(matches!(played.result, Err(Fault::Unproved(_))), "{:?}\n{}", played.result, played.log.tail());
        }
    }
}
