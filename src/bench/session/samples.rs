//! What a figure was measured from, thinned for the record: pulses, sticks, outputs and speeds by the moment.
//!
//! Promises: bounded, however often and long something is measured; nothing is smoothed. Must not be here: the figures.

use crate::bench::procedures::start::StartHeard;
use crate::bench::session::context::SessionContext;
use crate::interlock::signals::Channels;
use crate::language::recipe::Stick;
use crate::measure::frame::ChannelFrame;
use crate::measure::intervals::Took;
use crate::measure::time::Time;
use crate::record::run_log::{SampleLine, Samples};

/// Longest line, in samples: more are thinned evenly.
const LONGEST: usize = 200;

/// Milliseconds from one moment to another, which may lie before it.
fn millis(zero: Time, at: Time) -> i64 {
    let micros = |time: Time| i64::try_from(time.0).unwrap_or(i64::MAX);
    micros(at).saturating_sub(micros(zero)) / 1000
}

/// A line of samples. Of values that stay as they are, the first and the last are enough to draw them.
fn line(name: &str, unit: &str, zero: Time, samples: &[(Time, f64)]) -> SampleLine {
    let step = samples.len().div_ceil(LONGEST).max(1);
    let kept: Vec<&(Time, f64)> = samples.iter().filter(|(_, value)| value.is_finite()).step_by(step).collect();
    SampleLine {
        name: name.to_owned(),
        unit: unit.to_owned(),
        at_ms: kept.iter().map(|(at, _)| millis(zero, *at)).collect(),
        values: kept.iter().map(|(_, value)| value.round()).collect(),
    }
}

impl SessionContext {
    /// Keeps the speeds of a start beside what is said of it next.
    pub(in crate::bench) fn keep_samples_of_start(&self, heard: &StartHeard, corners: &[String]) {
        let zero = heard.left.map_or(heard.dwell.0, |left| left.before);
        let of = |index: usize| -> Vec<(Time, f64)> {
            heard.speeds.iter().filter_map(|(at, all)| Some((*at, all.get(index).copied().flatten()?.abs()))).collect()
        };
        let lines = corners.iter().enumerate().map(|(index, corner)| line(corner, "rpm", zero, &of(index)));
        let samples = Samples {
            zero: "the outputs leave rest".to_owned(),
            least_ms: None,
            most_ms: None,
            lines: lines.collect(),
        };
        self.witness().measures(samples);
    }

    /// Keeps the pulses of a stick that was held over, beside what is said of it next.
    pub(in crate::bench) fn keep_samples_of_stick(&self, stick: Stick, channel: u32, frames: &[ChannelFrame]) {
        let pulses: Vec<(Time, f64)> =
            frames.iter().filter_map(|frame| Some((frame.at, f64::from(frame.pulse(channel)?)))).collect();
        let Some((zero, _)) = pulses.first().copied() else { return };
        let lines = vec![line(stick.word(), "us", zero, &pulses)];
        let zero = "the stick was asked for".to_owned();
        self.witness().measures(Samples { zero, least_ms: None, most_ms: None, lines });
    }

    /// Keeps what a time to rest was measured from: a channel, the highest output and the highest speed, from shortly
    /// before `zero`.
    pub(in crate::bench) fn keep_samples_to_rest(
        &self,
        (zero, what): (Time, &str),
        took: Took,
        (name, channels): (&str, &[(Time, Channels)]),
        channel: u32,
        outputs: &[(Time, [u16; 8])],
    ) {
        let pulses: Vec<(Time, f64)> =
            channels.iter().filter_map(|(at, all)| Some((*at, f64::from(all.of(channel)?.0)))).collect();
        let heard: Vec<(Time, f64)> = channels.iter().map(|(at, all)| (*at, f64::from(all.count))).collect();
        let highest: Vec<(Time, f64)> =
            outputs.iter().map(|(at, all)| (*at, f64::from(all.iter().copied().max().unwrap_or(0)))).collect();
        let since = channels.first().map_or(zero, |(at, _)| *at);
        let fastest = |all: &[Option<f64>; 8]| all.iter().flatten().map(|rpm| rpm.abs()).reduce(f64::max);
        let speeds: Vec<(Time, f64)> =
            self.timings().speeds(since).iter().filter_map(|(at, all)| Some((*at, fastest(all)?))).collect();
        let lines = vec![
            line(name, "us", zero, &pulses),
            line("channels received", "count", zero, &heard),
            line("highest output", "us", zero, &highest),
            line("highest speed", "rpm", zero, &speeds),
        ];
        let ms = |time: std::time::Duration| Some(time.as_secs_f64() * 1e3);
        let samples = Samples { zero: what.to_owned(), least_ms: ms(took.least), most_ms: ms(took.most), lines };
        self.witness().measures(samples);
    }
}

#[cfg(test)]
mod tests {
    use super::{LONGEST, line};
    use crate::measure::time::Time;

    #[test]
    fn a_line_is_bounded_and_whole_from_end_to_end() {
        let samples: Vec<(Time, f64)> =
            (0..5000).map(|at| (Time(at * 1000), 1.0)).chain([(Time(0), f64::NAN)]).collect();
        let line = line("a", "us", Time(1_000_000), &samples);
        assert!(line.values.len() <= LONGEST && line.values.len() > LONGEST / 2);
        assert_eq!((line.at_ms.len(), line.at_ms[0]), (line.values.len(), -1000));
        assert!(line.at_ms.last().is_some_and(|at| *at > 3900));
    }
}
