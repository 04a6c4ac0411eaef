//! Strict reading of TOML: every key asked for by name, every value by type, every other key a fault.
//!
//! A reader never stops at a fault: it notes it with its place and gives `None`. A document is good
//! when no fault was noted. Must not be here: which keys a document has.

use super::{DocumentError, DocumentFault, MOST_BYTES, MOST_FAULTS, Problem};
use crate::board::value::SettingName;
use crate::language::quantity::QuantityError;
use crate::language::recipe::line_column;
use crate::language::units::{Pulse, Quantity};
use crate::measure::nearest::nearest;
use std::fmt::Display;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Notes faults while a document is read.
pub struct Reader<'t> {
    file: &'t str,
    text: &'t str,
    faults: Vec<(usize, Problem)>,
}

/// A value with the path of its key.
#[derive(Clone)]
pub struct Node<'d> {
    /// Keys from the top, joined by dots.
    pub path: String,
    /// Bytes of the key in the text.
    pub key_span: Range<usize>,
    value: &'d Spanned<DeValue<'d>>,
}

impl Node<'_> {
    /// Bytes of the value in the text.
    pub fn span(&self) -> Range<usize> {
        self.value.span()
    }

    /// Whether it is a text that begins with a digit, as a quantity does.
    pub fn starts_with_digit(&self) -> bool {
        self.value.get_ref().as_str().is_some_and(|text| text.starts_with(|c: char| c.is_ascii_digit()))
    }

    /// Whether it is a text.
    pub fn is_text(&self) -> bool {
        self.value.get_ref().is_str()
    }
}

/// A table whose keys are being asked for.
pub struct Table<'d> {
    path: String,
    span: Range<usize>,
    left: Vec<Node<'d>>,
    asked: Vec<&'static str>,
}

impl<'d> Table<'d> {
    fn new(path: &str, span: Range<usize>, table: &'d DeTable<'d>) -> Self {
        let join = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
        let mut left: Vec<_> = table
            .iter()
            .map(|(key, value)| Node { path: join(&escaped(key.get_ref())), key_span: key.span(), value })
            .collect();
        left.sort_by_key(|node| node.key_span.start);
        Self { path: path.to_owned(), span, left, asked: Vec::new() }
    }

    /// The path of a key in here.
    pub fn path_of(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }

