//! What binds a plan to all that it was made from.
//!
//! Promises: any change of the recipe's meaning, the sheet, the radio card, a parameter, a proof that was
//! used, the board's identity or a value read changes it; title, comments and layout do not. It is made from
//! written forms alone: the recipe's two hashes, JSON and lines of our own. Where a run stands is no part of
//! it. Must not be here: comparing plans.

use super::inputs::Inputs;
use crate::board::radio_card::SwitchEntry;
use crate::language::canonical;
use crate::language::recipe::{OnLoss, StatementKind, Switch};
use crate::record::Proof;
use serde::Serialize;
use std::fmt::Write;

/// The fingerprint as lower-case hexadecimal SHA-256.
pub(super) fn of(inputs: &Inputs, proofs: &[&Proof]) -> String {
    let Inputs { recipe, sheet, card, record, identity, settings, .. } = inputs;
    let mut text = String::from("quadjig.fingerprint/2\n");
    let mut add = |what: &str, value: &str| {
        // Writing into a string cannot fail.
        let _ = writeln!(text, "{what} {value}");
    };
    add("recipe", &canonical::recipe_hash(recipe));
    add("filled", canonical::filled_hash(recipe, &[&sheet.hash]).as_deref().unwrap_or("waiting"));
    add("sheet", &sheet.hash);
    // A declaration overrules the card.
    let declared = |switch: &Switch| {
        recipe
            .statements
            .iter()
            .any(|s| matches!(&s.what, StatementKind::DeclareSwitch { switch: is, .. } if is == switch))
    };
    add("radio", &json(&(&card.radio, card.is_virtual)));
    for (stick, entry) in &card.sticks {
        add("stick", &format!("{} {} {}", stick.word(), entry.channel, entry.reversed));
    }
    for (switch, entry) in card.switches.iter().filter(|(switch, _)| !declared(switch)) {
        add("switch", &format!("{} {}", switch.0, switch_line(entry)));
    }
    add("identity", &json(identity));
    add("settings", &json(settings));
    add("link loss", &json(&record.link_loss));
    for proof in proofs {
        add("proof", &json(proof));
    }
    canonical::sha256(&text)
}

/// JSON of a value of ours. All have text keys and finite numbers, which JSON always holds; what it could not hold
/// would stand as its error, never as nothing.
pub(super) fn json(value: &impl Serialize) -> String {
    serde_json::to_string(value).unwrap_or_else(|error| error.to_string())
}

fn switch_line(SwitchEntry { channel, rests, noise, momentary, on_loss }: &SwitchEntry) -> String {
    let loss = match on_loss {
        None => "unsaid".to_owned(),
        Some(OnLoss::Rests(pulse)) => pulse.0.to_string(),
        Some(OnLoss::Holds) => "hold".to_owned(),
        Some(OnLoss::Flagged) => "flagged".to_owned(),
    };
    let springs = if *momentary { " momentary" } else { "" };
    format!("{channel} {} {} {loss}{springs}", json(rests), json(noise))
}
