//! Every guard that a dry run prints, blocking and passing at the doors.

use super::room::{ID, IDLING, RESTING, Room, START, Signals, UNPLUGGED, UNTOLD};
use super::room::{adapter, confirmed, facts, heard, identity, idle_kept, of_change, one_motor, said_of, step, typed};
use crate::plan::Bench;
use quadjig::board::radio_card::RadioCard;
use quadjig::board::signals::LinkEvent;
use quadjig::board::value::{Number, SettingName};
use quadjig::interlock::craft::Facts;
use quadjig::interlock::{Authority, Breaks, ChangeStep, Confirmed, Phase};
use quadjig::language::recipe::{Function, Switch};
use quadjig::language::units::{Angle, Pulse, Voltage};
use quadjig::plan::door::StepDoor;
use quadjig::plan::step::{Action, BoundFunction, Guard, Plan, Step};
use quadjig::plan::trial;
use quadjig::seam::PortInfo;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, BoardChange, MotorStep, Motors, StartedBy};
use std::collections::BTreeSet;
use std::time::Duration;

/// All of them; a new one does not compile until it stands here.
fn next(guard: Option<&Guard>) -> Option<Guard> {
    Some(match guard {
        None => Guard::PropsOff,
        Some(Guard::PropsOff) => Guard::Antenna,
        Some(Guard::Antenna) => Guard::Confirmed,
        Some(Guard::Confirmed) => Guard::Disarmed,
        Some(Guard::Disarmed) => Guard::ThrottleLow,
        Some(Guard::ThrottleLow) => Guard::ArmSwitchOff,
        Some(Guard::ArmSwitchOff) => Guard::OutputsAtRest,
        Some(Guard::OutputsAtRest) => Guard::Fresh,
        Some(Guard::Fresh) => Guard::Level(Angle(3000)),
        Some(Guard::Level(_)) => Guard::BatteryAtLeast(Voltage(3700), 2),
        Some(Guard::BatteryAtLeast(..)) => Guard::BatteryIn,
        Some(Guard::BatteryIn) => Guard::BatteryOut,
        Some(Guard::BatteryOut) => Guard::EncodingProved,
        Some(Guard::EncodingProved) => return None,
    })
}

fn all() -> Vec<Guard> {
    std::iter::successors(next(None), |guard| next(Some(guard))).collect()
}

/// The last moment of a room, once more, with this instead.
fn last(room: &mut Room, signals: Signals) {
    let _stopped = room.hears(room.now + Duration::from_millis(20), &heard(signals));
}

/// A craft on which this guard alone does not hold, and what the refusal says, or says where another door comes first.
fn broken(guard: &Guard) -> (Room, &'static str) {
    let mut room = Room::met();
    let why = match guard {
        Guard::PropsOff => {
            assert_eq!(room.judged(UNPLUGGED, 0, 2000), Ok(()), "a battery that goes out takes the word with it");
            "Propellers off is not attested"
        }
        Guard::Antenna => "video antenna is not attested",
        Guard::Confirmed => "was not confirmed",
        Guard::Disarmed => {
            // With the battery out an armed flag stops nothing, and changes nothing either.
            room = Room::unplugged();
            last(&mut room, Signals { armed: true, ..UNPLUGGED });
            "is armed"
        }
        Guard::ThrottleLow => {
            room = Room::unplugged();
            last(&mut room, Signals { throttle: 1500, ..UNPLUGGED });
            "throttle is up"
        }
        Guard::ArmSwitchOff => {
            room = Room::unplugged();
            last(&mut room, Signals { switch: 2000, ..UNPLUGGED });
            "arm switch is on"
        }
        Guard::OutputsAtRest => {
            room = Room::unplugged();
            last(&mut room, Signals { outputs: [1100, 1000, 1000, 1000, 0, 0, 0, 0], ..UNPLUGGED });
            "at rest|raised"
        }
        Guard::Fresh => {
            room = Room::unplugged();
            for ms in (2000..2600).step_by(20) {
                let left: Vec<LinkEvent> = heard(UNPLUGGED).into_iter().filter(not_channels).collect();
                assert_eq!(room.hears(START + Duration::from_millis(ms), &left), Ok(()));
            }
            "channels are not heard"
        }
        Guard::Level(_) => {
            room.says(Signals { roll: 9.0, ..RESTING }, 1000).unwrap();
            "not level"
        }
        Guard::BatteryAtLeast(..) => {
            room.says(Signals { millivolts: Some(7300), ..RESTING }, 1000).unwrap();
            "3.65 V per cell"
        }
        Guard::BatteryIn => {
            room = Room::unplugged();
            "battery is out"
        }
        Guard::BatteryOut => "battery is in",
        Guard::EncodingProved => {
            room.interlock.encoding(false);
            "writes numbers is not known"
        }
    };
    (room, why)
}

