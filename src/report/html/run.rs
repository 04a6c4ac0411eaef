//! One run of a craft as a page.
//!
//! Promises: what was measured and what was said stand apart, each with its moment; what is not known is said to be so.
//! Must not be here: reading any of it.

use super::checklist;
use super::doc::Doc;
use super::idle::{self, Start};
use super::lines::{self, Measured};
use super::prop_map::{self, Motor};
use super::switches::{self, Bound};
use crate::board::value::Number;
use crate::plan::naming::Naming;
use crate::record::crafts::repair::ProofKind;
use crate::record::run_log::{LogEntry, LogEvent};
use crate::record::{Proof, ProofSubject};
use crate::report::crafts::run::{RunReport, changed, told};
use crate::report::crafts::{ended, moment};

/// All that stands on the page.
#[derive(Debug, Clone, Copy)]
pub struct RunPage<'a> {
    /// As the report tells it.
    pub told: RunReport<'a>,
    /// Who reviewed the recipe, in sentences; none: nobody, or it is not known.
    pub reviews: &'a [String],
    /// The radio and the bands at its end, where the sheet and the settings were kept.
    pub bound: Option<Bound<'a>>,
    /// What the run showed.
    pub proofs: &'a [Proof],
    /// Of which kinds something is shown of the craft, and not void.
    pub stands: &'a [ProofKind],
}

/// The page.
#[must_use]
pub fn page(page: RunPage<'_>) -> String {
    let RunReport { craft, run, log, .. } = page.told;
    let mark = if run.board.is_virtual() { " (VIRTUAL)" } else { "" };
    let mut doc = Doc::new(&format!("{craft}{mark}: {}", run.recipe));
    doc.para(
        "",
        &format!("Run {} of {}, begun {}: {}.", page.told.number.0, page.told.number.1, moment(&run.at), ended(run)),
    );
    if run.board.is_virtual() {
        doc.para("mind", "VIRTUAL: no craft was touched. This proves nothing about yours.");
    }
    for damage in page.told.damage {
        doc.para("mind", &format!("Damaged in the record: {damage}."));
    }
    super::cautions(&mut doc);
    made_from(&mut doc, page);
    was_set(&mut doc, page);
    let motors = motors(page.proofs);
    doc.heading(2, "Motors from above, as found");
    if let Some(svg) = prop_map::drawn(&motors) {
        doc.figures(vec![(
            svg,
            "The nose is at the top. The number is the board's; the arrow is the way it turns.".to_owned(),
        )]);
    }
    if motors.is_empty() {
        doc.para("", "Not shown in this run.");
    } else {
        doc.table(
            "Motors as somebody said twice",
            &["corner", "motor", "turns, from above"],
            &prop_map::words(&motors),
        );
    }
    sticks(&mut doc, log);
    idle(&mut doc, log);
    times(&mut doc, log);
    if let Some(bound) = page.bound {
        switches::section(&mut doc, bound);
    } else {
        doc.heading(2, "Switches and bands");
        doc.para("", "Not known: the settings at the end, or the board sheet, were not kept.");
    }
    battery(&mut doc, page);
    said(&mut doc, log);
    checklist::section(&mut doc, Some(page.stands), &motors);
    course(&mut doc, log);
    doc.end()
}

