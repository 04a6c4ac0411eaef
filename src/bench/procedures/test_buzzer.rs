//! Proof of the buzzer: its switch is used, and the operator says whether it was heard.

use crate::bench::session::context::SessionContext;
use crate::board::radio_card::SwitchEntry;
use crate::language::recipe::Switch;
use crate::seam::fault::Fault;
use crate::seam::ui::Answer;
use crate::seam::ui::{About, Reply, Tone};

impl SessionContext {
    /// Has the buzzer's switch used.
    ///
    /// # Errors
    /// [`Fault::Unproved`] if it was not heard.
    pub async fn test_buzzer(&self, switch: &Switch, entry: &SwitchEntry, on: u32, off: u32) -> Result<(), Fault> {
        loop {
            self.switch_to(switch, entry, off).await?;
            self.switch_to(switch, entry, on).await?;
            let choices = vec![('h', "heard".to_owned()), ('n', "not heard".to_owned()), ('a', "again".to_owned())];
            let question = self.question(About::Buzzer, "Is the buzzer heard?", vec![], Reply::Choice(choices));
            let answer = self.ask(question).await;
            match answer {
                Answer::Chosen('h') => break,
                Answer::Chosen('a') => {}
                Answer::Declined(why) => {
                    return Err(Fault::Declined { what: "whether the buzzer is heard".to_owned(), why });
                }
                _ => {
                    self.switch_to(switch, entry, off).await?;
                    return Err(Fault::Unproved(format!(
                        "buzzer: not heard with switch {} in position {on}",
                        switch.0
                    )));
                }
            }
        }
        self.switch_to(switch, entry, off).await?;
        self.line(Tone::Attested, format!("The buzzer is heard with switch {} in position {on}.", switch.0));
        Ok(())
    }
}
