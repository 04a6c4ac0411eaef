//! What the program says and writes down, held against what the craft stores and how often it truly started.
//!
//! Must not be here: what leaves on the wire.

use super::Judge;
use quadjig::measure::time::Time;
use quadjig::virtual_board::{Deed, World as Craft};
use serde_json::Value;
use std::collections::BTreeMap;

impl Judge {
    /// Words that claim something are true (S11; interlock.md 3, evidence, and law 6).
    pub(super) fn words(&mut self, now: Time, line: &str, crafts: &[Craft; 2], at_wire: usize) {
        if line.contains("guardian process took over the stop") && !std::mem::take(&mut self.guardian_sent) {
            self.breaks("S11", now, format!("{line:?}, and it sent nothing"));
        }
        let Some(craft) = self.meant else { return };
        if line.starts_with("Restarted") {
            self.meet("S11 restarted");
            let of = self.spoken_of(craft, at_wire);
            let starts = crafts[of].starts();
            // One that came in the place of another without an id, its clock another, is one that started.
            let another = self.nameless && self.swapped.is_some();
            if starts <= self.starts[of] && !another {
                self.breaks("S11", now, format!("{line:?}, and it did not restart"));
            }
            self.starts[of] = starts;
        }
        self.said_lines.push(line.to_owned());
        if line.ends_with("(read back)") {
            self.read_back(now, line, &crafts[craft]);
        }
        self.stands(now, line, &crafts[craft]);
        // Of what broke off nothing is claimed any more but what is read of it from then on, to which S4 holds the journal.
        if line.starts_with("Broken off") || line.starts_with("Not read since it was to be written") {
            self.intents.retain(|name, _| !self.batch.0.contains_key(name));
        }
        // What a restart took back, and was said to, is not spoken of by a later *still there*.
        if line.starts_with("Read after the restart, and not as it was written") {
            self.unstored_is_gone(&crafts[craft]);
        }
        if line.contains("still there") {
            self.meet("S11 kept");
            let wanted = self.intents.iter().map(|(name, (_, to))| (name.clone(), to.clone())).collect();
            self.stored(now, "S11", self.spoken_of(craft, at_wire), crafts, &wanted, line);
        }
    }

    /// Of which craft something is said: of the one that was met, but where nothing tells it from another that was heard since.
    pub(super) fn spoken_of(&self, met: usize, at_wire: usize) -> usize {
        if self.nameless && self.first_foreign.is_some() { at_wire } else { met }
    }

    /// Without its battery a craft goes dark with its cable.
    pub fn unplugged(&mut self, crafts: &[Craft; 2]) {
        if let Some(craft) = self.meant.map(|meant| &crafts[meant]).filter(|craft| craft.pack_volts() < 1.0) {
            self.unstored_is_gone(craft);
        }
    }

    /// A craft started that was not told to.
    pub(super) fn started(&mut self, now: Time, crafts: &[Craft; 2]) {
        let starts = [crafts[0].starts(), crafts[1].starts()];
        let Some(meant) = self.meant.filter(|meant| starts[*meant] != self.looked_at[*meant]) else { return };
        self.looked_at = starts;
        self.started_at = now;
        if !std::mem::take(&mut self.restarts) {
            self.unstored_is_gone(&crafts[meant]);
        }
    }

    /// What was written and never stored is gone: a later *still there* does not speak of it.
    fn unstored_is_gone(&mut self, craft: &Craft) {
        let truth = craft.truth();
        self.intents.retain(|name, (_, wanted)| same(&truth["settings"][name]["stored"], wanted));
    }

    /// What was read back stands on the board, stored or not (S11; law 6).
    fn read_back(&mut self, now: Time, line: &str, craft: &Craft) {
        let (batch, starts) = self.batch.clone();
        if self.swapped.is_some() || self.beside.is_some() || self.nameless || craft.starts() != starts {
            return;
        }
        // A board that answers a write with what it did not take, whose answer comes once more, late: no message tells that from
        // the answer to the question after it.
        if self.repeats && craft.config().conduct.writes == Deed::Hollow {
            return;
        }
        self.meet("S11 read back");
        for (name, wanted) in batch {
            let is = working(craft, &name);
            if !same(&is, &wanted) {
                self.breaks("S11", now, format!("{line:?}, and {name} is {is}, not {wanted}"));
            }
        }
    }

