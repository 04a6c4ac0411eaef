//! What the link makes of answers: each answer as a board could give it, and each that a board should not.

use super::kit::{ByHand, name, text};
use quadjig::board::signals::{Done, Link, LinkEvent, Request, Stream};
use quadjig::board::value::{NoValue, Number};
use std::time::Duration;

const SECOND: Duration = Duration::from_secs(1);

/// The reason in the words of a refusal.
fn refused(done: Option<Done>) -> String {
    match done {
        Some(Done::Refused(why)) => why,
        other => panic!("{other:?}"),
    }
}

#[test]
fn an_answer_begins_after_its_echo_and_ends_at_the_prompt() {
    let mut hand = ByHand::new(text());
    hand.lists();
    hand.asks(1, Request::ReadSetting(name("IDLE_US")));
    assert_eq!(hand.take(), "show IDLE_US\r");
    // A prompt that was drawn again is no end, and a late line of something else is no answer.
    hand.says("\r\n7 for IDLE_US\r\nfinch> ");
    assert_eq!(hand.done(1), None);
    hand.says("sho");
    hand.says("w IDLE_US\r\n1105 for ID");
    hand.says("LE_US\r\n");
    assert_eq!(hand.done(1), None, "before the prompt");
    hand.says("finch> ");
    assert_eq!(hand.done(1), Some(Done::Ok));
    let read = LinkEvent::Setting { name: name("IDLE_US"), value: Number::Whole(1105), index: None };
    assert!(hand.heard.contains(&read), "{:?}", hand.heard);
}

#[test]
fn what_is_said_unasked_belongs_to_nobody_wherever_it_stands() {
    let mut hand = ByHand::new(text());
    hand.lists();
    hand.asks(1, Request::ReadSetting(name("IDLE_US")));
    hand.says("sh\r\n* Battery low\r\nfinch> show IDLE_US\r\n* Receiver lost\r\n1105 for IDLE_US\r\nfinch> ");
    let texts: Vec<_> = hand
        .heard
        .iter()
        .filter_map(|heard| match heard {
            LinkEvent::Text { text, .. } => Some(text.as_str()),
            _ => None,
        })
        .collect();
    assert_eq!(texts, ["Battery low", "Receiver lost"]);
    assert_eq!(hand.done(1), Some(Done::Ok));
}

#[test]
fn without_an_echo_the_answer_begins_at_once() {
    let quiet = text().replace("echo = true", "echo = false");
    let mut hand = ByHand::new(&quiet);
    hand.asks(1, Request::Identify);
    assert_eq!(hand.take(), "who\r");
    hand.says("finch> ");
    assert_eq!(hand.done(1), None, "a prompt alone answers nothing");
    hand.says("76697274000000aa, Finch C, 2.4.1\r\nfinch> ");
    assert_eq!(hand.done(1), Some(Done::Ok));
}

#[test]
fn a_value_that_is_no_number_and_a_name_that_stands_twice_are_told() {
    let mut hand = ByHand::new(text());
    hand.asks(1, Request::ListSettings);
    hand.says("list\r\n1 for A\r\nwren for CRAFT\r\n2 for B\r\n3 for A\r\n4 settings\r\nfinch> ");
    assert_eq!(hand.done(1), Some(Done::Ok));
    let told: Vec<_> = hand.heard.iter().filter(|heard| matches!(heard, LinkEvent::NoValue { .. })).collect();
    let no_value = |text, why| LinkEvent::NoValue { name: name(text), why };
    assert_eq!(told, [&no_value("CRAFT", NoValue::NoNumber), &no_value("A", NoValue::Twice)]);
}

#[test]
fn pages_are_turned_and_gaps_are_seen() {
    let mut hand = ByHand::new(text());
    hand.asks(1, Request::ListSettings);
    hand.says("list\r\n1 for A\r\n-- more: space --");
    assert_eq!(hand.sent.split_off(1), [" "]);
    hand.says("\r                 \r");
    hand.says("2.5 for B\r\n2 settings\r\nfinch> ");
    assert_eq!(hand.done(1), Some(Done::Ok));
    assert!(hand.link.encoding_proved());

    // One line is lost each time: asked three times, then said.
    hand.sent.clear();
    hand.asks(2, Request::ListSettings);
    for _ in 0..3 {
        assert!(hand.take().ends_with("list\r"));
        assert_eq!(hand.done(2), None);
        hand.says("\r\nfinch> list\r\n1 for A\r\n2 settings\r\nfinch> ");
    }
    assert!(refused(hand.done(2)).contains("with gaps: 1 of 2"));
}

