//! What to go through before the propellers go on, and at the first power-up with them.
//!
//! Promises: what was not shown is said to be missing, never left out. Must not be here: what counts as shown.

use super::doc::Doc;
use super::prop_map::{Motor, words};
use crate::record::crafts::repair::ProofKind;
use crate::report::cautions::FLIGHT;

/// What has to be shown before a craft flies.
const SHOWN: [ProofKind; 5] = [ProofKind::Arm, ProofKind::Cut, ProofKind::Failsafe, ProofKind::Idle, ProofKind::Motors];

/// A section of a page. `shown`: what is shown of the craft and stands; `None`: nothing is known of that.
pub(super) fn section(doc: &mut Doc, shown: Option<&[ProofKind]>, motors: &[Motor]) {
    doc.heading(2, "Before the propellers go on");
    doc.para("quiet", "A list to go through with the craft in hand. It proves nothing by itself.");
    let mut items = vec!["The battery is out, and stays out until all of this is ticked.".to_owned()];
    for kind in SHOWN {
        let word = kind.word();
        items.push(match shown {
            Some(shown) if shown.contains(&kind) => format!("Shown on this craft, and not void since: {word}."),
            Some(_) => format!("NOT SHOWN, or void: {word}. Show it before the propellers go on."),
            None => format!("Shown on this craft, by its run: {word}."),
        });
    }
    if motors.is_empty() {
        items.push("Which propeller belongs on which motor: not shown here. Find out before any goes on.".to_owned());
    }
    for row in words(motors) {
        items.push(format!("{}: motor {}, a propeller that pushes air down when it turns {}.", row[0], row[1], row[2]));
    }
    items.push("Every propeller is tight, and turns by hand without touching anything.".to_owned());
    items.push(
        "The video antenna is on; nothing hangs loose near a propeller; the battery is strapped down.".to_owned(),
    );
    doc.checklist(&items);
    doc.heading(2, "First power-up with propellers");
    doc.checklist(&FLIGHT.map(str::to_owned));
}
