//! The course of an idle search: where it leaps and where it proves, and that what is claimed of its end holds all the same.
//!
//! Motors are played here by themselves, with spreads that end and spreads that do not.

use super::dice::Dice;
use quadjig::measure::bracket::{Bracket, LEAP, Next};
use quadjig::measure::reliability::at_least;

/// Of a search: where it ended, its starts, and how often the value was changed.
struct Course {
    proved: Option<i32>,
    starts: u32,
    changes: u32,
}

/// Plays a search of `proof` starts a value; `starts_at` says of one start of a pulse how it went.
fn course(values: &[i32], proof: u32, mut starts_at: impl FnMut(i32) -> bool) -> Course {
    let mut bracket = Bracket::default();
    let (mut starts, mut changes, mut on_board) = (0, 0, None);
    let mut highest_failed = None;
    while let Some(next) = bracket.next(values) {
        let (Next::One(place) | Next::Prove(place)) = next;
        let value = values[place];
        let step = values.get(1).map_or(LEAP, |second| second - values[0]).max(LEAP);
        let bound = highest_failed.map_or(values[0], |failed: i32| failed + step);
        assert!(value <= bound, "{value} is more than {step} above {highest_failed:?}");
        changes += u32::from(on_board.replace(value) != Some(value));
        let times = if matches!(next, Next::One(_)) { 1 } else { proof };
        let failed = (0..times).any(|_| {
            starts += 1;
            !starts_at(value)
        });
        if failed {
            highest_failed = highest_failed.max(Some(value));
        } else if matches!(next, Next::Prove(_)) {
            return Course { proved: Some(value), starts, changes };
        }
        bracket.tried(next, !failed);
    }
    Course { proved: None, starts, changes }
}

/// The same without a bracket: every value by its proof, from the first up.
fn plain(values: &[i32], proof: u32, mut starts_at: impl FnMut(i32) -> bool) -> Course {
    let (mut starts, mut changes) = (0, 0);
    for value in values {
        changes += 1;
        let failed = (0..proof).any(|_| {
            starts += 1;
            !starts_at(*value)
        });
        if !failed {
            return Course { proved: Some(*value), starts, changes };
        }
    }
    Course { proved: None, starts, changes }
}

fn values(from: i32, step: i32, count: i32) -> Vec<i32> {
    (0..count).map(|n| from + n * step).collect()
}

fn share(dice: &mut Dice) -> f64 {
    (f64::from(u32::try_from(dice.next() >> 32).unwrap()) + 0.5) / 4_294_967_296.0
}

/// Motors that start surely at a pulse and never below: the search ends there, at every place, whatever the step; and over
/// all places neither starts nor changes of the value are more than on the plain way up.
#[test]
fn a_sharp_threshold_is_found_by_every_step() {
    for step in [1, 2, 5, 8, 10, 12, 13, 20, 25, 50] {
        let values = values(1060, step, 30);
        let (mut bracketed, mut usual) = ([0, 0], [0, 0]);
        for place in 0..=30_usize {
            let needed = values.get(place).copied().unwrap_or(i32::MAX);
            let found = course(&values, 3, |pulse| pulse >= needed);
            assert_eq!(found.proved, values.get(place).copied(), "step {step}");
            let up = plain(&values, 3, |pulse| pulse >= needed);
            if 2 * step > LEAP {
                assert_eq!(found.starts, up.starts, "step {step}: nothing is leapt over");
            }
            bracketed = [bracketed[0] + found.starts, bracketed[1] + found.changes];
            usual = [usual[0] + up.starts, usual[1] + up.changes];
        }
        assert!(bracketed[0] <= usual[0] && bracketed[1] <= usual[1], "step {step}: {bracketed:?} for {usual:?}");
    }
}

/// Searches upwards, without margin: of 20,000 seeded motors no more than one in twenty starts less surely where the search
/// ended than was claimed, whether their spread ends or not. The claim is scipy's bound (`tests/peers/statistics.rs`), the
/// doubt shared out among the values.
#[test]
fn what_is_proved_starts_as_surely_as_claimed() {
    for (starts, step) in [(3, 5), (5, 5), (10, 5), (3, 1), (20, 2), (3, 10), (3, 25)] {
        for endless in [false, true] {
            let values = values(1040, step, 150 / step + 1);
            let claimed = at_least(starts, u32::try_from(values.len()).unwrap()) / 100.0;
            let mut dice = Dice::new(u64::from(starts) * 1000 + u64::try_from(step).unwrap());
            let (motors, mut missed) = (20_000, 0);
            for _ in 0..motors {
                // The pulse that a start needs: spread evenly over 4 to 30 µs, or without an end by as much.
                let whole = |number: i64| f64::from(i32::try_from(number).unwrap());
                let (centre, half) = (whole(dice.between(1060, 1140)), whole(dice.between(2, 15)));
                let sure = |pulse: i32| {
                    let off = (f64::from(pulse) - centre) / half;
                    if endless { 1.0 / (1.0 + (-3.66 * off).exp()) } else { (0.5 + 0.5 * off).clamp(0.0, 1.0) }
                };
                let found = course(&values, starts, |pulse| share(&mut dice) < sure(pulse));
                missed += u32::from(found.proved.is_some_and(|value| sure(value) < claimed));
            }
            assert!(
                missed * 20 <= motors,
                "{starts} starts, step {step}, {endless}: {missed} of {motors} at {claimed}"
            );
        }
    }
}

/// At 5 µs: fewer starts than the plain way up takes, and no more values written.
#[test]
#[expect(clippy::print_stdout, reason = "figures are printed")]
fn small_steps_take_fewer_starts_and_no_more_restarts() {
    let values = values(1060, 5, 33);
    let (mut bracketed, mut up) = ([0, 0], [0, 0]);
    for seed in 0..10_000 {
        let mut dice = Dice::new(seed);
        let whole = |number: i64| f64::from(i32::try_from(number).unwrap());
        let (centre, half) = (whole(dice.between(1075, 1150)), whole(dice.between(2, 7)));
        let mut starts_at =
            |pulse: i32| share(&mut dice) < 1.0 / (1.0 + (-3.66 * (f64::from(pulse) - centre) / half).exp());
        let found = course(&values, 3, &mut starts_at);
        let plain = plain(&values, 3, &mut starts_at);
        bracketed = [bracketed[0] + found.starts, bracketed[1] + found.changes];
        up = [up[0] + plain.starts, up[1] + plain.changes];
    }
    let mean = |sum: u32| f64::from(sum) / 10_000.0;
    println!(
        "bracketed {:.1} starts {:.1} values, up {:.1} {:.1}",
        mean(bracketed[0]),
        mean(bracketed[1]),
        mean(up[0]),
        mean(up[1])
    );
    assert!(mean(bracketed[0]) < 0.75 * mean(up[0]), "{bracketed:?} for {up:?}");
    assert!(bracketed[1] < up[1], "{bracketed:?} for {up:?}");
}
