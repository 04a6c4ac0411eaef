//! The dry run as JSON, `quadjig.dry-run/1`: the plan, or why there is none.
//!
//! Promises: the fields that the project's command reference names, under these names for ever; more
//! may be added. Must not be here: writing it out (the caller's gate does).

use super::wire::Message;
use crate::language::span::Place;
use crate::plan::problem::PlanError;
use crate::plan::step::{Action, Change, Plan, Step, Unknown, Write};
use crate::plan::titles;
use serde::Serialize;

/// Name of this form of JSON.
pub const SCHEMA: &str = "quadjig.dry-run/1";

/// See the module.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DryRunJson {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// Title of the recipe.
    pub recipe: String,
    /// Binds the plan to all it was made from.
    pub fingerprint: String,
    /// The board.
    pub board: BoardJson,
    /// Whether nothing will be written, stored or restarted.
    pub satisfied: bool,
    /// Values that change.
    pub changes: Vec<Change>,
    /// Values that only the bench can tell.
    pub unknown: Vec<Unknown>,
    /// Steps in order.
    pub steps: Vec<StepJson>,
    /// Restarts of the board.
    pub restarts: usize,
    /// How often the battery goes in.
    pub plug_ins: usize,
    /// Most questions that the operator is asked.
    pub questions: usize,
    /// Remarks.
    pub remarks: Vec<String>,
    /// The very messages, where asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wire: Option<Vec<Message>>,
}

/// The board of a plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[expect(missing_docs, reason = "the fields are named for the reader of the JSON")]
pub struct BoardJson {
    pub name: String,
    pub id: String,
    pub firmware: String,
    #[serde(rename = "virtual")]
    pub is_virtual: bool,
}

/// One step.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[expect(missing_docs, reason = "the fields are named for the reader of the JSON")]
pub struct StepJson {
    pub number: usize,
    pub effect: &'static str,
    pub what: String,
    pub guards: Vec<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub writes: Vec<Write>,
    pub at: Place,
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RefusedJson {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// Every refusal.
    pub refused: Vec<RefusalJson>,
}

/// One refusal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[expect(missing_docs, reason = "the fields are named as in the findings of a check")]
pub struct RefusalJson {
    pub code: &'static str,
    pub severity: &'static str,
    pub message: String,
    pub hints: Vec<String>,
    pub at: Place,
}

/// A plan as a JSON value, with the very messages where asked for.
#[must_use]
pub fn plan(plan: &Plan, wire: Option<&[Message]>) -> DryRunJson {
    DryRunJson {
        schema: SCHEMA,
        recipe: plan.title.clone(),
        fingerprint: plan.fingerprint.clone(),
        board: BoardJson {
            name: plan.board.clone(),
            id: plan.identity.id.clone(),
            firmware: plan.identity.firmware.clone(),
            is_virtual: plan.identity.is_virtual(),
        },
        satisfied: plan.is_satisfied(),
        changes: plan.changes.clone(),
        unknown: plan.unknown.clone(),
        steps: plan.steps.iter().map(step).collect(),
        restarts: plan.restarts(),
        plug_ins: plan.plug_ins(),
        questions: plan.questions(),
        remarks: plan.remarks.iter().map(ToString::to_string).collect(),
        wire: wire.map(<[Message]>::to_vec),
    }
}

/// Refusals as a JSON value.
#[must_use]
pub fn refused(errors: &[PlanError]) -> RefusedJson {
    let one = |PlanError { at, problem }: &PlanError| RefusalJson {
        code: problem.code(),
        severity: "error",
        message: problem.to_string(),
        hints: vec![problem.hint()],
        at: at.clone(),
    };
    RefusedJson { schema: SCHEMA, refused: errors.iter().map(one).collect() }
}

fn step(step: &Step) -> StepJson {
    StepJson {
        number: step.number,
        effect: titles::effect(step.effect),
        what: titles::title(&step.act),
        guards: step.guards.iter().map(titles::guard).collect(),
        writes: if let Action::Write(writes) = &step.act { writes.clone() } else { Vec::new() },
        at: step.at.clone(),
    }
}
