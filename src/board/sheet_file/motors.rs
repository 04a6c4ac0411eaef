//! The motors of a sheet: their corners, which way they turn, and what the board can put right of both by setting.
//!
//! Must not be here: what is written for an order or a direction (see `measure::motor_permutation`).

use super::super::document::Problem;
use super::super::document::names::{PLAIN_RULE, is_plain};
use super::super::document::reader::{Reader, Table};
use super::super::effect::Effect;
use super::super::sheet::{Corner, Form, Reversal, SettingEntry};
use super::super::value::SettingName;
use crate::language::recipe::Turning;
use crate::language::units::{Current, Quantity};
use crate::measure::motor_permutation::ReversalOf;

/// What the table says.
pub(super) struct Motors {
    pub corners: Vec<Corner>,
    pub turning: Option<Turning>,
    pub order: Vec<SettingName>,
    pub reversal: Option<Reversal>,
    /// The settings of both, as settings of the board.
    pub entries: Vec<(SettingName, SettingEntry)>,
    /// Where each of them is named, and as what.
    pub names: Vec<(usize, SettingName, String)>,
    pub kv: Option<u32>,
    pub most_current: Option<Current>,
    pub telemetry: bool,
    pub telemetry_at: usize,
}

pub(super) fn motors(r: &mut Reader<'_>, mut t: Table<'_>) -> Option<Motors> {
    let count = t.need(r, "count", "");
    let counted = count.as_ref().and_then(|n| r.whole(n, 1, 8));
    let listed = t.need(r, "corners", "name each motor's corner, in the order of the motors");
    let mut corners = Vec::new();
    for item in listed.and_then(|n| r.list(&n, 1, 8)).into_iter().flatten() {
        if let Some(name) = r.name(&item, "a corner", is_plain, PLAIN_RULE) {
            if corners.contains(&Corner(name.clone())) {
                r.note(item.span().start, Problem::Twice { key: item.path.clone(), found: format!("\"{name}\"") });
            }
            corners.push(Corner(name));
        }
    }
    if let (Some(node), Some(counted)) = (&count, counted)
        && !corners.is_empty()
        && usize::try_from(counted).ok() != Some(corners.len())
    {
        let problem = Problem::CornersDiffer { count: counted, corners: corners.len() };
        r.note(node.span().start, problem);
    }
    let ways = [("inward", Turning::Inward), ("outward", Turning::Outward)];
    let turning = t.take("turning").and_then(|n| r.one_of(&n, &ways));
    let mut given = Given { count: corners.len(), entries: Vec::new(), names: Vec::new() };
    let order =
        t.take("order").and_then(|n| r.table(&n)).and_then(|t| given.settings(r, t, "order", (1, corners.len())));
    let reversal = t.take("reversal").and_then(|n| r.table(&n)).and_then(|mut t| {
        let why = "say whether a reversal stays with the output or with the motor's number when outputs are exchanged";
        let ways = [("output", ReversalOf::Output), ("motor", ReversalOf::Motor)];
        let of = t.need(r, "counted-by", why).and_then(|n| r.one_of(&n, &ways));
        let names = given.settings(r, t, "reversal", (0, 1));
        Some(Reversal { of: of?, names: names? })
    });
    let kv = t.take("kv").and_then(|n| r.whole(&n, 1, 200_000)).and_then(|kv| u32::try_from(kv).ok());
    let most_current = t.take("most-current").and_then(|n| {
        let current = r.quantity(&n, Quantity::current)?;
        if !(1..=1_000_000).contains(&current.0) {
            r.out_of_range(&n, &current, &Current(1), &Current(1_000_000));
        }
        Some(current)
    });
    let telemetry = t.need(r, "speed-telemetry", "");
    let telemetry_at = telemetry.as_ref().map_or(0, |n| n.span().start);
    let telemetry = telemetry.and_then(|n| r.boolean(&n));
    t.done(r);
    counted?;
    let Given { entries, names, .. } = given;
    let (order, telemetry) = (order.unwrap_or_default(), telemetry?);
    Some(Motors { corners, turning, order, reversal, entries, names, kv, most_current, telemetry, telemetry_at })
}

struct Given {
    count: usize,
    entries: Vec<(SettingName, SettingEntry)>,
    names: Vec<(usize, SettingName, String)>,
}

impl Given {
    /// One setting a motor, each a whole number. Changing one can turn a motor, and it belongs to the wiring of the one
    /// craft.
    fn settings(
        &mut self,
        r: &mut Reader<'_>,
        mut t: Table<'_>,
        what: &str,
        (least, most): (usize, usize),
    ) -> Option<Vec<SettingName>> {
        let names = t.need(r, "names", "name one setting for each motor, from the first on");
        let restart = t.take("restart").map_or(Some(false), |n| r.boolean(&n));
        t.done(r);
        let mut all = Vec::new();
        for item in names.and_then(|n| r.list(&n, self.count, self.count))? {
            let name = r.setting(&item)?;
            self.names.push((item.span().start, name.clone(), format!("motors.{what}")));
            all.push(name);
        }
        let bound = |end: usize| u8::try_from(end).map_or(f64::MAX, f64::from);
        for name in &all {
            let entry = SettingEntry {
                name: name.clone(),
                form: Form::Whole { unit: String::new(), only: Vec::new() },
                range: Some((bound(least), bound(most))),
                restart: restart?,
                craft_own: true,
                effect: Effect::TurnsMotors,
            };
            self.entries.push((name.clone(), entry));
        }
        Some(all)
    }
}
