//! What each field of a sheet reads in a packet, beside the bytes that it reads: for whoever writes the sheet.
//!
//! Must not be here: what is done with it (see `heard`).

use super::PacketSheet;
use super::decode::AnswerPayload;
use super::field::{Field, FieldType};
use super::sheet::Shape;

/// A table of a sheet, read in a packet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Read {
    /// Its header, such as `[packets.armed]`.
    pub table: String,
    /// The payload.
    pub payload: Vec<u8>,
    /// Why the program takes none of it, where its length is another.
    pub unfit: Option<String>,
    /// Its fields, in the order of their places.
    pub fields: Vec<FieldRead>,
}

/// A field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldRead {
    /// Its name.
    pub name: String,
    /// Its first byte.
    pub at: usize,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// What they say; of a signal in its unit as well.
    pub says: String,
}

/// What a packet says by each table of the sheet that it belongs to.
#[must_use]
pub fn reads(sheet: &PacketSheet, id: u16, payload: &[u8]) -> Vec<Read> {
    let exchanges = sheet
        .exchanges
        .iter()
        .filter_map(|(need, exchange)| Some((format!("[packets.{}]", need.key()), exchange.answer.as_ref()?)));
    let said = [("refusal", &sheet.refusal), ("note", &sheet.note), ("banner", &sheet.banner)];
    let said = said.into_iter().filter_map(|(key, shape)| Some((format!("[packets.{key}]"), shape.as_ref()?)));
    let by_words = exchanges.chain(said).filter(|(_, shape)| shape.is(id, payload)).map(|(table, shape)| {
        let fields = shape.fields.iter().map(|(word, field)| (*word, field));
        one(sheet, table, shape, payload, fields.collect())
    });
    let settings = sheet.settings.iter().filter(|packet| packet.answer.is(id, payload)).map(|packet| {
        let fields = packet.fields.iter().map(|(name, field)| (name.as_str(), field)).collect();
        one(sheet, format!("[packets.settings.{}]", packet.key), &packet.answer, payload, fields)
    });
    by_words.chain(settings).collect()
}

fn one(sheet: &PacketSheet, table: String, shape: &Shape, payload: &[u8], mut fields: Vec<(&str, &Field)>) -> Read {
    fields.sort_by_key(|(_, field)| (field.at, field.bits));
    let unfit =
        (!shape.fits(payload)).then(|| format!("it has {} bytes, and the layout {}", payload.len(), shape.length));
    let answer = AnswerPayload { shape, order: sheet.framing.order, payload };
    let read = |(name, field): (&str, &Field)| {
        let end = field.at + field.count_in(payload.len()).saturating_sub(1) * field.every + field.kind.size();
        FieldRead {
            name: name.to_owned(),
            at: field.at,
            bytes: payload.get(field.at..end).unwrap_or_default().to_vec(),
            says: says(answer, name, field).unwrap_or_else(|| "nothing".to_owned()),
        }
    };
    Read { table, payload: payload.to_vec(), fields: fields.into_iter().map(read).collect(), unfit }
}

fn says(answer: AnswerPayload<'_>, name: &str, field: &Field) -> Option<String> {
    let (payload, order) = (answer.payload, answer.order);
    if matches!(field.kind, FieldType::Text | FieldType::Hex) {
        return field.text(payload);
    }
    let numbers =
        (0..field.count_in(payload.len())).map(|index| Some(field.number(payload, order, index)?.to_string()));
    let numbers = numbers.collect::<Option<Vec<String>>>()?.join(" ");
    let unit = match name {
        "pulses" | "pulse" => " us",
        "volts" => " mV",
        "amps" => " mA",
        "roll" | "pitch" | "yaw" => " deg",
        "rpm" => " rpm",
        _ => return Some(numbers),
    };
    let measured: Vec<String> =
        field.all(payload, order)?.iter().map(|one| format!("{}", (one * 100.0).round() / 100.0)).collect();
    let measured = measured.join(" ");
    Some(if measured == numbers { format!("{numbers}{unit}") } else { format!("{numbers}, so {measured}{unit}") })
}
