//! What an answer proves: never a question that it may be older than. And two that speak with one id.

use super::room::{ID, RESTING, Room, UNTOLD, heard, identity, idle_kept, one_motor, step};
use quadjig::board::signals::{Identity, LinkEvent, Outgoing};
use quadjig::board::value::{Number, SettingName};
use quadjig::interlock::{Authority, Breaks, ChangeStep, Order, Phase};
use quadjig::measure::time::Time;
use quadjig::seam::PortInfo;
use quadjig::seam::ui::Motors;
use std::time::Duration;

/// The program was held up for so long that another may speak by now: it asks again.
fn doubtful(room: &mut Room) {
    room.now = room.now + Duration::from_millis(600);
    room.interlock.wakes(room.now, room.now - Duration::from_millis(300));
    let _asks = room.hears(room.now, &heard(RESTING));
    room.interlock.asks(&Outgoing::Identify);
}

fn answer(room: &mut Room) -> bool {
    room.says(RESTING, 40).unwrap();
    room.interlock.hear(&LinkEvent::Identity(identity(ID)));
    room.says(RESTING, 20).unwrap();
    room.interlock.is_sure()
}

#[test]
fn an_answer_that_is_late_ends_no_newer_doubt() {
    for late in [100, 900, 1500, 4000, 9000] {
        let mut room = Room::met();
        room.interlock.asks(&Outgoing::Identify);
        room.says(RESTING, late).unwrap();
        doubtful(&mut room);
        assert!(!answer(&mut room), "{late} ms: the answer to the question before");
        assert!(answer(&mut room), "{late} ms: its own");
    }
}

#[test]
fn an_answer_that_comes_twice_ends_no_newer_doubt() {
    let mut room = Room::met();
    room.interlock.asks(&Outgoing::Identify);
    assert!(answer(&mut room) && answer(&mut room));
    doubtful(&mut room);
    // The wire is known to double by now.
    assert!(!answer(&mut room), "one more of the question before");
    assert!(answer(&mut room));
}

/// On a wire that was known to double the one answer to the only question proves nothing: it is asked again, so that the
/// board is met, and never so as to be asked for ever.
#[test]
fn one_answer_of_two_is_followed_by_another_question() {
    let mut room = Room::met();
    room.interlock.asks(&Outgoing::Identify);
    assert!(answer(&mut room) && answer(&mut room));
    room.interlock.lost();
    room.now = room.now + Duration::from_millis(1200);
    room.interlock.wakes(room.now, room.now);
    room.interlock.opened(&PortInfo::default());
    room.interlock.asks(&Outgoing::Identify);
    room.interlock.hear(&LinkEvent::Identity(identity(ID)));
    assert_eq!(room.interlock.who(), None, "one answer may be to the question before");
    let mut questions = |for_ms: u64| {
        let from = room.now;
        let asks = |room: &mut Room| {
            room.interlock.judge();
            let asks = room.interlock.orders().iter().any(|order| matches!(order, Order::Identify));
            if asks {
                room.interlock.asks(&Outgoing::Identify);
            }
            asks
        };
        let times = (20..=for_ms).step_by(20).filter(|ms| {
            room.now = from + Duration::from_millis(*ms);
            room.interlock.wakes(room.now, room.now);
            asks(&mut room)
        });
        times.count()
    };
    assert_eq!(questions(100), 1, "at once");
    // Nothing answers any more: it is given up as late as any question.
    let given_up = questions(20_000);
    assert!((10..60).contains(&given_up), "{given_up} questions");
    assert_eq!(questions(20_000), 0);
    room.answers(ID);
    room.answers(ID);
    assert!(room.interlock.who().is_some());
}

/// Frames came after a silence: an answer to what was asked before them shows nothing of who sends them.
#[test]
fn an_answer_from_before_a_silence_shows_nothing_of_frames_after_it() {
    let mut room = Room::turning(&step(Motors::All), Breaks::default());
    room.interlock.asks(&Outgoing::Identify);
    let _stopped = room.silent(1500);
    let _frames = room.hears(room.now + Duration::from_millis(20), &heard(RESTING));
    room.interlock.hear(&LinkEvent::Identity(identity(ID)));
    assert_eq!(room.interlock.authority(), Authority::Nothing);
    room.now = room.now + Duration::from_millis(20);
    let _frames = room.hears(room.now, &heard(RESTING));
    room.answers(ID);
    assert!(room.interlock.authority() > Authority::Nothing);
}

