//! Functions on switches, by what the board can bind.

use crate::board::binding;
use crate::board::sheet::{Binding, BindingLayout, Sheet};
use crate::language::ceilings::REST_MARGIN;
use crate::language::checks::{codes, scan};
use crate::language::finding::Finding;
use crate::language::recipe::{Part, Recipe, StatementKind, Switch};
use crate::language::span::Span;
use crate::language::units::Pulse;
use crate::measure::bands::{BandError, BandLimits, BandQuestion, Nearby, band_of};
use crate::measure::nearest::nearest;

/// Other words for functions, as they are said in the trade.
const MEANT: &[(&[&str], &str)] = &[
    (&["beep", "beeper", "beeps", "alarm", "finder"], "buzzer"),
    (&["angle", "level", "levelling", "stabilise", "stabilize", "horizon"], "self-level"),
    (&["led", "leds", "lamp", "lamps", "strip"], "lights"),
];

pub(super) fn check(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    let known: Vec<&str> = binding::functions(sheet).into_iter().map(|function| function.0.as_str()).collect();
    for statement in &recipe.statements {
        let (StatementKind::Bind { function, .. } | StatementKind::Unbind(function)) = &statement.what else {
            continue;
        };
        if !known.contains(&function.0.as_str()) {
            let place = statement.part(Part::Function);
            let message = format!("{} has no function `{}`: the switch would do nothing", sheet.board, function.0);
            let finding = Finding::error(codes::UNKNOWN_FUNCTION, place, message).hint(format!(
                "its functions are {}; if the board has it, [binding.functions] in the sheet {} is where it belongs",
                known.join(", "),
                sheet.origin
            ));
            let meant = MEANT.iter().find(|(words, _)| words.contains(&function.0.as_str())).map(|(_, meant)| *meant);
            let meant = meant.filter(|meant| known.contains(meant));
            found.push(match nearest(&function.0, known.iter().copied()).or(meant) {
                Some(near) => finding.replace(format!("write `{near}`"), place, near),
                None => finding,
            });
        }
    }
    for bound in scan::bound(recipe) {
        let apart = bound.positions.windows(2).any(|pair| pair[1] > pair[0] + 1);
        if apart && matches!(sheet.binding.way, BindingLayout::Direct(_)) {
            let message = format!(
                "{} gives each function one band of pulses: {} would be on in the positions between as well",
                sheet.board, bound.function.0
            );
            found.push(
                Finding::error(codes::POSITIONS_APART, bound.statement.part(Part::Positions), message)
                    .hint("choose neighbouring positions"),
            );
        }
    }
    for (switch, declared) in scan::declared(recipe) {
        let place = declared.statement.part(Part::Rests);
        found.extend(rests(&sheet.binding, &sheet.board, switch, declared.rests, None, place));
    }
}

/// Findings about rest pulses that the board cannot bind, or whose bands are narrower than the
/// noise (a standard deviation in µs, where measured) allows.
pub(super) fn rests(
    binding: &Binding,
    board: &str,
    switch: &Switch,
    rests: &[Pulse],
    noise: Option<f64>,
    place: &Span,
) -> Vec<Finding> {
    let mut found = Vec::new();
    // Rests that the fixed margin already refuses are told once, by the text.
    let mut sorted = rests.to_vec();
    sorted.sort_unstable();
    if sorted.windows(2).any(|pair| pair[1].0 - pair[0].0 < 2 * REST_MARGIN.0) {
        return found;
    }
    let pulses: Vec<f64> = rests.iter().map(|rest| f64::from(rest.0)).collect();
    let limits = BandLimits { least: binding.least.0, most: binding.most.0, granularity: binding.granularity };
    let question = BandQuestion { rests: &pulses, sigma: noise.unwrap_or(0.0), limits, avoid: &[] };
    for position in 0..rests.len() {
        let Err(error) = band_of(&question, position) else { continue };
        let outside = matches!(error, BandError::Margin { margin, because: Nearby::Limit(_), .. } if margin <= 0.0);
        let code = if outside { codes::REST_OUTSIDE_BANDS } else { codes::BAND_NARROW };
        let message = format!("nothing could be bound to switch {} safely on {board}: {error}", switch.0);
        found.push(Finding::error(code, place, message));
    }
    found
}
