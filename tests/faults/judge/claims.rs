//! What the program says and writes down, held against what the craft stores and how often it truly started.
//!
//! Must not be here: what leaves on the wire.

use super::Judge;
use quadjig::measure::time::Time;
use quadjig::virtual_board::World as Craft;
use serde_json::Value;
use std::collections::BTreeMap;

impl Judge {
    /// Words that claim something are true (S11; interlock.md 3, evidence, and law 6).
    pub(super) fn words(&mut self, now: Time, line: &str, crafts: &[Craft; 2]) {
        let Some(craft) = self.meant else { return };
        if line.starts_with("Restarted") {
            self.meet("S11 restarted");
            let starts = crafts[craft].starts();
            if starts <= self.starts {
                self.breaks("S11", now, format!("{line:?}, and it did not restart"));
            }
            self.starts = starts;
        }
        if line.contains("still there") {
            self.meet("S11 kept");
            let wanted = self.intents.iter().map(|(name, (_, to))| (name.clone(), to.clone())).collect();
            self.stored(now, "S11", craft, crafts, &wanted, line);
        }
    }

    /// Without its battery a craft goes dark with its cable, and what was written and never stored is gone: a later
    /// *still there* does not speak of it.
    pub fn unplugged(&mut self, crafts: &[Craft; 2]) {
        let Some(craft) = self.meant.map(|meant| &crafts[meant]).filter(|craft| craft.pack_volts() < 1.0) else {
            return;
        };
        let truth = craft.truth();
        self.intents.retain(|name, (_, wanted)| same(&truth["settings"][name]["stored"], wanted));
    }

    fn stored(
        &mut self,
        now: Time,
        property: &'static str,
        craft: usize,
        crafts: &[Craft; 2],
        wanted: &BTreeMap<String, Value>,
        says: &str,
    ) {
        let truth = crafts[craft].truth();
        for (name, wanted) in wanted {
            let stored = &truth["settings"][name]["stored"];
            if !same(stored, wanted) {
                self.breaks(property, now, format!("{says}: {name} is to be {wanted}, and {stored} is stored"));
            }
        }
    }

    /// What the journal calls kept is what the craft stores (S4; law 6).
    pub(super) fn journal(&mut self, now: Time, bytes: &[u8], crafts: &[Craft; 2]) {
        for line in String::from_utf8_lossy(bytes).lines() {
            let Ok(line) = serde_json::from_str::<Value>(line) else { continue };
            for write in line["writes"].as_array().into_iter().flatten() {
                let name = write["name"].as_str().unwrap_or_default().to_owned();
                self.announced.insert(name, (line["step"].as_u64().unwrap_or(0), number(&write["to"])));
            }
            let read = line["read"].as_object().into_iter().flatten();
            let read: BTreeMap<String, Value> = read.map(|(name, value)| (name.clone(), number(value))).collect();
            // Told to be otherwise than it was to be: what is kept from then on is what was read (S4).
            if line["state"] == "failed" {
                let step = line["step"].as_u64();
                self.intents.retain(|_, (of, _)| Some(*of) != step);
            }
            if line["state"] == "kept-over-restart"
                && let Some(craft) = self.meant
            {
                self.meet("S4");
                self.stored(now, "S4", craft, crafts, &read, "the journal says kept over a restart");
            }
        }
    }
}

/// Whether a value is stored as it was to be, as far as a board's numbers tell.
fn same(stored: &Value, wanted: &Value) -> bool {
    match (stored.as_f64(), wanted.as_f64()) {
        (Some(stored), Some(wanted)) => (stored - wanted).abs() <= wanted.abs() * 1e-6,
        _ => stored == wanted,
    }
}

/// A number as the journal writes it: alone, or with its kind.
fn number(value: &Value) -> Value {
    match value.as_object() {
        Some(object) => object.values().find(|value| value.is_number()).cloned().unwrap_or(Value::Null),
        None => value.clone(),
    }
}
