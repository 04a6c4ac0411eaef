//! Whose frames they are: what silence takes away, and what a clock, an id and an answer give back.
//!
//! Must not be here: what ends a contact (see `contact`), and which question an answer is to (see `answers`).

use super::room::{ID, RESTING, Room, Signals, UNPLUGGED, UNTOLD, adapter, facts, heard, identity, idle_kept, step};
use quadjig::board::craft_name::CraftName;
use quadjig::board::signals::{Identity, LinkEvent, Outgoing};
use quadjig::interlock::signals::Pack;
use quadjig::interlock::{Authority, Breaks, ChangeStep, FrameVerdict, Order, Phase};
use quadjig::seam::PortInfo;
use quadjig::seam::ui::{About, Delivery, Motors, UiEvent};
use std::time::Duration;

const ZERO: &str = "0000000000000000";

/// A frame of outputs with the board's own time, which runs as ours does.
fn clocked(room: &Room) -> LinkEvent {
    LinkEvent::Outputs { pulses: RESTING.outputs, board_time: u32::try_from(room.now.0 / 1000 - 60_000).ok() }
}

/// Hears this 20 ms later.
fn next(room: &mut Room, heard: &[LinkEvent]) {
    let _judged = room.hears(room.now + Duration::from_millis(20), heard);
}

fn next_clocked(room: &mut Room) {
    room.now = room.now + Duration::from_millis(20);
    let told = clocked(room);
    let _judged = room.hears(room.now, &[told]);
}

/// At rest on an adapter, its outputs with their time for a second.
fn with_a_clock(id: &str) -> Room {
    let mut room = Room::at_rest(&adapter(), id, RESTING);
    (0..50).for_each(|_| {
        next_clocked(&mut room);
        next(&mut room, &heard(RESTING)[..2]);
    });
    room.answers(id);
    next(&mut room, &heard(RESTING)[..2]);
    next_clocked(&mut room);
    room
}

fn may_be_stopped(room: &Room) -> bool {
    room.interlock.authority() > Authority::Nothing
}

/// How often it wants to ask who is there, judged every 20 ms, with nothing or this heard every so often.
fn questions(room: &mut Room, for_ms: u64, every_ms: u64, said: &[LinkEvent]) -> usize {
    let (from, mut asked) = (room.now, 0);
    for ms in (20..=for_ms).step_by(20) {
        room.now = from + Duration::from_millis(ms);
        room.interlock.wakes(room.now, room.now);
        for event in said.iter().filter(|_| ms % every_ms == 0) {
            room.interlock.hear(event);
        }
        room.interlock.judge();
        asked += room.interlock.orders().iter().filter(|order| matches!(order, Order::Identify)).count();
    }
    asked
}

/// Where nothing else comes yet, a flag that comes once a second is no silence; one that is late by half is.
#[test]
fn a_flag_that_comes_seldom_is_no_silence_until_it_is_late() {
    let [flag, ..] = heard(RESTING);
    let mut room = Room::known(&adapter(), ID);
    // Its streams are rare too, and it was begun with.
    for beat in 0..50 {
        let streams = usize::from(beat % 5 != 0);
        room.hears(room.now + Duration::from_millis(200), &heard(RESTING)[streams..]).unwrap();
        if beat % 5 == 0 {
            room.answers(ID);
        }
    }
    room.interlock.may_work().unwrap();
    assert_eq!(questions(&mut room, 10_000, 1000, std::slice::from_ref(&flag)), 0);
    assert_eq!(questions(&mut room, 1240, 1240, std::slice::from_ref(&flag)), 0);
    assert!(questions(&mut room, 1300, 1300, &[flag]) > 0, "another may speak by now");
}

/// The clock of a craft whose streams were missed for a moment shows that it is still the same; after a silence of all of
/// them it does not, since two boards that were powered together have clocks alike.
#[test]
fn a_clock_that_runs_on_shows_the_same_craft_after_a_moment_and_not_after_a_silence() {
    for (silent_ms, shows) in [(300, true), (480, true), (600, false)] {
        let mut room = with_a_clock(ID);
        let _waits = room.silent(silent_ms);
        next(&mut room, &heard(RESTING)[..1]);
        assert!(!may_be_stopped(&room), "{silent_ms} ms: nobody knows whose this flag is");
        next(&mut room, &heard(RESTING)[..1]);
        assert!(!may_be_stopped(&room), "{silent_ms} ms: nor whose the next is");
        next_clocked(&mut room);
        assert_eq!(may_be_stopped(&room), shows, "{silent_ms} ms: its clock runs on");
        room.answers(ID);
        assert!(may_be_stopped(&room), "{silent_ms} ms: it has answered");
    }
}