fn not_channels(event: &LinkEvent) -> bool {
    !matches!(event, LinkEvent::Channels { .. })
}

/// Whether a door asks for it of everybody, printed or not.
fn always(guard: &Guard) -> bool {
    matches!(guard, Guard::Disarmed | Guard::OutputsAtRest | Guard::EncodingProved)
}

/// A craft on which it holds, and on which this door may open.
fn kept(entry: StepDoor, guard: &Guard) -> Room {
    let out = matches!(guard, Guard::BatteryOut) || entry == StepDoor::WorksSwitches;
    let mut room = if out { Room::unplugged() } else { Room::met() };
    room.types(About::Antenna);
    room
}

/// Comes to a door with this guard; with its answer, or without.
fn enters(entry: StepDoor, room: &mut Room, guard: &Guard, answered: bool) -> Result<(), Fault> {
    let (guards, interlock) = (std::slice::from_ref(guard), &mut room.interlock);
    let answer = |step: &MotorStep| confirmed(step, room.now);
    match entry {
        StepDoor::Looks => interlock.enter_look(guards),
        StepDoor::Changes => {
            let mut ok = answer(&of_change(idle_kept()));
            let change = ChangeStep { guards, change: idle_kept(), turns_motors: answered };
            interlock.enter_change(change, answered.then_some(&mut ok)).map(|_| ())
        }
        StepDoor::Drives => {
            interlock.enter_drive(&mut answer(&step(Motors::All)), guards, Breaks::default()).map(|_| ())
        }
        StepDoor::WorksSwitches => {
            let mut ok = answer(&interlock.switches_step("a test"));
            interlock.enter_switches(guards, answered.then_some(&mut ok))
        }
        StepDoor::PlugsIn => interlock.may_plug_in(guards),
        StepDoor::Never => panic!("no step of this kind is run"),
    }
}

/// Every plan step that there is; one of another kind does not compile until it stands here.
const KINDS: [&str; 38] = [
    "note",
    "pause",
    "props off",
    "antenna",
    "attest",
    "throttle low",
    "disarmed",
    "level",
    "battery at least",
    "switch",
    "expect",
    "battery in",
    "battery out",
    "write",
    "store",
    "restart",
    "find switch",
    "find link loss",
    "later",
    "idle search",
    "idle by hand",
    "test idle",
    "test arm",
    "test cut",
    "test failsafe",
    "test buzzer",
    "signal",
    "test motors",
    "find sticks",
    "test sticks",
    "order motors",
    "test attitude",
    "calibrate level",
    "calibrate battery",
    "sound motors",
    "try on usb",
    "try motor run",
    "try cable",
];

