//! The gate: what becomes of each frame in each state, and what bounds the dangerous numbers.

use super::room::{ID, RESTING, Room, UNPLUGGED, confirmed, facts, heard, identity, of_change, one_motor};
use quadjig::board::sheet::Form;
use quadjig::board::shipped;
use quadjig::board::signals::{LinkEvent, Outgoing};
use quadjig::board::value::{Number, SettingName};
use quadjig::interlock::craft::Facts;
use quadjig::interlock::{Breaks, ChangeStep, FrameVerdict, Phase};
use quadjig::language::units::Pulse;
use quadjig::seam::PortInfo;
use quadjig::seam::ui::{BoardChange, MotorStep};
use std::fmt::Write as _;
use std::rc::Rc;
use std::time::Duration;

fn write(name: &str, value: i64) -> Outgoing {
    Outgoing::Write { name: SettingName::new(name).unwrap(), value: Some(Number::Whole(value)) }
}

fn motor(motor: u8, pulse: u16, seconds: u64) -> Outgoing {
    Outgoing::Motor { motor, pulse, lease: Duration::from_secs(seconds) }
}

/// All of them, at their most harmless; a new one does not compile until it stands here.
fn next(frame: Option<&Outgoing>) -> Option<Outgoing> {
    Some(match frame {
        None => Outgoing::Identify,
        Some(Outgoing::Identify) => Outgoing::Presence,
        Some(Outgoing::Presence) => Outgoing::Heartbeat,
        Some(Outgoing::Heartbeat) => Outgoing::Ask,
        Some(Outgoing::Ask) => Outgoing::Disarm { force: false },
        Some(Outgoing::Disarm { force: false }) => Outgoing::Disarm { force: true },
        Some(Outgoing::Disarm { force: true }) => write("IDLE_US", 1120),
        Some(Outgoing::Write { .. }) => Outgoing::Store,
        Some(Outgoing::Store) => Outgoing::Restart,
        Some(Outgoing::Restart) => motor(2, 1150, 2),
        Some(Outgoing::Motor { .. }) => Outgoing::Arm,
        Some(Outgoing::Arm) => Outgoing::Unknown,
        Some(Outgoing::Unknown) => return None,
    })
}

fn all() -> impl Iterator<Item = Outgoing> {
    std::iter::successors(next(None), |frame| next(Some(frame)))
}

fn word(verdict: &FrameVerdict) -> &'static str {
    match verdict {
        FrameVerdict::Leaves(_) => "leaves",
        FrameVerdict::Waits => "waits",
        FrameVerdict::Refused(_) => "-",
    }
}

/// A row for each frame, a column for each state as a session comes to it; two more for Still: with a change under way, and
/// in doubt.
#[test]
fn each_frame_in_each_state() {
    let mut rooms: Vec<(String, Room)> =
        Phase::ALL.into_iter().map(|phase| (format!("{phase:?}"), Room::in_phase(phase))).collect();
    let mut changing = Room::met();
    changing.changes(&[]).unwrap();
    rooms.push(("change".to_owned(), changing));
    let mut doubtful = Room::met();
    doubtful.changes(&[]).unwrap();
    let _late = doubtful.silent(700);
    rooms.push(("change, late".to_owned(), doubtful));
    let mut only = Room::met();
    only.interlock.only_looks();
    rooms.push(("only looks".to_owned(), only));
    let mut table = format!("{:25}", "");
    for (name, _) in &rooms {
        write!(table, " | {name:^14}").unwrap();
    }
    for frame in all() {
        let name = format!("{frame:?}");
        let name = if matches!(frame, Outgoing::Disarm { .. }) { &name } else { name.split(' ').next().unwrap() };
        write!(table, "\n{name:25}").unwrap();
        for (_, room) in &rooms {
            write!(table, " | {:^14}", word(&room.interlock.judge_frame(&frame))).unwrap();
        }
    }
    let table: Vec<&str> = table.lines().map(str::trim_end).collect();
    insta::assert_snapshot!(table.join("\n"));
}

fn refused(room: &Room, frame: &Outgoing, why: &str) {
    match room.interlock.judge_frame(frame) {
        FrameVerdict::Refused(said) => assert!(said.contains(why), "{frame:?}: {said}"),
        other => panic!("{frame:?}: {other:?}"),
    }
}

fn leaves(room: &Room, frame: &Outgoing) {
    let verdict = room.interlock.judge_frame(frame);
    assert!(matches!(verdict, FrameVerdict::Leaves(_)), "{frame:?}: {verdict:?}");
}

/// What changes or drives anything begins to leave within 100 ms, or never.
#[test]
fn nothing_that_acts_leaves_late() {
    let mut changing = Room::met();
    changing.changes(&[]).unwrap();
    let turning = Room::turning(&one_motor(), Breaks::default());
    for (room, frame) in [
        (&changing, write("IDLE_US", 1120)),
        (&changing, Outgoing::Store),
        (&changing, Outgoing::Restart),
        (&turning, motor(2, 1150, 2)),
    ] {
        let by = room.now + Duration::from_millis(100);
        assert_eq!(room.interlock.judge_frame(&frame), FrameVerdict::Leaves(by), "{frame:?}");
    }
}

