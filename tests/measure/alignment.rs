//! Times measured from one stream to another hold the truth, whatever each stream's own way adds.

use super::dice::Dice;
use quadjig::measure::alignment::{Arrival, align};
use quadjig::measure::intervals::{Took, between, ended};
use quadjig::measure::time::Time;
use std::time::Duration;

const BEGAN: i64 = 30_000_000;

/// What of a link is by chance.
struct Way {
    /// Own delay of each stream, µs.
    delays: [i64; 2],
    jitter: i64,
    loss: u64,
    /// Millionths that the board's clock is off.
    ppm: i64,
    stamped: bool,
}

/// A stream that tells until when something was so, from 18 s before on, in order.
fn stream(until: i64, every: i64, which: usize, way: &Way, dice: &mut Dice) -> Vec<Arrival<bool>> {
    let (mut came_last, offset) = (0, dice.between(0, every));
    let mut told = Vec::new();
    for n in 0..20_000_000 / every {
        let at = BEGAN - 18_000_000 + offset + n * every;
        let came = (at + way.delays[which] + dice.between(0, way.jitter)).max(came_last);
        came_last = came;
        if way.loss > 0 && dice.once_in(way.loss) {
            continue;
        }
        let board = (at - 5_000_000) * (1_000_000 + way.ppm) / 1_000_000 / 1000;
        told.push(Arrival {
            came: Time(u64::try_from(came).unwrap()),
            board: way.stamped.then(|| u32::try_from(board).unwrap()),
            value: at < until,
        });
    }
    told
}

fn measured(took: i64, way: &Way, round_trip: i64, dice: &mut Dice) -> (Took, bool) {
    let (every, other) = (dice.between(15, 60) * 1000, dice.between(15, 60) * 1000);
    let cause = stream(BEGAN, every, 0, way, dice);
    let effect = stream(BEGAN + took, other, 1, way, dice);
    let after = Time(u64::try_from(BEGAN - 500_000).unwrap());
    let told = align(&cause, &effect, after, Duration::from_micros(u64::try_from(round_trip).unwrap()));
    let by_board = told.by_board;
    (between(ended(&told.first).unwrap(), ended(&told.second).unwrap()).widened(told.doubt), by_board)
}

/// `QUADJIG_INTERVALS=100000 cargo test --release --test all measure::alignment -- --nocapture` plays so many of each kind.
fn worlds() -> u64 {
    std::env::var("QUADJIG_INTERVALS").ok().and_then(|count| count.parse().ok()).unwrap_or(10_000)
}

fn held(way: impl Fn(&mut Dice) -> Way, worlds: u64) -> (u64, u64) {
    let (mut held, mut wide) = (0, 0);
    for seed in 0..worlds {
        let mut dice = Dice::new(seed);
        let way = way(&mut dice);
        let took = dice.between(0, 600) * 1000;
        // There and back: the slower of the two ways, and the question's own.
        let round_trip = way.delays[0].max(way.delays[1]) + dice.between(0, way.jitter);
        let (found, by_board) = measured(took, &way, round_trip, &mut dice);
        assert_eq!(by_board, way.stamped);
        let truth = Duration::from_micros(u64::try_from(took).unwrap());
        held += u64::from(found.least <= truth && truth <= found.most);
        wide += u64::from(found.most.saturating_sub(found.least) > Duration::from_millis(130));
    }
    (held, wide)
}

#[test]
#[expect(clippy::print_stdout, reason = "figures are printed")]
fn with_the_boards_own_times_no_delay_matters() {
    let worlds = worlds();
    let (held, wide) = held(
        |dice| Way {
            delays: [dice.between(0, 300) * 1000, dice.between(0, 300) * 1000],
            jitter: dice.between(0, 50) * 1000,
            loss: [0, 100, 20][usize::try_from(dice.between(0, 2)).unwrap()],
            ppm: dice.between(-20_000, 20_000),
            stamped: true,
        },
        worlds,
    );
    println!("dated by the board: {held} of {worlds} hold the truth, {wide} are wider than 130 ms");
    assert!(held * 1000 >= worlds * 999, "{held} of {worlds} hold the truth");
    // Two periods of each stream, lost messages apart.
    assert!(wide * 5 <= worlds, "{wide} of {worlds} are wider than 130 ms");
}

#[test]
#[expect(clippy::print_stdout, reason = "figures are printed")]
fn without_them_the_interval_is_as_wide_as_the_doubt() {
    let worlds = worlds();
    let (held, wide) = held(
        |dice| Way {
            delays: [dice.between(0, 30) * 1000, dice.between(0, 30) * 1000],
            jitter: dice.between(0, 20) * 1000,
            loss: [0, 100, 20][usize::try_from(dice.between(0, 2)).unwrap()],
            ppm: 0,
            stamped: false,
        },
        worlds,
    );
    println!("undated: {held} of {worlds} hold the truth, {wide} are wider than 130 ms");
    assert!(held * 1000 >= worlds * 999, "{held} of {worlds} hold the truth");
}

#[test]
fn two_clocks_are_no_one_clock_and_one_that_started_anew_is_taken_from_there() {
    let mut dice = Dice::new(3);
    let way = Way { delays: [0, 0], jitter: 0, loss: 0, ppm: 0, stamped: true };
    let cause = stream(BEGAN, 20_000, 0, &way, &mut dice);
    let mut effect = stream(BEGAN + 100_000, 20_000, 1, &way, &mut dice);
    let other: Vec<_> = effect.iter().map(|told| Arrival { board: told.board.map(|ms| ms + 7000), ..*told }).collect();
    assert!(!align(&cause, &other, Time(0), Duration::ZERO).by_board);
    // Before the last five seconds another run of the board, its clock far ahead.
    let mut restarted = cause.clone();
    for all in [&mut restarted, &mut effect] {
        for told in all.iter_mut().filter(|told| told.came < Time(25_000_000)) {
            told.board = told.board.map(|ms| ms + 500_000);
        }
    }
    let told = align(&restarted, &effect, Time(29_000_000), Duration::ZERO);
    let took = between(ended(&told.first).unwrap(), ended(&told.second).unwrap()).widened(told.doubt);
    assert!(told.by_board && took.least <= Duration::from_millis(100) && took.most >= Duration::from_millis(100));
    assert!(took.most < Duration::from_millis(150), "{took}");
}