fn kind(act: &Action) -> &'static str {
    KINDS[match act {
        Action::Note(_) => 0,
        Action::Pause(_) => 1,
        Action::AttestPropsOff => 2,
        Action::AttestAntenna => 3,
        Action::Attest(_) => 4,
        Action::RequireThrottleLow => 5,
        Action::RequireDisarmed => 6,
        Action::RequireLevel(_) => 7,
        Action::RequireBatteryAtLeast { .. } => 8,
        Action::RequireSwitch { .. } => 9,
        Action::Expect { .. } => 10,
        Action::BatteryIn => 11,
        Action::BatteryOut { .. } => 12,
        Action::Write(_) => 13,
        Action::Store => 14,
        Action::Restart { .. } => 15,
        Action::FindSwitch { .. } => 16,
        Action::FindLinkLoss => 17,
        Action::Later { .. } => 18,
        Action::IdleSearch(_) => 19,
        Action::IdleByHand(_) => 20,
        Action::TestIdle { .. } => 21,
        Action::TestArm { .. } => 22,
        Action::TestCut { .. } => 23,
        Action::TestFailsafe { .. } => 24,
        Action::TestBuzzer { by_motors: false, .. } => 25,
        Action::TestBuzzer { by_motors: true, .. } => 34,
        Action::ProveSignal { .. } => 26,
        Action::TestMotors(_) => 27,
        Action::FindSticks { .. } => 28,
        Action::TestSticks(_) => 29,
        Action::OrderMotors(_) => 30,
        Action::TestAttitude => 31,
        Action::CalibrateLevel { .. } => 32,
        Action::CalibrateBattery { .. } => 33,
        Action::TryOnUsb { .. } => 35,
        Action::TryMotorRun { .. } => 36,
        Action::TryCable { .. } => 37,
    }]
}

/// What a find needs behind it, and all else: with the battery out, in, and not known.
const PLANS: [&str; 5] = [
    "require props off\nrequire antenna on\nrequire battery out\nrequire throttle low\nrequire disarmed\n\
     require \"Is it so?\"\nfind sticks\ntest sticks\nfind switch B\nfind switch C\nfind link loss\ntest attitude\ncalibrate level\nat zero throttle spin\n\
     signal dshot300 at 4 kHz\nfailsafe cut motors after 500 ms\nset \"LIGHT_LEVEL\" to 50\n\
     battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell\n\
     bind buzzer to switch C position 1\nbind arm to switch B position 2\nkeep\nexpect idle is 1050 us\ntest arm\n\
     power cycle\nnote \"Look.\"\npause \"Look.\"\nrequire level within 2 deg\n\
     require battery at least 3.7 V per cell\ncalibrate battery\nidle start at 1100 step 25 until all spin\ntest idle\ntest cut\n\
     test failsafe within 2 s\ntest buzzer\ntest motors\norder motors\n",
    "require props off\nrequire antenna on\nswitch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n\
     find switch B\nrequire switch B position 0\nrequire battery in\nbind arm to switch B position 2\n\
     at zero throttle spin\nidle at 1150\nkeep\ntest arm\n",
    "require props off\nrequire antenna on\nswitch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n\
     bind arm to switch B position 2\nkeep\nfind switch C\n",
    "require props off\nswitch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n\
     bind arm to switch B position 2\nat zero throttle spin\nkeep\nidle start at 1100 step 25 by hand\n",
    // Where the motors sound the buzzer.
    "require props off\nrequire battery out\nswitch C on channel 7 rests at 1000, 2000\n\
     bind buzzer to switch C position 1\nkeep\ntest buzzer\n",
];

/// The trials of a sheet.
fn trials() -> [Plan; 3] {
    let Bench { sheet, identity, settings, .. } = Bench::finch();
    let made_from = (&sheet, &identity, &settings);
    let (function, switch) = (Function::arm(), Switch("B".to_owned()));
    let arm = BoundFunction { function, switch, positions: vec![2], at: None };
    let pulse = Pulse(1150);
    [
        trial::on_usb(made_from, arm, Pulse(1050)).unwrap(),
        trial::motor_run(made_from, pulse).unwrap(),
        trial::cable(made_from, pulse).unwrap(),
    ]
}

