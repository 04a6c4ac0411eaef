//! `order motors`: the motors as they are found, put right by setting with the battery out, by hand where no setting can,
//! and shown again from the beginning.
//!
//! Promises: what is written is the smallest change that puts right what was said; nothing is called right that was not
//! shown so after it. Must not be here: how motors are shown (see `test_motors`).

use crate::bench::attended::job::RunJob;
use crate::bench::attended::run_state::RunState;
use crate::bench::operations::settings::Door;
use crate::bench::procedures::test_motors::{same_twice, words, wrong};
use crate::bench::session::context::SessionContext;
use crate::board::value::{Number, SettingName};
use crate::measure::motor_permutation::{Correctable, Correction, Held, ReversalOf, Turn, correct, corrected};
use crate::plan::motor_layout::{MotorLayout, Puttable};
use crate::plan::step::{Guard, OrderPlan, Step, Write};
use crate::record::ProofSubject;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Reply, Rewire, Tone};

/// What holds as settings are written with the battery out.
const UNPOWERED: [Guard; 3] = [Guard::Disarmed, Guard::BatteryOut, Guard::EncodingProved];

impl SessionContext {
    /// Finds the motors, puts them right, and shows them again.
    ///
    /// # Errors
    /// [`Fault::Unproved`] with what is not as it should be, or a guard.
    pub(super) async fn order_step(
        &self,
        job: &RunJob,
        knows: &mut RunState,
        step: &Step,
        plan: &OrderPlan,
    ) -> Result<(), Fault> {
        let layout = &plan.motors.layout;
        let found = self.show_motors(&plan.motors, &step.guards, 0).await?;
        let correction = correct(&found, &layout.wanted, plan.puttable.can())
            .ok_or_else(|| Fault::Unproved("motors: their corners do not make one map".to_owned()))?;
        if !correction.is_nothing() {
            self.prop_map(layout, &found);
            for what in words(layout, &found, &correction) {
                self.line(Tone::Warning, format!("To put right: {what}."));
            }
            self.battery_out().await?;
            self.write_order(job, knows, step.number, (&plan.puttable, &correction)).await?;
            self.rewire(layout, &correction).await?;
            self.battery_in_step(job, knows, step.number, &plan.plug_in).await?;
        }
        self.line(Tone::Plain, "Once more from the beginning, in another order: what was said before does not count.");
        let again = self.show_motors(&plan.motors, &step.guards, 1).await?;
        self.prop_map(layout, &again);
        if correction.is_nothing() {
            same_twice(&found, &again)?;
        }
        if let Some(wrong) = wrong(layout, &again, Correctable::default()) {
            return Err(Fault::Unproved(format!(
                "motors: after what was put right they were said to be otherwise again: {}. What was written stands on \
                 the board; start again, or go back with `restore`",
                wrong.join("; ")
            )));
        }
        let said = "Every motor sits and turns as it should, as you said after it was put right.";
        self.line(Tone::Good, said);
        knows.measured.push(said.to_owned());
        let (corners, clockwise) = layout.told(&again);
        let subject = ProofSubject::Motors { corners, clockwise };
        self.proved(job, knows, subject).await
    }

    /// Writes what puts the order and the directions right, with the battery out, stores it and has the board start with it.
    async fn write_order(
        &self,
        job: &RunJob,
        knows: &mut RunState,
        step: usize,
        (puttable, correction): (&Puttable, &Correction),
    ) -> Result<(), Fault> {
        let held = self.held(puttable, correction)?;
        let of = puttable.reversal.as_ref().map_or(ReversalOf::Output, |(of, _)| *of);
        let then = corrected(&held, correction, of);
        let outputs = puttable.order.iter().zip(held.outputs.iter().zip(&then.outputs));
        let outputs = outputs.filter(|(_, (now, then))| now != then).map(|(name, (_, then))| (name, then + 1));
        let reversals = puttable.reversal.iter().flat_map(|(_, names)| names);
        let reversals = reversals.zip(held.reversed.iter().zip(&then.reversed));
        let reversals =
            reversals.filter(|(_, (now, then))| now != then).map(|(name, (_, then))| (name, usize::from(*then)));
        let write = |(name, to): (&SettingName, usize)| Write {
            name: name.clone(),
            to: Number::Whole(i64::try_from(to).unwrap_or(i64::MAX)),
            setting: name.to_string(),
            shown: to.to_string(),
            restart: knows.sheet.raw.get(name).is_some_and(|entry| entry.restart),
            ordered: true,
        };
        let writes: Vec<Write> = outputs.chain(reversals).map(write).collect();
        if writes.is_empty() {
            return Ok(());
        }
        let door = &mut Door { guards: &UNPOWERED, turns_motors: true, confirmed: None };
        self.write_in_force(job, knows, step, &writes, door, true).await
    }

    /// What the board holds of its motors now.
    fn held(&self, puttable: &Puttable, correction: &Correction) -> Result<Held, Fault> {
        let whole = |name: &SettingName| {
            self.look(|live| usize::try_from(live.settings.get(name).and_then(|number| number.whole())?).ok())
        };
        let refused = || {
            Fault::refused(
                "What the board holds of its motors' order is no order: an output stands there twice, or none.",
                "Put those settings right by hand; the sheet names them under [motors.order].",
            )
        };
        let count = correction.motors;
        let outputs: Vec<usize> = if puttable.order.is_empty() {
            (0..count).collect()
        } else {
            let read = puttable.order.iter().map(|name| whole(name)?.checked_sub(1));
            read.collect::<Option<Vec<usize>>>().ok_or_else(refused)?
        };
        if !(0..count).all(|output| outputs.contains(&output)) {
            return Err(refused());
        }
        let names = puttable.reversal.iter().flat_map(|(_, names)| names);
        let reversed = names.map(|name| whole(name).map(|held| held == 1)).collect::<Option<Vec<bool>>>();
        Ok(Held { outputs, reversed: reversed.ok_or_else(refused)? })
    }

    /// What no setting puts right is done by hand, with the battery out.
    async fn rewire(&self, layout: &MotorLayout, correction: &Correction) -> Result<(), Fault> {
        let by_plugs = correction.exchange.iter().filter(|_| !correction.exchange_by_setting);
        let plugs = by_plugs.filter_map(|(output, _)| {
            let Turn { corner, .. } = layout.wanted.get(*output)?;
            Some(Rewire::Plug { output: output + 1, corner: layout.corner(*corner) })
        });
        let wires = correction.swap_wires.iter().map(|place| Rewire::SwapWires(layout.corner(*place)));
        let all: Vec<Rewire> = plugs.chain(wires).collect();
        if all.is_empty() {
            return Ok(());
        }
        let lines: Vec<String> = all.iter().map(ToString::to_string).collect();
        let to_do = lines.join(" ");
        let choices = vec![('d', "done, all of it".to_owned()), ('l', "later: end here".to_owned())];
        let title = "The battery is out. Is this done?";
        let question = self.question(About::Rewire(all), title, lines, Reply::Choice(choices));
        if self.ask_choice(question, "what is put right by hand").await? != 'd' {
            return Err(Fault::Unproved(format!("motors: still to do by hand: {}", to_do.trim_end_matches('.'))));
        }
        self.line(Tone::Attested, "What the board cannot put right was done by hand.");
        Ok(())
    }
}
