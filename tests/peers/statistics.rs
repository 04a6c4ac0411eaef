//! Statistics, clusters, bounds, intervals, exchanges and checksums against scipy, numpy, jenkspy and fastcrc, over ten
//! thousand seeded cases each.

use super::super::measure::dice::Dice;
use super::{python, run};
use quadjig::measure::intervals::{between, ended};
use quadjig::measure::motor_permutation::{Correctable, Turn, correct};
use quadjig::measure::reliability::lower_bound;
use quadjig::measure::time::Time;
use quadjig::measure::{checksum, clusters, robust};
use serde_json::{Value, json};
use std::io::Write;
use std::time::Duration;

const CASES: u64 = 10_000;

/// What goes in, and what comes out.
type Case = fn(&mut Dice) -> (Value, Value);

fn float(whole: i64) -> f64 {
    f64::from(i32::try_from(whole).unwrap())
}

/// Values of a run: noise, ties, a far one now and then.
fn values(dice: &mut Dice, count: i64) -> Vec<f64> {
    let (centre, noise) = (dice.between(900, 2100), dice.between(0, 400));
    (0..count)
        .map(|_| {
            let far = if dice.once_in(12) { dice.between(-9000, 9000) } else { 0 };
            float(centre * 10 + dice.between(-noise, noise) + far) / 10.0
        })
        .collect()
}

fn robust_case(dice: &mut Dice) -> (Value, Value) {
    let count = dice.between(1, 60);
    let all = values(dice, count);
    let (mean, deviation) = robust::mean_and_deviation(&all).unwrap();
    let out = [robust::median(&all), robust::mad(&all), robust::sigma(&all), Some(mean), Some(deviation)];
    (json!(all), json!(out))
}

fn bounds_case(dice: &mut Dice) -> (Value, Value) {
    let starts = u32::try_from(dice.between(1, 400)).unwrap();
    let doubt = float(dice.between(1, 5000)) / 10_000.0;
    (json!([starts, doubt]), json!([lower_bound(starts, doubt)]))
}

fn clusters_case(dice: &mut Dice) -> (Value, Value) {
    let (count, noise) = (dice.between(2, 5), dice.between(1, 60));
    let centres: Vec<i64> = (0..count).map(|_| dice.between(900, 2100)).collect();
    let many = dice.between(10, 40);
    // All different, so that a break stands for one division only.
    let mut all: Vec<f64> = (0..many)
        .map(|n| float(centres[usize::try_from(n % count).unwrap()] + dice.between(-noise, noise)) + float(n) / 100.0)
        .collect();
    all.dedup();
    let found = clusters::divide(&all, usize::try_from(count).unwrap()).unwrap();
    let squares = |members: &Vec<f64>| {
        let (mean, deviation) = robust::mean_and_deviation(members).unwrap();
        let _ = mean;
        deviation.powi(2) * float(i64::try_from(members.len() - 1).unwrap())
    };
    (json!([all, count]), json!([found.members.iter().map(squares).sum::<f64>()]))
}

fn exchanges_case(dice: &mut Dice) -> (Value, Value) {
    let count = usize::try_from(dice.between(2, 8)).unwrap();
    let mut order: Vec<usize> = (0..count).collect();
    for last in (1..count).rev() {
        order.swap(last, usize::try_from(dice.between(0, i64::try_from(last).unwrap())).unwrap());
    }
    let turns =
        |order: &[usize]| order.iter().map(|corner| Turn { corner: *corner, clockwise: true }).collect::<Vec<_>>();
    let wanted: Vec<usize> = (0..count).collect();
    let correction = correct(&turns(&order), &turns(&wanted), Correctable { order: true, reversal: true }).unwrap();
    (json!(order), json!([correction.exchange.len()]))
}

fn intervals_case(dice: &mut Dice) -> (Value, Value) {
    let mut stream = |until: i64| -> Vec<(i64, bool)> {
        let mut at = dice.between(0, 40_000);
        let mut samples = Vec::new();
        while at < until + 200_000 {
            // A dip is none.
            samples.push((at, at < until && !dice.once_in(20) || samples.is_empty()));
            at += dice.between(1000, 60_000);
        }
        samples
    };
    let streams = [stream(300_000), stream(700_000)];
    let times = |samples: &Vec<(i64, bool)>| -> Vec<(Time, bool)> {
        samples.iter().map(|(at, on)| (Time(u64::try_from(*at).unwrap()), *on)).collect()
    };
    let [cause, effect] = streams.each_ref().map(|samples| ended(&times(samples)).unwrap());
    let took = between(cause, effect);
    let micros = |time: Duration| u64::try_from(time.as_micros()).unwrap();
    (json!(streams), json!([micros(took.least), micros(took.most)]))
}

fn crc_case(dice: &mut Dice) -> (Value, Value) {
    let bytes: Vec<u8> = (0..dice.between(0, 300)).map(|_| dice.next().to_le_bytes()[0]).collect();
    let text = bytes.iter().fold(String::new(), |text, byte| text + &format!("{byte:02x}"));
    (json!(text), json!([checksum::add(checksum::START, &bytes)]))
}

#[test]
fn what_is_computed_is_what_others_compute() {
    let Some(python) = python("peers::statistics") else { return };
    let kinds: [(&str, Case); 6] = [
        ("robust", robust_case),
        ("bounds", bounds_case),
        ("clusters", clusters_case),
        ("exchanges", exchanges_case),
        ("intervals", intervals_case),
        ("crc", crc_case),
    ];
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("cases.jsonl");
    let mut file = std::io::BufWriter::new(std::fs::File::create(&path).unwrap());
    for (kind, case) in kinds {
        for seed in 0..CASES {
            let (given, found) = case(&mut Dice::new(seed));
            writeln!(file, "{}", json!({ "kind": kind, "in": given, "out": found })).unwrap();
        }
    }
    file.flush().unwrap();
    let output = run(&python, "computed.py", &[path.to_str().unwrap()], Duration::from_secs(300));
    let said = String::from_utf8(output.stdout).unwrap();
    assert_eq!(said.matches("10000 cases").count(), kinds.len(), "{said}");
}
