//! What never confirms a motor question, what does, and what such a question says.

use super::stand::{Did, Hands, IDLE, Played, Plot, SIGNAL, START, Stand, Then, keys};
use quadjig::rehearsal::operator::{Deed, typed};
use quadjig::report::screen::{Screen, Style};
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Declined, MotorStep, Question, Reply, StartedBy, UiEvent};
use quadjig::seam::{Event, Key};
use quadjig::virtual_board::WorldConfig;
use quadjig::world::screen::{Drawn, Screen as _};
use std::time::Duration;

type Deeds = Vec<(Duration, Deed)>;

fn chars(text: &str) -> impl Iterator<Item = Key> + '_ {
    text.chars().map(Key::Char)
}

fn word(question: &Question) -> String {
    match &question.reply {
        Reply::Word(word) => word.clone(),
        other => panic!("a motor question is answered by {other:?}"),
    }
}

/// Plays with an operator who does this at every motor question.
fn answering<'a>(recipe: &'a str, mut answer: impl FnMut(&Question) -> Deeds + 'a) -> Played {
    let mut stand = Stand::new(recipe);
    stand.hands = Hands::willing(&WorldConfig::default())
        .who_answers(move |question| matches!(question.about, About::Motor(_)).then(|| answer(question)));
    stand.play()
}

/// Neither by switch nor by command does anything turn; the run says no.
#[track_caller]
fn declines(times: usize, why: &Declined, mut answer: impl FnMut(&Question) -> Deeds) {
    for recipe in [START, SIGNAL] {
        let played = answering(recipe, &mut answer);
        played.log.nothing_turned();
        assert_eq!(played.code(), 4, "{}", played.log.tail());
        let Fault::Declined { why: said, .. } = played.fault() else { panic!("{}", played.log.tail()) };
        assert_eq!(said, why);
        assert_eq!(played.log.motor_questions().len(), times, "{}", played.log.tail());
        assert!(!played.log.truth.iter().any(|truth| truth.armed));
    }
}

#[test]
fn a_wrong_word_is_asked_again_twice_and_no_more() {
    declines(3, &Declined::WrongWord("yes".to_owned()), |_| typed("yes"));
    declines(3, &Declined::WrongWord("1160".to_owned()), |_| typed("1160"));
}

#[test]
fn a_typed_no_is_one_at_once() {
    declines(1, &Declined::Refused, |_| typed("No"));
}

#[test]
fn a_part_of_the_word_is_a_wrong_word() {
    declines(3, &Declined::WrongWord("115".to_owned()), |_| typed("115"));
}

#[test]
fn the_word_counts_in_any_case_of_letters() {
    let upper = answering(SIGNAL, |question| typed(&word(question).to_uppercase()));
    assert_eq!(upper.code(), 0, "{}", upper.log.tail());
    assert!(upper.log.motor_questions().len() < upper.log.questions().len(), "words of letters were asked for");
}

#[test]
fn enter_alone_is_no() {
    declines(3, &Declined::EnterAlone, |_| keys(1000, 50, [Key::Enter]));
}

#[test]
fn the_end_of_input_is_no() {
    let played = answering(SIGNAL, |_| vec![(Duration::from_millis(900), Deed::Leave)]);
    assert_eq!(played.code(), 4, "{}", played.log.tail());
    played.log.nothing_turned();
}

#[test]
fn escape_and_ctrl_c_are_no_also_after_the_right_word() {
    declines(1, &Declined::Refused, |_| keys(1000, 50, [Key::Escape]));
    declines(1, &Declined::Refused, |question| keys(1000, 50, chars(&word(question)).chain([Key::Escape, Key::Enter])));
    let played =
        answering(SIGNAL, |question| keys(1000, 50, chars(&word(question)).chain([Key::Interrupt, Key::Enter])));
    assert_eq!(played.code(), 4, "{}", played.log.tail());
    played.log.nothing_turned();
}

#[test]
fn ctrl_c_is_heard_before_the_question_was_read() {
    let played = answering(SIGNAL, |_| keys(10, 50, [Key::Interrupt]));
    assert_eq!(played.code(), 4, "{}", played.log.tail());
    played.log.nothing_turned();
}

