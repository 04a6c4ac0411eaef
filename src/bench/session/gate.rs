//! The outgoing gate: what may leave in this mode, at this moment.
//!
//! Judged as the bytes leave, since a wait for the disk may lie between. Must not be here: the bytes.

use crate::bench::session::Session;
use crate::board::signals::{Done, Request, Ticket};
use crate::board::value::{Number, SettingName};
use crate::interlock::state::Mode;
use crate::measure::time::Time;

impl Session {
    pub(in crate::bench) fn leave(&mut self, now: Time, ticket: Ticket, request: Request, out: &mut Vec<u8>) {
        if let Err(why) = self.may_leave(now, &request) {
            self.bench.done.borrow_mut().insert(ticket, Done::Refused(why));
            return;
        }
        self.link.send(now, ticket, request, out);
    }

    /// The outgoing gate: what may leave in this mode, at this moment.
    pub(in crate::bench) fn may_leave(&self, now: Time, request: &Request) -> Result<(), String> {
        match request {
            Request::Heartbeat
            | Request::Identify
            | Request::ListSettings
            | Request::ReadSetting(_)
            | Request::Stream(..) => Ok(()),
            _ if self.looks_only => Err("this command only looks".to_owned()),
            Request::WriteSetting(name, to) | Request::WriteUnordered(name, to) => {
                self.may_write(now, Some((name, *to)))
            }
            Request::Store | Request::Restart => self.may_write(now, None),
            Request::RunMotor { .. } | Request::Arm | Request::Disarm { .. } => match *self.bench.mode() {
                Mode::Turning(_) => Ok(()),
                _ => Err("no start was confirmed".to_owned()),
            },
        }
    }

    /// Everything that [`SessionContext::stillness`] asks, judged again as the bytes leave; and no write may put an
    /// arm band over where its channel stands now.
    pub(in crate::bench) fn may_write(&self, now: Time, write: Option<(&SettingName, Number)>) -> Result<(), String> {
        if self.bench.journal_failed.get() {
            return Err("the journal could not be written, so nothing is written to the board".to_owned());
        }
        self.bench.stillness().map_err(|fault| fault.to_string())?;
        match write {
            Some((name, to)) => self.bench.band_stays_clear(now, name, to),
            None => Ok(()),
        }
    }
}
