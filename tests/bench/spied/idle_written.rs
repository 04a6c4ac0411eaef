//! An idle value is a change that can turn motors: with the battery in none is written before its word was typed, the
//! value with the margin and the value put back among them, and no word serves for long.

use crate::bench::stand::{Hands, keys};
use crate::spy::{Act, Class, Craft, Do, Played, Scene};
use quadjig::measure::time::Time;
use quadjig::seam::Key;
use quadjig::seam::ui::{About, Gesture};
use quadjig::virtual_board::WorldConfig;
use std::time::Duration;

/// A search, with a margin.
const SEARCH: &str = "require battery in\nrequire level within 2 deg\n\
                      idle start at 1075 step 25 until all spin, at most 1200, for 1 s, in 1 starts, then add 20\n";
/// A confirmation is good for this long (`interlock.md`, entry guards: the first start within 10 s of the answer).
const GOOD_FOR: Duration = Duration::from_secs(10);

fn scene<'a>(config: &WorldConfig) -> Scene<'a> {
    let mut scene = Scene::on_bound(config, SEARCH);
    scene.recipe = scene.recipe.replace("idle at 1150\n", "");
    scene.limit = Duration::from_secs(600);
    scene
}

/// Writes of the idle while the battery was in: moment and value.
fn writes(played: &Played) -> Vec<(Time, u16)> {
    let powered =
        |at: Time| played.log.truth.iter().rfind(|t| t.craft == Craft::A && t.at <= at).is_some_and(|t| t.powered);
    played
        .log
        .sent_that(|sent| matches!(&sent.class, Class::Write(name, _) if name == "IDLE_US"))
        .into_iter()
        .filter(|sent| powered(sent.at))
        .filter_map(|sent| match &sent.class {
            Class::Write(_, value) => Some((sent.at, value.parse().ok()?)),
            _ => None,
        })
        .collect()
}

/// When the word for a pulse of at least this was typed last before a moment.
fn confirmed(played: &Played, value: u16, before: Time) -> Option<Time> {
    let asked = played.log.motor_questions();
    let (at, _) = asked.iter().rfind(|(at, question)| {
        *at < before && matches!(&question.about, About::Motor(step) if step.pulse.0 >= i32::from(value))
    })?;
    let answered = |words: &str| words.starts_with("Key(Enter");
    played
        .log
        .events_after(*at)
        .into_iter()
        .find(|(when, words)| answered(words) && *when <= before)
        .map(|(when, _)| when)
}

#[track_caller]
fn each_was_confirmed(played: &Played, least: usize) {
    let all = writes(played);
    assert!(all.len() >= least, "only {all:?} was written: this shows nothing\n{}", played.log.tail());
    let mut unasked = Vec::new();
    for (at, value) in &all {
        if confirmed(played, *value, *at).is_none_or(|typed| at.since(typed) > GOOD_FOR) {
            unasked.push((at.0 / 1000, *value));
        }
    }
    assert!(unasked.is_empty(), "of {} written, unconfirmed (ms, us): {unasked:?}\n{}", all.len(), played.log.tail());
}

#[test]
fn every_value_of_a_search_is_written_after_its_word_the_margin_too() {
    let played = scene(&WorldConfig::default()).play();
    each_was_confirmed(&played, 3);
}

/// On this board an idle takes a restart to be in force: what a search stores and restarts stands behind its word as well.
#[test]
fn every_store_and_restart_of_a_search_comes_after_its_word() {
    let mut scene = scene(&WorldConfig::default());
    scene.sheet.settings.get_mut("idle").unwrap().restart = true;
    let played = scene.play();
    each_was_confirmed(&played, 3);
    let powered =
        |at: Time| played.log.truth.iter().rfind(|t| t.craft == Craft::A && t.at <= at).is_some_and(|t| t.powered);
    let changes = played.log.sent_that(|sent| matches!(sent.class, Class::Store | Class::Restart) && powered(sent.at));
    assert!(changes.len() >= 6, "{changes:?}: this shows nothing\n{}", played.log.tail());
    for change in changes {
        let word = confirmed(&played, 1075, change.at);
        assert!(word.is_some_and(|typed| change.at.since(typed) <= GOOD_FOR), "{change:?}, its word {word:?}");
    }
}

/// The operator says no at the second value: what was before is put back, and that can turn motors too.
#[test]
fn the_value_that_is_put_back_is_confirmed_too() {
    let config = WorldConfig::default();
    let mut motor = 0;
    let mut scene = scene(&config);
    scene.hands = Hands::willing(&config).who_answers(move |question| {
        motor += usize::from(matches!(question.about, About::Motor(_)));
        (motor > 1 && matches!(question.about, About::Motor(_))).then(|| keys(900, 70, [Key::Escape]))
    });
    each_was_confirmed(&scene.play(), 1);
}

/// After the word something keeps the craft from being still for most of a minute.
#[test]
fn a_word_a_minute_old_lets_no_change_leave() {
    let config = WorldConfig::default();
    let mut scene = scene(&config);
    scene.hands =
        Hands::willing(&config).who_follows(|gesture| matches!(gesture, Gesture::ThrottleDown).then(Vec::new));
    let played = scene
        .act(Act::when(|view| view.log.motor_questions().len() > 1, 1100, vec![Do::Line("stick throttle 1200")]))
        .act(Act::when(|view| view.log.motor_questions().len() > 1, 50_000, vec![Do::Line("stick throttle 990")]))
        .play();
    let raised = played.log.when("stick throttle 1200").expect("no second question: this shows nothing");
    let stale: Vec<_> = writes(&played)
        .into_iter()
        .filter(|(at, _)| *at > raised + GOOD_FOR)
        .filter(|(at, value)| confirmed(&played, *value, *at).is_none_or(|typed| at.since(typed) > GOOD_FOR))
        .map(|(at, value)| (at.since(raised).as_millis(), value))
        .collect();
    assert!(stale.is_empty(), "written so many ms after the throttle kept it: {stale:?}\n{}", played.log.tail());
}
