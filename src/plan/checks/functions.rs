//! Functions on switches, by what the board can bind.

use crate::board::sheet::{Binding, Sheet, Way};
use crate::language::bands;
use crate::language::ceilings::REST_MARGIN;
use crate::language::checks::{codes, scan};
use crate::language::finding::Finding;
use crate::language::nearest::nearest;
use crate::language::recipe::{Part, Recipe, Switch, What};
use crate::language::span::Span;
use crate::language::units::Pulse;

pub(super) fn check(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    let known: Vec<&str> = match &sheet.binding.way {
        Way::Direct(functions) => functions.keys().map(|function| function.0.as_str()).collect(),
        Way::Rows { functions, .. } => functions.keys().map(|function| function.0.as_str()).collect(),
    };
    for statement in &recipe.statements {
        let (What::Bind { function, .. } | What::Unbind(function)) = &statement.what else { continue };
        if !known.contains(&function.0.as_str()) {
            let place = statement.part(Part::Function);
            let message = format!("{} has no function `{}`: the switch would do nothing", sheet.board, function.0);
            let finding = Finding::error(codes::UNKNOWN_FUNCTION, place, message)
                .hint(format!("its functions are {}", known.join(", ")));
            found.push(match nearest(&function.0, known.iter().copied()) {
                Some(near) => finding.replace(format!("write `{near}`"), place, near),
                None => finding,
            });
        }
    }
    for bound in scan::bound(recipe) {
        let apart = bound.positions.windows(2).any(|pair| pair[1] > pair[0] + 1);
        if apart && matches!(sheet.binding.way, Way::Direct(_)) {
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
    let name = &switch.0;
    let mut found = Vec::new();
    // Rests that the fixed margin already refuses are told once, by the text.
    let mut sorted = rests.to_vec();
    sorted.sort_unstable();
    if sorted.windows(2).any(|pair| pair[1].0 - pair[0].0 < 2 * REST_MARGIN.0) {
        return found;
    }
    let needed = noise.map_or(0.0, |sigma| 6.0 * sigma).max(f64::from(REST_MARGIN.0));
    for (position, rest) in rests.iter().enumerate() {
        if *rest <= binding.least || *rest >= binding.most {
            let message = format!(
                "position {position} of switch {name} rests at {rest}, and {board} binds from {} to {}: nothing could be bound there",
                binding.least, binding.most
            );
            found.push(Finding::error(codes::REST_OUTSIDE_BANDS, place, message));
            continue;
        }
        let Some((low, high)) = u32::try_from(position).ok().and_then(|position| bands::band(rests, position)) else {
            continue;
        };
        let (low, high) = rounded(binding, low, high);
        let room = (rest.0 - low.0).min(high.0 - rest.0);
        if f64::from(room) < needed {
            let why = noise.map_or_else(String::new, |sigma| format!(", six times its noise of {sigma} us"));
            let message = format!(
                "position {position} of switch {name} rests at {rest}, only {room} us inside its band from {low} to {high}: {needed:.0} us are needed{why}"
            );
            found.push(
                Finding::error(codes::BAND_NARROW, place, message)
                    .hint("widen the switch's travel in the radio, or leave a position out"),
            );
        }
    }
    found
}

/// A band's ends, clipped to the board's limits and rounded inwards to its granularity.
fn rounded(binding: &Binding, low: Pulse, high: Pulse) -> (Pulse, Pulse) {
    let step = binding.granularity.max(1);
    let steps = |pulse: Pulse| pulse.0 - binding.least.0;
    let low = binding.least.0 + (steps(low.max(binding.least)) + step - 1).div_euclid(step) * step;
    let high = binding.least.0 + steps(high.min(binding.most)).div_euclid(step) * step;
    (Pulse(low), Pulse(high))
}
