//! From a port to a board that is known: signs of life, identity, all settings, its sheet, stillness.
//!
//! A board that is found armed may be flying: nothing is sent to it. Must not be here: plans.

use crate::bench::operations::settings::ALIVE;
use crate::bench::session::context::SessionContext;
use crate::board::console::Capability;
use crate::board::identity;
use crate::board::sheet::{Settings, Sheet};
use crate::board::signals::{Identity, Request};
use crate::interlock::craft::Facts;
use crate::interlock::guards;
use crate::interlock::signals::{Live, MissingCapabilities, at_rest};
use crate::interlock::state::Mode;
use crate::record::CraftRecord;
use crate::seam::fault::{Fault, KeyTrouble};
use crate::seam::ui::UiEvent;
use crate::seam::{Effect, PortName};
use std::rc::Rc;
use std::time::Duration;

/// How long after the first sign of life another vehicle's is awaited: the standard's second and a little.
const RIVAL: Duration = Duration::from_millis(1100);
/// How long the board may take to be seen still.
const STILL: Duration = Duration::from_secs(4);

/// A board that is known.
#[derive(Debug, Clone)]
pub struct Connected {
    /// Who it is.
    pub identity: Identity,
    /// Everything it holds.
    pub settings: Settings,
}

/// Why nobody answers, as far as can be known.
#[must_use]
pub fn nobody(bench: &SessionContext, port: &PortName) -> Fault {
    let port = port.to_string();
    bench.look(|live| {
        let trouble = live.untrusted.and_then(|(unsigned, foreign, old)| KeyTrouble::of(unsigned, foreign, old));
        match trouble {
            Some(trouble) => Fault::Untrusted { port, trouble },
            None => Fault::Silent { port, heard: live.stranger.map(|(system, ..)| system), noise: bench.noise.get() },
        }
    })
}

/// Refuses where several vehicles answer and none was chosen.
#[must_use]
pub fn several(live: &Live, port: &PortName) -> Option<Fault> {
    let senders: Vec<(u8, u8)> = live.rivals.iter().copied().collect();
    (!senders.is_empty()).then(|| Fault::Several { port: port.to_string(), senders })
}

/// Opens the port, and reads who the board is and all its settings. Sends only requests and heartbeats.
///
/// # Errors
/// No port, no answer, or an incomplete reading.
pub async fn connect(bench: &SessionContext, port: &PortName) -> Result<Connected, Fault> {
    bench.open(port.clone()).await?;
    let heard = bench.until(bench.now() + ALIVE, |b| b.look(|live| live.armed.last())).await;
    let began = match heard {
        None => return Err(nobody(bench, port)),
        Some(flag) if flag.value => return Err(Fault::FoundArmed),
        Some(flag) => flag.at,
    };
    // A board that takes only signed frames says nothing: told at once rather than waited out.
    if bench.look(|live| live.signs) && bench.request(Request::Identify, "asking who the board is").await.is_err() {
        return Err(Fault::Untrusted { port: port.to_string(), trouble: KeyTrouble::Needed });
    }
    let identity = bench.identify().await?;
    bench.request(Request::ListSettings, "reading all settings").await?;
    // Another vehicle shows within its second.
    let several = bench.until(began + RIVAL, |b| b.look(|live| several(live, port))).await;
    if let Some(fault) = several {
        return Err(fault);
    }
    let settings = bench.look(|live| live.settings.clone());
    Ok(Connected { identity, settings })
}

impl SessionContext {
    /// Chooses the sheet that is for this board and takes the facts from it.
    ///
    /// # Errors
    /// None fits, or several do.
    pub fn choose_sheet(&self, sheets: &[Sheet], known: &Connected, craft: &str) -> Result<Sheet, Fault> {
        let sheet = identity::choose(sheets, &known.identity, &known.settings)
            .map_err(|error| Fault::Plan(crate::bench::session::context::capital(&error.to_string())))?
            .clone();
        self.take_facts(craft, &sheet, &known.identity)?;
        Ok(sheet)
    }

    /// Reads the facts of the guards anew from the settings as they are known now.
    ///
    /// # Errors
    /// Settings that hold no binding.
    pub fn take_facts(&self, craft: &str, sheet: &Sheet, identity: &Identity) -> Result<(), Fault> {
        let facts = self
            .look(|live| Facts::read(craft, identity.is_virtual(), sheet, &live.settings))
            .map_err(|error| Fault::Plan(crate::bench::session::context::capital(&error.to_string())))?;
        *self.facts.borrow_mut() = Some(facts);
        self.live.borrow_mut().lacks = MissingCapabilities::of(sheet);
        *self.board_id.borrow_mut() = Some(identity.id.clone());
        if self.sheet.borrow().as_ref().is_none_or(|known| known.hash != sheet.hash) {
            *self.sheet.borrow_mut() = Some(Rc::new(sheet.clone()));
        }
        Ok(())
    }

    /// Starts the streams and waits until the board is seen disarmed and still.
    ///
    /// # Errors
    /// Found armed, or signals missing.
    pub async fn watch_it(&self) -> Result<(), Fault> {
        // Without its outputs a board is never seen still, and so nothing is done at it.
        self.look(|live| guards::given(live, Capability::Outputs))?;
        self.start_streams().await?;
        let began = self.now();
        let seen = self
            .until(began + STILL, |bench| {
                bench.look(|live| {
                    let flag = live.armed.since(began).last()?.value;
                    if flag {
                        return Some(false);
                    }
                    let outputs = live.outputs.since(began).last()?.value;
                    (at_rest(&outputs) && live.seen_still).then_some(true)
                })
            })
            .await;
        match seen {
            Some(true) => {
                self.set_mode(Mode::Still);
                Ok(())
            }
            Some(false) => Err(Fault::FoundArmed),
            None => Err(Fault::refused(
                "The board was not seen disarmed with its motor outputs at rest.",
                "Check that it sends its armed flag and its motor outputs on this link.",
            )),
        }
    }

    /// Opens and locks the craft's record.
    ///
    /// # Errors
    /// Held by another run, or the disk's reason.
    pub async fn open_record(&self, identity: &Identity) -> Result<CraftRecord, Fault> {
        self.act(Effect::OpenRecord(identity.clone()));
        let record = self.until(self.now() + Duration::from_secs(10), |bench| bench.record.borrow_mut().take()).await;
        Ok(record.unwrap_or_else(|| {
            Err(crate::record::RecordError::Other {
                file: "the craft's record".into(),
                cause: "the disk did not answer for 10 s".to_owned(),
            })
        })?)
    }

    /// Shows which board this is.
    pub fn show_board(&self, port: &PortName, known: &Connected) {
        self.show(UiEvent::Board {
            board: if known.identity.kind.is_empty() { "a board".to_owned() } else { known.identity.kind.clone() },
            port: port.to_string(),
            id: known.identity.id.clone(),
            firmware: known.identity.firmware.clone(),
            is_virtual: known.identity.is_virtual(),
            settings: known.settings.len(),
        });
    }
}
