//! The output gate: nothing hidden gets through, nothing is left out.
//! Source: Unicode 16 `UnicodeData.txt`, general categories Cc, Cf, Zl, Zp; Unicode Standard Annex 9 for the
//! bidirectional characters.

use quadjig::report::gate;

/// The explicit bidirectional characters of Unicode Standard Annex 9, section 2.
const BIDI: [char; 12] = [
    '\u{61c}', '\u{200e}', '\u{200f}', '\u{202a}', '\u{202b}', '\u{202c}', '\u{202d}', '\u{202e}', '\u{2066}',
    '\u{2067}', '\u{2068}', '\u{2069}',
];

#[test]
fn hidden_characters_become_visible_escapes() {
    assert_eq!(gate::line("a\u{1b}[2Jb"), "a\\u{1b}[2Jb");
    assert_eq!(gate::line("zero\u{200b}width"), "zero\\u{200b}width");
    assert_eq!(gate::line("one\ntwo\t"), "one\\u{a}two\\u{9}");
    assert_eq!(gate::lines("one\ntwo\r"), "one\ntwo\\u{d}");
    for c in BIDI {
        assert_eq!(gate::line(&c.to_string()), format!("\\u{{{:x}}}", u32::from(c)));
    }
}

#[test]
fn plain_text_of_any_script_passes_untouched() {
    for text in ["Wren 95, bench set-up", "1120 µs", "Höhe über alles", "高さ", "ارتفاع", "…"] {
        assert!(matches!(gate::line(text), std::borrow::Cow::Borrowed(same) if same == text));
    }
}

#[test]
fn json_keeps_the_value_and_shows_the_character() {
    let value = "left\u{202e}right \u{e0041} \u{7f}\"";
    let text = serde_json::to_string_pretty(&[value]).unwrap();
    let safe = gate::json(&text);
    assert!(safe.is_ascii(), "{safe}");
    let back: Vec<String> = serde_json::from_str(&safe).unwrap();
    assert_eq!(back, [value]);
}

#[test]
fn offsets_follow_what_was_escaped() {
    let shown = gate::Escaped::new("a\u{202e}b\r\nc");
    assert_eq!(shown.text, "a\\u{202e}b\nc");
    let at = |source| &shown.text[shown.offset(source)..];
    assert_eq!(at(0), "a\\u{202e}b\nc");
    assert_eq!(at(1), "\\u{202e}b\nc");
    assert_eq!(at(4), "b\nc");
    assert_eq!(at(7), "c");
}