/// Every guard that a plan prints blocks its step where it alone does not hold, and lets it pass where it does: at the
/// door to which the run takes that step.
#[test]
fn every_guard_that_is_printed_blocks_and_passes_its_step() {
    let (mut kinds, mut proved) = (BTreeSet::new(), BTreeSet::new());
    let planned = PLANS.iter().enumerate().map(|(index, lines)| {
        // What a card knows of a switch is confirmed; what it does not, found.
        let card = if index % 2 == 0 { RadioCard::default() } else { Bench::finch().card };
        let mut bench = Bench { by_hand: index == 3, card, ..Bench::finch() };
        bench.sheet.motors_sound_buzzer = index == 4;
        bench.plan(lines)
    });
    for plan in planned.chain(trials()) {
        for Step { act, guards, .. } in &plan.steps {
            let (kind, entry) = (kind(act), act.door());
            kinds.insert(kind);
            for guard in guards {
                if entry == StepDoor::Never || !proved.insert((entry, format!("{guard:?}"))) {
                    continue;
                }
                let (mut room, why) = broken(guard);
                let confirms = matches!(guard, Guard::Confirmed);
                // A start is nothing without its answer: it is asked for by type.
                if !(confirms && entry == StepDoor::Drives) {
                    refused(enters(entry, &mut room, guard, !confirms), why, &(kind, guard));
                }
                let passed = enters(entry, &mut kept(entry, guard), guard, true);
                assert_eq!(passed, Ok(()), "{kind}: {guard:?}");
            }
        }
    }
    assert_eq!(kinds, BTreeSet::from(KINDS), "some kind of step is not walked");
    assert!(proved.len() > 30, "{proved:?}");
}

fn says(fault: &Fault, why: &str) -> bool {
    why.split('|').any(|why| fault.to_string().contains(why))
}

fn refused(result: Result<(), Fault>, why: &str, what: &impl std::fmt::Debug) {
    let fault = result.expect_err(&format!("{what:?} blocked nothing"));
    assert!(says(&fault, why), "{what:?}: {fault}");
}

/// At the doors of a change and of a start every guard is judged, whichever plan prints it.
#[test]
fn every_guard_blocks_and_passes_at_every_door() {
    for guard in all() {
        for entry in [StepDoor::Looks, StepDoor::Changes, StepDoor::Drives, StepDoor::PlugsIn, StepDoor::WorksSwitches]
        {
            let confirms = matches!(guard, Guard::Confirmed);
            if confirms && entry == StepDoor::Drives {
                continue;
            }
            let (mut room, why) = broken(&guard);
            refused(enters(entry, &mut room, &guard, !confirms), why, &(entry, &guard));
            // Nothing but an answer to its own question confirms, and switches are worked with the battery out.
            let never = confirms && matches!(entry, StepDoor::Looks | StepDoor::PlugsIn)
                || matches!((entry, &guard), (StepDoor::WorksSwitches, Guard::BatteryIn | Guard::BatteryAtLeast(..)));
            if !never {
                assert_eq!(enters(entry, &mut kept(entry, &guard), &guard, true), Ok(()), "{entry:?}: {guard:?}");
            }
        }
        // It is this guard that blocked, or one that every change meets.
        let (mut room, why) = broken(&guard);
        match room.changes(&[]) {
            Ok(()) => assert!(!always(&guard), "{guard:?}"),
            Err(fault) => assert!(always(&guard) && says(&fault, why), "{guard:?}: {fault}"),
        }
    }
}

#[test]
fn a_start_takes_an_answer_of_the_last_ten_seconds_once() {
    let late = |ms: u64| {
        let mut room = Room::met();
        let mut ok = confirmed(&step(Motors::All), room.now);
        room.says(RESTING, ms).unwrap();
        room.answers(ID);
        let first = room.interlock.enter_drive(&mut ok, &[], Breaks::default()).map(|_| ());
        (first, room, ok)
    };
    assert_eq!(late(10_020).0, Err(Fault::StaleAnswer));
    let (first, mut room, mut ok) = late(9980);
    assert_eq!(first, Ok(()));
    let again = room.interlock.enter_drive(&mut ok, &[], Breaks::default());
    assert_eq!(again.map(|_| ()), Err(Fault::StaleAnswer));
}

