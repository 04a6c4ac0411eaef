//! An idle search: speed and evenness by pulse, corner by corner, and how the motors came up in its starts.

use super::svg::{Scale, Svg};
use crate::measure::turning::MOST_VARIATION;
use crate::record::run_log::{Motor, Samples};
use crate::report::words::once;

/// Pictures of starts on a page: the last ones.
const STARTS: usize = 8;
/// Between two labels.
const LABEL: f64 = 13.0;
/// The evenness that is drawn: what a motor that turns can have, and as much again; more stands at the edge.
const MOST_UNEVEN: f64 = 2.0 * MOST_VARIATION;
/// One for each motor: whole, and dashes that print.
const DASHES: [&str; 8] = ["", "6 3", "2 2", "8 3 2 3", "1 3", "10 2", "4 1 1 1", "12 4"];

/// A start as a run's log has it.
pub(super) struct Start<'l> {
    pub(super) pulse: i32,
    pub(super) number: u32,
    pub(super) motors: &'l [Motor],
    pub(super) samples: Option<&'l Samples>,
}

/// Corners in the order in which they came.
fn corners<'l>(starts: &[Start<'l>]) -> Vec<&'l str> {
    once(starts.iter().flat_map(|start| start.motors).map(|motor| motor.corner.as_str()))
}

/// Every start, one row a motor.
pub(super) fn rows(starts: &[Start<'_>]) -> Vec<Vec<String>> {
    let one = |start: &Start<'_>, motor: &Motor| {
        vec![
            format!("{} us, start {}", start.pulse, start.number),
            motor.corner.clone(),
            motor.rpm.map_or_else(|| "not told".to_owned(), |rpm| format!("{rpm:.0} rpm")),
            motor.unevenness.map_or_else(|| "not told".to_owned(), |by| format!("{:.1} %", by * 100.0)),
            motor.judged.clone(),
        ]
    };
    starts.iter().flat_map(|start| start.motors.iter().map(move |motor| one(start, motor))).collect()
}

