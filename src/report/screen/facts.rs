//! What was looked up at the bench prompt: findings, facts under a heading, a recipe's text.
//!
//! Promises: findings have the words of `check`; every text passes the gate. Must not be here: what is a fact.

use super::line::{Ink, Page, ink};
use crate::language::finding::Finding;
use crate::language::recipe::File;
use crate::plan::step::Plan;
use crate::report::findings::{self, Look};
use crate::report::gate;
use crate::report::plan_text;
use crate::report::words::{folded, wrap};
use crate::seam::ui::Fact;

/// Widest column of names.
const NAMES: usize = 30;

/// Findings with the lines that they point at, as `check` shows them.
pub(super) fn findings(page: &mut Page, files: &[File], found: &[Finding]) {
    let style = page.style();
    // Each has passed the gate where it was made.
    let text = findings::text(files, found, Look::of(style.plain, style.colour));
    let text = if style.plain { text } else { folded(&text, page.width()) };
    text.trim_end().lines().for_each(|line| page.row(line.to_owned()));
}

/// Facts below each other, their values in one column.
pub(super) fn facts(page: &mut Page, title: &str, facts: &[Fact]) {
    page.heading(&gate::line(title));
    let style = page.style();
    let width = facts.iter().map(|fact| gate::line(&fact.name).chars().count()).max().unwrap_or(0).min(NAMES);
    for fact in facts {
        let (name, value) = (gate::line(&fact.name), gate::line(&fact.value));
        let mark = if fact.mind { "mind this: " } else { "" };
        if style.plain {
            let name = if name.is_empty() { String::new() } else { format!("{name}: ") };
            page.row(format!("{name}{mark}{value}"));
            continue;
        }
        let colour = if fact.mind { Ink::Warning } else { Ink::Quiet };
        let room = page.width().saturating_sub(width + 4).max(20);
        for (at, line) in wrap(&format!("{mark}{value}"), room).into_iter().enumerate() {
            let name = if at == 0 { format!("{name:<width$}") } else { " ".repeat(width) };
            page.row(format!("  {}  {line}", ink(style, colour, &name)).trim_end().to_owned());
        }
    }
    page.gap();
}

/// A text as it is, set off by a bar.
pub(super) fn text(page: &mut Page, text: &str) {
    page.gap();
    let bar = if page.style().plain { "" } else { "  | " };
    for line in text.lines() {
        page.row(format!("{bar}{}", gate::line(line)).trim_end().to_owned());
    }
    page.gap();
}

/// A plan in full, in the words of `dry-run`.
pub(super) fn dry_run(page: &mut Page, plan: &Plan) {
    page.gap();
    let text = if page.style().plain { plan_text::plain(plan) } else { plan_text::page(plan, page.width()) };
    for line in text.lines() {
        page.row(line.to_owned());
    }
    page.gap();
}
