//! Motor steps: the idle search and its proof, tests, and the motor signal.

use super::{Bench, guards, name, step, told};
use quadjig::board::effect::Effect;
use quadjig::language::units::{Angle, Pulse};
use quadjig::plan::door::StepDoor;
use quadjig::plan::facts;
use quadjig::plan::step::{Action, Guard, IdlePlan};
use quadjig::record::{Proof, ProofSubject};
use std::time::Duration;

const READY: &str = "require props off\nrequire battery out\nat zero throttle spin\nfind switch B\n\
                     bind arm to switch B position 2\nkeep\n";
const SEARCH: &str = "idle start at 1100 step 25 until all spin";

/// A board on which all of [`READY`] is done.
fn ready() -> Bench {
    let mut bench = Bench::finch();
    let plan = bench.plan(READY);
    bench.carry_out(&plan);
    bench
}

fn search(statements: &str) -> IdlePlan {
    let plan = ready().plan(&format!("{READY}{statements}"));
    let Action::IdleSearch(search) = step(&plan, |act| matches!(act, Action::IdleSearch(_))).act else {
        unreachable!()
    };
    search
}

fn proof(bench: &Bench, pulse: i32, starts: u32) -> Proof {
    let depends = facts::idle_depends_on(&bench.sheet);
    Proof {
        schema: "quadjig.proof/1".to_owned(),
        at: "2030-01-01T00:00:00Z".to_owned(),
        subject: ProofSubject::Idle {
            pulse,
            start: Some(1100),
            step: Some(25),
            at_most: Some(1250),
            margin: Some(25),
            dwell_ms: 2000,
            starts,
        },
        board: bench.identity.clone(),
        depends_on: depends.into_iter().map(|name| (name.clone(), bench.settings[&name])).collect(),
        volts: Some(8.0),
    }
}

#[test]
fn what_a_search_leaves_out_is_filled_by_the_language() {
    let plan = search(SEARCH);
    // Start + 200 us is above the ceiling of 1250; the margin is the larger of one step and 20 us.
    assert_eq!(plan.values, [1100, 1125, 1150, 1175, 1200, 1225].map(Pulse));
    assert_eq!((plan.at_most, plan.margin, plan.before), (Pulse(1250), Pulse(25), Pulse(1050)));
    assert_eq!((plan.starts, plan.dwell, plan.level), (3, Duration::from_secs(2), Angle(3000)));
    assert_eq!(search("idle start at 1030 step 50 until all spin").at_most, Pulse(1230), "start + 200 us");
    let told = search("idle start at 1020 step 10 until all spin, at most 1060, for 1 s, in 5 starts, then add 15");
    assert_eq!(told.values, [1020, 1030, 1040].map(Pulse));
    assert_eq!((told.starts, told.dwell, told.margin), (5, Duration::from_secs(1), Pulse(15)));
    assert_eq!(search("idle start at 1020 step 5 until all spin, at most 1060").margin, Pulse(20));
}

#[test]
fn a_search_is_guarded_and_its_range_is_shown() {
    let plan = ready().plan(&format!(
        "require antenna on\nrequire level within 2 deg\nbattery 2 cells warn at 3.6 V per cell land at 3.4 V per cell\n\
         {READY}require battery at least 3.7 V per cell\n{SEARCH}"
    ));
    let step = step(&plan, |act| matches!(act, Action::IdleSearch(_)));
    assert_eq!(step.effect, Effect::TurnsMotors);
    assert_eq!(
        guards(&step),
        "props off, antenna on, confirmed by its word, disarmed, throttle low, arm switch off, outputs at rest, \
         signals fresh, level within 2 deg, battery at least 3.7 V per cell, battery in, encoding proved"
    );
    let [open] = plan.unknown.as_slice() else { panic!("{:?}", plan.unknown) };
    assert_eq!(format!("{} {} {} {}", open.setting, open.least, open.most, open.unit), "idle 1125 1250 us");
    assert!(matches!(plan.steps.last().unwrap().act, Action::Restart { .. }), "a search is kept");
}

