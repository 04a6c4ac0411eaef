//! Reading all settings, against a small board that loses what it is told to lose.

use super::kit::{InteractiveSession, name, value, version};
use mavlink::dialects::common::{MavMessage, MavParamType, MavProtocolCapability};
use quadjig::board::mavlink::gaps::WINDOW;
use quadjig::board::mavlink::listing::TRIES;
use quadjig::board::mavlink::{FrameClass, frames};
use quadjig::board::signals::{Done, Link, LinkEvent, Request};
use quadjig::board::value::{NoValue, Number, SettingName};
use quadjig::measure::time::Time;
use std::collections::{BTreeSet, VecDeque};

const U16: MavParamType = MavParamType::MAV_PARAM_TYPE_UINT16;

/// A board that lists `count` settings; `lost` decides by place and how often it was sent whether it gets lost.
struct Board<F: FnMut(u16, u32) -> bool> {
    count: u16,
    sent: Vec<u32>,
    lost: F,
    lists: u32,
    reads: u32,
    most_at_once: usize,
    /// Whether it ignores requests by place.
    deaf: bool,
}

impl<F: FnMut(u16, u32) -> bool> Board<F> {
    fn new(count: u16, lost: F) -> Self {
        Self { count, sent: vec![0; count.into()], lost, lists: 0, reads: 0, most_at_once: 0, deaf: false }
    }

    fn tell(&mut self, desk: &mut InteractiveSession, index: u16) {
        let times = self.sent[usize::from(index)];
        self.sent[usize::from(index)] += 1;
        if !(self.lost)(index, times) {
            desk.board(&value(&format!("S{index}"), u32::from(index) + 1, U16, index, self.count));
        }
    }

    /// Answers what was sent; whether anything was.
    fn answer(&mut self, desk: &mut InteractiveSession) -> bool {
        let out = std::mem::take(&mut desk.out);
        let split = frames(&out);
        self.most_at_once = self.most_at_once.max(split.len());
        let messages: Vec<_> = split.into_iter().map(super::kit::message).collect();
        for message in &messages {
            match message {
                MavMessage::PARAM_REQUEST_LIST(_) => {
                    self.lists += 1;
                    (0..self.count).for_each(|index| self.tell(desk, index));
                }
                MavMessage::PARAM_REQUEST_READ(read) => {
                    self.reads += 1;
                    if self.deaf {
                        continue;
                    }
                    self.tell(desk, u16::try_from(read.param_index).unwrap());
                }
                other => panic!("unexpected {other:?}"),
            }
        }
        !messages.is_empty()
    }

    fn run(&mut self, desk: &mut InteractiveSession, milliseconds: u64) {
        desk.send(1, Request::ListSettings);
        let end = desk.now + std::time::Duration::from_millis(milliseconds);
        while desk.now < end && desk.done(1).is_none() {
            while self.answer(desk) {}
            desk.wait(1);
        }
    }
}

/// Places and values of the settings that were told.
fn told(desk: &InteractiveSession) -> Vec<(u16, i64)> {
    let one = |heard: &LinkEvent| match heard {
        LinkEvent::Setting { value: Number::Whole(value), index: Some(index), .. } => Some((*index, *value)),
        _ => None,
    };
    desk.heard.iter().filter_map(one).collect()
}

#[test]
fn a_list_without_loss_takes_one_request() {
    let mut desk = InteractiveSession::bound();
    let mut board = Board::new(300, |_, _| false);
    let begun = desk.now;
    board.run(&mut desk, 10_000);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert_eq!((board.lists, board.reads), (1, 0));
    assert!(desk.now.since(begun).as_millis() < 10, "it waits for nothing once it is complete");
    assert_eq!(told(&desk), (0..300).map(|n| (n, i64::from(n) + 1)).collect::<Vec<_>>());
    assert!(
        matches!(desk.heard.iter().rfind(|h| matches!(h, LinkEvent::Listing { .. })), Some(LinkEvent::Listing { have: 300, of: 300, left: Some(left) }) if left.is_zero())
    );
}

#[test]
fn only_the_gaps_are_asked_for_again_several_at_a_time() {
    let mut desk = InteractiveSession::bound();
    let mut board = Board::new(300, |index, times| index % 10 == 3 && times == 0);
    board.run(&mut desk, 10_000);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert_eq!((board.lists, board.reads), (1, 30));
    assert!((2..=WINDOW).contains(&board.most_at_once), "{}", board.most_at_once);
    assert_eq!(told(&desk).into_iter().collect::<BTreeSet<_>>().len(), 300);
}

#[test]
fn the_first_and_the_last_may_be_lost_and_lost_again() {
    let mut desk = InteractiveSession::bound();
    let mut board = Board::new(40, |index, times| matches!(index, 0 | 39) && times < 3);
    board.run(&mut desk, 20_000);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert_eq!((board.lists, board.reads), (1, 6));
    assert_eq!(told(&desk).len(), 40);
}