    /// A key that may be left out.
    pub fn take(&mut self, key: &'static str) -> Option<Node<'d>> {
        self.asked.push(key);
        let path = self.path_of(key);
        let at = self.left.iter().position(|node| node.path == path)?;
        Some(self.left.remove(at))
    }

    /// A key that must be there.
    pub fn need(&mut self, reader: &mut Reader<'_>, key: &'static str, why: &'static str) -> Option<Node<'d>> {
        let found = self.take(key);
        if found.is_none() {
            reader.note(self.span.start, Problem::MissingKey { key: self.path_of(key), why });
        }
        found
    }

    /// A key of earlier documents, and what it said.
    pub fn gone(&mut self, reader: &mut Reader<'_>, key: &str, said: &'static str) {
        let path = self.path_of(key);
        if let Some(at) = self.left.iter().position(|node| node.path == path) {
            let node = self.left.remove(at);
            reader.note(node.key_span.start, Problem::GoneKey { key: path, said });
        }
    }

    /// All that is left, for tables whose keys are names; each key without the path.
    pub fn rest(&mut self) -> Vec<(String, Node<'d>)> {
        let from = if self.path.is_empty() { 0 } else { self.path.len() + 1 };
        std::mem::take(&mut self.left).into_iter().map(|node| (node.path[from..].to_owned(), node)).collect()
    }

    /// Every key that was not asked for is a fault.
    pub fn done(self, reader: &mut Reader<'_>) {
        let Self { path, left, asked, .. } = self;
        let from = if path.is_empty() { 0 } else { path.len() + 1 };
        for node in left.into_iter().take(MOST_FAULTS) {
            let nearest = nearest(&node.path[from..], asked.iter().copied()).map(str::to_owned);
            let known = asked.iter().map(|&key| key.to_owned()).collect();
            reader.note(node.key_span.start, Problem::UnknownKey { key: node.path, nearest, known });
        }
    }
}

fn type_of(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number with decimals",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// Reads a whole document: `body` asks for what it needs from the top table.
///
/// # Errors
/// All faults that were noted, or the first fault of TOML itself.
pub fn document<T>(
    file: &str,
    text: &str,
    body: impl FnOnce(&mut Reader<'_>, Table<'_>) -> Option<T>,
) -> Result<T, DocumentError> {
    let mut reader = Reader { file, text, faults: Vec::new() };
    if text.len() > MOST_BYTES {
        reader.note(0, Problem::TooLarge { bytes: text.len() });
        return Err(reader.into_error());
    }
    let read = match DeTable::parse(text) {
        Ok(table) => body(&mut reader, Table::new("", 0..0, table.get_ref())),
        Err(error) => {
            let said = error.message().lines().collect::<Vec<_>>().join("; ");
            reader.note(error.span().map_or(0, |span| span.start), Problem::NotToml { said });
            None
        }
    };
    match read {
        Some(value) if reader.faults.is_empty() => Ok(value),
        _ => Err(reader.into_error()),
    }
}

impl Reader<'_> {
    /// Notes a fault at a byte of the text.
    pub fn note(&mut self, at: usize, problem: Problem) {
        if self.faults.len() < MOST_FAULTS {
            self.faults.push((at, problem));
        }
    }

    fn into_error(mut self) -> DocumentError {
        self.faults.sort_by_key(|(at, _)| *at);
        let faults = self
            .faults
            .into_iter()
            .map(|(at, problem)| {
                let (line, column) = line_column(self.text, at);
                DocumentFault { file: self.file.to_owned(), line, column, problem }
            })
            .collect();
        DocumentError { faults }
    }

    /// Notes that a value is of another type.
    pub fn wrong_type(&mut self, node: &Node<'_>, expected: &'static str) {
        let problem = Problem::WrongType { key: node.path.clone(), expected, found: type_of(node.value.get_ref()) };
        self.note(node.span().start, problem);
    }

    /// A table.
    pub fn table<'d>(&mut self, node: &Node<'d>) -> Option<Table<'d>> {
        let DeValue::Table(table) = node.value.get_ref() else {
            self.wrong_type(node, "a table");
            return None;
        };
        // A table's own span is its header's in some forms; the key stands where it is opened.
        Some(Table::new(&node.path, node.key_span.clone(), table))
    }

