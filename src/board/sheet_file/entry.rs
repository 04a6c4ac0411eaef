//! One setting of a sheet: its form, range, unit and effect, judged against its word.
//!
//! Must not be here: turning values into board numbers (see `convert`).

use super::super::document::Problem;
use super::super::document::names::{WORD_RULE, is_word};
use super::super::document::reader::{Node, Reader, Table, escaped};
use super::super::effect::Effect;
use super::super::sheet::{Form, Measure, SettingEntry};
use super::super::value::SettingName;
use super::super::vocabulary::{ValueKind, Word};
use crate::language::units::Unit;
use crate::measure::nearest::nearest;
use std::collections::BTreeMap;

/// Least and most of any whole setting: what 32 bits hold, signed or not.
const WHOLE: (i64, i64) = (i32::MIN as i64, u32::MAX as i64);

/// The entry of a word, and the place of its name.
pub fn of_word(r: &mut Reader<'_>, node: &Node<'_>, word: &'static Word) -> Option<(SettingEntry, usize)> {
    let mut t = r.table(node)?;
    let name = t.need(r, "name", "the board's own name of the setting");
    let at = name.as_ref().map_or(node.key_span.start, |n| n.span().start);
    let name = name.and_then(|n| r.setting(&n));
    Some((rest(r, node, t, Some(word), name)?, at))
}

/// The entry of a name that has no word.
pub fn of_raw(r: &mut Reader<'_>, node: &Node<'_>, name: SettingName) -> Option<SettingEntry> {
    let t = r.table(node)?;
    rest(r, node, t, None, Some(name))
}

fn rest(
    r: &mut Reader<'_>,
    node: &Node<'_>,
    mut t: Table<'_>,
    word: Option<&'static Word>,
    name: Option<SettingName>,
) -> Option<SettingEntry> {
    let words = t.take("words");
    let unit = t.take("unit");
    let real = t.take("real");
    let only = t.take("only");
    let (least, most) = (t.take("least"), t.take("most"));
    let restart = t.take("restart").map_or(Some(false), |n| r.boolean(&n));
    let craft_own = t.take("craft-own").map_or(Some(false), |n| r.boolean(&n));
    let effect = effect(r, t.take("effect"), word);
    t.done(r);

    let excluded: &[&Option<Node<'_>>] = match (&words, &only) {
        (Some(_), _) => &[&unit, &real, &only, &least, &most],
        (None, Some(_)) => &[&real, &least, &most],
        _ => &[],
    };
    if let Some(first) = words.as_ref().or(only.as_ref()) {
        for other in excluded.iter().filter_map(|node| node.as_ref()) {
            let problem = Problem::Conflict { key: other.path.clone(), other: first.path.clone() };
            r.note(other.key_span.start, problem);
        }
    }
    let is_real = real.as_ref().map_or(Some(false), |n| r.boolean(n))?;
    let form = if let Some(words) = &words {
        numbers_refused(r, words, word);
        Form::Words(words_of(r, words, word)?)
    } else {
        let unit = unit_of(r, node, unit.as_ref(), word)?;
        match only {
            Some(only) => Form::Whole { unit, only: only_of(r, &only)? },
            None if is_real => Form::Real { unit },
            None => Form::Whole { unit, only: Vec::new() },
        }
    };
    let range = range(r, node, least.as_ref(), most.as_ref(), is_real);
    Some(SettingEntry { name: name?, form, range: range?, restart: restart?, craft_own: craft_own?, effect: effect? })
}

fn effect(r: &mut Reader<'_>, node: Option<Node<'_>>, word: Option<&'static Word>) -> Option<Effect> {
    let least = word.map_or(Effect::Writes, |word| word.effect);
    let Some(node) = node else { return Some(least) };
    let all = Effect::ALL.map(|effect| (effect.word(), effect));
    let found = r.one_of(&node, &all)?;
    if found < least {
        let problem = Problem::EffectLowered { key: node.path.clone(), found: found.word(), least: least.word() };
        r.note(node.span().start, problem);
        return None;
    }
    Some(found)
}

fn numbers_refused(r: &mut Reader<'_>, node: &Node<'_>, word: Option<&'static Word>) {
    if let Some(word) = word
        && !word.kinds.contains(&ValueKind::Word)
    {
        let problem = Problem::WrongForm { word: word.word.to_owned(), must_be: "a number", given: "words" };
        r.note(node.key_span.start, problem);
    }
}

