//! The dry run as text: what would change, what only the bench can tell, and every step with its guards.
//!
//! Promises: every text of a recipe or a board passes the gate; meaning is never carried by colour or
//! position alone. Must not be here: colour, the terminal.

use super::gate;
use super::words::{columns, wrap};
use crate::board::effect::Effect;
use crate::language::characters::capital;
use crate::plan::problem::PlanError;
use crate::plan::step::{Action, Change, Plan, Step};
use crate::plan::titles::{self, count};
use std::fmt::Write;

/// A plan as a page of so many columns.
#[must_use]
pub fn page(plan: &Plan, width: usize) -> String {
    let mut page = Page { width, ..Page::default() };
    page.line(0, &format!("Dry run of \"{}\": nothing is written.", plan.title));
    page.gap();
    let virtual_board = if plan.identity.is_virtual() { " (VIRTUAL)" } else { "" };
    page.table(
        2,
        &[
            vec!["board".to_owned(), format!("{}{virtual_board}", plan.board)],
            vec!["id".to_owned(), plan.identity.id.clone()],
            vec!["firmware".to_owned(), plan.identity.firmware.clone()],
            vec!["fingerprint".to_owned(), plan.fingerprint.clone()],
        ],
    );
    changes(&mut page, plan);
    unknown(&mut page, plan);
    steps(&mut page, plan);
    page.gap();
    let turning = plan.steps.iter().filter(|step| step.effect == Effect::TurnsMotors).count();
    page.line(
        0,
        &format!(
            "{}, {turning} of them can turn motors; {}; battery in {}; at most {}.",
            count(plan.steps.len(), "step"),
            count(plan.restarts(), "restart"),
            count(plan.plug_ins(), "time"),
            count(plan.questions(), "question")
        ),
    );
    if plan.is_satisfied() {
        page.line(0, "All that would be set is on the board: nothing will be written.");
    }
    for remark in &plan.remarks {
        page.gap();
        page.line(0, &format!("Remark: {remark}"));
    }
    page.text
}

/// A plan line by line, each `name: value`, for a screen reader.
#[must_use]
pub fn plain(plan: &Plan) -> String {
    let mut page = Page::default();
    let mut fact = |name: &str, value: &str| page.raw(&format!("{name}: {value}"));
    fact("dry run of", &plan.title);
    fact("board", &plan.board);
    fact("virtual", if plan.identity.is_virtual() { "yes" } else { "no" });
    fact("id", &plan.identity.id);
    fact("firmware", &plan.identity.firmware);
    fact("fingerprint", &plan.fingerprint);
    for change in &plan.changes {
        let (from, to) = (&change.shown_from, &change.shown_to);
        fact("change", &format!("{} ({}) from {from} to {to}, {}", change.setting, change.on_board, change.at));
    }
    for unknown in &plan.unknown {
        let range = range(unknown.least, unknown.most, &unknown.unit);
        fact("only the bench can tell", &format!("{}, {range}, {}", unknown.setting, unknown.at));
    }
    for step in &plan.steps {
        let title = titles::title(&step.act);
        fact(&format!("step {}", step.number), &format!("{title}; {}; {}", titles::effect(step.effect), step.at));
        for write in written(step) {
            fact("writes", &write.join(" "));
        }
        if !step.guards.is_empty() {
            fact("guards", &guards(step));
        }
    }
    fact("restarts", &plan.restarts().to_string());
    fact("plug-ins", &plan.plug_ins().to_string());
    fact("questions at most", &plan.questions().to_string());
    for remark in &plan.remarks {
        fact("remark", &remark.to_string());
    }
    page.text
}

/// Why there is no plan: each refusal with its place and what to do, in so many columns.
#[must_use]
pub fn refused(errors: &[PlanError], width: usize) -> String {
    let mut page = Page { width, ..Page::default() };
    page.line(0, &format!("This cannot be carried out on this board: {}.", count(errors.len(), "reason")));
    for PlanError { at, problem } in errors {
        page.gap();
        page.raw(&format!("{at}: {}", problem.code()));
        page.line(2, &sentence(&problem.to_string()));
        page.line(2, &format!("What to do: {}", problem.hint()));
    }
    page.text
}

