//! Switches by the radio card: channels, positions, noise and what happens on link loss.

use super::functions;
use crate::board::radio_card::{RadioCard, SwitchEntry};
use crate::board::sheet::Sheet;
use crate::language::checks::functions::{arm_on_loss, arm_on_momentary};
use crate::language::checks::scan::Known;
use crate::language::checks::{codes, scan};
use crate::language::finding::Finding;
use crate::language::recipe::{Part, Recipe, Require, Statement, StatementKind, Switch};
use std::collections::BTreeMap;

pub(super) fn check(recipe: &Recipe, card: &RadioCard, sheet: Option<&Sheet>, found: &mut Vec<Finding>) {
    let switches = scan::switches(recipe);
    for statement in &recipe.statements {
        match &statement.what {
            StatementKind::FindSwitch { switch, positions, momentary, anew: false } => {
                let Some(entry) = card.switches.get(switch) else {
                    found.push(absent(switch, card, statement));
                    continue;
                };
                counted(switch, *positions, entry, card, statement, found);
                if *momentary && !entry.momentary {
                    let message = disagrees(switch, card, "stays where it is put");
                    found.push(springs(message, statement));
                }
                if let Some(sheet) = sheet {
                    let place = statement.part(Part::Switch);
                    found.extend(functions::rests(
                        &sheet.binding,
                        &sheet.board,
                        switch,
                        &entry.rests,
                        entry.noise,
                        place,
                    ));
                }
            }
            StatementKind::DeclareSwitch { switch, channel, rests, momentary, on_loss } => {
                let Some(entry) = card.switches.get(switch) else { continue };
                if entry.channel != *channel {
                    let message = disagrees(switch, card, &format!("is on channel {}", entry.channel));
                    found.push(
                        Finding::error(codes::CARD_DISAGREES, statement.part(Part::Channel), message).hint(ADVICE),
                    );
                }
                if entry.momentary != *momentary {
                    let does = if entry.momentary { "springs back to position 0" } else { "stays where it is put" };
                    found.push(springs(disagrees(switch, card, does), statement));
                }
                if entry.rests != *rests {
                    let pulses: Vec<String> = entry.rests.iter().map(|rest| rest.0.to_string()).collect();
                    let message = disagrees(switch, card, &format!("rests at {}", pulses.join(", ")));
                    found
                        .push(Finding::error(codes::CARD_DISAGREES, statement.part(Part::Rests), message).hint(ADVICE));
                }
                if let (Some(said), Some(by_card)) = (on_loss, entry.on_loss)
                    && *said != by_card
                {
                    let message = format!(
                        "by the card of {} the channel of switch {} {by_card}, and by this line it {said}: whether a lost \
                         link arms hangs on which is right",
                        card.radio, switch.0
                    );
                    let advice = "correct the line or the card; `find link loss` tells which";
                    found.push(Finding::error(codes::CARD_DISAGREES, statement.part(Part::Loss), message).hint(advice));
                }
            }
            StatementKind::Bind { switch, positions, .. } => {
                reach(&switches, switch, positions, card, statement, found);
            }
            StatementKind::Require(Require::SwitchPosition { switch, position }) => {
                reach(&switches, switch, &[*position], card, statement, found);
            }
            _ => {}
        }
    }
    for arm in scan::bound(recipe).filter(|bound| bound.function.is_arm()) {
        let Some(entry) = card.switches.get(arm.switch) else { continue };
        // What the recipe itself says of it is judged by its text.
        if entry.momentary && switches.get(arm.switch).is_some_and(|known| known.momentary.is_none() && known.found) {
            found.push(
                arm_on_momentary(&arm).hint(format!("the radio card of {} says that it springs back", card.radio)),
            );
        }
        // What the recipe itself says of link loss is judged by its text.
        if switches.get(arm.switch).and_then(|known| known.declared).is_some_and(|declared| declared.on_loss.is_some())
        {
            continue;
        }
        let Some(on_loss) = entry.on_loss else { continue };
        found.extend(arm_on_loss(&arm, &entry.rests, on_loss).map(|finding| {
            finding.hint(format!("the radio card of {} says so: correct it if the receiver was changed", card.radio))
        }));
    }
}

const ADVICE: &str = "correct the line, or find the switch again: `find switch … anew`";

fn disagrees(switch: &Switch, card: &RadioCard, by_card: &str) -> String {
    format!(
        "by the card of {} switch {} {by_card}: the first live reading would stop the run for one of them",
        card.radio, switch.0
    )
}

fn springs(message: String, statement: &Statement) -> Finding {
    Finding::error(codes::CARD_DISAGREES, statement.part(Part::Switch), message).hint(ADVICE)
}

fn absent(switch: &Switch, card: &RadioCard, statement: &Statement) -> Finding {
    let message =
        format!("the card of {} does not have switch {}: it will be watched for at the bench", card.radio, switch.0);
    Finding::suggestion(codes::NOT_ON_CARD, statement.part(Part::Switch), message)
}

fn counted(
    switch: &Switch,
    positions: Option<u32>,
    entry: &SwitchEntry,
    card: &RadioCard,
    statement: &Statement,
    found: &mut Vec<Finding>,
) {
    let Some(count) = positions.filter(|count| usize::try_from(*count) != Ok(entry.rests.len())) else { return };
    let message = disagrees(switch, card, &format!("has {} positions, not {count}", entry.rests.len()));
    found.push(Finding::error(codes::CARD_DISAGREES, statement.part(Part::Positions), message).hint(ADVICE));
}

/// Positions of a switch that only the card counts.
fn reach(
    switches: &BTreeMap<&Switch, Known<'_>>,
    switch: &Switch,
    wanted: &[u32],
    card: &RadioCard,
    statement: &Statement,
    found: &mut Vec<Finding>,
) {
    if switches.get(switch).is_some_and(|known| known.positions.is_some() || known.anew) {
        return;
    }
    let Some(entry) = card.switches.get(switch) else { return };
    let count = u32::try_from(entry.rests.len()).unwrap_or(u32::MAX);
    let missing: Vec<String> = wanted.iter().filter(|p| **p >= count).map(u32::to_string).collect();
    if !missing.is_empty() {
        let message = format!(
            "by the card of {} switch {} has no position {}: nothing that the operator does would reach it",
            card.radio,
            switch.0,
            missing.join(", ")
        );
        found.push(
            Finding::error(codes::NO_SUCH_POSITION, statement.part(Part::Positions), message)
                .hint(format!("positions count from 0: it has 0 to {}", count.saturating_sub(1))),
        );
    }
}
