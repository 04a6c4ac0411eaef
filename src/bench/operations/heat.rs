//! How long motors have turned: the built-in bounds against heat, kept by the bench itself.
//!
//! Must not be here: single starts' bounds (see `watch`).

use crate::bench::session::context::SessionContext;
use crate::bench::session::prompt::Answer;
use crate::language::ceilings::{HEAT_WINDOW, TURNING_IN_WINDOW, TURNING_WITHOUT_PAUSE};
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Reply, Tone};
use std::time::Duration;

/// A rest this long is a pause.
const PAUSE: Duration = Duration::from_secs(2);

/// Turnings of the motors: from when, to when.
#[derive(Debug, Default)]
pub struct Heat(Vec<(Time, Time)>);

impl Heat {
    /// Notes a turning.
    pub fn turned(&mut self, from: Time, to: Time) {
        self.0.push((from, to));
    }

    /// Forgets what was before: the motors were found cool.
    pub fn cooled(&mut self) {
        self.0.clear();
    }

    /// Turning within the window that ends now.
    #[must_use]
    pub fn in_window(&self, now: Time) -> Duration {
        self.0.iter().filter(|(_, to)| now.since(*to) < HEAT_WINDOW).map(|(from, to)| to.since(*from)).sum()
    }

    /// Turning without a pause up to now.
    #[must_use]
    pub fn without_pause(&self, now: Time) -> Duration {
        let mut next = now;
        let mut sum = Duration::ZERO;
        for (from, to) in self.0.iter().rev() {
            if next.since(*to) >= PAUSE {
                break;
            }
            sum += to.since(*from);
            next = *from;
        }
        sum
    }
}

impl SessionContext {
    /// Waits, disarmed, until one more turning of `longest` stays within the bounds; asks by hand when
    /// the motors have turned for a minute.
    ///
    /// # Errors
    /// Declined.
    pub async fn mind_the_heat(&self, longest: Duration) -> Result<(), Fault> {
        loop {
            let now = self.now();
            let (pause, window) = {
                let heat = self.heat.borrow();
                (
                    heat.without_pause(now) + longest > TURNING_WITHOUT_PAUSE,
                    heat.in_window(now) + longest > TURNING_IN_WINDOW,
                )
            };
            if pause {
                self.sleep(PAUSE).await;
                continue;
            }
            if !window {
                return Ok(());
            }
            let lines = vec![
                "The motors have turned for a minute within the last five.".to_owned(),
                "Touch nothing that turns. Taking the battery out first is safer; then start again.".to_owned(),
                "With the battery in: touch only the motor cans, from the side, disarmed, switch at 0.".to_owned(),
            ];
            let lines = lines.into_iter().chain(["Anything else than the word waits a minute.".to_owned()]).collect();
            let question = self.question(
                About::Heat,
                "Are the motors cool enough to hold?",
                lines,
                Reply::Word("cool".to_owned()),
            );
            if let Answer::Yes { .. } = self.ask(question).await {
                self.heat.borrow_mut().cooled();
                continue;
            }
            self.line(Tone::Plain, "Waiting a minute for the motors to cool.");
            self.sleep(Duration::from_secs(60)).await;
        }
    }
}
