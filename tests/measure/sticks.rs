//! The search for sticks over many synthetic radios: never a wrong card, an answer wherever one is possible.

use super::dice::Dice;
use quadjig::measure::frame::{CHANNELS, ChannelFrame};
use quadjig::measure::sticks::{Moved, Rest, StickError, StickFound, assign};
use quadjig::measure::time::Time;

/// How many radios are looked at unless `QUADJIG_STICKS` says otherwise.
const RADIOS: u64 = 1000;
/// How far back it is looked whether a stick is held, or let go, ms; a hand may take so long to it. As the bench does.
const LATELY: i64 = 1000;
const REACHES: i64 = 20_000;
const LETS_GO: i64 = 10_000;
const QUIET: i64 = 2000;
const LOOKS: i64 = 100;
const TRIES: usize = 3;

/// One radio in somebody's hands: which channel each stick has, and what else goes on.
struct Radio {
    dice: Dice,
    /// Channel from 0, whether it falls when the stick goes right or up, and its half travel, µs; by stick.
    sticks: [(usize, bool, i64); 4],
    trims: [i64; 4],
    /// From a stick onto another one's channel, thousandths.
    mixes: Vec<(usize, usize, i64)>,
    /// Channels beyond the first made from a stick: thousandths, or a jump at its middle.
    derived: Vec<(usize, usize, Option<i64>)>,
    jitter: i64,
    /// Of a hundred frames.
    missing: i64,
    period: i64,
    /// How long a hand takes over, ms, and how far it goes, per cent.
    hand: (i64, i64),
    /// A hand that is not quite straight: so many thousandths of the stick beside it.
    slant: i64,
    /// Sticks that are touched: which, how far (µs), from when, for how long (ms).
    touches: Vec<(usize, i64, i64, i64)>,
    /// A switch that is touched: from when on it is elsewhere, ms.
    flips: Vec<i64>,
    now: i64,
    /// Which stick is held right or up since when, or let go.
    over: Option<usize>,
    from: [f64; 4],
    since: i64,
    log: Vec<ChannelFrame>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Plain,
    Mixed,
    Derived,
    Slow,
    Noisy,
    Missing,
    Touched,
    Everything,
}

const KINDS: [Kind; 8] =
    [Kind::Plain, Kind::Mixed, Kind::Derived, Kind::Slow, Kind::Noisy, Kind::Missing, Kind::Touched, Kind::Everything];

impl Radio {
    fn new(seed: u64) -> (Self, Kind) {
        let mut dice = Dice::new(seed);
        let kind = KINDS[usize::try_from(seed % 8).unwrap()];
        let is = |one: Kind| kind == one || kind == Kind::Everything;
        let mut order = [0, 1, 2, 3];
        for last in (1..4).rev() {
            order.swap(last, usize::try_from(dice.between(0, i64::try_from(last).unwrap())).unwrap());
        }
        let mut sticks = [(0, false, 0); 4];
        for (slot, channel) in sticks.iter_mut().zip(order) {
            *slot = (channel, dice.once_in(2), dice.between(400, 520));
        }
        // A throttle that is reversed rests at the top.
        let trims = [(); 4].map(|()| dice.between(-25, 25));
        let some = |dice: &mut Dice| usize::try_from(dice.between(0, 3)).unwrap();
        let mut mixes = Vec::new();
        if is(Kind::Mixed) {
            // One stick onto one other, and not back: else nothing tells which is whose.
            let from = some(&mut dice);
            let to = (from + 1 + some(&mut dice) % 3) % 4;
            let share = dice.between(100, 900);
            mixes.push((from, to, if dice.once_in(2) { -share } else { share }));
        }
        let mut derived = Vec::new();
        if is(Kind::Derived) {
            for channel in 4..usize::try_from(dice.between(5, 7)).unwrap() {
                let made = if dice.once_in(3) { None } else { Some(dice.between(-1000, 1000)) };
                derived.push((some(&mut dice), channel, made));
            }
        }
        let mut touches = Vec::new();
        let mut flips = Vec::new();
        if is(Kind::Touched) {
            for _ in 0..dice.between(1, 4) {
                let sign = if dice.once_in(2) { -1 } else { 1 };
                touches.push((
                    some(&mut dice),
                    sign * dice.between(60, 400),
                    dice.between(0, 24_000),
                    dice.between(80, 900),
                ));
            }
            flips = (0..dice.between(0, 4)).map(|_| dice.between(0, 24_000)).collect();
            flips.sort_unstable();
        }
        let radio = Self {
            sticks,
            trims,
            mixes,
            derived,
            jitter: if is(Kind::Noisy) { dice.between(5, 20) } else { dice.between(0, 5) },
            missing: if is(Kind::Missing) { 40 } else { dice.between(0, 10) },
            period: if is(Kind::Slow) { dice.between(50, 100) } else { dice.between(10, 25) },
            hand: (dice.between(100, 700), dice.between(85, 100)),
            slant: dice.between(-120, 120),
            touches,
            flips,
            now: 0,
            over: None,
            from: [0.0; 4],
            since: 0,
            log: Vec::new(),
            dice,
        };
        (radio, kind)
    }