#[test]
fn what_was_typed_ahead_is_thrown_away() {
    // Typed by hand while the question had not yet stood for 300 ms; the Enter comes later.
    declines(3, &Declined::EnterAlone, |question| {
        let word = word(question);
        let apart = 270 / u64::try_from(word.len()).unwrap();
        let mut deeds = keys(25, apart, chars(&word));
        deeds.extend(keys(400, 50, [Key::Enter]));
        deeds
    });
}

#[test]
fn the_last_keys_alone_do_not_make_the_word() {
    // The first half in the deaf time, the second after it.
    declines(3, &Declined::WrongWord("50".to_owned()), |_| {
        let mut deeds = keys(100, 60, chars("11"));
        deeds.extend(keys(400, 60, chars("50").chain([Key::Enter])));
        deeds
    });
}

#[test]
fn a_paste_that_the_terminal_marks_is_no() {
    declines(3, &Declined::Pasted, |question| {
        let mut deeds = vec![(Duration::from_millis(800), Deed::Paste)];
        deeds.extend(typed(&word(question)));
        deeds
    });
}

#[test]
fn two_characters_under_20_ms_apart_are_a_paste() {
    declines(3, &Declined::Pasted, |question| {
        let word = word(question);
        let mut deeds = keys(1000, 19, chars(&word[..2]));
        deeds.extend(keys(1100, 60, chars(&word[2..]).chain([Key::Enter])));
        deeds
    });
}

#[test]
fn fast_hands_are_hands() {
    let played = answering(START, |question| keys(320, 20, chars(&word(question)).chain([Key::Enter])));
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    played.log.motors_turned();
}

#[test]
fn backspace_mends_a_word() {
    let played = answering(START, |question| {
        let word = word(question);
        let slip = chars(&word[..3]).chain([Key::Char('9'), Key::Char('9'), Key::Backspace, Key::Backspace]);
        keys(900, 70, slip.chain(chars(&word[3..])).chain([Key::Enter]).collect::<Vec<_>>())
    });
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    played.log.motors_turned();
}

#[test]
fn a_terminal_that_closed_before_the_question_answers_nothing() {
    // The operator of this stand goes on typing; a closed terminal hears none of it.
    for recipe in [START, SIGNAL] {
        let played = Stand::new(recipe)
            .plot(Plot::when(|board, _| board.pack_volts() > 1.0, 200, vec![Then::Event(Event::EndOfInput)]))
            .play();
        played.log.nothing_turned();
        assert_eq!(played.code(), 4, "{}", played.log.tail());
    }
}

#[test]
fn a_motor_question_says_what_will_happen_and_how_to_stop_it() {
    for recipe in [START, SIGNAL, IDLE] {
        let played = Stand::new(recipe).play();
        let questions = played.log.motor_questions();
        assert!(!questions.is_empty());
        for question in questions {
            let About::Motor(step) = &question.about else { continue };
            let facts = quadjig::report::screen::motor_facts(step);
            let text = facts.iter().map(|(name, value)| format!("{name}: {value}")).collect::<Vec<_>>().join("\n");
            for part in [&format!("{} us", step.pulse.0), &step.look_at] {
                assert!(text.contains(part.as_str()), "{part} is missing:\n{text}");
            }
            // A change starts nothing, so it has no longest time.
            let seconds = format!("{} s", step.bound().as_secs_f64());
            assert!(text.contains(&seconds) || matches!(step.by, StartedBy::Change { .. }), "{text}");
            for part in ["to stop", "battery plug", "motor"] {
                assert!(text.contains(part), "{part} is missing:\n{text}");
            }
            assert_eq!(question.craft, "Wren 95, stand");
            assert!(question.is_virtual);
        }
    }
}

/// Words of the questions before something is started, without those before a change of the board.
fn words_of_starts(played: &Played) -> Vec<String> {
    let starts = |about: &About| !matches!(about, About::Motor(MotorStep { by: StartedBy::Change { .. }, .. }));
    played.log.motor_questions().into_iter().filter(|question| starts(&question.about)).map(word).collect()
}

#[test]
fn the_word_changes_with_the_pulse() {
    let played = Stand::new(IDLE).play();
    let words = words_of_starts(&played);
    assert!(words.len() >= 2, "{words:?}");
    for pair in words.windows(2) {
        assert_ne!(pair[0], pair[1]);
    }
    let first = words.first().unwrap();
    assert_eq!(first, "1075");
}

