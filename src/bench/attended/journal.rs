//! The run's lines in the journal: intent on the disk before anything leaves for the board.

use crate::bench::attended::job::RunJob;
use crate::bench::attended::run_state::RunState;
use crate::bench::session::Inquiry;
use crate::bench::session::context::SessionContext;
use crate::board::sheet::Settings;
use crate::board::signals::Identity;
use crate::plan::step::Write;
use crate::record::{Intent, JournalLine, Proof, ProofSubject, Snapshot, WriteState, journal, proof};
use crate::seam::fault::Fault;

impl SessionContext {
    /// Writes a line and waits until it is on the disk; from then on it counts.
    ///
    /// # Errors
    /// The disk's reason.
    pub async fn journal(&self, line: JournalLine) -> Result<(), Fault> {
        self.store(line.store()?).await?;
        self.ledger.borrow_mut().apply(&line);
        Ok(())
    }

    /// The run begins.
    ///
    /// # Errors
    /// The disk's reason.
    pub async fn journal_begin(
        &self,
        job: &RunJob,
        knows: &RunState,
        fingerprint: &str,
        snapshot: &str,
    ) -> Result<(), Fault> {
        let provenance = self.keep_inputs(job, knows).await?;
        let line = JournalLine::Begin {
            schema: journal::SCHEMA.to_owned(),
            run: job.name.clone(),
            at: job.clock.at(self.now()),
            recipe: job.title.clone(),
            fingerprint: fingerprint.to_owned(),
            snapshot: snapshot.to_owned(),
            board: knows.identity.clone(),
            provenance: Some(Box::new(provenance)),
        };
        self.journal(line).await?;
        job.begun.set(true);
        // What earlier runs left and the board has as it was before, on itself and stored, is said no more.
        let settled = self.settled.take();
        if settled.is_empty() {
            Ok(())
        } else {
            self.journal_outcome(job, 0, WriteState::ReadBack, Some(settled), false).await
        }
    }

    /// These are about to be written.
    ///
    /// # Errors
    /// The disk's reason.
    pub async fn journal_intent(&self, job: &RunJob, step: usize, writes: &[Write]) -> Result<(), Fault> {
        let writes = self.look(|live| {
            writes
                .iter()
                .map(|write| Intent {
                    name: write.name.to_string(),
                    from: live.settings.get(&write.name).copied(),
                    to: write.to,
                })
                .collect()
        });
        self.journal(JournalLine::Intent { at: job.clock.at(self.now()), step, writes }).await
    }

    /// What became of them. `read`: what was read and is known to be stored; `by_silence`: after a restart that is shown by
    /// the board's silence alone.
    ///
    /// # Errors
    /// The disk's reason.
    pub async fn journal_outcome(
        &self,
        job: &RunJob,
        step: usize,
        state: WriteState,
        read: Option<Settings>,
        by_silence: bool,
    ) -> Result<(), Fault> {
        self.journal(JournalLine::Outcome { at: job.clock.at(self.now()), step, state, read, by_silence }).await
    }

    /// A copy of all settings as they were read last, with what of them has no value.
    pub fn copy_of(&self, taken: String, identity: &Identity, settings: Settings) -> Snapshot {
        Snapshot { lacking: self.news().lacking.clone(), ..Snapshot::new(taken, identity.clone(), settings) }
    }

    /// A copy of all settings. Gives its file.
    ///
    /// # Errors
    /// The disk's reason.
    pub async fn store_snapshot(&self, job: &RunJob, identity: &Identity, settings: Settings) -> Result<String, Fault> {
        let snapshot = self.copy_of(job.clock.at(self.now()), identity, settings);
        self.store(snapshot.store()?).await?;
        Ok(snapshot.file())
    }

    /// A copy of all settings at the end, each read anew. Gives its file; none where the board does not tell all of them.
    ///
    /// # Errors
    /// The disk's reason.
    pub async fn store_snapshot_after(&self, job: &RunJob, identity: &Identity) -> Result<Option<String>, Fault> {
        if self.request(Inquiry::List, "reading all settings once more").await.is_err() {
            return Ok(None);
        }
        let settings = self.look(|live| live.settings.clone());
        self.store_snapshot(job, identity, settings).await.map(Some)
    }

    /// Something is proved, with the settings that it depends on.
    ///
    /// # Errors
    /// The disk's reason.
    pub(super) async fn proved(&self, job: &RunJob, knows: &mut RunState, subject: ProofSubject) -> Result<(), Fault> {
        let depends_on = self.depends_on(knows, &subject);
        let proof = Proof {
            schema: proof::SCHEMA.to_owned(),
            at: job.clock.at(self.now()),
            subject,
            board: knows.identity.clone(),
            depends_on,
            volts: self.volts(),
        };
        self.store(proof.store()?).await?;
        knows.record.proofs.push(proof);
        Ok(())
    }
}