/// Of a craft that came beside, with the same number on the wire: what it tells is not taken for what ours does, and no stop
/// is sent that it would hear.
#[test]
fn what_a_craft_beside_tells_stops_nothing() {
    let armed = Signals { armed: true, outputs: [1158, 1158, 1158, 1158, 0, 0, 0, 0], ..RESTING };
    let behind = |room: &Room| u32::try_from(room.now.0 / 1000 - 58_000).ok();
    let mut room = with_a_clock(ID);
    let ours = |room: &Room| {
        let board_time = u32::try_from(room.now.0 / 1000 - 60_000).ok();
        [LinkEvent::Attitude { roll: 0.0, pitch: 0.0, yaw: 0.0, board_time }]
    };
    room.hears(room.now, &ours(&room)).unwrap();
    room.answers(ID);
    // Its clock is another; ours runs on right after it, in a message of another kind.
    let its = LinkEvent::Outputs { pulses: armed.outputs, board_time: behind(&room) };
    assert_eq!(room.hears(room.now + Duration::from_millis(20), &[its]), Ok(()));
    assert_eq!(room.interlock.signals().outputs.last().unwrap().value, RESTING.outputs, "its outputs are not taken up");
    assert_eq!(room.hears(room.now, &ours(&room)), Ok(()));
    assert_eq!(room.interlock.authority(), Authority::Nothing, "a clock that runs on answers for nothing at rest");
    let mut room = with_a_clock(ID);
    // Its flag, whose frame no clock dates, comes after numbers that leapt; ours speaks again, and answers first.
    room.interlock.hear(&LinkEvent::Leapt);
    assert_eq!(room.hears(room.now, &[heard(armed)[0].clone()]), Ok(()));
    assert_eq!(room.hears(room.now + Duration::from_millis(20), &ours(&room)), Ok(()));
    assert_eq!(room.interlock.authority(), Authority::Nothing);
}

/// A craft that goes by its typed name gives no name with its id, and is no other for that.
#[test]
fn a_named_craft_that_answers_is_no_other() {
    let mut room = Room::at_rest(&adapter(), ZERO, RESTING);
    let named = Identity { name: Some(CraftName::read("Wren 95").unwrap()), ..identity(ZERO) };
    let sheet = room.interlock.sheet().unwrap().clone();
    room.interlock.named(&named);
    room.interlock.take_in(&named, &sheet, facts());
    room.restarts();
    room.interlock.lost();
    room.interlock.opened(&adapter());
    room.answers(ZERO);
    room.interlock.named(&named);
    room.says(RESTING, 3000).unwrap();
    assert_eq!(room.interlock.authority(), Authority::Disarm);
}

/// What comes of a pause of the link all at once is late and then not.
#[test]
fn a_burst_after_a_pause_is_no_doubt() {
    let mut room = with_a_clock(ID);
    let at = |room: &Room, ms: u64| {
        let board_time = u32::try_from(room.now.0 / 1000 - 60_000 - ms).ok();
        LinkEvent::Outputs { pulses: RESTING.outputs, board_time }
    };
    room.now = room.now + Duration::from_millis(400);
    let burst: Vec<LinkEvent> = (0..20).rev().map(|n| at(&room, n * 20)).collect();
    room.hears(room.now, &[burst, heard(RESTING).to_vec()].concat()).unwrap();
    room.answers(ID);
    room.interlock.surely_there().unwrap();
    room.hears(room.now, &[at(&room, 380)]).unwrap();
    room.interlock.surely_there().unwrap();
}

