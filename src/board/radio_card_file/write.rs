//! Writing a radio card into its text: only what differs is touched, comments and order stay.
//!
//! An entry is written whole: what it does not know any more is taken out of it. A switch or stick that the
//! card does not have stays in the text as it is. Must not be here: the file itself.

use super::read;
use crate::board::document::DocumentError;
use crate::board::radio_card::{RadioCard, StickEntry, SwitchEntry};
use crate::language::recipe::{OnLoss, Stick};
use crate::language::units::Pulse;
use toml_edit::{Array, DocumentMut, InlineTable, Item, RawString, Table, Value};

const HEADER: &str = "# Radio card, written by the tool. Comments of your own stay when it is written again.\n\n";

/// The text of a new card.
#[must_use]
pub fn create(card: &RadioCard) -> String {
    let mut document = DocumentMut::new();
    document.insert("edition", Item::Value(1.into()));
    document.insert("radio", Item::Value(card.radio.as_str().into()));
    put(document.as_item_mut(), &RadioCard { radio: card.radio.clone(), ..RadioCard::default() }, card);
    format!("{HEADER}{document}")
}

/// The text of a card with everything in it that `card` says, changed or new.
///
/// # Errors
/// Everything that is wrong with the text as it stands.
pub fn update(origin: &str, text: &str, card: &RadioCard) -> Result<String, DocumentError> {
    let old = read(origin, text)?;
    // What reads strictly is TOML; should the two readers ever differ, the text stays as it is.
    let Ok(mut document) = text.parse::<DocumentMut>() else { return Ok(text.to_owned()) };
    put(document.as_item_mut(), &old, card);
    let written = document.to_string();
    let crlf = text.contains("\r\n");
    Ok(if crlf { written.replace("\r\n", "\n").replace('\n', "\r\n") } else { written })
}

fn put(document: &mut Item, old: &RadioCard, card: &RadioCard) {
    if old.radio != card.radio {
        set(document, "radio", card.radio.as_str());
    }
    if old.is_virtual != card.is_virtual {
        set(document, "virtual", card.is_virtual);
    }
    for which in Stick::ALL {
        let was = old.sticks.get(&which);
        if let Some(entry) = card.sticks.get(&which).filter(|entry| was != Some(entry)) {
            put_stick(table_in(table_in(document, "sticks", Form::Headed), which.word(), Form::Inline), was, *entry);
        }
    }
    for (switch, entry) in &card.switches {
        let was = old.switches.get(switch);
        if was != Some(entry) {
            put_switch(table_in(table_in(document, "switches", Form::Implied), &switch.0, Form::Headed), was, entry);
        }
    }
}

/// How a table that is not there yet is written.
#[derive(Clone, Copy)]
enum Form {
    /// With a header of its own.
    Headed,
    /// Only as part of its children's headers.
    Implied,
    /// Between braces.
    Inline,
}

/// The table of a key, made where it is not there; inside braces everything is between braces.
fn table_in<'t>(parent: &'t mut Item, key: &str, form: Form) -> &'t mut Item {
    if parent.get(key).is_none() {
        let braces = matches!(form, Form::Inline) || parent.is_inline_table();
        if braces {
            insert(parent, key, Value::InlineTable(InlineTable::new()));
        } else if let Some(parent) = parent.as_table_mut() {
            let mut table = Table::new();
            table.set_implicit(matches!(form, Form::Implied));
            parent.insert(key, Item::Table(table));
        }
    }
    &mut parent[key]
}

fn put_stick(table: &mut Item, was: Option<&StickEntry>, entry: StickEntry) {
    if was.is_none_or(|was| was.channel != entry.channel) {
        set(table, "channel", i64::from(entry.channel));
    }
    if was.is_none_or(|was| was.reversed != entry.reversed) {
        set(table, "reversed", entry.reversed);
    }
}