#[test]
fn a_search_that_the_record_proves_is_not_made_again() {
    let mut bench = ready();
    bench.set("IDLE_US", 1150);
    let lines = format!("{READY}{SEARCH}");
    bench.record.proofs = vec![proof(&bench, 1150, 3)];
    let plan = bench.plan(&lines);
    assert!(plan.is_satisfied(), "{:#?}", told(&plan));
    assert!(plan.remarks.iter().any(|remark| remark.text.contains("stands as found")));
    assert_eq!(plan.plug_ins(), 0, "what needs no search needs no battery");
}

#[test]
fn a_proof_of_anything_else_does_not_do() {
    let lines = format!("{READY}{SEARCH}");
    let searched = |change: &dyn Fn(&mut Bench)| {
        let mut bench = ready();
        bench.set("IDLE_US", 1150);
        bench.record.proofs = vec![proof(&bench, 1150, 3)];
        change(&mut bench);
        bench.plan(&lines).steps.iter().any(|step| matches!(step.act, Action::IdleSearch(_)))
    };
    assert!(!searched(&|_| ()));
    assert!(searched(&|bench| {
        bench.set("IDLE_US", 1175);
    }));
    assert!(searched(&|bench| {
        bench.set("CELLS", 2);
    }));
    assert!(searched(&|bench| {
        bench.set("MOTOR_SIGNAL", 1).set("LOOP_HZ", 1000);
    }));
    assert!(searched(&|bench| bench.identity.id = "0000000000000007".to_owned()));
    assert!(searched(&|bench| bench.identity.firmware = "2.4.2".to_owned()));
    assert!(searched(&|bench| bench.record.proofs = vec![proof(bench, 1150, 2)]));
    assert!(searched(&|bench| {
        bench.record.proofs[0].depends_on.remove(&name("CELLS"));
    }));
    assert!(searched(&|bench| {
        if let ProofSubject::Idle { margin, .. } = &mut bench.record.proofs[0].subject {
            *margin = Some(20);
        }
    }));
    // More starts than asked for prove it as well.
    assert!(!searched(&|bench| bench.record.proofs = vec![proof(bench, 1150, 20)]));
}

#[test]
fn a_search_of_one_value_is_proved_without_a_step() {
    let lines = format!("{READY}idle start at 1125 step 25 until all spin, at most 1150");
    let mut bench = ready();
    bench.set("IDLE_US", 1150);
    let mut seen = proof(&bench, 1150, 3);
    if let ProofSubject::Idle { start, step, at_most, .. } = &mut seen.subject {
        (*start, *step, *at_most) = (Some(1125), None, Some(1150));
    }
    bench.record.proofs = vec![seen];
    assert!(bench.plan(&lines).is_satisfied());
}

#[test]
fn after_a_change_of_signal_no_motor_turns_before_a_power_cycle() {
    let lines = format!("{READY}signal dshot300 at 4 kHz\n");
    assert_eq!(Bench::finch().refused(&format!("{lines}test idle")), ["plan-no-power-cycle 13:1"]);
    let plan = Bench::finch().plan(&format!("{lines}power cycle\ntest idle"));
    let acts = told(&plan);
    let prove = acts.iter().position(|line| line.contains("test the signal dshot300")).unwrap();
    assert!(acts[prove + 1].contains("Test the idle"), "{acts:#?}");
}

#[test]
fn a_board_that_runs_no_motor_by_command_says_that_the_signal_is_not_proved_by_itself() {
    let mut bench = Bench::finch();
    bench.sheet.motor_run = None;
    let plan = bench.plan(&format!("{READY}signal dshot300 at 4 kHz\npower cycle"));
    assert!(!plan.steps.iter().any(|step| matches!(step.act, Action::ProveSignal { .. })));
    assert!(plan.remarks.iter().any(|remark| remark.text.contains("no motor by command")));
}

