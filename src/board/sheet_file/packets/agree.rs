//! Packets held against each other and against the rest of their sheet: ids used for two things, names that stand nowhere.
//!
//! Must not be here: what one table says by itself.

use super::super::super::console::Capability;
use super::super::super::document::reader::Reader;
use super::super::super::packets::sheet::{LONGEST_STOP, PacketSheet, Shape};
use super::super::super::value::SettingName;
use super::fields::bad;
use crate::measure::nearest::nearest;
use std::collections::BTreeMap;

/// A packet to send: its id, with what its payload begins, whether that is all of it, and what it does.
struct Sent<'s> {
    id: u16,
    begins: &'s [u8],
    whole: bool,
    table: String,
    /// Two readings may ask by one packet, and be told by one answer.
    reads: bool,
}

/// Holds packets against the rest of their sheet.
pub fn agree(r: &mut Reader<'_>, packets: &PacketSheet, table: usize, names: &BTreeMap<SettingName, usize>) {
    let mut told: Vec<usize> = Vec::new();
    for (name, at) in names {
        // The pattern of many rows is one place.
        if packets.setting(name).is_none() && !told.contains(at) {
            told.push(*at);
            let near = nearest(name.as_str(), packets.names().map(SettingName::as_str));
            let hint = match near {
                Some(near) => format!("did you mean {near}?"),
                None => "give it a field in one of the tables under [packets.settings]".to_owned(),
            };
            r.note(*at, bad("packets.settings", format!("no packet has a field {name}"), hint));
        }
    }
    sent_apart(r, packets, table);
    heard_apart(r, packets, table);
    stop_fits(r, packets, table);
}

/// A stop follows whatever was left half sent: it has to outlast the longest packet, and to leave at once.
fn stop_fits(r: &mut Reader<'_>, packets: &PacketSheet, at: usize) {
    let row = packets.stop_row().unwrap_or_default().len();
    if row > LONGEST_STOP {
        let (length, table) = packets.longest_sent();
        let cause = format!(
            "a packet of {table}, with its payload of {length} bytes, may be left half sent, and the stop that outlasts it \
             takes {row} bytes; {LONGEST_STOP} leave at once"
        );
        let hint = "leave `write` of that packet out, or [packets.stop] and [motor-run]: then no motor is turned";
        r.note(at, bad("packets.stop", cause, hint));
    }
}

const APART: &str = "a packet means one thing: give them other ids, or bytes by which they are told apart";

fn sent_apart(r: &mut Reader<'_>, packets: &PacketSheet, at: usize) {
    let mut sent: Vec<Sent<'_>> = Vec::new();
    for (need, exchange) in &packets.exchanges {
        let Some(ask) = &exchange.ask else { continue };
        let (whole, begins) = (*need != Capability::RunMotor, &ask.payload[..]);
        let begins = if whole { begins } else { &[] };
        let reads = need.stream().is_some();
        sent.push(Sent { id: ask.id, begins, whole, table: format!("[packets.{}]", need.key()), reads });
    }
    for packet in &packets.settings {
        let table = format!("[packets.settings.{}]", packet.key);
        let ask = &packet.ask;
        sent.push(Sent { id: ask.id, begins: &ask.payload, whole: true, table: table.clone(), reads: false });
        if let Some(id) = packet.write {
            let table = format!("the write of {table}");
            sent.push(Sent { id, begins: &packet.answer.begins, whole: false, table, reads: false });
        }
    }
    for (place, one) in sent.iter().enumerate() {
        for other in &sent[..place] {
            let alike = match (one.whole, other.whole) {
                (true, true) => one.begins == other.begins,
                (true, false) => one.begins.starts_with(other.begins),
                (false, true) => other.begins.starts_with(one.begins),
                (false, false) => one.begins.starts_with(other.begins) || other.begins.starts_with(one.begins),
            };
            if one.id == other.id && alike && !(one.reads && other.reads) {
                let cause = format!("packet {:#04x} is sent for {} and for {}", one.id, other.table, one.table);
                r.note(at, bad("packets", cause, APART));
            }
        }
    }
}

fn heard_apart(r: &mut Reader<'_>, packets: &PacketSheet, at: usize) {
    let mut heard: Vec<(&Shape, String, bool)> = Vec::new();
    for (need, exchange) in &packets.exchanges {
        let readings = need.stream().is_some();
        heard.extend(exchange.answer.as_ref().map(|shape| (shape, format!("[packets.{}]", need.key()), readings)));
    }
    for packet in &packets.settings {
        heard.push((&packet.answer, format!("[packets.settings.{}]", packet.key), false));
    }
    let unasked = [("refusal", &packets.refusal), ("note", &packets.note), ("banner", &packets.banner)];
    heard.extend(
        unasked.into_iter().filter_map(|(key, shape)| Some((shape.as_ref()?, format!("[packets.{key}]"), false))),
    );
    for (place, (one, table, reads)) in heard.iter().enumerate() {
        for (other, first, others_read) in &heard[..place] {
            let alike = one.begins.starts_with(&other.begins) || other.begins.starts_with(&one.begins);
            // Commands may share an acknowledgement: one of them is under way at a time.
            let acks = one.fields.keys().chain(other.fields.keys()).all(|word| matches!(*word, "refused" | "why"));
            let commands =
                acks && !table.contains("settings") && !first.contains("settings") && one.length == other.length;
            let unasked = ["note", "banner", "refusal"].iter().any(|key| table.contains(key));
            if one.id == other.id && alike && !(*reads && *others_read) && (!commands || unasked) {
                let cause = format!("packet {:#04x} from the board stands in {first} and in {table}", one.id);
                r.note(at, bad("packets", cause, APART));
            }
        }
    }
}
