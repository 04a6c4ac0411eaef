//! Waiting until one more turning stays within the bounds of heat.
//!
//! Must not be here: how long motors have turned (see the interlock).

use crate::bench::session::context::SessionContext;
use crate::interlock::{Answer, COASTS, COOL, HeatNeeds, PAUSE};
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Reply, Tone};
use std::time::Duration;

impl SessionContext {
    /// Waits, disarmed, until one more turning of `longest` stays within the bounds; asks by hand when
    /// the motors have turned for a minute.
    ///
    /// # Errors
    /// Declined.
    pub async fn mind_the_heat(&self, longest: Duration) -> Result<(), Fault> {
        loop {
            let needs = self.interlock().heat(longest + COASTS);
            match needs {
                HeatNeeds::Nothing => return Ok(()),
                HeatNeeds::Pause => self.sleep(PAUSE).await,
                HeatNeeds::Cooling => self.cool().await,
            }
        }
    }

    async fn cool(&self) {
        let lines = vec![
            "The motors have turned for a minute within the last five.".to_owned(),
            "Touch nothing that turns. Safer: battery out first, then start again.".to_owned(),
            "Battery in: touch only the cans, from the side, disarmed, switch at 0.".to_owned(),
            "Anything else than the word waits a minute.".to_owned(),
        ];
        let reply = Reply::Word(COOL.to_owned());
        let question = self.question(About::Heat, "Are the motors cool enough to hold?", lines, reply);
        if let Answer::Typed(cool) = self.ask(question).await {
            self.interlock_mut().attest(cool);
            return;
        }
        self.line(Tone::Plain, "Waiting a minute for the motors to cool.");
        self.sleep(Duration::from_secs(60)).await;
    }
}
