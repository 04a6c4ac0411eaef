//! Motors whose speeds nobody measures: the operator says of each start which turned, corner by corner, with *again*.
//!
//! Promises: what is said stands apart from what is measured; a start that is to be made again counts for nothing. Must
//! not be here: how a measured speed is judged (see `judged`).

use crate::bench::session::context::SessionContext;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Reply, StartSeen, Tone};

/// What stands of a motor where another one was named.
pub(in crate::bench) const NOT_TOLD: &str = "not told";

impl SessionContext {
    /// The judgement of a start, with what the operator saw of motors without a speed; `None`: again.
    ///
    /// # Errors
    /// Declined.
    pub(in crate::bench) async fn told_of_turning(&self, mut seen: StartSeen) -> Result<Option<StartSeen>, Fault> {
        let unheard: Vec<String> =
            seen.motors.iter().filter(|motor| motor.rpm.is_none()).map(|motor| motor.corner.clone()).collect();
        if unheard.is_empty() {
            return Ok(Some(seen));
        }
        let mut choices = vec![('e', "every one of them: at once, and evenly".to_owned())];
        let digits = (1..).filter_map(|digit| char::from_digit(digit, 10));
        choices.extend(digits.zip(unheard.iter().map(|corner| format!("{corner} did not: still, late or uneven"))));
        choices.push(('a', "again: this start counts for nothing".to_owned()));
        // Half again what a person takes to react to what moves (*common practice*).
        let lines = vec![
            "No speeds are told of them, so what you saw is what there is. An eye sees no start that is late by less than \
             0.3 s."
                .to_owned(),
        ];
        let about = About::Told(unheard.clone());
        let question = self.question(about, "Did every motor turn?", lines, Reply::Choice(choices));
        let key = self.ask_choice(question, "which motors turned").await?;
        if key == 'a' {
            return Ok(None);
        }
        let failed = key.to_digit(10).and_then(|digit| unheard.get(usize::try_from(digit).ok()?.checked_sub(1)?));
        for motor in seen.motors.iter_mut().filter(|motor| motor.rpm.is_none()) {
            (motor.turns, motor.at_once) = (failed.is_none(), failed.is_none());
            motor.judged = match failed {
                None => "turned, as you said".to_owned(),
                Some(failed) if *failed == motor.corner => "failed, as you said".to_owned(),
                Some(_) => NOT_TOLD.to_owned(),
            };
        }
        let said = match failed {
            None => format!("At {} in start {} every motor turned at once and evenly.", seen.pulse, seen.start),
            Some(corner) => format!("At {} in start {} the {corner} motor did not.", seen.pulse, seen.start),
        };
        self.line(Tone::Attested, said);
        Ok(Some(seen))
    }
}
