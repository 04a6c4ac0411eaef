//! What must be true before anything goes on: measured where a signal can tell, else asked.

use crate::bench::procedures::gesture::{BY_HAND, UNHEARD};
use crate::bench::session::context::SessionContext;
use crate::board::radio_card::SwitchEntry;
use crate::interlock::{ANTENNA_ON, Answer, guards};
use crate::language::recipe::Switch;
use crate::language::units::{Angle, Voltage};
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Gesture, Reply, Tone};

impl SessionContext {
    /// Throttle low, waited for.
    ///
    /// # Errors
    /// Still up after a minute, or not heard.
    pub async fn require_throttle_low(&self) -> Result<(), Fault> {
        let facts = self.facts()?;
        let low = |bench: &Self| {
            let now = bench.now();
            bench.look(|live| guards::throttle_low(live, &facts, now).is_ok())
        };
        // A board that takes another channel for the throttle would keep a person pulling at the right stick.
        let by_board = facts.throttle_channel.map_or_else(String::new, |channel| {
            format!(
                " The board takes channel {channel} for it; if that is another, `channels …` and `keep` come first."
            )
        });
        let sentence = format!("Pull the throttle stick down.{by_board}");
        let unheard = |bench: &Self| bench.heard_channels().is_empty().then(|| UNHEARD.to_owned());
        self.gesture_told(Gesture::ThrottleDown, &sentence, BY_HAND, low, unheard).await?;
        let now = self.now();
        let pulse = self.look(|live| guards::throttle_low(live, &facts, now))?;
        self.line(Tone::Measured, format!("Throttle low: {pulse}."));
        Ok(())
    }

    /// Not armed.
    ///
    /// # Errors
    /// Armed, or the flag not heard.
    pub fn require_disarmed(&self) -> Result<(), Fault> {
        let now = self.now();
        self.look(|live| guards::disarmed(live, now))?;
        self.line(Tone::Measured, "Not armed.");
        Ok(())
    }

    /// Level, waited for while it is not, saying which side to raise.
    ///
    /// # Errors
    /// Not level within a minute, or the attitude is not heard.
    pub async fn require_level(&self, most: Angle) -> Result<(), Fault> {
        let now = self.now();
        if self.look(|live| guards::attitude(live, now)).is_none() {
            self.sleep(std::time::Duration::from_millis(500)).await;
        }
        let now = self.now();
        let first = self.look(|live| guards::level(live, most, now));
        if let Err(fault) = &first {
            self.line(Tone::Warning, fault.to_string());
            let (roll, pitch) = self.look(|live| guards::attitude(live, now)).unwrap_or_default();
            #[expect(clippy::cast_possible_truncation, reason = "an angle in degrees times a thousand fits")]
            let gesture = Gesture::Level { roll: (roll * 1000.0) as i32, pitch: (pitch * 1000.0) as i32 };
            let level = |bench: &Self| {
                let now = bench.now();
                bench.look(|live| guards::level(live, most, now).is_ok())
            };
            self.gesture(gesture, &format!("Put the craft level. {}", guards::raise(roll, pitch)), BY_HAND * 2, level)
                .await?;
        }
        let now = self.now();
        let (roll, pitch) = self.look(|live| guards::level(live, most, now))?;
        self.line(Tone::Measured, format!("Level: roll {roll:.1} deg, pitch {pitch:.1} deg, within {most}."));
        Ok(())
    }

    /// Pack voltage.
    ///
    /// # Errors
    /// Lower, or not measured.
    pub fn require_battery_at_least(&self, per_cell: Voltage, cells: u32) -> Result<(), Fault> {
        let now = self.now();
        let each = self.look(|live| guards::battery_at_least(live, per_cell, cells, now))?;
        self.line(Tone::Measured, format!("Battery: {each:.2} V per cell, {per_cell} asked for."));
        Ok(())
    }

    /// A switch in a position, waited for.
    ///
    /// # Errors
    /// Not there within a minute.
    pub async fn require_switch(&self, switch: &Switch, entry: &SwitchEntry, position: u32) -> Result<(), Fault> {
        self.switch_to(switch, entry, position).await?;
        self.line(Tone::Measured, format!("Switch {} is in position {position}.", switch.0));
        Ok(())
    }

    /// The video antenna.
    ///
    /// # Errors
    /// Declined.
    pub async fn require_antenna(&self) -> Result<(), Fault> {
        if self.interlock().antenna_on() {
            return Ok(());
        }
        let lines = vec!["A video transmitter that is powered without its antenna breaks.".to_owned()];
        let question =
            self.question(About::Antenna, "Is the video antenna on?", lines, Reply::Word(ANTENNA_ON.to_owned()));
        let typed = self.ask_word(question).await?;
        self.interlock_mut().attest(typed);
        self.noted(Tone::Attested, "Video antenna on.");
        Ok(())
    }

    /// The recipe's own question.
    ///
    /// # Errors
    /// Declined.
    pub async fn require_attested(&self, text: &str) -> Result<(), Fault> {
        let lines = vec!["The recipe asks you to make sure of the sentence above.".to_owned()];
        let question =
            self.question(About::Attest(text.to_owned()), "Is it so?", lines, Reply::Word("it is".to_owned()));
        self.ask_word(question).await?;
        self.noted(Tone::Attested, "It is so.");
        Ok(())
    }

    /// The recipe's pause.
    ///
    /// # Errors
    /// Declined.
    pub async fn pause(&self, text: &str) -> Result<(), Fault> {
        let question = self.question(About::Pause(text.to_owned()), "Go on?", vec![], Reply::Enter);
        match self.ask(question).await {
            Answer::Declined(why) => Err(Fault::Declined { what: "the pause of the recipe".to_owned(), why }),
            Answer::Typed(_) | Answer::Entered | Answer::Chosen(_) | Answer::Named(_) | Answer::Volts(_) => Ok(()),
        }
    }
}
