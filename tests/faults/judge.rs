//! The judge: sees the wire's bytes with their times, what the program says and writes down, and the truth of both crafts.
//!
//! Shares no code with the program: frames are read by `frames`, what they can do is learnt by `fork`. Each property names
//! the page of the design that it holds the program to. Must not be here: what befalls the world.

mod claims;
mod planned;

pub use claims::{number, same};
pub use planned::Planned;

use super::fork::{self, Like, REST};
use super::frames::{Frame, Means};
use super::play::RUN;
use super::typed::Speech;
use quadjig::measure::time::Time;
use quadjig::record::StorePlace;
use quadjig::seam::ui::{About, Delivery, MotorStep, Motors, Question, Reply, StartedBy, UiEvent};
use quadjig::seam::{Effect, Event, Key, LineRead};
use quadjig::virtual_board::{GivenId, World as Craft};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::time::Duration;

const fn ms(ms: u64) -> Duration {
    Duration::from_millis(ms)
}

/// A change of craft without a break shows by the clock of its messages, of which one comes every 20 ms: by then the
/// program knows, which takes what it can't place for its own craft's for 600 ms.
const NOTICED: Duration = ms(640);
/// Clocks that are no further apart than this may be one, whose messages come sooner or later, µs.
const NEAR: u64 = 300_000;
/// Frames whose numbers are no further apart than this may be of one board, some of them lost or late.
const NUMBERS_NEAR: u8 = 40;
/// At rest for so long is what `stopped` says of a craft.
const RESTED: Duration = ms(300);
/// And disarmed, its outputs at rest, for a second as the program sees it.
const DRIVEN_NO_MORE: Duration = ms(900);
/// A key makes stop bytes leave within this (interlock.md, law 2).
const KEY: Duration = ms(20);
/// A start that the program must have heard of by then, over a wire without lag.
const SEEN: Duration = ms(120);
/// And where each thing is asked for in its turn.
const SEEN_BY_ASKING: Duration = ms(600);
/// A wire that was silent for so long may carry somebody else when it speaks again (interlock.md 1).
const MISSED: Duration = ms(250);
/// What 57,600 baud carry in a second, at ten bits a byte.
const LINE: usize = 5_760;
/// What a stabiliser may add to what was confirmed, us.
const OVER: i32 = 30;
/// Outputs of which nothing was heard for so long count as raised.
const OLD: Duration = ms(500);
/// Outputs that are not at rest 300 ms after a stop began are told of in large plain words (safety.md, stop).
const WORDS: Duration = ms(400);
/// A forced disarm leaves no sooner after a stop began (interlock.md, law 3).
const FORCED: Duration = ms(300);
/// A word is good for so long, until what it is for begins (safety.md, prompts that are read).
const WORD: Duration = Duration::from_secs(10);
/// A halted program's hold fires after 200 ms (interlock.md, law 2, without a system's own delays).
const HALT: Duration = ms(230);

/// And its guardian, where the whole program is stopped.
const STOPPED: Duration = ms(260);
/// A guardian that does not answer for 100 ms, from a renewal that comes every 40 ms and a judgement every 20 ms.
const UNGUARDED: Duration = ms(200);
/// Less than the shortest firing, from a renewal that may have come 60 ms before.
const FIRES: Duration = ms(2_900);

/// What was there when a property was asked; S5 is asked of the recoveries, which L2 counts.
pub const PREMISES: [&str; 33] = [
    "L1, L4",
    "L2",
    "L6",
    "S1",
    "S1 beside",
    "S2 armed",
    "S2 stop",
    "S2 stops",
    "S3",
    "S4",
    "S6",
    "S7",
    "S8",
    "S9",
    "S9 guardian gone",
    "S9 guardian late",
    "S9 halt",
    "S9 killed",
    "S9 rest",
    "S9 stopped",
    "S9 words",
    "S10",
    "S11 kept",
    "S11 read back",
    "S11 restarted",
    "S11 stopped",
    "S13",
    "S14",
    "S15",
    "S15 beside",
    "guardian",
    "unwritten",
    "words",
];

/// A property that did not hold.
#[derive(Debug, Clone, PartialEq)]
pub struct Broken {
    pub property: &'static str,
    pub at: Time,
    pub what: String,
}

/// A confirmation that was typed.
#[derive(Debug)]
struct Confirmed {
    step: MotorStep,
    /// The craft that it was about.
    craft: usize,
    at: Time,
    begun: u32,
}

