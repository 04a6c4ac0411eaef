//! What a hand did not do, or did too early: said, and asked whether it is tried again or given up.
//!
//! Nothing is judged by it, and nothing that was done is lost. Must not be here: how a start is guarded, what a motor did.

use crate::bench::procedures::arm_switch::ArmSwitch;
use crate::bench::session::context::{SessionContext, capital};
use crate::interlock::{Answer, Confirmed, Phase, VOIDS};
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Reply, Tone};

/// So often it is asked at one step whether something is tried again: who comes that far is better served by looking.
const MOST: u32 = 10;

/// A start that says nothing of any motor, with the reason as a sentence.
#[derive(Debug, Clone, PartialEq)]
pub enum NoStart {
    /// It ended before its time, and not by this program.
    Voided(String),
    /// Nobody armed while it was invited, or the board did not.
    Missed(Fault),
}

impl SessionContext {
    /// Asks whether what ended in `fault` is tried again. `again`: what comes then, to go on a colon.
    ///
    /// # Errors
    /// The same fault: given up, or nothing may be asked now since any key is a stop.
    pub(in crate::bench) async fn again_or(&self, fault: Fault, again: &str) -> Result<(), Fault> {
        self.again_how(fault, vec![('a', format!("again: {again}"))]).await.map(|_| ())
    }

    /// The same with several ways to go on, each a key with its words; gives the one that was chosen.
    ///
    /// # Errors
    /// The same fault.
    pub(in crate::bench) async fn again_how(&self, fault: Fault, mut ways: Vec<(char, String)>) -> Result<char, Fault> {
        // Where any key is a stop nothing is asked.
        let asks = match self.phase() {
            Phase::Still => true,
            Phase::Latched => self.interlock().is_session_craft_there(),
            _ => false,
        };
        if !asks || self.dialogue().given_up {
            return Err(fault);
        }
        let asked = self.dialogue().asks_whether_again();
        if asked > MOST {
            let text = format!(
                "Tried again {MOST} times at this step, so it ends here, and nothing is judged by it. See with `quadjig watch` \
                 what the board hears of the radio, then start again: what was done stays done."
            );
            self.line(Tone::Warning, text);
            self.dialogue().given_up = true;
            return Err(fault);
        }
        let mut lines = vec![sentence(&fault.to_string())];
        lines.extend(fault.hint().map(|hint| sentence(&hint)));
        if asked > MOST / 2 {
            lines.push(format!("Asked {asked} of {MOST} times at this step; after that it ends."));
        }
        ways.push(('g', "give up: it ends here, and what was done and what is left is said".to_owned()));
        let question = self.question(About::Again, "Again, or give up?", lines, Reply::Choice(ways));
        match self.ask(question).await {
            Answer::Chosen(way) if way != 'g' => Ok(way),
            _ => {
                self.dialogue().given_up = true;
                Err(fault)
            }
        }
    }

    /// A start that was none is made again, once the switch is off: `true` under the same word, which allows that [`VOIDS`]
    /// times a value, `false` once its question was answered anew.
    ///
    /// # Errors
    /// Given up.
    pub(in crate::bench) async fn made_again(
        &self,
        arm: &ArmSwitch,
        (ok, voids): (&mut Confirmed, &mut u32),
        none: NoStart,
    ) -> Result<bool, Fault> {
        self.arm_switch_off(arm).await?;
        let fault = match none {
            NoStart::Voided(why) => {
                self.line(Tone::Warning, format!("{why} This start does not count: no motor is judged by it."));
                if *voids < VOIDS && self.interlock().start_voided(ok).is_ok() {
                    *voids += 1;
                    self.line(Tone::Plain, "It is made again under the same word.");
                    return Ok(true);
                }
                Fault::Hand(format!("{} starts running did not count", *voids + 1))
            }
            NoStart::Missed(fault) => fault,
        };
        self.again_or(fault, "the question of this start comes once more").await?;
        *voids = 0;
        Ok(false)
    }
}

/// As a sentence of its own.
fn sentence(text: &str) -> String {
    let text = capital(text);
    if text.ends_with(['.', '?', '!']) { text } else { format!("{text}.") }
}