/// An answer is for the one thing that was asked, and once.
#[test]
fn no_answer_opens_a_door_that_it_was_not_asked_for() {
    let other = |result: Result<(), Fault>| refused(result, "is something else", &"another question's answer");
    let change = |change: BoardChange| ChangeStep { guards: &[Guard::Confirmed], change, turns_motors: true };
    let enters_change = |room: &mut Room, asked: &MotorStep, done: BoardChange| {
        room.interlock.enter_change(change(done), Some(&mut confirmed(asked, room.now))).map(|_| ())
    };
    let idle = |to: i64| BoardChange {
        writes: vec![(SettingName::new("IDLE_US").unwrap(), Number::Whole(to))],
        ..BoardChange::default()
    };
    let store = || BoardChange { store: true, ..BoardChange::default() };
    let restart = || BoardChange { restart: true, ..BoardChange::default() };
    let switches = Room::met().interlock.switches_step("a test");
    // A change takes no answer to a start or to switches, and none to another change.
    let mut room = Room::met();
    for asked in [&step(Motors::All), &one_motor(), &switches, &of_change(BoardChange::default())] {
        for done in [idle(1120), store(), restart()] {
            other(enters_change(&mut room, asked, done));
        }
    }
    for (asked, done) in [
        (idle(1120), idle(1121)),
        (idle(1120), store()),
        (store(), restart()),
        (restart(), idle(1120)),
        (idle(1120), BoardChange { store: true, ..idle(1120) }),
        (idle(1120), BoardChange { writes: [idle(1120).writes, idle(1120).writes].concat(), ..BoardChange::default() }),
    ] {
        other(enters_change(&mut room, &of_change(asked.clone()), done));
        assert_eq!(enters_change(&mut room, &of_change(asked.clone()), asked), Ok(()));
    }
    // A start takes no answer to a change or to switches.
    for asked in [&of_change(idle_kept()), &switches] {
        let mut ok = confirmed(asked, room.now);
        other(room.interlock.enter_drive(&mut ok, &[], Breaks::default()).map(|_| ()));
    }
    // And switches take none to a change or a start.
    let mut room = Room::unplugged();
    for asked in [&of_change(idle_kept()), &step(Motors::All)] {
        other(room.interlock.enter_switches(&[], Some(&mut confirmed(asked, room.now))));
    }
}

#[test]
fn an_answer_is_used_up_by_its_door() {
    let part = |writes: bool, store: bool, restart: bool| BoardChange {
        writes: if writes { idle_kept().writes } else { vec![] },
        store,
        restart,
    };
    let parts = [part(true, false, false), part(false, true, false), part(false, false, true)];
    // An idle that is kept over a restart is written, stored, and the board restarted: each once, with one answer.
    let mut room = Room::met();
    let mut ok = confirmed(&MotorStep { change: idle_kept(), ..step(Motors::All) }, room.now);
    for change in parts {
        let mut enters = |change: BoardChange| {
            let change = ChangeStep { guards: &[], change, turns_motors: true };
            room.interlock.enter_change(change, Some(&mut ok)).map(|_| ())
        };
        assert_eq!(enters(change.clone()), Ok(()));
        assert_eq!(enters(change), Err(Fault::StaleAnswer));
    }
    assert!(room.interlock.enter_drive(&mut ok, &[], Breaks::default()).is_ok(), "its start is left");
    // Switches are worked once.
    let mut room = Room::unplugged();
    let mut ok = confirmed(&room.interlock.switches_step("a test"), room.now);
    assert_eq!(room.interlock.enter_switches(&[], Some(&mut ok)), Ok(()));
    assert_eq!(room.interlock.switches_rest(), Ok(()));
    assert_eq!(room.interlock.enter_switches(&[], Some(&mut ok)), Err(Fault::StaleAnswer));
}