/// Ours turns, and has answered; but what is sent to it the other hears as well, which nobody here started.
#[test]
fn while_two_speak_no_stop_leaves() {
    for two in [LinkEvent::TwoSpeakers, LinkEvent::Identity(identity("76697274000000ff"))] {
        let mut room = Room::turning(&step(Motors::All), Breaks::default());
        assert_eq!(room.interlock.authority(), Authority::Forced);
        room.interlock.asks(&Outgoing::Identify);
        room.interlock.hear(&two);
        room.answers(ID);
        assert_eq!(room.interlock.phase(), Phase::Stopping);
        assert_eq!(room.interlock.authority(), Authority::Nothing, "{two:?}");
        let begun = room.interlock.orders().into_iter().find_map(|order| match order {
            Order::Say(UiEvent::StopBegins { delivery, .. }) => Some(delivery),
            _ => None,
        });
        assert_eq!(begun, Some(Delivery::Unsure), "{two:?}: and nobody is told that it left, or that nobody is there");
        let _stopping = room.says(RESTING, 10_000);
        assert!(room.interlock.authority() > Authority::Nothing, "{two:?}: not heard any more");
    }
}

/// Nor does the clock of any craft in an announced restart.
#[test]
fn in_an_announced_restart_no_clock_shows_whose_it_is() {
    let mut room = with_a_clock(ID);
    room.restarts();
    room.interlock.hear(&LinkEvent::Banner);
    next_clocked(&mut room);
    assert!(!may_be_stopped(&room));
    room.answers(ID);
    assert!(may_be_stopped(&room));
}

/// A craft without an id of its own can't answer a doubt: there it ends with a flag and outputs that its clock dates after
/// it. One that has an id is asked.
#[test]
fn a_doubt_ends_with_a_clock_only_where_nobody_can_be_asked() {
    let changes = |room: &mut Room| {
        let change = ChangeStep { change: idle_kept(), ..ChangeStep::default() };
        room.interlock.enter_change(change, None).map(|_| ()).map_err(|fault| fault.to_string())
    };
    let doubted = |changes: &Result<(), String>| changes.as_ref().is_err_and(|said| said.contains("held up"));
    for (id, ends) in [(ZERO, true), (ID, false)] {
        let mut room = with_a_clock(id);
        let due = room.now;
        room.now = due + Duration::from_millis(300);
        room.interlock.wakes(room.now, due);
        assert!(doubted(&changes(&mut room)), "{id}");
        next_clocked(&mut room);
        next_clocked(&mut room);
        assert!(doubted(&changes(&mut room)), "{id}: no flag yet");
        next(&mut room, &heard(RESTING)[..2]);
        assert!(doubted(&changes(&mut room)), "{id}: no clock since");
        next_clocked(&mut room);
        assert_eq!(doubted(&changes(&mut room)), !ends, "{id}");
    }
}

/// The link is as quick as its quickest answer of the last ten seconds.
#[test]
fn the_round_trip_is_the_least_of_late() {
    let mut room = Room::met();
    room.says(RESTING, 10_020).unwrap();
    assert_eq!(room.interlock.round_trip(), None, "of late none was measured");
    let answered = |room: &mut Room, after_ms: u64| {
        room.interlock.asks(&Outgoing::Identify);
        room.says(RESTING, after_ms).unwrap();
        room.interlock.hear(&LinkEvent::Identity(identity(ID)));
        room.interlock.round_trip()
    };
    let ms = |ms| Some(Duration::from_millis(ms));
    assert_eq!((answered(&mut room, 40), answered(&mut room, 200)), (ms(40), ms(40)));
    room.says(RESTING, 9800).unwrap();
    assert_eq!(answered(&mut room, 100), ms(100), "the quickest is too old");
}

/// An answer that can be to one question alone measures the link; else it is asked once more, and not for ever.
#[test]
fn a_link_that_was_measured_is_not_measured_again() {
    let every: Vec<LinkEvent> = heard(RESTING).to_vec();
    let mut room = Room::met();
    room.answers(ID);
    assert_eq!(questions(&mut room, 5000, 20, &every), 0);
    room.interlock.asks(&Outgoing::Identify);
    room.answers(ID);
    assert_eq!(questions(&mut room, 980, 20, &every), 0, "the other may still come");
    assert!(questions(&mut room, 1000, 20, &every) > 0, "to which of two that was is not known");
}

