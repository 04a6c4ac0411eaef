//! What is known of this very craft on this opening of this wire, and whether it still is.
//!
//! A contact begins with the answer to an identity question that was asked on this opening. It is live, or doubtful
//! (nothing changes, nothing is driven, what was said stays), or over: then there is none, and everything that was known
//! has ended with it. Promises: what stands here is known nowhere else. Must not be here: who may be stopped (see
//! `authority`), and what doubt means in a phase (see `judge`).

pub(super) use super::attested::Attested;
use super::clock::ClockSays;
use super::guards;
use super::questions::AnsweredQuestion;
use super::signals::{POWER_AGE, STREAM_AGE, Signals};
use super::silence::{STREAM_MISSED, Silence};
use crate::board::signals::Identity;
use crate::measure::time::Time;
use crate::seam::PortInfo;
use std::time::Duration;

/// After a gap of our own longer than this, what was buffered is dropped and asked for afresh.
pub(super) const OWN_GAP: Duration = Duration::from_millis(100);
/// A gap of our own from here on leaves doubt.
pub(super) const GAP_DOUBT: Duration = Duration::from_millis(250);
/// And from here on ends the contact: whoever is on the wire now may be another.
pub(super) const GAP_OVER: Duration = Duration::from_secs(2);
/// A link whose half round trip is longer allows no motor step.
pub const LAG_MOST: Duration = Duration::from_millis(250);
/// How long everything has to be at rest, and how long after a disturbance the flag has to be told.
pub(super) const REST: Duration = Duration::from_secs(1);
/// A speed under this is rest, rpm.
pub(super) const SPEED_REST: f64 = 1.0;
/// While doubtful, who it is is asked again this often.
pub(super) const ASK_AGAIN: Duration = Duration::from_millis(500);
/// An answer comes this much later than the last one did at most; or, where none was measured, within this time.
pub(super) const ANSWER_LATE: Duration = Duration::from_secs(1);
pub(super) const ANSWER_MOST: Duration = Duration::from_secs(5);
/// Another clock that still runs on the wire is heard again within this time.
const HEARD_AGAIN: Duration = Duration::from_millis(100);
/// The round trip is the least of the last few, none older than this.
const TRIP_AGE: Duration = Duration::from_secs(10);

/// What kind of wire it is: who else could answer on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WireKind {
    /// The board's own USB: another board comes only with another opening.
    OwnUsb,
    /// A radio, an adapter or a network: another craft could answer on the same opening.
    Shared,
}

impl WireKind {
    /// As far as the system tells.
    #[must_use]
    pub fn of(info: &PortInfo) -> Self {
        // Class drivers name a board's own USB port so, and those of adapters otherwise. *Common practice* on Linux, macOS.
        let own = ["ttyACM", "cu.usbmodem", "tty.usbmodem"].iter().any(|name| info.name.contains(name));
        if info.usb.is_some() && own { Self::OwnUsb } else { Self::Shared }
    }

    /// How long stops go on into silence.
    #[must_use]
    pub fn stops_into_silence(self) -> Duration {
        match self {
            Self::OwnUsb => Duration::from_secs(10),
            Self::Shared => Duration::from_secs(3),
        }
    }
}

/// Why it is doubtful who is on the wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// The armed flag is not fresh.
    Silence,
    /// A clock took an unlikely step.
    Clock,
    /// All its messages have long been late.
    Late,
    /// The numbers of its frames did.
    Sequence,
    /// This program did not run for a while.
    OwnGap,
}

impl std::fmt::Display for Doubt {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Silence => "the armed flag is not heard any more",
            Self::Clock => "the board's clock jumped, as if another board had come on the wire",
            Self::Late => "the board's messages have come late for a while, as another board's would",
            Self::Sequence => "the numbers of the board's frames jumped, as if another board had come on the wire",
            Self::OwnGap => "this program was held up for a moment",
        })
    }
}

