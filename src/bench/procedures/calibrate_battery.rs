//! The pack's voltage as the board shows it and as a multimeter does.
//!
//! Must not be here: what is written of it.

use crate::bench::procedures::gesture::BY_HAND;
use crate::bench::session::context::SessionContext;
use crate::board::console::Capability;
use crate::interlock::{Answer, guards};
use crate::measure::robust;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Declined, Reply, Tone};
use std::time::Duration;

/// Over so long the voltage is measured.
const OVER: Duration = Duration::from_secs(2);
/// It is steady if nothing in this time is further from its middle than this share.
const STEADY: f64 = 0.01;
/// Fewest readings.
const FEWEST: usize = 3;
/// A meter and a board that differ by more have a cause of their own.
const SCALES: std::ops::RangeInclusive<f64> = 0.8..=1.25;
/// A cell that is plugged in has between this and that, volts: the lowest and the highest of all chemistries, and what a
/// meter may be off (*common practice*).
const CELL: std::ops::RangeInclusive<f64> = 2.4..=4.5;

impl SessionContext {
    /// Asks for the meter's reading; gives what the board showed at that time, and the meter, in volts.
    ///
    /// # Errors
    /// Declined, no steady voltage, or two that can't be of one pack.
    pub async fn metered(&self) -> Result<(f64, f64), Fault> {
        self.look(|live| guards::given(live, Capability::Power))?;
        let before = self.steady_volts().await?;
        let lines = vec![
            "Measure the pack's voltage at its plug or its balance lead: battery in, nothing else drawing.".to_owned(),
            "Keep the probes apart from each other, and hands clear of the motors.".to_owned(),
        ];
        let title = "What does the multimeter show?";
        let question = self.question(About::Meter, title, lines, Reply::Volts);
        let Answer::Volts(millivolts) = self.ask_text(question).await? else {
            return Err(Fault::Declined { what: title.to_owned(), why: Declined::Refused });
        };
        let meter = f64::from(millivolts) / 1000.0;
        self.line(Tone::Attested, format!("The multimeter shows {meter:.2} V."));
        let shown = self.steady_volts().await?;
        if (shown / before - 1.0).abs() > STEADY {
            return Err(Fault::refused(
                format!("The pack went from {before:.2} V to {shown:.2} V while it was measured."),
                "Let it rest for a minute, then measure again.",
            ));
        }
        let cells = self.facts()?.cells;
        let each = meter / f64::from(cells);
        if !CELL.contains(&each) {
            return Err(Fault::refused(
                format!("{meter:.2} V are {each:.2} V for each of {cells} cells, which no pack has."),
                "Check the number of cells in `battery … cells`, and that the meter is on the pack's own wires.",
            ));
        }
        if !SCALES.contains(&(meter / shown)) {
            return Err(Fault::refused(
                format!("The meter shows {meter:.2} V and the board {shown:.2} V: too far apart for a ratio."),
                "Check that the meter is on the pack's own wires, and that the board measures this pack.",
            ));
        }
        Ok((shown, meter))
    }

    /// The voltage that the board shows once it is steady, volts.
    ///
    /// # Errors
    /// Not steady within a minute, or not heard.
    pub(in crate::bench) async fn steady_volts(&self) -> Result<f64, Fault> {
        let deadline = self.now() + BY_HAND;
        // What was written a moment ago may not be shown yet.
        self.sleep(OVER / 2).await;
        loop {
            let from = self.now();
            self.sleep(OVER).await;
            let volts: Vec<f64> = self.look(|live| {
                let told = live.power.since(from).filter_map(|sample| sample.value.millivolts);
                told.map(|millivolts| f64::from(millivolts) / 1000.0).collect()
            });
            let middle = robust::median(&volts).filter(|middle| *middle > 1.0 && volts.len() >= FEWEST);
            if let Some(middle) = middle
                && volts.iter().all(|volts| (volts / middle - 1.0).abs() <= STEADY)
            {
                return Ok(middle);
            }
            if self.now() >= deadline {
                let what = "no steady pack voltage was heard".to_owned();
                return Err(Fault::TimedOut { what, seconds: BY_HAND.as_secs() });
            }
        }
    }
}
