//! Fields of payloads: where each stands, how it is written, in what unit; rows of settings.
//!
//! Promises: no field stands past the end of its payload or on another's bits, and a unit is of the kind that its word
//! has. Must not be here: what is done with a field's number.

use super::super::super::document::Problem;
use super::super::super::document::reader::{Node, Reader, Table, escaped};
use super::super::super::packets::field::{Count, Field, FieldType};
use super::super::super::packets::framing::{Framing, LONGEST};
use super::super::super::sheet::Measure;
use crate::language::units::{Quantity, Unit};
use std::collections::BTreeMap;

/// A word that a layout may have, and the unit that its number has where none is said.
#[derive(Debug, Clone, Copy)]
pub(super) struct Word {
    pub(super) name: &'static str,
    pub(super) needed: bool,
    /// Text may stand there.
    text: bool,
    /// Several may stand there.
    many: bool,
    unit: Option<Unit>,
}

const fn number(name: &'static str, needed: bool, unit: Option<Unit>) -> Word {
    Word { name, needed, text: false, many: false, unit }
}

pub(super) const ID: Word = Word { name: "id", needed: true, text: true, many: true, unit: None };
pub(super) const KIND: Word = Word { name: "kind", needed: false, text: true, many: true, unit: None };
pub(super) const FIRMWARE: Word = Word { name: "firmware", needed: false, text: true, many: true, unit: None };
pub(super) const ARMED: Word = number("armed", true, None);
pub(super) const PULSES: Word = Word { name: "pulses", needed: true, text: false, many: true, unit: Some(Unit::Us) };
pub(super) const SIGNAL: Word = number("signal", false, None);
pub(super) const ROLL: Word = number("roll", true, Some(Unit::Deg));
pub(super) const PITCH: Word = number("pitch", true, Some(Unit::Deg));
pub(super) const YAW: Word = number("yaw", false, Some(Unit::Deg));
pub(super) const VOLTS: Word = number("volts", true, Some(Unit::V));
pub(super) const AMPS: Word = number("amps", false, Some(Unit::A));
pub(super) const RPM: Word = Word { name: "rpm", needed: true, text: false, many: true, unit: Some(Unit::Rpm) };
pub(super) const REFUSED: Word = number("refused", false, None);
pub(super) const WHY: Word = Word { name: "why", needed: false, text: true, many: true, unit: None };
pub(super) const ASKED: Word = number("asked", false, None);
pub(super) const TEXT: Word = Word { name: "text", needed: true, text: true, many: true, unit: None };
pub(super) const MOTOR: Word = number("motor", true, None);
pub(super) const PULSE: Word = number("pulse", true, Some(Unit::Us));
pub(super) const MS: Word = number("ms", true, Some(Unit::Ms));

/// A field by its name, with its place in the document.
pub(super) type Named = (String, Field, usize);