/// See the module.
#[derive(Debug, Default)]
pub struct Judge {
    pub broken: Vec<Broken>,
    /// How often what a property speaks of was there.
    pub met: BTreeMap<&'static str, u64>,
    /// How the wire is spoken on.
    pub speech: Speech,
    /// What may be written, and what was asked.
    pub planned: Planned,
    /// Lines are typed at a prompt, where a session goes on after a stop: once its battery is out.
    pub prompt: bool,
    /// What came of a line that is not whole.
    said: Vec<u8>,
    /// A command that only looks.
    pub looks: bool,
    /// Its crafts cannot be told apart by their ids.
    pub nameless: bool,
    /// Their clocks are as near as one clock's messages may be, from the beginning on.
    pub alike: bool,
    /// How far their clocks were behind ours in the last messages of each that told them, µs.
    behind: [VecDeque<u64>; 2],
    /// Nothing befalls it.
    pub calm: bool,
    /// The board tells whether its battery is in.
    pub senses: bool,
    /// Answers may come more than once.
    pub repeats: bool,
    /// How far the wire is behind, each way.
    pub lag: Duration,
    /// Since when the other craft is on the wire besides.
    pub beside: Option<Time>,
    /// When a frame was read first while it was.
    beside_read: Option<Time>,
    /// When the other was there besides last.
    beside_last: Option<Time>,
    /// The number of the frame that was read last, and the first one of the other that is there besides.
    numbers: (Option<u8>, Option<u8>),
    /// What was told of each last: armed, outputs raised.
    truth: [(bool, bool); 2],
    /// Keeps what left and was shown.
    pub tells: bool,
    pub log: Vec<(Time, String)>,
    /// Each disarm that arrives is obeyed, and arrives.
    pub obeys: bool,
    made: [u64; 2],
    situation: [BTreeMap<String, String>; 2],
    written: [u64; 2],
    switch_since: Time,
    raised_since: [Option<Time>; 2],
    /// Each time that the motors of the craft that the operator means were driven, the last perhaps still: how long, and how
    /// long the step that was confirmed then may take.
    pub driven: Vec<(Duration, Option<Duration>)>,
    moved_at: [Option<Time>; 2],
    driven_at: [Option<Time>; 2],
    /// Since when it moves, once it was at rest for [`RESTED`].
    moves_since: [Time; 2],
    /// From when on it could be seen whether it is at rest: since it was met, or its wire opened.
    rests_from: Time,
    /// Another position than 2 at which arm was bound, by a word that was typed.
    bound_besides: BTreeSet<usize>,
    /// The one of a line that was typed last.
    binds_at: Option<usize>,
    powered_since: Option<Time>,
    question: Option<(Time, Box<Question>)>,
    typed: String,
    typed_at: Option<Time>,
    /// When a key or a signal came last.
    hand: Time,
    hasty: bool,
    line: String,
    confirmed: Option<Confirmed>,
    stopped: Option<Time>,
    /// After the stop it was asked to go on, which takes the battery out first.
    goes_on: bool,
    unexpected: Option<Time>,
    /// The craft that the program met.
    meant: Option<usize>,
    swapped: Option<Time>,
    /// The wire was opened anew before the other spoke.
    told: bool,
    /// It was silent for longer than streams ever are.
    silent: bool,
    /// What acts left for another craft that nothing on the wire tells.
    pub mistaken: bool,
    first_foreign: Option<Time>,
    last_handed: Time,
    /// What was read last came after a silence.
    unsure: bool,
    stop_due: Option<Time>,
    /// By when a stop has to be there for what nobody confirmed.
    unasked_due: Option<Time>,
    /// The program was killed.
    dead: bool,
    /// What was confirmed, while what was seen of one of its starts is asked.
    allows_more: Option<Confirmed>,
    /// A stop was begun, and has not ended.
    is_stopping: bool,
    /// Since when the clock of the first craft runs as it does, and whether that is as no board's does.
    clock_set: Time,
    runs_oddly: bool,
    guardian_sent: bool,
    /// When a line was entered last.
    entered: Time,
    /// When the guardian goes on.
    guardian_until: Time,
    /// The newest clock of the outputs of each, ms.
    newest: [u32; 2],
    stop_began: Option<Time>,
    stop_left: Option<Time>,
    /// When the first of those left that come one after another, and the last, the guardian's too.
    stops: Option<(Time, Time)>,
    /// By when the words have to come where its outputs are still raised.
    words_due: Option<Time>,
    /// Since when more is driven than was confirmed.
    over_since: Option<Time>,
    /// Since when and until when it is halted, and whether a confirmed start turned when that began.
    frozen: Option<(Time, Time, bool)>,
    /// When it goes on after it was halted, stopped or asleep.
    woke: Time,
    /// Since when, and how many bytes left in it.
    second: (Time, usize),
    sent_runs: BTreeSet<(u8, Vec<u8>)>,
    /// What the journal announces and has not left yet, each with the step that writes it.
    announced: BTreeMap<String, (u64, Value)>,
    /// All that it ever announced.
    ever_announced: Vec<(String, Value)>,
    /// What left of it.
    intents: BTreeMap<String, (u64, Value)>,
    /// What runs before it announced.
    pub earlier: BTreeMap<String, Value>,
    /// What the last line announced, and how often its craft had started by then.
    batch: (BTreeMap<String, Value>, u32),
    /// Settings that the journal called kept.
    pub kept: BTreeSet<String>,
    /// A step failed, or its line was not written.
    pub failed: bool,
    /// All that was said in lines.
    pub said_lines: Vec<String>,
    /// How often each craft had started when that was last spoken of, and when it was last looked at.
    starts: [u32; 2],
    looked_at: [u32; 2],
    started_at: Time,
    /// A restart left, and was not seen yet.
    restarts: bool,
    open: bool,
    /// A line of the journal was not stored.
    unwritten: Option<Time>,
}

fn hash(of: impl Hash) -> u64 {
    let mut hasher = DefaultHasher::new();
    of.hash(&mut hasher);
    hasher.finish()
}

pub fn highest(craft: &Craft) -> u16 {
    craft.outputs().iter().copied().max().unwrap_or(0)
}

impl Judge {
    /// Gets to know the crafts before anything happens.
    pub fn meets(&mut self, crafts: &[Craft; 2]) {
        fork::forget();
        for (made, craft) in self.made.iter_mut().zip(crafts) {
            let mut config = craft.config().clone();
            config.seed = 0;
            *made = hash((format!("{config:?}"), craft.truth()["settings"].to_string()));
        }
        self.starts = [crafts[0].starts(), crafts[1].starts()];
        self.looked_at = self.starts;
    }

    fn breaks(&mut self, property: &'static str, at: Time, what: impl Into<String>) {
        self.broken.push(Broken { property, at, what: what.into() });
    }

    fn meet(&mut self, property: &'static str) {
        *self.met.entry(property).or_default() += 1;
    }

    /// From then on the program knows of a start.
    fn seen(&self) -> Duration {
        self.lag * 2 + if self.speech == Speech::Lines { SEEN_BY_ASKING } else { SEEN }
    }

    /// A craft is at the wire that the program has not met.
    fn foreign(&self, at_wire: usize) -> bool {
        self.meant.is_some_and(|meant| meant != at_wire)
    }

    /// The program met the other craft, which had come before anybody was met: what it noted is of that one.
    pub fn met_the_other(&self) -> bool {
        self.meant == Some(1)
    }

