//! The strict reader of board sheets: TOML to a [`Sheet`] that holds what it promises.
//!
//! Every key is known, of its type and in range, or the sheet is refused with all that is wrong
//! with it. Must not be here: what a recipe needs of a sheet, and writing sheets.

mod binding;
mod console;
mod entry;
mod motors;
mod packets;

use super::console::Capability;
use super::document::load::{self, LoadError};
use super::document::names::{PLAIN_RULE, is_plain};
use super::document::reader::{Node, Reader, Table, document, escaped};
use super::document::{DocumentError, Problem};
use super::sheet::{LinkKind, MotorRun, SettingEntry, Sheet};
use super::value::SettingName;
use super::vocabulary::{self, WORDS};
use crate::language::canonical::sha256;
use crate::language::recipe::Stick;
use crate::language::units::{Pulse, Quantity};
use crate::measure::nearest::nearest;
use std::collections::BTreeMap;
use std::path::Path;
use std::time::Duration;

/// Loads a sheet from a file.
///
/// # Errors
/// A file that cannot be read, or everything that is wrong with the sheet.
pub fn load(path: &Path) -> Result<Sheet, LoadError> {
    Ok(read(&path.display().to_string(), &load::text(path)?)?)
}

/// Reads a sheet; `origin` is its name in messages.
///
/// # Errors
/// Everything that is wrong with it, each with its place.
pub fn read(origin: &str, text: &str) -> Result<Sheet, DocumentError> {
    let mut sheet = document(origin, text, sheet)?;
    origin.clone_into(&mut sheet.origin);
    sheet.hash = sha256(text);
    sheet.text = std::sync::Arc::from(text);
    Ok(sheet)
}

