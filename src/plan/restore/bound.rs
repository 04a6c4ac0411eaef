//! What a copy would bind to which switch, in the recipe's words: arm always, everything else where it changes.
//!
//! Promises: what can't be told in the recipe's words is told by channel and pulses, never left out. Must not be here:
//! whether it may be bound so (see `judge`).

use crate::board::binding::{self, BoundNow};
use crate::board::radio_card::RadioCard;
use crate::board::sheet::{Settings, Sheet};
use crate::language::characters::capital;
use crate::language::recipe::Function;
use crate::plan::remark::Remark;
use crate::plan::titles;

/// A sentence for each function.
pub(super) fn afterwards(sheet: &Sheet, card: &RadioCard, now: &Settings, then: &Settings) -> Vec<Remark> {
    let mut all = Vec::new();
    for function in binding::functions(sheet) {
        // What can't be read is refused, by name.
        let Ok(after) = binding::bound_now(sheet, then, function) else { continue };
        let stays = binding::bound_now(sheet, now, function).as_ref() == Ok(&after);
        if function.is_arm() || !stays {
            let when = if stays { "Afterwards, as now" } else { "Afterwards" };
            all.push(Remark { line: None, text: format!("{when}: {}.", words(function, card, &after)) });
        }
    }
    all
}

/// How a craft can be armed now that a copy was brought back, and what to do about it.
#[must_use]
pub fn arms_now(sheet: &Sheet, card: &RadioCard, now: &Settings) -> Option<String> {
    let arm = Function::arm();
    let bands = binding::bound_now(sheet, now, &arm).ok()?;
    let words = capital(&words(&arm, card, &bands));
    if bands.is_empty() {
        return Some(format!("{words}."));
    }
    Some(format!(
        "{words}. Propellers off: `test arm` at the prompt of `quadjig bench` shows where it arms, before the battery \
         goes in for anything else."
    ))
}

fn words(function: &Function, card: &RadioCard, bands: &[BoundNow]) -> String {
    if bands.is_empty() {
        return format!("{} is bound to no switch", function.0);
    }
    let places = bands.iter().map(|band| format!("channel {} from {} to {}", band.channel, band.from, band.to));
    let places = places.collect::<Vec<_>>().join(", ");
    match card.bound(bands) {
        Some((switch, on)) if !on.is_empty() => format!("{} ({places})", titles::bind(function, switch, &on)),
        Some((switch, _)) => format!("{} is on in no position of switch {} ({places})", function.0, switch.0),
        None => format!("{} is on with {places}; which switch that is, no radio card here says", function.0),
    }
}