    /// The world was moved by hand.
    pub fn moved(&mut self, now: Time, line: &str) {
        let words: Vec<&str> = line.split_whitespace().collect();
        let name = match words[..] {
            ["wiggle" | "tilt" | "usb" | "restart", ..] => return,
            ["flip", "B", _] => {
                self.switch_since = now;
                "flip B".to_owned()
            }
            // What jumps may be another's: whoever goes on with it was not seen at rest (interlock.md 2).
            ["clock", rate] => {
                self.clock_set = now;
                self.runs_oddly = rate.parse().is_ok_and(|rate: f64| (rate - 1.0).abs() > 0.05);
                "clock".to_owned()
            }
            ["flip" | "stick" | "deed", what, ..] => format!("{} {what}", words[0]),
            _ => words[0].to_owned(),
        };
        self.situation[0].insert(name, line.to_owned());
    }

    /// Another craft is at the wire from now on.
    pub fn swapped(&mut self, now: Time, which: usize, silent: Duration) {
        self.swapped = Some(now);
        self.behind[which].clear();
        self.silent = silent > ms(650);
        self.unasked_due = None;
        self.told = false;
        self.first_foreign = None;
        self.stop_due = None;
    }

    pub fn opened(&mut self, now: Time, _at_wire: usize) {
        self.guardian_until = Time(0);
        self.rests_from = now;
        self.open = true;
        self.said.clear();
        self.told = true;
        self.first_foreign = None;
    }

    pub fn closed(&mut self, _now: Time) {
        self.open = false;
        (self.stop_due, self.unasked_due) = (None, None);
    }

    /// The program, or the whole computer, does nothing until then.
    pub fn frozen(&mut self, now: Time, until: Time) {
        self.frozen = Some((now, until, self.confirmed_turns(now)));
        self.unasked_due = None;
        self.woke = until;
        if let Some(due) = &mut self.stop_due {
            *due = (*due).max(until + KEY);
        }
    }

    /// The whole computer sleeps until then, its guardian too: what was to stop it before is nobody's any more.
    pub fn sleeps(&mut self, until: Time) {
        (self.stop_due, self.unasked_due) = (None, None);
        self.frozen = None;
        self.woke = until;
    }

    /// A key came.
    pub fn key(&mut self, now: Time, key: Key) {
        self.tell(now, || format!("key {key:?}"));
        self.must_stop(now);
        let since = self.question.as_ref().map_or(Duration::ZERO, |(asked, _)| now.since(*asked));
        if since < ms(300) {
            return;
        }
        let ran = self.frozen.map_or(self.woke, |(_, until, _)| until.max(self.woke));
        match key {
            Key::Char(letter) => {
                self.hasty |= self.typed_at.is_some_and(|last| now.since(last) < ms(20));
                self.typed_at = Some(now);
                self.typed.push(letter);
            }
            Key::Backspace => drop(self.typed.pop()),
            // One more after it, before the program ran, is none of it.
            Key::Enter if self.typed.is_empty() && !self.line.is_empty() && now <= self.entered.max(ran) => {}
            Key::Enter => (self.line, self.entered) = (std::mem::take(&mut self.typed), now),
            // No letters: they change nothing of what was typed, or decline.
            Key::Escape | Key::Interrupt | Key::Other => {}
        }
    }

    /// Something is pasted: no answer, and as any key it stops.
    pub fn pasted(&mut self, now: Time) {
        // What was entered before it was no paste.
        self.hasty |= self.line.is_empty();
        self.must_stop(now);
    }

    /// A signal came, or the terminal was closed.
    pub fn signal(&mut self, now: Time) {
        self.must_stop(now);
    }

    /// The program is stopped, its guardian goes on: within 250 ms it stops what turns (law 2).
    pub fn halts(&mut self, now: Time, wait: Duration, guarded: bool) {
        self.woke = now + wait;
        (self.frozen, self.unasked_due) = (None, None);
        // What came just before it has not seen.
        if let Some(due) = &mut self.stop_due {
            *due = (*due).max(now + if guarded { wait.min(STOPPED) } else { wait } + KEY);
        }
        if guarded && wait > STOPPED {
            self.must_stop_within(now, STOPPED, "S9 stopped");
        }
    }

    /// The program is gone: its guardian stops what turns within 50 ms, and nothing arms where nobody bound it (S6).
    pub fn killed(&mut self, now: Time, guarded: bool, crafts: &[Craft; 2]) {
        self.tell(now, || "killed".to_owned());
        (self.frozen, self.words_due, self.unasked_due, self.dead) = (None, None, None, true);
        if guarded {
            self.must_stop_within(now, ms(50), "S9 killed");
            if self.stop_due.is_some() {
                self.stopped = Some(now);
            }
        }
        self.waits_for_guardian(now);
        self.arms_nowhere(now, &crafts[0]);
    }

    /// Arm is bound to position 2, before or by the recipe: at no other does a craft arm, wherever a run broke off.
    fn arms_nowhere(&mut self, now: Time, craft: &Craft) {
        if craft.armed() {
            return;
        }
        self.meet("S6");
        for position in [0, 1].into_iter().filter(|position| !self.bound_besides.contains(position)).collect::<Vec<_>>()
        {
            let mut copy = craft.clone();
            let at = copy.now();
            for line in [
                "stick throttle -100%".to_owned(),
                format!("flip B {position}"),
                "radio on".to_owned(),
                "battery in".to_owned(),
            ] {
                let _as_it_is = copy.line(at, &line);
            }
            copy.advance(at + Duration::from_secs(3));
            if copy.armed() {
                self.breaks("S6", now, format!("the program ended, and the craft arms at position {position}"));
            }
        }
    }

    /// The guardian is gone: no start goes on without it. With both gone nobody stops, which is said (interlock.md 7).
    pub fn guardian_gone(&mut self, now: Time) {
        if self.dead {
            self.stop_due = None;
            return;
        }
        self.must_stop_within(now, KEY, "S9 guardian gone");
    }