// Every part is read before any `?`, so that one fault hides no other.
fn sheet(r: &mut Reader<'_>, mut top: Table<'_>) -> Option<Sheet> {
    edition(r, &mut top);
    let board = top.need(r, "board", "").and_then(|n| r.name(&n, "a board's name", is_plain, PLAIN_RULE));
    let link = top.need(r, "link", "");
    let spoken = link.as_ref().and_then(|n| r.one_of(n, &Spoken::ALL));
    let console =
        described(r, &mut top, "console", (spoken, Spoken::Console), CONSOLE).map(|n| console::console(r, &n));
    let packets_at = described(r, &mut top, "packets", (spoken, Spoken::Packets), PACKETS);
    let packets = packets_at.as_ref().map(|n| packets::packets(r, n));
    let identity = part(r, &mut top, "identity").map(|t| identity(r, t));
    let usb = part(r, &mut top, "usb").and_then(|t| usb(r, t));
    let arming = part(r, &mut top, "arming").and_then(|t| arming(r, t));
    let storing = part(r, &mut top, "storing").and_then(|t| storing(r, t));
    let run = top.take("motor-run");
    let run_at = run.as_ref().map(|n| n.key_span.start);
    let run = run.map(|n| r.table(&n).and_then(|t| motor_run(r, t, spoken)));
    let motors = part(r, &mut top, "motors").and_then(|t| motors::motors(r, t));
    let order = top.take("channel-order");
    let order_at = order.as_ref().map(|n| n.key_span.start);
    let channel_order = order.map(|n| channel_order(r, &n));
    let mut names = Names::default();
    let settings = part(r, &mut top, "settings").map(|t| settings(r, t, &mut names));
    let sticks = Stick::ALL.map(Stick::channel_word);
    if let (Some(at), Some(settings)) = (order_at, &settings)
        && let Some(word) = sticks.into_iter().find(|word| settings.contains_key(word.word()))
    {
        r.note(at, Problem::Conflict { key: format!("settings.{word}"), other: "channel-order".to_owned() });
    }
    let raw = top.take("raw").map(|n| r.table(&n).map(|t| raw(r, t, &mut names)));
    let binding = part(r, &mut top, "binding").and_then(|t| binding::binding(r, t));
    let by_motor = motors.iter().flat_map(|motors| &motors.names);
    for (at, name, who) in binding.iter().flat_map(|read| &read.names).chain(by_motor) {
        names.claim(r, *at, name, who);
    }
    top.done(r);
    let speeds = motors.as_ref().map(|motors| (motors.telemetry_at, motors.telemetry));
    if let Some(Some(console)) = &console {
        promised(r, ("console", &|need| console.exchange(need).is_some()), speeds, run_at);
        console::agree(r, &names.places);
    }
    if let (Some(Some(packets)), Some(at)) = (&packets, &packets_at) {
        promised(r, ("packets", &|need| packets.provides(need)), speeds, run_at);
        packets::agree(r, packets, at.key_span.start, &names.places);
    }

    let (kind, must_have) = identity?;
    let link = match spoken? {
        Spoken::Mavlink => LinkKind::Mavlink,
        Spoken::Console => {
            let mut console = console??;
            console.names = names.places.into_keys().chain(must_have.iter().cloned()).collect();
            LinkKind::Console(Box::new(console))
        }
        Spoken::Packets => LinkKind::Packets(Box::new(packets??)),
    };
    let (usb_feeds_receiver, usb_feeds_motors) = usb?;
    let (arming, storing, motors) = (arming?, storing?, motors?);
    Some(Sheet {
        board: board?,
        origin: String::new(),
        hash: String::new(),
        text: std::sync::Arc::from(""),
        link,
        kind,
        must_have,
        usb_feeds_receiver,
        usb_feeds_motors,
        throttle_below: arming.throttle_below,
        sticks_can_arm: arming.sticks,
        arms_on_usb: arming.on_usb,
        motors_sound_buzzer: arming.motors_sound,
        stores_at_once: storing.0,
        store_restarts: storing.1,
        motor_run: run.flatten(),
        corners: motors.corners,
        turning: motors.turning,
        order: motors.order,
        reversal: motors.reversal,
        kv: motors.kv,
        most_current: motors.most_current,
        speed_telemetry: motors.telemetry,
        channel_order: match channel_order {
            Some(order) => Some(order?),
            None => None,
        },
        settings: settings?,
        raw: raw.flatten().unwrap_or_default().into_iter().chain(motors.entries).collect(),
        binding: binding?.binding,
    })
}

/// What the rest of a sheet promises its link has to give: `speeds` is place and value of `motors.speed-telemetry`,
/// `motor_run` the place of that table.
fn promised(
    r: &mut Reader<'_>,
    (link, gives): (&'static str, &dyn Fn(Capability) -> bool),
    speeds: Option<(usize, bool)>,
    motor_run: Option<usize>,
) {
    let speeds = speeds.filter(|(_, told)| *told).map(|(at, _)| ("motors.speed-telemetry", Capability::Speeds, at));
    let run = motor_run.map(|at| [Capability::RunMotor, Capability::Stop].map(|need| ("motor-run", need, at)));
    for (key, need, at) in speeds.into_iter().chain(run.into_iter().flatten()) {
        if !gives(need) {
            r.note(at, Problem::NotInConsole { key: key.to_owned(), link, need: need.key() });
        }
    }
}

/// `edition = 1`, in sheets and cards alike.
pub(super) fn edition(r: &mut Reader<'_>, top: &mut Table<'_>) {
    if let Some(node) = top.need(r, "edition", "write `edition = 1`: the form that this document has") {
        let found = r.whole(&node, 0, i64::MAX);
        if let Some(found) = found.filter(|edition| *edition != 1) {
            r.note(node.span().start, Problem::UnknownEdition { found });
        }
    }
}

/// The sticks of the first four channels, each once.
fn channel_order(r: &mut Reader<'_>, node: &Node<'_>) -> Option<[Stick; 4]> {
    let sticks = Stick::ALL.map(|stick| (stick.word(), stick));
    let mut order: Vec<Stick> = Vec::new();
    for item in r.list(node, 4, 4)? {
        let stick = r.one_of(&item, &sticks)?;
        if order.contains(&stick) {
            r.note(
                item.span().start,
                Problem::Twice { key: item.path.clone(), found: format!("\"{}\"", stick.word()) },
            );
            return None;
        }
        order.push(stick);
    }
    order.try_into().ok()
}

/// The links that a sheet can name.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Spoken {
    Mavlink,
    Console,
    Packets,
}

