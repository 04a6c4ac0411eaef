//! What binds a plan to all that it was made from.
//!
//! Promises: any change of the recipe's meaning, the sheet, the radio card, a parameter, a proof that was
//! used, the board's identity or a value read changes it; comments, layout and the place of a note do
//! not. Where a run stands is no part of it. Must not be here: comparing plans.

use super::inputs::Inputs;
use crate::language::recipe::{StatementKind, Switch};
use crate::record::Proof;
use sha2::{Digest, Sha256};
use std::fmt::Write;

/// The fingerprint as lower-case hexadecimal SHA-256.
pub(super) fn of(inputs: &Inputs, proofs: &[&Proof]) -> String {
    let Inputs { recipe, sheet, card, record, identity, settings, .. } = inputs;
    let mut text = String::from("quadjig.fingerprint/1\n");
    let mut add = |what: &str, value: &dyn std::fmt::Debug| {
        // Writing into a string cannot fail.
        let _ = writeln!(text, "{what} {value:?}");
    };
    add("title", &recipe.title.value);
    add("craft", &recipe.craft.value);
    for board in &recipe.boards {
        add("board", &board.value);
    }
    for firmware in &recipe.firmware {
        add("firmware", &firmware.value);
    }
    for given in &recipe.givens {
        add("given", &(&given.name.value, &given.value, &given.range));
    }
    let mut notes: Vec<&String> = Vec::new();
    for statement in &recipe.statements {
        match &statement.what {
            StatementKind::Note(note) => notes.push(note),
            what => add("statement", what),
        }
    }
    notes.sort();
    add("notes", &notes);
    add("sheet", &sheet.hash);
    // A declaration overrules the card.
    let declared = |switch: &Switch| {
        recipe
            .statements
            .iter()
            .any(|s| matches!(&s.what, StatementKind::DeclareSwitch { switch: is, .. } if is == switch))
    };
    add("radio", &(&card.radio, card.is_virtual, &card.sticks));
    for entry in card.switches.iter().filter(|(switch, _)| !declared(switch)) {
        add("switch", &entry);
    }
    add("identity", identity);
    add("settings", settings);
    add("link loss", &record.link_loss);
    add("proofs", &proofs);
    Sha256::digest(text).iter().fold(String::new(), |mut hex, byte| {
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}
