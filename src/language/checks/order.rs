//! The order of a first set-up: what needs no battery first, so that the pack goes in once.

use super::codes;
use crate::language::finding::Finding;
use crate::language::recipe::{Part, Recipe, Require, Statement, StatementKind};
use crate::language::span::Span;
use crate::language::turning::{Does, does};
use crate::language::units::{Angle, Voltage};

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
    // Alarms, an idle of its own and what is set by name stand where one likes, and so does what is not whole.
    let anywhere = matches!(
        what,
        StatementKind::AtZeroThrottle(_)
            | StatementKind::IdleAt(_)
            | StatementKind::Battery { .. }
            | StatementKind::CalibrateLevel
            | StatementKind::Set { .. }
            | StatementKind::Waiting { .. }
    );
    match does(what) {
        _ if anywhere => None,
        Does::Watches | Does::Writes => Some(Stage::Unpowered),
        Does::RunsByCommand => Some(Stage::Motors),
        Does::RunsBySwitch if matches!(what, StatementKind::IdleSearch(_) | StatementKind::TestIdle { .. }) => {
            Some(Stage::Idle)
        }
        Does::RunsBySwitch => Some(Stage::Proof),
        Does::Looks | Does::Keeps | Does::PlugsIn | Does::PlugsOut | Does::Arms => None,
    }
}

/// A condition and where it stands.
type Held<'r, T> = Option<(T, &'r Span)>;

/// A looser condition behind a tighter one: every later motor step still waits for the tighter one.
fn looser(recipe: &Recipe, found: &mut Vec<Finding>) {
    let (mut level, mut volts): (Held<'_, Angle>, Held<'_, Voltage>) = (None, None);
    for statement in &recipe.statements {
        let place = statement.part(Part::Value);
        match statement.what {
            StatementKind::Require(Require::Level(now)) => {
                found.extend(behind(&mut level, now, place, |before| before < now, ""));
            }
            StatementKind::Require(Require::BatteryAtLeast(now)) => {
                found.extend(behind(&mut volts, now, place, |before| before > now, " per cell"));
            }
            _ => {}
        }
    }
}

/// The finding where the one that is held is tighter; else this one is held from here on.
fn behind<'r, T: Copy + std::fmt::Display>(
    held: &mut Held<'r, T>,
    now: T,
    place: &'r Span,
    tighter: impl Fn(T) -> bool,
    per: &str,
) -> Option<Finding> {
    let Some((before, at)) = held.filter(|(before, _)| tighter(*before)) else {
        *held = Some((now, place));
        return None;
    };
    let message = format!("{now}{per} is enough at this line alone: every later motor step still needs {before}{per}");
    Some(
        Finding::suggestion(codes::LOOSER_REQUIRE, place, message)
            .also(at, "the tighter one, which holds")
            .hint("leave the looser one out, or write the one that is meant in both places"),
    )
}

/// One hint a recipe, at the first statement that comes late.
pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    looser(recipe, found);
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
