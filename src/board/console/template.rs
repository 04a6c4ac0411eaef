//! Lines with places for values, and patterns of answers.
//!
//! Promises: a value that is put into a line is a number or a name of plain characters, so that nothing it holds
//! could end the line or begin another; a pattern matches a whole line, and its compiled size is bounded.

use super::super::value::{Number, SettingName};
use crate::measure::words::words;
use regex::{Captures, Regex, RegexBuilder};
use thiserror::Error;

/// Longest line that a sheet can send, and longest pattern, characters.
pub const LONGEST: usize = 120;
/// Longest pattern, characters.
pub const LONGEST_PATTERN: usize = 400;
/// Most bytes that one compiled pattern may take.
const PATTERN_SIZE: usize = 256 * 1024;
/// Most digits before the point of a number in a line, and after it.
const DIGITS: (usize, usize) = (10, 9);

words! {
    /// A place for a value in a line.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
    #[expect(missing_docs, reason = "named as in the sheet")]
    pub enum Place, word {
        Name = "name",
        Value = "value",
        Motor = "motor",
        Pulse = "pulse",
        Milliseconds = "ms",
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Part {
    Text(String),
    Place(Place),
}

/// A line to send.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Template(Vec<Part>);

/// Why a text is no line to send.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TemplateError {
    /// Empty, too long, or not printable ASCII.
    #[error("a line to send is 1 to {LONGEST} printable ASCII characters")]
    Unfit,
    /// A brace without its other, or an unknown place.
    #[error("`{{{0}}}` is no place for a value")]
    UnknownPlace(String),
    /// A place that this line must have.
    #[error("the line must hold `{{{}}}` once", .0.word())]
    Missing(Place),
    /// A place that this line cannot have, or has twice.
    #[error("the line must not hold `{{{}}}`{}", .0.word(), if *.1 { " twice" } else { "" })]
    Extra(Place, bool),
}

/// Why a value cannot stand in a line.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ValueError {
    /// A name with other characters than letters, digits and a few signs.
    #[error("the name {0} cannot stand in a console's line: letters, digits and _ . - alone can")]
    Name(String),
    /// A number too large, too fine, or not finite.
    #[error("{0} cannot stand in a console's line: up to 10 digits, and 9 after the point")]
    Number(String),
}

impl Template {
    /// Reads a line with exactly the places `wanted`, each once.
    ///
    /// # Errors
    /// Another form.
    pub fn read(text: &str, wanted: &[Place]) -> Result<Self, TemplateError> {
        if !is_line(text) {
            return Err(TemplateError::Unfit);
        }
        let mut parts = Vec::new();
        let mut rest = text;
        while let Some(at) = rest.find(['{', '}']) {
            let (before, braced) = rest.split_at(at);
            if !before.is_empty() {
                parts.push(Part::Text(before.to_owned()));
            }
            let word = braced.strip_prefix('{').and_then(|inner| inner.split_once('}'));
            let Some((word, after)) = word else {
                return Err(TemplateError::UnknownPlace(braced.trim_matches(['{', '}']).to_owned()));
            };
            let place = Place::ALL.into_iter().find(|place| place.word() == word);
            parts.push(Part::Place(place.ok_or_else(|| TemplateError::UnknownPlace(word.to_owned()))?));
            rest = after;
        }
        if !rest.is_empty() {
            parts.push(Part::Text(rest.to_owned()));
        }
        for place in Place::ALL {
            let count = parts.iter().filter(|part| **part == Part::Place(place)).count();
            match (wanted.contains(&place), count) {
                (true, 0) => return Err(TemplateError::Missing(place)),
                (true, 1) | (false, 0) => {}
                (wanted, _) => return Err(TemplateError::Extra(place, wanted)),
            }
        }
        Ok(Self(parts))
    }

    /// The line with its values put in; a place without a value stays empty, which [`Self::read`] rules out.
    #[must_use]
    pub fn fill(&self, values: &[(Place, String)]) -> String {
        let value = |place: &Place| values.iter().find(|(of, _)| of == place).map_or("", |(_, value)| value.as_str());
        self.0
            .iter()
            .map(|part| match part {
                Part::Text(text) => text.as_str(),
                Part::Place(place) => value(place),
            })
            .collect()
    }
}

/// Whether a text can be sent as a line.
#[must_use]
pub fn is_line(text: &str) -> bool {
    (1..=LONGEST).contains(&text.len())
        && text.bytes().all(|byte| byte.is_ascii_graphic() || byte == b' ')
        && text.trim() == text
}

/// A name as it stands in a line.
///
/// # Errors
/// Characters that a console could take for something else.
pub fn name(name: &SettingName) -> Result<String, ValueError> {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || matches!(byte, b'_' | b'.' | b'-');
    if name.as_str().bytes().all(plain) && !name.as_str().starts_with('-') {
        Ok(name.as_str().to_owned())
    } else {
        Err(ValueError::Name(name.to_string()))
    }
}

/// A number as it stands in a line: whole numbers without a point, reals with one, never in powers of ten.
///
/// # Errors
/// Too large, too fine, or not finite.
pub fn number(number: Number) -> Result<String, ValueError> {
    let text = match number {
        Number::Whole(whole) => whole.to_string(),
        Number::Real(real) if !real.is_finite() => return Err(ValueError::Number(real.to_string())),
        Number::Real(_) => {
            let text = number.to_string();
            if text.contains('.') { text } else { format!("{text}.0") }
        }
    };
    let shown = number_of(&text).filter(|back| back.same(number));
    if shown.is_some() { Ok(text) } else { Err(ValueError::Number(text)) }
}

