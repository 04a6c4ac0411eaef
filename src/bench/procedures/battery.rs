//! The battery: last in, first out. Measured where a sensor was seen working, else attested.

use crate::bench::operations::turn::FLAG_WAIT;
use crate::bench::session::context::SessionContext;
use crate::board::console::Capability;
use crate::interlock::guards;
use crate::interlock::signals::Pack;
use crate::interlock::{AGE_MOST, BATTERY_IN, BATTERY_OUT, Phase};
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::record::ledger::RestartEvidence;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Gesture, Reply, Tone};
use std::time::Duration;

/// How the battery is asked in.
pub(super) const PLUG_IN: &str = "Plug the battery in now: lead and hands clear of the motors.";
/// How long plugging or unplugging may take.
pub(in crate::bench) const BY_HAND: Duration = Duration::from_secs(120);
/// How often it is looked at meanwhile whether that is still safe.
pub(in crate::bench) const LOOK: Duration = Duration::from_millis(20);
impl SessionContext {
    /// Has the battery plugged in, with everything measured at that moment that makes it safe. Gives what showed that the
    /// board restarted by it, where it was dark before.
    ///
    /// # Errors
    /// A guard that does not hold, a declined question, or nothing plugged in.
    pub async fn battery_in(&self, guards: &[Guard]) -> Result<Option<RestartEvidence>, Fault> {
        if self.pack() == Pack::In {
            // Nothing is plugged in, and what is printed of this step holds all the same.
            self.ensure_props_off().await?;
            self.wait_still().await?;
            return self.interlock().may_plug_in(guards).map(|()| None);
        }
        // A battery that is never seen in runs no motor here: nobody is asked to plug it in.
        self.look(|live| guards::given(live, Capability::Power))?;
        if self.interlock().is_dark() {
            return self.dark_battery_in(guards).await.map(Some);
        }
        self.ensure_props_off().await?;
        self.right_radio_and_craft().await?;
        self.wait_still().await?;
        self.interlock_mut().invite_plug_in(guards)?;
        let plugged = self.plugged(guards).await;
        self.until(self.now() + FLAG_WAIT, |bench| bench.hears_all().then_some(())).await;
        let plugged = plugged.and_then(|()| self.interlock().may_plug_in(guards));
        self.interlock_mut().plug_in_ended(plugged.is_ok());
        plugged?;
        self.battery_went_in().await;
        Ok(None)
    }

    /// The battery is in: what is measured of it, and a moment for the speed controllers.
    pub(in crate::bench) async fn battery_went_in(&self) {
        if let Some(volts) = self.volts() {
            self.line(Tone::Measured, format!("The battery is in: {volts:.2} V."));
        }
        // Speed controllers say hello; outputs that glitch meanwhile are the watch's business.
        self.sleep(Duration::from_millis(1500)).await;
    }

    /// Invites to plug in, and takes the invitation back as soon as it is not safe any more. Where no voltage is told, the
    /// operator says that it is in, by a word; what makes it safe is judged all the while.
    async fn plugged(&self, guards: &[Guard]) -> Result<(), Fault> {
        self.invite(Gesture::Battery { inside: true }, PLUG_IN, BY_HAND);
        let deadline = self.now() + BY_HAND;
        let mut sure = self.now();
        let ends = |bench: &Self| bench.plug_in_end(guards, deadline, &mut sure);
        let ended = if self.look(|live| live.tells_volts(self.now())) {
            self.watched(ends).await.map(|()| None)
        } else {
            let lines = vec![
                "This board tells no pack voltage, so nothing but your word tells that it is in.".to_owned(),
                "Plug it in, hands clear, and type once it is.".to_owned(),
            ];
            let question =
                self.question(About::BatteryIn, "Is the battery in?", lines, Reply::Word(BATTERY_IN.to_owned()));
            self.ask_word_while(question, Some(LOOK), ends).await
        };
        match ended {
            Ok(Some(typed)) => {
                self.interlock_mut().attest(typed);
                self.noted(Tone::Attested, "The battery is in.");
            }
            Ok(None) => {}
            Err(fault @ Fault::TimedOut { .. }) => return Err(fault),
            Err(fault) => {
                self.line(
                    Tone::Warning,
                    format!("Do NOT plug the battery in; if it is in, take it out at once. {fault}"),
                );
                return Err(fault);
            }
        }
        Ok(())
    }

