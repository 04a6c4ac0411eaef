//! Radio cards as files: read strictly, written back with the user's comments and order kept.
//!
//! Must not be here: finding switches, and where cards are kept.

mod write;

pub use write::{create, update};

use super::document::load::{self, LoadError};
use super::document::names::{SWITCH_RULE, TITLE_RULE, is_switch, is_title};
use super::document::reader::{Node, Reader, Table, document, escaped};
use super::document::{DocumentError, Problem};
use super::radio_card::{RadioCard, StickEntry, SwitchEntry};
use super::sheet_file::edition;
use crate::language::recipe::{OnLoss, Stick, Switch};
use crate::language::units::Pulse;
use crate::measure::frame::CHANNEL_NUMBERS;
use std::collections::BTreeMap;
use std::path::Path;

/// Least and most of any pulse on a card, in µs.
pub const PULSES: (i32, i32) = (800, 2200);
/// Noise must be below this, in µs.
pub const NOISE_BELOW: f64 = 100.0;
/// Least and most positions of a switch.
pub const POSITIONS: (usize, usize) = (2, 6);

/// Loads a card from a file.
///
/// # Errors
/// A file that cannot be read, or everything that is wrong with the card.
pub fn load(path: &Path) -> Result<RadioCard, LoadError> {
    Ok(read(&path.display().to_string(), &load::text(path)?)?)
}

/// Reads a card; `origin` is its name in messages.
///
/// # Errors
/// Everything that is wrong with it, each with its place.
pub fn read(origin: &str, text: &str) -> Result<RadioCard, DocumentError> {
    document(origin, text, card)
}

fn card(r: &mut Reader<'_>, mut top: Table<'_>) -> Option<RadioCard> {
    edition(r, &mut top);
    let radio = top.need(r, "radio", "the radio's name, as its owner calls it");
    let radio = radio.and_then(|n| r.name(&n, "a radio's name", is_title, TITLE_RULE));
    let is_virtual = top.take("virtual").map_or(Some(false), |n| r.boolean(&n));
    let mut channels = BTreeMap::new();
    let mut sticks = BTreeMap::new();
    if let Some(mut table) = top.take("sticks").and_then(|n| r.table(&n)) {
        for which in Stick::ALL {
            let Some(node) = table.take(which.word()) else { continue };
            if let Some(entry) = stick(r, &node, &mut channels) {
                sticks.insert(which, entry);
            }
        }
        table.done(r);
    }
    let mut switches = BTreeMap::new();
    if let Some(mut table) = top.take("switches").and_then(|n| r.table(&n)) {
        for (key, node) in table.rest() {
            if !is_switch(&key) {
                let problem = Problem::UnfitName { what: "a switch's name", found: escaped(&key), rule: SWITCH_RULE };
                r.note(node.key_span.start, problem);
            } else if let Some(entry) = switch(r, &node, &mut channels) {
                switches.insert(Switch(key), entry);
            }
        }
    }
    top.done(r);
    Some(RadioCard { radio: radio?, is_virtual: is_virtual?, switches, sticks })
}

/// Who drives which channel, to find one channel under two names.
type Channels = BTreeMap<u32, String>;

fn channel(r: &mut Reader<'_>, t: &mut Table<'_>, who: &str, channels: &mut Channels) -> Option<u32> {
    let node = t.need(r, "channel", "the receiver's channel, from 1")?;
    let channel = u32::try_from(r.whole(&node, *CHANNEL_NUMBERS.start(), *CHANNEL_NUMBERS.end())?).ok()?;
    if let Some(first) = channels.get(&channel) {
        let problem = Problem::ChannelTwice { channel, first: first.clone(), second: who.to_owned() };
        r.note(node.span().start, problem);
    } else {
        channels.insert(channel, who.to_owned());
    }
    Some(channel)
}

fn stick(r: &mut Reader<'_>, node: &Node<'_>, channels: &mut Channels) -> Option<StickEntry> {
    let mut t = r.table(node)?;
    let channel = channel(r, &mut t, &node.path, channels);
    let reversed = t.take("reversed").map_or(Some(false), |n| r.boolean(&n));
    t.done(r);
    Some(StickEntry { channel: channel?, reversed: reversed? })
}

fn switch(r: &mut Reader<'_>, node: &Node<'_>, channels: &mut Channels) -> Option<SwitchEntry> {
    let mut t = r.table(node)?;
    let channel = channel(r, &mut t, &node.path, channels);
    let rests = t.need(r, "rests", "the rest pulse of each position, position 0 first");
    let rests = rests.and_then(|n| rests_of(r, &n));
    let noise = t.take("noise").map(|n| noise_of(r, &n));
    let momentary = t.take("momentary").map_or(Some(false), |n| r.boolean(&n));
    let on_loss = t.take("on-link-loss").map(|n| on_loss_of(r, &n));
    t.done(r);
    Some(SwitchEntry {
        channel: channel?,
        rests: rests?,
        noise: noise.flatten(),
        momentary: momentary?,
        on_loss: on_loss.flatten(),
    })
}

fn rests_of(r: &mut Reader<'_>, node: &Node<'_>) -> Option<Vec<Pulse>> {
    let items = r.list(node, POSITIONS.0, POSITIONS.1)?;
    let rests: Vec<_> = items.iter().filter_map(|item| r.pulse(item, PULSES.0, PULSES.1)).collect();
    if rests.len() < items.len() {
        return None;
    }
    let rises = rests.is_sorted_by(|a, b| a < b);
    let falls = rests.is_sorted_by(|a, b| a > b);
    if !rises && !falls {
        r.note(node.span().start, Problem::NotMonotonic { key: node.path.clone() });
        return None;
    }
    Some(rests)
}

fn noise_of(r: &mut Reader<'_>, node: &Node<'_>) -> Option<f64> {
    let noise = r.real(node)?;
    if !(0.0..NOISE_BELOW).contains(&noise) {
        r.out_of_range(node, &noise, &0, &"below 100");
        return None;
    }
    Some(noise)
}

fn on_loss_of(r: &mut Reader<'_>, node: &Node<'_>) -> Option<OnLoss> {
    let words = [("hold", OnLoss::Holds), ("flagged", OnLoss::Flagged)];
    if node.is_text() && !node.starts_with_digit() {
        return r.one_of(node, &words);
    }
    r.pulse(node, PULSES.0, PULSES.1).map(OnLoss::Rests)
}