/// One picture a corner.
pub(super) fn by_corner(starts: &[Start<'_>]) -> Vec<(Svg, String)> {
    let speeds = starts.iter().flat_map(|start| start.motors).filter_map(|motor| motor.rpm);
    let pulses = || starts.iter().map(|start| f64::from(start.pulse));
    let across = Scale::new(pulses(), (62.0, 300.0));
    let speed = Scale::new(speeds.chain([0.0]), (110.0, 16.0));
    let even = Scale::new([0.0, MOST_UNEVEN].into_iter(), (200.0, 136.0));
    let mut values: Vec<i32> = starts.iter().map(|start| start.pulse).collect();
    values.sort_unstable();
    values.dedup();
    corners(starts)
        .into_iter()
        .map(|corner| {
            let seen: Vec<(f64, &Motor)> = starts
                .iter()
                .flat_map(|start| start.motors.iter().map(move |motor| (f64::from(start.pulse), motor)))
                .filter(|(_, motor)| motor.corner == corner)
                .collect();
            let failed = seen.iter().filter(|(_, motor)| !motor.turns).count();
            let description = format!(
                "Motor {corner}: {} starts at {} values from {} to {} us, {failed} of them judged other than turning. \
                 The same figures stand in the table of starts.",
                seen.len(),
                values.len(),
                values.first().unwrap_or(&0),
                values.last().unwrap_or(&0)
            );
            let mut svg = Svg::new(&format!("Speed and evenness by pulse, motor {corner}"), &description, (320.0, 236.0));
            frame(&mut svg, &across, &speed, (110.0, 16.0), &format!("{:.0}", speed.figures.1), "rpm");
            frame(&mut svg, &across, &even, (200.0, 136.0), &format!("{:.0} %", even.figures.1 * 100.0), "uneven");
            let limit = even.at(MOST_VARIATION);
            svg.line("limit", (62.0, limit), (300.0, limit));
            // Every second value where there are many.
            for value in values.iter().step_by(values.len().div_ceil(6).max(1)) {
                let x = across.at(f64::from(*value));
                svg.line("axis", (x, 200.0), (x, 204.0));
                svg.text("", "middle", (x, 217.0), &value.to_string());
            }
            svg.text("quiet", "end", (300.0, 232.0), "pulse, us");
            for (pulse, motor) in seen {
                let x = across.at(pulse);
                if motor.turns {
                    motor.rpm.iter().for_each(|rpm| svg.circle("dot", (x, speed.at(*rpm)), 3.0));
                    motor.unevenness.iter().for_each(|by| svg.circle("dot", (x, even.at(*by)), 3.0));
                } else {
                    svg.cross((x, speed.at(motor.rpm.unwrap_or(0.0))), 4.0);
                    motor.unevenness.iter().for_each(|by| svg.cross((x, even.at(*by)), 4.0));
                }
            }
            (svg, format!("{corner}. A dot is a start that turned, a cross one that did not; the dashed line is the limit of unevenness, and what is far above it stands at the edge."))
        })
        .collect()
}

fn frame(svg: &mut Svg, across: &Scale, up: &Scale, (low, high): (f64, f64), most: &str, name: &str) {
    svg.line("axis", (across.places.0, low), (across.places.1, low));
    svg.line("axis", (across.places.0, low), (across.places.0, high));
    svg.text("", "end", (across.places.0 - 5.0, high + 6.0), most);
    svg.text("", "end", (across.places.0 - 5.0, low), &format!("{:.0}", up.figures.0));
    svg.text("quiet", "end", (across.places.0 - 5.0, f64::midpoint(low, high) + 4.0), name);
}

/// How the motors came up, in the last starts.
pub(super) fn traces(starts: &[Start<'_>]) -> Vec<(Svg, String)> {
    let with: Vec<(&Start<'_>, &Samples)> =
        starts.iter().filter_map(|start| Some((start, start.samples?))).filter(|(_, it)| it.count() > 0).collect();
    let last = with.len().saturating_sub(STARTS);
    with[last..].iter().map(|(start, samples)| trace(start, samples)).collect()
}

fn trace(start: &Start<'_>, samples: &Samples) -> (Svg, String) {
    let all = || samples.lines.iter();
    #[expect(clippy::cast_precision_loss, reason = "milliseconds of a start")]
    let ms = |at: &i64| *at as f64;
    let across = Scale::new(all().flat_map(|line| line.at_ms.iter().map(ms)).chain([0.0]), (50.0, 232.0));
    let up = Scale::new(all().flat_map(|line| line.values.iter().copied()).chain([0.0]), (130.0, 12.0));
    let told: Vec<String> = all()
        .map(|line| {
            let most = line.values.iter().copied().fold(0.0, f64::max);
            format!("{} reaches {most:.0} rpm", line.name)
        })
        .collect();
    let name = format!("Start {} at {} us", start.number, start.pulse);
    let mut svg = Svg::new(&format!("{name}: speeds from standstill on"), &told.join("; "), (320.0, 170.0));
    frame(&mut svg, &across, &up, (130.0, 12.0), &format!("{:.0}", up.figures.1), "rpm");
    svg.text("", "middle", (across.at(0.0), 146.0), "0");
    svg.text("", "end", (232.0, 146.0), &format!("{:.0}", across.figures.1));
    svg.text("quiet", "end", (232.0, 162.0), "ms");
    let mut ends: Vec<(f64, &str)> = Vec::new();
    for (line, dashes) in all().zip(DASHES.iter().cycle()) {
        let points: Vec<(f64, f64)> =
            line.at_ms.iter().zip(&line.values).map(|(at, value)| (across.at(ms(at)), up.at(*value))).collect();
        svg.path(dashes, &points);
        ends.extend(points.last().map(|(_, y)| (*y, line.name.as_str())));
    }
    // Labels keep their distance, as near to the ends of their lines as there is room.
    ends.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut below = 160.0;
    let mut places: Vec<f64> = Vec::new();
    for (y, _) in ends.iter().rev() {
        places.push(y.min(below));
        below = y.min(below) - LABEL;
    }
    let mut above = 10.0;
    for ((end, name), place) in ends.iter().zip(places.iter().rev()) {
        let y = place.max(above);
        above = y + LABEL;
        svg.line("axis", (234.0, *end), (240.0, y));
        svg.text("", "start", (242.0, y + 4.0), name);
    }
    (svg, format!("{name}. 0 is where {}.", samples.zero))
}

#[cfg(test)]
mod tests {
    use super::{Motor, Start, by_corner};

    /// What the operator said of a motor without a speed is a judgement as any other.
    #[test]
    fn a_start_that_was_told_by_eye_is_drawn_as_it_was_told() {
        let told = |turns, judged: &str| {
            let motors = [Motor {
                corner: "rear left".to_owned(),
                rpm: None,
                unevenness: None,
                turns,
                judged: judged.to_owned(),
            }];
            by_corner(&[Start { pulse: 1100, number: 1, motors: &motors, samples: None }]).remove(0).0.drawn(1)
        };
        let (turned, failed) = (told(true, "turned, as you said"), told(false, "failed, as you said"));
        assert!(turned.contains(" 0 of them judged other than turning"), "{turned}");
        assert!(failed.contains(" 1 of them judged other than turning"), "{failed}");
    }
}