    /// The hand's share of a stick's travel, −1 … 1: the throttle rests at its lower end.
    fn share(&self, stick: usize, at: i64) -> f64 {
        let rest = if stick == 2 { -1.0 } else { 0.0 };
        let beside = [1, 0, 3, 2][stick];
        let to = match self.over {
            Some(over) if over == stick => real(self.hand.1) / 100.0,
            Some(over) if over == beside && stick != 2 => real(self.slant) / 1000.0,
            _ => rest,
        };
        // Nothing happens before somebody has read what is asked.
        let way = (real(at - self.since - 300) / real(self.hand.0)).clamp(0.0, 1.0);
        self.from[stick] + (to - self.from[stick]) * way
    }

    fn pulses(&mut self, at: i64) -> [Option<u16>; CHANNELS] {
        let mut clean = [1500.0; CHANNELS];
        let shares = [0, 1, 2, 3].map(|stick| self.share(stick, at));
        for (stick, (channel, reversed, half)) in self.sticks.into_iter().enumerate() {
            let touched: f64 = self
                .touches
                .iter()
                .filter(|(which, _, from, lasts)| *which == stick && at >= *from && at < from + lasts)
                .map(|(_, far, from, lasts)| real(*far) * (std::f64::consts::PI * real(at - from) / real(*lasts)).sin())
                .sum();
            let by = (shares[stick] * real(half) + touched).clamp(-real(half), real(half));
            clean[channel] = 1500.0 + real(self.trims[stick]) + if reversed { -by } else { by };
        }
        let unmixed = clean;
        for (from, to, share) in &self.mixes {
            clean[self.sticks[*to].0] += (unmixed[self.sticks[*from].0] - 1500.0) * real(*share) / 1000.0;
        }
        for (from, channel, made) in &self.derived {
            let by = unmixed[self.sticks[*from].0] - 1500.0;
            clean[*channel] = match made {
                Some(share) => 1500.0 + by * real(*share) / 1000.0,
                None if by > 100.0 => 2000.0,
                None => 1000.0,
            };
        }
        clean[10] = if self.flips.iter().filter(|from| at >= **from).count() % 2 == 0 { 1000.0 } else { 2000.0 };
        clean.map(|pulse| {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a pulse in µs")]
            let whole =
                (pulse + real(self.dice.between(-self.jitter, self.jitter))).clamp(850.0, 2150.0).round() as u16;
            Some(whole)
        })
    }

    /// Lets time pass and hears what comes.
    fn pass(&mut self, ms: i64) {
        let until = self.now + ms;
        let first = self.now / self.period + 1;
        for frame in first..=until / self.period {
            let at = frame * self.period;
            if self.dice.between(1, 100) > self.missing {
                let pulses = self.pulses(at);
                self.log.push(ChannelFrame { at: Time(u64::try_from(at).unwrap() * 1000), pulses });
            }
        }
        self.now = until;
    }

