//! The `[packets]` table of a sheet: framing, questions, answers and their layouts, all checked as they are read.
//!
//! Promises: a layout that cannot be is refused here, with its place. Must not be here: speaking to a board (see
//! `board::packets`).

mod agree;
mod fields;
mod framing;

use super::super::console::Capability;
use super::super::document::Problem;
use super::super::document::reader::{Node, Reader, Table};
use super::super::packets::field::{Count, Field};
use super::super::packets::framing::Framing;
use super::super::packets::sheet::{Ask, Exchange, PacketSheet, SettingsPacket, Shape};
use super::super::value::SettingName;
use super::console::{exchanges, some, within};
pub use agree::agree;
use fields::{Layout, Word};
use std::collections::BTreeMap;

/// What a need's answer must and may hold.
fn words(need: Capability) -> &'static [Word] {
    match need {
        Capability::Identity => &[fields::ID, fields::KIND, fields::FIRMWARE],
        Capability::Armed => &[fields::ARMED],
        Capability::Channels => &[fields::PULSES, fields::SIGNAL],
        Capability::Outputs => &[fields::PULSES],
        Capability::Attitude => &[fields::ROLL, fields::PITCH, fields::YAW],
        Capability::Power => &[fields::VOLTS, fields::AMPS],
        Capability::Speeds => &[fields::RPM],
        Capability::Store | Capability::Restart | Capability::RunMotor | Capability::Stop => {
            &[fields::REFUSED, fields::WHY]
        }
        Capability::List | Capability::Read | Capability::Write => &[],
    }
}

/// Reads the table, whose header stands at `node`.
pub fn packets(r: &mut Reader<'_>, node: &Node<'_>) -> Option<PacketSheet> {
    let mut t = r.table(node)?;
    let why = "how long an answer takes at most: 10 ms to 5 s";
    let answer_within = t.need(r, "answer-within", why).and_then(|n| within(r, &n));
    let at_once = t.take("at-once").map_or(Some(1), |n| r.whole(&n, 1, 8));
    let why = "how a packet stands on the wire: start bytes and a length, or byte stuffing";
    let framing = t.need(r, "framing", why).and_then(|n| framing::framing(r, &n));
    // Without a framing the rest is read all the same, so that one fault hides no other.
    let by = framing.clone().unwrap_or_else(framing::any);
    let has = |need| !matches!(need, Capability::List | Capability::Read | Capability::Write);
    let exchanges = exchanges(r, &mut t, has, |r, node, need| exchange(r, node, need, &by));
    let why = "the packets that hold the board's settings, each a table of its own";
    let settings = t.need(r, "settings", why).and_then(|n| settings(r, &n, &by));
    let refusal = t.take("refusal").map(|n| said(r, &n, &by, &[fields::ASKED, fields::WHY]));
    let unasked = t.take("note").map(|n| said(r, &n, &by, &[fields::TEXT]));
    let banner = t.take("banner").map(|n| said(r, &n, &by, &[]));
    t.done(r);
    Some(PacketSheet {
        framing: framing?,
        answer_within: answer_within?,
        at_once: usize::try_from(at_once?).ok()?,
        exchanges: exchanges?,
        settings: settings?,
        refusal: some(refusal)?,
        note: some(unasked)?,
        banner: some(banner)?,
    })
}

fn exchange(r: &mut Reader<'_>, node: &Node<'_>, need: Capability, framing: &Framing) -> Option<Exchange> {
    let mut t = r.table(node)?;
    let unasked = match need.stream() {
        Some(_) => t.take("unasked").map_or(Some(false), |n| r.boolean(&n)),
        None => Some(false),
    };
    let why = "the id of the packet that asks for it";
    let ask_at = if unasked == Some(true) { t.take("ask") } else { t.need(r, "ask", why) };
    let asks = ask_at.is_some() || unasked != Some(true);
    let ask = ask_at.and_then(|n| ask_of(r, &n, &mut t, framing));
    let put = match (need, &ask) {
        (Capability::RunMotor, Some(ask)) => run(r, &mut t, ask, framing),
        _ => Some(BTreeMap::new()),
    };
    // A command may be one that nothing answers; a reading never is.
    let silent = !words(need).iter().any(|word| word.needed);
    let answer_at = if silent { t.take("answer") } else { t.need(r, "answer", "the id of the packet that answers") };
    let answers = answer_at.is_some();
    let answer = answer_at.and_then(|n| shape(r, &n, &mut t, framing, Layout::Words(words(need))));
    t.done(r);
    if asks && ask.is_none() || answers && answer.is_none() || !answers && !silent {
        return None;
    }
    Some(Exchange { ask, put: put?, answer, unasked: unasked? })
}

/// An id, and the payload of a question, from `payload`.
fn ask_of(r: &mut Reader<'_>, node: &Node<'_>, t: &mut Table<'_>, framing: &Framing) -> Option<Ask> {
    let id = framing::id(r, node, framing);
    let payload = t.take("payload").map_or(Some(Vec::new()), |n| framing::bytes(r, &n, 0, framing.most));
    Some(Ask { id: id?, payload: payload? })
}

/// What a motor run's question is made of: motor, pulse and limit, put into as many bytes as they take.
fn run(r: &mut Reader<'_>, t: &mut Table<'_>, ask: &Ask, framing: &Framing) -> Option<BTreeMap<&'static str, Field>> {
    let node = t.need(r, "put", "where motor, pulse and ms stand in the packet that is sent")?;
    let words = &[fields::MOTOR, fields::PULSE, fields::MS];
    let read = fields::table(r, &node, words)?;
    fields::placed(r, &read, ask.payload.len(), framing, &node).then(|| fields::by_word(words, read))
}

