//! The very messages that would change a board, for those who want to see the wire.
//!
//! Promises: made by the link itself, from the plan's own steps; nothing is sent. Must not be here:
//! what the messages mean.

use crate::board::signals::{Link, Request};
use crate::language::canonical::hex;
use crate::plan::step::{Action, Plan, Write};
use serde::Serialize;
use std::fmt::Write as _;

/// One message.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Message {
    /// The step that it belongs to.
    pub step: usize,
    /// What it does, in words.
    pub what: String,
    /// Its bytes as hex, or why it could not be sent.
    pub bytes: String,
}

/// The messages of a plan, in order. Steps that wait for the bench have none yet.
#[must_use]
pub fn messages(plan: &Plan, link: &dyn Link) -> Vec<Message> {
    let mut all = Vec::new();
    for step in &plan.steps {
        let mut add = |what: String, request: &Request| {
            let bytes = link.preview(request).map_or_else(|why| why, |bytes| hex(&bytes));
            all.push(Message { step: step.number, what, bytes });
        };
        match &step.act {
            Action::Write(writes) => writes.iter().for_each(|write| add(words(write), &request(write))),
            Action::Store => add("store".to_owned(), &Request::Store),
            Action::Restart { .. } => add("restart".to_owned(), &Request::Restart),
            _ => {}
        }
    }
    all
}

/// As text, under a heading of its own.
#[must_use]
pub fn text(messages: &[Message]) -> String {
    let mut text = String::from("\nOn the wire, the first time each is sent (the sequence number counts on):\n\n");
    if messages.is_empty() {
        text.push_str("  nothing\n");
    }
    for message in messages {
        // Writing into a string cannot fail.
        let _ = writeln!(text, "  step {:<3} {}\n           {}", message.step, message.what, message.bytes);
    }
    text
}

fn words(write: &Write) -> String {
    format!("write {} = {}", write.name, write.to)
}

fn request(write: &Write) -> Request {
    Request::WriteSetting(write.name.clone(), write.to)
}
