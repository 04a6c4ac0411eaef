//! The plan that brings a copy of all settings back: the same steps, guards and order as a recipe's.
//!
//! Promises: the battery is out; no order of writes opens a band before its last write; what belongs
//! to a single craft is never carried to another. Must not be here: choosing a snapshot.

use super::naming::Naming;
use super::step::{Action, Change, Guard, Plan, Step, Write};
use crate::board::effect::Effect;
use crate::board::sheet::{Binding, BindingLayout, Entry, Settings, Sheet};
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

/// Makes the plan. What is `unsaved` may stand as in the snapshot and still be stored otherwise: it is stored and read
/// after a restart too.
///
/// # Errors
/// The snapshot is not for this board.
pub fn plan(
    snapshot: &Snapshot,
    sheet: &Sheet,
    identity: &Identity,
    now: &Settings,
    unsaved: &BTreeSet<SettingName>,
) -> Result<Plan, RestoreError> {
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
        if !same_craft && entry(sheet, name).is_none_or(|entry| entry.craft_own) {
            remarks.push(format!("{name} belongs to the single craft, or may: not carried over"));
            continue;
        }
        wanted.insert(name.clone(), *value);
    }
    Ok(writing(snapshot, &wanted, (sheet, identity, now), &snapshot.taken, Some(unsaved), remarks))
}

/// Makes the plan that takes a change back: these settings to these values, written and read back with the battery
/// out, in the same order as a restore. It stores and restarts only where a setting takes that to be in force, as the
/// statement did that set it; else what was kept is still what the board has after a restart.
#[must_use]
pub fn take_back(wanted: &Settings, sheet: &Sheet, identity: &Identity, now: &Settings) -> Plan {
    let mut wanted = wanted.clone();
    wanted.retain(|name, to| now.get(name).is_some_and(|held| !held.same(*to)));
    let copy = Snapshot::new(String::new(), identity.clone(), wanted.clone());
    writing(&copy, &wanted, (sheet, identity, now), "undo", None, Vec::new())
}

/// The plan that writes these settings of a copy. `unsaved`: what is stored and read after a restart besides; `None`:
/// nothing is, but where one of them takes it.
fn writing(
    copy: &Snapshot,
    wanted: &Settings,
    (sheet, identity, now): (&Sheet, &Identity, &Settings),
    because: &str,
    unsaved: Option<&BTreeSet<SettingName>>,
    remarks: Vec<String>,
) -> Plan {
    let place = Place { file: because.to_owned(), line: 1, column: 1, end_line: 1, end_column: 1 };
    let naming = Naming { sheet, then: wanted, now };
    let writes: Vec<Write> =
        ordered(sheet, wanted, now).into_iter().map(|(name, to)| naming.write(&name, to)).collect();
    let changes = wanted
        .iter()
        .filter_map(|(name, to)| now.get(name).map(|from| change(&naming, name, *from, *to, &place)))
        .collect();
    let stored = unsaved.is_some() || writes.iter().any(|write| write.restart);
    let besides = unsaved.into_iter().flatten().filter(|name| !wanted.contains_key(*name));
    let besides = besides.filter_map(|name| now.get(name).map(|value| naming.write(name, *value))).collect();
    let mut steps = steps(writes, besides, &place);
    steps.retain(|step| stored || !matches!(step.act, Action::Store | Action::Restart { .. }));
    Plan {
        title: String::new(),
        board: sheet.board.clone(),
        identity: identity.clone(),
        steps,
        changes,
        unknown: Vec::new(),
        fingerprint: fingerprint(copy, sheet, identity, now),
        remarks,
    }
}

fn steps(writes: Vec<Write>, besides: Vec<Write>, at: &Place) -> Vec<Step> {
    let expect = [writes.clone(), besides].concat();
    if expect.is_empty() {
        return Vec::new();
    }
    let still = vec![Guard::BatteryOut, Guard::Disarmed, Guard::EncodingProved];
    [
        (Action::BatteryOut, Effect::Asks, Vec::new()),
        (Action::Write(writes), Effect::Writes, still.clone()),
        (Action::Store, Effect::Stores, still.clone()),
        (Action::Restart { expect }, Effect::Restarts, still),
    ]
    .into_iter()
    .filter(|(act, ..)| !matches!(act, Action::Write(writes) if writes.is_empty()))
    .enumerate()
    .map(|(index, (act, effect, guards))| Step { number: index + 1, statement: 0, act, effect, guards, at: at.clone() })
    .collect()
}