/// The name of a setting comes back with its value: one that was not mentioned for long is its own token.
#[test]
fn a_craft_without_an_id_is_asked_for_a_setting_that_nothing_older_answers() {
    let mut room = Room::at_rest(&PortInfo::default(), Identity::unsaid().id.as_str(), UNTOLD);
    let name = |n: usize| SettingName::new(&format!("SETTING_{n}")).unwrap();
    let told = |n: usize| LinkEvent::Setting { name: name(n), value: Number::Whole(1), index: None };
    assert_eq!(room.interlock.asks_setting(), None, "nothing was read yet");
    for n in 0..3 {
        room.interlock.hear(&told(n));
    }
    assert_eq!(room.interlock.asks_setting(), None, "all were told just now");
    room.says(UNTOLD, 1020).unwrap();
    let asked: Vec<SettingName> = (0..3).filter_map(|_| room.interlock.asks_setting()).collect();
    assert_eq!(asked, [name(0), name(1), name(2)], "each once");
    room.says(UNTOLD, 3000).unwrap();
    // Answered late, told again, or to be read anew.
    room.interlock.hear(&told(1));
    room.interlock.forget_setting(&name(2));
    room.says(UNTOLD, 900).unwrap();
    assert_eq!((room.interlock.asks_setting(), room.interlock.asks_setting()), (Some(name(0)), None));
}

/// Two boards in turn make every frame a jump: each asks, and its answer jumps again.
#[test]
fn questions_and_answers_never_chase_each_other() {
    let mut room = Room::met();
    let mut questions = 0;
    for _ in 0..1000 {
        room.now = room.now + Duration::from_millis(1);
        room.interlock.wakes(room.now, room.now);
        for event in heard(RESTING) {
            room.interlock.hear(&event);
        }
        room.interlock.hear(&LinkEvent::Leapt);
        room.interlock.judge();
        for order in room.interlock.orders() {
            if matches!(order, Order::Identify) {
                questions += 1;
                room.interlock.asks(&Outgoing::Identify);
            }
        }
    }
    assert!((40..=51).contains(&questions), "{questions} questions in a second");
}

#[test]
fn two_that_speak_with_one_id_end_the_contact() {
    let mut room = Room::met();
    room.changes(&[]).unwrap();
    room.interlock.hear(&LinkEvent::TwoSpeakers);
    assert_eq!((room.interlock.phase(), room.interlock.who()), (Phase::NoContact, None));
    let mut room = Room::turning(&one_motor(), Breaks::default());
    room.interlock.hear(&LinkEvent::TwoSpeakers);
    assert_eq!((room.interlock.phase(), room.interlock.authority()), (Phase::Stopping, Authority::Nothing));
    // One that is met again on the same opening is changed by nothing as long as there are two.
    let mut room = Room::met();
    room.interlock.hear(&LinkEvent::TwoSpeakers);
    room.answers(ID);
    room.says(RESTING, 3000).unwrap();
    room.interlock.may_work().unwrap();
    let change = ChangeStep { change: idle_kept(), ..ChangeStep::default() };
    let refused = room.interlock.enter_change(change, None).map(|_| ()).unwrap_err();
    assert!(refused.to_string().contains("Two boards speak"), "{refused}");
}

/// Clocks of one kind of message that run as two, neither ever twice in a row.
#[test]
fn two_clocks_in_one_stream_end_the_contact() {
    let mut room = Room::met();
    let outputs = |board_time: u32| LinkEvent::Outputs { pulses: RESTING.outputs, board_time: Some(board_time) };
    let mut ended = None;
    for n in 0..200_u32 {
        let now = room.now + Duration::from_millis(20);
        let _stopped = room.hears(now, &heard(RESTING)[..1]);
        room.interlock.hear(&outputs(5000 + n * 20));
        if n > 100 {
            room.interlock.hear(&outputs(905_000 + n * 20));
        }
        if room.interlock.who().is_none() {
            ended = Some(now);
            break;
        }
    }
    assert!(ended.is_some_and(|at| at > Time(0)), "it went on");
    assert_eq!(room.interlock.phase(), Phase::NoContact);
}
