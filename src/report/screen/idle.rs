//! An idle search as a table and a plot: speed and evenness by pulse, corner by corner.
//!
//! Promises: every judgement is a word, not a colour or a length; drawn as the panel that stays in sight while an idle is
//! stepped.
//! Must not be here: how a start is judged (see `measure`).

use super::idle_panel;
use super::line::{Ink, Page};
use super::strip::initials;
use crate::language::units::Pulse;
use crate::report::gate;
use crate::report::words::counted;
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

fn share(unevenness: f64) -> String {
    format!("{:.1} %", unevenness * 100.0)
}

/// All starts of one pulse at one corner.
pub(super) struct Cell {
    pub(super) pulse: Pulse,
    pub(super) corner: String,
    pub(super) starts: usize,
    pub(super) turned: usize,
    /// Median speeds of the starts: least and most.
    pub(super) speed: Option<(f64, f64)>,
    /// The worst of the starts.
    pub(super) unevenness: Option<f64>,
    /// Judged of the worst start.
    pub(super) judged: String,
    /// Speeds of the last start in whole rpm.
    pub(super) trace: Vec<u32>,
}

/// Cells by ascending pulse, corners in the order in which they came.
pub(super) fn cells(starts: &[StartSeen]) -> Vec<Cell> {
    let mut pulses: Vec<Pulse> = starts.iter().map(|start| start.pulse).collect();
    pulses.sort_unstable();
    pulses.dedup();
    let mut corners: Vec<&str> = Vec::new();
    for motor in starts.iter().flat_map(|start| &start.motors) {
        if !corners.contains(&motor.corner.as_str()) {
            corners.push(&motor.corner);
        }
    }
    let mut cells = Vec::new();
    for pulse in pulses {
        for corner in &corners {
            let seen: Vec<&MotorSeen> = starts
                .iter()
                .filter(|start| start.pulse == pulse)
                .flat_map(|start| &start.motors)
                .filter(|motor| motor.corner == *corner)
                .collect();
            if let Some(first) = seen.first() {
                cells.push(cell(pulse, first, &seen));
            }
        }
    }
    cells
}

fn cell(pulse: Pulse, first: &MotorSeen, seen: &[&MotorSeen]) -> Cell {
    let worst = seen.iter().find(|motor| !motor.turns).unwrap_or(&first);
    let speeds = || seen.iter().filter_map(|motor| motor.rpm).filter(|rpm| rpm.is_finite());
    let finite = |value: f64| value.is_finite().then_some(value);
    Cell {
        pulse,
        corner: gate::line(&first.corner).into_owned(),
        starts: seen.len(),
        turned: seen.iter().filter(|motor| motor.turns).count(),
        speed: finite(speeds().fold(f64::INFINITY, f64::min)).zip(finite(speeds().fold(f64::NEG_INFINITY, f64::max))),
        unevenness: seen.iter().filter_map(|motor| motor.unevenness).reduce(f64::max),
        judged: gate::line(&worst.judged).into_owned(),
        trace: seen.last().map_or_else(Vec::new, |motor| motor.trace.iter().map(|rpm| whole(*rpm)).collect()),
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a speed in rpm fits")]
fn whole(rpm: f64) -> u32 {
    rpm.abs().round() as u32
}

impl Cell {
    fn speed(&self) -> String {
        match self.speed {
            None => "not told".to_owned(),
            Some((least, most)) if most - least < 0.5 => format!("{least:.0}"),
            Some((least, most)) => format!("{least:.0} to {most:.0}"),
        }
    }

    fn unevenness(&self) -> String {
        self.unevenness.map_or_else(|| "not told".to_owned(), share)
    }
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
            let proved = counted(found.proved_starts.into(), "start");
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
