//! The guardian's machine: when it fires, what it sends, what ends it.

use quadjig::board::mavlink::{FrameClass, classify, frames};
use quadjig::measure::time::Time;
use quadjig::seam::guardian::HOLDS;
use quadjig::seam::guardian::{GuardianEvent, StopFrames, burst, stops_in};
use quadjig::world::guardian::machine::{Guardian, GuardianInput, GuardianOutput};
use std::time::Duration;

const LASTS: Duration = Duration::from_secs(3);

fn ms(after: u64) -> Time {
    Time(1_000_000 + after * 1000)
}

/// Held since a moment.
fn held(stops: &[&[u8]]) -> Guardian {
    let mut guardian = Guardian::default();
    let stops = stops.iter().map(|stop| stop.to_vec()).collect();
    assert_eq!(guardian.hear(ms(0), GuardianInput::Prepare(StopFrames { stops, lasts: LASTS })), []);
    assert_eq!(guardian.hear(ms(0), GuardianInput::Renew(1, ms(0))), [GuardianOutput::Tell(GuardianEvent::Held(1))]);
    guardian
}

fn written(deeds: &[GuardianOutput]) -> Vec<Vec<u8>> {
    deeds
        .iter()
        .filter_map(|deed| if let GuardianOutput::Write(stop) = deed { Some(stop.clone()) } else { None })
        .collect()
}

/// All that it does until this moment, with the moment of each.
fn until(guardian: &mut Guardian, end: Time) -> Vec<(Time, GuardianOutput)> {
    let mut done = Vec::new();
    while guardian.due() <= end {
        let now = guardian.due();
        done.extend(guardian.work(now, true).into_iter().map(|deed| (now, deed)));
    }
    done
}

#[test]
fn renewed_it_does_nothing_and_200_ms_after_the_last_it_fires() {
    let mut guardian = held(&[b"STOP"]);
    for number in 2..20 {
        let now = ms(u64::from(number) * 40);
        assert_eq!(guardian.work(now, true), []);
        assert_eq!(
            guardian.hear(now, GuardianInput::Renew(number, now)),
            [GuardianOutput::Tell(GuardianEvent::Held(number))]
        );
    }
    let last = ms(19 * 40);
    assert_eq!(guardian.due(), last + HOLDS);
    assert_eq!(HOLDS, Duration::from_millis(200));
    assert_eq!(guardian.work(last + Duration::from_millis(199), true), []);
    let deeds = guardian.work(last + HOLDS, true);
    assert_eq!(deeds[0], GuardianOutput::Discard, "what others left unsent goes first");
    assert_eq!(deeds.last(), Some(&GuardianOutput::Tell(GuardianEvent::Fired)));
    assert_eq!(written(&deeds).len(), burst(4));
}

/// A renewal is as old as the judgement behind it, however long it lay in the pipe.
#[test]
fn a_renewal_that_was_read_late_is_not_new() {
    let mut guardian = held(&[b"STOP"]);
    assert_eq!(
        guardian.hear(ms(1000), GuardianInput::Renew(2, ms(30))),
        [GuardianOutput::Tell(GuardianEvent::Held(2))]
    );
    assert_eq!(guardian.due(), ms(230));
    assert!(!written(&guardian.work(ms(1000), true)).is_empty());
    assert_eq!(until(&mut guardian, ms(60_000)).last().map(|(at, _)| *at), Some(ms(30) + LASTS));
    // Nor is one that claims to come from the future.
    let mut guardian = held(&[b"STOP"]);
    guardian.hear(ms(10), GuardianInput::Renew(2, ms(60_000)));
    assert_eq!(guardian.due(), ms(210));
}