fn made_from(doc: &mut Doc, page: RunPage<'_>) {
    doc.heading(2, "Made from");
    let run = page.told.run;
    let mut facts = vec![
        ("recipe", run.recipe.clone()),
        ("board", format!("{}, firmware {}, id {}", run.board.kind, run.board.firmware, run.board.told())),
    ];
    if let Some(made) = &run.provenance {
        facts.push(("program", made.program.clone()));
        facts.push(("operator", made.operator.clone().unwrap_or_else(|| "not said".to_owned())));
        facts.push(("recipe hash", made.recipe_hash.clone().unwrap_or_else(|| "no recipe".to_owned())));
        facts.push(("filled hash", made.filled_hash.clone().unwrap_or_else(|| "no recipe".to_owned())));
        facts.extend(made.files.iter().map(|file| ("file", format!("{} (SHA-256 {})", file.name, file.sha256))));
        facts.push(("board sheet", format!("{} (SHA-256 {})", made.sheet.name, made.sheet.sha256)));
        let card = made.radio_card.as_ref().map(|card| format!("{} (SHA-256 {})", card.name, card.sha256));
        facts.push(("radio card", card.unwrap_or_else(|| "none at the beginning".to_owned())));
        facts.extend(made.with.iter().map(|with| ("parameter", with.clone())));
        facts.extend(made.series.iter().map(|series| ("series", series.clone())));
    } else {
        facts.push(("made from", "not kept by the version that ran it".to_owned()));
    }
    doc.facts("What the run was made from", &facts);
    doc.heading(3, "Reviews");
    if page.reviews.is_empty() {
        doc.para("", "None is known here: nobody reviewed the recipe, or it lies elsewhere now.");
    } else {
        doc.list(page.reviews);
    }
}

fn was_set(doc: &mut Doc, page: RunPage<'_>) {
    doc.heading(2, "What was set");
    let Some(all) = page.told.changed else {
        return doc.para("mind", "Not known: the settings were not read at the end.");
    };
    let naming = page.bound.map(|bound| Naming { sheet: bound.sheet, then: bound.settings, now: bound.settings });
    let rows: Vec<Vec<String>> = changed(all)
        .map(|row| {
            let value = |value: Option<Number>| match (value, naming) {
                (None, _) => "none".to_owned(),
                (Some(value), Some(naming)) => naming.show(&row.name, value),
                (Some(value), None) => value.to_string(),
            };
            let name = naming.map_or_else(|| row.name.to_string(), |naming| naming.describe(&row.name));
            vec![name, row.name.to_string(), value(row.left), value(row.right)]
        })
        .collect();
    if rows.is_empty() {
        return doc.para("", "No setting is other than before the run.");
    }
    doc.table("Settings before and after the run", &["setting", "on the board", "before", "after"], &rows);
}

/// The motors of the last time that they were shown.
fn motors(proofs: &[Proof]) -> Vec<Motor> {
    let last = proofs.iter().rev().find_map(|proof| match &proof.subject {
        ProofSubject::Motors { corners, clockwise } => Some((corners, clockwise)),
        _ => None,
    });
    let each = last.into_iter().flat_map(|(corners, clockwise)| corners.iter().zip(clockwise));
    each.enumerate().map(|(at, (corner, clockwise))| (corner.clone(), at + 1, *clockwise)).collect()
}

fn idle(doc: &mut Doc, log: &[LogEntry]) {
    doc.heading(2, "Idle");
    let starts: Vec<Start<'_>> = log
        .iter()
        .filter_map(|entry| match &entry.seen {
            LogEvent::Start { pulse, start, motors, samples } => {
                Some(Start { pulse: *pulse, number: *start, motors, samples: samples.as_ref() })
            }
            _ => None,
        })
        .collect();
    if starts.is_empty() {
        return doc.para("", "No motor was started by its idle in this run.");
    }
    doc.figures(idle::by_corner(&starts));
    let traces = idle::traces(&starts);
    if !traces.is_empty() {
        doc.heading(3, "How the motors came up");
        doc.figures(traces);
    }
    let heads = ["start", "corner", "speed", "unevenness", "judged"];
    doc.table("Every start, motor by motor: speed and unevenness over the dwell", &heads, &idle::rows(&starts));
}

/// What was measured with its samples: times to rest, or else.
fn measured(log: &[LogEntry], times: bool) -> Vec<Measured<'_>> {
    log.iter()
        .filter_map(|entry| match &entry.seen {
            LogEvent::Measured { text, samples: Some(samples) } if samples.most_ms.is_some() == times => {
                Some((text.as_str(), samples))
            }
            _ => None,
        })
        .collect()
}