/// A repeat of it would have a board restart that has just done so, where nothing but the answer was lost.
#[test]
fn a_restart_that_was_seen_is_not_asked_for_again() {
    let mut room = Room::met();
    let clock = |ms: u64| LinkEvent::Attitude { roll: 0.0, pitch: 0.0, yaw: 0.0, board_time: u32::try_from(ms).ok() };
    let hears = |room: &mut Room, board_ms: u64| {
        let next = room.now + Duration::from_millis(20);
        let mut all = heard(RESTING).to_vec();
        all.push(clock(board_ms));
        room.hears(next, &all).unwrap();
    };
    (0..50).for_each(|n| hears(&mut room, 600_000 + n * 20));
    room.answers(ID);
    hears(&mut room, 601_000);
    room.restarts();
    leaves(&room, &Outgoing::Restart);
    (0..100).for_each(|n| hears(&mut room, n * 20));
    room.answers(ID);
    hears(&mut room, 2000);
    assert!(room.interlock.restart_is_seen() && room.interlock.is_sure() && room.interlock.rests());
    assert_eq!(room.interlock.judge_frame(&Outgoing::Restart), FrameVerdict::Waits);
}

#[test]
fn only_what_was_written_down_is_written_and_only_as_long_as_its_door_stands_open() {
    let mut room = Room::met();
    room.changes(&[]).unwrap();
    leaves(&room, &write("IDLE_US", 1120));
    refused(&room, &write("IDLE_US", 1121), "none that may send");
    refused(&room, &write("LOOP_HZ", 1120), "none that may send");
    let unread = Outgoing::Write { name: SettingName::new("IDLE_US").unwrap(), value: None };
    refused(&room, &unread, "cannot be told");
    room.stillness = None;
    refused(&room, &write("IDLE_US", 1120), "no door was passed");
    refused(&room, &Outgoing::Store, "no door was passed");
    // One door at a time: the later takes the leave of the earlier.
    room.changes(&[]).unwrap();
    let later = room.interlock.enter_change(ChangeStep::default(), None).unwrap();
    refused(&room, &write("IDLE_US", 1120), "none that may send");
    drop(later);
}

#[test]
fn a_dangerous_number_is_bounded_here_whatever_the_door_allowed() {
    let mut room = Room::unplugged();
    let mut permitted = |name: &str, value: i64| {
        let writes = vec![(SettingName::new(name).unwrap(), Number::Whole(value))];
        let change = BoardChange { writes, ..BoardChange::default() };
        room.stillness =
            Some(room.interlock.enter_change(ChangeStep { change, ..ChangeStep::default() }, None).unwrap());
        room.interlock.judge_frame(&write(name, value))
    };
    assert!(matches!(permitted("IDLE_US", 1250), FrameVerdict::Leaves(_)));
    assert!(matches!(permitted("IDLE_US", 1251), FrameVerdict::Refused(why) if why.contains("nothing on the bench")));
    let room = Room::turning(&one_motor(), Breaks::default());
    leaves(&room, &motor(2, 1150, 2));
    for other in [motor(1, 1150, 2), motor(2, 1151, 2), motor(2, 1149, 2), motor(2, 1150, 3)] {
        refused(&room, &other, "not the one that was confirmed");
    }
}

/// Whatever was confirmed: a board that keeps a run for a second by itself is asked for no more.
#[test]
fn a_run_is_no_longer_than_its_board_bounds_it() {
    let mut room = Room::turning(&one_motor(), Breaks::default());
    let sheet = Rc::clone(room.interlock.sheet().unwrap());
    for (motor_run, fits) in
        [(Some(Duration::from_secs(2)), true), (Some(Duration::from_secs(1)), false), (None, false)]
    {
        room.interlock.take_in(&identity(ID), &sheet, Facts { motor_run, ..facts() });
        let leaves = matches!(room.interlock.judge_frame(&motor(2, 1150, 2)), FrameVerdict::Leaves(_));
        assert_eq!(leaves, fits, "{motor_run:?}");
    }
}

#[test]
fn a_clearance_is_worth_something_only_as_long_as_it_is_held() {
    let mut room = Room::turning(&one_motor(), Breaks::default());
    leaves(&room, &motor(2, 1150, 2));
    room.clearance = None;
    refused(&room, &motor(2, 1150, 2), "no start was confirmed");
    let mut room = Room::turning(&one_motor(), Breaks::default());
    room.interlock.stop("a test");
    refused(&room, &motor(2, 1150, 2), "no start was confirmed");
}