    /// Looks often until something gives an end.
    async fn watched(&self, mut ends: impl FnMut(&Self) -> Option<Result<(), Fault>>) -> Result<(), Fault> {
        loop {
            if let Some(end) = ends(self) {
                return end;
            }
            self.sleep(LOOK).await;
        }
    }

    /// Whether it is sure who is there, and how outputs and channels stand.
    fn hears_all(&self) -> bool {
        self.interlock().is_sure() && self.look(|live| guards::fresh(live, self.now())).is_ok()
    }

    /// How plugging in ends, if it does now: measured in, not safe any more, or too late. `sure`: when it was sure last
    /// who is there, and everything was heard.
    fn plug_in_end(&self, guards: &[Guard], deadline: Time, sure: &mut Time) -> Option<Result<(), Fault>> {
        if self.look(|live| live.pack(self.now())) == Pack::In {
            return Some(Ok(()));
        }
        // What is unheard for a moment is waited for; a switch or a stick that moves is told at once.
        let heard = self.hears_all();
        if heard {
            *sure = self.now();
        }
        let safe = self.interlock().may_plug_in(guards);
        if let Err(fault) = safe
            && (heard || self.now().since(*sure) > AGE_MOST)
        {
            return Some(Err(fault));
        }
        let late = || Fault::TimedOut {
            what: "nothing showed that the battery is in. If it is, take it out".to_owned(),
            seconds: BY_HAND.as_secs(),
        };
        (self.now() >= deadline).then(|| Err(late()))
    }

    /// Whether nobody is there any more whom a stop has latched: a board that its battery alone feeds, for one.
    pub(in crate::bench) fn has_gone(&self) -> bool {
        self.phase() == Phase::Latched && !self.interlock().is_session_craft_there()
    }

    /// Has the battery taken out. With a sensor seen working it is measured, else the operator says so.
    ///
    /// # Errors
    /// Still in, or declined.
    pub async fn battery_out(&self) -> Result<(), Fault> {
        match self.pack() {
            Pack::Out => return Ok(()),
            Pack::In if self.look(|live| live.tells_volts(self.now())) => {
                self.gesture(Gesture::Battery { inside: false }, "Take the battery out.", BY_HAND, |bench| {
                    bench.pack() == Pack::Out || bench.interlock().is_dark() || bench.has_gone()
                })
                .await?;
                if self.pack() == Pack::Out {
                    self.line(Tone::Measured, "The battery is out: under 1 V for a second.");
                }
            }
            Pack::In | Pack::Unknown => {
                self.ask_battery_out("No voltage sensor was seen working in this session, so nothing can tell.")
                    .await?;
            }
        }
        Ok(())
    }

    /// Has the operator say that the battery is out, and why that is asked.
    ///
    /// # Errors
    /// Declined.
    pub(in crate::bench) async fn ask_battery_out(&self, why: &str) -> Result<(), Fault> {
        let reply = Reply::Word(BATTERY_OUT.to_owned());
        let question = self.question(About::BatteryOut, "Is the battery out?", vec![why.to_owned()], reply);
        let dark = |bench: &Self| bench.interlock().is_dark().then_some(Ok(()));
        if let Some(typed) = self.ask_word_while(question, Some(LOOK), dark).await? {
            self.interlock_mut().attest(typed);
            self.noted(Tone::Attested, "The battery is out.");
        }
        Ok(())
    }
}
