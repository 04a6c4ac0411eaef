//! What a link of one question at a time keeps for its session: requests that ended, and what each frame put out does.
//!
//! Must not be here: what a question is, or when it ends (the links').

use super::signals::{Done, LinkEvent, Outgoing, Stream, Ticket};

/// See the module.
#[derive(Debug, Default)]
pub struct Outbox {
    ended: Vec<(Ticket, Done)>,
    told: Vec<LinkEvent>,
    /// The frames put out since they were last taken: how long each is, and what it does.
    made: Vec<(usize, Outgoing)>,
}

impl Outbox {
    /// A request came to this end; one that nobody asked for has no ticket.
    pub fn end(&mut self, ticket: impl Into<Option<Ticket>>, done: Done) {
        self.ended.extend(ticket.into().map(|ticket| (ticket, done)));
    }

    /// An answer to a signal was none.
    pub fn misread(&mut self, stream: Stream, why: &impl ToString) {
        self.told.push(LinkEvent::Misread { stream, why: why.to_string() });
    }

    /// What a whole answer told.
    pub fn tells(&mut self, told: impl IntoIterator<Item = LinkEvent>) {
        self.told.extend(told);
    }

    /// Whether something ended that was not told yet.
    #[must_use]
    pub fn waits(&self) -> bool {
        !self.ended.is_empty()
    }

    /// Tells what was told, what was not understood, and what ended.
    pub fn tell(&mut self, heard: &mut Vec<LinkEvent>) {
        heard.append(&mut self.told);
        heard.extend(self.ended.drain(..).map(|(ticket, result)| LinkEvent::Done { ticket, result }));
    }

    /// So many bytes were put out, which do this.
    pub fn made(&mut self, length: usize, does: Outgoing) {
        self.made.push((length, does));
    }

    /// Splits what was put out into frames. What nobody made does nothing that is known.
    pub fn frames(&mut self, bytes: &[u8]) -> Vec<(Vec<u8>, Outgoing)> {
        let mut rest = bytes;
        let made = self.made.drain(..).map_while(|(length, does)| {
            let (frame, after) = rest.split_at_checked(length)?;
            rest = after;
            Some((frame.to_vec(), does))
        });
        let mut frames: Vec<_> = made.collect();
        if !rest.is_empty() {
            frames.push((rest.to_vec(), Outgoing::Unknown));
        }
        frames
    }
}
