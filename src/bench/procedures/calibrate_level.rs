//! A craft that stands level by the operator's word, and how the board sees it.
//!
//! Must not be here: what is written of it.

use crate::bench::session::context::SessionContext;
use crate::board::console::Capability;
use crate::interlock::guards;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Gesture, Reply, Tone};
use std::time::Duration;

/// For so long the craft stands still before it counts.
const STILL: Duration = Duration::from_millis(1500);
/// How far its attitude may wander meanwhile, degrees.
const WANDERS: f64 = 0.3;
/// How often it is looked at.
const LOOKS: Duration = Duration::from_millis(100);
/// A board that sits further out of level than this is mounted wrongly, or the craft is not level, degrees.
const MOST: f64 = 10.0;

impl SessionContext {
    /// Has the operator see to it that the craft is level; gives roll and pitch as the board sees them then.
    ///
    /// # Errors
    /// Declined, not still, or too far from level for a trim.
    pub async fn level_attested(&self) -> Result<(f64, f64), Fault> {
        self.look(|live| guards::given(live, Capability::Attitude))?;
        let lines = vec![
            "Put the craft on a surface that a spirit level shows to be level both ways, standing as it flies."
                .to_owned(),
            "The frame is what counts, not the board in it. Then take your hands off.".to_owned(),
        ];
        let question = self.question(About::Level, "Is the craft level?", lines, Reply::Word("level".to_owned()));
        self.ask_word(question).await?;
        self.line(Tone::Attested, "The craft stands level, on a surface checked with a spirit level.");
        let (roll, pitch) = self.steady_level().await?;
        if roll.abs().max(pitch.abs()) > MOST {
            return Err(Fault::refused(
                format!("The board sees roll {roll:.1} deg, pitch {pitch:.1} deg, too far from level for a trim."),
                "Check the surface and how the board sits; `test attitude` tells whether it sits turned.",
            ));
        }
        Ok((roll, pitch))
    }

    /// Roll and pitch in degrees once the craft stands still.
    ///
    /// # Errors
    /// Not still within a minute, or not heard.
    pub(in crate::bench) async fn steady_level(&self) -> Result<(f64, f64), Fault> {
        self.invite(Gesture::HandsOff, "Hands off the craft: its attitude is measured.", STILL);
        let seen = |now| self.look(|live| guards::attitude(live, now));
        let stays = |first: (f64, f64), seen: (f64, f64)| {
            guards::apart(first.0, seen.0) <= WANDERS && guards::apart(first.1, seen.1) <= WANDERS
        };
        self.held_still((LOOKS, STILL), seen, stays, "the craft was not still, or its attitude not heard").await
    }
}