fn put_switch(table: &mut Item, was: Option<&SwitchEntry>, entry: &SwitchEntry) {
    if was.is_none_or(|was| was.channel != entry.channel) {
        set(table, "channel", i64::from(entry.channel));
    }
    if was.is_none_or(|was| was.rests != entry.rests) {
        set_rests(table, was.map(|was| was.rests.as_slice()), &entry.rests);
    }
    if was.and_then(|was| was.noise) != entry.noise {
        set_or_remove(table, "noise", entry.noise.map(Value::from));
    }
    if was.is_some_and(|was| was.momentary) != entry.momentary {
        set_or_remove(table, "momentary", entry.momentary.then(|| true.into()));
    }
    if was.and_then(|was| was.on_loss) != entry.on_loss {
        let value = entry.on_loss.map(|on_loss| match on_loss {
            OnLoss::Rests(pulse) => i64::from(pulse.0).into(),
            OnLoss::Holds => "hold".into(),
            OnLoss::Flagged => "flagged".into(),
        });
        set_or_remove(table, "on-link-loss", value);
    }
}

fn set_or_remove(table: &mut Item, key: &str, value: Option<Value>) {
    match (value, table.as_table_like_mut()) {
        (Some(value), _) => set(table, key, value),
        (None, Some(table)) => {
            table.remove(key);
        }
        (None, None) => {}
    }
}

/// Sets a value and keeps what stands before and after it, its comment above all.
fn set(table: &mut Item, key: &str, value: impl Into<Value>) {
    let mut value = value.into();
    if let Some(Item::Value(old)) = table.get_mut(key) {
        *value.decor_mut() = old.decor().clone();
        *old = value;
    } else {
        insert(table, key, value);
    }
}

/// Puts a new value behind the others; between braces the space before the closing one stays there.
fn insert(table: &mut Item, key: &str, mut value: Value) {
    if let Some(braces) = table.as_inline_table_mut() {
        let empty = braces.is_empty();
        let last = braces.iter_mut().last().map(|(_, last)| last.decor_mut());
        let end = last.map(|decor| {
            let end = decor.suffix().cloned();
            decor.set_suffix("");
            end
        });
        value.decor_mut().set_prefix(" ");
        value.decor_mut().set_suffix(if empty { " ".into() } else { end.flatten().unwrap_or_default() });
    }
    if let Some(table) = table.as_table_like_mut() {
        table.insert(key, Item::Value(value));
    }
}

/// Sets rests one by one, so that comments between them stay, those of dropped positions too.
fn set_rests(table: &mut Item, was: Option<&[Pulse]>, rests: &[Pulse]) {
    let (Some(was), Some(array)) = (was, table.get_mut("rests").and_then(Item::as_array_mut)) else {
        let array: Array = rests.iter().map(|rest| i64::from(rest.0)).collect();
        return set(table, "rests", Value::Array(array));
    };
    for (index, (was, rest)) in was.iter().zip(rests).enumerate() {
        if was != rest && index < array.len() {
            // `Array::replace` keeps what stands around the item.
            array.replace(index, i64::from(rest.0));
        }
    }
    while array.len() > rests.len() {
        let dropped = array.remove(array.len() - 1);
        let around = format!("{}{}", around(dropped.decor().prefix()), around(dropped.decor().suffix()));
        if around.contains('#') {
            array.set_trailing(format!("{around}{}", around_end(array)));
        }
    }
    for rest in rests.iter().skip(array.len()) {
        push(array, *rest);
    }
}

fn around(raw: Option<&RawString>) -> &str {
    raw.and_then(RawString::as_str).unwrap_or_default()
}

fn around_end(array: &Array) -> String {
    array.trailing().as_str().unwrap_or_default().to_owned()
}

/// Adds an item in the way of the last one: on a line of its own where that has one.
fn push(array: &mut Array, rest: Pulse) {
    let last = array.iter().last().map(|last| around(last.decor().prefix()).to_owned()).unwrap_or_default();
    let indent = last.rfind('\n').map(|at| last[at..].to_owned());
    let mut value = Value::from(i64::from(rest.0));
    match indent {
        Some(indent) => {
            // What follows the last comma belongs to the item before it.
            let end = around_end(array);
            value.decor_mut().set_prefix(format!("{}{indent}", end.trim_end()));
            array.set_trailing("\n");
        }
        None => value.decor_mut().set_prefix(" "),
    }
    array.push_formatted(value);
}
