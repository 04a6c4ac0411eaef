//! How true the sticks are: each held over to both its ends and let go, against what the recipe asks.
//!
//! The figures stand in `measure::stick_figures`; here is what they come to in words.

use crate::bench::procedures::find_sticks::Held;
use crate::bench::session::context::SessionContext;
use crate::language::recipe::Stick;
use crate::language::units::Pulse;
use crate::measure::frame::{ChannelFrame, pulses_of};
use crate::measure::robust;
use crate::measure::rounding;
use crate::measure::stick_figures::{StickFigures, StickTargets, Travel, figures, frame_rate};
use crate::measure::sticks::{self, CROSSED, Rest, StickFound};
use crate::plan::step::{Guard, SticksAsked};
use crate::seam::fault::Fault;
use crate::seam::ui::{StickSeen, Tone, UiEvent};

/// A stick held over to its ends: upwards or right, and the other way where it springs back to a centre.
struct Ends {
    high: Held,
    low: Option<Held>,
    /// All the while.
    whole: Vec<ChannelFrame>,
}

impl SessionContext {
    /// Tests the sticks; gives a sentence of what was found.
    ///
    /// # Errors
    /// [`Fault::Unproved`] with every stick that is off, or nothing that could be told for sure.
    pub async fn test_sticks(&self, asked: &SticksAsked, guards: &[Guard]) -> Result<String, Fault> {
        self.work_switches("testing the sticks", guards).await?;
        let seen = self.sticks_to_their_ends().await;
        self.switches_at_rest().await;
        let (alone, ends) = seen?;
        let moved = ends.each_ref().map(|ends| ends.high.moved.clone());
        let found = sticks::assign(&moved).map_err(|error| Fault::NotFound(format!("The sticks: {error}")))?;
        let rest = Rest::of(&alone).map_err(|error| Fault::NotFound(format!("The sticks: {error}")))?;
        let channels = found.each_ref().map(|found| found.channel);
        let moved = Stick::ALL.into_iter().zip(&found).zip(&ends).map(|((stick, found), ends)| StickSeen {
            stick,
            channel: found.channel,
            pulses: pulses_of(&ends.whole, found.channel),
        });
        self.show(UiEvent::Sticks(moved.collect()));
        let mut wrong = Vec::new();
        for (place, stick) in Stick::ALL.into_iter().enumerate() {
            let (found, ends) = (&found[place], &ends[place]);
            let said = self.one_stick(stick, found, ends, &rest, asked, &channels);
            let of_board = asked.channels[place].filter(|channel| *channel != found.channel).map(|channel| {
                format!("moves channel {}, and the board takes it from channel {channel}", found.channel)
            });
            wrong.extend(said.into_iter().chain(of_board).map(|what| format!("{} {what}", stick.word())));
        }
        let came = self.came_as(&alone);
        if wrong.is_empty() {
            self.line(Tone::Good, "Every stick is as asked, and moves no other's channel.");
            return Ok(format!("Sticks as asked on channels {}; {came}.", listed(&channels)));
        }
        Err(Fault::Unproved(format!("sticks: {}", wrong.join("; "))))
    }

    async fn sticks_to_their_ends(&self) -> Result<(Vec<ChannelFrame>, [Ends; 4]), Fault> {
        let alone = self.sticks_alone().await;
        let mut rest = alone.clone();
        let [roll, pitch, throttle, yaw] = Stick::ALL;
        let ends = [
            self.to_its_ends(roll, &mut rest).await?,
            self.to_its_ends(pitch, &mut rest).await?,
            self.to_its_ends(throttle, &mut rest).await?,
            self.to_its_ends(yaw, &mut rest).await?,
        ];
        Ok((alone, ends))
    }

    async fn to_its_ends(&self, stick: Stick, rest: &mut Vec<ChannelFrame>) -> Result<Ends, Fault> {
        let began = self.now();
        let high = self.held_over(stick, true, rest).await?;
        // A throttle that is let go rests at its lower end.
        let low = if stick == Stick::Throttle { None } else { Some(self.held_over(stick, false, rest).await?) };
        Ok(Ends { high, low, whole: self.frames(began) })
    }

