//! From a port to a board that is known: signs of life, identity, all settings, its sheet, stillness.
//!
//! A board that is found armed may be flying: nothing is sent to it. Must not be here: plans.

use crate::bench::operations::settings::ALIVE;
use crate::bench::session::Inquiry;
use crate::bench::session::context::SessionContext;
use crate::board::identity;
use crate::board::sheet::{Settings, Sheet};
use crate::board::signals::{Identity, Stream};
use crate::interlock::craft::Facts;
use crate::interlock::signals::{STREAM_AGE, Signals};
use crate::language::units::Pulse;
use crate::record::CraftRecord;
use crate::seam::fault::{Fault, KeyTrouble};
use crate::seam::ui::UiEvent;
use crate::seam::{Effect, PortName};
use std::collections::BTreeMap;
use std::rc::Rc;
use std::time::Duration;

/// How long after the first sign of life another vehicle's is awaited: the standard's second and a little.
const RIVAL: Duration = Duration::from_millis(1100);

/// How long the receiver's channels are awaited by whoever only looks.
const RADIO: Duration = Duration::from_secs(1);

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
            None => Fault::Silent { port, heard: live.stranger.map(|(system, ..)| system), noise: bench.news().noise },
        }
    })
}

/// Refuses where several vehicles answer and none was chosen.
#[must_use]
pub fn several(live: &Signals, port: &PortName) -> Option<Fault> {
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
    if bench.look(|live| live.signs) && bench.request(Inquiry::Identify, "asking who the board is").await.is_err() {
        return Err(Fault::Untrusted { port: port.to_string(), trouble: KeyTrouble::Needed });
    }
    let identity = bench.who_is_it(port).await?;
    bench.request(Inquiry::List, "reading all settings").await?;
    // Another vehicle shows within its second.
    let several = bench.until(began + RIVAL, |b| b.look(|live| several(live, port))).await;
    if let Some(fault) = several {
        return Err(fault);
    }
    if identity.name.is_some() {
        // Its name measured nothing: how slow the link is, is measured by the first answer there is.
        bench.prove_link().await?;
    }
    let settings = bench.look(|live| live.settings.clone());
    Ok(Connected { identity, settings })
}

/// The id, or what the craft was called because there is none.
fn said_id(identity: &Identity) -> String {
    let named = |name| format!("none that tells it from others; called {name}, as typed");
    identity.name.as_ref().map_or_else(|| identity.id.clone(), named)
}

impl SessionContext {
    /// Chooses the sheet that is for this board and takes the facts from it.
    ///
    /// # Errors
    /// None fits, or several do.
    pub fn choose_sheet(&self, sheets: &[Sheet], known: &Connected, craft: &str) -> Result<Rc<Sheet>, Fault> {
        let sheet = identity::choose(sheets, &known.identity, &known.settings)
            .map_err(|error| Fault::Plan(crate::bench::session::context::capital(&error.to_string())))?;
        let sheet = Rc::new(sheet.clone());
        self.take_facts(craft, &sheet, &known.identity)?;
        Ok(sheet)
    }

    /// Reads the facts of the guards anew from the settings as they are known now.
    ///
    /// # Errors
    /// Settings that hold no binding.
    pub fn take_facts(&self, craft: &str, sheet: &Rc<Sheet>, identity: &Identity) -> Result<(), Fault> {
        let facts = self
            .look(|live| Facts::read(craft, identity.is_virtual(), sheet, &live.settings))
            .map_err(|error| Fault::Plan(crate::bench::session::context::capital(&error.to_string())))?;
        self.interlock_mut().take_in(identity, sheet, facts);
        Ok(())
    }

    /// Where each channel of the receiver stands now, where that is heard.
    #[must_use]
    pub fn heard_channels(&self) -> BTreeMap<u32, Pulse> {
        let channels = self.look(|live| live.channels.fresh(self.now(), STREAM_AGE));
        let heard = channels.filter(|channels| channels.count > 0).into_iter();
        heard.flat_map(|all| (1..=18).filter_map(move |at| Some((at, all.of(at)?)))).collect()
    }

    /// Asks for the receiver's channels and waits a moment for them; a board that has none goes on without.
    pub async fn listen_to_radio(&self) {
        if self.request(Inquiry::Stream(Stream::Channels, Some(10)), "asking for the channels").await.is_ok() {
            self.until(self.now() + RADIO, |bench| (!bench.heard_channels().is_empty()).then_some(())).await;
        }
    }

    /// Opens and locks the craft's record.
    ///
    /// # Errors
    /// Held by another run, or the disk's reason.
    pub async fn open_record(&self, identity: &Identity) -> Result<CraftRecord, Fault> {
        self.act(Effect::OpenRecord(identity.clone()));
        let record = self.until(self.now() + Duration::from_secs(10), |bench| bench.replies().record.take()).await;
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
            id: said_id(&known.identity),
            firmware: known.identity.firmware.clone(),
            is_virtual: known.identity.is_virtual(),
            settings: known.settings.len(),
        });
    }
}