    fn lately(&self, ms: i64) -> Vec<ChannelFrame> {
        let after = u64::try_from((self.now - ms).max(0)).unwrap() * 1000;
        self.log.iter().filter(|frame| frame.at.0 > after).copied().collect()
    }

    fn moves(&mut self, over: Option<usize>) {
        self.from = [0, 1, 2, 3].map(|stick| self.share(stick, self.now));
        (self.over, self.since) = (over, self.now);
    }

    /// Waits as the bench does: what came before it was asked for does not count.
    fn until(&mut self, most: i64, seen: impl Fn(&[ChannelFrame]) -> bool) -> Vec<ChannelFrame> {
        let end = self.now + most;
        self.pass(LATELY - LOOKS);
        loop {
            self.pass(LOOKS);
            let lately = self.lately(LATELY);
            if seen(&lately) || self.now >= end {
                return lately;
            }
        }
    }

    /// One stick held over and let go, asked for again where it is not told.
    fn hold(&mut self, stick: usize, rest: &mut Vec<ChannelFrame>) -> Result<Moved, StickError> {
        let mut last = StickError::NothingMoved;
        for _ in 0..TRIES {
            let at_rest = Rest::of(rest)?;
            self.moves(Some(stick));
            let held = self.until(REACHES, |lately| at_rest.is_held(lately));
            self.moves(None);
            *rest = self.until(LETS_GO, |lately| at_rest.is_back(lately));
            match Moved::of(&at_rest, &held, rest) {
                Ok(moved) => return Ok(moved),
                Err(error) => last = error,
            }
        }
        Err(last)
    }

    fn find(&mut self) -> Result<[StickFound; 4], StickError> {
        let mut last = StickError::NothingMoved;
        for _ in 0..TRIES {
            self.pass(QUIET);
            let mut rest = self.lately(QUIET);
            let mut moved = Vec::new();
            for stick in 0..4 {
                moved.push(self.hold(stick, &mut rest)?);
            }
            match assign(&moved.try_into().unwrap()) {
                Ok(found) => return Ok(found),
                Err(error) => last = error,
            }
        }
        Err(last)
    }
}

#[expect(clippy::cast_precision_loss, reason = "microseconds and milliseconds are small")]
fn real(whole: i64) -> f64 {
    whole as f64
}

#[test]
#[expect(clippy::print_stdout, reason = "figures, where more radios are asked for")]
fn never_a_wrong_card_and_nearly_always_an_answer() {
    let radios = std::env::var("QUADJIG_STICKS").ok().and_then(|count| count.parse().ok()).unwrap_or(RADIOS);
    let (mut plain, mut all) = ((0, 0), (0, 0));
    let (mut unanswered, mut untold) = (Vec::new(), 0);
    for seed in 0..radios {
        let (mut radio, kind) = Radio::new(seed);
        all.0 += 1;
        plain.0 += u64::from(kind == Kind::Plain);
        match radio.find() {
            Ok(found) => {
                for (found, (channel, reversed, _)) in found.iter().zip(radio.sticks) {
                    let right = (u32::try_from(channel).unwrap() + 1, reversed);
                    assert_eq!((found.channel, found.reversed), right, "radio {seed}, {kind:?}");
                }
                for (from, to, _) in radio.mixes.iter().filter(|(.., share)| share.abs() > 300) {
                    let dragged = u32::try_from(radio.sticks[*to].0).unwrap() + 1;
                    untold += u64::from(!found[*from].crossed.contains(&dragged));
                }
            }
            Err(error) => {
                all.1 += 1;
                plain.1 += u64::from(kind == Kind::Plain);
                unanswered.push((seed, kind, error));
            }
        }
    }
    println!("{} of {} plain and {} of {} in all without an answer", plain.1, plain.0, all.1, all.0);
    // A channel that is touched in the very moment is left out; a mix is a remark, not the card.
    assert!(untold * 1000 <= radios, "{untold} mixes that were not told");
    assert!(plain.1 * 1000 <= plain.0 && all.1 * 200 <= all.0, "{unanswered:#?}");
}

