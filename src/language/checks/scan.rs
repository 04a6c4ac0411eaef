//! What several checks need to know about a recipe as a whole: which statement says what first.
//!
//! Promises: answers only, no findings.

use crate::language::recipe::{Function, OnLoss, Recipe, Require, Statement, Switch, What};
use crate::language::units::Pulse;

/// A switch as `switch … on channel …` declares it.
#[derive(Debug, Clone, Copy)]
pub struct Declared<'r> {
    /// The declaring statement.
    pub statement: &'r Statement,
    /// Channel from 1.
    pub channel: u32,
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
        What::DeclareSwitch { switch, channel, rests, on_loss } => {
            Some((switch, Declared { statement, channel: *channel, rests, on_loss: *on_loss }))
        }
        _ => None,
    })
}

/// The first declaration of a switch.
#[must_use]
pub fn declaration<'r>(recipe: &'r Recipe, switch: &Switch) -> Option<Declared<'r>> {
    declared(recipe).find(|(name, _)| *name == switch).map(|(_, declared)| declared)
}

/// Every binding, in order.
pub fn bound(recipe: &Recipe) -> impl Iterator<Item = Bound<'_>> {
    recipe.statements.iter().enumerate().filter_map(|(index, statement)| match &statement.what {
        What::Bind { function, switch, positions } => Some(Bound { index, statement, function, switch, positions }),
        _ => None,
    })
}

/// The switch that a statement finds or declares.
#[must_use]
pub fn introduces(what: &What) -> Option<&Switch> {
    match what {
        What::DeclareSwitch { switch, .. } | What::FindSwitch { switch, .. } => Some(switch),
        What::Waiting { declares, .. } => declares.as_ref(),
        _ => None,
    }
}

/// The switch that a statement uses.
#[must_use]
pub fn uses(what: &What) -> Option<&Switch> {
    match what {
        What::Bind { switch, .. } | What::Require(Require::SwitchPosition { switch, .. }) => Some(switch),
        _ => None,
    }
}

/// How many positions the text says a switch has, and where it says so.
#[must_use]
pub fn positions<'r>(recipe: &'r Recipe, switch: &Switch) -> Option<(u32, &'r Statement)> {
    recipe.statements.iter().find_map(|statement| match &statement.what {
        What::DeclareSwitch { switch: name, rests, .. } if name == switch => {
            Some((u32::try_from(rests.len()).unwrap_or(u32::MAX), statement))
        }
        What::FindSwitch { switch: name, positions: Some(count), .. } if name == switch => Some((*count, statement)),
        _ => None,
    })
}