/// What came armed out of an announced restart may be stopped for as long as the warrant of it stands, and no longer: it was
/// never seen at rest since.
#[test]
fn a_craft_that_came_armed_out_of_a_restart_is_stopped_for_a_minute() {
    let armed_for = |ms: u64| {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        room.restarts();
        room.interlock.lost();
        let _waiting = room.silent(2000);
        room.interlock.opened(&adapter());
        room.answers(ID);
        let _stopping = room.says(Signals { armed: true, ..RESTING }, ms);
        assert_eq!(room.interlock.phase(), Phase::Stopping);
        room.interlock.authority()
    };
    assert_eq!((armed_for(57_960), armed_for(58_000)), (Authority::Forced, Authority::Nothing));
}

/// A board that is dark is plugged in late: what comes armed out of that may be stopped from then on.
#[test]
fn a_plug_in_of_a_dark_board_renews_its_warrant() {
    let lit_after = |ms: u64| {
        let mut room = Room::met();
        room.interlock.power_cycle_begins().unwrap();
        room.interlock.lost();
        let _dark = room.silent(50_000);
        room.interlock.invite_dark_plug_in().unwrap();
        let _dark = room.silent(ms);
        room.interlock.opened(&adapter());
        room.answers(ID);
        room.interlock.authority()
    };
    assert_eq!((lit_after(119_900), lit_after(130_000)), (Authority::Disarm, Authority::Nothing));
}

/// An answer to a question from before the doubt says nothing of it.
#[test]
fn an_older_answer_ends_no_doubt() {
    let mut room = Room::met();
    room.interlock.asks(&Outgoing::Identify);
    next(&mut room, &heard(RESTING));
    room.interlock.hear(&LinkEvent::Leapt);
    room.interlock.hear(&LinkEvent::Identity(identity(ID)));
    assert!(!room.interlock.is_sure());
    room.answers(ID);
    room.says(RESTING, 20).unwrap();
    assert!(room.interlock.is_sure());
}

/// A flag, a pack or speeds that came while it was not known whose they are may be another's that answers later, or never:
/// they stop nothing and allow nothing, whoever answers first. On an opening too.
#[test]
fn what_was_said_before_an_answer_shows_nothing_of_who_gave_it() {
    let flag = |armed: bool| [LinkEvent::Alive { vehicle: 1, armed }];
    let doubted = |doubt: fn(&mut Room), armed: bool| {
        let mut room = Room::met();
        doubt(&mut room);
        next(&mut room, &flag(armed));
        room.answers(ID);
        assert_eq!(room.hears(room.now + Duration::from_millis(20), &heard(RESTING)[1..]), Ok(()));
        assert!(!room.interlock.is_sure(), "a flag of nobody knows whom");
        room
    };
    for doubt in [|room: &mut Room| room.interlock.hear(&LinkEvent::Leapt), Room::replugged_unheard] {
        let mut room = doubted(doubt, false);
        next(&mut room, &flag(false));
        assert!(room.interlock.is_sure(), "said again, it is its own");
    }
    let mut room = doubted(|room| room.interlock.hear(&LinkEvent::Leapt), true);
    let stopped = room.hears(room.now + Duration::from_millis(20), &flag(true));
    assert!(stopped.is_err_and(|reason| reason.contains("armed without being asked to")));
}

/// An answer of ours says that ours is there, not that the other whose clock was heard is gone: it may speak again at once.
#[test]
fn after_another_clock_an_answer_shows_nothing_until_that_had_time_to_be_heard_again() {
    for (waits, proves) in [(0, false), (80, false), (120, true)] {
        let mut room = with_a_clock(ID);
        let stray = LinkEvent::Outputs { pulses: RESTING.outputs, board_time: Some(4_000_000) };
        next(&mut room, &[stray]);
        (0..waits / 20).for_each(|_| next_clocked(&mut room));
        room.answers(ID);
        assert_eq!(may_be_stopped(&room), proves, "{waits} ms");
    }
}