/// A number out of a line; `None` for everything that is no plain number.
#[must_use]
pub fn number_of(text: &str) -> Option<Number> {
    let digits = text.strip_prefix('-').unwrap_or(text);
    let all =
        |text: &str, most: usize| (1..=most).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    match digits.split_once('.') {
        None if all(digits, DIGITS.0) => text.parse().ok().map(Number::Whole),
        Some((before, after)) if all(before, DIGITS.0) && all(after, DIGITS.1) => text.parse().ok().map(Number::Real),
        _ => None,
    }
}

/// A pattern that matches a whole line.
#[derive(Debug, Clone)]
pub struct Pattern {
    text: String,
    regex: Regex,
}

/// Compared by what was written.
impl PartialEq for Pattern {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text
    }
}

/// Why a text is no pattern for answers.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PatternError {
    /// Too long.
    #[error("a pattern is 1 to {LONGEST_PATTERN} characters")]
    Length,
    /// No regular expression, or one that is too large compiled.
    #[error("this is no pattern that can be used: {0}")]
    Unusable(String),
    /// A group that must be there.
    #[error("the pattern must hold the group `(?<{0}>…)`")]
    Missing(&'static str),
    /// A group that means nothing there.
    #[error("the group `{0}` means nothing here")]
    Unknown(String),
}

impl Pattern {
    /// Compiles a pattern with the groups `needed`, and at most `allowed` besides.
    ///
    /// # Errors
    /// Not a regular expression, too large, or other groups.
    pub fn read(text: &str, needed: &[&'static str], allowed: &[&'static str]) -> Result<Self, PatternError> {
        if !(1..=LONGEST_PATTERN).contains(&text.chars().count()) {
            return Err(PatternError::Length);
        }
        // Alone first: what is put around it must not complete it.
        let build = |text: &str| RegexBuilder::new(text).size_limit(PATTERN_SIZE).nest_limit(20).build();
        let regex = build(text)
            .and_then(|_| build(&format!("^(?:{text})$")))
            .map_err(|error| PatternError::Unusable(last_line(&error.to_string())))?;
        let groups: Vec<&str> = regex.capture_names().flatten().collect();
        if let Some(group) = groups.iter().find(|group| !needed.contains(group) && !allowed.contains(group)) {
            return Err(PatternError::Unknown((*group).to_owned()));
        }
        match needed.iter().find(|need| !groups.contains(need)) {
            Some(missing) => Err(PatternError::Missing(missing)),
            None => Ok(Self { text: text.to_owned(), regex }),
        }
    }

    /// As it was written.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The groups of a line that matches.
    #[must_use]
    pub fn of<'l>(&self, line: &'l str) -> Option<Captures<'l>> {
        self.regex.captures(line)
    }

    /// Whether a line matches.
    #[must_use]
    pub fn is(&self, line: &str) -> bool {
        self.regex.is_match(line)
    }
}

/// The last line of a compiler's message: what is wrong, without its picture of where.
fn last_line(text: &str) -> String {
    text.lines().last().unwrap_or_default().trim_start_matches("error: ").to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_plain_numbers_and_names_stand_in_lines() {
        for (value, text) in [
            (Number::Whole(-12), "-12"),
            (Number::Real(10.9), "10.9"),
            (Number::Real(25.0), "25.0"),
            (Number::Real(f64::from(0.000_01_f32)), "0.00001"),
        ] {
            assert_eq!(number(value).as_deref(), Ok(text));
        }
        for value in [Number::Real(f64::NAN), Number::Real(f64::INFINITY), Number::Real(1e30), Number::Real(1e-20)] {
            assert!(number(value).is_err(), "{value:?}");
        }
        for text in ["", "-", ".5", "5.", "1e3", "+5", "inf", "NaN", "0x10", "1.2.3", "1 2", "12345678901"] {
            assert_eq!(number_of(text), None, "{text}");
        }
        for (text, fits) in [("IDLE_US", true), ("a.b-c", true), ("A;B", false), ("A\"", false), ("-A", false)] {
            assert_eq!(name(&SettingName::new(text).unwrap()).is_ok(), fits, "{text}");
        }
    }

    #[test]
    fn places_are_those_of_the_line() {
        let line = Template::read("put {value} into {name}", &[Place::Name, Place::Value]).unwrap();
        let values = [(Place::Name, "IDLE".to_owned()), (Place::Value, "7".to_owned())];
        assert_eq!(line.fill(&values), "put 7 into IDLE");
        for (text, error) in [
            ("put {value}", TemplateError::Missing(Place::Name)),
            ("put {value} {name} {name}", TemplateError::Extra(Place::Name, true)),
            ("put {value} {name} {ms}", TemplateError::Extra(Place::Milliseconds, false)),
            ("put {valeu} {name}", TemplateError::UnknownPlace("valeu".to_owned())),
            ("put {value", TemplateError::UnknownPlace("value".to_owned())),
            ("put {value} {name}\r", TemplateError::Unfit),
        ] {
            assert_eq!(Template::read(text, &[Place::Name, Place::Value]), Err(error), "{text}");
        }
    }

    #[test]
    fn a_pattern_matches_a_whole_line_and_is_bounded() {
        let pattern = Pattern::read("(?<value>[0-9]+)", &["value"], &[]).unwrap();
        assert!(pattern.is("12") && !pattern.is("12 for X") && !pattern.is("x12"));
        assert!(matches!(Pattern::read("a)|(b", &[], &[]), Err(PatternError::Unusable(_))));
        assert!(matches!(Pattern::read("(a{1000}){1000}", &[], &[]), Err(PatternError::Unusable(_))));
        assert_eq!(Pattern::read("(?<valu>a)", &["value"], &[]), Err(PatternError::Unknown("valu".to_owned())));
        assert_eq!(Pattern::read("a", &["value"], &[]), Err(PatternError::Missing("value")));
    }
}
