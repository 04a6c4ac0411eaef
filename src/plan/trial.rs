//! The plan of a trial: what a board sheet claims and no answer of a board tells is tried on the craft itself.
//!
//! Promises: no step of it writes, stores or restarts; what the sheet says of USB and motors is believed by no guard
//! meanwhile. Must not be here: how it is tried, what came of it.

use super::fingerprint::json;
use super::guard::STILL;
use super::step::{Action, BoundFunction, Guard, Plan, Step};
use crate::board::effect::Effect;
use crate::board::sheet::{Settings, Sheet};
use crate::board::signals::Identity;
use crate::language::canonical;
use crate::language::span::Place;
use crate::language::units::Pulse;
use std::time::Duration;

/// What of a sheet is tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SheetTrial {
    /// Whether the board arms on USB alone, and whether its motors turn then.
    Usb,
    /// Whether one motor that is run by command stops by itself.
    MotorRun,
    /// The same with the cable pulled out, once it did with the cable in.
    Cable,
}

/// A run that is shorter leaves no hand the time to pull a cable out.
const PULLED_WITHIN: Duration = Duration::from_secs(2);

/// Why a sheet leaves nothing to try.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoTrial {
    /// No switch is heard without the battery.
    #[error("by the sheet USB feeds no receiver, so that no switch is heard while the battery is out")]
    NoReceiver,
    /// The console keeps it from arming.
    #[error("by the sheet the board does not arm while its console is open")]
    ConsoleOpen,
    /// No motor is run by command.
    #[error("by the sheet no motor is run by command, or none that disarming stops")]
    NoRun,
    /// No cable is pulled out so fast.
    #[error("by the sheet a run by command lasts less than 2 s, in which nobody pulls a cable out")]
    TooShort,
}

impl NoTrial {
    /// What to do, as a sentence.
    #[must_use]
    pub fn hint(self) -> &'static str {
        match self {
            Self::NoReceiver | Self::ConsoleOpen => {
                "See it by hand, as `quadjig check-sheet` says beside `arming.arms-on-usb` and `usb.motors`."
            }
            Self::NoRun => "Describe the run in the sheet first, with what stops it.",
            Self::TooShort => "`--try motor-run` tries it with the cable in.",
        }
    }
}

/// Whether there is anything to try.
///
/// # Errors
/// Why not.
pub fn possible(trial: SheetTrial, sheet: &Sheet) -> Result<(), NoTrial> {
    match trial {
        SheetTrial::Usb if !sheet.usb_feeds_receiver => Err(NoTrial::NoReceiver),
        SheetTrial::Usb if sheet.console().is_some_and(|console| !console.arms_while_open) => Err(NoTrial::ConsoleOpen),
        SheetTrial::MotorRun | SheetTrial::Cable if sheet.motor_run.is_none() => Err(NoTrial::NoRun),
        SheetTrial::Cable if sheet.motor_run.as_ref().is_some_and(|run| run.longest < PULLED_WITHIN) => {
            Err(NoTrial::TooShort)
        }
        SheetTrial::Usb | SheetTrial::MotorRun | SheetTrial::Cable => Ok(()),
    }
}

/// The sheet as guards take it while it is tried: USB turns motors, whatever it says.
#[must_use]
pub fn distrusted(sheet: &Sheet) -> Sheet {
    Sheet { usb_feeds_motors: true, ..sheet.clone() }
}

/// What a trial's plan is made from: sheet, board, and every setting as it was read.
pub type MadeFrom<'a> = (&'a Sheet, &'a Identity, &'a Settings);

/// The plan of a start on USB alone, by the switch that arms. `idle`: as the board has it.
///
/// # Errors
/// The sheet leaves nothing to try.
pub fn on_usb(made_from: MadeFrom<'_>, arm: BoundFunction, idle: Pulse) -> Result<Plan, NoTrial> {
    let guards = guards(&START, &[Guard::BatteryOut]);
    let steps = [
        (Action::BatteryOut { cycle: false }, Effect::Asks, Vec::new()),
        (Action::RequireThrottleLow, Effect::Looks, Vec::new()),
        (Action::TryOnUsb { arm, pulse: idle }, Effect::TurnsMotors, guards),
    ];
    plan(SheetTrial::Usb, made_from, steps.into())
}

/// The plan of one run of a motor by command, at this pulse.
///
/// # Errors
/// The sheet leaves nothing to try.
pub fn motor_run(made_from: MadeFrom<'_>, pulse: Pulse) -> Result<Plan, NoTrial> {
    plan(SheetTrial::MotorRun, made_from, run_in_silence(pulse))
}

/// The same, and then once more, for the cable to be pulled out of it.
///
/// # Errors
/// The sheet leaves nothing to try.
pub fn cable(made_from: MadeFrom<'_>, pulse: Pulse) -> Result<Plan, NoTrial> {
    let mut steps = run_in_silence(pulse);
    steps.push((Action::TryCable { pulse }, Effect::TurnsMotors, guards(&START, &[Guard::BatteryIn])));
    plan(SheetTrial::Cable, made_from, steps)
}

fn run_in_silence(pulse: Pulse) -> Vec<(Action, Effect, Vec<Guard>)> {
    let plugged_in = guards(&START[..2], &[]);
    vec![
        (Action::RequireThrottleLow, Effect::Looks, Vec::new()),
        (Action::BatteryIn, Effect::TurnsMotors, plugged_in),
        (Action::TryMotorRun { pulse }, Effect::TurnsMotors, guards(&START, &[Guard::BatteryIn])),
    ]
}

/// What every start of a trial needs from the person at it.
const START: [Guard; 3] = [Guard::PropsOff, Guard::Antenna, Guard::Confirmed];

fn guards(first: &[Guard], last: &[Guard]) -> Vec<Guard> {
    [first, &STILL, last].concat()
}

fn plan(
    trial: SheetTrial,
    (sheet, identity, settings): MadeFrom<'_>,
    steps: Vec<(Action, Effect, Vec<Guard>)>,
) -> Result<Plan, NoTrial> {
    possible(trial, sheet)?;
    let at = Place { file: sheet.origin.clone(), line: 1, column: 1, end_line: 1, end_column: 1 };
    let before =
        [(Action::AttestAntenna, Effect::Asks, Vec::new()), (Action::AttestPropsOff, Effect::Asks, Vec::new())];
    let numbered = (1..).zip(before.into_iter().chain(steps));
    let steps = numbered
        .map(|(number, (act, effect, guards))| Step { number, statement: 0, act, effect, guards, at: at.clone() })
        .collect();
    let made_from = format!("quadjig.trial/1\n{trial:?}\n{}\n{}\n{}\n", sheet.hash, json(identity), json(settings));
    Ok(Plan {
        title: String::new(),
        board: sheet.board.clone(),
        identity: identity.clone(),
        steps,
        changes: Vec::new(),
        unknown: Vec::new(),
        fingerprint: canonical::sha256(&made_from),
        remarks: Vec::new(),
    })
}
