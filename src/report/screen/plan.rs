//! The plan before it runs, in short: what will change, and how much there is to do.
//!
//! Must not be here: the full list of steps with their guards, which the dry run shows.

use super::line::{Ink, Page};
use crate::board::effect::Effect;
use crate::plan::step::Plan;
use crate::report::gate;
use crate::report::words::counted;

pub(super) fn plan(page: &mut Page, plan: &Plan) {
    // A copy of settings that is brought back, and a change that is taken back, have no title of their own.
    page.heading(if plan.title.is_empty() { "What will be done" } else { "What this run will do" });
    if !plan.title.is_empty() {
        page.say("", &format!("the recipe says: \"{}\"", gate::line(&plan.title)));
    }
    page.gap();
    let turning = plan.steps.iter().filter(|step| step.effect == Effect::TurnsMotors).count();
    page.say("steps", &format!("{}, of which {turning} can turn motors", plan.steps.len()));
    page.say("restarts", &plan.restarts().to_string());
    page.say("plug-ins", &plan.plug_ins().to_string());
    page.gap();
    for change in &plan.changes {
        let (from, to) = (gate::line(&change.shown.0), gate::line(&change.shown.1));
        page.say("changes", &format!("{}: {from} to {to}", gate::line(&change.setting)));
    }
    for unknown in &plan.unknown {
        let unit = gate::line(&unknown.unit);
        let range = format!("between {} and {} {unit}", unknown.least, unknown.most);
        page.say("will find", &format!("{}: {}", gate::line(&unknown.setting), range.trim_end()));
    }
    if plan.changes.is_empty() && plan.unknown.is_empty() {
        page.say("changes", "none; everything asked for is on the board");
    }
    for remark in &plan.remarks {
        page.inked(Ink::Warning, "remark", &gate::line(&remark.to_string()));
    }
    page.gap();
    let reads = counted(plan.steps.iter().filter(|step| step.effect == Effect::Looks).count() as u64, "step");
    page.say("read only", &reads);
    page.say("fingerprint", &gate::line(&plan.fingerprint));
    page.gap();
}
