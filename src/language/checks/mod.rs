//! Checks that the text of a recipe decides alone: what would go wrong at the bench, said at the desk.
//!
//! Promises: all findings, never the first only; each with a code of [`codes`], the exact
//! place, and words that say what would happen. Must not be here: what needs a sheet or a card
//! (see the plan's checks), and reading.

pub mod assigned;
mod battery;
pub mod cascade;
pub mod codes;
mod contradictions;
pub mod functions;
mod givens;
mod motors;
mod order;
mod proof;
pub mod props;
pub mod scan;
pub mod search;
mod sticks;
mod switches;
pub mod undecided;

use super::finding::{self, Finding};
use super::recipe::Recipe;

/// All findings that the text alone decides, in the order of their places.
#[must_use]
pub fn check(recipe: &Recipe) -> Vec<Finding> {
    let checks: [fn(&Recipe, &mut Vec<Finding>); 11] = [
        switches::check,
        functions::check,
        search::check,
        motors::check,
        props::check,
        battery::check,
        sticks::check,
        givens::check,
        contradictions::check,
        proof::check,
        order::check,
    ];
    let mut findings = Vec::new();
    for check in checks {
        check(recipe, &mut findings);
    }
    finding::sort(&mut findings);
    findings
}
