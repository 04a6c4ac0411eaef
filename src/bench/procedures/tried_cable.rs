//! A pulled cable, tried on the craft: does a motor that is run by command stop by itself when nothing reaches it any more?
//!
//! Promises: a confirmed start under the watch like any other, only once one was seen to stop by itself with the cable in,
//! which its door asks for; what is seen without the cable is the operator's word. Must not be here: what a stop says and
//! does once the wire is gone (see `interlock`).

use crate::bench::procedures::tried_claims::{ClaimOutcome, ends_by_itself};
use crate::bench::session::context::SessionContext;
use crate::board::sheet::Sheet;
use crate::interlock::signals::at_rest;
use crate::interlock::{Answer, Breaks};
use crate::language::ceilings;
use crate::language::units::Pulse;
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, BoardChange, Gesture, MotorStep, MotorTest, Motors, Reply, StartedBy, Tone};
use std::time::Duration;

/// How often a cable that stayed in is asked for, in all.
const ASKED: u32 = 3;
const NOT_PULLED: &str = "what becomes of a run when its cable goes: the cable was in until each of them had ended";

impl SessionContext {
    /// Runs one motor by command, for its cable to be pulled out meanwhile. Comes back only where it was not: a cable that
    /// goes ends what was under way.
    ///
    /// # Errors
    /// Declined, a guard, or a cable that stayed in each time.
    pub async fn try_cable(&self, guards: &[Guard], pulse: Pulse) -> Result<(), Fault> {
        for asked in 1..=ASKED {
            self.run_for_its_cable(guards, pulse).await?;
            let what = if asked < ASKED { " It is asked for once more." } else { "" };
            let text =
                format!("The cable was not pulled out while the motor turned, and the motor stopped over it.{what}");
            self.line(Tone::Warning, text);
        }
        Err(Fault::Unproved(NOT_PULLED.to_owned()))
    }

    async fn run_for_its_cable(&self, guards: &[Guard], pulse: Pulse) -> Result<(), Fault> {
        self.wait_still().await?;
        let longest = self.facts()?.motor_run.unwrap_or(Duration::ZERO).min(ceilings::TURNING);
        self.mind_the_heat(longest).await?;
        let step = MotorStep {
            purpose: "try whether it stops by itself with its cable pulled out".to_owned(),
            pulse,
            longest,
            motors: Motors::One("motor 1".to_owned(), 0),
            on_usb: false,
            starts: 1,
            by: StartedBy::Command,
            look_at: "motor 1, and nothing else: it stops by itself, though nothing reaches it any more.".to_owned(),
            test: Some(MotorTest::Cable),
            change: BoardChange::default(),
        };
        let mut ok = self.confirm(step).await?;
        let began = self.now();
        let turned = self.turn(&mut ok, guards, Breaks::default(), async |clearance| {
            self.run_motor(clearance, Duration::ZERO).await?;
            let until = self.now() + longest;
            let turns =
                |bench: &Self| bench.look(|live| live.outputs.since(began).any(|o| !at_rest(&o.value))).then_some(());
            let turns = self.until(until, turns).await;
            if turns.is_some() {
                self.so_far.borrow_mut().turns_on_a_cable = true;
                let sentence = "Pull the USB cable out NOW, the other hand at the battery plug.";
                self.invite(Gesture::PullCable, sentence, until.since(self.now()));
                self.sleep(until.since(self.now())).await;
            }
            Ok(turns)
        });
        let turned = turned.await?;
        self.so_far.borrow_mut().turns_on_a_cable = false;
        turned.ok_or_else(|| {
            Fault::Unproved("what becomes of a run when its cable goes: motor 1 was not driven".to_owned())
        })
    }

    /// What the operator saw of a motor whose cable was out, which might turn until then.
    ///
    /// # Errors
    /// Why nothing was shown, as words.
    pub(in crate::bench) async fn seen_without_cable(
        &self,
        sheet: &Sheet,
        until: Time,
    ) -> Result<ClaimOutcome, String> {
        self.line(Tone::Warning, "Take the battery out now, if it is still in.");
        // The first that was heard since the wire is back: a stop has left for it then.
        let back = self.look(|live| live.outputs.since(Time(0)).next().map(|outputs| outputs.at));
        if back.is_some_and(|back| back < until) {
            return Err(
                "what becomes of a run when its cable goes: it was in again before the run had to be over, and \
                        the motor was stopped over it"
                    .to_owned(),
            );
        }
        let choices = vec![
            ('y', "by itself".to_owned()),
            ('n', "it went on, until the battery was out or the cable in".to_owned()),
            ('u', "not seen".to_owned()),
        ];
        let title = "Did motor 1 stop by itself, with cable out and battery in?";
        match self.ask(self.question(About::Choice, title, vec![], Reply::Choice(choices))).await {
            Answer::Chosen('y') => {
                Ok(ends_by_itself(sheet, false, "it stopped by itself with its cable out, as you said".to_owned()))
            }
            Answer::Chosen('n') => {
                Ok(ends_by_itself(sheet, true, "it went on with its cable out, as you said".to_owned()))
            }
            _ => Err("what becomes of a run when its cable goes: nobody saw it".to_owned()),
        }
    }
}
