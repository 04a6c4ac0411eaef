//! One motor by itself, by a bounded command: its question, its start, and its speed where that is told.
//!
//! Must not be here: which motor, and what its run shows.

use crate::bench::session::context::SessionContext;
use crate::interlock::Breaks;
use crate::language::units::Pulse;
use crate::measure::robust;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{BoardChange, MotorStep, MotorTest, Motors, StartedBy};
use std::time::Duration;

/// Of five parts of a run, its speed has settled after so many.
const SETTLED: u32 = 3;
const PARTS: u32 = 5;
/// Over how much of it the speed is measured at most.
const MEASURED: Duration = Duration::from_millis(500);
/// A motor that answers turns at least this fast, in rpm.
pub const ANSWERS: f64 = 100.0;

/// A run to be made.
pub struct SingleRun<'r> {
    /// What for.
    pub purpose: &'r str,
    /// What the motor is called in the question.
    pub name: &'r str,
    /// Its index from 0.
    pub index: usize,
    /// At which pulse.
    pub pulse: Pulse,
    /// What to look at.
    pub look_at: &'r str,
    /// How much sooner than its time the board is to stop it.
    pub sooner: Duration,
    /// What of the board it tries, if anything.
    pub test: Option<MotorTest>,
}

impl SingleRun<'_> {
    /// How long a motor runs, where its board bounds no shorter run.
    pub const LONGEST: Duration = Duration::from_secs(2);
}

impl SessionContext {
    /// Runs one motor once; gives its speed in rpm, where it is told.
    ///
    /// # Errors
    /// Declined, or a guard.
    pub async fn run_single(&self, run: &SingleRun<'_>, guards: &[Guard]) -> Result<Option<f64>, Fault> {
        self.wait_still().await?;
        let longest = self.facts()?.motor_run.map_or(SingleRun::LONGEST, |longest| longest.min(SingleRun::LONGEST));
        self.mind_the_heat(longest).await?;
        let step = MotorStep {
            purpose: run.purpose.to_owned(),
            pulse: run.pulse,
            longest,
            motors: Motors::One(run.name.to_owned(), run.index),
            on_usb: false,
            starts: 1,
            by: StartedBy::Command,
            look_at: run.look_at.to_owned(),
            test: run.test,
            change: BoardChange::default(),
        };
        let mut ok = self.confirm(step).await?;
        self.turn(&mut ok, guards, Breaks::default(), async |clearance| {
            self.run_motor(clearance, run.sooner).await?;
            let part = longest / PARTS;
            self.sleep(part * SETTLED).await;
            let from = self.now() - MEASURED.min(part);
            let index = run.index;
            let speeds: Vec<f64> = self
                .look(|live| live.speeds.since(from).filter_map(|s| s.value.get(index).copied().flatten()).collect());
            self.sleep(part * (PARTS - SETTLED)).await;
            Ok(robust::median(&speeds))
        })
        .await
    }
}
