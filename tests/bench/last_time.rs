//! The parameters that a recipe had last time on the same craft: shown, taken by one key, never silently.
//!
//! Judged by what the board stores in the end, and by the keys that were pressed for it.

use super::interactive::kit::session;
use super::stand::{Deeds, Hands, Played, Stand, keys};
use quadjig::seam::Key;
use quadjig::seam::ui::Question;
use quadjig::virtual_board::WorldConfig;

const RECIPE: &str = "recipe \"Wren 95, floor\"\nedition 1\ncraft quad x\nboard \"Finch\"\n\
    given floor default 1100 us from 1050 us to 1200 us\n\
    require battery out\nidle at floor\nkeep\n";

fn is_it(question: &Question) -> bool {
    question.title.starts_with("Take the parameters of last time")
}

/// Keys for the question; everything else is done as asked.
fn who(key: Key) -> Hands<'static> {
    let answers = move |question: &Question| -> Option<Deeds> { is_it(question).then(|| keys(900, 60, [key])) };
    Hands::willing(&WorldConfig::default()).who_answers(answers)
}

/// Once more on the craft that this was played on.
fn again(before: Played, recipe: &str, key: char) -> Stand<'_> {
    let mut stand = Stand::new(recipe);
    (stand.board, stand.disk, stand.hands) = (before.board, before.disk, who(Key::Char(key)));
    stand.disk.again();
    stand.clock = "2026-11-28T10:00:00Z".parse().unwrap();
    stand
}

fn first() -> Played {
    let mut stand = Stand::new(RECIPE);
    stand.with = &[("floor", "1120us")];
    let played = stand.play();
    assert_eq!((played.result.clone(), idle(&played)), (Some(Ok(())), 1120));
    played
}

fn idle(played: &Played) -> i64 {
    played.board.truth()["settings"]["IDLE_US"]["stored"].as_i64().unwrap()
}

fn asked(played: &Played) -> Vec<&Question> {
    played.log.questions().into_iter().filter(|question| is_it(question)).collect()
}

#[test]
fn they_are_shown_and_taken_with_one_key() {
    let second = again(first(), RECIPE, 't').play();
    assert_eq!((second.result.clone(), idle(&second)), (Some(Ok(())), 1120), "{}", second.log.tail());
    let shown = asked(&second);
    assert_eq!(shown.len(), 1);
    assert!(shown[0].lines.contains(&"floor 1120 us, which is 1100 us now".to_owned()), "{:?}", shown[0].lines);
    // What was taken is last time's for the next one.
    let third = again(second, RECIPE, 't').play();
    assert_eq!((asked(&third).len(), idle(&third)), (1, 1120));
}

#[test]
fn another_key_leaves_them_and_then_nothing_is_asked_again() {
    let second = again(first(), RECIPE, 'o').play();
    assert_eq!((second.result.clone(), idle(&second)), (Some(Ok(())), 1100), "{}", second.log.tail());
    let third = again(second, RECIPE, 't').play();
    assert_eq!((asked(&third).len(), idle(&third)), (0, 1100));
}

#[test]
fn what_is_given_now_wins() {
    let mut stand = again(first(), RECIPE, 't');
    stand.with = &[("floor", "1080us")];
    let second = stand.play();
    assert_eq!((asked(&second).len(), idle(&second)), (0, 1080), "{}", second.log.tail());
}

#[test]
fn another_recipe_on_the_craft_is_asked_nothing() {
    let other = RECIPE.replace("Wren 95, floor", "Wren 95, other");
    let second = again(first(), &other, 't').play();
    assert_eq!((asked(&second).len(), idle(&second)), (0, 1100), "{}", second.log.tail());
}

#[test]
fn what_no_longer_fits_is_said_and_left() {
    let narrow = RECIPE.replace("to 1200 us", "to 1110 us");
    let second = again(first(), &narrow, 't').play();
    assert_eq!((asked(&second).len(), idle(&second)), (0, 1100), "{}", second.log.tail());
    assert!(second.log.says("floor=1120us of last time is left out: it no longer fits the recipe."));
    let renamed = RECIPE.replace("floor d", "base d").replace("at floor", "at base");
    let second = again(first(), &renamed, 't').play();
    assert_eq!((asked(&second).len(), idle(&second)), (0, 1100), "{}", second.log.tail());
    assert!(second.log.says("floor=1120us of last time is left out: the recipe takes no floor any more."));
}

/// A parameter without a value of its own is filled by last time's; without it, nothing can be planned.
#[test]
fn a_parameter_without_a_default_is_filled() {
    let open = RECIPE.replace(" default 1100 us", "");
    let mut stand = Stand::new(&open);
    stand.with = &[("floor", "1120us")];
    let second = again(stand.play(), &open, 't').play();
    assert_eq!((second.result.clone(), idle(&second)), (Some(Ok(())), 1120), "{}", second.log.tail());
    let shown = &asked(&second)[0].lines;
    assert!(shown.contains(&"floor 1120 us, which has no value now".to_owned()), "{shown:?}");
}

#[test]
fn declined_altogether_nothing_is_written() {
    let mut stand = again(first(), RECIPE, 't');
    stand.hands = who(Key::Escape);
    let second = stand.play();
    assert_eq!(second.code(), 4, "{}", second.log.tail());
    assert!(second.log.writes().is_empty());
}

/// At the prompt as well.
#[test]
fn the_prompt_proposes_them_too() {
    for (key, wanted) in [('t', 1120), ('o', 1100)] {
        let before = first();
        let mut planned = session(&["run floor.jig", "leave"]);
        (planned.board, planned.disk) = (before.board, before.disk);
        planned.disk.again();
        planned.disk.named.insert("floor.jig".into(), RECIPE.as_bytes().to_vec());
        planned.typist.answers = [("Take the parameters of last time", key)].into();
        let sat = planned.sit();
        assert!(sat.result.is_ok(), "{}", sat.text);
        sat.says("floor 1120 us, which is 1100 us now");
        assert_eq!(sat.board.truth()["settings"]["IDLE_US"]["stored"].as_i64(), Some(wanted), "{}", sat.text);
    }
}
