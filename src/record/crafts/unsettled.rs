//! What earlier runs left behind that is not settled, in words: said by every command on a craft until it is.
//!
//! Promises: old, new, neither and unknown are told apart, each setting in one place. Must not be here: what is done
//! about it.

use super::shown::Void;
use crate::board::sheet::Settings;
use crate::board::value::{Number, SettingName};
use crate::language::characters::capital;
use crate::record::ledger::{CutOff, Entry, Ledger, Stands};
use crate::record::{CraftRecord, journal};
use std::collections::BTreeMap;

/// Where it is settled.
pub const WAY_ON: &str = "What is done from here on is planned from what is on the board now. To finish what was cut off, or to put back \
     what it wrote: `quadjig recover`";

/// What a setting is called: in a sheet's words where one is known.
pub type Named<'n> = &'n dyn Fn(&SettingName) -> String;

/// What of the record could not be read, which runs of this craft were cut off, and what is old, new or unknown of what
/// they wrote, by what is on the board `now`; `None`: it is not looked at.
#[must_use]
pub fn words(record: &CraftRecord, ledger: &Ledger, now: Option<&Settings>, named: Named<'_>) -> Vec<String> {
    let mut all: Vec<String> = record.damage.iter().map(|damage| capital(&format!("{damage}."))).collect();
    for shown in &record.voided {
        let why: Vec<String> = shown.void.iter().map(Void::words).collect();
        all.push(format!(
            "The {} was shown {}, and that counts no more: {}. It has to be shown again.",
            shown.kind.word(),
            shown.at,
            why.join("; ")
        ));
    }
    all.extend(open(ledger, now, named));
    all
}

/// What is not settled: the runs that were cut off, and what they wrote; nothing where all is.
#[must_use]
pub fn open(ledger: &Ledger, now: Option<&Settings>, named: Named<'_>) -> Vec<String> {
    let mut all = Vec::new();
    for line in ledger.damaged() {
        all.push(format!(
            "Line {line} of {} is damaged: what it said, and what became of what stands before it, is unknown.",
            journal::FILE
        ));
    }
    let cut_off = ledger.cut_off();
    for run in &cut_off {
        all.push(format!("{} on this craft was cut off before its end.", of(run)));
    }
    all.extend(now.into_iter().flat_map(|now| settings(ledger, now, named)));
    if !cut_off.is_empty() {
        all.push(WAY_ON.to_owned());
    }
    all
}

fn of(run: &CutOff) -> String {
    format!("The run of \"{}\" that began {}", run.recipe, run.at)
}

fn settings(ledger: &Ledger, now: &Settings, named: Named<'_>) -> Vec<String> {
    let mut all = Vec::new();
    // By whether they are still there, and by who wrote them.
    let mut wrote: BTreeMap<(bool, String), Vec<String>> = BTreeMap::new();
    let by = |entry: &Entry| ledger.writer(entry).map_or_else(|| "An earlier run".to_owned(), of);
    for (name, entry) in ledger.open() {
        let now = now.get(name).copied();
        match entry.stands(now) {
            at @ (Stands::New | Stands::Old) if entry.read().is_some() => {
                wrote.entry((at == Stands::Old, by(entry))).or_default().push(named(name));
            }
            _ => {
                let value = |value: Option<_>| value.map_or_else(|| "unknown".to_owned(), |it| format!("{it}"));
                // After a restart that nobody asked for it is as it was stored, which may be older than the value before.
                let old = if entry.stands(now) == Stands::Old { now } else { entry.before() };
                let (old, new) = (value(old), value(entry.wanted()));
                all.push(format!("{name} was to go from {old} to {new}; it is {}.", stands(entry, now)));
            }
        }
    }
    for ((gone, who), names) in wrote {
        let what = if gone { "they are not on the board any more" } else { "did not come to keep them over a restart" };
        all.push(format!("{who} wrote these, and {what}: {}.", names.join(", ")));
    }
    all
}

fn stands(entry: &Entry, now: Option<Number>) -> String {
    match (entry.stands(now), now) {
        (Stands::New, _) => "new".to_owned(),
        (Stands::Old, _) => "old".to_owned(),
        (Stands::OnItsWay, Some(now)) => format!("on its way: {now}"),
        (Stands::Neither, Some(now)) => format!("neither old nor new: {now}"),
        _ => "unknown".to_owned(),
    }
}