fn words_of(r: &mut Reader<'_>, node: &Node<'_>, word: Option<&'static Word>) -> Option<BTreeMap<String, i64>> {
    let mut words = BTreeMap::new();
    let given = r.table(node)?.rest();
    if !(1..=256).contains(&given.len()) {
        let problem = Problem::WrongLength { key: node.path.clone(), found: given.len(), least: 1, most: 256 };
        r.note(node.span().start, problem);
        return None;
    }
    for (key, value) in given {
        if !is_word(&key) {
            let problem = Problem::UnfitName { what: "a word", found: escaped(&key), rule: WORD_RULE };
            r.note(value.key_span.start, problem);
        } else if let Some(known) = word.and_then(|word| word.closed)
            && !known.contains(&key.as_str())
        {
            let nearest = nearest(&key, known.iter().copied()).map(str::to_owned);
            let known = known.iter().map(|&word| word.to_owned()).collect();
            let problem = Problem::UnknownWord { key: node.path.clone(), found: key.clone(), nearest, known };
            r.note(value.key_span.start, problem);
        }
        let Some(number) = r.whole(&value, WHOLE.0, WHOLE.1) else { continue };
        if words.values().any(|other| *other == number) {
            let problem = Problem::Twice { key: node.path.clone(), found: format!("the number {number}") };
            r.note(value.span().start, problem);
        }
        words.insert(key, number);
    }
    Some(words)
}

fn only_of(r: &mut Reader<'_>, node: &Node<'_>) -> Option<Vec<i64>> {
    let mut only = Vec::new();
    for item in r.list(node, 1, 256)? {
        let Some(number) = r.whole(&item, WHOLE.0, WHOLE.1) else { continue };
        if only.contains(&number) {
            r.note(item.span().start, Problem::Twice { key: node.path.clone(), found: number.to_string() });
        }
        only.push(number);
    }
    Some(only)
}

/// The unit's text, judged: a unit, a step such as `0.01 %`, a bare step, or nothing.
fn unit_of(
    r: &mut Reader<'_>,
    entry: &Node<'_>,
    unit: Option<&Node<'_>>,
    word: Option<&'static Word>,
) -> Option<String> {
    let Some(node) = unit else {
        // A word that is no count needs to say what its number counts.
        if let Some(word) = word
            && !word.kinds.iter().any(|kind| matches!(kind, ValueKind::Count | ValueKind::Ratio))
        {
            let problem = if word.kinds.contains(&ValueKind::Word) {
                Problem::MissingKey { key: format!("{}.words", entry.path), why: "its value is a word" }
            } else {
                Problem::MissingKey { key: format!("{}.unit", entry.path), why: "say what its number counts" }
            };
            r.note(entry.key_span.start, problem);
            return None;
        }
        return Some(String::new());
    };
    let text = r.text(node)?;
    let measure = match Measure::read(text) {
        Ok(measure) => measure,
        Err(cause) => {
            let problem = Problem::BadQuantity { key: node.path.clone(), found: escaped(text), cause };
            r.note(node.span().start, problem);
            return None;
        }
    };
    if measure.step.millionths <= 0 {
        r.note(node.span().start, Problem::ScaleNotPositive { key: node.path.clone() });
        return None;
    }
    if let Some(word) = word {
        let allowed: Vec<Unit> = word.kinds.iter().flat_map(|kind| kind.units()).copied().collect();
        let bare = word.kinds.iter().any(|kind| matches!(kind, ValueKind::Count | ValueKind::Ratio));
        let fits = measure.unit.map_or(bare, |unit| allowed.contains(&unit));
        if !fits {
            let mut allowed: Vec<&str> = allowed.iter().map(|unit| unit.word()).collect();
            if allowed.is_empty() {
                allowed.push("none");
            }
            let problem = Problem::WrongUnit {
                word: word.word.to_owned(),
                found: if text.is_empty() { "bare numbers".to_owned() } else { escaped(text) },
                allowed: allowed.join(", "),
            };
            r.note(node.span().start, problem);
            return None;
        }
    }
    Some(text.trim().to_owned())
}

/// `None`: a fault; `Some(None)`: no range given.
#[expect(clippy::option_option, reason = "a fault and a range left out are different things")]
fn range(
    r: &mut Reader<'_>,
    entry: &Node<'_>,
    least: Option<&Node<'_>>,
    most: Option<&Node<'_>>,
    is_real: bool,
) -> Option<Option<(f64, f64)>> {
    let (low, high) = match (least, most) {
        (None, None) => return Some(None),
        (Some(low), Some(high)) => (low, high),
        (low, _) => {
            let missing = if low.is_some() { "most" } else { "least" };
            let key = format!("{}.{missing}", entry.path);
            r.note(entry.key_span.start, Problem::MissingKey { key, why: "a range has both ends" });
            return None;
        }
    };
    let mut end = |node: &Node<'_>| {
        if !is_real {
            return r.whole(node, WHOLE.0, WHOLE.1).map(|whole| super::super::value::Number::Whole(whole).real());
        }
        let real = r.real(node)?;
        if real.abs() > f64::from(f32::MAX) {
            r.out_of_range(node, &real, &f32::MIN, &f32::MAX);
            return None;
        }
        Some(real)
    };
    let (from, to) = (end(low), end(high));
    let (from, to) = (from?, to?);
    if from >= to {
        let key = entry.path.clone();
        r.note(low.span().start, Problem::UpsideDown { key, low: from.to_string(), high: to.to_string() });
        return None;
    }
    Some(Some((from, to)))
}