impl Spoken {
    const ALL: [(&'static str, Self); 3] =
        [("mavlink", Self::Mavlink), ("console", Self::Console), ("packets", Self::Packets)];

    fn word(self) -> &'static str {
        Self::ALL.iter().find(|(_, spoken)| *spoken == self).map_or("", |(word, _)| word)
    }
}

const CONSOLE: &str = "a console is described by its prompt, and a line and an answer for each need";
const PACKETS: &str = "packets are described by their framing, and a question and a layout for each need";

/// The table that describes a link: there exactly where the link is that one.
fn described<'d>(
    r: &mut Reader<'_>,
    top: &mut Table<'d>,
    key: &'static str,
    (spoken, of): (Option<Spoken>, Spoken),
    why: &'static str,
) -> Option<Node<'d>> {
    let node = if spoken == Some(of) { top.need(r, key, why) } else { top.take(key) }?;
    if let Some(other) = spoken.filter(|spoken| *spoken != of) {
        let problem = Problem::Conflict { key: key.to_owned(), other: format!("link = \"{}\"", other.word()) };
        r.note(node.key_span.start, problem);
    }
    Some(node)
}

fn part<'d>(r: &mut Reader<'_>, top: &mut Table<'d>, key: &'static str) -> Option<Table<'d>> {
    let node = top.need(r, key, "a sheet that leaves it out would leave a guard without its facts")?;
    r.table(&node)
}

fn flag(r: &mut Reader<'_>, t: &mut Table<'_>, key: &'static str) -> Option<bool> {
    t.need(r, key, "").and_then(|n| r.boolean(&n))
}

fn identity(r: &mut Reader<'_>, mut t: Table<'_>) -> (Option<String>, Vec<SettingName>) {
    let kind = t.take("kind").map(|n| r.name(&n, "a kind of board", is_plain, PLAIN_RULE));
    let must_have = t.need(r, "must-have", "name the settings by which the board is known");
    let mut names = Vec::new();
    for item in must_have.and_then(|n| r.list(&n, 1, 64)).into_iter().flatten() {
        if let Some(name) = r.setting(&item) {
            if names.contains(&name) {
                r.note(item.span().start, Problem::Twice { key: item.path.clone(), found: name.to_string() });
            }
            names.push(name);
        }
    }
    t.done(r);
    (kind.flatten(), names)
}

fn usb(r: &mut Reader<'_>, mut t: Table<'_>) -> Option<(bool, bool)> {
    let receiver = flag(r, &mut t, "receiver");
    let motors = flag(r, &mut t, "motors");
    t.done(r);
    Some((receiver?, motors?))
}

struct Arming {
    throttle_below: Pulse,
    sticks: bool,
    on_usb: bool,
    motors_sound: bool,
}

fn arming(r: &mut Reader<'_>, mut t: Table<'_>) -> Option<Arming> {
    let throttle_below = t.need(r, "throttle-below", "").and_then(|n| r.pulse(&n, 800, 2200));
    let sticks = flag(r, &mut t, "sticks-can-arm");
    let on_usb = flag(r, &mut t, "arms-on-usb");
    let motors_sound = t.need(r, "buzzer-by", "").and_then(|n| r.one_of(&n, &[("buzzer", false), ("motors", true)]));
    t.gone(r, "position-0-disarms-by", "it said which edge of the arm switch disarms, and nothing believed it");
    t.done(r);
    Some(Arming { throttle_below: throttle_below?, sticks: sticks?, on_usb: on_usb?, motors_sound: motors_sound? })
}

