//! The bytes between writer and board, and all that befalls them there.
//!
//! Order stays, but where a fault is that it does not. Must not be here: when a fault happens (see `dice`).

use super::dice::{Dice, Kind};
use super::frames::Means;
use super::typed::Speech;
use quadjig::measure::time::Time;
use std::collections::VecDeque;
use std::time::Duration;

/// Where bytes go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    Board,
    Host,
}

/// See the module.
#[derive(Debug, Default)]
pub struct Wire {
    pub speech: Speech,
    /// Everything takes so much longer, each way.
    pub lag: Duration,
    /// Nothing passes until then, and is lost.
    pub silent_until: Time,
    /// Nothing passes until then, and comes all at once.
    stalled_until: Time,
    /// What is sent comes back as well.
    echo_until: Time,
    /// Another vehicle is heard.
    other_until: Time,
    others: u8,
    beat: Time,
    to_board: VecDeque<(Time, Vec<u8>)>,
    to_host: VecDeque<(Time, Vec<u8>)>,
    /// Copies of answers that come once more, out of order.
    late: Vec<(Time, Vec<u8>)>,
    /// A frame that waits for the next, to come as one with it.
    joined: [Vec<u8>; 2],
}

/// A sign of life of system 2: version 2 of the standard, made by hand.
fn beat(sequence: u8) -> Vec<u8> {
    let mut frame = vec![0xFD, 9, 0, 0, sequence, 2, 1, 0, 0, 0, 0, 0, 0, 0, 2, 3, 0, 3, 3];
    let mut sum = 0xFFFF_u16;
    for byte in frame[1..].iter().copied().chain([50]) {
        let mut mixed = byte ^ sum.to_le_bytes()[0];
        mixed ^= mixed << 4;
        let mixed = u16::from(mixed);
        sum = (sum >> 8) ^ (mixed << 8) ^ (mixed << 3) ^ (mixed >> 4);
    }
    frame.extend(sum.to_le_bytes());
    frame
}

impl Wire {
    pub fn clear(&mut self) {
        self.to_board.clear();
        self.to_host.clear();
        self.late.clear();
        self.joined = Default::default();
    }

    /// A fault begins that lasts until then.
    pub fn begin(&mut self, kind: Kind, until: Time) {
        match kind {
            Kind::Echo => self.echo_until = until,
            Kind::Stall => self.stalled_until = until,
            Kind::Silence => self.silent_until = self.silent_until.max(until),
            _ => self.other_until = until,
        }
    }

    /// Whether frames are kept back or lost as a whole.
    fn passes(&self, now: Time) -> bool {
        now >= self.silent_until
    }

    fn queue(&mut self, side: Side) -> &mut VecDeque<(Time, Vec<u8>)> {
        match side {
            Side::Board => &mut self.to_board,
            Side::Host => &mut self.to_host,
        }
    }

    pub fn waiting_for_host(&self) -> usize {
        self.to_host.iter().map(|(_, bytes)| bytes.len()).sum()
    }

    /// Keeps only so many bytes of what waits.
    pub fn keep_for_host(&mut self, mut most: usize) {
        for (_, bytes) in &mut self.to_host {
            bytes.truncate(most);
            most -= bytes.len();
        }
    }

    /// Takes bytes that begin their way.
    pub fn carry(&mut self, now: Time, side: Side, bytes: &[u8], dice: &mut Dice) {
        if side == Side::Host && self.other_until > now && self.beat <= now {
            self.beat = now + Duration::from_millis(500);
            self.others = self.others.wrapping_add(1);
            let beat = beat(self.others);
            self.push(now, side, beat, Duration::ZERO);
        }
        if bytes.is_empty() || !self.passes(now) {
            return;
        }
        if side == Side::Board && self.echo_until > now {
            self.push(now, Side::Host, bytes.to_vec(), Duration::from_millis(1));
        }
        if !dice.has_any() {
            return self.push(now, side, bytes.to_vec(), Duration::ZERO);
        }
        for (range, means) in self.speech.parts(bytes) {
            self.frame(now, side, bytes[range].to_vec(), means.as_ref(), dice);
        }
    }