/// See the module.
#[derive(Debug, Clone)]
pub(super) struct Contact {
    /// Who it is.
    pub identity: Identity,
    /// When it was met.
    pub began: Time,
    /// Since when, and why, it is not sure that it still is; it ends with an answer asked later than that.
    doubt: Option<(Time, Doubt)>,
    /// Frames came after a silence, and nothing has shown yet whose they are: whatever they say, no stop answers them.
    unproved: Option<Time>,
    /// A silence, or an announced restart, left it unproved: there only an id that nobody shares tells.
    only_id_tells: bool,
    /// Of a craft at rest: no answer to an earlier question shows that the other clock which was heard is gone again.
    other_clock_until: Time,
    /// When something of the craft was heard last.
    pub heard: Time,
    /// When it spoke last, an answer that came just now included.
    spoke: Time,
    /// Since when all its messages are late.
    late_since: Option<Time>,
    /// Seen at rest in this contact.
    pub seen_at_rest: bool,
    /// Seen at rest since the phase is what it is: in a latched session a start from now on is a new one.
    pub rested: bool,
    /// Since when everything is at rest.
    rest_since: Option<Time>,
    /// When a start, a stop or a raised output was seen last.
    disturbed: Time,
    /// A start that this session invited, or saw begin on a craft seen at rest.
    pub started: bool,
    /// An armed craft was seen to obey a disarm.
    pub obeys_disarm: bool,
    /// A motor that was run by command was seen to come to rest with nothing sent for it.
    pub ends_runs: bool,
    /// What was said of it.
    pub attested: Attested,
    /// Amperes at rest in hundredths, where measured.
    pub rest_current: Option<i16>,
    trips: Vec<(Time, Duration)>,
    /// When the last question left whose answer can have been to no other.
    measured: Option<Time>,
    /// The last answer may have been to an earlier question: how slow the link is has to be asked again.
    unmeasured: bool,
    /// From when on a question has to be answered that has not been.
    asked_again: Option<Time>,
}

impl Contact {
    /// A contact that begins with this answer.
    pub fn begin(identity: Identity, now: Time) -> Self {
        Self {
            identity,
            began: now,
            doubt: None,
            unproved: None,
            only_id_tells: false,
            other_clock_until: now,
            heard: now,
            spoke: now,
            late_since: None,
            seen_at_rest: false,
            rested: false,
            rest_since: None,
            disturbed: now,
            started: false,
            obeys_disarm: false,
            ends_runs: false,
            attested: Attested::default(),
            rest_current: None,
            trips: Vec::new(),
            measured: None,
            unmeasured: false,
            asked_again: None,
        }
    }

    /// Whether the id tells this craft from every other.
    pub fn is_unique(&self) -> bool {
        self.identity.is_unique()
    }

    /// Why it is doubtful, if it is.
    pub fn doubt(&self) -> Option<Doubt> {
        self.doubt.map(|(_, doubt)| doubt)
    }

    /// Whether it is not known whose the last frames are.
    pub fn is_unproved(&self, now: Time) -> bool {
        self.unproved.is_some_and(|since| since <= now)
    }

    /// Frames came after a silence, and no answer can show whose they are.
    pub fn may_be_another(&self, now: Time) -> bool {
        !self.is_unique() && self.only_id_tells && self.is_unproved(now)
    }

    /// How long that has not been known.
    pub fn unproved_for(&self, now: Time) -> Duration {
        self.unproved.map_or(Duration::ZERO, |since| now.since(since))
    }

    /// A frame came that may be somebody else's.
    pub fn is_stranger(&mut self, now: Time) {
        self.unproved.get_or_insert(now);
    }

    /// Whether stops are not sent into this silence any more.
    pub fn is_silent(&self, now: Time, wire: WireKind) -> bool {
        now.since(self.heard) > wire.stops_into_silence()
    }

    /// Another clock runs, or numbers leapt: its own, or those of a craft that came in its place or beside it.
    pub fn has_to_answer(&mut self, now: Time) {
        self.only_id_tells = true;
        self.is_stranger(now);
    }

