//! What the bench prompt offers: its own words beside statements, and statements behind `dry-run`.

use quadjig::bench::interactive::commands::{LookSubject, PromptLine, PromptWord, read};
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
    for word in PromptWord::ALL.into_iter().map(PromptWord::word).chain(["idle", "bind", "test", "keep"]) {
        assert_eq!(all.iter().filter(|text| *text == word).count(), 1, "{word} in {all:?}");
    }
    assert_eq!(offered("  re"), (2, vec!["recipe".to_owned(), "require".to_owned(), "receiver".to_owned()]));
}

#[test]
fn words_of_the_prompt_are_followed_by_what_they_take() {
    let subjects: Vec<String> = LookSubject::ALL.into_iter().map(|subject| subject.row().0.to_owned()).collect();
    assert_eq!(offered("look "), (5, subjects));
    assert_eq!(offered("look sw"), (5, vec!["switches".to_owned()]));
    assert_eq!(offered("dry-run idle st"), (13, vec!["start".to_owned()]));
    assert_eq!(offered("help un"), (5, vec!["undo".to_owned(), "unbind".to_owned()]));
    assert_eq!(offered("undo "), (5, vec![]));
    assert_eq!(complete("write old/w", &Known::default()), Offered::File(6));
    assert_eq!(complete("write \"old/w", &Known::default()), Offered::File(7));
    assert_eq!(complete("run old/w", &Known::default()), Offered::File(4));
    assert_eq!(complete("run \"old/my craft", &Known::default()), Offered::File(5));
    for before in ["run old.jig w", "run \"my craft.jig\" w"] {
        assert_eq!(offered(before), (before.len() - 1, vec!["with".to_owned()]));
    }
    assert_eq!(offered("go"), (0, vec!["go on".to_owned()]));
    assert_eq!(offered("  go o"), (2, vec!["go on".to_owned()]));
}

#[test]
fn hints_know_both() {
    assert_eq!(hinted(""), "");
    assert_eq!(hinted("l"), "look|leave");
    assert_eq!(hinted("re"), "recipe|require|receiver");
    assert_eq!(hinted("write"), "FILE");
    assert_eq!(hinted("run "), "FILE [with …]");
    assert_eq!(hinted("go"), "go on");
    assert_eq!(hinted("go on"), "");
    assert_eq!(hinted("write "), "FILE");
    assert_eq!(hinted("write a"), "");
    assert_eq!(hinted("dry-run "), "STATEMENT");
    assert_eq!(hinted("dry-run order "), "motors");
    assert_eq!(hinted("order "), "motors");
    assert_eq!(hinted("leave"), "");
}

#[test]
fn a_recipe_is_named_with_or_without_quotes_and_its_parameters_follow() {
    let run = |line: &str| match read(line).unwrap() {
        PromptLine::Run(asked) => (asked.file.display().to_string(), asked.with),
        other => panic!("{other:?}"),
    };
    assert_eq!(run("run first-craft"), ("first-craft.jig".to_owned(), vec![]));
    assert_eq!(run("run \"my craft.jig\""), ("my craft.jig".to_owned(), vec![]));
    let pairs = vec![("idle-floor".to_owned(), "1120 us".to_owned()), ("arm-switch".to_owned(), "C".to_owned())];
    for line in
        ["run a.jig with idle-floor 1120 us, arm-switch C", "run \"a.jig\"  with  idle-floor  1120 us ,arm-switch C"]
    {
        assert_eq!(run(line), ("a.jig".to_owned(), pairs.clone()));
    }
    for wrong in [
        "run",
        "run a.jig with",
        "run a.jig with idle-floor",
        "run a.jig idle-floor 1120 us",
        "go",
        "go on now",
        "continue",
    ] {
        assert!(read(wrong).is_err(), "{wrong}");
    }
}

#[test]
fn only_leave_leaves() {
    for word in PromptWord::ALL {
        let behind = if word.form().is_empty() { "" } else { " battery" };
        let asked = read(&format!("{}{behind}", word.word())).unwrap();
        assert_eq!(asked == PromptLine::Leave, word == PromptWord::Leave, "{asked:?}");
        assert!(!matches!(asked, PromptLine::Nothing | PromptLine::Statement(_)), "{asked:?}");
    }
}
