//! Things done by hand that a signal can see: invite, wait until seen, or say that it was not.

use crate::bench::session::context::SessionContext;
use crate::board::console::Capability;
use crate::board::radio_card::SwitchEntry;
use crate::interlock::guards;
use crate::interlock::signals::STREAM_AGE;
use crate::language::recipe::Switch;
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::ui::{Gesture, Placement, Tone, UiEvent};
use std::time::Duration;

/// How long something done by hand may take.
pub const BY_HAND: Duration = Duration::from_secs(60);
/// What is said where nothing comes from the radio, whatever the hands are asked for.
pub const UNHEARD: &str = "Nothing is heard of the radio. Is it on, and is the board set for the receiver that it has \
                           (`receiver …`, and `keep`)?";
/// An invitation that nobody followed is said again.
const AGAIN: Duration = Duration::from_secs(20);
/// A value must be seen for this long before it counts.
pub const SETTLED: Duration = Duration::from_millis(300);

impl SessionContext {
    /// Invites to something done by hand, with the sentence to show and the time it may take.
    pub fn invite(&self, gesture: Gesture, sentence: impl Into<String>, within: Duration) {
        self.invite_told(gesture, sentence, within, Placement::Printed);
    }

    /// The same, and how it is told.
    pub fn invite_told(&self, gesture: Gesture, sentence: impl Into<String>, within: Duration, told: Placement) {
        self.show(UiEvent::Invite(gesture, sentence.into(), within, told));
    }

    /// Invites to a gesture and waits until `seen` holds for a moment without a break. A deadline that passes is asked
    /// about: again, or give up.
    ///
    /// # Errors
    /// [`Fault::TimedOut`].
    pub async fn gesture(
        &self,
        gesture: Gesture,
        sentence: &str,
        within: Duration,
        seen: impl Fn(&Self) -> bool,
    ) -> Result<(), Fault> {
        self.gesture_told(gesture, sentence, within, seen, |_| None).await
    }

    /// As [`SessionContext::gesture`]; `amiss` is what is wrong with it or missing of it now, as a sentence, which is said
    /// at once and again where it changes.
    ///
    /// # Errors
    /// [`Fault::TimedOut`].
    pub async fn gesture_told(
        &self,
        gesture: Gesture,
        sentence: &str,
        within: Duration,
        seen: impl Fn(&Self) -> bool,
        amiss: impl Fn(&Self) -> Option<String>,
    ) -> Result<(), Fault> {
        while let Err(late) = self.gesture_once(&gesture, sentence, within, &seen, &amiss).await {
            self.again_or(late, &format!("another {} s for it", within.as_secs())).await?;
        }
        Ok(())
    }

    async fn gesture_once(
        &self,
        gesture: &Gesture,
        sentence: &str,
        within: Duration,
        seen: &impl Fn(&Self) -> bool,
        amiss: &impl Fn(&Self) -> Option<String>,
    ) -> Result<(), Fault> {
        if let Some(need) = signal_of(gesture) {
            // Nobody is asked for what could never be seen.
            self.look(|live| guards::given(live, need))?;
        }
        let mut since = None;
        let mut invite_at = self.now();
        let (mut wrong, mut said): (Option<(String, Time)>, _) = (None, None);
        let deadline = self.now() + within;
        loop {
            let now = self.now();
            if seen(self) {
                let first = *since.get_or_insert(now);
                if now.since(first) >= SETTLED {
                    return Ok(());
                }
            } else {
                since = None;
                if now >= invite_at && now < deadline {
                    invite_at = now + AGAIN;
                    self.invite(gesture.clone(), sentence, deadline.since(now));
                }
            }
            wrong = amiss(self).map(|what| {
                let from = wrong.take().filter(|(before, _)| *before == what).map_or(now, |(_, from)| from);
                (what, from)
            });
            if let Some((what, from)) = &wrong
                && now.since(*from) >= SETTLED
                && said.as_ref() != Some(what)
            {
                self.line(Tone::Warning, what.clone());
                said = Some(what.clone());
            }
            if now >= deadline {
                return Err(Fault::TimedOut { what: sentence.to_owned(), seconds: within.as_secs() });
            }
            self.sleep(Duration::from_millis(20)).await;
        }
    }

