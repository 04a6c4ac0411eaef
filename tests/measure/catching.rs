//! Late starts: over seeded starts of four motors, what is late is never called at once, whatever the sampling.

use super::dice::Dice;
use quadjig::measure::catching::{AFTER_FELLOWS, AT_ONCE, Caught, caught};
use quadjig::measure::intervals::Moment;
use quadjig::measure::time::Time;
use std::time::Duration;

const LEFT: i64 = 1_000_000;

fn time(us: i64) -> Time {
    Time(u64::try_from(us).unwrap())
}

/// A motor that reaches its speed at once, so many µs after the outputs left rest; twitches and false zeros before and
/// after.
fn speeds(caught: i64, (every, offset): (i64, i64), dice: &mut Dice) -> Vec<(Time, f64)> {
    (0..3_000_000 / every)
        .map(|n| LEFT - 200_000 + offset + n * every)
        .map(|at| {
            let turns = at >= LEFT + caught && !dice.once_in(1000);
            let twitches = at >= LEFT && dice.once_in(2);
            (
                time(at),
                if turns {
                    9000.0
                } else if twitches {
                    2800.0
                } else {
                    0.0
                },
            )
        })
        .collect()
}

fn left(every: i64, offset: i64) -> Moment {
    let before = LEFT - (LEFT - offset) % every;
    Moment { before: time(before), after: time(before + every) }
}

#[test]
fn late_is_never_called_at_once_and_at_once_never_late() {
    let at_once = i64::try_from(AT_ONCE.as_micros()).unwrap();
    let fellows = i64::try_from(AFTER_FELLOWS.as_micros()).unwrap();
    let (mut told, mut unseen) = (0, 0);
    for seed in 0..10_000 {
        let mut dice = Dice::new(seed);
        let (every, outputs) = (dice.between(10, 300) * 1000, dice.between(10, 60) * 1000);
        let speeds_at = (every, dice.between(0, every));
        let usual = dice.between(30, 250) * 1000;
        let one = dice.between(30, 1500) * 1000;
        let series: Vec<_> = [one, usual, usual, usual].iter().map(|at| speeds(*at, speeds_at, &mut dice)).collect();
        let judged = caught(Some(left(outputs, dice.between(0, outputs))), &series, Duration::ZERO);
        let truly_late = one > at_once || one > usual + fellows;
        match judged[0] {
            // A false zero moves what is seen by two samples.
            Caught::AtOnce => assert!(!truly_late, "seed {seed}: {one} after {usual}, every {every}"),
            Caught::Late(after) => {
                let slack = 2 * every;
                assert!(
                    one > at_once - slack && one > at_once || one > usual + fellows - slack,
                    "seed {seed}: {after:?}"
                );
                told += 1;
            }
            Caught::Unseen => unseen += 1,
        }
    }
    assert!(told > 4000 && unseen > 500, "{told} {unseen}");
}

#[test]
fn what_is_sampled_well_is_told() {
    let mut dice = Dice::new(7);
    for (one, wanted) in [(60_000, Caught::AtOnce), (160_000, Caught::AtOnce), (700_000, Caught::Late(Duration::ZERO))]
    {
        let series: Vec<_> =
            [one, 60_000, 70_000, 90_000].iter().map(|at| speeds(*at, (50_000, 13_000), &mut dice)).collect();
        let judged = caught(Some(left(20_000, 3_000)), &series, Duration::ZERO);
        assert_eq!(std::mem::discriminant(&judged[0]), std::mem::discriminant(&wanted), "{one}: {judged:?}");
        assert_eq!(judged[1..], [Caught::AtOnce; 3], "{one}");
    }
    // All four alike, but half a second is too long for any.
    let series: Vec<_> = [650_000; 4].iter().map(|at| speeds(*at, (50_000, 13_000), &mut dice)).collect();
    assert!(caught(Some(left(20_000, 3_000)), &series, Duration::ZERO).iter().all(|c| matches!(c, Caught::Late(_))));
}

#[test]
fn without_the_outputs_or_a_speed_nothing_is_seen() {
    let mut dice = Dice::new(7);
    let series = vec![speeds(60_000, (50_000, 0), &mut dice), Vec::new()];
    assert_eq!(caught(None, &series, Duration::ZERO), [Caught::Unseen; 2]);
    assert_eq!(caught(Some(left(20_000, 0)), &series, Duration::ZERO)[1], Caught::Unseen);
    // A second between two speeds hides a late start.
    let slow = vec![speeds(60_000, (1_000_000, 0), &mut dice); 4];
    assert_eq!(caught(Some(left(20_000, 0)), &slow, Duration::ZERO), [Caught::Unseen; 4]);
}