/// A packet of the board's: its id at `node`, and `begins`, `length`, `longer` and the fields beside it.
fn shape(r: &mut Reader<'_>, node: &Node<'_>, t: &mut Table<'_>, framing: &Framing, layout: Layout) -> Option<Shape> {
    let id = framing::id(r, node, framing);
    let begins = t.take("begins").map_or(Some(Vec::new()), |n| framing::bytes(r, &n, 1, framing.most));
    let longer = t.take("longer").map_or(Some(false), |n| r.boolean(&n));
    let most = i64::try_from(framing.most).unwrap_or(i64::MAX);
    let length_at = t.take("length");
    let length = length_at.as_ref().map(|n| r.whole(n, 0, most).and_then(|length| usize::try_from(length).ok()));
    let (words, read): (&[Word], _) = match layout {
        Layout::Words(words) => {
            let needed = words.iter().any(|word| word.needed);
            let why = "where in the payload each value stands";
            let node = if needed { t.need(r, "fields", why) } else { t.take("fields") };
            match node {
                Some(node) => (words, fields::table(r, &node, words)?),
                None if needed => return None,
                None => (words, Vec::new()),
            }
        }
        // By their own names, which the packet of settings keeps.
        Layout::Given(given) => (&[], given),
    };
    let begins = begins?;
    let ends = read.iter().map(|(_, field, _)| field.end()).chain([begins.len()]).max().unwrap_or(0);
    let length = some(length)?.unwrap_or(ends);
    let at = length_at.as_ref().unwrap_or(node);
    let mut placed = fields::placed(r, &read, length, framing, at);
    if length > framing.most {
        r.note(
            at.span().start,
            fields::bad(
                &at.path,
                format!("a payload of {length} bytes is longer than the framing's `most`, {}", framing.most),
                "make `most` larger, or the layout shorter",
            ),
        );
        placed = false;
    }
    let rest = read.iter().any(|(_, field, _)| field.count == Count::Rest);
    // What goes on to the payload's end may be longer by that alone.
    let shape = Shape { id: id?, begins, length, longer: longer? || rest, fields: fields::by_word(words, read) };
    placed.then_some(shape)
}

/// A packet that the board sends unasked.
fn said(r: &mut Reader<'_>, node: &Node<'_>, framing: &Framing, words: &'static [Word]) -> Option<Shape> {
    let mut t = r.table(node)?;
    let id = t.need(r, "id", "the id of the packet");
    let shape = id.and_then(|n| shape(r, &n, &mut t, framing, Layout::Words(words)));
    t.done(r);
    // What it says may be shorter or longer than the last time.
    shape.map(|shape| Shape { longer: true, ..shape })
}

fn settings(r: &mut Reader<'_>, node: &Node<'_>, framing: &Framing) -> Option<Vec<SettingsPacket>> {
    let mut t = r.table(node)?;
    let mut all = Some(Vec::new());
    let mut given: BTreeMap<SettingName, String> = BTreeMap::new();
    for (key, node) in t.rest() {
        match (settings_packet(r, &key, &node, framing, &mut given), &mut all) {
            (Some(packet), Some(all)) => all.push(packet),
            _ => all = None,
        }
    }
    if all.as_ref().is_some_and(Vec::is_empty) {
        let why = "the packets that hold the board's settings, each a table of its own";
        r.note(node.key_span.start, Problem::MissingKey { key: "packets.settings".to_owned(), why });
        return None;
    }
    all
}

fn settings_packet(
    r: &mut Reader<'_>,
    key: &str,
    node: &Node<'_>,
    framing: &Framing,
    given: &mut BTreeMap<SettingName, String>,
) -> Option<SettingsPacket> {
    let mut t = r.table(node)?;
    let ask = t.need(r, "ask", "the id of the packet that asks for these settings");
    let ask = ask.and_then(|n| ask_of(r, &n, &mut t, framing));
    let read = t.need(r, "fields", "where in the payload each setting stands");
    let read = read.and_then(|n| fields::settings(r, &n, &mut t));
    let write = t.take("write");
    let written = t.take("written").map(|n| {
        let id = framing::id(r, &n, framing)?;
        Some(Shape { id, begins: Vec::new(), length: 0, longer: true, fields: BTreeMap::new() })
    });
    let write = write.map(|n| framing::id(r, &n, framing));
    let read = read?;
    let mut named = Vec::new();
    for (name, field, at) in &read {
        let Some(setting) = SettingName::new(name) else {
            r.note(*at, Problem::NotAName { found: name.clone() });
            continue;
        };
        if let Some(first) = given.insert(setting.clone(), key.to_owned()) {
            let cause = format!("{setting} stands in [packets.settings.{first}] too");
            r.note(*at, fields::bad(&node.path, cause, "a setting stands in one packet alone: leave one of them out"));
        }
        named.push((setting, field.clone()));
    }
    let answer = t.need(r, "answer", "the id of the packet that holds these settings");
    let answer = answer.and_then(|n| shape(r, &n, &mut t, framing, Layout::Given(read)));
    t.done(r);
    let answer = Shape { fields: BTreeMap::new(), ..answer? };
    Some(SettingsPacket {
        key: key.to_owned(),
        ask: ask?,
        answer,
        fields: named,
        write: some(write)?,
        written: some(written)?,
    })
}
