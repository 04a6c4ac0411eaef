//! The page as facts with a name and a value: for whoever has it read aloud.
//!
//! Each knows how far its number has to move to count as changed: a noise of one microsecond is no news.

use super::labels;
use crate::report::gate;
use crate::seam::page::{Armed, Page, Radio, SheetSeen, Wire};

/// One fact.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fact {
    /// What it is.
    pub(super) name: String,
    /// How it is now.
    pub(super) value: String,
    /// Its number, and how far that has to move to be news; without one any other value is.
    pub(super) number: Option<(i64, i64)>,
    /// What is news beside the number, however little that moved.
    pub(super) beside: String,
}

impl Fact {
    /// Whether it is news after `before`, its last value that was told.
    pub(super) fn news(&self, before: &Self) -> bool {
        match (self.number, before.number) {
            (Some((now, step)), Some((then, _))) => (now - then).abs() >= step || self.beside != before.beside,
            _ => self.value != before.value,
        }
    }
}

fn said(name: impl Into<String>, value: impl Into<String>) -> Fact {
    Fact { name: name.into(), value: value.into(), number: None, beside: String::new() }
}

fn measured(name: impl Into<String>, value: impl Into<String>, number: impl Into<i64>, step: i64) -> Fact {
    Fact { name: name.into(), value: value.into(), number: Some((number.into(), step)), beside: String::new() }
}

/// All facts of a page, the most urgent first.
pub(super) fn facts(page: &Page) -> Vec<Fact> {
    let mut all = vec![said("state", state(page)), said("link", link(page))];
    if let Some((system, commands)) = page.stranger {
        let does = if commands { "gives commands" } else { "talks" };
        all.push(said("another station", format!("number {system} {does} on this wire")));
    }
    all.push(said("craft", gate::line(&page.craft)));
    if page.is_virtual {
        all.push(said("VIRTUAL", "nothing here proves anything about a craft"));
    }
    all.push(said("port", gate::line(&page.port)));
    all.push(said("sheet", sheet(page)));
    all.push(said("radio", radio(page)));
    channels(page, &mut all);
    motors(page, &mut all);
    match page.attitude {
        Some((roll, pitch)) => {
            all.push(measured("roll", labels::roll(roll).replace('°', " degrees"), roll, 10));
            all.push(measured("pitch", labels::pitch(pitch).replace('°', " degrees"), pitch, 10));
        }
        None => all.push(said("attitude", "not heard")),
    }
    battery(page, &mut all);
    all
}

fn state(page: &Page) -> String {
    match (page.armed, labels::state(page)) {
        (Armed::Yes, "ARMED") => "ARMED, keep hands clear of the motors".to_owned(),
        (Armed::Driven, "DRIVEN") => {
            "motor outputs are driven, though the board says that it is not armed; keep hands clear".to_owned()
        }
        (_, state) => state.to_lowercase(),
    }
}

fn link(page: &Page) -> String {
    match page.wire {
        Wire::Lost(_) => "lost, it is looked for; nothing below is known now, nothing is written".to_owned(),
        Wire::Silent(_) => "open, but nothing is heard".to_owned(),
        // Single frames are lost on every radio link.
        Wire::Heard(_) => match page.loss {
            Some(loss @ 20..) => format!("heard, {} percent of it lost", loss / 10),
            _ => "heard".to_owned(),
        },
    }
}

fn sheet(page: &Page) -> String {
    match &page.sheet {
        SheetSeen::Known(name) => gate::line(name).into_owned(),
        SheetSeen::Asking => "not known yet".to_owned(),
        SheetSeen::Reading(..) => "all settings are being read".to_owned(),
        SheetSeen::None => "none, so bands, corners and cells are not known".to_owned(),
    }
}

fn radio(page: &Page) -> &'static str {
    match page.radio {
        Radio::Heard => "heard",
        Radio::Lost => "not heard",
        Radio::NotKnown => "no channels come from the board",
    }
}

fn channels(page: &Page, all: &mut Vec<Fact>) {
    for channel in &page.channels {
        let worked = labels::worked_by(channel);
        let by = if worked.is_empty() { String::new() } else { format!(", {worked}") };
        let name = format!("channel {}", channel.number);
        match channel.pulse {
            Some(pulse) => {
                let fact = measured(name, format!("{pulse} us{by}"), pulse, 10);
                all.push(Fact { beside: by, ..fact });
            }
            None => all.push(said(name, format!("no pulse{by}"))),
        }
        for band in &channel.bands {
            let stands = match band.inside {
                Some(true) => "inside its band",
                Some(false) => "outside its band",
                None => "not known; its band is",
            };
            let value = format!("{stands} on channel {}, {} to {} us", channel.number, band.from, band.to);
            all.push(said(gate::line(&band.function), value));
        }
    }
    for band in &page.unheard {
        let value = format!("bound to channel {}, which is not heard", band.channel);
        all.push(said(gate::line(&band.function), value));
    }
}

fn motors(page: &Page, all: &mut Vec<Fact>) {
    for motor in &page.motors {
        let name = format!("motor {}", gate::line(&motor.name));
        let turns = if motor.turning { "turns, " } else { "" };
        let rpm = motor.rpm.map(|rpm| format!(", {rpm} rpm")).unwrap_or_default();
        match motor.pulse {
            Some(0) => all.push(said(name, format!("{turns}no pulse{rpm}"))),
            Some(pulse) => {
                // A speed is news in steps of a thousand, a pulse in steps of ten; whichever moves.
                let moved = i64::from(pulse) + i64::from(motor.rpm.unwrap_or(0) / 100);
                let fact = measured(name, format!("{turns}{pulse} us{rpm}"), moved, 10);
                all.push(Fact { beside: turns.to_owned(), ..fact });
            }
            None => all.push(said(name, format!("{turns}not heard{rpm}"))),
        }
    }
}

fn battery(page: &Page, all: &mut Vec<Fact>) {
    let battery = &page.battery;
    let pack = labels::pack(battery);
    match (battery.cell_millivolts(), battery.millivolts.filter(|_| battery.inside != Some(false))) {
        (Some(cell), _) => {
            let value = format!("{} V per cell, {pack}, {}", labels::volts(cell), labels::cells(battery));
            all.push(measured("battery", value, cell, 50));
        }
        (None, Some(millivolts)) => all.push(measured("battery", pack, millivolts, 100)),
        (None, None) => all.push(said("battery", pack)),
    }
    if let Some(centiamps) = battery.centiamps {
        all.push(measured("current", labels::amps(centiamps), centiamps, 50));
    }
}
