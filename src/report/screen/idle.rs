//! An idle search as a table and a plot: speed and evenness by pulse, corner by corner.
//!
//! Promises: every judgement is a word, not a colour or a length; drawn as the panel that stays in sight while an idle is
//! stepped.
//! Must not be here: how a start is judged (see `measure`).

use super::idle_cells::{cells, share};
use super::idle_panel;
use super::line::{Ink, Page};
use super::strip::initials;
use crate::language::units::Pulse;
use crate::plan::titles::count;
use crate::report::gate;
use crate::seam::ui::{Beside, IdleFound, MotorSeen, StartSeen};

/// One start as it is seen: the motors that turn in one line, any other in a line of its own.
pub(super) fn start(page: &mut Page, start: &StartSeen) {
    let (turn, not): (Vec<&MotorSeen>, Vec<&MotorSeen>) = start.motors.iter().partition(|motor| motor.turns);
    let named = format!("{} start {}", start.pulse, start.start);
    if page.style().plain {
        for motor in turn {
            page.inked(Ink::Good, "turns", &format!("{named}: {}", said(motor)));
        }
    } else if !turn.is_empty() {
        let one = |motor: &&MotorSeen| {
            let speed = motor.rpm.map_or_else(String::new, |rpm| format!(" {rpm:.0}"));
            format!("{}{speed}", initials(&motor.corner))
        };
        let speeds: Vec<String> = turn.iter().map(one).collect();
        let uneven = turn.iter().filter_map(|motor| motor.unevenness).reduce(f64::max);
        let uneven = uneven.map_or_else(String::new, |uneven| format!(", uneven {}", share(uneven)));
        page.inked(Ink::Good, "turns", &format!("{named}: {}{uneven}", speeds.join(" ")));
    }
    if page.style().plain {
        for motor in not {
            page.inked(Ink::Warning, "no start", &format!("{named}: {}", said(motor)));
        }
        return;
    }
    // Of several that did the same it is said once.
    let mut whys: Vec<(&str, Vec<String>)> = Vec::new();
    for motor in not {
        match whys.iter_mut().find(|(why, _)| *why == motor.judged) {
            Some((_, corners)) => corners.push(initials(&motor.corner)),
            None => whys.push((&motor.judged, vec![initials(&motor.corner)])),
        }
    }
    for (why, corners) in whys {
        let corners = corners.join(" ");
        page.inked(Ink::Warning, "no start", &format!("{named}: {corners}: {}", gate::line(why)));
    }
}

fn said(motor: &MotorSeen) -> String {
    let speed = motor.rpm.map_or_else(String::new, |rpm| format!(", {rpm:.0} rpm"));
    let uneven = motor.unevenness.map_or_else(String::new, |uneven| format!(", unevenness {}", share(uneven)));
    format!("{} {}{speed}{uneven}", gate::line(&motor.corner), gate::line(&motor.judged))
}

/// What was measured so far, without a conclusion, and another craft's at the same values.
pub(super) fn so_far(page: &mut Page, starts: &[StartSeen], beside: Option<&Beside>) {
    page.heading("Measured so far");
    rows(page, starts);
    let pulses: Vec<Pulse> = starts.iter().map(|start| start.pulse).collect();
    if let Some(Beside { craft, starts }) = beside {
        page.heading(&format!("For comparison, {}", gate::line(craft)));
        let same = starts.iter().filter(|start| pulses.contains(&start.pulse)).cloned();
        rows(page, &same.collect::<Vec<_>>());
    }
    page.gap();
}

fn rows(page: &mut Page, starts: &[StartSeen]) {
    if page.style().plain {
        for cell in &cells(starts) {
            page.row(format!(
                "{} {}: turned in {} of {}, speed rpm {}, unevenness {}, {}",
                cell.pulse,
                cell.corner,
                cell.turned,
                cell.starts,
                cell.speed(),
                cell.unevenness(),
                cell.judged
            ));
        }
    } else {
        for row in idle_panel::rows(starts, None, page.width()) {
            page.row(row);
        }
    }
}

/// The whole search.
pub(super) fn found(page: &mut Page, found: &IdleFound) {
    if found.chosen && !page.style().plain {
        // The table that was in sight all the while has gone up just now.
        page.title("Idle chosen");
    } else {
        page.title("Idle search");
        rows(page, &found.starts);
    }
    match found.lowest {
        Some(lowest) => {
            let proved = count(found.proved_starts, "start");
            page.say(
                if found.chosen { "chosen" } else { "lowest" },
                &format!("{lowest}: every motor started every time, in {proved}"),
            );
        }
        None => page.inked(Ink::Warning, "lowest", "none of these values started every motor every time"),
    }
    let margin = if found.lowest.is_some() { format!(", with the margin of {}", found.margin) } else { String::new() };
    let pack = found.volts.map_or_else(|| "its volts not measured".to_owned(), |volts| format!("at {volts:.2} V"));
    page.inked(Ink::Strong, "kept", &format!("{}{margin}; pack {pack}, no propellers", found.kept));
}