#[test]
fn no_answer_opens_a_door_ten_seconds_later() {
    for (ms, stale) in [(9980, false), (10_020, true)] {
        let (mut room, expected) = (Room::unplugged(), if stale { Err(Fault::StaleAnswer) } else { Ok(()) });
        let mut change = confirmed(&of_change(idle_kept()), room.now);
        let mut switches = confirmed(&room.interlock.switches_step("a test"), room.now);
        room.says(UNPLUGGED, ms).unwrap();
        let step = ChangeStep { guards: &[], change: idle_kept(), turns_motors: true };
        assert_eq!(room.interlock.enter_change(step, Some(&mut change)).map(|_| ()), expected, "{ms} ms");
        assert_eq!(room.interlock.enter_switches(&[], Some(&mut switches)), expected, "{ms} ms");
    }
}

/// Each further start within 20 s of the standstill before it, up to the number that was confirmed; nothing may come between.
#[test]
fn the_starts_of_a_series_are_bounded() {
    let series = MotorStep { starts: 3, ..step(Motors::All) };
    let start = |room: &mut Room, ok: &mut Confirmed| {
        room.answers(ID);
        let entered = room.interlock.enter_drive(ok, &[Guard::PropsOff], Breaks::default()).map(|_| ());
        if entered.is_ok() {
            room.says(RESTING, 1500).unwrap();
            room.interlock.start_ends().unwrap();
        }
        entered
    };
    let later = |ms: u64, between: &dyn Fn(&mut Room)| {
        let mut room = Room::met();
        let mut ok = confirmed(&series, room.now);
        assert_eq!(start(&mut room, &mut ok), Ok(()));
        between(&mut room);
        room.says(RESTING, ms).unwrap();
        let entered = start(&mut room, &mut ok);
        (entered, room, ok)
    };
    let nothing = |_: &mut Room| {};
    assert_eq!(later(20_020, &nothing).0, Err(Fault::StaleAnswer));
    let (second, mut room, mut ok) = later(19_980, &nothing);
    assert_eq!(second, Ok(()));
    room.says(RESTING, 15_000).unwrap();
    assert_eq!((start(&mut room, &mut ok), start(&mut room, &mut ok)), (Ok(()), Err(Fault::StaleAnswer)));
    // Another value, another series, or a guard that does not hold any more.
    assert_eq!(later(2000, &|room| room.changes(&[]).unwrap()).0, Err(Fault::StaleAnswer));
    let other = |room: &mut Room| {
        room.says(RESTING, 100).unwrap();
        let mut other = confirmed(&step(Motors::All), room.now);
        assert_eq!(start(room, &mut other), Ok(()));
    };
    assert_eq!(later(2000, &other).0, Err(Fault::StaleAnswer));
    refused(later(2000, &|room| room.interlock.encoding(false)).0, "writes numbers", &"a later start");
}

/// `safety.md`, prompts that are read: a hand that is off too early voids its start, at most twice a value; the next
/// invitation stands under the same word.
#[test]
fn a_start_that_did_not_count_is_given_back_twice_and_only_at_rest() {
    let mut room = Room::met();
    let mut ok = confirmed(&step(Motors::All), room.now);
    assert_eq!(room.interlock.start_voided(&mut ok), Err(Fault::StaleAnswer), "nothing was started");
    for made in 1..=3 {
        room.answers(ID);
        room.interlock.enter_drive(&mut ok, &[Guard::PropsOff], Breaks::default()).map(|_| ()).unwrap();
        assert_eq!(room.interlock.start_voided(&mut ok), Err(Fault::StaleAnswer), "it is under way");
        room.says(RESTING, 1500).unwrap();
        room.interlock.start_ends().unwrap();
        let given_back = if made < 3 { Ok(()) } else { Err(Fault::StaleAnswer) };
        assert_eq!(room.interlock.start_voided(&mut ok), given_back, "start {made}");
    }
    let entered = room.interlock.enter_drive(&mut ok, &[Guard::PropsOff], Breaks::default()).map(|_| ());
    assert_eq!(entered, Err(Fault::StaleAnswer));
}

