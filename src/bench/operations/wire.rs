//! The wire of a session is opened, and opened again after it went away.
//!
//! Promises: an answer to an earlier opening is never taken for that of a later one. Must not be here: where ports are
//! looked for (the world's), and whether the same board answers (see `back`).

use crate::bench::session::context::SessionContext;
use crate::seam::fault::Fault;
use crate::seam::{Effect, OpenError, PortInfo, PortName};
use std::time::Duration;

/// How long the system may take to open a port.
const OPENED_WITHIN: Duration = Duration::from_secs(10);

impl SessionContext {
    /// Opens a port.
    ///
    /// # Errors
    /// The system's reason.
    pub async fn open(&self, name: PortName) -> Result<PortInfo, Fault> {
        let _of_before = self.replies().opened.take();
        self.act(Effect::Open(name.clone()));
        self.opened(OPENED_WITHIN).await.map_err(|fault| match fault {
            Fault::NotBack(seconds) => {
                let cause = format!("the system did not answer for {seconds} s");
                OpenError::Other { port: name.to_string(), cause }.into()
            }
            other => other,
        })
    }

    /// Waits for a port that went away to come back.
    ///
    /// # Errors
    /// It did not.
    pub async fn reopen(&self, within: Duration) -> Result<PortInfo, Fault> {
        let _of_before = self.replies().opened.take();
        self.act(Effect::Reopen);
        self.opened(within).await
    }

    /// Waits for the answer to an opening.
    pub(in crate::bench) async fn opened(&self, within: Duration) -> Result<PortInfo, Fault> {
        let answer = self.until(self.now() + within, |bench| bench.replies().opened.take()).await;
        let info = answer.ok_or(Fault::NotBack(within.as_secs()))??;
        *self.port.borrow_mut() = Some(info.clone());
        Ok(info)
    }
}