/// Frames of the first channels, and of another.
fn frames(pulses: [u16; 4], beyond: u16) -> Vec<ChannelFrame> {
    let mut all = [None; CHANNELS];
    for (slot, pulse) in all.iter_mut().zip(pulses) {
        *slot = Some(pulse);
    }
    all[6] = Some(beyond);
    (0..10).map(|i| ChannelFrame { at: Time(i * 20_000), pulses: all }).collect()
}

fn moved(held: [u16; 4], beyond: u16, back: u16) -> Result<Moved, StickError> {
    let rest = Rest::of(&frames([1500, 1500, 1000, 1500], 1000)).unwrap();
    Moved::of(&rest, &frames(held, beyond), &frames([1500, 1500, 1000, 1500], back))
}

const REST: u16 = 1000;

#[test]
fn what_leaves_no_answer_is_told_and_never_guessed() {
    let [pitch, throttle, yaw] = [[1500, 2000, 1000, 1500], [1500, 1500, 2000, 1500], [1500, 1500, 1000, 2000]]
        .map(|held| moved(held, REST, REST).unwrap());
    let with = |roll: Moved| assign(&[roll, pitch.clone(), throttle.clone(), yaw.clone()]);
    // Roll's own, and one that is mixed from it as far as its own stick moves it.
    let found = with(moved([1000, 1500, 1000, 1500], REST, REST).unwrap()).unwrap();
    assert_eq!((found[0].channel, found[0].reversed, found[0].crossed.len()), (1, true, 0));
    let mixed = with(moved([2000, 1500, 1000, 1990], REST, REST).unwrap()).unwrap();
    assert_eq!((mixed[0].channel, mixed[3].channel, &mixed[0].crossed), (1, 4, &vec![4]));
    // Somebody held the yaw stick twice.
    assert_eq!(with(yaw.clone()), Err(StickError::Several { channels: vec![4] }));
    // Roll and pitch each move both channels.
    let both = moved([2000, 2000, 1000, 1500], REST, REST).unwrap();
    assert_eq!(
        assign(&[both.clone(), both, throttle.clone(), yaw.clone()]),
        Err(StickError::Several { channels: vec![1, 2] })
    );
    // A stick that is elsewhere, alone; and with a mix of it on one of the first.
    let elsewhere = with(moved([1500, 1500, 1000, 1500], 1500, REST).unwrap()).unwrap();
    assert_eq!(elsewhere[0].channel, 7);
    assert_eq!(
        with(moved([1720, 1500, 1000, 1500], 1500, REST).unwrap()),
        Err(StickError::Several { channels: vec![1, 7] })
    );
    // A switch that was touched stays where it was put; nobody moved a stick.
    assert_eq!(moved([1500, 1500, 1000, 1500], 2000, 2000), Err(StickError::NothingMoved));
    let few = &frames([1500; 4], REST)[..4];
    assert_eq!(Rest::of(few), Err(StickError::TooFew { heard: 4, needed: 5 }));
}

#[test]
fn a_passage_is_no_hold() {
    let rest = Rest::of(&frames([1500, 1500, 1000, 1500], REST)).unwrap();
    assert!(rest.is_held(&frames([2000, 1500, 1000, 1500], REST)));
    let passing: Vec<ChannelFrame> = [1600, 1700, 1800, 1900, 2000]
        .into_iter()
        .flat_map(|pulse| frames([pulse, 1500, 1000, 1500], REST).into_iter().take(2))
        .collect();
    assert!(!rest.is_held(&passing) && !rest.is_back(&passing));
    assert!(!rest.is_held(&frames([1500, 1500, 1000, 1500], 2000)), "a switch is no stick");
    assert!(rest.is_back(&frames([1510, 1490, 1003, 1500], 2000)));
}
