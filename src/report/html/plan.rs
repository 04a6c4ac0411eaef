//! A plan as a page: what a recipe would change on a board, and every step.
//!
//! Must not be here: whether it may be carried out.

use super::checklist;
use super::doc::Doc;
use super::switches::{self, Bound};
use crate::plan::problem::PlanError;
use crate::plan::step::{Action, Change, Plan, Step};
use crate::plan::titles;

/// The page. `reviews`: who reviewed the recipe, in sentences; `None`: there is no recipe. `bound`: the radio, and the bands as they would be.
#[must_use]
pub fn page(plan: &Plan, reviews: Option<&[String]>, bound: Bound<'_>) -> String {
    let mut doc = Doc::new(&format!("Dry run: {}", plan.title));
    doc.para("", "Nothing is written by a dry run: this is what a run would do on this board, as it is now.");
    if plan.identity.is_virtual() {
        doc.para("mind", "VIRTUAL: no craft is touched.");
    }
    super::cautions(&mut doc);
    doc.heading(2, "Planned for");
    doc.facts(
        "The board, and what binds the plan to all that it was made from",
        &[
            ("board", plan.board.clone()),
            ("id", plan.identity.told()),
            ("firmware", plan.identity.firmware.clone()),
            ("fingerprint", plan.fingerprint.clone()),
            ("steps", plan.steps.len().to_string()),
            ("restarts", plan.restarts().to_string()),
            ("battery in", format!("{} times", plan.plug_ins())),
            ("questions", format!("at most {}", plan.questions())),
        ],
    );
    if let Some(reviews) = reviews {
        doc.heading(3, "Reviews");
        if reviews.is_empty() {
            doc.para("", "None: nobody reviewed the recipe.");
        } else {
            doc.list(reviews);
        }
    }
    changes(&mut doc, plan);
    switches::section(&mut doc, bound);
    steps(&mut doc, plan);
    if !plan.remarks.is_empty() {
        doc.heading(2, "Remarks");
        doc.list(&plan.remarks.iter().map(ToString::to_string).collect::<Vec<_>>());
    }
    checklist::section(&mut doc, None, &[]);
    doc.end()
}

fn changes(doc: &mut Doc, plan: &Plan) {
    doc.heading(2, "What changes");
    if plan.changes.is_empty() {
        doc.para("", "Nothing: all that would be set is on the board.");
    } else {
        let row = |change: &Change| {
            let Change { setting, on_board, shown_from, shown_to, at, .. } = change.clone();
            vec![setting, on_board.to_string(), shown_from, shown_to, at.to_string()]
        };
        let rows: Vec<Vec<String>> = plan.changes.iter().map(row).collect();
        let heads = ["setting", "on the board", "now", "then", "because of"];
        doc.table("Settings that a run would change", &heads, &rows);
    }
    if !plan.unknown.is_empty() {
        let rows: Vec<Vec<String>> = plan
            .unknown
            .iter()
            .map(|open| {
                let range = format!("{} to {} {}", open.least, open.most, open.unit);
                vec![open.setting.clone(), range.trim_end().to_owned(), open.at.to_string()]
            })
            .collect();
        doc.table("What only the bench can tell", &["setting", "within", "because of"], &rows);
    }
}

fn steps(doc: &mut Doc, plan: &Plan) {
    doc.heading(2, "Steps");
    let row = |step: &Step| {
        let mut what = titles::title(&step.act);
        if let Action::Write(writes) = &step.act {
            let writes: Vec<String> = writes.iter().map(|write| format!("{} = {}", write.name, write.shown)).collect();
            what = format!("{what}: {}", writes.join(", "));
        }
        let guards: Vec<String> = step.guards.iter().map(titles::guard).collect();
        vec![step.number.to_string(), titles::effect(step.effect).to_owned(), what, guards.join(", ")]
    };
    let rows: Vec<Vec<String>> = plan.steps.iter().map(row).collect();
    doc.table(
        "Each step, the worst that it can do, and what must hold for it",
        &["step", "effect", "what", "only if"],
        &rows,
    );
}

/// The page where there is no plan.
#[must_use]
pub fn refused(title: &str, errors: &[PlanError]) -> String {
    let mut doc = Doc::new(&format!("Dry run: {title}"));
    doc.para("mind", "This cannot be carried out on this board.");
    let row = |PlanError { at, problem }: &PlanError| {
        vec![at.to_string(), problem.code().to_owned(), problem.to_string(), problem.hint()]
    };
    let rows: Vec<Vec<String>> = errors.iter().map(row).collect();
    doc.table("Why not, and what to do", &["place", "code", "what", "what to do"], &rows);
    doc.end()
}