    /// A message of another clock came. Of a craft at rest that has to be answered for; one that turns shows it by its own next.
    pub fn is_told_apart(&mut self, now: Time, turns: bool) {
        self.is_stranger(now);
        if !turns {
            self.only_id_tells = true;
            self.other_clock_until = now + HEARD_AGAIN;
        }
    }

    /// It is not sure any more who is there.
    pub fn becomes_doubtful(&mut self, now: Time, doubt: Doubt) {
        self.doubt.get_or_insert((now, doubt));
    }

    /// Its messages have long been later than those of before, as another's would be whose clock is behind.
    pub fn falls_behind(&self, now: Time) -> bool {
        let long = self.late_since.is_some_and(|since| now.since(since) > STREAM_MISSED);
        self.is_unique() && self.doubt.is_none() && long
    }

    /// Something was said that proves nobody: after a silence it may be another. Whether that has to be asked.
    pub fn overhears(&mut self, now: Time, silence: Silence) -> bool {
        let silent = now.since(self.spoke) > silence.after;
        let asks = silent && !self.is_unproved(now);
        if silent {
            self.has_to_answer(now);
        }
        asks
    }

    /// Something of a craft was heard, and its clock said this.
    pub fn hears(&mut self, now: Time, signals: &Signals, says: Option<ClockSays>, silence: Silence) {
        let silent = now.since(self.spoke);
        (self.heard, self.spoke) = (now, now);
        // It runs on, which only this craft's does.
        let clock = match says {
            Some(ClockSays::RunsOn) => {
                self.late_since = None;
                true
            }
            Some(ClockSays::Late) => {
                self.late_since.get_or_insert(now);
                self.is_unique()
            }
            Some(ClockSays::Unlikely | ClockSays::Anew | ClockSays::Two) | None => false,
        };
        if silent > silence.after {
            self.only_id_tells = true;
            self.is_stranger(now);
        } else if !clock && silent > STREAM_MISSED && silence.streams_come_often {
            self.is_stranger(now);
        } else if clock && !(self.only_id_tells && self.is_unique()) {
            // Two boards that were powered together have clocks alike, so that after a silence no clock tells.
            (self.unproved, self.only_id_tells) = (None, false);
            // One that never says who it is can't answer a doubt: there it ends with what its clock dates after it.
            let told = |since| {
                let flag = signals.armed.last().is_some_and(|flag| flag.at > since);
                flag && !signals.deaf && signals.outputs.last().is_some_and(|outputs| outputs.at > since)
            };
            if !self.is_unique() && self.doubt.is_some_and(|(since, _)| told(since)) {
                self.doubt = None;
            }
        }
    }

    /// The same identity was answered to a question of then.
    pub fn answers(&mut self, now: Time, asked: AnsweredQuestion) {
        // Counted from the first question that it may belong to, an answer took no longer than this.
        self.trips.retain(|(at, _)| now.since(*at) < TRIP_AGE);
        self.trips.push((now, now.since(asked.at)));
        self.unmeasured = !asked.alone;
        if asked.alone {
            self.measured = Some(asked.at);
        }
        let Some(asked) = asked.proves else { return };
        self.asked_again = self.asked_again.filter(|since| asked < *since);
        // An id that others may have too proves nothing: there only a clock that runs on does.
        if self.is_unique() {
            self.heard = self.heard.max(asked);
            self.spoke = now;
            self.late_since = None;
            // Frames that came since may be another's.
            if self.unproved.is_none_or(|since| asked >= since.max(self.other_clock_until)) {
                (self.unproved, self.only_id_tells) = (None, false);
            }
        }
        if self.unproved.is_none() && self.doubt.is_some_and(|(since, _)| asked >= since) {
            self.doubt = None;
        }
    }

