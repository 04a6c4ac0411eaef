//! Checks of a recipe against the vocabulary, a board sheet and a radio card, before any board is met.
//!
//! Promises: all findings, with the codes of [`crate::language::checks::codes`]; what is still
//! open is one hint, never an error. Must not be here: what a board holds (see the plan itself).

mod board;
mod card;
mod console;
mod functions;
mod raw;
mod settings;
mod signal;
mod values;

use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::language::Reading;
use crate::language::checks::{self, cascade, undecided};
use crate::language::finding::{self, Finding};
use crate::language::recipe::{Recipe, Switch};

/// Findings that need the vocabulary or the bench's mathematics, and no sheet.
#[must_use]
pub fn without_sheet(recipe: &Recipe) -> Vec<Finding> {
    let mut findings = Vec::new();
    settings::check(recipe, &mut findings);
    signal::check(recipe, &mut findings);
    findings
}

/// Findings that a board sheet decides.
#[must_use]
pub fn with_sheet(recipe: &Recipe, sheet: &Sheet) -> Vec<Finding> {
    let mut findings = Vec::new();
    board::check(recipe, sheet, &mut findings);
    console::check(recipe, sheet, &mut findings);
    functions::check(recipe, sheet, &mut findings);
    values::check(recipe, sheet, &mut findings);
    raw::check(recipe, sheet, &mut findings);
    signal::with_reply(recipe, sheet, &mut findings);
    finding::sort(&mut findings);
    findings
}

/// Findings that a radio card decides; a sheet adds what the board can bind.
#[must_use]
pub fn with_card(recipe: &Recipe, card: &RadioCard, sheet: Option<&Sheet>) -> Vec<Finding> {
    let mut findings = Vec::new();
    card::check(recipe, card, sheet, &mut findings);
    finding::sort(&mut findings);
    findings
}

/// Every finding about a recipe, by what is at hand, with one hint about what is still open.
#[must_use]
pub fn all(recipe: &Recipe, sheet: Option<&Sheet>, card: Option<&RadioCard>) -> Vec<Finding> {
    let mut findings = checks::check(recipe);
    findings.extend(without_sheet(recipe));
    findings.extend(sheet.map(|sheet| with_sheet(recipe, sheet)).unwrap_or_default());
    findings.extend(card.map(|card| with_card(recipe, card, sheet)).unwrap_or_default());
    let mut open = undecided::open(recipe);
    open.extend(signal::open(recipe, sheet));
    let on_card = |switch: &Switch| card.and_then(|card| card.switches.get(switch)?.on_loss).is_some();
    open.retain(|open| match &open.needs {
        undecided::Needs::Sheet => sheet.is_none(),
        undecided::Needs::Card => card.is_none(),
        undecided::Needs::LinkLoss(switch) => !on_card(switch),
        // A board that runs single motors finds the idle either way.
        undecided::Needs::ZeroThrottle => sheet.is_none_or(|sheet| sheet.motor_run.is_none()),
        undecided::Needs::Board | undecided::Needs::Bound => true,
    });
    findings.extend(undecided::hint(&open));
    finding::sort(&mut findings);
    findings
}

/// Every finding about a recipe as it was read: what reading found, then [`all`] for every sheet
/// that is at hand, or that a misspelt board most likely means; one finding a cause.
#[must_use]
pub fn reading(reading: &Reading, sheets: &[Sheet], card: Option<&RadioCard>) -> Vec<Finding> {
    let mut findings = reading.findings.clone();
    let Some(recipe) = &reading.recipe else {
        finding::bound(&mut findings);
        return findings;
    };
    let near = board::unknown(recipe, sheets, &mut findings);
    let sheets = if sheets.is_empty() { near.as_slice() } else { sheets };
    let by_sheet: Vec<Option<&Sheet>> = if sheets.is_empty() { vec![None] } else { sheets.iter().map(Some).collect() };
    for sheet in by_sheet {
        findings.extend(all(recipe, sheet, card));
    }
    // A board that is misspelt is told as that.
    if !near.is_empty() {
        findings.retain(|finding| finding.code != checks::codes::OTHER_BOARD);
    }
    let mut findings = cascade::settled(findings, reading);
    finding::bound(&mut findings);
    findings
}
