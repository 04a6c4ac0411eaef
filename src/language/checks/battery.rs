//! Battery limits: in order, kind to the cells, and counted.

use super::codes;
use crate::language::ceilings::{self, Cell};
use crate::language::finding::Finding;
use crate::language::recipe::{Chemistry, Form, Part, Recipe, Require, StatementKind};
use crate::language::span::Span;
use crate::language::units::Voltage;

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    let chemistry = recipe.statements.iter().find_map(|s| match s.what {
        StatementKind::Battery { chemistry, cells, .. } => Some((chemistry, cells)),
        _ => None,
    });
    let (chemistry, counted_cells) = chemistry.unzip();
    for statement in &recipe.statements {
        match statement.what {
            StatementKind::Battery { cells, warn, land, chemistry } => {
                if cells == 0 {
                    let message = "a battery of no cells: every alarm would stand at 0 V";
                    found.push(Finding::error(codes::NOTHING_TO_PROVE, statement.part(Part::Cells), message));
                }
                if land >= warn {
                    let message = format!(
                        "the alarm to land, at {land} per cell, comes before or with the warning at {warn} per cell: \
                         nobody would be warned"
                    );
                    let advice = if land > warn {
                        format!("the warning is the higher one: `warn at {land} per cell land at {warn} per cell`")
                    } else {
                        "write `land at` some tenths of a volt below `warn at`".to_owned()
                    };
                    found.push(
                        Finding::error(codes::BATTERY_ORDER, statement.part(Part::Land), message)
                            .also(statement.part(Part::Warn), "the warning")
                            .hint(advice),
                    );
                }
                low(warn, chemistry, "a warning", statement.part(Part::Warn), found);
                low(land, chemistry, "an alarm to land", statement.part(Part::Land), found);
                let then = "the warning would sound from the first second";
                high(warn, (chemistry, Some(cells)), then, statement.part(Part::Warn), found);
            }
            StatementKind::Require(Require::BatteryAtLeast(least)) => {
                let place = statement.part(Part::Value);
                let chemistry = chemistry.unwrap_or(Chemistry::Lihv);
                let then = "no battery would ever be full enough to go on";
                high(least, (chemistry, counted_cells), then, place, found);
                counted(recipe, place, found);
            }
            _ => {}
        }
    }
}

fn cell(chemistry: Chemistry) -> Cell {
    match chemistry {
        Chemistry::Lipo => ceilings::LIPO,
        Chemistry::Lihv => ceilings::LIHV,
        Chemistry::Liion => ceilings::LIION,
    }
}

fn low(volts: Voltage, chemistry: Chemistry, what: &str, place: &Span, found: &mut Vec<Finding>) {
    let Cell { lowest, low, landed, .. } = cell(chemistry);
    let landed = format!("packs of {} are landed at about {landed}", chemistry.word());
    if volts < lowest {
        let message = format!("{what} at {volts} per cell comes when the cell has already taken harm");
        let advice = format!("write at least {lowest} per cell; {landed}");
        found.push(Finding::error(codes::CELL_VOLTS_LOW, place, message).hint(advice));
    } else if volts < low {
        let message = format!("{what} at {volts} per cell comes late: under load a cell is empty before that");
        found.push(Finding::warning(codes::CELL_VOLTS_LOW, place, message).hint(format!("{landed} per cell")));
    }
}

fn high(
    volts: Voltage,
    (chemistry, cells): (Chemistry, Option<u32>),
    then: &str,
    place: &Span,
    found: &mut Vec<Finding>,
) {
    let full = cell(chemistry).full;
    if volts > full {
        let message = format!("a full {} cell has {full}, so at {volts} per cell {then}", chemistry.word());
        let finding = Finding::error(codes::CELL_VOLTS_HIGH, place, message);
        found.push(match ceilings::each_cell(volts, cells) {
            Some(each) => finding.hint(format!("{volts} is a whole pack's: it is {each} a cell")).replace(
                format!("write `{each} per cell`"),
                place,
                format!("{each} per cell"),
            ),
            None => finding.hint(format!("write less than {full} per cell")),
        });
    }
}

/// Volts per cell mean nothing where the cells are not counted. Where in the recipe they are does
/// not matter: the count has one value in all of it.
fn counted(recipe: &Recipe, place: &Span, found: &mut Vec<Finding>) {
    let counts = |what: &StatementKind| {
        matches!(what, StatementKind::Battery { .. } | StatementKind::Waiting { form: Form::Battery, .. })
    };
    if !recipe.statements.iter().any(|s| counts(&s.what)) {
        let message = "the bench measures the whole pack, and nothing says how many cells it has";
        found.push(
            Finding::error(codes::CELLS_MISSING, place, message)
                .hint("count the cells: `battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell`"),
        );
    }
}