/// A pack that is measured while two may speak belies no word about ours, until it is ours that tells it.
#[test]
fn a_pack_of_nobody_knows_whom_belies_no_word() {
    let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    room.types(About::BatteryOut);
    room.interlock.hear(&LinkEvent::Leapt);
    assert_eq!(room.hears(room.now + Duration::from_millis(20), &heard(RESTING)), Ok(()));
    room.answers(ID);
    room.says(UNTOLD, 40).unwrap();
    let belied = room.says(RESTING, 40).unwrap_err();
    assert!(belied.contains("although the battery was said to be out"), "{belied}");
}

/// In an announced restart another craft may have come, whose flag or pack is heard first: whose it is, is asked before
/// anything is stopped. Ours is stopped by what it says next.
#[test]
fn what_is_seen_in_a_restart_is_acted_on_once_an_answer_shows_whose_it_is() {
    let armed = Signals { armed: true, ..UNTOLD };
    for (seen, reason) in [(armed, "armed"), (RESTING, "although the battery was said to be out")] {
        let restarting = || {
            let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
            room.types(About::BatteryOut);
            room.restarts();
            assert_eq!(room.says(seen, 400), Ok(()), "nobody answered yet");
            room
        };
        let mut ours = restarting();
        ours.answers(ID);
        let why = ours.says(seen, 40).unwrap_err();
        assert!(why.contains(reason), "{why}");
        let mut another = restarting();
        another.answers("76697274000000ff");
        assert_eq!(another.says(seen, 400), Ok(()), "{reason}");
    }
}

/// Nor is it forgotten: what was typed of the battery opens no door until the pack was told again. One that tells none is
/// waited for no longer than a reading stands.
#[test]
fn after_an_answer_the_pack_is_awaited() {
    let told = |millivolts: Option<u16>| {
        let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
        room.types(About::BatteryOut);
        room.interlock.hear(&LinkEvent::Leapt);
        next(&mut room, &heard(Signals { millivolts, ..UNTOLD }));
        room.answers(ID);
        // Flag, channels, outputs and attitude, and no pack.
        next(&mut room, &heard(UNTOLD)[..4]);
        room
    };
    let why = told(Some(7800)).changes(&[]).unwrap_err().to_string();
    assert!(why.contains("whether its battery is in"), "{why}");
    let mut room = told(Some(7800));
    next(&mut room, &heard(UNTOLD));
    assert_eq!(room.changes(&[]), Ok(()));
    let mut room = told(Some(7800));
    (0..105).for_each(|_| next(&mut room, &heard(UNTOLD)[..4]));
    assert_eq!(room.changes(&[]), Ok(()), "it tells no pack at all");
}

/// A voltage that another tells while it is not known whose frames these are shows no sensor of ours at work.
#[test]
fn anothers_pack_shows_no_sensor_of_ours() {
    let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    room.interlock.hear(&LinkEvent::Leapt);
    next(&mut room, &heard(RESTING));
    room.answers(ID);
    room.says(UNPLUGGED, 2000).unwrap();
    assert_eq!(room.interlock.pack(), Pack::Unknown, "under 1 V on a sensor that nobody saw working");
}

/// An answer that shows a slower link leaves what comes after it as fresh as before.
#[test]
fn what_comes_after_an_answer_is_fresh_however_slow_the_link_has_become() {
    let mut room = Room::met();
    // By then no quicker answer counts any more.
    room.says(RESTING, 11_000).unwrap();
    room.interlock.hear(&LinkEvent::Leapt);
    room.interlock.asks(&Outgoing::Identify);
    room.says(RESTING, 400).unwrap();
    room.interlock.hear(&LinkEvent::Identity(identity(ID)));
    next(&mut room, &heard(RESTING));
    assert!(room.interlock.is_sure());
}

/// Whose frames these are is asked at once, and then every half second.
#[test]
fn frames_of_nobody_knows_whom_are_asked_about_at_once_and_not_all_the_time() {
    let every: Vec<LinkEvent> = heard(RESTING).to_vec();
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    room.interlock.asks(&Outgoing::Identify);
    room.silent(300).unwrap();
    assert_eq!(questions(&mut room, 20, 20, &every), 1, "at once");
    assert_eq!(questions(&mut room, 480, 20, &every), 0, "not yet again");
    assert_eq!(questions(&mut room, 20, 20, &every), 1, "after half a second");
}