    /// What an earlier run wrote is called old, new or neither as it is, and unknown by nobody who has read it (S5, S11).
    fn stands(&mut self, now: Time, line: &str, craft: &Craft) {
        if let Some((name, rest)) = line.split_once(" was to go from ")
            && let Some((old, rest)) = rest.split_once(" to ")
            && let Some((new, is)) = rest.split_once("; it is ")
        {
            self.meet("S5");
            let truth = working(craft, name);
            let as_truth = |told: &str| told.parse::<f64>().is_ok_and(|told| same(&told.into(), &truth));
            let right = match is.trim_end_matches('.') {
                "new" => as_truth(new),
                "old" => as_truth(old),
                other => match other.split_once(": ") {
                    Some(("on its way", now)) => as_truth(now) && !as_truth(new),
                    Some((_, now)) => as_truth(now) && !as_truth(new) && !as_truth(old),
                    None => false,
                },
            };
            if !right {
                self.breaks("S5", now, format!("{line:?}, and it is {truth}"));
            }
        }
        let (here, gone) = ("to keep them over a restart: ", "are not on the board any more: ");
        for (said, is_here) in [(here, true), (gone, false)] {
            let Some((_, names)) = line.split_once(said) else { continue };
            for name in names.trim_end_matches('.').split(", ") {
                let Some(wanted) = self.earlier.get(name).cloned() else { continue };
                self.meet("S5");
                if same(&working(craft, name), &wanted) != is_here {
                    self.breaks("S5", now, format!("{line:?}, and {name} is {}", working(craft, name)));
                }
            }
        }
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

    /// What the journal calls kept or read is what the craft stores (S4; law 6).
    pub(super) fn journal(&mut self, now: Time, bytes: &[u8], crafts: &[Craft; 2], at_wire: usize) {
        for line in String::from_utf8_lossy(bytes).lines() {
            let Ok(line) = serde_json::from_str::<Value>(line) else { continue };
            for write in line["writes"].as_array().into_iter().flatten() {
                let name = write["name"].as_str().unwrap_or_default().to_owned();
                self.ever_announced.push((name.clone(), number(&write["to"])));
                self.announced.insert(name, (line["step"].as_u64().unwrap_or(0), number(&write["to"])));
            }
            if let (Some(writes), Some(craft)) = (line["writes"].as_array(), self.meant) {
                let named = |write: &Value| Some((write["name"].as_str()?.to_owned(), number(&write["to"])));
                self.batch = (writes.iter().filter_map(named).collect(), crafts[craft].starts());
            }
            let read = line["read"].as_object().into_iter().flatten();
            let read: BTreeMap<String, Value> = read.map(|(name, value)| (name.clone(), number(value))).collect();
            // Told to be otherwise than it was to be: what is kept from then on is what was read (S4).
            if line["state"] == "failed" {
                self.failed = true;
                let step = line["step"].as_u64();
                self.intents.retain(|_, (of, _)| Some(*of) != step);
            }
            // Whatever became of the step: what is noted as read is what the craft has stored.
            if let Some(craft) = self.meant.filter(|_| !read.is_empty()) {
                self.meet("S4");
                let says = format!("the journal says read, {}", line["state"]);
                self.stored(now, "S4", self.spoken_of(craft, at_wire), crafts, &read, &says);
            }
            // Reading after a restart may break off: what was read by then, and as it was to be, is kept all the same.
            let was_to_be = |name: &String| self.ever_announced.iter().rev().find(|(known, _)| known == name);
            let kept = read.iter().filter(|(name, is)| {
                let whole = line["state"] == "kept-over-restart";
                let in_part = line["state"] == "failed" && self.batch.0.is_empty();
                whole || in_part && was_to_be(name).is_some_and(|(_, to)| same(is, to))
            });
            self.kept.extend(kept.map(|(name, _)| name.clone()).collect::<Vec<_>>());
        }
    }
}

/// What a setting is now, kept or not.
fn working(craft: &Craft, name: &str) -> Value {
    craft.truth()["settings"][name]["working"].clone()
}

/// Whether two values are the same, as far as a board's numbers tell.
pub fn same(one: &Value, other: &Value) -> bool {
    match (one.as_f64(), other.as_f64()) {
        (Some(one), Some(other)) => (one - other).abs() <= other.abs() * 1e-6,
        _ => one == other,
    }
}

/// A number as the journal writes it: alone, or with its kind.
pub fn number(value: &Value) -> Value {
    match value.as_object() {
        Some(object) => object.values().find(|value| value.is_number()).cloned().unwrap_or(Value::Null),
        None => value.clone(),
    }
}
