//! What a sheet reads in what a board says: each setting as it was read, and each answer's bytes, field by field.
//!
//! Promises: a value stands beside the bytes that it was read from, so that a field of the wrong place, type or step is seen;
//! what came from a board or a document passes the gate. Must not be here: reading.

use super::gate;
use crate::board::convert;
use crate::board::packets::PacketSheet;
use crate::board::packets::misfit;
use crate::board::packets::reads::{FieldRead, Read, reads};
use crate::board::packets::splitter::{Found, Splitter};
use crate::board::sheet::{Settings, Sheet};
use crate::board::value::SettingName;
use std::fmt::Write as _;

/// Lines of a console that are shown at most, the last that came.
const LINES: usize = 400;

/// Every setting that was read, as the sheet takes it; of packets beside its bytes.
pub fn settings(sheet: &Sheet, settings: &Settings, came: &[u8]) -> String {
    let mut text = "Settings as they were read:\n".to_owned();
    if settings.is_empty() {
        return String::new();
    }
    let Some(packets) = sheet.packets() else {
        for (name, number) in settings {
            if let Some(word) = word(sheet, name, settings) {
                // Writing into a string cannot fail.
                let _ = writeln!(text, "  {} is {number}{word}", gate::line(name.as_str()));
            }
        }
        return text + "\n";
    };
    for read in last(packets, came).iter().filter(|read| read.table.starts_with("[packets.settings.")) {
        text.push_str(&table(read, |field| {
            SettingName::new(&field.name).and_then(|name| word(sheet, &name, settings)).unwrap_or_default()
        }));
        let begins = packets.settings.iter().find(|packet| read.table.ends_with(&format!(".{}]", packet.key)));
        let begins = begins.map_or(0, |packet| packet.answer.begins.len());
        let held = |at: &usize| read.fields.iter().any(|field| (field.at..field.at + field.bytes.len()).contains(at));
        let bare: Vec<String> = (begins..read.payload.len()).filter(|at| !held(at)).map(|at| at.to_string()).collect();
        if !bare.is_empty() {
            let _ = writeln!(text, "    in no field: byte {}", bare.join(", "));
        }
    }
    text + "\n"
}

/// What a setting is to a recipe.
fn word(sheet: &Sheet, name: &SettingName, settings: &Settings) -> Option<String> {
    let (word, entry) = sheet.settings.iter().find(|(_, entry)| entry.name == *name)?;
    let shown = convert::show(entry, *settings.get(name)?);
    Some(format!("   {word} {}", gate::line(&shown)))
}

/// Each answer that came last by its table: its bytes, and what each field reads there. Of a console, its lines.
pub fn answers(sheet: &Sheet, came: &[u8]) -> String {
    let Some(packets) = sheet.packets() else {
        if sheet.console().is_none() {
            return "Frames of MAVLink are read as the standard says: no field of them is the sheet's.\n\n".to_owned();
        }
        let said = String::from_utf8_lossy(came);
        let lines: Vec<&str> = said.lines().collect();
        let shown = lines.iter().skip(lines.len().saturating_sub(LINES));
        let shown: Vec<String> = shown.map(|line| format!("  {}\n", gate::line(line))).collect();
        return format!("What the board said:\n{}\n", shown.concat());
    };
    let mut text = "What each answer held:\n".to_owned();
    for read in last(packets, came).iter().filter(|read| !read.table.starts_with("[packets.settings.")) {
        text.push_str(&table(read, |_| String::new()));
    }
    text + "\n"
}

/// Why what came is none of the sheet's packets, where that can be told.
pub fn misfit(sheet: &Sheet, came: &[u8]) -> Option<String> {
    let framing = &sheet.packets()?.framing;
    misfit::misfit(framing, came).map(|misfit| misfit.words(framing))
}

/// A table of the sheet, read in a packet; `more` stands behind a field.
pub fn table(read: &Read, more: impl Fn(&FieldRead) -> String) -> String {
    let mut text = format!("  {}  {}\n", gate::line(&read.table), raw(&read.payload));
    if let Some(why) = &read.unfit {
        let _ = writeln!(text, "    NOT READ: {why}");
    }
    let wide = read.fields.iter().map(|field| field.name.len()).max().unwrap_or(0);
    for field in &read.fields {
        let bytes: Vec<String> = field.bytes.iter().map(|byte| format!("{byte:02x}")).collect();
        let (name, says) = (gate::line(&field.name), gate::line(&field.says));
        let _ = writeln!(text, "    {name:wide$}  at {:<3} {}  {says}{}", field.at, bytes.join(" "), more(field));
    }
    text
}

/// What came last by each table.
fn last(packets: &PacketSheet, came: &[u8]) -> Vec<Read> {
    let (mut splitter, mut found) = (Splitter::new(packets.framing.clone()), Vec::new());
    splitter.feed(came, &mut found);
    let mut all: Vec<Read> = Vec::new();
    for packet in found {
        let Found::Packet(packet, _) = packet else { continue };
        for read in reads(packets, packet.id, &packet.payload) {
            match all.iter_mut().find(|known| known.table == read.table) {
                Some(known) => *known = read,
                None => all.push(read),
            }
        }
    }
    all
}

/// Bytes in hexadecimal, and what of them is printable.
pub(super) fn raw(bytes: &[u8]) -> String {
    let digits: Vec<String> = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
    let shown = |byte: &u8| if byte.is_ascii_graphic() || *byte == b' ' { char::from(*byte) } else { '.' };
    let text: String = bytes.iter().map(shown).collect();
    if bytes.is_empty() { "-".to_owned() } else { format!("{}  {text}", digits.join(" ")) }
}