    /// The guardian does not run: a renewal that it does not acknowledge for 100 ms stops; a renewal comes 40 ms after the
    /// last, judged every 20 ms.
    pub fn guardian_stopped(&mut self, now: Time, wait: Duration) {
        self.guardian_until = self.guardian_until.max(now + wait);
        if self.dead {
            self.waits_for_guardian(now);
        }
        if wait > UNGUARDED {
            self.must_stop_within(now, UNGUARDED, "S9 guardian late");
        }
    }

    /// The program is gone and its guardian does not run: it stops once it goes on, unless by then another craft may be on
    /// the wire (interlock.md 7: both at once are not covered).
    fn waits_for_guardian(&mut self, now: Time) {
        if self.guardian_until > now {
            let fires = self.guardian_until.since(now) < FIRES;
            self.stop_due = self.stop_due.and(fires.then_some(self.guardian_until + ms(50)));
        }
    }

    /// Bytes of the guardian leave; `runs`: the program does as well.
    pub fn guardian_left(&mut self, now: Time, bytes: &[u8], runs: bool, at_wire: usize) {
        self.meet("guardian");
        self.guardian_sent = true;
        self.stop_leaves(now);
        for (_, frame) in self.speech.split(bytes) {
            match frame {
                Some(frame)
                    if frame.means == Means::Arm { on: false, forced: false } || frame.means == Means::Clears => {}
                other => self.breaks("S1", now, format!("the guardian sent {other:?}")),
            }
        }
        self.tell(now, || format!("guardian -> {at_wire}"));
        self.stop_due = None;
        if runs {
            self.leaves_for_another(now, &Means::Arm { on: false, forced: false }, at_wire);
        }
    }

    /// A file could not be written: after the journal's, nothing is written to a board (safety.md, settings).
    pub fn not_stored(&mut self, now: Time, place: &StorePlace) {
        if *place == StorePlace::Craft("journal.jsonl".into()) {
            self.meet("unwritten");
            self.failed = true;
            self.unwritten.get_or_insert(now);
        }
    }

    /// Whatever is typed while what was confirmed turns makes a stop leave (S9; interlock.md 3, law 2).
    fn must_stop(&mut self, now: Time) {
        self.hand = now;
        self.must_stop_within(now, KEY, "S9");
    }

    fn must_stop_within(&mut self, now: Time, bound: Duration, met: &'static str) {
        if self.confirmed_turns(now) && self.stop_due.is_none() {
            self.meet(met);
            let free = self.frozen.map_or(now, |(_, until, _)| now.max(until));
            // A program that is stopped hears of nothing; its guardian does.
            let free = if met == "S9" { free.max(self.woke) } else { free };
            self.stop_due = Some(free + bound);
        }
    }

    /// A start that was confirmed turns, nothing has stopped it, and the program has heard so.
    fn confirmed_turns(&self, now: Time) -> bool {
        let craft = self.confirmed.as_ref().map(|confirmed| confirmed.craft);
        let turns =
            craft.and_then(|craft| self.raised_since[craft]).is_some_and(|since| now.since(since) > self.seen());
        let heard = self.open
            && now.since(self.last_handed) < ms(300)
            && !self.unsure
            && self.meant == craft
            && self.swapped.is_none()
            && self.beside.is_none();
        turns && heard && self.stopped.is_none()
    }

    /// Truth, as it is now. Whether a motor of the craft that is meant is driven.
    pub fn look(&mut self, now: Time, crafts: &[Craft; 2], at_wire: usize) -> bool {
        for (place, craft) in crafts.iter().enumerate() {
            if place == 1 && at_wire == 0 && self.beside.is_none() {
                continue;
            }
            let raised = highest(craft) > REST;
            if self.tells && self.truth[place] != (craft.armed(), raised) {
                self.truth[place] = (craft.armed(), raised);
                self.tell(now, || format!("truly {place}: armed {}, outputs raised {raised}", craft.armed()));
            }
            if raised {
                let began = self.raised_since[place].is_none();
                let since = *self.raised_since[place].get_or_insert(now);
                if place == 0 {
                    let longest = self.confirmed.as_ref().map(|confirmed| confirmed.step.longest);
                    self.driven.extend(began.then_some((Duration::ZERO, longest)));
                    self.driven.last_mut().into_iter().for_each(|last| last.0 = now.since(since));
                }
            } else {
                self.raised_since[place] = None;
            }
            // Speeds count where they are told (safety.md, stop).
            let turns = craft.config().speed_telemetry && craft.speeds().into_iter().any(|speed| speed > 1.0);
            if raised || craft.armed() || turns {
                if self.moved_at[place].is_none_or(|last| now.since(last) > RESTED) {
                    self.moves_since[place] = now;
                }
                self.moved_at[place] = Some(now);
                if raised || craft.armed() {
                    self.driven_at[place] = Some(now);
                }
            }
        }
        self.nameless |= crafts.iter().all(|craft| craft.config().conduct.id != GivenId::Own);
        self.senses &= crafts.iter().all(|craft| craft.config().conduct.voltage_sensor);
        self.started(now, crafts);
        if crafts[at_wire].pack_volts() > 1.0 {
            self.powered_since.get_or_insert(now);
        } else {
            self.powered_since = None;
            if self.meant.is_none_or(|meant| meant == at_wire) && std::mem::take(&mut self.goes_on) {
                (self.stopped, self.unexpected) = (None, None);
            }
        }
        if self.stop_due.is_some_and(|due| due < now) {
            self.stop_due = None;
            self.breaks(
                "S9",
                now,
                "something that stops came while a confirmed start turned, and no stop left in time",
            );
        }
        if self.unasked_due.is_some_and(|due| due < now) {
            self.unasked_due = None;
            self.breaks(
                "S2",
                now,
                "an arming or a raised output that nobody confirmed was heard, and no stop was said",
            );
        }
        self.halted(now);
        self.driven_too_high(now, crafts);
        if self.words_due.is_some_and(|due| due.max(self.woke + WORDS + self.seen()) < now)
            && let Some(craft) = self.meant
        {
            self.words_due = None;
            self.meet("S9 words");
            let known = self.swapped.is_none() && self.beside.is_none() && !self.mistaken;
            // Over a wire that stalls they were at rest as far as anything tells until that is too old.
            let told = self.raised_since[craft].map(|since| since + self.seen() + OLD);
            if told.is_some_and(|told| known && told < now) {
                self.breaks("S9", now, "outputs are raised after a stop, and nobody was told to pull the battery");
            }
            self.words_due = told.filter(|told| *told >= now);
        }
        if let Some(stopped) = self.stopped
            && self.obeys
            && now.since(stopped) > ms(800)
            && now.since(stopped) < ms(900)
            && let Some(craft) = self.meant
        {
            self.meet("S9 rest");
            if highest(&crafts[craft]) > REST {
                self.breaks("S9", now, "outputs are not at rest 800 ms after a stop, over a wire without faults");
            }
        }
        self.raised_since[0].is_some()
    }

