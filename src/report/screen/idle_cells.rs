//! The starts of an idle search, taken together by pulse and corner.
//!
//! Must not be here: how they are shown (see `idle` and `idle_panel`).

use crate::language::units::Pulse;
use crate::report::gate;
use crate::report::words::once;
use crate::seam::ui::{MotorSeen, StartSeen};

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
    let corners = once(starts.iter().flat_map(|start| &start.motors).map(|motor| motor.corner.as_str()));
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
    pub(super) fn speed(&self) -> String {
        match self.speed {
            None => "not told".to_owned(),
            Some((least, most)) if most - least < 0.5 => format!("{least:.0}"),
            Some((least, most)) => format!("{least:.0} to {most:.0}"),
        }
    }

    pub(super) fn unevenness(&self) -> String {
        self.unevenness.map_or_else(|| "not told".to_owned(), share)
    }
}

/// As a share in a hundred.
pub(super) fn share(unevenness: f64) -> String {
    format!("{:.1} %", unevenness * 100.0)
}