/// What a line of its own cut in two may leave a piece that looks whole: nothing around it is believed.
#[test]
fn a_list_with_a_line_that_was_cut_is_asked_for_again() {
    let whole = "1100 for IDLE_US\r\n2100 for ARM_HI";
    for cut in [
        "1100 for IDLE_US\r\n21\r\n* Battery low\r\n00 for ARM_HI",
        "1100 for IDLE_US\r\n2\r\n* Battery low\r\n100 for ARM_HI",
        "1100 for IDLE_US\r\n2\r\nBattery low\r\n100 for ARM_HI",
        "1100 for IDLE_US\r\n2100 for ARM\r\n* Battery low\r\n_HI",
        "2\r\n* Battery low\r\n100 for ARM_HI\r\n1100 for IDLE_US",
    ] {
        let mut hand = ByHand::new(text());
        hand.asks(1, Request::ListSettings);
        hand.says(&format!("list\r\n{cut}\r\n2 settings\r\nfinch> "));
        assert_eq!(hand.done(1), None, "{cut:?}");
        hand.says(&format!("\r\nfinch> list\r\n{whole}\r\n2 settings\r\nfinch> "));
        assert_eq!(hand.done(1), Some(Done::Ok), "{cut:?}");
        let last = hand.heard.iter().rev().find_map(|heard| match heard {
            LinkEvent::Setting { name, value, .. } if name.as_str() == "ARM_HI" => Some(*value),
            _ => None,
        });
        assert_eq!(last, Some(Number::Whole(2100)), "{cut:?}");
    }
    // What stands above the first setting is a heading; a note between two lines cuts none.
    for listed in [whole, "1100 for IDLE_US\r\n* Low\r\n2100 for ARM_HI"] {
        let mut hand = ByHand::new(text());
        hand.asks(1, Request::ListSettings);
        hand.says(&format!("list\r\nAll settings\r\n{listed}\r\n2 settings\r\nfinch> "));
        assert_eq!(hand.done(1), Some(Done::Ok), "{listed}");
    }
    let mut hand = ByHand::new(text());
    // Cut each time: asked three times, then said.
    hand.sent.clear();
    hand.asks(2, Request::ListSettings);
    for _ in 0..3 {
        assert_eq!(hand.done(2), None);
        hand.says("\r\nfinch> list\r\n1100 for IDLE_US\r\n21\r\n* Low\r\n00 for ARM_HI\r\n2 settings\r\nfinch> ");
    }
    assert_eq!(refused(hand.done(2)), "the board's answer is not the one that its sheet gives: 21");
}

#[test]
fn an_answer_that_was_cut_is_read_again_and_never_written_again() {
    let cut = "2\r\n* Battery low\r\n100 for IDLE_US";
    let mut hand = ByHand::new(text());
    hand.lists();
    hand.asks(1, Request::ReadSetting(name("IDLE_US")));
    hand.says(&format!("show IDLE_US\r\n{cut}\r\nfinch> "));
    assert_eq!(hand.done(1), None);
    hand.says("\r\nfinch> show IDLE_US\r\n2100 for IDLE_US\r\nfinch> ");
    assert_eq!(hand.done(1), Some(Done::Ok));
    hand.sent.clear();
    for (ticket, asked) in [(2, "100"), (3, "2100")] {
        hand.asks(ticket, Request::WriteSetting(name("IDLE_US"), Number::Whole(asked.parse().unwrap())));
        assert_eq!(hand.take(), format!("put {asked} into IDLE_US\r"));
        hand.says(&format!("put {asked} into IDLE_US\r\n{cut}\r\nfinch> "));
        let why = "the board's answer is not the one that its sheet gives: 2";
        assert_eq!(refused(hand.done(ticket)), why, "whether it was written is not known");
    }
    hand.wait(4 * SECOND);
    assert_eq!(hand.sent, Vec::<String>::new());
    // The end of a longer number is none.
    for (ticket, end) in (4..).zip(["00", "007", "-01", "00.5"]) {
        hand.asks(ticket, Request::ReadSetting(name("IDLE_US")));
        hand.says(&format!("show IDLE_US\r\n{end} for IDLE_US\r\nfinch> "));
        assert_eq!(refused(hand.done(ticket)), "the board's value of setting IDLE_US is no number", "{end}");
    }
    // The whole line of another setting is no piece of this one's.
    hand.asks(8, Request::ReadSetting(name("IDLE_US")));
    hand.says("show IDLE_US\r\n1250 for IDLE_MOST\r\n1100 for IDLE_US\r\nfinch> ");
    assert_eq!(hand.done(8), Some(Done::Ok));
}

