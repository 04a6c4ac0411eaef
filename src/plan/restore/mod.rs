//! The plan that brings a copy of all settings back: the same steps, guards and order as a recipe's.
//!
//! Promises: a copy is judged as a recipe is, before anything is sent; the battery is out; no order of writes opens a
//! band before its last write; what belongs to a single craft is never carried to another. Must not be here: choosing a
//! snapshot.

mod bound;
pub use bound::arms_now;
mod judge;
mod order;

use super::effects;
use super::naming::Naming;
use super::problem::Problem;
use super::step::{Action, Guard, Plan, Remark, Step, Write};
use crate::board::binding::BindingError;
use crate::board::effect::Effect;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::{Settings, Sheet};
use crate::board::signals::Identity;
use crate::board::value::SettingName;
use crate::language::canonical::hex;
use crate::language::span::Place;
use crate::language::units::Pulse;
use crate::record::{ChannelOnLoss, Snapshot};
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};

/// What is known of the radio when a copy is brought back.
#[derive(Debug, Clone)]
pub struct Radio<'a> {
    /// The radio card.
    pub card: &'a RadioCard,
    /// What each channel does on link loss, by the craft's record.
    pub link_loss: &'a [ChannelOnLoss],
    /// Where each channel stands now; one that is not here is not heard. `None`: nobody listens, as nothing is brought back
    /// now.
    pub heard: Option<BTreeMap<u32, Pulse>>,
}

/// Why a copy cannot be brought back here. Nothing was sent.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
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
    /// Settings that were on the board then have no value in the copy.
    #[error("the copy is not whole, and no way back: when it was taken, {0}")]
    NotWhole(String),
    /// A virtual board's settings on a real one, or the other way round.
    #[error("a snapshot of a virtual board is not brought to a real one, nor the other way round")]
    Virtual,
    /// A value that no recipe could set.
    #[error("the copy has {name} = {shown}: {problem}")]
    Setting {
        /// The board's own name.
        name: SettingName,
        /// The copy's number.
        shown: String,
        /// What is wrong with it.
        problem: Box<Problem>,
    },
    /// A number that cannot be a channel, a function or the end of a band on this board.
    #[error("the copy has {name} = {shown}, which this board's sheet does not allow in a band")]
    NoBand {
        /// The board's own name.
        name: SettingName,
        /// The copy's number.
        shown: String,
    },
    /// Settings of bands that cannot be read.
    #[error("it cannot be told where the copy would bind arm: {0}")]
    Binding(BindingError),
    /// Arm over a rest.
    #[error("the copy's arm is not brought back: {0}")]
    Arm(Box<Problem>),
    /// Arm over the pulse at which its channel stands.
    #[error(
        "the copy binds arm on channel {channel} from {from} to {to}, and that channel stands at {pulse} now: it would arm at once"
    )]
    ArmStands {
        /// Channel from 1.
        channel: u32,
        /// Where it stands.
        pulse: Pulse,
        /// Lower end.
        from: Pulse,
        /// Upper end.
        to: Pulse,
    },
    /// Arm on a channel of which nothing is known.
    #[error(
        "the copy binds arm on channel {channel}, and that channel is not heard: its switch may stand where it arms"
    )]
    ArmUnheard {
        /// Channel from 1.
        channel: u32,
        /// Whether its receiver is fed while the battery is out, so that it could be heard.
        fed: bool,
    },
}

impl RestoreError {
    fn arm(problem: Problem) -> Self {
        Self::Arm(Box::new(problem))
    }

    /// What to do, as a sentence.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::Kind { .. } | Self::Virtual => "Name a snapshot of this craft, or of one of its kind.".to_owned(),
            Self::Setting { .. } | Self::NoBand { .. } | Self::NotWhole(_) => {
                "Nothing was sent. Name another snapshot, or set what you need by a recipe.".to_owned()
            }
            Self::Binding(_) => "Check that the sheet is this board's; name another one with --sheet.".to_owned(),
            Self::Arm(problem) => problem.hint(),
            Self::ArmStands { channel, .. } => format!(
                "Nothing was sent. Move the switch on channel {channel} to where it does not arm, then start again."
            ),
            Self::ArmUnheard { fed: false, channel } => format!(
                "Nothing was sent. This board's receiver has no power while the battery is out: name the radio card that has \
                 the switch on channel {channel} with --radio, so that it is known where it rests."
            ),
            Self::ArmUnheard { fed: true, .. } => {
                "Nothing was sent. Switch the radio on with that switch where it does not arm, then start again."
                    .to_owned()
            }
        }
    }
}