    /// The items of a list, each under the list's own path.
    pub fn list<'d>(&mut self, node: &Node<'d>, least: usize, most: usize) -> Option<Vec<Node<'d>>> {
        let DeValue::Array(array) = node.value.get_ref() else {
            self.wrong_type(node, "a list");
            return None;
        };
        if !(least..=most).contains(&array.len()) {
            let problem = Problem::WrongLength { key: node.path.clone(), found: array.len(), least, most };
            self.note(node.span().start, problem);
            return None;
        }
        let item = |value| Node { path: node.path.clone(), key_span: node.key_span.clone(), value };
        Some(array.iter().map(item).collect())
    }

    /// A text.
    pub fn text<'d>(&mut self, node: &Node<'d>) -> Option<&'d str> {
        let text = node.value.get_ref().as_str();
        if text.is_none() {
            self.wrong_type(node, "a text");
        }
        text
    }

    /// A text that obeys a rule for names.
    pub fn name(
        &mut self,
        node: &Node<'_>,
        what: &'static str,
        fits: fn(&str) -> bool,
        rule: &'static str,
    ) -> Option<String> {
        let text = self.text(node)?;
        if !fits(text) {
            self.note(node.span().start, Problem::UnfitName { what, found: escaped(text), rule });
            return None;
        }
        Some(text.to_owned())
    }

    /// One of some words, each with what it means.
    pub fn one_of<T: Copy>(&mut self, node: &Node<'_>, words: &[(&str, T)]) -> Option<T> {
        let text = self.text(node)?;
        let found = words.iter().find(|(word, _)| *word == text).map(|(_, meaning)| *meaning);
        if found.is_none() {
            let nearest = nearest(text, words.iter().map(|(word, _)| *word)).map(str::to_owned);
            let known = words.iter().map(|(word, _)| (*word).to_owned()).collect();
            let problem = Problem::UnknownWord { key: node.path.clone(), found: escaped(text), nearest, known };
            self.note(node.span().start, problem);
        }
        found
    }

    /// True or false.
    pub fn boolean(&mut self, node: &Node<'_>) -> Option<bool> {
        let found = node.value.get_ref().as_bool();
        if found.is_none() {
            self.wrong_type(node, "true or false");
        }
        found
    }

    /// A whole number within limits.
    pub fn whole(&mut self, node: &Node<'_>, least: i64, most: i64) -> Option<i64> {
        let DeValue::Integer(integer) = node.value.get_ref() else {
            self.wrong_type(node, "a whole number");
            return None;
        };
        let found = i64::from_str_radix(integer.as_str(), integer.radix()).ok();
        let found = found.filter(|number| (least..=most).contains(number));
        if found.is_none() {
            self.out_of_range(node, &integer.as_str(), &least, &most);
        }
        found
    }

    /// Notes that a value is outside its limits.
    pub fn out_of_range(&mut self, node: &Node<'_>, found: &dyn Display, least: &dyn Display, most: &dyn Display) {
        let (found, least, most) = (found.to_string(), least.to_string(), most.to_string());
        self.note(node.span().start, Problem::OutOfRange { key: node.path.clone(), found, least, most });
    }

    /// A finite number, whole or with decimals.
    pub fn real(&mut self, node: &Node<'_>) -> Option<f64> {
        let parsed: Option<f64> = match node.value.get_ref() {
            DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str().parse().ok(),
            DeValue::Float(float) => float.as_str().parse().ok(),
            _ => {
                self.wrong_type(node, "a number");
                return None;
            }
        };
        let finite = parsed.filter(|number| number.is_finite());
        if finite.is_none() {
            self.note(node.span().start, Problem::NotFinite { key: node.path.clone() });
        }
        finite
    }

    /// A quantity with its unit, in a text.
    pub fn quantity<T>(
        &mut self,
        node: &Node<'_>,
        turn: impl FnOnce(Quantity) -> Result<T, QuantityError>,
    ) -> Option<T> {
        let text = self.text(node)?;
        match text.parse::<Quantity>().and_then(turn) {
            Ok(value) => Some(value),
            Err(cause) => {
                let problem = Problem::BadQuantity { key: node.path.clone(), found: escaped(text), cause };
                self.note(node.span().start, problem);
                None
            }
        }
    }

    /// A pulse width: a bare number of microseconds, or a text with its unit.
    pub fn pulse(&mut self, node: &Node<'_>, least: i32, most: i32) -> Option<Pulse> {
        if !node.is_text() {
            let number = self.whole(node, least.into(), most.into())?;
            return i32::try_from(number).ok().map(Pulse);
        }
        let pulse = self.quantity(node, Quantity::pulse)?;
        if !(least..=most).contains(&pulse.0) {
            self.out_of_range(node, &pulse, &Pulse(least), &Pulse(most));
            return None;
        }
        Some(pulse)
    }

    /// A board's own name.
    pub fn setting(&mut self, node: &Node<'_>) -> Option<SettingName> {
        let text = self.text(node)?;
        let name = SettingName::new(text);
        if name.is_none() {
            self.note(node.span().start, Problem::NotAName { found: escaped(text) });
        }
        name
    }
}

/// Text for a message: whatever a terminal would not show as itself stands as an escape.
pub fn escaped(text: &str) -> String {
    let shown = |c: char| c.is_ascii_graphic() || c == ' ' || c.is_alphanumeric();
    let escape = |c: char| if shown(c) { c.to_string() } else { c.escape_unicode().to_string() };
    text.chars().take(64).map(escape).collect()
}