#[test]
fn what_reads_is_asked_again_and_what_changes_is_not() {
    let mut hand = ByHand::new(text());
    hand.lists();
    hand.asks(1, Request::ReadSetting(name("IDLE_US")));
    hand.wait(2 * SECOND);
    assert_eq!(hand.done(1), Some(Done::Silent));
    let asked = |sent: &[String], line: &str| sent.iter().filter(|sent| sent.ends_with(line)).count();
    assert_eq!(asked(&hand.sent, "show IDLE_US\r"), 3);
    assert!(hand.sent.iter().skip(1).all(|sent| sent.starts_with("\u{3}\r\r")), "each after a break: {:?}", hand.sent);
    let changes = [
        (Request::WriteSetting(name("IDLE_US"), Number::Whole(1120)), "put 1120 into IDLE_US\r"),
        (Request::Store, "keep\r"),
        (Request::Restart, "again\r"),
        (Request::RunMotor { motor: 2, pulse: 1150, lease_ms: 500 }, "spin 2 1150 500\r"),
    ];
    for (ticket, (request, line)) in (2..).zip(changes) {
        hand.sent.clear();
        hand.asks(ticket, request);
        hand.wait(4 * SECOND);
        assert_eq!(hand.done(ticket), Some(Done::Silent), "{line}");
        assert_eq!(asked(&hand.sent, line), 1, "{:?}", hand.sent);
    }
}

/// The safety model's ceilings: no pulse over 1250 us, no single turning over 5 s.
#[test]
fn a_motor_run_outside_of_its_bounds_never_becomes_a_line() {
    let mut hand = ByHand::new(text());
    hand.lists();
    let tries = [(0, 1100, 500), (17, 1100, 500), (1, 999, 500), (1, 1251, 500), (1, 1100, 0), (1, 1100, 5001)];
    for (ticket, (motor, pulse, lease_ms)) in (1..).zip(tries) {
        hand.asks(ticket, Request::RunMotor { motor, pulse, lease_ms });
        hand.wait(SECOND);
        assert!(refused(hand.done(ticket)).contains("from 1000 us to 1250 us"), "{motor} {pulse} {lease_ms}");
    }
    assert!(hand.sent.iter().all(|line| !line.contains("spin")), "{:?}", hand.sent);
}

#[test]
fn a_write_ends_with_what_stands_there_now() {
    for (says, end) in [
        ("1120 for IDLE_US", Done::Ok),
        ("1100 for IDLE_US", Done::Differs(Number::Whole(1100))),
        ("no: IDLE_US takes 1000 to 1250", Done::Refused("the board answered: IDLE_US takes 1000 to 1250".to_owned())),
        (
            "1120 for VOLT_RATIO",
            Done::Refused("the board's answer is not the one that its sheet gives: 1120 for VOLT_RATIO".to_owned()),
        ),
        ("lots for IDLE_US", Done::Refused("the board's value of setting IDLE_US is no number".to_owned())),
    ] {
        let mut hand = ByHand::new(text());
        hand.lists();
        hand.asks(1, Request::WriteSetting(name("IDLE_US"), Number::Whole(1120)));
        assert_eq!(hand.take(), "put 1120 into IDLE_US\r");
        hand.says(&format!("put 1120 into IDLE_US\r\n{says}\r\nfinch> "));
        assert_eq!(hand.done(1), Some(end), "{says}");
    }
}

