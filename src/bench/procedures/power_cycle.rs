//! A power cycle, also of a board that goes dark with its battery: nothing of it is measured then, and its wire may go.
//!
//! What makes a plug-in safe is said before it and measured right after it, else the battery comes out at once. Must not be
//! here: a battery that goes in or out while the board is heard (see `battery`).

use super::battery::{BY_HAND, LOOK, PLUG_IN};
use crate::bench::operations::settings::{AT_REST, evidence};
use crate::bench::session::context::SessionContext;
use crate::board::signals::Identity;
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::record::ledger::RestartEvidence;
use crate::seam::OpenError;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Gesture, Reply, Tone};
use std::time::Duration;

/// A doubt that ends by itself has ended by then.
const DOUBT_ENDS: Duration = Duration::from_secs(1);

impl SessionContext {
    /// Has the battery taken out, to be put in again. A board that it alone feeds may go dark meanwhile.
    ///
    /// # Errors
    /// Still in, or declined.
    pub async fn battery_out_for_a_cycle(&self) -> Result<(), Fault> {
        // A doubt that ends by itself is waited for.
        self.until(self.now() + DOUBT_ENDS, |bench| bench.interlock().is_sure().then_some(())).await;
        // Latched, or of a craft that is in doubt: the battery comes out all the same, and a lost wire is one.
        if self.interlock_mut().power_cycle_begins().is_err() {
            return self.battery_out().await;
        }
        let out = self.battery_out().await;
        if out.is_ok() && self.interlock().is_dark() {
            self.line(Tone::Measured, "The board went dark with its battery, and nothing of it is known any more.");
            return Ok(());
        }
        self.interlock_mut().restart_ends();
        out?;
        let rests = |bench: &Self| bench.interlock_mut().may_work().ok();
        self.until(self.now() + AT_REST, rests).await;
        self.interlock_mut().may_work()
    }

    /// Has the battery of a dark board plugged in: what makes that safe is said, and measured once it is heard again.
    pub(in crate::bench) async fn dark_battery_in(&self, guards: &[Guard]) -> Result<RestartEvidence, Fault> {
        let lines = vec![
            "The board is dark, so nothing but your word tells what stands where.".to_owned(),
            "All propellers are off this craft, and no other powered craft listens to this radio.".to_owned(),
            "The radio is on: throttle low, every switch at position 0.".to_owned(),
            "Once the battery is in, this is measured; if it is not so, it comes out at once.".to_owned(),
        ];
        let title = "Is everything off, before the battery goes in?";
        self.ask_word(self.question(About::PlugIn, title, lines, Reply::Word("all off".to_owned()))).await?;
        self.line(Tone::Attested, "Propellers off, throttle low, all switches at position 0.");
        let (was, until) = self.interlock_mut().invite_dark_plug_in()?;
        let back = self.lit_again(guards, &was, until).await;
        let seen = self.interlock_mut().restart_ends();
        self.interlock_mut().plug_in_ended(back.is_ok());
        if let Err(fault) = &back
            && !matches!(fault, Fault::TimedOut { .. })
        {
            self.line(Tone::Warning, format!("Take the battery out at once. {fault}"));
        }
        back?;
        self.watch_it().await?;
        self.learn_anew().await?;
        self.line(Tone::Measured, "The same board is back: not armed, throttle low, arm switch off.");
        self.battery_went_in().await;
        Ok(evidence(seen))
    }

    /// The same board is heard again, and everything that makes its plug-in safe is measured in time.
    async fn lit_again(&self, guards: &[Guard], was: &Identity, until: Time) -> Result<(), Fault> {
        self.invite(Gesture::Battery { inside: true }, PLUG_IN, BY_HAND);
        while !self.link_up() {
            match self.reopen(until.since(self.now())).await {
                Ok(_) => {}
                Err(Fault::NotBack(_) | Fault::Open(OpenError::Missing(_) | OpenError::Vanished(_))) => {
                    if self.now() >= until {
                        let what = "nothing showed that the battery is in. If it is, take it out".to_owned();
                        return Err(Fault::TimedOut { what, seconds: BY_HAND.as_secs() });
                    }
                    self.sleep(LOOK).await;
                }
                Err(fault) => return Err(fault),
            }
        }
        let by = self.interlock().measured_by().unwrap_or(until);
        self.come_back(was, by).await?;
        let by = self.interlock().measured_by().unwrap_or(by);
        while self.interlock().round_trip().is_none() && self.now() < by {
            self.prove_link().await?;
        }
        self.start_streams().await?;
        let holds = |bench: &Self| bench.interlock().may_stay_in(guards).ok();
        self.until(by, holds).await;
        self.interlock().may_stay_in(guards)
    }
}