    /// Outputs of a start by switch are no higher than what was confirmed, but for what the program has not heard of (S1).
    fn driven_too_high(&mut self, now: Time, crafts: &[Craft; 2]) {
        let over = self.confirmed.as_ref().is_some_and(|confirmed| {
            let step = &confirmed.step;
            matches!(step.by, StartedBy::Switch { .. })
                && step.motors == Motors::All
                && i32::from(highest(&crafts[confirmed.craft])) > step.pulse.0 + OVER
        });
        let heard = self.open
            && now.since(self.last_handed) < ms(300)
            && !self.unsure
            && self.swapped.is_none()
            && self.beside.is_none()
            && !self.mistaken;
        if !over || !heard || self.stopped.is_some() || now < self.woke {
            self.over_since = None;
        } else if self.over_since.is_none() {
            self.meet("S1 over");
            self.over_since = Some(now);
        } else if self.over_since.is_some_and(|since| now.since(since) > self.seen() + ms(500)) {
            self.over_since = None;
            self.breaks("S1", now, "motors are driven higher than was confirmed");
        }
    }

    /// A halted program is stopped for by the hold of its writer (S9; law 2).
    fn halted(&mut self, now: Time) {
        let Some((since, until, turned)) = self.frozen else { return };
        if now >= until {
            self.frozen = None;
        } else if now.since(since) > HALT {
            self.frozen = None;
            if turned && self.open {
                self.meet("S9 halt");
                if self.stop_left.is_none_or(|left| left < since) {
                    self.breaks(
                        "S9",
                        now,
                        "the program halted while a confirmed start turned, and its hold sent nothing",
                    );
                }
            }
        }
    }

    /// Something was handed to the program; if bytes, those of this craft, which may have gone from the wire since.
    pub fn handed(&mut self, now: Time, event: &Event, by: usize) {
        if let Event::Line(LineRead::Typed(line)) = event {
            let position = line.strip_prefix("bind arm to switch B position ");
            self.binds_at = position.and_then(|at| at.parse::<usize>().ok()).or(self.binds_at);
            self.planned.line(line);
            if line.starts_with("run ") {
                RUN.lines().for_each(|line| self.planned.line(line));
            }
        }
        let Event::Bytes(bytes) = event else {
            if !matches!(event, Event::Tick | Event::Key(_)) {
                self.tell(now, || format!("<- {event:?}").chars().take(160).collect());
            }
            return;
        };
        for frame in self.speech.heard(bytes, &mut self.said).into_iter().filter(|frame| frame.system == 1) {
            // After a silence it may be another's, whom no stop may reach, until who it is was answered or its clock has run on.
            self.unsure |= self.speech == Speech::Frames && now.since(self.last_handed) > MISSED;
            self.unsure &= !matches!(frame.means, Means::Who(_) | Means::Outputs(_));
            self.last_handed = now;
            // It may have come without a word, as one that starts.
            let speaks = self.beside.filter(|_| self.numbers.1.is_some());
            self.beside_read = speaks.and(self.beside_read.or(Some(now)));
            self.beside_last = self.beside.map(|_| now).or(self.beside_last);
            if self.beside.is_none() {
                self.numbers = (Some(frame.sequence), None);
            }
            if let Some(clock) = frame.clock() {
                let behind = &mut self.behind[by];
                behind.push_back(now.0.saturating_sub(clock.into()));
                if behind.len() > 50 {
                    behind.pop_front();
                }
            }
            if !matches!(frame.means, Means::Other(_) | Means::Outputs(_) | Means::Alive { armed: false, .. }) {
                self.tell(now, || format!("<- {by} {:?}", frame.means));
            }
            if self.foreign(by) && self.first_foreign.is_none() {
                self.first_foreign = Some(now);
                self.tell(now, || "the first frame of another craft was read".to_owned());
            }
            // It said itself that it is another.
            self.told |= self.foreign(by) && matches!(frame.means, Means::Who(id) if id != 0);
            match frame.means {
                Means::Alive { armed: true, vehicle: true } => self.heard_armed(now, by),
                Means::Outputs(all) => {
                    // One that came late tells of what was.
                    let is_new = frame.clock().is_some_and(|clock| clock > self.newest[by]);
                    self.newest[by] = self.newest[by].max(frame.clock().unwrap_or(0));
                    if is_new && all.into_iter().any(|pulse| pulse > REST) {
                        self.heard_started(now, by);
                    }
                }
                _ => {}
            }
        }
    }

    /// An armed flag that nobody confirmed: from 50 ms on nothing but stops and questions (S2; safety.md, unexpected start).
    /// That of another craft stops nothing: a session at the prompt goes on with its own, once that is there without its
    /// battery.
    fn heard_armed(&mut self, now: Time, at_wire: usize) {
        let powered = self.powered_since.is_some_and(|since| now.since(since) > ms(2500));
        // It may be the flag of the one that is there besides.
        if self.beside_last.is_some_and(|last| now.since(last) <= self.lag + ms(100)) {
            return;
        }
        if !self.expects() && powered && self.senses && self.unexpected.is_none() {
            self.heard_started(now, at_wire);
            self.meet("S2 armed");
            self.unexpected = Some(now);
            // At the prompt it is latched, and goes on once the battery was out.
            self.goes_on |= self.prompt;
        }
    }