    /// Says what was seen of one stick; gives what of it is not as asked.
    fn one_stick(
        &self,
        stick: Stick,
        found: &StickFound,
        ends: &Ends,
        rest: &Rest,
        asked: &SticksAsked,
        channels: &[u32; 4],
    ) -> Vec<String> {
        let at = |held: &Held| robust::median(&pulses_of(&held.held, found.channel));
        let (Some(high), Some(alone)) = (at(&ends.high), rest.pulse(found.channel)) else {
            return vec!["was not heard".to_owned()];
        };
        let low = ends.low.as_ref().and_then(at);
        let travel = Travel::of(low.unwrap_or(alone), high, low.map(|_| alone));
        let Some(figures) = figures(travel, of(asked)) else {
            return vec!["does not move to both sides of its centre".to_owned()];
        };
        let way = if found.reversed { ", reversed" } else { "" };
        let centre = travel.centre.map_or_else(String::new, |centre| format!(" · {centre:.0}"));
        let words = format!(
            "{}: channel {}{way}, {:.0}{centre} · {:.0} us",
            stick.word(),
            found.channel,
            travel.low,
            travel.high
        );
        let mut wrong = off(&figures, travel);
        wrong.extend(crossed(found.channel, ends, channels));
        self.keep_samples_of_stick(stick, found.channel, &ends.whole);
        self.line(Tone::Measured, format!("{words}."));
        if !wrong.is_empty() {
            self.line(Tone::Warning, format!("{}: {}.", stick.word(), wrong.join("; ")));
        }
        if found.reversed {
            let text = format!(
                "The {} stick is reversed: turn it round in the radio, unless the board is told of it.",
                stick.word()
            );
            self.line(Tone::Warning, text);
        }
        wrong
    }

    /// How the receiver's messages come over this link.
    fn came_as(&self, frames: &[ChannelFrame]) -> String {
        let words = frame_rate(frames).map_or_else(
            || "how often the channels come is not known".to_owned(),
            |rate| {
                let missing = rounding::up(rate.missing * 100.0, 0);
                format!("channels came {:.0} times a second over this link, {missing:.0} % of them missing", rate.hertz)
            },
        );
        self.line(Tone::Measured, crate::bench::session::context::capital(&format!("{words}.")));
        words
    }
}

fn of(asked: &SticksAsked) -> StickTargets {
    let ((centre, close), (low, high, within)) = (asked.centre, asked.ends);
    let us = |pulse: Pulse| f64::from(pulse.0);
    StickTargets { low: us(low), centre: us(centre), high: us(high), centre_within: us(close), ends_within: us(within) }
}

/// What is not as asked, with what to dial into the radio.
fn off(figures: &StickFigures, found: Travel) -> Vec<String> {
    let side = |by: f64| if by > 0.0 { "high" } else { "low" };
    let mut wrong = Vec::new();
    if let (false, Some(by), Some(centre)) = (figures.centre_good, figures.off.centre, found.centre) {
        let (us, share) = figures.sub_trim;
        wrong.push(format!(
            "its centre is {centre:.0} us, {:.0} us too {}: sub-trim {us:+.0} us, {share:+.1} % of half the travel",
            by.abs(),
            side(by)
        ));
    }
    let ends = [
        (figures.low_good, "lower", found.low, figures.off.low, figures.end_points.0),
        (figures.high_good, "upper", found.high, figures.off.high, figures.end_points.1),
    ];
    for (good, which, at, by, share) in ends {
        if !good {
            wrong.push(format!(
                "its {which} end is {at:.0} us, {:.0} us too {}: end point to {share:.1} % of what it is",
                by.abs(),
                side(by)
            ));
        }
    }
    wrong
}

/// Which of the other sticks' channels moves along: as far, and the other way when the stick goes the other way. A hand
/// that is not straight moves it by chance.
fn crossed(own: u32, ends: &Ends, channels: &[u32; 4]) -> Vec<String> {
    let along = |channel: u32| match &ends.low {
        Some(low) => (ends.high.moved.by(channel) - low.moved.by(channel)) / 2.0,
        None => ends.high.moved.by(channel) / 2.0,
    };
    let others = channels.iter().copied().filter(|channel| *channel != own);
    others
        .filter(|channel| along(*channel).abs() > CROSSED)
        .map(|channel| {
            let share = along(channel) / along(own) * 100.0;
            format!("moves channel {channel} along by {share:.0} %: take the mix off, or hold the stick straight")
        })
        .collect()
}

fn listed(channels: &[u32]) -> String {
    channels.iter().map(u32::to_string).collect::<Vec<_>>().join(", ")
}