#[test]
fn it_fires_for_its_time_from_the_last_renewal_and_then_says_words() {
    let mut guardian = held(&[b"STOP"]);
    let done = until(&mut guardian, ms(60_000));
    let (at, last) = done.last().unwrap();
    assert_eq!((*at, last), (ms(0) + LASTS, &GuardianOutput::Say));
    let stops: Vec<Time> =
        done.iter().filter(|(_, deed)| matches!(deed, GuardianOutput::Write(_))).map(|(at, _)| *at).collect();
    assert!(stops.iter().all(|at| *at < ms(0) + LASTS));
    // Every 20 ms for a second, every 100 ms after it: what a board that is deaf for a while still hears.
    let gaps: Vec<Duration> =
        stops.windows(2).map(|pair| pair[1].since(pair[0])).filter(|gap| !gap.is_zero()).collect();
    assert!(gaps[..49].iter().all(|gap| *gap == Duration::from_millis(20)), "{gaps:?}");
    assert!(gaps[50..].iter().all(|gap| *gap == Duration::from_millis(100)), "{gaps:?}");
    assert_eq!(guardian.due(), Time::NEVER);
    // The program that wakes now is told to release it; until then it stays, silent.
    assert_eq!(guardian.hear(ms(61_000), GuardianInput::Renew(2, ms(61_000))), []);
    assert_eq!(guardian.hear(ms(61_000), GuardianInput::Release), [GuardianOutput::Tell(GuardianEvent::Released)]);
}

#[test]
fn once_fired_only_a_release_ends_it() {
    let mut guardian = held(&[b"STOP"]);
    guardian.work(ms(200), true);
    for number in 2..10 {
        let now = ms(200 + u64::from(number));
        assert_eq!(guardian.hear(now, GuardianInput::Renew(number, now)), []);
        let again = StopFrames { stops: vec![b"ELSE".to_vec()], lasts: Duration::from_secs(60) };
        assert_eq!(guardian.hear(now, GuardianInput::Prepare(again)), []);
    }
    assert_eq!(written(&guardian.work(ms(220), true)), [b"STOP"]);
    assert_eq!(guardian.hear(ms(230), GuardianInput::Release), [GuardianOutput::Tell(GuardianEvent::Released)]);
    assert_eq!(guardian.due(), Time::NEVER);
    // What was begun is not held again: stops have to be made anew.
    assert_eq!(guardian.hear(ms(240), GuardianInput::Renew(11, ms(240))), []);
    assert_eq!(guardian.due(), Time::NEVER);
}

#[test]
fn the_end_of_the_program_fires_at_once_unless_it_was_released() {
    let mut guardian = held(&[b"STOP"]);
    let deeds = guardian.hear(ms(50), GuardianInput::End);
    assert_eq!(written(&deeds).len(), burst(4));
    let done = until(&mut guardian, ms(60_000));
    assert_eq!(done.last(), Some(&(ms(0) + LASTS, GuardianOutput::Leave)));
    assert!(done.iter().any(|(_, deed)| *deed == GuardianOutput::Say));

    let mut guardian = held(&[b"STOP"]);
    guardian.hear(ms(50), GuardianInput::Release);
    assert_eq!(guardian.hear(ms(60), GuardianInput::End), [GuardianOutput::Leave]);
    let mut never = Guardian::default();
    assert_eq!(never.hear(ms(0), GuardianInput::End), [GuardianOutput::Leave]);
}

/// The program went and its guardian slept, as with the lid closed: by now another craft may be on the wire.
#[test]
fn woken_too_late_it_sends_nothing() {
    for end in [true, false] {
        let mut guardian = held(&[b"STOP"]);
        let mut deeds = if end { guardian.hear(ms(3_000), GuardianInput::End) } else { Vec::new() };
        deeds.extend(guardian.work(ms(3_000), true));
        assert!(written(&deeds).is_empty(), "{deeds:?}");
        assert!(deeds.contains(&GuardianOutput::Say) && deeds.contains(&GuardianOutput::Tell(GuardianEvent::TooLate)));
    }
}

#[test]
fn a_wire_that_is_gone_is_closed_at_once() {
    for held_before in [true, false] {
        let mut guardian = if held_before { held(&[b"STOP"]) } else { Guardian::default() };
        assert_eq!(guardian.hear(ms(1), GuardianInput::HungUp), [GuardianOutput::Leave]);
        assert_eq!(guardian.due(), Time::NEVER);
        assert_eq!(guardian.hear(ms(2), GuardianInput::End), []);
    }
}

