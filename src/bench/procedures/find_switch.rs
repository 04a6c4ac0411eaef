//! Which channel a switch drives, and where each of its positions rests.
//!
//! The computation stands in `measure::find_switch`; here are the hands and the frames.

use crate::bench::procedures::gesture::BY_HAND;
use crate::bench::session::context::SessionContext;
use crate::bench::session::spans::Spans;
use crate::board::radio_card::SwitchEntry;
use crate::interlock::signals::Pack;
use crate::language::recipe::Switch;
use crate::language::units::Pulse;
use crate::measure::find_switch::{self, SwitchSearch};
use crate::measure::frame::ChannelFrame;
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{Gesture, Tone};
use std::cell::Cell;
use std::time::Duration;

/// Hands off for this long.
const QUIET: Duration = Duration::from_secs(2);
/// How long the switch may be worked.
const WORKED: Duration = Duration::from_secs(30);
/// Nothing has moved for this long: the operator has finished.
const FINISHED: Duration = Duration::from_millis(2500);
/// How long a craft that a switch started may take to be seen at rest once the switches are worked no more.
const OFF_AGAIN: Duration = Duration::from_secs(5);
/// How long a switch that a hand has left must stay where it is.
const HAND_OFF: Duration = Duration::from_millis(1500);
/// How often it is asked for again before giving up.
const TRIES: u32 = 3;

impl SessionContext {
    /// Finds a switch by watching all channels while the operator works it.
    ///
    /// # Errors
    /// Nothing that could be told for sure, with the reason.
    pub async fn find_switch(
        &self,
        switch: &Switch,
        (positions, momentary): (Option<u32>, bool),
        (sticks, taken): (&[u32], &[(Switch, u32)]),
        guards: &[Guard],
    ) -> Result<SwitchEntry, Fault> {
        self.work_switches("finding a switch", guards).await?;
        let found = self.find_switch_worked(switch, (positions, momentary), (sticks, taken)).await;
        self.switches_at_rest().await;
        found
    }

    async fn find_switch_worked(
        &self,
        switch: &Switch,
        (positions, momentary): (Option<u32>, bool),
        (sticks, taken): (&[u32], &[(Switch, u32)]),
    ) -> Result<SwitchEntry, Fault> {
        let expected = positions.and_then(|n| usize::try_from(n).ok());
        let mut last = String::new();
        for again in (0..TRIES).rev() {
            self.invite(
                Gesture::HandsOff,
                format!("Put switch {} to position 0, then hands off for two seconds.", switch.0),
                QUIET,
            );
            self.sleep(Duration::from_millis(1500)).await;
            let from = self.now();
            self.sleep(QUIET).await;
            let quiet = self.frames(from);
            let sentence = if momentary {
                format!("Move switch {} out of position 0, hold it a moment, let it spring back; twice.", switch.0)
            } else {
                format!("Work switch {} through all positions and back, twice; rest in each.", switch.0)
            };
            self.invite(Gesture::WorkSwitch(switch.clone()), sentence, WORKED);
            let from = self.now();
            self.wait_worked(from).await;
            let worked = self.frames(from);
            let found = find_switch::find(&SwitchSearch { quiet: &quiet, worked: &worked, excluded: sticks, expected });
            let own = found.map_err(|reason| reason.to_string()).and_then(|found| {
                // Two switches on one channel are one switch, and what is bound to both goes on with either.
                let other = taken.iter().find(|(_, channel)| *channel == found.channel);
                other.map_or(Ok(found), |(other, channel)| {
                    Err(format!("channel {channel} moved, and that is switch {}; work switch {}", other.0, switch.0))
                })
            });
            match own {
                Ok(found) => {
                    let rests: Vec<Pulse> = found.whole_rests().into_iter().map(Pulse).collect();
                    let (channel, noise) = (found.channel, Some(found.noise));
                    let entry = SwitchEntry { channel, rests, noise, momentary, on_loss: None };
                    if !momentary {
                        self.stays_where_it_is_put(switch, &entry).await?;
                    }
                    self.line(Tone::Measured, found_words(switch, &entry, found.reversed, &found.also));
                    return Ok(entry);
                }
                Err(reason) => {
                    last = reason;
                    self.not_told(&last, again);
                }
            }
        }
        Err(Fault::NotFound(format!("Switch {} was not found: {last}", switch.0)))
    }