/// The sticks as they moved; nothing where none were tested.
fn sticks(doc: &mut Doc, log: &[LogEntry]) {
    let sticks = measured(log, false);
    if !sticks.is_empty() {
        doc.heading(2, "Sticks as they moved");
        doc.figures(sticks.into_iter().map(lines::signals).collect());
    }
}

fn times(doc: &mut Doc, log: &[LogEntry]) {
    doc.heading(2, "Cut and failsafe");
    let measured = measured(log, true);
    let Some(intervals) = lines::intervals(&measured) else {
        return doc.para("", "Neither was measured in this run.");
    };
    doc.figures(vec![intervals]);
    let rows: Vec<Vec<String>> = measured
        .iter()
        .map(|(text, samples)| {
            let ms = |value: Option<f64>| value.map_or_else(String::new, |value| format!("{value:.0} ms"));
            vec![(*text).to_owned(), ms(samples.least_ms), ms(samples.most_ms), samples.zero.clone()]
        })
        .collect();
    doc.table("Times to rest, as intervals", &["what", "at least", "at most", "from"], &rows);
    doc.figures(measured.into_iter().map(lines::signals).collect());
}

fn battery(doc: &mut Doc, page: RunPage<'_>) {
    doc.heading(2, "Battery");
    let volts: Vec<Vec<String>> = page
        .proofs
        .iter()
        // A pack that is out shows next to nothing.
        .filter(|proof| proof.volts.is_some_and(|volts| volts > 1.0))
        .filter_map(|proof| {
            Some(vec![
                ProofKind::of(&proof.subject).word().to_owned(),
                format!("{:.2} V", proof.volts?),
                moment(&proof.at),
            ])
        })
        .collect();
    if volts.is_empty() {
        doc.para("", "No pack voltage was measured in this run.");
    } else {
        doc.table("The pack while something was shown, without propellers", &["shown", "pack", "when"], &volts);
    }
    let Some(bound) = page.bound else { return };
    let naming = Naming { sheet: bound.sheet, then: bound.settings, now: bound.settings };
    let of_battery = bound.settings.iter().filter_map(|(name, value)| {
        let word = bound.sheet.word_of(name)?.0;
        word.starts_with("battery").then(|| vec![word.to_owned(), naming.show(name, *value)])
    });
    let rows: Vec<Vec<String>> = of_battery.collect();
    if !rows.is_empty() {
        doc.table("What the board was told of the battery", &["setting", "value"], &rows);
    }
}

/// What a person said, with its moment.
fn said(doc: &mut Doc, log: &[LogEntry]) {
    doc.heading(2, "Said by a person at the bench");
    let rows: Vec<Vec<String>> = log
        .iter()
        .filter_map(|entry| match &entry.seen {
            LogEvent::Attested { text } => Some(vec![moment(&entry.at), text.clone()]),
            _ => None,
        })
        .collect();
    if rows.is_empty() {
        return doc.para("", "Nothing was.");
    }
    doc.table("Attestations: nothing measured these", &["when", "what"], &rows);
}

/// The course of the run, without what stands above.
fn course(doc: &mut Doc, log: &[LogEntry]) {
    doc.heading(2, "Course of the run");
    let rows: Vec<Vec<String>> = log
        .iter()
        .filter_map(|entry| {
            // These have tables of their own.
            if matches!(entry.seen, LogEvent::Attested { .. } | LogEvent::Start { .. }) {
                return None;
            }
            let (what, text) = told(&entry.seen);
            Some(vec![moment(&entry.at), what.to_owned(), text])
        })
        .collect();
    if rows.is_empty() {
        return doc.para("", "No log of it was kept.");
    }
    doc.table("Steps, what was measured, and what was warned of", &["when", "kind", "what"], &rows);
}
