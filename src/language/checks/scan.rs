//! What several checks need to know about a recipe as a whole: which statement says what first.
//!
//! Promises: answers only, no findings.

use crate::language::recipe::{Function, OnLoss, Recipe, Require, Statement, StatementKind, Switch};
use crate::language::units::Pulse;
use std::collections::BTreeMap;

/// A switch as `switch … on channel …` declares it.
#[derive(Debug, Clone, Copy)]
pub struct Declared<'r> {
    /// The declaring statement.
    pub statement: &'r Statement,
    /// Rest pulses by position.
    pub rests: &'r [Pulse],
    /// What the channel does on link loss, if said.
    pub on_loss: Option<OnLoss>,
}

/// A function as `bind` puts it on a switch.
#[derive(Debug, Clone, Copy)]
pub struct Bound<'r> {
    /// Index of the statement in the recipe.
    pub index: usize,
    /// The statement.
    pub statement: &'r Statement,
    /// What.
    pub function: &'r Function,
    /// On which switch.
    pub switch: &'r Switch,
    /// On in these positions.
    pub positions: &'r [u32],
}

/// Every declared switch, in order.
pub fn declared(recipe: &Recipe) -> impl Iterator<Item = (&Switch, Declared<'_>)> {
    recipe.statements.iter().filter_map(|statement| match &statement.what {
        StatementKind::DeclareSwitch { switch, rests, on_loss, .. } => {
            Some((switch, Declared { statement, rests, on_loss: *on_loss }))
        }
        _ => None,
    })
}

/// Every binding, in order.
pub fn bound(recipe: &Recipe) -> impl Iterator<Item = Bound<'_>> {
    recipe.statements.iter().enumerate().filter_map(|(index, statement)| match &statement.what {
        StatementKind::Bind { function, switch, positions } => {
            Some(Bound { index, statement, function, switch, positions })
        }
        _ => None,
    })
}

/// The switch that a statement finds or declares.
#[must_use]
pub fn introduces(what: &StatementKind) -> Option<&Switch> {
    match what {
        StatementKind::DeclareSwitch { switch, .. } | StatementKind::FindSwitch { switch, .. } => Some(switch),
        StatementKind::Waiting { declares, .. } => declares.as_ref(),
        _ => None,
    }
}

/// The switch that a statement uses.
#[must_use]
pub fn uses(what: &StatementKind) -> Option<&Switch> {
    match what {
        StatementKind::Bind { switch, .. } | StatementKind::Require(Require::SwitchPosition { switch, .. }) => {
            Some(switch)
        }
        _ => None,
    }
}

/// What the text says of one switch.
#[derive(Debug, Clone, Copy, Default)]
pub struct Known<'r> {
    /// Index of the statement that finds or declares it first.
    pub first: Option<usize>,
    /// Its first declaration.
    pub declared: Option<Declared<'r>>,
    /// How many positions it has, and where that is said.
    pub positions: Option<(u32, &'r Statement)>,
    /// Whether it is found at the bench.
    pub found: bool,
    /// The first statement that says that it springs back to position 0.
    pub momentary: Option<&'r Statement>,
    /// Whether it is found anew, whatever the radio card says.
    pub anew: bool,
    /// Whether anything uses it.
    pub used: bool,
}

/// What the text says of every switch, gathered in one pass.
#[must_use]
pub fn switches(recipe: &Recipe) -> BTreeMap<&Switch, Known<'_>> {
    let mut all: BTreeMap<&Switch, Known<'_>> = BTreeMap::new();
    for (index, statement) in recipe.statements.iter().enumerate() {
        if let Some(switch) = uses(&statement.what) {
            all.entry(switch).or_default().used = true;
        }
        let Some(switch) = introduces(&statement.what) else { continue };
        let known = all.entry(switch).or_default();
        known.first.get_or_insert(index);
        if let StatementKind::DeclareSwitch { momentary: true, .. }
        | StatementKind::FindSwitch { momentary: true, .. } = &statement.what
        {
            known.momentary.get_or_insert(statement);
        }
        match &statement.what {
            StatementKind::DeclareSwitch { rests, on_loss, .. } => {
                known.declared.get_or_insert(Declared { statement, rests, on_loss: *on_loss });
                let count = u32::try_from(rests.len()).unwrap_or(u32::MAX);
                known.positions.get_or_insert((count, statement));
            }
            StatementKind::FindSwitch { positions, anew, .. } => {
                known.found = true;
                known.anew |= *anew;
                if let Some(count) = positions {
                    known.positions.get_or_insert((*count, statement));
                }
            }
            _ => {}
        }
    }
    all
}