/// Every refusal, one a line, with what to do.
#[must_use]
pub fn refusals(errors: &[RestoreError]) -> String {
    errors.iter().map(|error| format!("{error}. {}", error.hint())).collect::<Vec<_>>().join("\n")
}

/// Makes the plan. What is `unsaved` may stand as in the snapshot and still be stored otherwise: it is stored and read
/// after a restart too.
///
/// # Errors
/// The snapshot is not for this board, or holds what no recipe could set: all of it.
pub fn plan(
    snapshot: &Snapshot,
    sheet: &Sheet,
    identity: &Identity,
    now: &Settings,
    radio: &Radio<'_>,
    unsaved: &BTreeSet<SettingName>,
) -> Result<Plan, Vec<RestoreError>> {
    if snapshot.board.is_virtual() != identity.is_virtual() {
        return Err(vec![RestoreError::Virtual]);
    }
    if snapshot.board.kind != identity.kind {
        let (was, now) = (snapshot.board.kind.clone(), identity.kind.clone());
        return Err(vec![RestoreError::Kind { was, now }]);
    }
    if let Some(why) = snapshot.not_whole() {
        return Err(vec![RestoreError::NotWhole(why)]);
    }
    let same_craft = snapshot.board.is_same_craft(identity);
    let mut remarks = Vec::new();
    let mut left = |text| remarks.push(Remark { line: None, text });
    let mut wanted = Settings::new();
    for (name, value) in &snapshot.settings {
        let Some(held) = now.get(name) else {
            left(format!("{name} is in the snapshot and not on this board: left out"));
            continue;
        };
        if held.same(*value) {
            continue;
        }
        if !same_craft && effects::entry_of(sheet, name).is_none_or(|entry| entry.craft_own) {
            left(format!("{name} belongs to the single craft, or may: not carried over"));
            continue;
        }
        wanted.insert(name.clone(), *value);
    }
    let mut then = now.clone();
    then.extend(wanted.clone());
    remarks.extend(bound::afterwards(sheet, radio.card, now, &then));
    writing(snapshot, wanted, (sheet, identity, now), radio, (&snapshot.taken, Some(unsaved)), remarks)
}

/// Makes the plan that takes a change back: these settings to these values, written and read back with the battery
/// out, in the same order as a restore. It stores and restarts only where a setting takes that to be in force, as the
/// statement did that set it; else what was kept is still what the board has after a restart.
///
/// # Errors
/// As for [`plan`].
pub fn take_back(
    wanted: &Settings,
    sheet: &Sheet,
    identity: &Identity,
    now: &Settings,
    radio: &Radio<'_>,
) -> Result<Plan, Vec<RestoreError>> {
    let mut wanted = wanted.clone();
    wanted.retain(|name, to| now.get(name).is_some_and(|held| !held.same(*to)));
    let copy = Snapshot::new(String::new(), identity.clone(), wanted.clone());
    writing(&copy, wanted, (sheet, identity, now), radio, ("undo", None), Vec::new())
}