    /// What was confirmed is that a switch arms.
    fn expects(&self) -> bool {
        let by = self.confirmed.as_ref().map(|confirmed| &confirmed.step.by);
        by.is_some_and(|by| !matches!(by, StartedBy::Command | StartedBy::Change { .. }))
    }

    /// An arming or a raised output of the craft that was met, and seen at rest since, which nobody confirmed, with the battery
    /// in: a stop leaves (S2; safety.md, unexpected start).
    fn heard_started(&mut self, now: Time, by: usize) {
        let powered = self.powered_since.is_some_and(|since| now.since(since) > ms(2500));
        let surely = self.meant == Some(by)
            && self.open
            && !self.unsure
            && self.swapped.is_none()
            && self.beside.is_none()
            && self.beside_last.is_none_or(|last| last < self.rests_from)
            && self.moves_since[by]
                > self.rests_from.max(self.started_at).max(self.clock_set) + Duration::from_secs(5) + self.seen()
            && now.since(self.woke) > ms(1500)
            && !self.restarts
            && !(self.runs_oddly && by == 0);
        let waits =
            self.is_stopping || self.stopped.is_some() || self.unexpected.is_some() || self.unasked_due.is_some();
        if powered && self.senses && surely && self.confirmed.is_none() && !waits {
            self.meet("S2 stops");
            // Whose it is may have to be asked, and the question be lost.
            let lost = if self.obeys { Duration::ZERO } else { ms(600) };
            self.unasked_due = Some(now + ms(50) + KEY + self.lag * 2 + lost);
        }
    }

    /// Bytes left for the craft at the wire; `there`: it hears them. Whether one of them acts.
    pub fn left(&mut self, now: Time, bytes: &[u8], there: bool, crafts: &[Craft; 2], at_wire: usize) -> bool {
        self.fits_the_line(now, bytes.len());
        let mut acts = false;
        for (range, frame) in self.speech.split(bytes) {
            let Some(frame) = frame else {
                self.breaks("frames", now, format!("bytes that make no frame: {:02x?}", &bytes[range]));
                continue;
            };
            acts |= frame.means.acts();
            self.frame(now, &frame, at_wire);
            if there {
                self.heard(now, &frame, &bytes[range.clone()], crafts, at_wire);
            }
            if there && self.has_long_been_beside(now) {
                self.meet("S1 beside");
                self.heard(now, &frame, &bytes[range], crafts, 1);
            }
        }
        acts
    }

    /// No second has more bytes than a slow wire carries in one: questions, answers and stops never chase each other (S14).
    fn fits_the_line(&mut self, now: Time, bytes: usize) {
        if now.since(self.second.0) >= Duration::from_secs(1) {
            self.meet("S14");
            self.second = (now, 0);
        }
        self.second.1 += bytes;
        // A stop overtakes what was under way already.
        let stops = self.stop_left.is_some_and(|left| now.since(left) < Duration::from_secs(1));
        let most = if stops { 2 * LINE } else { LINE };
        if self.second.1 > most && self.second.1 - bytes <= most {
            self.breaks("S14", now, format!("more than {most} bytes left within a second"));
        }
    }

    fn tell(&mut self, now: Time, what: impl FnOnce() -> String) {
        if self.tells {
            self.log.push((now, what()));
        }
    }

    fn frame(&mut self, now: Time, frame: &Frame, at_wire: usize) {
        let means = &frame.means;
        let line = self.speech == Speech::Lines;
        self.tell(now, || {
            let typed = if line { String::from_utf8_lossy(&frame.payload) } else { "".into() };
            format!("-> {at_wire} {means:?} {typed}").trim_end().to_owned()
        });
        if means.stops() {
            self.stop_due = None;
            self.stops_beside(now);
            self.stop_leaves(now);
            self.stop_left = Some(now);
        }
        if !means.acts() {
            return;
        }
        if self.looks {
            self.breaks("S10", now, format!("a command that only looks sent {means:?}"));
        }
        if self.meant.is_none() {
            self.breaks("S1", now, format!("{means:?} left before anybody was met"));
        }
        if !means.stops() {
            let after = self.stopped.or(self.unexpected.map(|at| at + ms(50)));
            if after.is_some_and(|after| now > after) {
                self.breaks("S2", now, format!("{means:?} left after a stop or an unexpected start"));
            }
        }
        if let Means::Write(name, bits) = means {
            self.writes(now, name, *bits);
            self.bound_besides.extend(self.binds_at.filter(|_| self.planned.is_of_arm(name)));
        }
        if frame.means == Means::Restart
            && let Some(meant) = self.meant
        {
            self.restarts = true;
            // One that came of an earlier frame may be told of now.
            if now.since(self.started_at) > Duration::from_secs(4) {
                self.starts[meant] = self.looked_at[meant];
            }
        }
        if matches!(means, Means::Arm { on: false, forced: true })
            && self.stops.is_none_or(|(first, _)| now.since(first) < FORCED)
        {
            self.breaks("S15", now, "a forced stop left before a plain one had its time");
        }
        if let Means::Write(name, _) = &means
            && let Some(intent) = self.announced.remove(name)
        {
            self.intents.insert(name.clone(), intent);
        }
        if let Means::Write(name, bits) = means {
            let value = self.planned.value(self.meant.unwrap_or(0), *bits).into();
            if !self.ever_announced.iter().any(|(known, to)| known == name && same(to, &value)) {
                self.breaks("S3", now, format!("{name} is written as {value}, which no line of the journal announced"));
            }
        }
        if matches!(means, Means::Run { .. } | Means::Arm { on: true, .. }) {
            self.meet("S8");
            let fresh = frame.is_typed() || self.sent_runs.insert((frame.sequence, frame.payload.clone()));
            if frame.repeat > 0 || !fresh {
                self.breaks("S8", now, format!("{means:?} left again"));
            }
        }
        if !means.stops() && self.unwritten.is_some_and(|at| now > at) && self.meant.is_some() {
            self.breaks("S3", now, format!("{means:?} left after a line of the journal was not written"));
        }
        self.leaves_for_another(now, means, at_wire);
    }

