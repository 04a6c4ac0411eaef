//! Things done by hand that a signal can see: invite, wait until seen, or say that it was not.

use crate::bench::session::context::SessionContext;
use crate::board::console::Capability;
use crate::board::radio_card::SwitchEntry;
use crate::interlock::guards;
use crate::language::recipe::Switch;
use crate::language::units::Pulse;
use crate::seam::fault::Fault;
use crate::seam::ui::Gesture;
use std::time::Duration;

/// How long something done by hand may take.
pub const BY_HAND: Duration = Duration::from_secs(60);
/// An invitation that nobody followed is said again.
const AGAIN: Duration = Duration::from_secs(20);
/// A value must be seen for this long before it counts.
const SETTLED: Duration = Duration::from_millis(300);

impl SessionContext {
    /// Invites to a gesture and waits until `seen` holds for a moment without a break.
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
        if let Some(need) = signal_of(&gesture) {
            // Nobody is asked for what could never be seen.
            self.look(|live| guards::given(live, need))?;
        }
        let mut since = None;
        let mut invite_at = self.now();
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
            if now >= deadline {
                return Err(Fault::TimedOut { what: sentence.to_owned(), seconds: within.as_secs() });
            }
            self.sleep(Duration::from_millis(20)).await;
        }
    }

    /// Whether the radio is heard: channels come from it, and the board says nothing else of its receiver.
    #[must_use]
    pub fn hears_radio(&self) -> bool {
        let now = self.now();
        self.look(|live| {
            let counted = live.channels.fresh(now, Duration::from_millis(500)).is_some_and(|c| c.count > 0);
            let healthy = live.power.last().and_then(|p| p.value.receiver) != Some(false);
            counted && healthy
        })
    }

    /// The position in which a switch is seen to stand now, if it rests near one.
    #[must_use]
    pub fn position_of(&self, entry: &SwitchEntry) -> Option<u32> {
        let now = self.now();
        let pulse = self.look(|live| guards::channel_pulse(live, entry.channel, now)).ok()?;
        position_at(entry, pulse)
    }

    /// Invites to put a switch into a position and waits until it is seen there.
    ///
    /// # Errors
    /// [`Fault::TimedOut`].
    pub async fn switch_to(&self, switch: &Switch, entry: &SwitchEntry, position: u32) -> Result<(), Fault> {
        let gesture = Gesture::SwitchTo { switch: switch.clone(), position };
        let sentence = format!("Put switch {} to position {position}.", switch.0);
        let there = self.gesture(gesture, &sentence, BY_HAND, |bench| bench.position_of(entry) == Some(position)).await;
        if there.is_err() {
            // A radio that is not heard is the better reason.
            let now = self.now();
            self.look(|live| guards::channel_pulse(live, entry.channel, now))?;
        }
        there
    }
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
        _ => None,
    }
}

/// The position in which a switch rests at this pulse, if it rests near one.
#[must_use]
pub fn position_at(entry: &SwitchEntry, pulse: Pulse) -> Option<u32> {
    let away = |rest: Pulse| (rest.0 - pulse.0).abs();
    let (at, rest) = entry.rests.iter().enumerate().min_by_key(|(_, rest)| away(**rest))?;
    if away(*rest) > nearness(entry) { None } else { u32::try_from(at).ok() }
}

/// How far from a rest pulse still counts as resting there, in µs: a third of the way to the nearest
/// neighbour, at most 60 µs.
fn nearness(entry: &SwitchEntry) -> i32 {
    let mut rests: Vec<i32> = entry.rests.iter().map(|rest| rest.0).collect();
    rests.sort_unstable();
    let gap = rests.windows(2).map(|pair| pair[1] - pair[0]).min().unwrap_or(200);
    (gap / 3).min(60)
}
