//! What figures were measured from, as a run's log keeps it: read here as any JSON, and held against the world's truth.

use super::recovered::WHOLE;
use crate::bench::stand::{FAILSAFE, Played, Stand};
use serde_json::Value;
use std::path::Path;

/// The lines of the run's log; nothing of the program's own reads them.
fn log(recipe: &str) -> (Played, Vec<Value>) {
    let played = Stand::new(recipe).play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    let text = String::from_utf8(played.disk.craft[Path::new("runs/stand.jsonl")].clone()).unwrap();
    let lines = text.lines().map(|line| serde_json::from_str::<Value>(line).unwrap()["seen"].clone()).collect();
    (played, lines)
}

fn of<'l>(log: &'l [Value], begins: &str) -> Vec<&'l Value> {
    let text = |seen: &&Value| seen["what"] == "measured" && seen["text"].as_str().unwrap().starts_with(begins);
    log.iter().filter(text).collect()
}

/// A line's moments and values.
fn samples(line: &Value) -> Vec<(f64, f64)> {
    let all =
        |name: &str| line[name].as_array().unwrap().iter().map(|value| value.as_f64().unwrap()).collect::<Vec<_>>();
    let (at, values) = (all("at_ms"), all("values"));
    assert_eq!(at.len(), values.len());
    assert!(at.len() <= 200, "bounded: {}", at.len());
    assert!(at.is_sorted());
    at.into_iter().zip(values).collect()
}

fn line(seen: &Value, name: &str) -> Vec<(f64, f64)> {
    let lines = seen["samples"]["lines"].as_array().unwrap();
    samples(lines.iter().find(|line| line["name"] == name).unwrap_or_else(|| panic!("{name}: {seen}")))
}

#[test]
fn each_start_has_its_speeds_from_standstill_on() {
    let (played, log) = log(WHOLE);
    let starts: Vec<&Value> = log.iter().filter(|seen| seen["what"] == "start").collect();
    assert!(starts.len() >= 3, "{log:#?}");
    let mut fastest = 0.0_f64;
    for start in &starts {
        let lines = start["samples"]["lines"].as_array().unwrap();
        assert_eq!(lines.len(), 4);
        for (line, motor) in lines.iter().zip(start["motors"].as_array().unwrap()) {
            assert_eq!((&line["name"], &line["unit"]), (&motor["corner"], &"rpm".into()));
            let samples = samples(line);
            assert!(samples[0].0 <= 20.0 && samples[0].1 < 120.0, "from standstill on: {samples:?}");
            let turning: Vec<f64> = samples.iter().filter(|(at, _)| *at > 600.0).map(|(_, rpm)| *rpm).collect();
            let (Some(rpm), "turns") = (motor["rpm"].as_f64(), motor["judged"].as_str().unwrap()) else { continue };
            let median = quadjig::measure::robust::median(&turning).unwrap();
            assert!((median - rpm).abs() < rpm * 0.05, "{median} of {rpm}");
            fastest = samples.iter().map(|(_, rpm)| *rpm).fold(fastest, f64::max);
        }
    }
    let truth = played.log.truth.iter().map(|truth| truth.fastest).fold(0.0, f64::max);
    assert!((fastest - truth).abs() < truth * 0.05, "{fastest} of {truth}");
}

#[test]
fn a_cut_and_a_lost_link_lie_in_the_interval_that_was_told() {
    let (_, cuts) = log(WHOLE);
    let (_, losses) = log(FAILSAFE);
    for (all, begins, count) in [(&cuts, "Cut ", 3), (&losses, "Radio off", 1)] {
        let seen = of(all, begins);
        assert_eq!(seen.len(), count);
        for seen in seen {
            let told = |name: &str| seen["samples"][name].as_f64().unwrap();
            let (least, most) = (told("least_ms"), told("most_ms"));
            let output = line(seen, "highest output");
            let edge = output.iter().rposition(|(_, pulse)| *pulse > 1005.0).unwrap();
            let (before, after) = (output[edge].0, output[edge + 1].0);
            // Samples count whole milliseconds, and the interval is wider by what the streams may be apart.
            assert!(least <= before.max(0.0) + 1.0 && after <= most + 1.0, "{least} to {most}: {before} to {after}");
            let channel = line(seen, "channel of switch B");
            assert!(channel.iter().any(|(at, pulse)| *at <= 0.0 && (*pulse - 2000.0).abs() < 20.0), "{channel:?}");
        }
    }
    // In a cut the switch goes, in a lost link the frames do.
    let off = line(of(&cuts, "Cut ")[0], "channel of switch B");
    assert!(off.last().is_some_and(|(_, pulse)| (*pulse - 1000.0).abs() < 20.0), "{off:?}");
}

/// Each stick's own channel from its rest to its ends, and nothing of another's.
#[test]
fn each_stick_has_its_pulses_from_rest_to_its_ends() {
    let (_, log) = log(&WHOLE.replace("keep\ntest arm\n", "keep\ntest sticks\ntest arm\n"));
    for (stick, rest) in [("roll", 1501.0), ("pitch", 1499.0), ("throttle", 988.0), ("yaw", 1502.0)] {
        let seen = of(&log, &format!("{stick}: channel"));
        let [seen] = seen[..] else { panic!("{stick}: {seen:?}") };
        assert_eq!(seen["samples"]["lines"].as_array().unwrap().len(), 1);
        let pulses = line(seen, stick);
        let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
        for (_, pulse) in &pulses {
            (least, most) = (least.min(*pulse), most.max(*pulse));
        }
        // Where the virtual radio has its sticks, with its own tremble.
        assert!((pulses[0].1 - rest).abs() < 5.0, "{stick}: {pulses:?}");
        assert!((least - 988.0).abs() < 5.0 && (most - 2012.0).abs() < 5.0, "{stick}: {least} to {most}");
    }
}