fn storing(r: &mut Reader<'_>, mut t: Table<'_>) -> Option<(bool, bool)> {
    let at_once = flag(r, &mut t, "at-once");
    let restart = flag(r, &mut t, "restart-needed");
    t.done(r);
    Some((at_once?, restart?))
}

fn motor_run(r: &mut Reader<'_>, mut t: Table<'_>, spoken: Option<Spoken>) -> Option<MotorRun> {
    let why = "without it no motor may be run by command; leave [motor-run] out to say so";
    let by = t.need(r, "by", why).and_then(|n| r.one_of(&n, way_of(spoken)));
    let bound = t.need(r, "bounded-by", why).and_then(|n| r.one_of(&n, &[("board timeout", ())]));
    let longest = t.need(r, "longest", why);
    let most = Duration::from_secs(60);
    let longest = longest.and_then(|n| {
        let time = r.quantity(&n, Quantity::duration)?;
        if time.is_zero() || time > most {
            r.out_of_range(&n, &format!("{} ms", time.as_micros() / 1000), &"1 ms", &"60 s");
            return None;
        }
        Some(time)
    });
    let stops = t.need(r, "stops-by", why).and_then(|n| r.one_of(&n, &[("disarm", ())]));
    t.done(r);
    by?;
    bound?;
    stops?;
    Some(MotorRun { longest: longest? })
}

/// By what one motor is run: each link has its own way.
fn way_of(spoken: Option<Spoken>) -> &'static [(&'static str, ())] {
    match spoken {
        Some(Spoken::Mavlink) => &[("motor-test", ())],
        Some(Spoken::Console) => &[("console", ())],
        Some(Spoken::Packets) => &[("packets", ())],
        None => &[("motor-test", ()), ("console", ()), ("packets", ())],
    }
}

/// Which names of the board have been given to what, to find one setting under two words.
#[derive(Default)]
struct Names {
    given: BTreeMap<SettingName, String>,
    /// Where each name stands.
    places: BTreeMap<SettingName, usize>,
    /// Places already told of: the pattern of many rows is one place.
    told: Vec<usize>,
}

impl Names {
    fn claim(&mut self, r: &mut Reader<'_>, at: usize, name: &SettingName, who: &str) {
        self.places.entry(name.clone()).or_insert(at);
        if let Some(first) = self.given.get(name) {
            if self.told.contains(&at) {
                return;
            }
            self.told.push(at);
            let problem =
                Problem::SettingTwice { name: name.to_string(), first: first.clone(), second: who.to_owned() };
            r.note(at, problem);
        } else {
            self.given.insert(name.clone(), who.to_owned());
        }
    }
}

fn settings(r: &mut Reader<'_>, mut t: Table<'_>, names: &mut Names) -> BTreeMap<&'static str, SettingEntry> {
    let mut settings = BTreeMap::new();
    for (key, node) in t.rest() {
        let Some(word) = vocabulary::word(&key) else {
            let nearest = nearest(&key, WORDS.iter().map(|w| w.word)).map(str::to_owned);
            r.note(node.key_span.start, Problem::UnknownSetting { word: escaped(&key), nearest });
            continue;
        };
        if let Some((entry, at)) = entry::of_word(r, &node, word) {
            names.claim(r, at, &entry.name, word.word);
            settings.insert(word.word, entry);
        }
    }
    settings
}

fn raw(r: &mut Reader<'_>, mut t: Table<'_>, names: &mut Names) -> BTreeMap<SettingName, SettingEntry> {
    let mut raw = BTreeMap::new();
    for (key, node) in t.rest() {
        let Some(name) = SettingName::new(&key) else {
            r.note(node.key_span.start, Problem::NotAName { found: escaped(&key) });
            continue;
        };
        names.claim(r, node.key_span.start, &name, &format!("raw.{name}"));
        if let Some(entry) = entry::of_raw(r, &node, name.clone()) {
            raw.insert(name, entry);
        }
    }
    raw
}