#[test]
fn the_word_is_the_output_of_a_single_motor() {
    let played = Stand::new(SIGNAL).play();
    let words = words_of_starts(&played);
    assert_eq!(words[..4], ["output 1", "output 2", "output 3", "output 4"]);
    // Where it sits is the sheet's word until `test motors` has shown it, and is said to be that.
    assert!(played.log.says("Output 2 answers: ") && !played.log.says("front right motor answers"));
}

#[test]
fn the_word_of_another_motor_is_a_wrong_word() {
    let played = answering(SIGNAL, |_| typed("output 4"));
    assert!(matches!(played.fault(), Fault::Declined { why: Declined::WrongWord(_), .. }));
    played.log.nothing_turned();
}

#[test]
fn nothing_else_is_shown_while_a_question_stands() {
    for recipe in [START, SIGNAL, IDLE] {
        let played = Stand::new(recipe).play();
        let mut open = false;
        let mut seen = 0;
        for entry in &played.log.entries {
            match &entry.did {
                Did::Asked(_) => {
                    assert!(!open, "two questions at once");
                    open = true;
                    seen += 1;
                }
                Did::Closed => open = false,
                // It is redrawn below what is typed, and prints nothing.
                Did::UiEvent(UiEvent::Strip(_)) => {}
                Did::UiEvent(shown) => assert!(!open, "{shown:?} while a question stood"),
                _ => {}
            }
        }
        assert!(seen >= 2 && !open);
    }
}

#[test]
fn more_starts_than_were_confirmed_are_asked_for_again() {
    let played = Stand::new(IDLE).play();
    let starts =
        played.log.entries.iter().filter(|e| matches!(&e.did, Did::UiEvent(quadjig::seam::ui::UiEvent::Start(_))));
    let allowed: u32 = played
        .log
        .motor_questions()
        .iter()
        .map(|question| match &question.about {
            About::Motor(step) => step.starts,
            _ => 0,
        })
        .sum();
    assert!(u32::try_from(starts.count()).unwrap() <= allowed);
}

/// The cautions whole, and the plan that has scrolled away, wherever a question stands: it stands below them again, and is
/// answered as before.
#[test]
fn a_question_mark_shows_the_cautions_whole_and_the_question_again() {
    let shown = std::cell::Cell::new(false);
    let asks = Plot::when(
        |_, log| log.entries.iter().any(|entry| matches!(entry.did, Did::Asked(_))),
        400,
        vec![Then::Event(Event::Key(Key::Char('?')))],
    );
    // Who reads the cautions first answers the question that stands below them.
    let first = std::cell::Cell::new(true);
    let hands = Hands::willing(&WorldConfig::default()).who_answers(|_| first.replace(false).then(Vec::new));
    let played = Stand { hands, ..Stand::new(START) }.plot(asks).play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    for pair in played.log.entries.windows(2) {
        if let [Did::UiEvent(UiEvent::CautionsWhole(plan)), Did::Asked(question)] = [&pair[0].did, &pair[1].did] {
            assert!(!question.title.is_empty());
            let shows_it = |event: &UiEvent| {
                let Drawn::Urgent(rows) = Screen::new(Style::default()).shown(event, 80) else { panic!("held back") };
                rows.iter().any(|row| row.contains("What this run will do"))
            };
            assert!(shows_it(&UiEvent::CautionsWhole(plan.clone())) && !shows_it(&UiEvent::CautionsWhole(None)));
            shown.set(true);
        }
    }
    assert!(shown.get(), "{}", played.log.tail());
}

/// A question that comes again carries what it was before, and only where one thing at most has changed.
#[test]
fn a_motor_question_that_comes_again_knows_what_it_was() {
    let played = Stand::new(IDLE).play();
    let questions = played.log.questions();
    let starts: Vec<&Question> = questions.into_iter().filter(|q| super::stand::is_start(q)).collect();
    assert!(starts.len() >= 2, "{}", played.log.tail());
    assert_eq!(starts[0].before, None, "the first is asked whole");
    let About::Motor(first) = &starts[0].about else { panic!() };
    assert_eq!(starts[1].before.as_deref(), Some(first), "the second differs by its pulse alone");
}
