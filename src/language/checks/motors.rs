//! Motors: fixed values under the ceilings, spinning only under a switch, signals in force.

use super::search::above_ceiling;
use super::{codes, scan};
use crate::language::ceilings;
use crate::language::finding::Finding;
use crate::language::recipe::{Form, Idle, Part, Recipe, StatementKind, ZeroThrottle};
use crate::language::span::Span;
use crate::language::turning::runs_motors;
use crate::language::units::time;

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    for statement in &recipe.statements {
        match &statement.what {
            StatementKind::IdleAt(idle) => fixed(*idle, statement.part(Part::Value), found),
            StatementKind::AtZeroThrottle(ZeroThrottle::Spin) => spin(recipe, &statement.span, found),
            StatementKind::Failsafe(wait) if *wait > ceilings::LINK_LOSS_WAIT => {
                let message =
                    format!("after a lost link the motors would run on for {} with nobody in control", time(*wait));
                let advice = format!("write at most {}", time(ceilings::LINK_LOSS_WAIT));
                found.push(above_ceiling(statement.part(Part::Value), message, advice));
            }
            StatementKind::TestCut { within } | StatementKind::TestFailsafe { within } if within.is_zero() => {
                let message = "no board cuts its motors in no time: the test could not pass";
                found.push(
                    Finding::error(codes::NOTHING_TO_PROVE, statement.part(Part::Within), message)
                        .hint("write a time such as 250 ms"),
                );
            }
            _ => {}
        }
    }
    power_cycle(recipe, found);
}

fn fixed(idle: Idle, place: &Span, found: &mut Vec<Finding>) {
    let (written, ceiling) = match idle {
        Idle::Pulse(pulse) if pulse > ceilings::PULSE => (pulse.to_string(), ceilings::PULSE.to_string()),
        Idle::Percent(share) if share > ceilings::IDLE_SHARE => (share.to_string(), ceilings::IDLE_SHARE.to_string()),
        _ => return,
    };
    let message = format!("an idle of {written} would have motors race as soon as the craft is armed");
    found.push(above_ceiling(place, message, format!("write at most {ceiling}")));
}

/// Motors that spin whenever the craft is armed need a switch that disarms.
fn spin(recipe: &Recipe, place: &Span, found: &mut Vec<Finding>) {
    let waiting = recipe.statements.iter().any(|s| matches!(s.what, StatementKind::Waiting { form: Form::Bind, .. }));
    if waiting || scan::bound(recipe).any(|bound| bound.function.is_arm()) {
        return;
    }
    let message = "motors would spin at zero throttle, and no switch of this recipe arms or stops them";
    found.push(
        Finding::error(codes::SPIN_WITHOUT_ARM, place, message)
            .hint("bind arm to a switch: `bind arm to switch B position 2`"),
    );
}

/// Speed controllers choose their signal when the battery goes in: between a new signal and the
/// next motor step stands a power cycle.
fn power_cycle(recipe: &Recipe, found: &mut Vec<Finding>) {
    let mut pending: Option<&Span> = None;
    for statement in &recipe.statements {
        match &statement.what {
            StatementKind::Signal { .. } => pending = Some(&statement.span),
            StatementKind::PowerCycle => pending = None,
            what if runs_motors(what) => {
                let Some(signal) = pending.take() else { continue };
                let message = "the speed controllers would still listen for the signal that they chose when the battery went in: motors may not answer, or answer wrongly";
                let before =
                    Span { file: statement.span.file, range: statement.span.range.start..statement.span.range.start };
                found.push(
                    Finding::error(codes::POWER_CYCLE_MISSING, &statement.span, message)
                        .also(signal, "the signal is set here")
                        .replace("write `power cycle` before this line", &before, "power cycle\n"),
                );
            }
            _ => {}
        }
    }
}