#[test]
fn a_gap_that_stays_is_given_up_and_the_list_is_not_complete() {
    let mut desk = InteractiveSession::bound();
    let mut board = Board::new(40, |index, _| index == 17);
    board.run(&mut desk, 60_000);
    assert_eq!(
        desk.refusal(1),
        "the board announced 40 settings and sent 39 of them, then no more: check the cable, then read them again"
    );
    assert!((12..60).contains(&board.reads), "{}", board.reads);
    assert_eq!(board.lists, 4, "places that are never answered are listed anew, until that brings nothing");
    assert_eq!(told(&desk).into_iter().collect::<BTreeSet<_>>().len(), 39);
    assert_eq!(desk.link.wake(), Time::NEVER);
}

#[test]
fn a_board_that_never_answers_is_asked_a_few_times() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ListSettings);
    desk.wait(60_000);
    assert_eq!(desk.done(1), Some(&Done::Silent));
    assert_eq!(desk.classes(), vec![FrameClass::Looks; TRIES.into()]);
}

#[test]
fn a_lost_request_is_repeated() {
    let mut desk = InteractiveSession::bound();
    let mut first = true;
    let mut board = Board::new(5, move |_, times| times == 0 && std::mem::replace(&mut first, times == 0));
    board.run(&mut desk, 10_000);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert_eq!(board.lists, 2);
}

#[test]
fn a_list_that_changes_its_length_is_begun_again_once() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ListSettings);
    desk.board(&value("A", 1, U16, 0, 3));
    desk.board(&value("A", 1, U16, 0, 2));
    desk.board(&value("B", 1, U16, 1, 2));
    desk.wait(1);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    desk.heard.clear();
    desk.send(1, Request::ListSettings);
    for count in [3, 2, 3] {
        desk.board(&value("A", 1, U16, 0, count));
    }
    desk.wait(1);
    assert!(desk.refusal(1).contains("changed"), "{}", desk.refusal(1));
}

/// Settings of which it was told that they have no value.
fn without_value(desk: &InteractiveSession) -> Vec<(SettingName, NoValue)> {
    let one = |heard: &LinkEvent| match heard {
        LinkEvent::NoValue { name, why } => Some((name.clone(), *why)),
        _ => None,
    };
    desk.heard.iter().filter_map(one).collect()
}

/// MAVLink `services/parameter`: a name is a parameter's own, so that of two with one name neither can be written.
#[test]
fn one_name_at_two_places_is_told() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ListSettings);
    for (text, number, place) in [("A", 1, 0), ("B", 2, 1), ("B", 2, 1), ("A", 3, 2)] {
        desk.board(&value(text, number, U16, place, 3));
    }
    desk.wait(1);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert_eq!(without_value(&desk), [(name("A"), NoValue::Twice)], "a place that comes again is no second one");
}

#[test]
fn what_is_unreadable_does_not_keep_a_list_from_its_end() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ListSettings);
    desk.board(&value("A", f32::NAN.to_bits(), MavParamType::MAV_PARAM_TYPE_REAL32, 0, 2));
    desk.board(&value("B", 1, U16, 1, 2));
    desk.wait(1);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert_eq!(told(&desk), [(1, 1)]);
    assert_eq!(without_value(&desk), [(name("A"), NoValue::NoNumber)]);
}

#[test]
fn large_numbers_wait_until_the_encoding_is_known() {
    // Beyond 24 bits a number may look like one in the other encoding: only the rest of the list can tell.
    let wide = MavParamType::MAV_PARAM_TYPE_INT32;
    let large = 33_554_433;
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ListSettings);
    desk.board(&value("LARGE", large, wide, 0, 2));
    assert!(told(&desk).is_empty());
    desk.board(&value("SMALL", 1, U16, 1, 2));
    desk.wait(1);
    assert_eq!(told(&desk), [(1, 1), (0, i64::from(large))]);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    // Without any that tells, it is not guessed.
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ListSettings);
    desk.board(&value("LARGE", large, wide, 0, 1));
    desk.wait(1);
    assert!(desk.refusal(1).contains("leave it open"), "{}", desk.refusal(1));
    // The board's own word settles it.
    let mut desk = InteractiveSession::bound();
    desk.board(&version(1, MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_BYTEWISE));
    desk.board(&value("LARGE", large, wide, 0, 1));
    assert_eq!(told(&desk), [(0, i64::from(large))]);
}

#[test]
fn a_boards_error_ends_the_list_and_one_list_at_a_time_is_read() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ListSettings);
    desk.send(2, Request::ListSettings);
    desk.wait(1);
    assert!(desk.refusal(2).contains("already"));
    desk.board(&value("A", 1, U16, 0, 2));
    desk.wait(500);
    // CM, PARAM_ERROR: place 1, to 255/25, error 8: reading failed.
    let mut payload = vec![1, 0, 255, 25];
    payload.resize(20, 0);
    payload.push(8);
    desk.raw_board(345, &payload, 209);
    desk.wait(1);
    assert_eq!(desk.refusal(1), "the board refused to list its settings: it could not be read");
}