/// The fields of a table by the words that it was read with.
pub(super) fn by_word(words: &'static [Word], read: Vec<Named>) -> BTreeMap<&'static str, Field> {
    let word = |name: &str| words.iter().map(|word| word.name).find(|word| *word == name);
    read.into_iter().filter_map(|(name, field, _)| Some((word(&name)?, field))).collect()
}

/// What a payload's layout is made of.
pub(super) enum Layout {
    /// A table of these words.
    Words(&'static [Word]),
    /// Fields that were read already.
    Given(Vec<Named>),
}

/// Most rows of a packet, and most of one field.
const MOST: i64 = 256;
const ROW: &str = "{row}";

/// Something that cannot be, with what to do about it.
pub(super) fn bad(key: &str, cause: impl Into<String>, hint: impl Into<String>) -> Problem {
    Problem::BadPacket { key: key.to_owned(), cause: cause.into(), hint: hint.into() }
}

/// A table of fields with these words.
pub(super) fn table(r: &mut Reader<'_>, node: &Node<'_>, words: &'static [Word]) -> Option<Vec<Named>> {
    let mut t = r.table(node)?;
    let mut read = Some(Vec::new());
    for word in words {
        let found = if word.needed { t.need(r, word.name, "") } else { t.take(word.name) };
        let missing = found.is_none() && word.needed;
        match (found.map(|n| (field(r, &n, Some(word)), n.key_span.start)), &mut read) {
            (Some((Some(field), at)), Some(read)) => read.push((word.name.to_owned(), field, at)),
            (None, _) if !missing => {}
            _ => read = None,
        }
    }
    t.done(r);
    read
}

/// The settings of a packet; with `rows` beside them, each is there once a row, its place counted from the row's.
pub(super) fn settings(r: &mut Reader<'_>, node: &Node<'_>, beside: &mut Table<'_>) -> Option<Vec<Named>> {
    let rows = match beside.take("rows") {
        Some(n) => Some((rows(r, &n)?, n)),
        None => None,
    };
    let mut t = r.table(node)?;
    let mut read = Some(Vec::new());
    for (name, n) in t.rest() {
        let at = n.key_span.start;
        let Some(field) = field(r, &n, None) else {
            read = None;
            continue;
        };
        let Some(read) = &mut read else { continue };
        let Some(((count, first, size), rows_at)) = &rows else {
            read.push((name, field, at));
            continue;
        };
        if name.matches(ROW).count() != 1 {
            r.note(at, Problem::NoRowMark { key: node.path.clone(), found: escaped(&name) });
            continue;
        }
        if field.end() > *size {
            let cause = format!("{name} ends at byte {} of its row, but a row has {size}", field.end());
            r.note(at, bad(&rows_at.path, cause, "make the row larger, or move the field"));
            continue;
        }
        for row in 0..*count {
            let place = Field { at: first + row * size + field.at, ..field.clone() };
            read.push((name.replace(ROW, &(row + 1).to_string()), place, at));
        }
    }
    read
}

/// How many rows, where the first begins, and how many bytes each has.
fn rows(r: &mut Reader<'_>, node: &Node<'_>) -> Option<(usize, usize, usize)> {
    let mut t = r.table(node)?;
    let most = i64::try_from(LONGEST).unwrap_or(i64::MAX);
    let count = t.need(r, "count", "how many rows the packet holds").and_then(|n| r.whole(&n, 1, MOST));
    let at = t.take("at").map_or(Some(0), |n| r.whole(&n, 0, most));
    let size = t.need(r, "size", "how many bytes a row has").and_then(|n| r.whole(&n, 1, most));
    t.done(r);
    let size_of = |number: i64| usize::try_from(number).ok();
    Some((size_of(count?)?, size_of(at?)?, size_of(size?)?))
}

fn field(r: &mut Reader<'_>, node: &Node<'_>, word: Option<&Word>) -> Option<Field> {
    let mut t = r.table(node)?;
    let most = i64::try_from(LONGEST).unwrap_or(i64::MAX);
    let at = t.need(r, "at", "its first byte, counted from 0").and_then(|n| r.whole(&n, 0, most));
    let kind_at = t.need(r, "type", "how it is written: u8, u16, u24, u32, i8, i16, i32, f32");
    let kind = kind_at.as_ref().and_then(|n| r.one_of(n, &FieldType::ALL));
    let is_text = matches!(kind, Some(FieldType::Text | FieldType::Hex));
    if let (Some(n), true) = (&kind_at, is_text && !word.is_some_and(|word| word.text)) {
        r.note(n.span().start, bad(&node.path, "a number stands here, and no text", "give the type of a number"));
        return None;
    }
    let lowest = t.take("bit").map(|n| (r.whole(&n, 0, 31), n));
    let many_at = t.take("bits");
    if let (Some(n), None) = (&many_at, &lowest) {
        r.note(
            n.key_span.start,
            bad(&node.path, "`bits` says how many, and nothing says which", "add `bit`, the lowest"),
        );
        return None;
    }
    let many = many_at.map_or(Some(1), |n| r.whole(&n, 1, 31));
    let part = match (lowest, many, kind) {
        (Some((lowest, n)), Some(many), Some(kind)) => {
            let lowest = lowest?;
            if !kind.is_whole() || lowest + many > 8 * i64::try_from(kind.size()).ok()? {
                let cause = format!("its bits end at bit {}, which its type does not have", lowest + many - 1);
                r.note(n.span().start, bad(&node.path, cause, "bits are counted from 0, the lowest"));
                return None;
            }
            Some((u32::try_from(lowest).ok()?, u32::try_from(many).ok()?))
        }
        _ => None,
    };
    let (count, every) =
        if word.is_some_and(|word| word.many) { count(r, &mut t, kind)? } else { (Count::Fixed(1), kind?.size()) };
    // What a setting's number means stands under [settings], with its limits.
    let (plus, absent) = match word {
        Some(_) => (
            t.take("plus").map_or(Some(0.0), |n| r.real(&n)),
            t.take("none").map(|n| r.whole(&n, i32::MIN.into(), u32::MAX.into())),
        ),
        None => (Some(0.0), None),
    };
    let scale = match word {
        Some(word) if !is_text => scale(r, &mut t, word)?,
        _ => 1.0,
    };
    t.done(r);
    let absent = match absent {
        Some(absent) => Some(absent?),
        None => None,
    };
    Some(Field {
        at: usize::try_from(at?).ok()?,
        kind: kind?,
        bits: part,
        count,
        every,
        plus: plus?,
        scale,
        none: absent,
    })
}

/// How many there are, and from one to the next.
fn count(r: &mut Reader<'_>, t: &mut Table<'_>, kind: Option<FieldType>) -> Option<(Count, usize)> {
    let count = t.take("count").map_or(Some(Count::Fixed(1)), |n| {
        if n.is_text() {
            return r.one_of(&n, &[("rest", Count::Rest)]);
        }
        r.whole(&n, 1, MOST).and_then(|count| usize::try_from(count).ok()).map(Count::Fixed)
    });
    let size = kind?.size();
    let every = t.take("every").map_or(Some(size), |n| {
        let every = r.whole(&n, i64::try_from(size).ok()?, MOST)?;
        usize::try_from(every).ok()
    });
    Some((count?, every?))
}

/// What one step is, in the smallest unit of its family: from `unit`, such as "0.01 V", else the word's own.
fn scale(r: &mut Reader<'_>, t: &mut Table<'_>, word: &Word) -> Option<f64> {
    const ONE: f64 = 1_000_000.0;
    let own = Quantity { number: Measure::read("").ok()?.step, unit: word.unit }.base();
    #[expect(clippy::cast_precision_loss, reason = "a step of a field has few digits")]
    let own_scale = own.1 as f64 / ONE;
    let Some(node) = t.take("unit") else { return Some(own_scale) };
    let text = r.text(&node)?;
    let measure = match Measure::read(text) {
        Ok(measure) => measure,
        Err(cause) => {
            r.note(node.span().start, Problem::BadQuantity { key: node.path.clone(), found: escaped(text), cause });
            return None;
        }
    };
    let (family, step) = Quantity { number: measure.step, unit: measure.unit }.base();
    #[expect(clippy::cast_precision_loss, reason = "a step of a field has few digits")]
    let step = step as f64 / ONE;
    if step <= 0.0 {
        r.note(node.span().start, Problem::ScaleNotPositive { key: node.path.clone() });
        return None;
    }
    if measure.unit.is_none() {
        return Some(step * own_scale);
    }
    if family != own.0 {
        let allowed = own.0.map_or("none: a bare number", Unit::word).to_owned();
        let (word, found) = (word.name.to_owned(), escaped(text));
        r.note(node.span().start, Problem::WrongUnit { word, found, allowed });
        return None;
    }
    Some(step)
}

/// Whether every field lies inside of its payload, and on bits of its own.
pub(super) fn placed(r: &mut Reader<'_>, fields: &[Named], length: usize, framing: &Framing, at: &Node<'_>) -> bool {
    let mut good = true;
    let mut taken: Vec<(&str, Vec<u8>)> = Vec::new();
    for (name, field, place) in fields {
        if field.end() > length {
            let cause = format!("{name} ends at byte {}, but the payload has {length}", field.end());
            r.note(*place, bad(&at.path, cause, "bytes are counted from 0; make the length larger, or move the field"));
            good = false;
            continue;
        }
        let mask = field.mask(length, framing.order);
        let over = |other: &Vec<u8>| other.iter().zip(&mask).any(|(one, other)| one & other != 0);
        if let Some((other, _)) = taken.iter().find(|(_, other)| over(other)) {
            let cause = format!("{name} and {other} stand on the same bits");
            r.note(
                *place,
                bad(&at.path, cause, "each byte belongs to one field; parts of one are told apart by `bit` and `bits`"),
            );
            good = false;
        }
        taken.push((name, mask));
    }
    good
}
