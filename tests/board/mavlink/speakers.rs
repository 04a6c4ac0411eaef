//! Two boards with one system and component, told from the numbers of their frames alone; and none where there is one.

use super::kit::{InteractiveSession, frame, heartbeat, value, version};
use mavlink::dialects::common::{ATTITUDE_DATA, MavMessage, MavParamType, MavProtocolCapability};
use quadjig::board::signals::LinkEvent;
use std::time::Duration;

/// Numbers from 0 to below 1, by xorshift.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        f64::from(u32::try_from(self.0 >> 32).unwrap()) / (f64::from(u32::MAX) + 1.0)
    }

    fn below(&mut self, most: usize) -> usize {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss)]
        let place = (self.roll() * most as f64) as usize;
        place
    }
}

/// A frame of a board: no two in a row are alike, as a clock is in them.
fn says(sequence: usize, ms: u32) -> Vec<u8> {
    let told = MavMessage::ATTITUDE(ATTITUDE_DATA { time_boot_ms: ms, ..ATTITUDE_DATA::default() });
    frame((1, 1), u8::try_from(sequence % 256).unwrap(), &told)
}

/// Frames of a wire that loses and doubles one of twenty each and delivers each up to so many places late.
fn weathered(frames: Vec<Vec<u8>>, late: usize, dice: &mut Dice) -> Vec<Vec<u8>> {
    let mut placed = Vec::new();
    for (place, frame) in frames.into_iter().enumerate() {
        if dice.roll() < 0.05 {
            continue;
        }
        placed.push((place + dice.below(late + 1), frame.clone()));
        if dice.roll() < 0.05 {
            placed.push((place + dice.below(late + 1), frame));
        }
    }
    placed.sort_by_key(|(place, _)| *place);
    placed.into_iter().map(|(_, frame)| frame).collect()
}

/// After how many frames, at 200 a second, the link tells of two, if it does.
fn found(frames: &[Vec<u8>]) -> Option<usize> {
    let mut desk = InteractiveSession::new();
    desk.bytes(&frame((1, 1), 255, &heartbeat(false)));
    frames.iter().position(|bytes| {
        desk.now = desk.now + Duration::from_millis(5);
        desk.bytes(bytes);
        desk.heard.contains(&LinkEvent::TwoSpeakers)
    })
}

#[test]
fn one_board_is_one_under_loss_doubled_and_late_frames() {
    for seed in 1..=20 {
        let mut dice = Dice(seed * 0x9E37_79B9);
        let frames: Vec<Vec<u8>> = (0..6000).map(|n: u32| says(n as usize, n * 5)).collect();
        let frames = weathered(frames, [0, 3, 10, 25][dice.below(4)], &mut dice);
        assert_eq!(found(&frames), None, "seed {seed}");
    }
}

/// A restart begins the numbers anew, and a burst of losses leaves out any number of them.
#[test]
fn a_restart_or_a_burst_of_losses_is_no_second_board() {
    for (silence, next) in [(700, 0), (700, 40), (0, 200), (0, 230), (0, 60)] {
        let mut desk = InteractiveSession::new();
        desk.bytes(&frame((1, 1), 255, &heartbeat(false)));
        for n in 0..1200_u32 {
            let jump = (n / 150) as usize * next;
            let number = if silence > 0 { (n % 150) as usize + next } else { n as usize + jump };
            if n % 150 == 0 {
                desk.now = desk.now + Duration::from_millis(silence);
            }
            desk.now = desk.now + Duration::from_millis(5);
            desk.bytes(&says(number, n * 5));
        }
        assert!(!desk.heard.contains(&LinkEvent::TwoSpeakers), "{silence} ms, {next}");
    }
}

/// However far apart their numbers lie, whichever speaks more, singly or in bursts, within three seconds.
#[test]
fn two_boards_are_two_wherever_their_numbers_lie() {
    for (ours, others) in [(1, 1), (1, 3), (3, 1), (4, 4), (1, 9)] {
        for apart in (0..256).step_by(if ours == others { 1 } else { 5 }) {
            let mut dice = Dice(apart as u64 + 1);
            let (mut one, mut other) = (0, apart);
            let mut frames = Vec::new();
            while frames.len() < 1200 {
                for _ in 0..ours {
                    frames.push(says(one, 1000 + u32::try_from(one).unwrap() * 5));
                    one += 1;
                }
                for _ in 0..others {
                    frames.push(says(other, 7001 + u32::try_from(other).unwrap() * 5));
                    other += 1;
                }
            }
            let after = found(&weathered(frames, 3, &mut dice));
            assert!(after.is_some_and(|after| after < 600), "{ours} to {others}, {apart} apart: {after:?}");
        }
    }
}

/// A frame that is delivered twice proves nothing twice, be it an answer, a value that was read back or a flag; one that was
/// asked for twice is two.
#[test]
fn the_same_frame_is_heard_once() {
    for message in [
        version(42, MavProtocolCapability::empty()),
        value("NUMBER", 7, MavParamType::MAV_PARAM_TYPE_UINT8, 0, 2),
        heartbeat(true),
    ] {
        let told = |sequences: &[u8]| {
            let mut desk = InteractiveSession::bound();
            for sequence in sequences {
                desk.bytes(&frame((1, 1), *sequence, &message));
            }
            desk.heard.len()
        };
        assert_eq!((told(&[7, 7]), told(&[7, 8, 9, 7]), told(&[7, 8])), (1, 3, 2), "{message:?}");
    }
}
