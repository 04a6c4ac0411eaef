//! The parser that pest makes from `grammar/`, and readable words for its rules.
//!
//! Promises: a rule's name never reaches a person; what a place expects is said in words of the
//! language. Must not be here: findings (see `syntax`), meaning (see `lower`).

use std::sync::LazyLock;

/// The parser of one logical line of edition 1.
#[derive(pest_derive::Parser)]
#[grammar = "../grammar/edition_1.pest"]
pub(crate) struct Edition1;

/// The word of a keyword's rule; `None` for any other rule.
pub(crate) fn keyword(rule: Rule) -> Option<&'static str> {
    static WORDS: LazyLock<Vec<Option<String>>> = LazyLock::new(|| {
        Rule::all_rules().iter().map(|rule| format!("{rule:?}").strip_prefix("kw_").map(str::to_owned)).collect()
    });
    let index = Rule::all_rules().iter().position(|known| *known == rule)?;
    WORDS.get(index)?.as_deref()
}

/// Every keyword.
pub(crate) fn keywords() -> impl Iterator<Item = &'static str> {
    Rule::all_rules().iter().filter_map(|rule| keyword(*rule))
}

/// What a rule stands for, as a person would be told, and the keywords it can begin with.
pub(crate) fn expectation(rule: Rule) -> (String, Vec<&'static str>) {
    if let Some(word) = keyword(rule) {
        return (format!("`{word}`"), vec![word]);
    }
    let (text, words): (&str, &[&str]) = match rule {
        Rule::EOI => ("the end of the line", &[]),
        Rule::comma => ("a comma", &[]),
        Rule::string | Rule::given_about | Rule::require_text => ("a text in double quotes", &[]),
        Rule::number => ("a number", &[]),
        Rule::unit => ("a unit", &[]),
        Rule::quantity => ("a number with its unit", &[]),
        Rule::pulse => ("a pulse width such as `1100 us`", &[]),
        Rule::duration => ("a time such as `500 ms`", &[]),
        Rule::frequency => ("a rate such as `2 kHz`", &[]),
        Rule::angle => ("an angle such as `2 deg`", &[]),
        Rule::cell_voltage => ("a voltage such as `3.7 V per cell`", &[]),
        Rule::count => ("a whole number", &[]),
        Rule::position => ("a position such as `2`", &[]),
        Rule::positions => ("`position` or `positions`", &["position", "positions"]),
        Rule::idle_value => ("a pulse width such as `1120 us`, or a share such as `5.5 %`", &[]),
        Rule::with_value => ("a value such as `1120 us`, or the name of a parameter", &[]),
        Rule::motor_signal => (
            "a motor signal (`pwm`, `oneshot125`, `dshot150`, `dshot300` or `dshot600`)",
            &["pwm", "oneshot125", "dshot150", "dshot300", "dshot600"],
        ),
        Rule::name | Rule::new_name | Rule::with_pair => ("the name of a parameter", &[]),
        Rule::switch_name => ("the name of a switch", &[]),
        Rule::function => ("the name of a function such as `arm`", &[]),
        Rule::protocol => ("a receiver protocol such as `crsf`", &[]),
        Rule::setting => ("a setting: a word such as `loop-rate`, or the board's own name in quotes", &[]),
        Rule::setting_value => ("a value: a number with its unit, or a word", &[]),
        Rule::word => ("a word in lower-case letters", &[]),
        Rule::frame => ("a frame: `quad x`, `quad plus`, `hex x` or `octo x`", &["quad", "hex", "octo"]),
        Rule::chemistry => ("`lipo`, `lihv` or `liion`", &["lipo", "lihv", "liion"]),
        Rule::on_loss | Rule::on_channel => ("`on`", &["on"]),
        Rule::require => (
            "a condition such as `props off`",
            &["props", "antenna", "battery", "throttle", "disarmed", "level", "switch", "firmware"],
        ),
        // What is left begins with a keyword of its own or stands at the very start of a line.
        _ => ("another word", &[]),
    };
    (text.to_owned(), words.to_vec())
}

/// The words that a statement can begin with.
pub(crate) const STARTS: &[&str] = &[
    "at",
    "battery",
    "bind",
    "board",
    "calibrate",
    "channels",
    "craft",
    "edition",
    "expect",
    "failsafe",
    "find",
    "given",
    "idle",
    "keep",
    "note",
    "order",
    "pause",
    "power",
    "receiver",
    "recipe",
    "require",
    "set",
    "signal",
    "switch",
    "test",
    "unbind",
    "use",
];

/// Every example of the grammar's own comments.
pub(crate) fn examples() -> impl Iterator<Item = &'static str> {
    include_str!("../../grammar/edition_1.pest").lines().filter_map(|line| line.strip_prefix("//     "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use pest::Parser;

    #[test]
    fn every_keyword_is_reserved() {
        let words: Vec<_> = keywords().collect();
        assert!(words.len() > 90, "{words:?}");
        for word in words {
            assert!(Edition1::parse(Rule::name, word).is_err(), "`{word}` is taken for the name of a parameter");
            assert!(Edition1::parse(Rule::name, &format!("{word}-a")).is_ok());
        }
    }

    #[test]
    fn starts_are_the_words_that_statements_begin_with() {
        for word in keywords() {
            let error = Edition1::parse(Rule::line, &format!("{word} \u{1}")).unwrap_err();
            let pest::error::InputLocation::Pos(at) = error.location else { panic!("{error}") };
            assert_eq!(at > 0, STARTS.contains(&word), "`{word}`: {error}");
        }
    }
}