    /// Waits until what is seen stays the same for so long, looked at so often; gives what it is then.
    ///
    /// # Errors
    /// [`Fault::TimedOut`] with these words.
    pub(in crate::bench) async fn held_still<S: Copy>(
        &self,
        (looks, held): (Duration, Duration),
        seen: impl Fn(Time) -> Option<S>,
        stays: impl Fn(S, S) -> bool,
        what: &str,
    ) -> Result<S, Fault> {
        let asked = self.now();
        let (mut since, mut first): (Time, Option<S>) = (asked, None);
        // A hand that has not begun to move holds still as well, and what lies before is still in a median.
        self.sleep(held).await;
        loop {
            self.sleep(looks).await;
            let now = self.now();
            match (first, seen(now)) {
                (Some(first), Some(seen)) if stays(first, seen) => {
                    if now.since(since) >= held {
                        return Ok(seen);
                    }
                }
                (_, seen) => (since, first) = (now, seen),
            }
            if now >= asked + BY_HAND {
                return Err(Fault::TimedOut { what: what.to_owned(), seconds: BY_HAND.as_secs() });
            }
        }
    }

    /// Whether the radio is heard: channels come from it, and the board says nothing else of its receiver.
    #[must_use]
    pub fn hears_radio(&self) -> bool {
        let now = self.now();
        self.look(|live| {
            let counted = live.channels.fresh(now, STREAM_AGE).is_some_and(|c| c.count > 0);
            let healthy = live.power.last().and_then(|p| p.value.receiver) != Some(false);
            counted && healthy
        })
    }

    /// The position in which a switch is seen to stand now, if it rests near one.
    #[must_use]
    pub fn position_of(&self, entry: &SwitchEntry) -> Option<u32> {
        let now = self.now();
        let pulse = self.look(|live| guards::channel_pulse(live, entry.channel, now)).ok()?;
        entry.position_at(pulse)
    }

    /// Invites to put a switch into a position and waits until it is seen there; one that comes to rest elsewhere is told.
    ///
    /// # Errors
    /// [`Fault::TimedOut`].
    pub async fn switch_to(&self, switch: &Switch, entry: &SwitchEntry, position: u32) -> Result<(), Fault> {
        self.switch_from(switch, entry, position, self.position_of(entry)).await
    }

    /// The same for a switch that is known to be asked from there.
    ///
    /// # Errors
    /// [`Fault::TimedOut`].
    pub(in crate::bench) async fn switch_from(
        &self,
        switch: &Switch,
        entry: &SwitchEntry,
        position: u32,
        began: Option<u32>,
    ) -> Result<(), Fault> {
        let gesture = Gesture::SwitchTo { switch: switch.clone(), position };
        let sentence = format!("Put switch {} to position {position}.", switch.0);
        loop {
            let there = |bench: &Self| bench.position_of(entry) == Some(position);
            let amiss = |bench: &Self| {
                let at = bench.position_of(entry).filter(|at| Some(*at) != began)?;
                wrong_position(switch, at, position)
            };
            let Err(late) = self.gesture_once(&gesture, &sentence, BY_HAND, &there, &amiss).await else {
                return Ok(());
            };
            // A radio that is not heard is the better reason.
            let now = self.now();
            let heard = self.look(|live| guards::channel_pulse(live, entry.channel, now));
            self.again_or(heard.err().unwrap_or(late), &format!("another {} s for it", BY_HAND.as_secs())).await?;
        }
    }
}

/// What is said of a switch that stands elsewhere than where it was asked.
#[must_use]
pub fn wrong_position(switch: &Switch, at: u32, asked: u32) -> Option<String> {
    (at != asked).then(|| format!("Switch {} is at {at}, {asked} was asked.", switch.0))
}

/// The signal by which a gesture is seen, where nothing else could show it.
fn signal_of(gesture: &Gesture) -> Option<Capability> {
    match gesture {
        Gesture::SwitchTo { .. }
        | Gesture::WorkSwitch(_)
        | Gesture::AllSwitches { .. }
        | Gesture::Radio { .. }
        | Gesture::ThrottleDown
        | Gesture::ThrottleUp
        | Gesture::HoldStick { .. }
        | Gesture::LetGo
        | Gesture::WiggleRoll => Some(Capability::Channels),
        Gesture::Level { .. } | Gesture::TiltCraft | Gesture::HoldCraft(_) => Some(Capability::Attitude),
        Gesture::Battery { .. } | Gesture::HandsOff | Gesture::PullCable => None,
    }
}