    fn stop_leaves(&mut self, now: Time) {
        let first =
            self.stops.filter(|(_, last)| now.since(*last) < Duration::from_secs(30)).map_or(now, |(first, _)| first);
        self.stops = Some((first, now));
    }

    /// Of a craft that came on the wire besides: what it does makes no stop leave, and what is under way is stopped until it can
    /// be known that both hear it (S15; interlock.md law 4).
    fn stops_beside(&mut self, now: Time) {
        if self.beside.is_none() || self.nameless || self.alike {
            return;
        }
        self.meet("S15 beside");
        // Or it began before the other came, and leaves now.
        let began = self.stop_began.zip(self.beside).is_some_and(|(began, beside)| began < beside);
        let goes_on = began || self.stop_left.is_some_and(|left| now.since(left) < ms(300));
        let moves = self.moved_at[0].is_some_and(|last| now.since(last) < ms(1000));
        let by_hand = self.confirmed.is_some() || now.since(self.hand) < ms(100);
        // What stood still while motors could turn, or was stopped for meanwhile, stops as it wakes.
        let woke = now.since(self.woke) < ms(100);
        if self.has_long_been_beside(now) {
            self.breaks("S15", now, "a stop left for two, long after the other had come");
        } else if !(goes_on || moves || by_hand || woke || self.numbers_go_on()) {
            self.breaks("S15", now, "a stop left that nothing but the other craft can have brought on");
        }
    }

    /// The other speaks besides, and says this.
    pub fn says_besides(&mut self, said: &[u8]) {
        if self.numbers.1.is_none() {
            self.numbers.1 = self.speech.split(said).into_iter().find_map(|(_, frame)| Some(frame?.sequence));
        }
    }

    /// The other's numbers go on where those of the one that is meant have come to: its first frame may be one of that one's,
    /// if it carries no clock.
    fn numbers_go_on(&self) -> bool {
        let (Some(read), Some(other)) = self.numbers else { return false };
        other.wrapping_sub(read).cast_signed().unsigned_abs() <= NUMBERS_NEAR
    }

    /// The other speaks besides for so long that it can be known, and was heard for as long.
    fn has_long_been_beside(&self, now: Time) -> bool {
        self.beside
            .and(self.beside_read)
            .is_some_and(|first| now.since(first) > NOTICED && self.last_handed > first + NOTICED)
    }

    /// Of two whose clocks are alike, nothing on the wire tells that one took the other's place between two frames; or, where
    /// neither has an id, ever.
    fn untold(&self) -> bool {
        let least = |craft: usize| self.behind[craft].iter().min();
        let near = least(0).zip(least(1)).is_some_and(|(one, other)| one.abs_diff(*other) <= NEAR);
        (self.alike || near) && !self.told && (!self.silent || self.nameless)
    }

    /// What leaves while another craft is at the wire (S15; interlock.md 2, law 4).
    fn leaves_for_another(&mut self, now: Time, means: &Means, at_wire: usize) {
        if !self.foreign(at_wire) || self.nameless || self.untold() {
            self.mistaken |= self.foreign(at_wire) && !means.stops();
            return;
        }
        self.meet("S15");
        let grace = if self.told || self.silent { Duration::ZERO } else { NOTICED };
        match self.first_foreign {
            // Into a silence that came before it could be noticed, stops are meant for the one that was there.
            Some(first) if now > first + grace && self.last_handed >= first + grace => {
                self.breaks(
                    "S15",
                    now,
                    format!(
                        "{means:?} left for another craft {} ms after its first frame was read",
                        now.since(first).as_millis()
                    ),
                );
            }
            None if self.told && !means.stops() => {
                self.breaks("S15", now, format!("{means:?} left on a new opening, for a craft that nobody has heard"));
            }
            _ => {}
        }
    }

    /// A craft hears a frame: what could it do there, and was just that confirmed for it (S1; interlock.md law 1)?
    fn heard(&mut self, now: Time, frame: &Frame, bytes: &[u8], crafts: &[Craft; 2], at_wire: usize) {
        let craft = &crafts[at_wire];
        let stands =
            self.situation[at_wire].get("flip B").and_then(|line| line.rsplit(' ').next()?.parse().ok()).unwrap_or(0);
        // The one that arms is where an operator puts it on purpose, but where it stands already.
        let mut positions: BTreeSet<usize> = [0, 1].into();
        positions.retain(|position| !self.bound_besides.contains(position));
        if now.since(self.switch_since) > self.seen() + ms(500) || at_wire == 1 {
            positions.insert(stands);
        } else if positions.contains(&stands) {
            positions = [stands].into();
        }
        let like = Like {
            made: self.made[at_wire],
            moved: hash((
                &self.situation[at_wire],
                self.written[at_wire],
                craft.pack_volts() > 1.0,
                craft.link_present(),
            )),
            armed: craft.armed(),
            raised: highest(craft) > REST,
            positions: positions.into_iter().collect(),
        };
        let potent = fork::potent(craft, &like, frame, bytes);
        if matches!(frame.means, Means::Write(..) | Means::Store(_)) {
            self.written[at_wire] = hash((self.written[at_wire], &frame.payload));
        }
        let Some((battery, position)) = potent else { return };
        self.meet("S1");
        let noticed = self.first_foreign.is_some_and(|first| now > first + NOTICED) || self.told;
        let untold = !noticed || self.untold();
        if self.foreign(at_wire) && untold && self.beside.is_none() {
            return;
        }
        if let Err(why) = self.allowed(now, &frame.means, at_wire) {
            let (what, how) = (&frame.means, if battery { "with its battery in" } else { "as it is" });
            self.breaks(
                "S1",
                now,
                format!("{what:?} can turn a motor of craft {at_wire} {how}, switch at {position}: {why}"),
            );
        }
    }

