//! The plan before it runs, in short: what will change, and how much there is to do.
//!
//! Must not be here: the full list of steps with their guards, which the dry run shows.

use super::line::{Ink, Page};
use crate::board::effect::Effect;
use crate::plan::step::{Plan, Unknown};
use crate::plan::titles::count;
use crate::report::gate;

pub(super) fn plan(page: &mut Page, plan: &Plan) {
    // A copy of settings that is brought back, and a change that is taken back, have no title of their own.
    page.title(if plan.title.is_empty() { "What will be done" } else { "What this run will do" });
    if !plan.title.is_empty() {
        page.say("", &format!("the recipe says: \"{}\"", gate::line(&plan.title)));
    }
    let of = |effect: Effect| plan.steps.iter().filter(|step| step.effect == effect).count();
    let (turning, looking) = (of(Effect::TurnsMotors), of(Effect::Looks));
    let restarts = count(plan.restarts(), "restart");
    let plug_ins = count(plan.plug_ins(), "plug-in");
    let all = plan.steps.len();
    page.say("steps", &format!("{all}, {turning} can turn motors, {looking} only look; {restarts}, {plug_ins}"));
    let changes = plan.changes.iter().map(|change| {
        let (from, to) = (gate::line(&change.shown_from), gate::line(&change.shown_to));
        format!("{}: {from} to {to}", gate::line(&change.setting))
    });
    together(page, "changes", &changes.collect::<Vec<_>>());
    together(page, "will find", &unknown(&plan.unknown));
    if plan.changes.is_empty() && plan.unknown.is_empty() {
        page.say("changes", "none; everything asked for is on the board");
    }
    for remark in &plan.remarks {
        page.inked(Ink::Warning, "remark", &gate::line(&remark.to_string()));
    }
    page.say("fingerprint", &gate::line(&plan.fingerprint));
}

/// Facts in one paragraph; for a screen reader one a line.
fn together(page: &mut Page, label: &str, facts: &[String]) {
    if page.style().plain {
        for fact in facts {
            page.say(label, fact);
        }
    } else if !facts.is_empty() {
        page.say(label, &facts.join("; "));
    }
}

/// Settings whose values will be found, those of one range together.
fn unknown(all: &[Unknown]) -> Vec<String> {
    let mut ranges: Vec<(String, Vec<String>)> = Vec::new();
    for unknown in all {
        let range = format!("between {} and {} {}", unknown.least, unknown.most, gate::line(&unknown.unit));
        let (range, setting) = (range.trim_end().to_owned(), gate::line(&unknown.setting).into_owned());
        match ranges.iter_mut().find(|(known, _)| *known == range) {
            Some((_, settings)) => settings.push(setting),
            None => ranges.push((range, vec![setting])),
        }
    }
    ranges.into_iter().map(|(range, settings)| format!("{} {range}", by_part(&settings))).collect()
}

/// `arm: from, buzzer: from` as `arm, buzzer: from`.
fn by_part(settings: &[String]) -> String {
    let mut parts: Vec<(&str, Vec<&str>)> = Vec::new();
    for setting in settings {
        let (function, part) = setting.split_once(": ").unwrap_or((setting, ""));
        match parts.iter_mut().find(|(known, _)| *known == part) {
            Some((_, functions)) => functions.push(function),
            None => parts.push((part, vec![function])),
        }
    }
    let mut same: Vec<(Vec<&str>, Vec<&str>)> = Vec::new();
    for (part, functions) in parts {
        match same.iter_mut().find(|(known, _)| *known == functions) {
            Some((_, all)) => all.push(part),
            None => same.push((functions, vec![part])),
        }
    }
    let one = |(functions, parts): &(Vec<&str>, Vec<&str>)| match parts.join(", ") {
        part if part.is_empty() => functions.join(", "),
        part => format!("{}: {part}", functions.join(", ")),
    };
    same.iter().map(one).collect::<Vec<_>>().join(", ")
}
