//! What earlier runs left behind that is not settled, said at every start until it is.
//!
//! Must not be here: what is done about it.

use crate::bench::session::context::SessionContext;
use crate::record::CraftRecord;
use crate::record::crafts::shown::Void;
use crate::record::ledger::{Entry, Stands};
use crate::seam::ui::Tone;

/// Says what of the record could not be read, which runs of this craft were cut off, and what is old, new or unknown
/// of what they wrote.
pub(in crate::bench) fn say_interrupted(bench: &SessionContext, record: &CraftRecord) {
    let warn = |text: String| bench.line(Tone::Warning, text);
    let ledger = bench.ledger.borrow();
    for damage in &record.damage {
        warn(crate::bench::session::context::capital(&format!("{damage}.")));
    }
    for shown in &record.voided {
        let why: Vec<String> = shown.void.iter().map(Void::words).collect();
        warn(format!(
            "The {} was shown {}, and that counts no more: {}. It has to be shown again.",
            shown.kind.word(),
            shown.at,
            why.join("; ")
        ));
    }
    for line in ledger.damaged() {
        warn(format!(
            "Line {line} of {} is damaged: what it said, and what became of what stands before it, is unknown.",
            crate::record::journal::FILE
        ));
    }
    let cut_off = ledger.cut_off();
    for run in &cut_off {
        warn(format!("The run of \"{}\" that began {} on this craft was cut off before its end.", run.recipe, run.at));
    }
    let (mut here, mut gone) = (Vec::new(), Vec::new());
    for (name, entry) in ledger.open() {
        let now = bench.look(|live| live.settings.get(name).copied());
        if entry.read().is_none() {
            let value = |value: Option<_>| value.map_or_else(|| "unknown".to_owned(), |it| format!("{it}"));
            let (old, new) = (value(entry.before()), value(entry.wanted()));
            warn(format!("{name} was to go from {old} to {new}; it is {}.", words(entry, now)));
        } else if entry.stands(now) == Stands::New {
            here.push(name.as_str());
        } else {
            gone.push(name.as_str());
        }
    }
    if !here.is_empty() {
        warn(format!("It wrote these, and did not come to keep them over a restart: {}.", here.join(", ")));
    }
    if !gone.is_empty() {
        warn(format!("It wrote these too, and they are not on the board any more: {}.", gone.join(", ")));
    }
    if let Some(run) = cut_off.first() {
        warn(format!(
            "This run plans from what is on the board now. To go back instead: quadjig restore {}",
            record.folder.join(&run.snapshot).display()
        ));
    }
}

fn words(entry: &Entry, now: Option<crate::board::value::Number>) -> String {
    match (entry.stands(now), now) {
        (Stands::New, _) => "new".to_owned(),
        (Stands::Old, _) => "old".to_owned(),
        (Stands::OnItsWay, Some(now)) => format!("on its way: {now}"),
        (Stands::Neither, Some(now)) => format!("neither old nor new: {now}"),
        _ => "unknown".to_owned(),
    }
}