    /// Whether a frame that can turn a motor is what was confirmed.
    fn allowed(&mut self, now: Time, means: &Means, at_wire: usize) -> Result<(), String> {
        let seen = self.seen();
        let confirmed = self.confirmed.as_mut().ok_or("nothing is confirmed")?;
        if confirmed.craft != at_wire && !self.nameless {
            return Err("it was confirmed for another craft".to_owned());
        }
        let step = &confirmed.step;
        match means {
            Means::Run { motor, pulse, .. } => {
                let this = matches!(&step.motors, Motors::One(_, at) if at + 1 == usize::from(*motor));
                if step.by != StartedBy::Command || !this || i32::from(*pulse) > step.pulse.0 {
                    return Err(format!("confirmed was {step:?}"));
                }
                confirmed.begun += 1;
                if confirmed.begun == 1 && now.since(confirmed.at) > WORD + seen {
                    return Err(format!("it was confirmed {} ms ago", now.since(confirmed.at).as_millis()));
                }
                if confirmed.begun > step.starts {
                    return Err(format!("start {} of {}", confirmed.begun, step.starts));
                }
                Ok(())
            }
            Means::Write(name, bits) => {
                let value = self.planned.value(at_wire, *bits).into();
                let mut writes = step.change.writes.iter();
                let named = writes.any(|(known, to)| known.to_string() == *name && same(&to.real().into(), &value));
                named.then_some(()).ok_or_else(|| format!("confirmed was {step:?}"))
            }
            Means::Store(_) if step.change.store => Ok(()),
            Means::Restart if step.change.restart => Ok(()),
            _ => Err(format!("confirmed was {step:?}")),
        }
    }

    /// The program wants something done.
    pub fn effect(&mut self, now: Time, effect: &Effect, crafts: &[Craft; 2], at_wire: usize) {
        match effect {
            Effect::Show(UiEvent::Passing(_) | UiEvent::Page(_)) => {}
            Effect::Show(UiEvent::Plan(_)) => self.tell(now, || "a plan".to_owned()),
            Effect::Show(shown) => self.tell(now, || format!("{shown:?}")),
            Effect::Ask(question) => self.tell(now, || format!("asked: {}", question.title)),
            Effect::Asked(yes) => self.tell(now, || format!("answered: {yes}")),
            Effect::ReadLine(asked) => self.tell(now, || format!("prompt: {}", asked.prompt)),
            Effect::Open(..) | Effect::Close | Effect::Reopen | Effect::NotThis { .. } => {
                self.tell(now, || format!("{effect:?}"));
            }
            _ => {}
        }
        match effect {
            Effect::Ask(question) => {
                // What was seen of a start is asked between those that its word allows.
                self.allows_more = self.confirmed.take().filter(|_| matches!(question.about, About::Told(_)));
                self.typed.clear();
                self.line.clear();
                self.hasty = false;
                self.is_asked(&question.title);
                self.question = Some((now, question.clone()));
            }
            Effect::Asked(yes) => self.asked(now, *yes),
            Effect::ReadLine(_) => self.is_stopping = false,
            Effect::Store(_, job) => self.journal(now, &job.bytes, crafts, at_wire),
            Effect::Show(shown) => self.shown(now, shown, crafts, at_wire),
            _ => {}
        }
    }

    fn asked(&mut self, now: Time, yes: bool) {
        let Some((_, question)) = self.question.take().filter(|_| yes) else { return };
        self.goes_on |= question.about == About::Again && self.stopped.is_some() && self.typed.ends_with('a');
        if let Reply::Word(word) = &question.reply {
            self.meet("words");
            if self.line.trim() != word || self.hasty {
                let (typed, hasty) = (self.line.clone(), self.hasty);
                self.breaks("S1", now, format!("{word:?} was taken as typed; it was {typed:?}, hasty {hasty}"));
            }
        }
        self.confirmed = self.allows_more.take();
        if let (About::Motor(step), Some(craft)) = (&question.about, self.meant) {
            self.confirmed = Some(Confirmed { step: step.clone(), craft, at: now, begun: 0 });
        }
    }

    fn shown(&mut self, now: Time, shown: &UiEvent, crafts: &[Craft; 2], at_wire: usize) {
        match shown {
            UiEvent::Board { .. } => {
                self.planned.craft = *self.meant.get_or_insert(at_wire);
                self.rests_from = now;
                self.swapped = None;
            }
            UiEvent::StepBegins { .. } => self.confirmed = None,
            UiEvent::StopBegins { reason, delivery } => {
                self.confirmed = None;
                // What is said to leave has to.
                self.stop_due = self.stop_due.filter(|_| *delivery == Delivery::Sent);
                self.unasked_due = None;
                self.stopped.get_or_insert(now);
                self.is_stopping = true;
                self.stop_began = Some(now);
                self.words_due.get_or_insert(now + WORDS + self.seen());
                self.goes_on |= self.prompt;
                self.meet("S2 stop");
                if self.calm {
                    self.breaks("L4", now, format!("a stop without any fault: {reason}"));
                }
            }
            UiEvent::PullTheBattery => self.words_due = None,
            UiEvent::StopConfirmed => {
                (self.words_due, self.is_stopping) = (None, false);
                self.meet("S11 stopped");
                // It is the craft that was stopped of which this is said, wherever the wire leads by now.
                let craft = self.meant.map_or(at_wire, |meant| self.spoken_of(meant, at_wire));
                let moved = self.moved_at[craft].is_some_and(|last| now.since(last) < RESTED)
                    || self.driven_at[craft].is_some_and(|last| now.since(last) < DRIVEN_NO_MORE);
                // What began only now has not come to the program yet.
                let moved = moved && now.since(self.moves_since[craft]) > self.seen();
                if moved && !(self.foreign(at_wire) && self.untold()) {
                    self.breaks("S11", now, "`stopped` was shown, and the craft was not at rest");
                }
            }
            UiEvent::Closing { lines, .. } => lines.iter().for_each(|line| self.words(now, line, crafts, at_wire)),
            UiEvent::Line(_, line) | UiEvent::Noted(_, line) => self.words(now, line, crafts, at_wire),
            _ => {}
        }
    }
}