fn changes(page: &mut Page, plan: &Plan) {
    if plan.changes.is_empty() {
        let open = plan.unknown.len();
        return page.heading(&match open {
            0 => "What changes: nothing.".to_owned(),
            _ => {
                format!("What changes: nothing that is known yet; {} only the bench can tell.", count(open, "setting"))
            }
        });
    }
    page.heading("What changes:");
    let mut rows = vec![["setting", "on the board", "now", "then", "because of"].map(str::to_owned).to_vec()];
    rows.extend(plan.changes.iter().map(|change| {
        let Change { setting, on_board, shown_from, shown_to, at, .. } = change.clone();
        vec![setting, on_board.to_string(), shown_from, shown_to, at.to_string()]
    }));
    page.table(2, &rows);
}

fn unknown(page: &mut Page, plan: &Plan) {
    if plan.unknown.is_empty() {
        return;
    }
    page.heading("What only the bench can tell:");
    let rows: Vec<Vec<String>> = plan
        .unknown
        .iter()
        .map(|unknown| {
            let range = range(unknown.least, unknown.most, &unknown.unit);
            vec![unknown.setting.clone(), range, unknown.at.to_string()]
        })
        .collect();
    page.table(2, &rows);
}

fn steps(page: &mut Page, plan: &Plan) {
    page.heading("Steps:");
    for step in &plan.steps {
        let head = format!("{:>3}  {:<13}", step.number, titles::effect(step.effect));
        let title = format!("{} ({})", titles::title(&step.act), step.at);
        page.hanging(&head, &title);
        let rows = written(step);
        if !rows.is_empty() {
            page.table(20, &rows);
        }
        if !step.guards.is_empty() {
            page.hanging(&" ".repeat(18), &format!("if: {}", guards(step)));
        }
    }
}

fn written(step: &Step) -> Vec<Vec<String>> {
    let Action::Write(writes) = &step.act else { return Vec::new() };
    writes.iter().map(|write| vec![write.name.to_string(), "=".to_owned(), write.shown.clone()]).collect()
}

fn guards(step: &Step) -> String {
    step.guards.iter().map(titles::guard).collect::<Vec<_>>().join(", ")
}

fn range(least: f64, most: f64, unit: &str) -> String {
    format!("{least} to {most} {unit}").trim_end().to_owned()
}

/// A message with a capital and a full stop.
fn sentence(message: &str) -> String {
    format!("{}.", capital(message))
}

/// Lines, every one through the gate.
#[derive(Default)]
struct Page {
    text: String,
    width: usize,
}

impl Page {
    fn raw(&mut self, line: &str) {
        // Writing into a string cannot fail.
        let _ = writeln!(self.text, "{}", gate::line(line).trim_end());
    }

    fn gap(&mut self) {
        self.text.push('\n');
    }

    fn heading(&mut self, text: &str) {
        self.gap();
        self.raw(text.trim_end());
        self.gap();
    }

    fn line(&mut self, indent: usize, text: &str) {
        self.hanging(&" ".repeat(indent), text);
    }

    /// Text behind a head, its further lines under its first.
    fn hanging(&mut self, head: &str, text: &str) {
        let indent = head.chars().count();
        for (number, line) in wrap(&gate::line(text), self.width.saturating_sub(indent)).iter().enumerate() {
            let before = if number == 0 { head.to_owned() } else { " ".repeat(indent) };
            self.raw(&format!("{before}{line}"));
        }
    }

    fn table(&mut self, indent: usize, rows: &[Vec<String>]) {
        let rows: Vec<Vec<String>> =
            rows.iter().map(|row| row.iter().map(|cell| gate::line(cell).into_owned()).collect()).collect();
        let widest = |column: usize| rows.iter().filter_map(|row| row.get(column)).map(|cell| columns(cell)).max();
        let widths: Vec<usize> = (0..).map_while(widest).collect();
        let whole = indent + widths.iter().map(|width| width + 2).sum::<usize>().saturating_sub(2);
        // What does not fit beside the others stands below them.
        let below = whole > self.width && widths.len() > 2;
        for row in &rows {
            let mut line = " ".repeat(indent);
            for (column, cell) in row.iter().enumerate() {
                if below && column + 1 == widths.len() {
                    self.raw(&line);
                    line = " ".repeat(indent + 2);
                }
                let _ = write!(line, "{cell}{}  ", " ".repeat(widths[column].saturating_sub(columns(cell))));
            }
            self.raw(&line);
        }
    }
}
