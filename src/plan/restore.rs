//! The plan that brings a copy of all settings back: the same steps, guards and order as a recipe's.
//!
//! Promises: the battery is out; no order of writes opens a band before its last write; what belongs
//! to a single craft is never carried to another. Must not be here: choosing a snapshot.

use super::step::{Act, Change, Guard, Plan, Step, Write};
use crate::board::convert;
use crate::board::effect::Effect;
use crate::board::sheet::{Binding, Entry, Form, Settings, Sheet, Way};
use crate::board::signals::Identity;
use crate::board::value::{Number, SettingName};
use crate::language::span::Place;
use crate::record::Snapshot;
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// Why a snapshot cannot be brought back here.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RestoreError {
    /// Another kind of board.
    #[error(
        "the snapshot is of a board of the kind \"{was}\", and this is one of the kind \"{now}\": nothing is brought over"
    )]
    Kind {
        /// In the snapshot.
        was: String,
        /// On the wire.
        now: String,
    },
    /// A virtual board's settings on a real one, or the other way round.
    #[error("a snapshot of a virtual board is not brought to a real one, nor the other way round")]
    Virtual,
}

/// Makes the plan.
///
/// # Errors
/// The snapshot is not for this board.
pub fn plan(snapshot: &Snapshot, sheet: &Sheet, identity: &Identity, now: &Settings) -> Result<Plan, RestoreError> {
    if snapshot.board.is_virtual() != identity.is_virtual() {
        return Err(RestoreError::Virtual);
    }
    if snapshot.board.kind != identity.kind {
        return Err(RestoreError::Kind { was: snapshot.board.kind.clone(), now: identity.kind.clone() });
    }
    let same_craft = snapshot.board.id == identity.id;
    let mut remarks = Vec::new();
    let mut wanted = Settings::new();
    for (name, value) in &snapshot.settings {
        let Some(held) = now.get(name) else {
            remarks.push(format!("{name} is in the snapshot and not on this board: left out"));
            continue;
        };
        if held.same(*value) {
            continue;
        }
        if !same_craft && entry(sheet, name).is_some_and(|entry| entry.craft_own) {
            remarks.push(format!("{name} belongs to the single craft: not carried over"));
            continue;
        }
        wanted.insert(name.clone(), *value);
    }
    let place = Place { file: snapshot.taken.clone(), line: 1, column: 1, end_line: 1, end_column: 1 };
    let writes: Vec<Write> =
        ordered(&sheet.binding, &wanted, now).into_iter().map(|(name, to)| write(sheet, name, to)).collect();
    let changes = wanted
        .iter()
        .filter_map(|(name, to)| now.get(name).map(|from| change(sheet, name, *from, *to, &place)))
        .collect();
    Ok(Plan {
        title: format!("settings of {}", snapshot.taken),
        board: sheet.board.clone(),
        identity: identity.clone(),
        steps: steps(writes, &place),
        changes,
        unknown: Vec::new(),
        fingerprint: fingerprint(snapshot, sheet, identity, now),
        remarks,
    })
}

fn steps(writes: Vec<Write>, at: &Place) -> Vec<Step> {
    if writes.is_empty() {
        return Vec::new();
    }
    let expect = writes.clone();
    let still = vec![Guard::BatteryOut, Guard::Disarmed, Guard::EncodingProved];
    [
        (Act::BatteryOut, Effect::Asks, Vec::new()),
        (Act::Write(writes), Effect::Writes, still.clone()),
        (Act::Store, Effect::Stores, still.clone()),
        (Act::Restart { expect }, Effect::Restarts, still),
    ]
    .into_iter()
    .enumerate()
    .map(|(index, (act, effect, guards))| Step { number: index + 1, statement: 0, act, effect, guards, at: at.clone() })
    .collect()
}

fn entry<'s>(sheet: &'s Sheet, name: &SettingName) -> Option<&'s Entry> {
    sheet.word_of(name).map(|(_, entry)| entry).or_else(|| sheet.raw.get(name))
}