    fn push(&mut self, now: Time, side: Side, bytes: Vec<u8>, late: Duration) {
        let mut due = now + self.lag + late;
        if side == Side::Host || now < self.stalled_until {
            due = due.max(self.stalled_until);
        }
        let queue = self.queue(side);
        let due = queue.back().map_or(due, |(last, _)| due.max(*last));
        queue.push_back((due, bytes));
    }

    /// One frame with all that may befall it.
    fn frame(&mut self, now: Time, side: Side, mut bytes: Vec<u8>, means: Option<&Means>, dice: &mut Dice) {
        let place = usize::from(side == Side::Host);
        dice.frames += 1;
        if !matches!(means, Some(Means::Alive { .. } | Means::Outputs(_) | Means::Other(_)) | None) {
            dice.talk.push(dice.frames);
        }
        if dice.frame(Kind::Drop).is_some() {
            return;
        }
        if let Some(mut how) = dice.frame(Kind::Garbage) {
            let noise = (0..=how.below(40)).map(|_| how.below(256).to_le_bytes()[0]).collect();
            self.push(now, side, noise, Duration::ZERO);
        }
        if let Some(mut how) = dice.frame(Kind::BitFlip) {
            let at = usize::try_from(how.below(bytes.len() as u64)).unwrap_or(0);
            bytes[at] ^= 1 << how.below(8);
            for _ in 0..if dice.has_more() { how.below(3) } else { 0 } {
                let at = usize::try_from(how.below(bytes.len() as u64)).unwrap_or(0);
                bytes[at] ^= 1 << how.below(8);
            }
        }
        if let Some(mut how) = dice.frame(Kind::Truncate) {
            bytes.truncate(usize::try_from(how.below(bytes.len() as u64)).unwrap_or(0));
        }
        if let Some(mut how) = dice.frame(Kind::LateAnswer)
            && side == Side::Host
            && !matches!(means, Some(Means::Alive { .. }) | None)
        {
            self.late.push((now + self.lag + how.ms(30, 3_000), bytes.clone()));
        }
        let late = dice.frame(Kind::Delay).map_or(Duration::ZERO, |mut how| how.ms(5, 400));
        if dice.frame(Kind::Join).is_some() && self.joined[place].is_empty() {
            self.joined[place] = bytes;
            return;
        }
        let bytes = [std::mem::take(&mut self.joined[place]), bytes].concat();
        if let Some(mut how) = dice.frame(Kind::Split) {
            let at = usize::try_from(how.below(bytes.len() as u64)).unwrap_or(0);
            self.push(now, side, bytes[..at].to_vec(), late);
            return self.push(now, side, bytes[at..].to_vec(), late + how.ms(1, 60));
        }
        if dice.frame(Kind::Duplicate).is_some() {
            self.push(now, side, bytes.clone(), late);
        }
        self.push(now, side, bytes, late);
    }

    /// What has come by now.
    pub fn come(&mut self, now: Time, side: Side) -> Vec<Vec<u8>> {
        let passes = self.passes(now);
        let queue = self.queue(side);
        let mut come = Vec::new();
        while queue.front().is_some_and(|(due, _)| *due <= now) {
            come.extend(queue.pop_front().map(|(_, bytes)| bytes).filter(|bytes| passes && !bytes.is_empty()));
        }
        if side == Side::Host {
            while let Some(at) = self.late.iter().position(|(due, _)| *due <= now) {
                come.push(self.late.remove(at).1);
            }
        }
        come
    }

    /// When the next bytes have come; for the program only where it takes them.
    pub fn wake(&self, takes: bool) -> Time {
        let next = |queue: &VecDeque<(Time, Vec<u8>)>| queue.front().map_or(Time::NEVER, |(due, _)| *due);
        let late = self.late.iter().map(|(due, _)| *due).min().unwrap_or(Time::NEVER);
        let host = if takes { next(&self.to_host).min(late) } else { Time::NEVER };
        next(&self.to_board).min(host)
    }
}
