//! Plans of trials of a sheet: what they may do, what guards them, and whom those guards believe.

use super::{Bench, name, step};
use quadjig::board::sheet::{MotorRun, Sheet};
use quadjig::board::value::Number;
use quadjig::interlock::craft::Facts;
use quadjig::language::recipe::{Function, Switch};
use quadjig::language::units::Pulse;
use quadjig::plan::door::StepDoor;
use quadjig::plan::step::{Action, BoundFunction, Guard, Plan};
use quadjig::plan::trial::{self, NoTrial, SheetTrial};
use std::time::Duration;

fn arm() -> BoundFunction {
    BoundFunction { function: Function::arm(), switch: Switch("B".to_owned()), positions: vec![2], at: None }
}

fn both(bench: &Bench) -> [Plan; 2] {
    let made_from = (&bench.sheet, &bench.identity, &bench.settings);
    [trial::on_usb(made_from, arm(), Pulse(1050)).unwrap(), trial::motor_run(made_from, Pulse(1150)).unwrap()]
}

/// `safety.md`, entry guards 1 and 2: what every motor step needs from the person; energy: where the battery is.
#[test]
fn a_trial_changes_nothing_and_its_start_has_the_guards_of_any_start() {
    let [usb, run] = both(&Bench::finch());
    for (plan, battery) in [(&usb, Guard::BatteryOut), (&run, Guard::BatteryIn)] {
        assert!(plan.is_satisfied() && plan.restarts() == 0 && plan.changes.is_empty());
        let starts: Vec<_> = plan.steps.iter().filter(|step| step.act.door() == StepDoor::Drives).collect();
        let [start] = starts[..] else { panic!("{plan:?}") };
        for guard in
            [Guard::PropsOff, Guard::Antenna, Guard::Confirmed, Guard::ThrottleLow, Guard::ArmSwitchOff, battery]
        {
            assert!(start.guards.contains(&guard), "{guard:?}: {start:?}");
        }
        for asked in [Action::AttestAntenna, Action::AttestPropsOff] {
            assert!(step(plan, |act| *act == asked).number < start.number);
        }
    }
    assert!(usb.plug_ins() == 0 && run.plug_ins() == 1);
    let mut other = Bench::finch();
    other.settings.insert(name("IDLE_US"), Number::Whole(1100));
    assert!(both(&other).iter().zip([usb, run]).all(|(one, two)| one.fingerprint != two.fingerprint));
}

/// A sheet under trial is believed by no guard: USB counts as turning motors.
#[test]
fn what_is_tried_is_not_believed_meanwhile() {
    let bench = Bench::finch();
    let believed = |sheet| Facts::read("Wren 95", true, sheet, &bench.settings).unwrap().usb_feeds_motors;
    assert!(!believed(&bench.sheet) && believed(&trial::distrusted(&bench.sheet)));
}

/// The run in silence, with all its guards, then the same start again: only its door knows that the first has to have passed.
#[test]
fn the_trial_of_the_cable_is_the_run_in_silence_and_one_more() {
    let bench = Bench::finch();
    let [_, silence] = both(&bench);
    let cable = trial::cable((&bench.sheet, &bench.identity, &bench.settings), Pulse(1150)).unwrap();
    let (last, before) = cable.steps.split_last().unwrap();
    assert_eq!(before, silence.steps);
    assert_eq!((&last.act, &last.guards), (&Action::TryCable { pulse: Pulse(1150) }, &before.last().unwrap().guards));
    assert!(cable.fingerprint != silence.fingerprint && cable.plug_ins() == 1);
}

#[test]
fn where_a_sheet_leaves_nothing_to_try_there_is_no_plan() {
    let mut bench = Bench::finch();
    bench.sheet.usb_feeds_receiver = false;
    bench.sheet.motor_run = None;
    let made_from = (&bench.sheet, &bench.identity, &bench.settings);
    assert_eq!(trial::on_usb(made_from, arm(), Pulse(1050)), Err(NoTrial::NoReceiver));
    assert_eq!(trial::motor_run(made_from, Pulse(1150)), Err(NoTrial::NoRun));
    assert_eq!(trial::cable(made_from, Pulse(1150)), Err(NoTrial::NoRun));
    let lasts = |ms| MotorRun { longest: Duration::from_millis(ms) };
    for (ms, possible) in [(1999, Err(NoTrial::TooShort)), (2000, Ok(()))] {
        let sheet = Sheet { motor_run: Some(lasts(ms)), ..Bench::finch().sheet };
        assert_eq!(trial::possible(SheetTrial::Cable, &sheet), possible, "{ms} ms");
        assert_eq!(trial::possible(SheetTrial::MotorRun, &sheet), Ok(()));
    }
}