#[test]
fn values_go_in_the_form_in_which_the_board_holds_them_and_in_no_other() {
    let mut hand = ByHand::new(text());
    let idle = || name("IDLE_US");
    hand.asks(1, Request::WriteSetting(idle(), Number::Whole(1120)));
    hand.work();
    assert!(refused(hand.done(1)).contains("read all settings first"));
    hand.lists();
    hand.asks(2, Request::WriteSetting(name("VOLT_RATIO"), Number::Whole(11)));
    assert_eq!(hand.take(), "put 11.0 into VOLT_RATIO\r");
    hand.says("put 11.0 into VOLT_RATIO\r\n11.0 for VOLT_RATIO\r\nfinch> ");
    hand.asks(3, Request::WriteSetting(idle(), Number::Real(1120.0)));
    assert_eq!(hand.take(), "put 1120 into IDLE_US\r");
    hand.says("put 1120 into IDLE_US\r\n1120 for IDLE_US\r\nfinch> ");
    for (ticket, setting, value) in [
        (4, "IDLE_US", Number::Real(1120.5)),
        (5, "VOLT_RATIO", Number::Real(f64::NAN)),
        (6, "VOLT_RATIO", Number::Real(1e30)),
        (7, "NOT_THERE", Number::Whole(1)),
        (8, "A;keep", Number::Whole(1)),
    ] {
        hand.asks(ticket, Request::WriteSetting(name(setting), value));
        hand.work();
        refused(hand.done(ticket));
    }
    assert_eq!(hand.sent, Vec::<String>::new(), "nothing left");
}

#[test]
fn a_stop_overtakes_what_changes_and_keeps_what_reads() {
    let mut hand = ByHand::new(text());
    hand.lists();
    hand.asks(1, Request::WriteSetting(name("IDLE_US"), Number::Whole(1120)));
    hand.asks(2, Request::Store);
    hand.asks(3, Request::ReadSetting(name("IDLE_US")));
    hand.sent.clear();
    let stop = hand.link.stop_bytes(false).unwrap();
    assert_eq!(stop, b"\x03\r\rrest\r");
    assert_eq!(hand.link.held_stop_bytes().unwrap(), stop, "prepared bytes are the same");
    hand.work();
    for ticket in [1, 2] {
        assert_eq!(refused(hand.done(ticket)), "a stop overtook it");
    }
    // The late answer to the write is nobody's; the read follows the stop.
    hand.says("1120 for IDLE_US\r\nfinch> \r\nfinch> \r\nfinch> \r\nfinch> rest\r\nresting\r\nfinch> ");
    assert_eq!(hand.take(), "show IDLE_US\r");
    hand.says("show IDLE_US\r\n1120 for IDLE_US\r\nfinch> ");
    assert_eq!(hand.done(3), Some(Done::Ok));
}

#[test]
fn a_banner_in_the_middle_of_an_answer_is_a_board_that_started_anew() {
    let mut hand = ByHand::new(text());
    hand.lists();
    hand.asks(1, Request::WriteSetting(name("IDLE_US"), Number::Whole(1120)));
    hand.says("put 1120 into IDLE_US\r\nFinch C 2.4.1\r\nfinch> ");
    assert_eq!(refused(hand.done(1)), "the board started anew before it answered");
    hand.sent.clear();
    hand.asks(2, Request::Restart);
    hand.says("again\r\ngoing down\r\n");
    assert_eq!(hand.done(2), Some(Done::Ok), "no prompt is awaited");
}

#[test]
fn another_board_on_the_same_wire_is_a_stranger() {
    let mut hand = ByHand::new(text());
    hand.lists();
    for (ticket, id) in [(1, "76697274000000aa"), (2, "76697274000000ab")] {
        hand.asks(ticket, Request::Identify);
        hand.says(&format!("who\r\n{id}, Finch C, 2.4.1\r\nfinch> "));
        assert_eq!(hand.done(ticket), Some(Done::Ok));
    }
    assert!(hand.heard.iter().any(|heard| matches!(heard, LinkEvent::Stranger { commands: true, .. })));
    assert!(!hand.link.encoding_proved(), "nothing learned of the first holds for the second");
}