/// A slow wire gets no more than it takes.
#[test]
fn stops_do_not_pile_up() {
    let mut guardian = held(&[b"STOP"]);
    guardian.work(ms(200), true);
    let mut now = guardian.due();
    for _ in 0..10 {
        assert_eq!(guardian.work(now, false), []);
        now = guardian.due();
    }
    assert_eq!(written(&guardian.work(now, true)).len(), 1);
}

/// Signed stops are each taken once: there are enough for the longest firing, and each leaves once.
#[test]
fn prepared_stops_last_for_a_whole_firing() {
    for lasts in [Duration::from_secs(3), Duration::from_secs(10)] {
        let count = stops_in(lasts, 114);
        let stops: Vec<Vec<u8>> = (0..count).map(|n| vec![u8::try_from(n).unwrap(); 114]).collect();
        let mut guardian = Guardian::default();
        guardian.hear(ms(0), GuardianInput::Prepare(StopFrames { stops, lasts }));
        guardian.hear(ms(0), GuardianInput::Renew(1, ms(0)));
        let mut done = guardian.hear(ms(1), GuardianInput::End);
        done.extend(until(&mut guardian, ms(60_000)).into_iter().map(|(_, deed)| deed));
        let mut sent = written(&done);
        assert!(sent.len() > 60 && sent.is_sorted());
        sent.dedup();
        assert_eq!(sent.len(), written(&done).len(), "none twice, of {count}");
    }
}

/// Whatever was half sent, the burst leaves one whole stop behind it. A disarm of common.xml: `COMMAND_LONG` 76 with
/// command 400; the longest frame has 280 bytes (developer guide, `guide/serialization`).
#[test]
fn a_half_sent_frame_does_not_swallow_the_burst() {
    let stop = disarm();
    for sent in 1..10 {
        // A frame that says it is the longest, begun and not ended.
        let mut heard: Vec<u8> = [0xFD, 255, 1, 0, 0, 255, 25, 0, 0, 0][..sent].to_vec();
        let mut guardian = held(&[&stop]);
        heard.extend(written(&guardian.work(ms(200), true)).concat());
        let whole = strict(&heard);
        assert!(whole.iter().any(|frame| classify(frame) == Some(FrameClass::Stop)), "{sent} bytes half sent");
    }
}

/// A disarm frame as the reference crate writes it.
fn disarm() -> Vec<u8> {
    use mavlink::dialects::common::{COMMAND_LONG_DATA, MavCmd, MavMessage};
    let command = COMMAND_LONG_DATA {
        command: MavCmd::MAV_CMD_COMPONENT_ARM_DISARM,
        target_system: 1,
        target_component: 1,
        ..COMMAND_LONG_DATA::default()
    };
    let mut raw = mavlink::MAVLinkV2MessageRaw::new();
    raw.serialize_message(mavlink::MavHeader::default(), &MavMessage::COMMAND_LONG(command));
    let bytes = raw.raw_bytes().to_vec();
    assert_eq!(frames(&bytes).len(), 1);
    bytes
}

/// A parser as small boards have it: it waits for as many bytes as a frame announces and looks at none of them twice.
fn strict(bytes: &[u8]) -> Vec<&[u8]> {
    let (mut at, mut found) = (0, Vec::new());
    while let Some(offset) = bytes[at..].iter().position(|byte| *byte == 0xFD) {
        let begin = at + offset;
        let Some(length) = bytes.get(begin + 1) else { break };
        let end = begin + 12 + usize::from(*length) + if bytes.get(begin + 2) == Some(&1) { 13 } else { 0 };
        let Some(frame) = bytes.get(begin..end) else { break };
        if frames(frame).first().is_some_and(|whole| whole.len() == frame.len()) {
            found.push(frame);
        }
        at = end;
    }
    found
}