/// The plan that writes these settings of a copy, and why. `unsaved`: what is stored and read after a restart besides;
/// `None`: nothing is, but where one of them takes it.
fn writing(
    copy: &Snapshot,
    mut wanted: Settings,
    (sheet, identity, now): (&Sheet, &Identity, &Settings),
    radio: &Radio<'_>,
    (because, unsaved): (&str, Option<&BTreeSet<SettingName>>),
    mut remarks: Vec<Remark>,
) -> Result<Plan, Vec<RestoreError>> {
    let mut then = now.clone();
    then.extend(wanted.clone());
    let naming = Naming { sheet, then: &then, now };
    let mut refused = Vec::new();
    for (name, to) in &mut wanted {
        match now.get(name).map(|held| judge::value(&naming, name, *held, *to)) {
            Some(Ok(number)) => *to = number,
            Some(Err(error)) => refused.push(error),
            None => {}
        }
    }
    let arm = judge::arm_bands(sheet, radio, now, &then, &mut remarks);
    let arm = arm.map_err(|error| refused.push(error)).unwrap_or_default();
    if !refused.is_empty() {
        return Err(refused);
    }
    let order = order::ordered(sheet, &wanted, now);
    let effect = if order::dangerous(sheet, &order, now, &arm) {
        Effect::TurnsMotors
    } else {
        // The battery is out, so what turns motors is what USB feeds, and what nobody can speak for.
        let of = |name| effects::of_writing(sheet, name, sheet.usb_feeds_motors);
        order.iter().map(|(name, _)| of(name)).max().unwrap_or(Effect::Writes)
    };
    let place = Place { file: because.to_owned(), line: 1, column: 1, end_line: 1, end_column: 1 };
    let writes = effects::placed(sheet, order.into_iter().map(|(name, to)| naming.write(&name, to)).collect());
    let changes = wanted
        .iter()
        .filter_map(|(name, to)| now.get(name).map(|from| naming.change(name, *from, *to, &place)))
        .collect();
    let stored = unsaved.is_some() || writes.iter().any(|write| write.restart);
    let besides = unsaved.into_iter().flatten().filter(|name| !wanted.contains_key(*name));
    let besides = besides.filter_map(|name| now.get(name).map(|value| naming.write(name, *value))).collect();
    let arms = sheet.usb_feeds_motors && (sheet.sticks_can_arm || !arm.is_empty());
    let restarts = if arms { Effect::TurnsMotors } else { Effect::Restarts };
    let mut steps = steps(writes, besides, (effect, restarts), &place);
    steps.retain(|step| stored || !matches!(step.act, Action::Store | Action::Restart { .. }));
    for (number, step) in (1..).zip(&mut steps) {
        step.number = number;
    }
    Ok(Plan {
        title: String::new(),
        board: sheet.board.clone(),
        identity: identity.clone(),
        steps,
        changes,
        unknown: Vec::new(),
        fingerprint: fingerprint(copy, sheet, identity, now),
        remarks,
    })
}

fn steps(writes: Vec<Write>, besides: Vec<Write>, (write, restart): (Effect, Effect), at: &Place) -> Vec<Step> {
    // What was closed and opened again is expected as it is in the end.
    let mut expect: Vec<Write> = Vec::new();
    for write in writes.iter().cloned().chain(besides) {
        expect.retain(|earlier| earlier.name != write.name);
        expect.push(write);
    }
    if expect.is_empty() {
        return Vec::new();
    }
    let still = |effect: Effect| {
        let turns = effect == Effect::TurnsMotors;
        let mut guards = if turns { vec![Guard::PropsOff, Guard::Confirmed] } else { Vec::new() };
        guards.extend([Guard::Disarmed, Guard::BatteryOut, Guard::EncodingProved]);
        guards
    };
    let mut all = vec![(Action::BatteryOut { cycle: false }, Effect::Asks, Vec::new())];
    if [write, restart].contains(&Effect::TurnsMotors) {
        all.push((Action::AttestPropsOff, Effect::Asks, Vec::new()));
    }
    all.extend([
        (Action::Write(writes), write, still(write)),
        (Action::Store, Effect::Stores, still(Effect::Stores)),
        (Action::Restart { expect }, restart, still(restart)),
    ]);
    all.into_iter()
        .filter(|(act, ..)| !matches!(act, Action::Write(writes) if writes.is_empty()))
        .map(|(act, effect, guards)| Step { number: 0, statement: 0, act, effect, guards, at: at.clone() })
        .collect()
}

fn fingerprint(snapshot: &Snapshot, sheet: &Sheet, identity: &Identity, now: &Settings) -> String {
    let mut hash = Sha256::new();
    hash.update(b"quadjig.restore/2\n");
    for (name, value) in snapshot.settings.iter().chain(now) {
        hash.update(format!("{name}={}\n", super::fingerprint::json(value)));
    }
    hash.update(format!("{}\n{}\n{}\n", sheet.hash, identity.told(), identity.firmware));
    hex(&hash.finalize())
}