fn write(sheet: &Sheet, name: SettingName, to: Number) -> Write {
    let known = entry(sheet, &name);
    Write {
        setting: sheet.word_of(&name).map_or_else(|| name.to_string(), |(word, _)| word.to_owned()),
        shown: known.map_or_else(|| to.to_string(), |entry| convert::show(entry, to)),
        restart: known.is_some_and(|entry| entry.restart),
        name,
        to,
    }
}

fn change(sheet: &Sheet, name: &SettingName, from: Number, to: Number, at: &Place) -> Change {
    let known = entry(sheet, name);
    let show = |number: Number| known.map_or_else(|| number.to_string(), |entry| convert::show(entry, number));
    let unit = match known.map(|entry| &entry.form) {
        Some(Form::Whole { unit, .. } | Form::Real { unit, .. }) => unit.clone(),
        _ => String::new(),
    };
    Change {
        setting: sheet.word_of(name).map_or_else(|| name.to_string(), |(word, _)| word.to_owned()),
        on_board: name.clone(),
        from,
        to,
        shown: (show(from), show(to)),
        unit,
        at: at.clone(),
    }
}

/// Everything but bands first; then each band closed, moved and opened by its last write; arm last.
fn ordered(binding: &Binding, wanted: &Settings, now: &Settings) -> Vec<(SettingName, Number)> {
    let mut order = Vec::new();
    let mut of_bands = BTreeSet::new();
    for band in bands(binding) {
        let names: Vec<&SettingName> = band.hand.iter().chain([&band.channel, &band.from, &band.to]).collect();
        of_bands.extend(names.iter().map(|name| (*name).clone()));
        if names.iter().any(|name| wanted.contains_key(*name)) {
            let then = |name: &SettingName| wanted.get(name).or_else(|| now.get(name)).copied();
            order.extend(one_band(binding, &band, then));
        }
    }
    let plain = wanted.iter().filter(|(name, _)| !of_bands.contains(*name)).map(|(name, to)| (name.clone(), *to));
    plain.chain(order).collect()
}

struct Band {
    hand: Option<SettingName>,
    free: i64,
    channel: SettingName,
    from: SettingName,
    to: SettingName,
}

/// The bands of a sheet, arm's last.
fn bands(binding: &Binding) -> Vec<Band> {
    match &binding.way {
        Way::Direct(functions) => {
            let (arm, others): (Vec<_>, Vec<_>) = functions.iter().partition(|(function, _)| function.is_arm());
            let all = others.into_iter().chain(arm);
            all.map(|(_, band)| Band {
                hand: None,
                free: 0,
                channel: band.channel.clone(),
                from: band.from.clone(),
                to: band.to.clone(),
            })
            .collect()
        }
        Way::Rows { free, rows, .. } => rows
            .iter()
            .map(|row| Band {
                hand: Some(row.function.clone()),
                free: *free,
                channel: row.channel.clone(),
                from: row.from.clone(),
                to: row.to.clone(),
            })
            .collect(),
    }
}

fn one_band(
    binding: &Binding,
    band: &Band,
    then: impl Fn(&SettingName) -> Option<Number>,
) -> Vec<(SettingName, Number)> {
    let (low, high) = binding.closed;
    let mut order = Vec::new();
    if let Some(hand) = &band.hand {
        // A row is off while it is free.
        order.push((hand.clone(), Number::Whole(band.free)));
    } else {
        // The upper end at its lowest closes a band whatever its lower end is.
        order.push((band.to.clone(), Number::Whole(high.min(low))));
        order.push((band.from.clone(), Number::Whole(low)));
    }
    let last = [&band.channel, &band.from, &band.to];
    order.extend(last.into_iter().filter_map(|name| then(name).map(|to| (name.clone(), to))));
    order.extend(band.hand.iter().filter_map(|hand| then(hand).map(|to| (hand.clone(), to))));
    order
}

fn fingerprint(snapshot: &Snapshot, sheet: &Sheet, identity: &Identity, now: &Settings) -> String {
    let mut hash = Sha256::new();
    hash.update(b"quadjig.restore/1\n");
    for (name, value) in snapshot.settings.iter().chain(now) {
        hash.update(format!("{name}={value:?}\n"));
    }
    hash.update(format!("{}\n{}\n{}\n", sheet.hash, identity.id, identity.firmware));
    hash.finalize().iter().fold(String::new(), |mut text, byte| {
        // Writing into a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}
