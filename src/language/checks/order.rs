//! The order of a first set-up: what needs no battery first, so that the pack goes in once.

use super::codes;
use crate::language::finding::Finding;
use crate::language::recipe::{Recipe, Statement, StatementKind};

/// Stages of a first set-up, in order; a statement without one may stand anywhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Stage {
    /// Battery out: receiver, sticks, switches, link loss, orientation, bindings, failsafe, signal.
    Unpowered,
    /// Battery in: which motor is where, and which way it turns.
    Motors,
    /// The lowest reliable idle.
    Idle,
    /// Proof with motors running.
    Proof,
}

fn stage(what: &StatementKind) -> Option<Stage> {
    match what {
        StatementKind::Receiver { .. }
        | StatementKind::Channels(_)
        | StatementKind::FindSwitch { .. }
        | StatementKind::FindSticks { .. }
        | StatementKind::FindLinkLoss { .. }
        | StatementKind::TestSticks { .. }
        | StatementKind::BoardTurned(_)
        | StatementKind::Bind { .. }
        | StatementKind::Unbind(_)
        | StatementKind::Failsafe(_)
        | StatementKind::Signal { .. } => Some(Stage::Unpowered),
        StatementKind::TestMotors | StatementKind::OrderMotors => Some(Stage::Motors),
        StatementKind::IdleSearch(_) | StatementKind::TestIdle { .. } => Some(Stage::Idle),
        StatementKind::TestCut { .. } | StatementKind::TestFailsafe { .. } => Some(Stage::Proof),
        _ => None,
    }
}

/// One hint a recipe, at the first statement that comes late.
pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    let mut reached: Option<(Stage, &Statement)> = None;
    for statement in &recipe.statements {
        let Some(now) = stage(&statement.what) else { continue };
        match reached {
            Some((stage, earlier)) if now < stage => {
                let message = match now {
                    Stage::Unpowered => {
                        "this needs no battery, and the battery is in by now: more plug-ins, and their questions again"
                    }
                    _ => "this comes after steps that build on it: what they proved may have to be proved again",
                };
                found.push(
                    Finding::suggestion(codes::UNUSUAL_ORDER, &statement.span, message)
                        .also(&earlier.span, "this came first")
                        .hint(
                            "usual order: radio, switches, bindings, failsafe and signal; then motors, idle and tests",
                        ),
                );
                return;
            }
            Some((stage, _)) if now == stage => {}
            _ => reached = Some((now, statement)),
        }
    }
}
