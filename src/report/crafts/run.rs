//! One run from beginning to end: what it was made from, what it saw and was told, what it changed.
//!
//! Promises: what was measured and what was said stand apart, each with its moment; what is not known is said to be so.
//! Must not be here: reading any of it.

use super::{RunJson, ended, facts, moment};
use crate::record::crafts::compare::{Comparison, Row};
use crate::record::crafts::runs::Run;
use crate::record::run_log::{LogEntry, LogEvent};
use crate::report::gate;
use serde::Serialize;

/// What `craft report` reports.
#[derive(Debug, Serialize)]
pub struct ReportJson<'a> {
    schema: &'static str,
    craft: &'a str,
    is_virtual: bool,
    run: RunJson,
    number: usize,
    changed: Option<Vec<ChangedJson>>,
    log: &'a [LogEntry],
    damage: &'a [String],
}

#[derive(Debug, Serialize)]
struct ChangedJson {
    setting: String,
    before: Option<crate::board::value::Number>,
    after: Option<crate::board::value::Number>,
}

/// All that is told of a run.
#[derive(Debug, Clone, Copy)]
pub struct RunReport<'a> {
    /// What the craft is called.
    pub craft: &'a str,
    /// The run.
    pub run: &'a Run,
    /// Which of how many.
    pub number: (usize, usize),
    /// Settings before and after; `None`: they were not read at its end.
    pub changed: Option<&'a Comparison>,
    /// Its log.
    pub log: &'a [LogEntry],
    /// What could not be read.
    pub damage: &'a [String],
}

pub(in crate::report) fn changed(comparison: &Comparison) -> impl Iterator<Item = &Row> {
    [&comparison.differ, &comparison.new, &comparison.gone, &comparison.counters].into_iter().flatten()
}

/// As JSON.
#[must_use]
pub fn json(told: RunReport<'_>) -> ReportJson<'_> {
    let one = |row: &Row| ChangedJson { setting: row.name.to_string(), before: row.left, after: row.right };
    ReportJson {
        schema: "quadjig.craft-report/1",
        craft: told.craft,
        is_virtual: told.run.board.is_virtual(),
        run: told.run.into(),
        number: told.number.0,
        changed: told.changed.map(|all| changed(all).map(one).collect()),
        log: told.log,
        damage: told.damage,
    }
}

/// As lines.
#[must_use]
pub fn text(told: RunReport<'_>, plain: bool) -> String {
    let RunReport { run, .. } = told;
    let mut head: Vec<(String, String)> = Vec::new();
    let mut say = |name: &str, value: &str| head.push((name.to_owned(), gate::line(value).into_owned()));
    say("craft", &format!("{}{}", told.craft, if run.board.is_virtual() { "  VIRTUAL" } else { "" }));
    say("run", &format!("{} of {}", told.number.0, told.number.1));
    say("recipe", &run.recipe);
    say("began", &moment(&run.at));
    say("ended", &run.end.as_ref().map_or_else(|| "not known".to_owned(), |end| moment(&end.at)));
    say("outcome", &ended(run));
    if let Some(made) = &run.provenance {
        say("program", &made.program);
        say("operator", made.operator.as_deref().unwrap_or("not said"));
        say("recipe hash", made.recipe_hash.as_deref().unwrap_or("no recipe"));
        say("filled hash", made.filled_hash.as_deref().unwrap_or("no recipe"));
        for file in &made.files {
            say("file", &format!("{}  {}", file.sha256, file.name));
        }
        say("sheet", &format!("{}  {}", made.sheet.sha256, made.sheet.name));
        if let Some(card) = &made.radio_card {
            say("radio card", &format!("{}  {}", card.sha256, card.name));
        }
        for with in &made.with {
            say("with", with);
        }
    } else {
        say("made from", "not kept by the version that ran it");
    }
    match told.changed {
        Some(all) => {
            for row in changed(all) {
                let value = |value: Option<crate::board::value::Number>| {
                    value.map_or_else(|| "none".to_owned(), |value| value.to_string())
                };
                say("changed", &format!("{}: {} to {}", row.name, value(row.left), value(row.right)));
            }
        }
        None => say("changed", "not known: the settings were not read at the end"),
    }
    for damage in told.damage {
        say("damage", damage);
    }
    let mut text = facts(&head, plain);
    if !plain && !told.log.is_empty() {
        text.push('\n');
    }
    let log: Vec<(String, String)> = told.log.iter().map(|entry| line(entry, plain)).collect();
    text.push_str(&facts(&log, plain));
    text
}

fn line(entry: &LogEntry, plain: bool) -> (String, String) {
    let time: String = moment(&entry.at).chars().skip(11).collect();
    let (what, said) = told(&entry.seen);
    let said = gate::line(&said).into_owned();
    if plain { (format!("{time} {what}"), said) } else { (time, format!("{what:<9} {said}")) }
}

/// What kind of thing was seen, and what, in words.
pub fn told(seen: &LogEvent) -> (&'static str, String) {
    match seen {
        LogEvent::Step { title } => ("step", title.clone()),
        LogEvent::Measured { text, .. } => ("measured", text.clone()),
        LogEvent::Attested { text } => ("said", text.clone()),
        LogEvent::Good { text } => ("good", text.clone()),
        LogEvent::Warning { text } => ("warning", text.clone()),
        LogEvent::Start { pulse, start, motors, .. } => {
            let motors: Vec<String> = motors
                .iter()
                .map(|motor| {
                    let rpm = motor.rpm.map_or_else(String::new, |rpm| format!(" {rpm:.0} rpm"));
                    let uneven = motor.unevenness.map_or_else(String::new, |by| format!(" +- {:.1} %", by * 100.0));
                    format!("{}{rpm}{uneven} {}", motor.corner, motor.judged)
                })
                .collect();
            ("start", format!("{start} at {pulse} us: {}", motors.join(", ")))
        }
        LogEvent::Stop { reason, delivery: None } => ("STOP", reason.clone()),
        LogEvent::Stop { reason, delivery: Some(delivery) } => ("STOP", format!("{delivery}: {reason}")),
        LogEvent::AtRest { seen: true } => ("at rest", "all outputs seen at rest".to_owned()),
        LogEvent::AtRest { seen: false } => ("AT REST", "NOT SEEN: the battery was to be pulled".to_owned()),
    }
}