    /// How long the last answer took, at most.
    pub fn last_trip(&self) -> Option<Duration> {
        self.trips.last().map(|(_, trip)| *trip)
    }

    /// How long an answer is awaited before it counts as lost.
    pub fn patience(&self) -> Duration {
        self.last_trip().map_or(ANSWER_MOST, |trip| trip + ANSWER_LATE)
    }

    /// Who it is is asked once more from now on, while what is heard counts as its own.
    pub fn is_asked_again(&mut self, now: Time) {
        self.asked_again.get_or_insert(now);
    }

    /// Whether that was not answered yet.
    pub fn has_not_answered_again(&self) -> bool {
        self.asked_again.is_some()
    }

    /// Whether how slow the link is has to be asked again.
    pub fn is_unmeasured(&self) -> bool {
        self.unmeasured
    }

    /// Whether it was measured by a question that left no earlier than this.
    pub fn is_measured_since(&self, then: Time) -> bool {
        self.measured.is_some_and(|asked| asked >= then)
    }

    /// The least round trip of late, where one was measured.
    pub fn round_trip(&self, now: Time) -> Option<Duration> {
        self.trips.iter().filter(|(at, _)| now.since(*at) < TRIP_AGE).map(|(_, trip)| *trip).min()
    }

    /// A start, a stop or a raised output.
    pub fn is_disturbed(&mut self, now: Time) {
        self.disturbed = now;
        self.rest_since = None;
    }

    /// Takes up how things stand: at rest or not. Gives what [`Contact::rests`] does.
    pub fn note_rest(&mut self, signals: &Signals, speeds_told: usize, now: Time) -> bool {
        if guards::moves(signals, now).is_some() {
            self.is_disturbed(now);
            return false;
        }
        if !at_rest(signals, speeds_told, now) {
            // What is not fresh for a moment tells nothing; whether it is at rest is only said while it is.
            if self.doubt.is_some() || !speeds_at_rest(signals, speeds_told, now) {
                self.rest_since = None;
            }
            return false;
        }
        self.rest_since.get_or_insert(now);
        let long = self.rested_long(signals, now);
        if long {
            self.seen_at_rest = true;
            let current = || signals.power.fresh(now, POWER_AGE).and_then(|power| power.centiamps);
            self.rest_current = self.rest_current.or_else(current);
        }
        long
    }

    /// Everything has been at rest for long enough, told after whatever moved last.
    pub fn rests(&self, signals: &Signals, speeds_told: usize, now: Time) -> bool {
        self.seen_at_rest && self.rested_long(signals, now) && at_rest(signals, speeds_told, now)
    }

    fn rested_long(&self, signals: &Signals, now: Time) -> bool {
        self.rest_since.is_some_and(|since| now.since(since) >= REST)
            && signals.armed.last().is_some_and(|flag| flag.at >= self.disturbed + REST)
    }
}

/// Flag off and fresh, outputs at rest and speeds at zero where they are told.
pub(super) fn at_rest(signals: &Signals, speeds_told: usize, now: Time) -> bool {
    undriven(signals, now) && speeds_at_rest(signals, speeds_told, now)
}

/// Flag off and outputs at rest, both heard.
pub(super) fn undriven(signals: &Signals, now: Time) -> bool {
    let outputs = signals.outputs.fresh(now, STREAM_AGE);
    signals.flag(now) == Some(false) && outputs.is_some_and(|outputs| super::signals::at_rest(&outputs))
}

/// Speeds at zero, where the board sends any: a stream that fell silent is not rest, nor is one of the motors of which the
/// sheet says that they tell, so many as `told`.
pub(super) fn speeds_at_rest(signals: &Signals, told: usize, now: Time) -> bool {
    match signals.speeds.fresh(now, REST) {
        Some(speeds) => {
            speeds.iter().flatten().all(|rpm| *rpm < SPEED_REST) && signals.tells_each_speed(now, told, REST)
        }
        None => signals.speeds.last().is_none() || told == 0,
    }
}
