//! An idle search as a table and a plot: speed and evenness by pulse, corner by corner.
//!
//! Promises: every judgement is a word, not a colour or a length; fits 80 columns.
//! Must not be here: how a start is judged (see `measure`).

use super::line::{Ink, Page};
use crate::language::units::Pulse;
use crate::report::gate;
use crate::report::words::counted;
use crate::seam::ui::{IdleFound, MotorSeen, StartSeen};

/// One start as it is seen, one line a motor.
pub(super) fn start(page: &mut Page, start: &StartSeen) {
    for motor in &start.motors {
        let line = format!("{} start {}: {}", start.pulse, start.start, said(motor));
        let (colour, label) = if motor.turns { (Ink::Good, "turns") } else { (Ink::Warning, "no start") };
        page.inked(colour, label, &line);
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
struct Cell {
    pulse: Pulse,
    corner: String,
    starts: usize,
    turned: usize,
    /// Median speeds of the starts: least and most.
    speed: Option<(f64, f64)>,
    /// The worst of the starts.
    unevenness: Option<f64>,
    /// Judged of the worst start.
    judged: String,
}

/// Cells by ascending pulse, corners in the order in which they came.
fn cells(starts: &[StartSeen]) -> Vec<Cell> {
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
    }
}

impl Cell {
    fn speed(&self) -> String {
        match self.speed {
            None => "not measured".to_owned(),
            Some((least, most)) if most - least < 0.5 => format!("{least:.0}"),
            Some((least, most)) => format!("{least:.0} to {most:.0}"),
        }
    }

    fn unevenness(&self) -> String {
        self.unevenness.map_or_else(|| "not measured".to_owned(), share)
    }
}

/// What was measured so far, without a conclusion.
pub(super) fn so_far(page: &mut Page, starts: &[StartSeen]) {
    page.heading("Measured so far");
    rows(page, &cells(starts));
    page.gap();
}

fn rows(page: &mut Page, cells: &[Cell]) {
    if page.style().plain {
        for cell in cells {
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
        table(page, cells);
    }
}

/// The whole search.
pub(super) fn found(page: &mut Page, found: &IdleFound) {
    let cells = cells(&found.starts);
    page.heading("Idle search");
    rows(page, &cells);
    if !page.style().plain {
        plot(page, &cells);
    }
    page.gap();
    match found.lowest {
        Some(lowest) => {
            let proved = counted(found.proved_starts.into(), "start");
            page.say(
                if found.chosen { "chosen" } else { "lowest" },
                &format!("{lowest}: every motor started every time, in {proved}"),
            );
            page.say("margin", &format!("{}", found.margin));
        }
        None => page.inked(Ink::Warning, "lowest", "none of these values started every motor every time"),
    }
    page.inked(Ink::Strong, "kept", &found.kept.to_string());
    match found.volts {
        Some(volts) => page.say("pack", &format!("{volts:.2} V at the last start, without propellers")),
        None => page.say("pack", "voltage not measured, without propellers"),
    }
    page.gap();
}

fn table(page: &mut Page, cells: &[Cell]) {
    let row = |pulse: &str, corner: &str, turned: &str, speed: &str, uneven: &str, judged: &str| {
        format!("  {pulse:<9}{corner:<15}{turned:<9}{speed:<16}{uneven:<14}{judged}").trim_end().to_owned()
    };
    page.row(row("pulse", "corner", "turned", "speed in rpm", "unevenness", "judged"));
    let mut before = None;
    for cell in cells {
        let pulse = if before == Some(cell.pulse) { String::new() } else { cell.pulse.to_string() };
        if before != Some(cell.pulse) {
            page.gap();
        }
        before = Some(cell.pulse);
        let turned = format!("{} of {}", cell.turned, cell.starts);
        page.row(row(&pulse, &cell.corner, &turned, &cell.speed(), &cell.unevenness(), &cell.judged));
    }
}

/// Bars of speed, corner by corner; a row without a measured speed says so.
fn plot(page: &mut Page, cells: &[Cell]) {
    let most = cells.iter().filter_map(|cell| cell.speed).map(|(_, most)| most).fold(0.0, f64::max);
    if most <= 0.0 {
        return;
    }
    let mut corners: Vec<&str> = Vec::new();
    for cell in cells {
        if !corners.contains(&cell.corner.as_str()) {
            corners.push(&cell.corner);
        }
    }
    page.heading("Speed by pulse");
    let room = page.width().saturating_sub(46);
    for corner in corners {
        for (at, cell) in cells.iter().filter(|cell| cell.corner == corner).enumerate() {
            let name = if at == 0 { corner } else { "" };
            let speed = cell.speed.map(|(_, most)| most);
            let said = match speed {
                Some(speed) => format!("{} {speed:.0}", bar(speed / most, room)),
                None => "not measured".to_owned(),
            };
            let judged = if cell.turned == cell.starts { "" } else { cell.judged.as_str() };
            page.row(format!("  {name:<15}{:>8}  {said}  {judged}", cell.pulse.to_string()).trim_end().to_owned());
        }
        page.gap();
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of one, clamped")]
#[expect(clippy::cast_precision_loss, reason = "a width of some tens")]
fn bar(share: f64, room: usize) -> String {
    "▪".repeat((share.clamp(0.0, 1.0) * room as f64).round() as usize)
}