fn entry<'s>(sheet: &'s Sheet, name: &SettingName) -> Option<&'s Entry> {
    sheet.word_of(name).map(|(_, entry)| entry).or_else(|| sheet.raw.get(name))
}

fn change(naming: &Naming<'_>, name: &SettingName, from: Number, to: Number, at: &Place) -> Change {
    Change {
        setting: naming.describe(name),
        on_board: name.clone(),
        from,
        to,
        shown: (naming.show(name, from), naming.show(name, to)),
        unit: naming.unit(name),
        at: at.clone(),
    }
}

/// Bands that change are closed first, arm's before all others; then everything else; then they are moved and
/// opened, each by its last write, arm's after all others. A run that breaks off leaves a craft that cannot arm.
fn ordered(sheet: &Sheet, wanted: &Settings, now: &Settings) -> Vec<(SettingName, Number)> {
    let binding = &sheet.binding;
    let then = |name: &SettingName| wanted.get(name).or_else(|| now.get(name)).copied();
    let bands = bands(binding);
    let of_bands: BTreeSet<&SettingName> = bands.iter().flat_map(Band::names).collect();
    let mut changed: Vec<&Band> =
        bands.iter().filter(|band| band.names().any(|name| wanted.contains_key(name))).collect();
    changed.sort_by_key(|band| !band.arms(binding, |name| now.get(name).copied()));
    let mut order: Vec<_> = changed.iter().flat_map(|band| band.closing(binding)).collect();
    order.extend(wanted.iter().filter(|(name, _)| !of_bands.contains(name)).map(|(name, to)| (name.clone(), *to)));
    changed.sort_by_key(|band| band.arms(binding, then));
    order.extend(changed.iter().flat_map(|band| band.opening(then)));
    order
}

struct Band<'s> {
    /// The setting that says which function a row is for.
    hand: Option<&'s SettingName>,
    /// Whether it is arm's own, where bands are direct.
    arm: bool,
    channel: &'s SettingName,
    from: &'s SettingName,
    to: &'s SettingName,
}

fn bands(binding: &Binding) -> Vec<Band<'_>> {
    match &binding.way {
        BindingLayout::Direct(functions) => functions
            .iter()
            .map(|(function, band)| Band {
                hand: None,
                arm: function.is_arm(),
                channel: &band.channel,
                from: &band.from,
                to: &band.to,
            })
            .collect(),
        BindingLayout::Rows { rows, .. } => rows
            .iter()
            .map(|row| Band {
                hand: Some(&row.function),
                arm: false,
                channel: &row.channel,
                from: &row.from,
                to: &row.to,
            })
            .collect(),
    }
}

impl<'s> Band<'s> {
    fn names(&self) -> impl Iterator<Item = &'s SettingName> {
        self.hand.into_iter().chain([self.channel, self.from, self.to])
    }

    /// Whether it arms, by what its settings hold.
    fn arms(&self, binding: &Binding, held: impl Fn(&SettingName) -> Option<Number>) -> bool {
        let BindingLayout::Rows { functions, .. } = &binding.way else { return self.arm };
        let arm = functions.iter().find(|(function, _)| function.is_arm()).map(|(_, number)| Number::Whole(*number));
        self.hand.and_then(held).zip(arm).is_some_and(|(held, arm)| held.same(arm))
    }

    fn closing(&self, binding: &Binding) -> Vec<(SettingName, Number)> {
        let (low, high) = binding.closed;
        match (self.hand, &binding.way) {
            // A row is off while it is free.
            (Some(hand), BindingLayout::Rows { free, .. }) => vec![(hand.clone(), Number::Whole(*free))],
            // The upper end at its lowest closes a band whatever its lower end is.
            _ => vec![(self.to.clone(), Number::Whole(high.min(low))), (self.from.clone(), Number::Whole(low))],
        }
    }

    /// The last write opens it.
    fn opening(&self, then: impl Fn(&SettingName) -> Option<Number>) -> Vec<(SettingName, Number)> {
        let names = [self.channel, self.from, self.to].into_iter().chain(self.hand);
        names.filter_map(|name| then(name).map(|to| (name.clone(), to))).collect()
    }
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
