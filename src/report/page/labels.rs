//! Numbers of the page in words, the same on the screen and for a screen reader.
//!
//! Must not be here: places, inks.

use crate::plan::titles::count;
use crate::report::gate;
use crate::seam::page::{Armed, Battery, Channel, Page, Radio, SheetSeen, Wire, WorkedBy};
use std::time::Duration;

/// How long ago, without a flicker of digits: tenths up to 10 s, then whole seconds, then minutes.
pub(super) fn ago(time: Duration) -> String {
    let tenths = time.as_millis() / 100;
    match tenths {
        0..100 => format!("{}.{} s", tenths / 10, tenths % 10),
        100..1200 => format!("{} s", tenths / 10),
        _ => format!("{} min", tenths / 600),
    }
}

/// The large word.
pub(super) fn state(page: &Page) -> &'static str {
    match (page.wire, page.armed) {
        (Wire::Lost(_), _) => "LINK LOST",
        (Wire::Silent(_), _) | (_, Armed::NotKnown) => "NOT HEARD",
        (_, Armed::Yes) => "ARMED",
        (_, Armed::Driven) => "DRIVEN",
        (_, Armed::No) => "DISARMED",
    }
}

/// The wire in one line.
pub(super) fn wire(page: &Page) -> String {
    match page.wire {
        Wire::Lost(since) => format!("gone for {}; it is looked for", ago(since)),
        Wire::Silent(since) => format!("nothing heard for {}", ago(since)),
        Wire::Heard(since) => {
            let loss = page.loss.map(|loss| format!(", {}.{} % lost", loss / 10, loss % 10)).unwrap_or_default();
            format!("heard {} ago{loss}", ago(since))
        }
    }
}

/// What works a channel; empty where nobody knows.
pub(super) fn worked_by(channel: &Channel) -> String {
    match &channel.worked_by {
        Some(WorkedBy::Stick(name)) => name.clone(),
        Some(WorkedBy::Switch { name, position: Some(at), .. }) => format!("switch {} at {at}", gate::line(name)),
        Some(WorkedBy::Switch { name, position: None, .. }) => format!("switch {}", gate::line(name)),
        None => String::new(),
    }
}

/// Which side is down, and by how much.
pub(super) fn roll(tenths: i32) -> String {
    lean(tenths, "right down", "left down")
}

/// Which end is up, and by how much.
pub(super) fn pitch(tenths: i32) -> String {
    lean(tenths, "nose up", "nose down")
}

fn lean(tenths: i32, positive: &str, negative: &str) -> String {
    let side = match tenths.signum() {
        1 => positive,
        -1 => negative,
        _ => return "level".to_owned(),
    };
    format!("{side} {}°", tenth(tenths))
}

/// Tenths without their sign.
pub(super) fn tenth(tenths: i32) -> String {
    let size = tenths.unsigned_abs();
    format!("{}.{}", size / 10, size % 10)
}

/// Millivolts as volts with two digits behind the point.
pub(super) fn volts(millivolts: u32) -> String {
    let hundredths = (millivolts + 5) / 10;
    format!("{}.{:02}", hundredths / 100, hundredths % 100)
}

/// Hundredths of an ampere.
pub(super) fn amps(centiamps: i16) -> String {
    let sign = if centiamps < 0 { "-" } else { "" };
    let size = centiamps.unsigned_abs();
    format!("{sign}{}.{:02} A", size / 100, size % 100)
}

/// The pack beside the volts of one cell.
pub(super) fn pack(battery: &Battery) -> String {
    match (battery.inside, battery.millivolts) {
        (Some(false), _) => "out".to_owned(),
        (_, Some(pack)) => format!("{} V", volts(u32::from(pack))),
        (_, None) => "not measured".to_owned(),
    }
}

/// The cells, where the board says how many.
pub(super) fn cells(battery: &Battery) -> String {
    battery.cells.map_or_else(String::new, |cells| count(cells, "cell"))
}

/// Everything that has to be said beside the numbers, the most urgent first.
pub(super) fn notices(page: &Page) -> Vec<(bool, String)> {
    let mut all = Vec::new();
    if let Wire::Lost(_) = page.wire {
        all.push((true, "The link is lost: nothing on this page is known now. Nothing is written.".to_owned()));
    }
    if page.armed == Armed::Yes {
        all.push((true, "The board is ARMED. Keep hands clear of the motors.".to_owned()));
    } else if page.motors.iter().any(|motor| motor.turning) {
        all.push((true, "A motor is driven or turns. Keep hands clear of the motors.".to_owned()));
    }
    if let Some((system, commands)) = page.stranger {
        let does = if commands { "gives commands" } else { "talks" };
        all.push((commands, format!("Another station, number {system}, {does} on this wire.")));
    }
    for band in page.unheard.iter().filter(|_| page.radio == Radio::Heard) {
        let function = gate::line(&band.function);
        all.push((
            false,
            format!("{function} is bound to channel {}, which the receiver does not give.", band.channel),
        ));
    }
    match &page.sheet {
        SheetSeen::Reading(listing) => all.push((false, format!("Reading all settings: {listing}."))),
        SheetSeen::Asking => all.push((false, "Asking the board who it is.".to_owned())),
        SheetSeen::None if matches!(page.wire, Wire::Heard(_)) => {
            all.push((false, "No board sheet: bands, corners and cells are not known.".to_owned()));
        }
        SheetSeen::None | SheetSeen::Known(_) => {}
    }
    all
}