    /// A switch that nobody called momentary stays by itself at the far end of its travel, where a spring would be; while it
    /// is worked, a hand that holds it looks the same. It ends in position 0.
    ///
    /// # Errors
    /// It springs back: a card would be wrong; or it was not put there.
    async fn stays_where_it_is_put(&self, switch: &Switch, entry: &SwitchEntry) -> Result<(), Fault> {
        let last = u32::try_from(entry.rests.len()).unwrap_or(0).saturating_sub(1);
        let sentence = format!("Put switch {} to position {last}, and take your hand off it.", switch.0);
        for _ in 0..TRIES {
            let gesture = Gesture::SwitchTo { switch: switch.clone(), position: last };
            let reached = Cell::new(false);
            let seen = |bench: &Self| {
                reached.set(reached.get() || bench.position_of(entry) == Some(last));
                reached.get()
            };
            self.gesture(gesture, &sentence, BY_HAND, seen).await?;
            self.sleep(HAND_OFF).await;
            if self.position_of(entry) == Some(last) {
                return self.switch_to(switch, entry, 0).await;
            }
        }
        Err(Fault::NotFound(format!(
            "Switch {name} springs back from position {last}, and the recipe does not say so: nothing was written to a \
             card. If it is momentary, write `find switch {name} momentary`",
            name = switch.0
        )))
    }

    /// Working switches with the battery in could start motors: it is out, measured or attested.
    pub(in crate::bench) async fn battery_must_be_out(&self) -> Result<(), Fault> {
        match self.pack() {
            Pack::Out => Ok(()),
            Pack::Unknown => self.battery_out().await,
            Pack::In => Err(Fault::refused(
                "The battery is in, and a switch that is worked could arm the craft.",
                "Put `require battery out` before this line.",
            )),
        }
    }

    /// The door to working switches: the battery is out, and where a switch could start something all the same, its
    /// question was answered.
    ///
    /// # Errors
    /// Declined, or a guard.
    pub(in crate::bench) async fn work_switches(&self, purpose: &str, guards: &[Guard]) -> Result<(), Fault> {
        self.battery_must_be_out().await?;
        let asks = guards.contains(&Guard::Confirmed) || self.interlock().switches_could_start();
        let mut confirmed = if asks {
            let step = self.interlock().switches_step(purpose);
            let confirmed = self.confirm(step).await?;
            self.prove_link().await?;
            Some(confirmed)
        } else {
            None
        };
        self.wait_sure().await;
        self.interlock_mut().enter_switches(guards, confirmed.as_mut())
    }

    /// What a switch started is seen at rest again before anything goes on or ends, whatever was found.
    pub(in crate::bench) async fn switches_at_rest(&self) {
        let rests = |bench: &Self| bench.interlock_mut().switches_rest().ok();
        self.rests_or_is_stopped(OFF_AGAIN, rests, "the craft did not come to rest after its switches were worked")
            .await;
    }

    /// Confirms by one live reading that the radio agrees with the card.
    ///
    /// # Errors
    /// The card disagrees, or nothing is heard.
    pub async fn confirm_switch(&self, switch: &Switch, entry: &SwitchEntry) -> Result<(), Fault> {
        let seen = self.until(self.now() + Duration::from_secs(3), |bench| bench.position_of(entry)).await;
        let now = self.now();
        let pulse = self.look(|live| crate::interlock::guards::channel_pulse(live, entry.channel, now))?;
        match seen {
            Some(position) => {
                self.line(
                    Tone::Measured,
                    format!(
                        "Switch {} rests as the radio card has it: channel {} at {pulse}, position {position}. No other position was \
                         seen.",
                        switch.0, entry.channel
                    ),
                );
                Ok(())
            }
            None => Err(Fault::NotFound(format!(
                "The radio card says that switch {} rests at {} on channel {}, and it is at {pulse}. Use `find switch {} anew`, or the card of this radio.",
                switch.0,
                pulses(&entry.rests),
                entry.channel,
                switch.0
            ))),
        }
    }

    pub(in crate::bench) fn frames(&self, after: Time) -> Vec<ChannelFrame> {
        self.look(|live| {
            live.channels.since(after).map(|s| ChannelFrame { at: s.at, pulses: s.value.pulses }).collect()
        })
    }

    /// Waits until something has moved and then rested for a while.
    async fn wait_worked(&self, from: Time) {
        let deadline = self.now() + WORKED;
        let mut all = Spans::since(from);
        loop {
            self.sleep(Duration::from_millis(100)).await;
            let now = self.now();
            if now >= deadline {
                return;
            }
            self.look(|live| all.take(live));
            let long = now.since(from) > FINISHED * 2;
            if all.jumped() && long && self.look(|live| all.rest_since(live, now - FINISHED)) {
                return;
            }
        }
    }
}

/// Pulses in a row, as they are said.
pub(in crate::bench) fn pulses(rests: &[Pulse]) -> String {
    rests.iter().map(|rest| rest.0.to_string()).collect::<Vec<_>>().join(", ")
}

fn found_words(switch: &Switch, entry: &SwitchEntry, reversed: bool, also: &[u32]) -> String {
    let noise = entry.noise.map_or_else(String::new, |noise| format!(", noise {noise:.1} us"));
    let way = if reversed { ", reversed" } else { "" };
    let list: Vec<String> = also.iter().map(u32::to_string).collect();
    let dragged =
        if list.is_empty() { String::new() } else { format!("; it drags channel {} along", list.join(" and ")) };
    format!("Switch {} drives channel {}: {} us{noise}{way}{dragged}.", switch.0, entry.channel, pulses(&entry.rests))
}
