//! Calibrations within a run: measured, written, measured again; what did not help is put back.
//!
//! Must not be here: how anything is measured (see the procedures), the wire.

use crate::bench::attended::job::RunJob;
use crate::bench::attended::run_state::RunState;
use crate::bench::attended::step::unsaid;
use crate::bench::operations::settings::Door;
use crate::bench::session::context::SessionContext;
use crate::board::convert;
use crate::board::sheet::Settings;
use crate::board::value::{Number, SettingName};
use crate::language::setting_word::SettingWord;
use crate::plan::naming::Naming;
use crate::plan::step::{Action, Step, Write};
use crate::record::ProofSubject;
use crate::seam::fault::Fault;
use crate::seam::ui::Tone;

/// A setting that is calibrated, with what the board has.
struct Calibrated {
    word: SettingWord,
    name: SettingName,
    /// In the sheet's unit.
    held: f64,
    before: Number,
}

/// A step under way, and whether what it writes takes a restart.
struct Calibration<'c> {
    job: &'c RunJob,
    step: &'c Step,
    restart: bool,
}

impl SessionContext {
    /// Carries a calibration out, and keeps what it showed.
    ///
    /// # Errors
    /// Declined, not steady, the disk, the wire, or a value that did not help; then the old one is back.
    pub async fn calibrate_step(&self, job: &RunJob, knows: &mut RunState, step: &Step) -> Result<(), Fault> {
        let (subject, said) = match &step.act {
            Action::CalibrateLevel { names: [roll, pitch], restart } => {
                let roll = self.calibrated(knows, SettingWord::LevelRoll, roll)?;
                let pitch = self.calibrated(knows, SettingWord::LevelPitch, pitch)?;
                let of = Calibration { job, step, restart: *restart };
                (ProofSubject::Level, self.level_by_hand(&of, knows, &roll, &pitch).await?)
            }
            Action::CalibrateBattery { name, restart } => {
                let ratio = self.calibrated(knows, SettingWord::VoltageRatio, name)?;
                let of = Calibration { job, step, restart: *restart };
                (ProofSubject::Voltage, self.battery_by_meter(&of, knows, &ratio).await?)
            }
            other => return Err(unsaid(other)),
        };
        self.line(Tone::Measured, said.clone());
        knows.measured.push(said);
        self.proved(job, knows, subject).await
    }

    /// The trims by which the board sees level what is level.
    async fn level_by_hand(
        &self,
        of: &Calibration<'_>,
        knows: &mut RunState,
        roll: &Calibrated,
        pitch: &Calibrated,
    ) -> Result<String, Fault> {
        let saw = self.level_attested().await?;
        if is_level(saw.0) && is_level(saw.1) {
            return Ok(format!("Level is level: roll {:.2} deg, pitch {:.2} deg; nothing was written.", saw.0, saw.1));
        }
        // Which way a board counts its trims no sheet says: what is seen after it does.
        let (mut signs, mut seen) = ((1.0, 1.0), saw);
        for _ in 0..2 {
            let wanted = [(roll, roll.held + signs.0 * saw.0), (pitch, pitch.held + signs.1 * saw.1)];
            self.write_calibrated(of, knows, &wanted).await?;
            seen = self.steady_level().await?;
            if is_level(seen.0) && is_level(seen.1) {
                return Ok(format!(
                    "Level: the board saw roll {:.2} deg, pitch {:.2} deg, and sees {:.2} and {:.2} now.",
                    saw.0, saw.1, seen.0, seen.1
                ));
            }
            signs = (turned_over(signs.0, seen.0), turned_over(signs.1, seen.1));
        }
        self.write_numbers(of, knows, &[roll.as_it_was(), pitch.as_it_was()]).await?;
        Err(Fault::refused(
            format!(
                "The board still saw roll {:.1} deg, pitch {:.1} deg with new trims; the old ones are back.",
                seen.0, seen.1
            ),
            "Leave the craft alone while it is measured; check that the board takes its trims at once.",
        ))
    }

    /// The ratio by which the board shows what the meter does.
    async fn battery_by_meter(
        &self,
        of: &Calibration<'_>,
        knows: &mut RunState,
        ratio: &Calibrated,
    ) -> Result<String, Fault> {
        let (shown, meter) = self.metered().await?;
        if agree(shown, meter) {
            return Ok(format!("The board shows {shown:.2} V and the meter {meter:.2} V; nothing was written."));
        }
        self.write_calibrated(of, knows, &[(ratio, ratio.held * meter / shown)]).await?;
        let now = self.steady_volts().await?;
        if agree(now, meter) {
            return Ok(format!("The board showed {shown:.2} V, and {now:.2} V now; the meter shows {meter:.2} V."));
        }
        self.write_numbers(of, knows, &[ratio.as_it_was()]).await?;
        Err(Fault::refused(
            format!("With the new ratio the board shows {now:.2} V, the meter {meter:.2} V; the old one is back."),
            "Measure again; check that this board's ratio grows with the voltage that it shows.",
        ))
    }

    fn calibrated(&self, knows: &RunState, word: SettingWord, name: &SettingName) -> Result<Calibrated, Fault> {
        let before = self.look(|live| live.settings.get(name).copied());
        let held = knows.sheet.entry(word).zip(before).and_then(|(entry, number)| convert::amount(entry, number));
        before
            .zip(held)
            .map(|(before, held)| Calibrated { word, name: name.clone(), held, before })
            .ok_or_else(|| Fault::Plan(format!("Nothing is known of {name} on this board.")))
    }

    async fn write_calibrated(
        &self,
        of: &Calibration<'_>,
        knows: &mut RunState,
        wanted: &[(&Calibrated, f64)],
    ) -> Result<(), Fault> {
        let mut numbers = Vec::new();
        for (calibrated, amount) in wanted {
            let Some(entry) = knows.sheet.entry(calibrated.word) else { continue };
            let number = convert::encode_nearest(calibrated.word, entry, *amount).map_err(|error| {
                Fault::refused(
                    format!("What was measured would take a value that this board does not: {error}."),
                    "Check that the board sits as it should, and that the meter is on the right wires.",
                )
            })?;
            numbers.push((calibrated.name.clone(), number));
        }
        self.write_numbers(of, knows, &numbers).await
    }

    async fn write_numbers(
        &self,
        of: &Calibration<'_>,
        knows: &mut RunState,
        numbers: &[(SettingName, Number)],
    ) -> Result<(), Fault> {
        let now: Settings = self.look(|live| live.settings.clone());
        let naming = Naming { sheet: &knows.sheet, then: &now, now: &now };
        let writes: Vec<Write> = numbers.iter().map(|(name, number)| naming.write(name, *number)).collect();
        let door = &mut Door { guards: &of.step.guards, turns_motors: false, confirmed: None };
        self.write_in_force(of.job, knows, of.step.number, &writes, door, of.restart).await
    }
}

impl Calibrated {
    fn as_it_was(&self) -> (SettingName, Number) {
        (self.name.clone(), self.before)
    }
}

/// Near enough to level, degrees: what a sensor's noise and a spirit level leave.
fn is_level(degrees: f64) -> bool {
    degrees.abs() <= 0.3
}

/// The sign to try next, where this one did not help.
fn turned_over(sign: f64, seen: f64) -> f64 {
    if is_level(seen) { sign } else { -sign }
}

/// A board's reading agrees with the meter's within this share: what both leave.
fn agree(shown: f64, meter: f64) -> bool {
    (shown / meter - 1.0).abs() <= 0.005
}