#[test]
fn a_board_that_can_not_be_asked_by_place_lists_again() {
    // By name it would answer; the names of what never came can't be known.
    let mut desk = InteractiveSession::bound();
    let mut board =
        Board::new(300, |index, times| index % 7 == u16::try_from(times).unwrap_or(9) || index == 299 && times < 4);
    board.deaf = true;
    board.run(&mut desk, 30_000);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert!((3..=6).contains(&board.lists), "{}", board.lists);
    assert_eq!(told(&desk).into_iter().collect::<BTreeSet<_>>().len(), 300);

    let mut desk = InteractiveSession::bound();
    let mut board = Board::new(40, |index, _| index == 17);
    board.deaf = true;
    board.run(&mut desk, 60_000);
    assert!(desk.refusal(1).contains("announced 40 settings and sent 39"), "{}", desk.refusal(1));
    assert_eq!(board.lists, 4, "lists that bring nothing new are not asked for for ever");
}

#[test]
fn places_that_can_not_be_asked_for_are_listed_again() {
    // The request's field for the place is a signed 16-bit number (common.xml).
    let mut desk = InteractiveSession::bound();
    let mut board = Board::new(33_000, |index, times| matches!(index, 5 | 32_900) && times == 0);
    board.run(&mut desk, 30_000);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert_eq!((board.lists, board.reads), (2, 1));
}

#[test]
fn as_many_as_there_can_be_announced_and_none_sent_end_soon() {
    let mut desk = InteractiveSession::bound();
    let begun = desk.now;
    desk.send(1, Request::ListSettings);
    desk.board(&value("A", 1, U16, 0, u16::MAX));
    let mut requests = 0;
    while desk.done(1).is_none() && desk.now.since(begun).as_secs() < 120 {
        desk.wait(1);
        requests += desk.sent().len();
    }
    assert!(desk.refusal(1).contains("announced 65535 settings and sent 1"), "{}", desk.refusal(1));
    assert!(desk.now.since(begun).as_secs() < 10, "{:?}", desk.now.since(begun));
    assert!(requests < 100, "{requests}");
}

#[test]
fn a_board_that_trickles_ends_in_bounded_time() {
    let mut desk = InteractiveSession::bound();
    let begun = desk.now;
    desk.send(1, Request::ListSettings);
    for index in 0..400 {
        desk.board(&value("A", 1, U16, index, 60_000));
        desk.wait(350);
    }
    assert!(desk.refusal(1).contains("announced 60000 settings"), "{}", desk.refusal(1));
    assert!(desk.now.since(begun).as_secs() < 150);
    assert_eq!(desk.link.wake(), Time::NEVER);
}

#[test]
fn a_place_beyond_the_announced_number_is_no_whole_list() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ListSettings);
    for index in [0, 2, 1] {
        desk.board(&value(&format!("S{index}"), 1, U16, index, 2));
    }
    desk.wait(1);
    assert!(desk.refusal(1).contains("announced 2 settings, but sent one at place 2"), "{}", desk.refusal(1));
    // Counted from 1, as the standard does not: the first place never comes, and the last is one too many.
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ListSettings);
    desk.board(&value("A", 1, U16, 1, 1));
    desk.wait(10_000);
    assert!(desk.refusal(1).contains("place 1"), "{}", desk.refusal(1));
    // 65535 marks a value that is told outside of any list.
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ListSettings);
    for index in [0, u16::MAX, 1] {
        desk.board(&value(&format!("S{index}"), 1, U16, index, 2));
    }
    desk.wait(1);
    assert_eq!(desk.done(1), Some(&Done::Ok));
}

#[test]
fn doubled_settings_count_once_and_any_order_will_do() {
    for turned in [false, true] {
        let mut desk = InteractiveSession::bound();
        desk.send(1, Request::ListSettings);
        for step in 0..60 {
            let index = if turned { 59 - step } else { step * 37 % 60 };
            for _ in 0..3 {
                desk.board(&value(&format!("S{index}"), 1, U16, index, 60));
            }
            desk.wait(7);
        }
        assert_eq!(desk.done(1), Some(&Done::Ok));
        let listing = |h: &&LinkEvent| matches!(h, LinkEvent::Listing { .. });
        assert_eq!(desk.heard.iter().filter(listing).count(), 60);
        // A list that is still coming is at most taken for ended once or twice, never asked for beside itself.
        assert!(desk.sent().len() <= 20);
    }
}

#[test]
fn a_list_that_pauses_is_not_asked_for_beside_itself() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ListSettings);
    let (mut asked, mut waiting, mut sent) = (0, VecDeque::new(), 0);
    desk.sent();
    for index in 0..400 {
        if desk.done(1).is_some() {
            break;
        }
        // Between two values of its list the board answers what it was asked for meanwhile.
        for index in std::iter::once(index).chain(waiting.pop_front()) {
            desk.board(&value(&format!("S{index}"), 1, U16, index, 400));
            sent += 1;
        }
        // A long pause now and then: the second one is known by the first.
        desk.wait(if index % 50 == 49 { 120 } else { 6 });
        for message in desk.sent() {
            let MavMessage::PARAM_REQUEST_READ(read) = message else { panic!("{message:?}") };
            waiting.push_back(u16::try_from(read.param_index).unwrap());
            asked += 1;
        }
    }
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert!(asked <= 40, "{asked} asked for");
    assert!((395..=440).contains(&sent), "{sent} sent");
}
