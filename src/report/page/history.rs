//! How pulses and speeds of the motors went of late: two charts with their axes named, where there is room for them.
//!
//! Promises: what was not heard leaves a gap; a figure at each end of an axis, with its unit in the title. Must not be here:
//! what a motor does now.

use super::canvas::{Canvas, Ink};
use crate::measure::time::Time;
use crate::seam::page::Page;
use std::collections::VecDeque;
use std::time::Duration;

/// So far back it goes, and so often it is taken down.
const SPAN: Duration = Duration::from_secs(30);
const EVERY: Duration = Duration::from_millis(200);
/// Columns of the figures before a chart, and between two charts.
const FIGURES: u16 = 6;
const APART: u16 = 3;
/// Rows of a chart: title, time, and what is drawn.
const LEAST: u16 = 5;
const MOST: u16 = 10;

/// Least and most of all motors at a moment.
type Range = (u32, u32);

/// See the module.
#[derive(Debug, Default)]
pub struct History {
    taken: VecDeque<(Time, Option<Range>, Option<Range>)>,
}

impl History {
    /// Takes down what a page shows.
    pub fn take(&mut self, now: Time, page: &Page) {
        if self.taken.back().is_some_and(|(last, ..)| now.since(*last) < EVERY) {
            return;
        }
        let range = |values: Vec<u32>| Some((values.iter().copied().min()?, values.iter().copied().max()?));
        let pulses = page.motors.iter().filter_map(|motor| motor.pulse.filter(|pulse| *pulse > 0).map(u32::from));
        let speeds = page.motors.iter().filter_map(|motor| motor.rpm);
        self.taken.push_back((now, range(pulses.collect()), range(speeds.collect())));
        while self.taken.front().is_some_and(|(first, ..)| now.since(*first) > SPAN) {
            self.taken.pop_front();
        }
    }

    /// Draws both charts side by side; nothing where there is no room, or nothing was heard.
    pub(super) fn draw(&self, canvas: &mut Canvas<'_>) {
        let (width, height) = ((canvas.width().saturating_sub(APART)) / 2, canvas.height().min(MOST));
        let Some((now, ..)) = self.taken.back().filter(|_| height >= LEAST && width > 3 * FIGURES) else { return };
        let pulses = self.taken.iter().filter_map(|(at, pulses, _)| Some((*at, (*pulses)?))).collect::<Vec<_>>();
        let speeds = self.taken.iter().filter_map(|(at, _, speeds)| Some((*at, (*speeds)?))).collect::<Vec<_>>();
        let charts = [("motor pulses in us", pulses, 1000, 250), ("motor speeds in rpm", speeds, 0, 5000)];
        for (at, (title, values, least, step)) in (0_u16..).zip(charts) {
            let Some(highest) = values.iter().map(|(_, (_, most))| *most).max() else { continue };
            let most = highest.max(least + 1).next_multiple_of(step);
            let mut part = canvas.part(at * (width + APART), 0, width, height);
            chart(&mut part, title, (least, most), *now, &values);
        }
    }
}

/// One chart: filled up to the lowest motor, shaded from there to the highest.
fn chart(canvas: &mut Canvas<'_>, title: &str, (least, most): Range, now: Time, values: &[(Time, Range)]) {
    let (width, rows) = (canvas.width() - FIGURES, canvas.height() - 2);
    // Where the chart is narrower than its title, that begins above the figures.
    let title_at = canvas.width().saturating_sub(u16::try_from(title.len()).unwrap_or(0)).min(FIGURES);
    canvas.put(title_at, 0, title, Ink::Quiet);
    canvas.put_right(FIGURES - 1, 1, &most.to_string(), Ink::Quiet);
    canvas.put_right(FIGURES - 1, rows, &least.to_string(), Ink::Quiet);
    canvas.put(FIGURES, rows + 1, &format!("{} s ago", SPAN.as_secs()), Ink::Quiet);
    canvas.put_right(FIGURES + width, rows + 1, "now", Ink::Quiet);
    let columns = u128::from(width);
    let slot = |at: Time| {
        let age = now.since(at).as_millis() * columns / SPAN.as_millis();
        u16::try_from(columns.saturating_sub(1).saturating_sub(age)).unwrap_or(0)
    };
    let height = |value: u32| {
        let share = u64::from(value.saturating_sub(least)) * u64::from(rows) / u64::from((most - least).max(1));
        u16::try_from(share).unwrap_or(rows).min(rows)
    };
    for (at, (low, high)) in values {
        let column = FIGURES + slot(*at);
        // What is at the foot of the axis is seen to be there.
        let (low, high) = (height(*low).max(1), height(*high).max(1));
        for row in 0..rows {
            let above = rows - row;
            if above <= low {
                canvas.put(column, 1 + row, "█", Ink::Text);
            } else if above <= high {
                canvas.put(column, 1 + row, "▒", Ink::Text);
            }
        }
    }
}
