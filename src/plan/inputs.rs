//! What a plan is made from, and where a run stands when the rest is planned again.
//!
//! Promises: values only; the same inputs give the same plan. Must not be here: how they were read.

use crate::board::radio_card::RadioCard;
use crate::board::sheet::{Settings, Sheet};
use crate::board::signals::Identity;
use crate::board::value::SettingName;
use crate::language::recipe::{Recipe, Switch};
use crate::record::CraftRecord;
use crate::record::ledger::Ledger;
use std::collections::BTreeSet;

/// All that a plan is made from.
#[derive(Debug, Clone)]
pub struct Inputs<'a> {
    /// The recipe, `use` lines replaced.
    pub recipe: &'a Recipe,
    /// How the board names and holds things.
    pub sheet: &'a Sheet,
    /// What is known of the radio.
    pub card: &'a RadioCard,
    /// What is known of the craft.
    pub record: &'a CraftRecord,
    /// Who the board is.
    pub identity: &'a Identity,
    /// Every setting, as read from the board now.
    pub settings: &'a Settings,
    /// Where the run stands.
    pub progress: Progress,
    /// It is carried out from the bench prompt, where an idle may be stepped by hand.
    pub by_hand: bool,
}

/// Where a run stands: [`Progress::start`] for a fresh plan, else after a find or a search.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Progress {
    /// More may follow, as after a single statement at the bench prompt: no `keep` is implied at the end.
    pub more_follows: bool,
    /// First statement still to do, as an index of the recipe's statements.
    pub next: usize,
    /// The battery, as measured or attested last.
    pub battery: Battery,
    /// Settings that were written and not yet stored.
    pub unsaved: BTreeSet<SettingName>,
    /// Of those, what was written before the recipe began: no reason to store, unless the recipe asks for it as well.
    pub left_before: BTreeSet<SettingName>,
    /// Propellers attested off, and that still stands.
    pub props_off: bool,
    /// Video antenna attested.
    pub antenna_on: bool,
    /// Switches found or confirmed by this run.
    pub found: BTreeSet<Switch>,
    /// Link loss found by this run.
    pub link_loss_found: bool,
    /// The motor signal was written, and the battery was not out and in since.
    pub signal_changed: bool,
    /// A run of this very recipe on this craft is finished: what was shown between these moments is taken over. Never
    /// arm, cut or failsafe.
    pub taken_over: Option<(jiff::Timestamp, jiff::Timestamp)>,
}

impl Progress {
    /// Nothing done, nothing known of the battery.
    #[must_use]
    pub fn start() -> Self {
        Self::default()
    }

    /// Nothing done, below what others wrote and did not keep.
    #[must_use]
    pub fn below(ledger: &Ledger) -> Self {
        let unsaved = ledger.names();
        Self { left_before: unsaved.clone(), unsaved, ..Self::default() }
    }
}

/// Where the battery is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Battery {
    /// Plugged in.
    In,
    /// Out: motors have no power.
    Out,
    /// Neither measured nor attested: may be in.
    #[default]
    Unknown,
}
