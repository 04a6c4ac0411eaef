//! Seeded sessions at the bench with hands that err: slow, early, late, at the wrong switch or position, with wrong words and
//! keys, walking away and coming back. A seed says all of it before it is played: the craft, the recipe, the hands, and
//! whether the session can be finished.
//!
//! Must not be here: what a hand does (`hands`), what is right (`judge`).

mod hands;
mod judge;

use super::stand::{IDLE, Played, Plot, Stand, Then};
use crate::measure::dice::Dice;
use hands::{Erring, Kind};
use quadjig::language::units::Pulse;
use quadjig::seam::{Event, Key};
use quadjig::virtual_board::{BoardKind, WorldConfig};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// Seeds of the suite.
const SUITE: u64 = 16;
const FIRST: &str = include_str!("../../../recipes/first-craft.jig");

/// What a seed is, before it is played.
struct Seed {
    config: WorldConfig,
    recipe: String,
    hands: Erring,
    /// Somebody presses a key while motors turn: nothing goes on after that.
    key: bool,
}

impl Seed {
    fn new(seed: u64) -> Self {
        let mut dice = Dice::new(seed);
        let mut config = WorldConfig { seed: 1 + seed % 7, ..WorldConfig::default() };
        if dice.once_in(2) {
            config.conduct.flag_every = Duration::from_secs(1);
        }
        config.board = match dice.between(0, 7) {
            0 => BoardKind::FinchR,
            1 => BoardKind::FinchC,
            _ => BoardKind::Finch,
        };
        let whole = dice.once_in(2);
        let recipe = if whole { FIRST } else { IDLE }.replace("\"Finch\"", &format!("\"{}\"", config.board.name()));
        let key = dice.once_in(16);
        let hands = Erring::new(&config, dice, if whole { 16 } else { 8 });
        Self { config, recipe, hands, key }
    }

    fn play(self) -> (Played, Erring) {
        let hands = std::cell::RefCell::new(self.hands);
        let mut stand = Stand::on(&self.recipe, self.config.clone());
        stand.longest = Duration::from_secs(3 * 3600);
        stand.hands = super::stand::Hands::willing(&self.config)
            .who_answers(|question| Some(hands.borrow_mut().answers(question)))
            .who_follows(|gesture| Some(hands.borrow_mut().follows(gesture)));
        if self.key {
            stand = stand.plot(Plot::turning(400, vec![Then::Event(Event::Key(Key::Char('x')))]));
        }
        let played = stand.play();
        (played, hands.into_inner())
    }
}

/// What was there, over all seeds.
#[derive(Default)]
struct Tally {
    sessions: u64,
    finished: u64,
    stopped: u64,
    writing: u64,
    on: BTreeMap<&'static str, u64>,
    erred: BTreeMap<Kind, u64>,
    voids: u64,
    stops: u64,
    again: u64,
    questions: u64,
    keys: u64,
    minutes: u64,
    fell: BTreeMap<u64, String>,
}

impl Tally {
    fn add(&mut self, number: u64) {
        let seed = Seed::new(number);
        let (key, board, flag) = (seed.key, seed.config.board.name(), seed.config.conduct.flag_every);
        let (played, hands) = match std::panic::catch_unwind(|| seed.play()) {
            Ok(played) => played,
            Err(panic) => {
                let why = panic.downcast_ref::<String>().cloned().unwrap_or_default();
                self.fell.insert(number, why);
                return;
            }
        };
        self.sessions += 1;
        *self.on.entry(board).or_default() += 1;
        *self.on.entry(if flag < Duration::from_secs(1) { "10 Hz" } else { "1 Hz" }).or_default() += 1;
        for (kind, times) in &hands.erred {
            *self.erred.entry(*kind).or_default() += times;
        }
        let went = judge::went(&played);
        self.voids += went.voids;
        self.stops += went.stops;
        self.again += went.again;
        self.questions += went.questions;
        self.keys += went.keys;
        self.minutes += went.minutes;
        self.finished += u64::from(played.code() == 0);
        self.stopped += u64::from(key && played.code() == 4);
        self.writing += u64::from(!key && judge::was_writing(&played));
        let broken = judge::broken(&played, &hands, key);
        if !broken.is_empty() {
            self.fell.insert(number, format!("{}\n{}", broken.join("\n"), judge::story(&played)));
        }
    }

    fn table(&self) -> String {
        let mut text = format!(
            "{} sessions {:?}: {} finished, {} ended by a key, {} while \
             something was written; {} voids, {} stops by hands, {} times asked whether again; \
             {} questions, {} keystrokes, {} min at the bench\n",
            self.sessions,
            self.on,
            self.finished,
            self.stopped,
            self.writing,
            self.voids,
            self.stops,
            self.again,
            self.questions,
            self.keys,
            self.minutes
        );
        for (kind, times) in &self.erred {
            let _ = writeln!(text, "  {kind:?}: {times}");
        }
        text
    }
}

/// Which seeds: `500`, `1001-1500` or `7,9`.
fn seeds() -> Vec<u64> {
    let said = std::env::var("QUADJIG_HANDS").unwrap_or_else(|_| SUITE.to_string());
    let number = |text: &str| text.trim().parse().unwrap_or_else(|_| panic!("QUADJIG_HANDS: {said:?}"));
    match said.split_once('-') {
        Some((from, to)) => (number(from)..=number(to)).collect(),
        None if said.contains(',') => said.split_terminator(',').map(number).collect(),
        None => (1..=number(&said)).collect(),
    }
}

#[test]
#[expect(clippy::print_stdout, reason = "a table is what it is for")]
fn hands_that_err_lose_no_session_and_accuse_no_motor() {
    let (seeds, next, tally) = (seeds(), AtomicU64::new(0), Mutex::new(Tally::default()));
    std::thread::scope(|scope| {
        for _ in 0..std::thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                while let Some(seed) = seeds.get(usize::try_from(next.fetch_add(1, Ordering::Relaxed)).unwrap()) {
                    let mut one = Tally::default();
                    one.add(*seed);
                    tally.lock().unwrap().merge(one);
                }
            });
        }
    });
    let tally = tally.into_inner().unwrap();
    println!("{}", tally.table());
    let fell: Vec<String> =
        tally.fell.iter().take(5).map(|(seed, why)| format!("QUADJIG_HANDS={seed}, {why}")).collect();
    assert!(fell.is_empty(), "{} of {} fell\n{}", tally.fell.len(), seeds.len(), fell.join("\n\n"));
    let few = seeds.len() < usize::try_from(SUITE).unwrap();
    assert!(few || tally.voids > 0 && tally.again > 0 && tally.stops > 0, "hands that do not err prove nothing");
}

impl Tally {
    fn merge(&mut self, other: Self) {
        let Self {
            sessions,
            finished,
            stopped,
            writing,
            on,
            erred,
            voids,
            stops,
            again,
            questions,
            keys,
            minutes,
            fell,
        } = other;
        self.sessions += sessions;
        self.finished += finished;
        self.stopped += stopped;
        self.writing += writing;
        self.voids += voids;
        self.stops += stops;
        self.again += again;
        self.questions += questions;
        self.keys += keys;
        self.minutes += minutes;
        self.fell.extend(fell);
        for (what, times) in on {
            *self.on.entry(what).or_default() += times;
        }
        for (kind, times) in erred {
            *self.erred.entry(kind).or_default() += times;
        }
    }
}

/// The lowest pulse of the recipes' values at which every start of every motor of the default craft takes.
const SURE: Pulse = Pulse(1125);