#[test]
fn a_signal_that_is_proved_already_is_not_proved_again() {
    let mut bench = ready();
    bench.set("MOTOR_SIGNAL", 3).set("LOOP_HZ", 4000);
    let lines = format!("{READY}signal dshot300 at 4 kHz\npower cycle");
    let proves = |bench: &Bench| bench.plan(&lines).steps.iter().any(|s| matches!(s.act, Action::ProveSignal { .. }));
    assert!(proves(&bench), "the board has the signal, and nothing says that the speed controllers took it");
    let mut seen = proof(&bench, 1150, 3);
    seen.subject = ProofSubject::Signal { signal: "dshot300".to_owned() };
    bench.record.proofs = vec![seen];
    assert!(!proves(&bench));
}

#[test]
fn a_buzzer_that_motors_sound_is_a_motor_step() {
    let lines = format!("{READY}find switch C\nbind buzzer to switch C position 1\nkeep\ntest buzzer");
    let mut bench = Bench::finch();
    let beeper = step(&bench.plan(&lines), |act| matches!(act, Action::TestBuzzer { .. }));
    assert_eq!(beeper.effect, Effect::Asks);
    bench.sheet.motors_sound_buzzer = true;
    let sounded = step(&bench.plan(&lines), |act| matches!(act, Action::TestBuzzer { by_motors: true, .. }));
    assert_eq!((sounded.effect, sounded.act.door()), (Effect::TurnsMotors, StepDoor::Drives));
    for guard in [Guard::PropsOff, Guard::Confirmed, Guard::Disarmed, Guard::ArmSwitchOff, Guard::BatteryIn] {
        assert!(sounded.guards.contains(&guard), "{guard:?}");
    }
}

#[test]
fn the_test_of_an_idle_after_a_search_counts_with_the_highest_that_it_can_be() {
    let plan = ready().plan(&format!("{READY}{SEARCH}\ntest idle in 5 starts"));
    let Action::TestIdle { pulse, starts, .. } = step(&plan, |act| matches!(act, Action::TestIdle { .. })).act else {
        unreachable!()
    };
    assert_eq!((pulse, starts), (Pulse(1250), 5));
}

#[test]
fn the_failsafe_is_tested_under_the_guards_of_the_cut() {
    let lines = format!("failsafe cut motors after 500 ms\n{READY}require battery in\n");
    let plan = Bench::finch().plan(&format!("{lines}test cut\ntest failsafe within 2 s"));
    let cut = step(&plan, |act| matches!(act, Action::TestCut { .. }));
    let failsafe = step(&plan, |act| matches!(act, Action::TestFailsafe { .. }));
    assert_eq!(failsafe.effect, Effect::TurnsMotors);
    assert_eq!(guards(&failsafe), guards(&cut));
    assert!(guards(&failsafe).ends_with("battery in"), "{}", guards(&failsafe));
    let Action::TestFailsafe { within, pulse, arm } = failsafe.act else { unreachable!() };
    assert_eq!((within, pulse, arm.switch.0.as_str()), (Duration::from_secs(2), Pulse(1050), "B"));
    assert!(told(&plan).iter().any(|line| line.contains("stops the motors within 2 s of the radio going off")));
    assert!(!plan.remarks.iter().any(|remark| remark.text.contains("test failsafe")), "{:?}", plan.remarks);
}

#[test]
fn what_the_board_does_on_link_loss_must_be_known() {
    let lines = format!("{READY}test failsafe");
    // A factory Finch holds: the test may run, and the plan says what it would show.
    let plan = Bench::finch().plan(&lines);
    assert!(plan.remarks.iter().any(|remark| remark.text.contains("set to hold")), "{:?}", plan.remarks);
    let mut bench = Bench::finch();
    bench.settings.remove(&name("LOSS_ACTION"));
    assert_eq!(bench.refused(&lines), ["plan-not-on-board 12:1"]);
    let mut bench = Bench::finch();
    bench.sheet.settings.remove("link-loss-action");
    assert_eq!(bench.refused(&lines), ["plan-no-word 12:1"]);
    assert!(Bench::finch().refused("test failsafe").contains(&"plan-props 6:1".to_owned()));
}
