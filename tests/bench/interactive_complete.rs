//! What the bench prompt offers: its own words beside statements, and statements behind `dry-run`.

use quadjig::bench::interactive::commands::{Asked, Subject, Word, read};
use quadjig::bench::interactive::complete::{Offered, complete, hint};
use quadjig::language::known::Known;

fn offered(before: &str) -> (usize, Vec<String>) {
    match complete(before, &Known::default()) {
        Offered::Words(start, all) => (start, all.into_iter().map(|candidate| candidate.text).collect()),
        Offered::File(_) => panic!("`{before}` is followed by a file"),
    }
}

fn hinted(text: &str) -> String {
    hint(text, &Known::default()).unwrap_or_default()
}

#[test]
fn a_line_begins_with_a_word_of_the_prompt_or_a_statement() {
    let (start, all) = offered("  ");
    assert_eq!(start, 2);
    for word in Word::ALL.into_iter().map(Word::word).chain(["idle", "bind", "test", "keep"]) {
        assert_eq!(all.iter().filter(|text| *text == word).count(), 1, "{word} in {all:?}");
    }
    assert_eq!(offered("  re"), (2, vec!["recipe".to_owned(), "require".to_owned(), "receiver".to_owned()]));
}

#[test]
fn words_of_the_prompt_are_followed_by_what_they_take() {
    let subjects: Vec<String> = Subject::ALL.into_iter().map(|subject| subject.row().0.to_owned()).collect();
    assert_eq!(offered("look "), (5, subjects));
    assert_eq!(offered("look sw"), (5, vec!["switches".to_owned()]));
    assert_eq!(offered("dry-run idle st"), (13, vec!["start".to_owned()]));
    assert_eq!(offered("help un"), (5, vec!["undo".to_owned(), "unbind".to_owned()]));
    assert_eq!(offered("undo "), (5, vec![]));
    assert_eq!(complete("write old/w", &Known::default()), Offered::File(6));
    assert_eq!(complete("write \"old/w", &Known::default()), Offered::File(7));
}

#[test]
fn hints_know_both() {
    assert_eq!(hinted(""), "");
    assert_eq!(hinted("l"), "look|leave");
    assert_eq!(hinted("re"), "recipe|require|receiver");
    assert_eq!(hinted("write"), "FILE");
    assert_eq!(hinted("write "), "FILE");
    assert_eq!(hinted("write a"), "");
    assert_eq!(hinted("dry-run "), "STATEMENT");
    assert_eq!(hinted("dry-run order "), "motors");
    assert_eq!(hinted("order "), "motors");
    assert_eq!(hinted("leave"), "");
}

#[test]
fn only_leave_leaves() {
    for word in Word::ALL {
        let behind = if word.form().is_empty() { "" } else { " battery" };
        let asked = read(&format!("{}{behind}", word.word())).unwrap();
        assert_eq!(asked == Asked::Leave, word == Word::Leave, "{asked:?}");
        assert!(!matches!(asked, Asked::Nothing | Asked::Statement(_)), "{asked:?}");
    }
}