/// A sign of life of ours leaves once the craft was seen at rest; or where it alone lets a board take up the time of its
/// signatures.
#[test]
fn our_sign_of_life_waits_for_rest_or_for_a_board_that_is_behind() {
    let leaves = |room: &Room| room.interlock.judge_frame(&Outgoing::Heartbeat) != FrameVerdict::Waits;
    let untrusted = |old| LinkEvent::Untrusted { unsigned: 0, foreign: 0, old };
    let mut room = Room::known(&adapter(), ID);
    room.interlock.hear(&untrusted(0));
    assert!(!leaves(&room));
    room.interlock.hear(&untrusted(1));
    assert!(leaves(&room));
    room.interlock.hear(&untrusted(0));
    assert!(leaves(&room), "for good");
    room.interlock.lost();
    room.interlock.opened(&adapter());
    assert!(!leaves(&room), "on this opening");
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    room.interlock.hear(&heard(RESTING)[0]);
    assert!(leaves(&room));
}

/// What is heard is older than it came by half of what an answer takes.
#[test]
fn a_slow_link_makes_what_it_brings_older() {
    let mut room = Room::met();
    room.says(RESTING, 10_020).unwrap();
    room.interlock.asks(&Outgoing::Identify);
    room.says(RESTING, 400).unwrap();
    room.interlock.hear(&LinkEvent::Identity(identity(ID)));
    room.says(RESTING, 1000).unwrap();
    let at = room.interlock.signals().armed.last().unwrap().at;
    assert_eq!(room.now.since(at), Duration::from_millis(200));
}

/// A board that gives no id of its own goes by the name that was typed.
#[test]
fn a_board_is_met_by_its_typed_name() {
    let named = |name: &str| Identity { name: Some(CraftName::read(name).unwrap()), ..identity(ZERO) };
    let mut room = Room::open(&adapter());
    room.interlock.named(&named("Wren 95"));
    assert_eq!(room.interlock.who(), Some(&named("Wren 95")));
    room.interlock.named(&named("Wren 96"));
    assert_eq!(room.interlock.who(), Some(&named("Wren 96")), "the same board");
}

/// Two that speak end the contact of a session that works, and are only told of where it looks.
#[test]
fn two_that_speak_end_no_look() {
    let ends = |room: &mut Room| {
        room.interlock.hear(&LinkEvent::TwoSpeakers);
        room.interlock.orders().iter().any(|order| matches!(order, Order::Ends(_)))
    };
    let mut room = Room::open(&adapter());
    assert!(!ends(&mut room) && room.interlock.signals().two_speak, "nobody was met yet");
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    room.interlock.only_looks();
    assert!(!ends(&mut room) && room.interlock.who().is_some());
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    assert!(ends(&mut room) && room.interlock.who().is_none());
}

/// Whoever comes back under a stop is asked for the streams that show it at rest; else the session asks by itself.
#[test]
fn whoever_is_met_under_a_stop_is_asked_for_its_streams() {
    let streams = |stops: bool| {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        if stops {
            room.interlock.stop("a test");
        }
        room.replugged(&adapter(), ID);
        room.interlock.orders().iter().any(|order| matches!(order, Order::Streams))
    };
    assert!(streams(true) && !streams(false));
}

/// What another station says on the wire is no sign of the craft: it goes on being silent.
#[test]
fn a_stranger_is_no_sign_of_the_craft() {
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    let stranger = LinkEvent::Stranger { system: 9, component: 1, commands: false };
    assert_eq!(room.interlock.authority(), Authority::Disarm);
    for _ in 0..160 {
        next(&mut room, std::slice::from_ref(&stranger));
    }
    assert_eq!(room.interlock.authority(), Authority::Nothing, "silent for over 3 s");
}

/// A board that gives an id gives it always: one of zeros is another's.
#[test]
fn an_answer_of_zeros_is_not_of_a_craft_that_gives_an_id() {
    for answered in [ID, ZERO] {
        let mut room = Room::met();
        room.answers(answered);
        next(&mut room, &heard(RESTING));
        assert_eq!(room.interlock.phase() == Phase::Still, answered == ID, "{answered}: {:?}", room.interlock.phase());
    }
}
