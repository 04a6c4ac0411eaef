//! Proof of the buzzer: its switch is used, and the operator says whether it was heard. Where the motors are what sounds,
//! each sound is a motor step.
//!
//! Must not be here: what may happen while they sound (see the interlock).

use crate::bench::procedures::gesture::SETTLED;
use crate::bench::session::context::SessionContext;
use crate::board::radio_card::SwitchEntry;
use crate::interlock::{Breaks, INVITATION};
use crate::language::ceilings::REST;
use crate::language::recipe::Switch;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, BoardChange, Gesture, MotorStep, Motors, Reply, StartedBy, Tone};
use std::time::Duration;

/// How long motors are to sound; with what a hand takes to end it, three seconds.
const SOUNDS: Duration = Duration::from_secs(1);

impl SessionContext {
    /// Has the buzzer's switch used.
    ///
    /// # Errors
    /// [`Fault::Unproved`] if it was not heard.
    pub async fn test_buzzer(&self, switch: &Switch, entry: &SwitchEntry, on: u32, off: u32) -> Result<(), Fault> {
        loop {
            self.switch_to(switch, entry, off).await?;
            self.switch_to(switch, entry, on).await?;
            if let Some(heard) = self.ask_heard().await? {
                self.switch_to(switch, entry, off).await?;
                return self.heard(switch, on, heard);
            }
        }
    }

    /// Has the motors sound by their switch, each time by a word of its own.
    ///
    /// # Errors
    /// [`Fault::Unproved`] if they were not heard, declined, not switched on in time, or a guard.
    pub async fn sound_motors(
        &self,
        guards: &[Guard],
        switch: &Switch,
        entry: &SwitchEntry,
        (on, off): (u32, u32),
    ) -> Result<(), Fault> {
        let step = MotorStep {
            purpose: "test of the buzzer, which the motors sound".to_owned(),
            pulse: REST,
            longest: SOUNDS,
            motors: Motors::All,
            on_usb: false,
            starts: 1,
            by: StartedBy::Sound { switch: switch.clone(), on, off },
            look_at: "the motors: they sound, and may twitch; none turns.".to_owned(),
            test: None,
            change: BoardChange::default(),
        };
        loop {
            self.switch_to(switch, entry, off).await?;
            self.wait_still().await?;
            self.mind_the_heat(step.bound()).await?;
            let mut ok = self.confirm(step.clone()).await?;
            let sounded = self.turn(&mut ok, guards, Breaks::default(), async |_clearance| {
                let to = |position| Gesture::SwitchTo { switch: switch.clone(), position };
                let seconds = step.bound().as_secs();
                let sentence = format!("Switch {} to position {on}, and back within {seconds} s.", switch.0);
                self.invite(to(on), sentence.clone(), INVITATION);
                let began = |bench: &Self| bench.interlock().start().and_then(|start| start.sounded_at);
                let Some(began) = self.until(self.now() + INVITATION, began).await else {
                    return Err(Fault::TimedOut { what: sentence, seconds: INVITATION.as_secs() });
                };
                self.until(began + SOUNDS, |_| None::<()>).await;
                self.invite(to(off), format!("Switch {} back to position {off}.", switch.0), step.bound());
                // One that stays on is stopped by the watch.
                let back = |bench: &Self| (bench.position_of(entry) == Some(off)).then_some(());
                self.until(began + step.bound() + SETTLED, back).await;
                Ok(())
            });
            sounded.await?;
            if let Some(heard) = self.ask_heard().await? {
                return self.heard(switch, on, heard);
            }
        }
    }

    /// Whether it was heard; `None`: again.
    async fn ask_heard(&self) -> Result<Option<bool>, Fault> {
        let choices = vec![('h', "heard".to_owned()), ('n', "not heard".to_owned()), ('a', "again".to_owned())];
        let question = self.question(About::Buzzer, "Is the buzzer heard?", vec![], Reply::Choice(choices));
        let key = self.ask_choice(question, "whether the buzzer is heard").await?;
        Ok((key != 'a').then_some(key == 'h'))
    }

    fn heard(&self, switch: &Switch, on: u32, heard: bool) -> Result<(), Fault> {
        if !heard {
            return Err(Fault::Unproved(format!("buzzer: not heard with switch {} in position {on}", switch.0)));
        }
        self.noted(Tone::Attested, format!("The buzzer is heard with switch {} in position {on}.", switch.0));
        Ok(())
    }
}
