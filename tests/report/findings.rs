//! Findings as text and JSON: places in characters, excerpts that stay short.

use quadjig::language::finding::Finding;
use quadjig::language::recipe::File;
use quadjig::language::span::{FileId, Span};
use quadjig::report::findings::{Look, Places, json, text};

fn span(range: std::ops::Range<usize>) -> Span {
    Span { file: FileId(0), range }
}

fn file(text: &str) -> [File; 1] {
    [File { name: "wren.jig".to_owned(), text: text.into() }]
}

#[test]
fn places_count_characters_and_lines_from_one() {
    let files = file("µµ a\r\nbc\n");
    let places = Places::new(&files);
    let of = |range| {
        let place = places.place(&span(range));
        (place.line, place.column, place.end_line, place.end_column)
    };
    assert_eq!(of(0..4), (1, 1, 1, 3), "two characters of two bytes");
    assert_eq!(of(5..6), (1, 4, 1, 5));
    assert_eq!(of(5..10), (1, 4, 2, 3));
    assert_eq!(of(11..11), (3, 1, 3, 1), "behind the last line feed");
}

/// Two places a whole recipe apart are two short excerpts, not one long.
#[test]
fn excerpts_do_not_grow_with_the_recipe() {
    let files = file(&"keep\n".repeat(10_000));
    let finding = Finding::error("X1", span(49_995..49_999), "the last").also(span(0..4), "the first");
    let shown = text(&files, &[finding], Look::Marked);
    assert!(shown.lines().count() < 15, "{shown}");
    assert!(shown.contains("10000 |") && shown.contains("the first"), "{shown}");
}

#[test]
fn colour_adds_escapes_and_no_words() {
    let files = file("keep\n");
    let findings = [Finding::warning("X1", span(0..4), "a word \u{1b}[31m").hint("write another")];
    let strip = |text: &str| {
        let mut parts = text.split('\u{1b}');
        let first = parts.next().unwrap_or_default().to_owned();
        parts.fold(first, |all, part| all + part.split_once('m').map_or("", |(_, rest)| rest))
    };
    let coloured = text(&files, &findings, Look::Coloured);
    assert!(coloured.contains('\u{1b}'));
    assert_eq!(strip(&coloured), text(&files, &findings, Look::Marked));
}

#[test]
fn json_hints_hold_what_an_editor_would_do() {
    let files = file("keap\n");
    let finding = Finding::error("X1", span(0..4), "no statement").replace("write `keep`", span(0..4), "keep");
    let value = serde_json::to_value(json(&files, &[finding])).unwrap();
    assert_eq!(value[0]["hints"], serde_json::json!(["write `keep`"]));
    assert_eq!(value[0]["fixes"][0]["replacement"], "keep");
    assert_eq!(value[0]["severity"], "error");
}
