//! What a run that was cut off left behind, said at the next start.
//!
//! Must not be here: what is done about it.

use crate::bench::session::context::SessionContext;
use crate::board::value::Number;
use crate::record::CraftRecord;
use crate::record::journal::{Interrupted, interrupted, unsaved};
use crate::seam::ui::Tone;
use std::collections::BTreeSet;

/// Says whether the last run of this craft was cut off, and what is old, new or unknown of what it wrote.
pub(in crate::bench) fn say_interrupted(bench: &SessionContext, record: &CraftRecord) {
    let Some(was) = interrupted(record) else { return };
    bench.line(
        Tone::Warning,
        format!("The run of \"{}\" that began {} on this craft was cut off before its end.", was.recipe, was.at),
    );
    for (name, from, values) in open_settings(&was) {
        let now =
            bench.look(|live| live.settings.iter().find(|(known, _)| known.as_str() == name).map(|(_, value)| *value));
        let to = values.last().copied().unwrap_or(from);
        let state = match now {
            Some(now) if now.same(to) => "new".to_owned(),
            Some(now) if now.same(from) => "old".to_owned(),
            Some(now) if values.iter().any(|value| now.same(*value)) => format!("on its way: {now}"),
            Some(now) => format!("neither old nor new: {now}"),
            None => "unknown".to_owned(),
        };
        bench.line(Tone::Warning, format!("{name} was to go from {from} to {to}; it is {state}."));
    }
    say_unsaved(bench, record, &was);
    let snapshot = record.folder.join(&was.snapshot);
    bench.line(
        Tone::Warning,
        format!(
            "This run plans from what is on the board now. To go back instead: quadjig restore {}",
            snapshot.display()
        ),
    );
}

/// What the run wrote and read back, and did not come to keep: still on the board, or gone with a restart.
fn say_unsaved(bench: &SessionContext, record: &CraftRecord, was: &Interrupted) {
    let unsaved = unsaved(record);
    let (mut here, mut gone) = (BTreeSet::new(), BTreeSet::new());
    let done = was.intents.iter().filter(|intent| !intent.is_open()).flat_map(|intent| &intent.writes);
    for write in done {
        let Some(name) = unsaved.iter().find(|name| name.as_str() == write.name) else { continue };
        let is_here = bench.look(|live| live.settings.get(name).is_some_and(|now| now.same(write.to)));
        let (to, from) = if is_here { (&mut here, &mut gone) } else { (&mut gone, &mut here) };
        from.remove(name.as_str());
        to.insert(name.as_str());
    }
    let list = |names: BTreeSet<&str>| names.into_iter().collect::<Vec<_>>().join(", ");
    if !here.is_empty() {
        bench.line(
            Tone::Warning,
            format!("It wrote these, and did not come to keep them over a restart: {}.", list(here)),
        );
    }
    if !gone.is_empty() {
        bench.line(
            Tone::Warning,
            format!("It wrote these too, and they are not on the board any more: {}.", list(gone)),
        );
    }
}

/// Each setting of the open intents once, with its old value and all that were to be written, in order: a band
/// is closed first and opened last, so that a name may stand twice.
fn open_settings(was: &Interrupted) -> Vec<(&str, Number, Vec<Number>)> {
    let mut all: Vec<(&str, Number, Vec<Number>)> = Vec::new();
    for write in was.open().flat_map(|unfinished| &unfinished.writes) {
        match all.iter_mut().find(|(name, ..)| *name == write.name) {
            Some((_, _, values)) => values.push(write.to),
            None => all.push((&write.name, write.from, vec![write.to])),
        }
    }
    all
}
