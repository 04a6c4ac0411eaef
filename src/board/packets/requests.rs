//! Requests to questions: what each asks the board, or why it is refused before anything is sent.
//!
//! Promises: a value that its field cannot hold, and a motor run outside of its bounds, are never put into a packet. Must
//! not be here: when a question leaves.

use super::super::console::Capability;
use super::super::motor_run::BoundedRun;
use super::super::polled;
use super::super::refusal::Common;
use super::super::signals::{Done, Request, Ticket};
use super::super::value::{Number, SettingName};
use super::link::PacketLink;
use super::question::{Change, Purpose, Question};
use super::refusal::Refusal;

/// The tables of the sheet.
const LINK: &str = "packets";

impl PacketLink {
    pub(super) fn request(&mut self, ticket: Ticket, request: &Request) -> Result<(), Refusal> {
        match request {
            // The flag is asked for all along.
            Request::Heartbeat | Request::ArmedFlag => self.outbox.end(ticket, Done::Ok),
            Request::Stream(stream, hertz) => {
                self.polls.request((*stream, *hertz), self.sheet.gives(*stream), LINK)?;
                self.outbox.end(ticket, Done::Ok);
            }
            Request::ListSettings => {
                if self.listing.is_some() {
                    return Err(Common::ListBusy.into());
                }
                self.listing = Some((ticket, self.sheet.settings.len()));
                for place in 0..self.sheet.settings.len() {
                    self.ask_packet(Purpose::Part(ticket, place), place);
                }
            }
            Request::ReadSetting(name) => {
                let (place, _) = self.sheet.setting(name).ok_or_else(|| Refusal::Unknown(name.clone()))?;
                self.ask_packet(Purpose::Read(ticket, place), place);
            }
            Request::WriteSetting(name, value) | Request::WriteUnordered(name, value) => {
                let change = self.change(ticket, name, *value)?;
                let place = change.packet;
                self.ask_packet(Purpose::Before(change), place);
            }
            Request::Identify => self.ask(Purpose::Identify(ticket), Capability::Identity)?,
            Request::Store => self.ask(Purpose::Store(ticket), Capability::Store)?,
            Request::Restart => self.ask(Purpose::Restart(ticket), Capability::Restart)?,
            Request::Disarm { .. } => self.ask(Purpose::Disarm(ticket), Capability::Stop)?,
            Request::RunMotor { motor, pulse, lease_ms } => {
                let (id, payload) = self.run(BoundedRun::new(*motor, *pulse, *lease_ms).map_err(Common::from)?)?;
                self.queue.push_front(Question::new(Purpose::Run(ticket), id, payload));
            }
        }
        Ok(())
    }

    fn change(&self, ticket: Ticket, name: &SettingName, value: Number) -> Result<Change, Refusal> {
        if !self.listed {
            return Err(Common::NotListed.into());
        }
        let (place, field) = self.sheet.setting(name).ok_or_else(|| Refusal::Unknown(name.clone()))?;
        let packet = &self.sheet.settings[place];
        if packet.write.is_none() {
            return Err(Refusal::NotWritable { name: name.clone(), packet: packet.key.clone() });
        }
        let unfit = || Refusal::DoesNotFit { name: name.clone(), value };
        let value = polled::as_held(value, field.kind.is_whole()).ok_or_else(unfit)?;
        let mut room = vec![0; packet.answer.length];
        if !field.put(&mut room, self.sheet.framing.order, value) {
            return Err(unfit());
        }
        Ok(Change { ticket, name: name.clone(), value, packet: place })
    }

    fn ask_packet(&mut self, what: Purpose, place: usize) {
        let ask = &self.sheet.settings[place].ask;
        let (id, payload) = (ask.id, ask.payload.clone());
        self.queue.push_back(Question::new(what, id, payload));
    }

    /// Puts a question of a need into the queue.
    fn ask(&mut self, what: Purpose, need: Capability) -> Result<(), Refusal> {
        let (id, payload) = self.packet_of(need)?;
        let question = Question::new(what, id, payload);
        if question.what.urgent() {
            self.queue.push_front(question);
        } else {
            self.queue.push_back(question);
        }
        Ok(())
    }

    pub(super) fn packet_of(&self, need: Capability) -> Result<(u16, Vec<u8>), Refusal> {
        let ask = self.sheet.exchange(need).and_then(|exchange| exchange.ask.as_ref());
        ask.map(|ask| (ask.id, ask.payload.clone())).ok_or_else(|| Common::NotGiven { link: LINK, need }.into())
    }

    fn run(&self, run: BoundedRun) -> Result<(u16, Vec<u8>), Refusal> {
        let (id, mut payload) = self.packet_of(Capability::RunMotor)?;
        let put = self.sheet.exchange(Capability::RunMotor).map(|exchange| &exchange.put);
        #[expect(clippy::cast_precision_loss, reason = "bounded to seconds")]
        let lease = run.lease().as_micros() as f64;
        for (word, measure) in [("motor", f64::from(run.motor())), ("pulse", f64::from(run.pulse())), ("ms", lease)] {
            let field = put.and_then(|put| put.get(word));
            if !field.is_some_and(|field| field.put_measure(&mut payload, self.sheet.framing.order, measure)) {
                return Err(Refusal::Unreadable("[packets.run-motor]".to_owned()));
            }
        }
        Ok((id, payload))
    }
}
