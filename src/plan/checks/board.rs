//! The sheet as a whole: the right board, the right frame, and what it can do with motors.

use crate::board::sheet::Sheet;
use crate::board::shipped;
use crate::language::checks::{codes, props};
use crate::language::finding::Finding;
use crate::language::recipe::{Recipe, Require, Statement, StatementKind, ZeroThrottle};
use crate::language::search;
use crate::measure::nearest::nearest;
use crate::plan::motor_layout::{self, LayoutError, MotorLayout};

pub(super) fn check(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    written_for(recipe, sheet, found);
    let corners = sheet.corners.len();
    if let Some(craft) = recipe.craft.as_ref().filter(|craft| craft.value.frame.motors() != corners) {
        let (frame, motors) = (craft.value.frame.words(), craft.value.frame.motors());
        let then = if motors > corners {
            format!("{} of them would never turn", motors - corners)
        } else {
            format!("a run would look for {} more, which are not there", corners - motors)
        };
        let message =
            format!("a {frame} has {motors} motors, and the sheet of {} tells of {corners}: {then}", sheet.board);
        found.push(
            Finding::error(codes::FRAME_MISMATCH, &craft.span, message)
                .hint("write the frame that the craft has, or name the sheet of its board with --sheet"),
        );
    } else if let Some(craft) = &recipe.craft
        && let Err(error) = motor_layout::corners(craft.value.frame, sheet)
    {
        found.push(Finding::error(codes::FRAME_MISMATCH, &craft.span, error.to_string()));
    }
    turning(recipe, sheet, found);
    motor_run(recipe, sheet, found);
    if !sheet.speed_telemetry {
        speeds(recipe, sheet, found);
    }
    if sheet.motors_sound_buzzer {
        buzzer(recipe, sheet, found);
    }
}

fn written_for(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    let Some(first) = recipe.boards.first() else { return };
    if recipe.boards.iter().any(|board| board.value == sheet.board) {
        return;
    }
    let names: Vec<&str> = recipe.boards.iter().map(|board| board.value.as_str()).collect();
    let message = format!("the recipe was written for {}, and the sheet is for {}", names.join(", "), sheet.board);
    let finding = Finding::error(codes::OTHER_BOARD, &first.span, message);
    let exact = format!("\"{}\"", sheet.board);
    // A board of its own is no slip for another.
    let known = shipped::SHEETS.iter().any(|known| known.name == first.value);
    found.push(match nearest(&first.value, [sheet.board.as_str()]).filter(|_| !known) {
        Some(_) => finding.replace(format!("write `{exact}`"), &first.span, exact),
        None => finding
            .hint(format!("name another sheet with --sheet, or add `board {exact}` once the recipe was tried on it")),
    });
}

/// Boards that nothing at hand describes; the sheets that are most likely meant.
pub(super) fn unknown(recipe: &Recipe, sheets: &[Sheet], found: &mut Vec<Finding>) -> Vec<Sheet> {
    let mut meant = Vec::new();
    let named = |board: &str| sheets.iter().any(|sheet| sheet.board == board);
    // A sheet for none of the boards is an error already.
    if !sheets.is_empty() && !recipe.boards.iter().any(|board| named(&board.value)) {
        return meant;
    }
    for board in &recipe.boards {
        let name = board.value.as_str();
        if named(name) || shipped::SHEETS.iter().any(|known| known.name == name || known.stem == name) {
            continue;
        }
        let message =
            format!("nothing at hand describes a board \"{name}\": its words, functions and limits are not judged");
        let finding = Finding::warning(codes::UNKNOWN_BOARD, &board.span, message);
        let known =
            shipped::SHEETS.iter().map(|known| known.name).chain(sheets.iter().map(|sheet| sheet.board.as_str()));
        found.push(match nearest(name, known) {
            Some(near) => {
                meant.extend(shipped::sheet(near).and_then(Result::ok));
                finding.replace(format!("write `\"{near}\"`"), &board.span, format!("\"{near}\""))
            }
            None => finding.hint("name the board's sheet with --sheet, or write the name that its sheet gives"),
        });
    }
    meant
}

/// Which way the motors have to turn, where they are tested and neither recipe nor sheet says it.
fn turning(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    let asks = |s: &&Statement| matches!(s.what, StatementKind::TestMotors | StatementKind::OrderMotors);
    let (Some(craft), Some(statement)) = (&recipe.craft, recipe.statements.iter().find(asks)) else { return };
    if let Err(error @ LayoutError::NoTurning(_)) = MotorLayout::of(craft.value, sheet) {
        let hint = "write it behind the frame, such as `craft quad x turning inward`";
        found.push(Finding::error(codes::TURNING, &statement.span, error.to_string()).hint(hint));
    }
}

/// What no speeds cost: a question a start, and a word in place of a figure.
fn speeds(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    for statement in &recipe.statements {
        let cost = match &statement.what {
            StatementKind::IdleSearch(search) => format!("each start of the search, {} a value", search.start_count()),
            StatementKind::TestIdle { starts } => format!("each of the {} starts", starts.unwrap_or(search::STARTS)),
            _ => continue,
        };
        let message = format!(
            "{} tells no motor speeds: after {cost}, you are asked which motors turned, and what is shown rests on your word",
            sheet.board
        );
        found.push(Finding::suggestion(codes::NO_SPEEDS, &statement.span, message));
    }
}

/// Single motors, and an idle that arming does not show, need a board that runs a motor itself.
fn motor_run(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    if sheet.motor_run.is_some() {
        return;
    }
    let rest = recipe.statements.iter().find(|s| matches!(s.what, StatementKind::AtZeroThrottle(ZeroThrottle::Rest)));
    for statement in &recipe.statements {
        match statement.what {
            StatementKind::TestMotors | StatementKind::OrderMotors => {
                let message = format!("{} cannot run a single motor by command: nothing would turn", sheet.board);
                found.push(Finding::error(codes::NO_MOTOR_RUN, &statement.span, message));
            }
            StatementKind::IdleSearch(_) => {
                let Some(rest) = rest else { continue };
                let message = format!(
                    "motors rest at zero throttle, and {} cannot run them by itself: arming would show no idle at all",
                    sheet.board
                );
                found.push(
                    Finding::error(codes::SEARCH_AT_REST, &statement.span, message)
                        .also(&rest.span, "rest at zero throttle")
                        .hint("write `at zero throttle spin`"),
                );
            }
            _ => {}
        }
    }
}

/// A buzzer that the motors sound is a motor step.
fn buzzer(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    for statement in &recipe.statements {
        match statement.what {
            StatementKind::Require(Require::PropsOff) => return,
            StatementKind::TestBuzzer => {
                let why = format!("on {} the motors sound the buzzer, so this can turn a motor", sheet.board);
                found.push(props::missing(statement, &why));
            }
            _ => {}
        }
    }
}