#[test]
fn switches_are_worked_with_the_battery_out_or_under_their_own_question() {
    let mut room = Room::met();
    refused(room.interlock.enter_switches(&[], None), "battery is in", &Guard::BatteryOut);
    let mut room = Room::unplugged();
    assert_eq!(room.interlock.enter_switches(&[], None), Ok(()));
    // Out by a word alone: only with an answer of its own, and then it may be worked.
    let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    room.types(About::BatteryOut);
    refused(room.interlock.enter_switches(&[], None), "nobody confirmed it", &Guard::Confirmed);
    let asked = room.interlock.switches_step("a test");
    assert_eq!(asked.by, StartedBy::WorkedSwitch);
    let mut ok = confirmed(&asked, room.now);
    assert_eq!(room.interlock.enter_switches(&[], Some(&mut ok)), Ok(()));
    assert_eq!(room.interlock.phase(), Phase::SwitchesWorked);
}

/// A stick in a corner arms some boards, whatever is bound (`safety.md`, effects).
#[test]
fn sticks_that_arm_are_worked_as_a_bound_switch_is() {
    for sticks_arm in [false, true] {
        let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
        let sheet = room.interlock.sheet().unwrap().clone();
        room.interlock.take_in(&identity(ID), &sheet, Facts { sticks_arm, arm_bands: Vec::new(), ..facts() });
        room.types(About::BatteryOut);
        assert_eq!(room.interlock.switches_could_start(), sticks_arm);
        assert_eq!(room.interlock.enter_switches(&[], None).is_err(), sticks_arm, "worked without a question");
    }
}

#[test]
fn what_makes_a_plug_in_safe_is_judged_printed_or_not() {
    for guard in [Guard::PropsOff, Guard::Disarmed, Guard::ThrottleLow, Guard::ArmSwitchOff] {
        let (mut room, why) = broken(&guard);
        refused(room.interlock.invite_plug_in(&[]), why, &guard);
    }
    assert_eq!(Room::unplugged().interlock.invite_plug_in(&[Guard::BatteryOut]), Ok(()));
}

/// A pack of two cells is no good one of one, whatever limit was asked for.
#[test]
fn a_pack_of_more_cells_than_were_said_is_refused() {
    let room = Room::met();
    let holds = |cells| room.interlock.all_hold(&[Guard::BatteryAtLeast(Voltage(3700), cells)], None);
    assert_eq!(holds(2), Ok(()));
    let guard = Guard::BatteryAtLeast(Voltage(3700), 1);
    refused(holds(1), "The pack is at 7.90 V, more than 1 cell has when full", &guard);
}

/// A word spares the question of a change; what contradicts it takes that back.
#[test]
fn a_change_that_can_turn_motors_needs_an_answer_or_nothing_that_could_turn() {
    let change = || ChangeStep { turns_motors: true, change: idle_kept(), ..ChangeStep::default() };
    let mut room = Room::met();
    refused(room.interlock.enter_change(change(), None).map(|_| ()), "nobody confirmed it", &Guard::Confirmed);
    let mut ok = confirmed(&of_change(idle_kept()), room.now);
    assert!(room.interlock.enter_change(change(), Some(&mut ok)).is_ok());
    assert!(Room::unplugged().interlock.enter_change(change(), None).is_ok());
    let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    assert!(room.interlock.enter_change(change(), None).is_err());
    room.types(About::BatteryOut);
    assert!(room.interlock.enter_change(change(), None).is_ok());
    assert!(
        room.says(Signals { millivolts: Some(7900), ..UNTOLD }, 40).is_err(),
        "a measured pack contradicts the word"
    );
    assert!(room.interlock.enter_change(change(), None).is_err());
}