/// An answer is worth something for half a minute, frame by frame, and a battery that is out only while it is.
#[test]
fn a_change_that_can_turn_motors_is_judged_again_by_its_answer_or_its_battery() {
    let store = || BoardChange { store: true, ..BoardChange::default() };
    let change = || ChangeStep { change: store(), turns_motors: true, ..ChangeStep::default() };
    let mut room = Room::met();
    let mut ok = confirmed(&of_change(store()), room.now);
    let entered = room.interlock.enter_change(change(), Some(&mut ok)).unwrap();
    room.says(super::room::RESTING, 30_000).unwrap();
    leaves(&room, &Outgoing::Store);
    room.says(super::room::RESTING, 20).unwrap();
    refused(&room, &Outgoing::Store, "too long before");
    drop(entered);
    let mut room = Room::unplugged();
    let entered = room.interlock.enter_change(change(), None).unwrap();
    leaves(&room, &Outgoing::Store);
    // No reading any more, and none said that it is out.
    room.says(super::room::Signals { millivolts: None, ..UNPLUGGED }, 100).unwrap();
    refused(&room, &Outgoing::Store, "not out any more");
    drop(entered);
}

#[test]
fn nothing_but_questions_of_who_it_is_leaves_to_another_craft() {
    let mut room = Room::at_rest(&PortInfo::default(), ID, super::room::RESTING);
    room.changes(&[]).unwrap();
    room.answers("76697274000000ff");
    for frame in all() {
        let may = matches!(frame, Outgoing::Identify | Outgoing::Presence);
        let verdict = room.interlock.judge_frame(&frame);
        assert_eq!(matches!(verdict, FrameVerdict::Leaves(_)), may, "{frame:?}: {verdict:?}");
    }
}

/// A command that only looks lets nothing else out, not even what a door gave before.
#[test]
fn what_only_looks_changes_nothing() {
    let mut room = Room::met();
    room.changes(&[]).unwrap();
    room.interlock.only_looks();
    for frame in [write("IDLE_US", 1120), Outgoing::Store, Outgoing::Restart, motor(2, 1150, 2)] {
        refused(&room, &frame, "only looks");
    }
}

/// Something that happens to a room.
type Disturbs<'d> = &'d dyn Fn(&mut Room);

/// What is not known for a moment holds a change up, and does not end it.
#[test]
fn a_change_waits_for_what_is_not_known_for_a_moment() {
    let slow = LinkEvent::Speeds { first: 0, rpm: [100, 0, 0, 0], count: 4 };
    let table: [(&str, Disturbs<'_>); 3] = [
        ("who is there", &|room| room.interlock.hear(&LinkEvent::Leapt)),
        ("whether it rests", &|room| {
            room.hears(room.now + Duration::from_millis(20), std::slice::from_ref(&slow)).unwrap();
        }),
        ("whether the guardian let go", &|room| {
            room.interlock.guardian().prepare(room.now, vec![b"STOP".to_vec()]);
            room.interlock.guardian().renew(room.now);
        }),
    ];
    for (what, happens) in table {
        let mut room = Room::at_rest(&PortInfo { guarded: true, ..PortInfo::default() }, ID, RESTING);
        room.changes(&[]).unwrap();
        leaves(&room, &Outgoing::Store);
        happens(&mut room);
        assert_eq!(room.interlock.judge_frame(&Outgoing::Store), FrameVerdict::Waits, "{what}");
    }
}

/// An idle between two pulse widths counts as the higher, and one that no pulse width can be told of is not written.
#[test]
fn an_idle_that_is_no_whole_pulse_width_is_bounded_as_well() {
    let real = || Form::Real { unit: "us".to_owned() };
    let words = || Form::Words([("low".to_owned(), 1)].into());
    for (form, value, why) in [
        (real(), 1250.0, None),
        (real(), 1250.5, Some("nothing on the bench")),
        (real(), 1400.5, Some("nothing on the bench")),
        (words(), 1.0, Some("what pulse width")),
    ] {
        let mut room = Room::unplugged();
        let mut sheet = shipped::sheet("finch").unwrap().unwrap();
        sheet.hash = format!("{form:?}");
        sheet.settings.get_mut("idle").unwrap().form = form;
        room.interlock.take_in(&identity(ID), &Rc::new(sheet), facts());
        let frame = Outgoing::Write { name: SettingName::new("IDLE_US").unwrap(), value: Some(Number::Real(value)) };
        let writes = vec![(SettingName::new("IDLE_US").unwrap(), Number::Real(value))];
        let change = BoardChange { writes, ..BoardChange::default() };
        room.stillness =
            Some(room.interlock.enter_change(ChangeStep { change, ..ChangeStep::default() }, None).unwrap());
        match why {
            None => leaves(&room, &frame),
            Some(why) => refused(&room, &frame, why),
        }
    }
}

/// `safety.md`, built-in ceilings: 1250 us, and 5 s for one turning, whatever was confirmed.
#[test]
fn a_run_is_bounded_by_the_ceilings_whatever_was_confirmed() {
    let asked = MotorStep { pulse: Pulse(1250), longest: Duration::from_secs(8), ..one_motor() };
    let mut room = Room::met();
    let sheet = Rc::clone(room.interlock.sheet().unwrap());
    let motor_run = Some(Duration::from_secs(10));
    room.interlock.take_in(&identity(ID), &sheet, Facts { motor_run, ..facts() });
    room.starts(&asked, Breaks::default());
    leaves(&room, &motor(2, 1250, 5));
    refused(&room, &motor(2, 1250, 6), "not the one that was confirmed");
    refused(&room, &motor(2, 1250, 9), "not the one that was confirmed");
}