#[test]
fn babble_for_ever_is_bounded_and_ends() {
    let mut hand = ByHand::new(text());
    hand.lists();
    hand.asks(1, Request::ReadSetting(name("IDLE_US")));
    for _ in 0..2_000 {
        hand.says("blah blah blah\r\nfinch blah ");
        hand.now = hand.now + Duration::from_millis(1);
    }
    hand.wait(SECOND);
    assert_eq!(hand.done(1), Some(Done::Silent));
    hand.asks(2, Request::ListSettings);
    for count in 0..70_000 {
        hand.link.receive(hand.now, format!("\r\nfinch> list\r\n{count} for A{count}\r\n").as_bytes(), &mut hand.heard);
    }
    hand.wait(SECOND);
    assert!(refused(hand.done(2)).contains("more settings than any board has"));
}

/// After a silence it may be another, whom no stop may reach, before its prompt stands there. What a wire sends back of ours is
/// nobody; what answers nothing may be noise, which proves nobody.
#[test]
fn a_line_that_is_not_ours_is_somebody_who_speaks() {
    use LinkEvent::{Spoke, Unplaced};
    for (lines, heard) in [
        (&["rest\r\n"][..], None),
        (&["\u{3}\r\n", "\r\n", "rest\r\n"], None),
        (&["who\r", "\u{3}\r\rrest\r", "\u{3}\r"], None),
        (&["resting\r\n"], Some(Unplaced)),
        (&["x\u{7f}q\r\n"], Some(Unplaced)),
        (&["\r\n", "finch> rest\r\n"], Some(Spoke)),
        (&["\r\n", "finch> \r\n"], Some(Spoke)),
        (&["fin", "torn\r\n"], Some(Unplaced)),
        (&["\r\nfinch> "], Some(Spoke)),
    ] {
        let mut hand = ByHand::new(text());
        hand.asks(1, Request::Identify);
        assert!(hand.take().ends_with("who\r"));
        let stop = hand.link.stop_bytes(false).unwrap();
        assert!(stop.ends_with(b"rest\r"));
        hand.heard.clear();
        for line in lines {
            hand.says(line);
        }
        let found = hand.heard.iter().find(|heard| matches!(heard, Spoke | Unplaced));
        assert_eq!(found, heard.as_ref(), "{lines:?}: {:?}", hand.heard);
    }
}

#[test]
fn a_signal_with_anything_else_in_it_is_none() {
    let mut hand = ByHand::new(text());
    for (stream, line, good, bad) in [
        (Stream::Channels, "channels", "channels 0988 1000", "channels 1500 99999"),
        (Stream::Channels, "channels", "channels none", "channels"),
        (Stream::Outputs, "outputs", "outputs 1000 1000", "outputs 1 2 3 4 5 6 7 8 9"),
        (Stream::Attitude, "tilt", "tilt roll 0.3 pitch -0.2 yaw 1", "tilt roll 0.3 pitch 1.2.3 yaw 1"),
        (Stream::Power, "pack", "pack 8.12 V 0.30 A", "pack 812345 V 0.30 A"),
        (Stream::Speeds, "speeds", "speeds 0 0 0 0", "speeds 0 - 0 0"),
    ] {
        for (answer, signals) in [(good, 1), (bad, 0)] {
            hand.asks(2, Request::Stream(stream, Some(1)));
            hand.heard.clear();
            hand.says(&format!("\r\nfinch> gone\r\nfinch> {line}\r\n{answer}\r\nfinch> "));
            let misread = |heard: &&LinkEvent| matches!(heard, LinkEvent::Misread { stream: of, .. } if *of == stream);
            assert_eq!(hand.heard.iter().filter(misread).count(), 1 - signals, "{answer}: {:?}", hand.heard);
            let none = |heard: &LinkEvent| {
                matches!(
                    heard,
                    LinkEvent::Done { .. } | LinkEvent::Misread { .. } | LinkEvent::Spoke | LinkEvent::Unplaced
                )
            };
            let signal = |heard: &&LinkEvent| !none(heard);
            assert_eq!(hand.heard.iter().filter(signal).count(), signals, "{answer}: {:?}", hand.heard);
            hand.asks(3, Request::Stream(stream, None));
            hand.wait(3 * SECOND);
            hand.sent.clear();
        }
    }
}