/// A battery that goes out takes the word of the propellers with it, measured or typed; one that was never in does not.
#[test]
fn the_word_of_the_propellers_goes_with_a_battery_that_was_in() {
    let unmeasured = || Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    let mut room = unmeasured();
    room.types(About::BatteryOut);
    assert!(room.interlock.props_off(), "nothing was in");

    let mut room = unmeasured();
    room.types(About::BatteryIn);
    room.types(About::BatteryOut);
    assert!(!room.interlock.props_off(), "typed in, then out");

    let mut room = Room::met();
    let _stopped = room.says(UNTOLD, 2500);
    room.types(About::BatteryOut);
    assert!(!room.interlock.props_off(), "measured in, then told no more");

    let mut room = unmeasured();
    room.interlock.latch();
    room.types(About::BatteryOut);
    assert!(!room.interlock.props_off(), "it may have been in when something stopped");

    let mut room = Room::met();
    assert_eq!(room.judged(UNPLUGGED, 0, 2000), Ok(()));
    assert!(!room.interlock.props_off(), "measured out");
}

/// `interlock.md`, 1: a sequence only raises doubt. It blocks at rest, stops what turns, and ends with the same answer. At
/// rest what looks like a start may be another's, so that no stop leaves before that answer (law 4).
#[test]
fn frames_whose_numbers_jump_leave_doubt_and_no_more() {
    let mut room = Room::met();
    room.interlock.hear(&LinkEvent::Leapt);
    let why = room.changes(&[]).unwrap_err().to_string();
    assert!(why.contains("numbers of the board's frames jumped"), "{why}");
    assert_eq!(room.interlock.authority(), Authority::Nothing);
    room.says(RESTING, 100).unwrap();
    assert!(room.changes(&[]).is_err(), "frames alone do not end it");
    room.answers(ID);
    assert_eq!(room.interlock.authority(), Authority::Disarm);
    room.says(RESTING, 20).unwrap();
    room.changes(&[]).unwrap();
    let mut room = Room::turning(&step(Motors::All), Breaks::default());
    room.says(IDLING, 500).unwrap();
    room.interlock.hear(&LinkEvent::Leapt);
    let reason = room.says(IDLING, 20).unwrap_err();
    assert!(reason.contains("numbers of the board's frames jumped"), "{reason}");
    // A board that restarts as it was told to counts from nothing.
    let mut room = Room::in_phase(Phase::Restarting);
    room.interlock.hear(&LinkEvent::Leapt);
    assert!(room.interlock.is_sure());
}

/// What is typed to the question of one craft says nothing of the next, whenever it comes to be taken in.
#[test]
fn a_word_says_nothing_of_a_craft_that_was_met_after_it() {
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    let typed = said_of(About::Antenna, room.now);
    room.interlock.lost();
    room.now = room.now + Duration::from_millis(500);
    room.interlock.wakes(room.now, room.now);
    room.interlock.opened(&adapter());
    room.answers(ID);
    room.interlock.attest(typed);
    assert!(!room.interlock.antenna_on());
    room.types(About::Antenna);
    assert!(room.interlock.antenna_on());
}

/// Nor is one that was typed to another question.
#[test]
fn a_word_attests_what_was_asked_and_nothing_else() {
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    for (about, word) in [(About::Antenna, "props off"), (About::Props, "antenna on"), (About::Level, "antenna on")] {
        room.interlock.attest(typed(about, word, room.now));
        assert!(!room.interlock.antenna_on());
    }
    assert!(Confirmed::of(typed(About::Motor(one_motor()), "props off", room.now)).is_none());
    assert!(Confirmed::of(typed(About::Level, &one_motor().word(), room.now)).is_none());
}
