//! A page out of the live signals, the sheet, the settings and the radio card. Pure.

use crate::board::bound;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::interlock::signals::{Channels, Pack, REST_MOST, Signals, TURNS, at_rest};
use crate::language::recipe::Stick;
use crate::language::setting_word::SettingWord;
use crate::language::units::Pulse;
use crate::measure::time::Time;
use crate::plan::facts::{held_whole, stick_channel};
use crate::seam::page::{
    Armed, Band, Battery, Channel, Listing, Motor, Page, Radio, SHOWN_AGE, SILENT_AFTER, SheetSeen, Title, Wire,
    WorkedBy,
};

impl Page {
    /// The page at `now`. Without a sheet there are neither bands nor corners, without a card no switches.
    /// `lost` says since when the wire is gone, `listing` how far a reading of all settings is.
    #[must_use]
    pub fn build(
        live: &Signals,
        now: Time,
        (lost, listing): (Option<Time>, Option<Listing>),
        title: &Title,
        sheet: Option<&Sheet>,
        card: Option<&RadioCard>,
    ) -> Self {
        let channels = live.channels.fresh(now, SHOWN_AGE);
        let bands = sheet.map_or_else(Vec::new, |sheet| bands(live, sheet, channels.as_ref()));
        // A radio that went away leaves its channels on the page, empty.
        let given = channels.filter(|channels| channels.count > 0).or(live.last_heard);
        let given = given.map_or(0, |channels| u32::from(channels.count));
        let channel = |number: u32| Channel {
            number,
            pulse: channels.and_then(|c| c.of(number)).and_then(|pulse| u16::try_from(pulse.0).ok()),
            worked_by: worked_by(live, sheet, card, number, channels.and_then(|c| c.of(number))),
            bands: bands.iter().filter(|band| band.channel == number).cloned().collect(),
        };
        let identity = live.identity.as_ref();
        let kind = identity.map(|identity| identity.kind.clone()).filter(|kind| !kind.is_empty());
        let number = || live.vehicle.map_or_else(|| "a board".to_owned(), |vehicle| format!("vehicle {vehicle}"));
        Self {
            craft: title.craft.clone().or(kind).unwrap_or_else(number),
            port: title.port.clone(),
            is_virtual: identity.is_some_and(crate::board::signals::Identity::is_virtual),
            sheet: match (sheet, listing) {
                (Some(sheet), _) => SheetSeen::Known(sheet.board.clone()),
                (None, Some(listing)) if listing.have < listing.of => SheetSeen::Reading(listing),
                _ => SheetSeen::None,
            },
            armed: match live.armed.fresh(now, SHOWN_AGE) {
                Some(true) => Armed::Yes,
                Some(false) if outputs_driven(live, now) => Armed::Driven,
                Some(false) => Armed::No,
                None => Armed::NotKnown,
            },
            wire: wire(live, now, lost),
            loss: None,
            radio: radio(live, now, channels.as_ref()),
            channels: (1..=given).map(channel).collect(),
            unheard: bands.iter().filter(|band| band.channel > given).cloned().collect(),
            motors: motors(live, now, sheet),
            attitude: live.attitude.fresh(now, SHOWN_AGE).map(|(roll, pitch)| (tenths(roll), tenths(pitch))),
            battery: battery(live, now, sheet),
            said: Vec::new(),
            stranger: live.stranger.map(|(system, _, commands)| (system, commands)),
        }
    }
}

/// An angle in tenths of a degree.
#[expect(clippy::cast_possible_truncation, reason = "an angle, and the cast saturates")]
pub(in crate::bench) fn tenths(degrees: f64) -> i32 {
    (degrees * 10.0).round() as i32
}

fn wire(live: &Signals, now: Time, lost: Option<Time>) -> Wire {
    if let Some(since) = lost {
        return Wire::Lost(now.since(since));
    }
    let moments = [
        live.armed.last().map(|s| s.at),
        live.channels.last().map(|s| s.at),
        live.outputs.last().map(|s| s.at),
        live.attitude.last().map(|s| s.at),
        live.power.last().map(|s| s.at),
    ];
    let heard = moments.into_iter().flatten().max().unwrap_or(Time(0));
    let ago = now.since(heard);
    if ago > SILENT_AFTER { Wire::Silent(ago) } else { Wire::Heard(ago) }
}

fn radio(live: &Signals, now: Time, channels: Option<&Channels>) -> Radio {
    let told = live.power.fresh(now, SHOWN_AGE).and_then(|power| power.receiver);
    match (channels, told) {
        // What a board goes on giving after it knew of the loss is nobody's hand at the sticks.
        (_, Some(false)) => Radio::Lost,
        (Some(channels), _) if channels.count == 0 => Radio::Lost,
        (Some(_), _) => Radio::Heard,
        (None, _) => Radio::NotKnown,
    }
}

/// Every band of every function. What a sheet names and the board does not hold is left out.
fn bands(live: &Signals, sheet: &Sheet, channels: Option<&Channels>) -> Vec<Band> {
    let bound = bound::all_bound(sheet, &live.settings).into_iter();
    let mut all: Vec<Band> = bound
        .map(|(function, band)| Band {
            function: function.0.clone(),
            channel: band.channel,
            from: band.from.0,
            to: band.to.0,
            inside: channels.and_then(|c| c.of(band.channel)).map(|pulse| band.is_on(band.channel, pulse)),
        })
        .collect();
    all.sort_by_key(|band| (band.channel, band.from));
    all
}

fn worked_by(
    live: &Signals,
    sheet: Option<&Sheet>,
    card: Option<&RadioCard>,
    number: u32,
    pulse: Option<Pulse>,
) -> Option<WorkedBy> {
    let on_board = sheet.and_then(|sheet| {
        Stick::ALL.into_iter().find(|stick| stick_channel(sheet, &live.settings, *stick) == Some(number))
    });
    let on_card = || Some(*card?.sticks.iter().find(|(_, entry)| entry.channel == number)?.0);
    if let Some(stick) = on_board.or_else(on_card) {
        return Some(WorkedBy::Stick(stick.word().to_owned()));
    }
    let (switch, entry) = card?.switches.iter().find(|(_, entry)| entry.channel == number)?;
    Some(WorkedBy::Switch {
        name: switch.0.clone(),
        position: pulse.and_then(|pulse| entry.position_at(pulse)),
        rests: entry.rests.iter().map(|rest| rest.0).collect(),
    })
}

fn outputs_driven(live: &Signals, now: Time) -> bool {
    live.outputs.fresh(now, SHOWN_AGE).is_some_and(|outputs| !at_rest(&outputs))
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a speed, and the cast saturates")]
fn motors(live: &Signals, now: Time, sheet: Option<&Sheet>) -> Vec<Motor> {
    let outputs = live.outputs.fresh(now, SHOWN_AGE);
    let speeds = live.speeds.fresh(now, SHOWN_AGE);
    let named = sheet.map_or(0, |sheet| sheet.corners.len());
    // Beyond those that the sheet names, only an output that drives something is one.
    let driven = outputs.map_or(0, |all| all.iter().rposition(|p| *p != 0 && *p != u16::MAX).map_or(0, |at| at + 1));
    let motor = |index: usize| {
        let corner = sheet.and_then(|sheet| sheet.corners.get(index)).map(|corner| corner.0.clone());
        let pulse = outputs.and_then(|all| all.get(index).copied()).filter(|pulse| *pulse != u16::MAX);
        let rpm = speeds.and_then(|all| all.get(index).copied().flatten());
        Motor {
            name: corner.unwrap_or_else(|| format!("output {}", index + 1)),
            pulse,
            rpm: rpm.map(|rpm| rpm.round() as u32),
            turning: pulse.is_some_and(|pulse| pulse > REST_MOST) || rpm.is_some_and(|rpm| rpm > TURNS),
        }
    };
    (0..named.max(driven)).map(motor).collect()
}

fn battery(live: &Signals, now: Time, sheet: Option<&Sheet>) -> Battery {
    let power = live.power.fresh(now, SHOWN_AGE);
    Battery {
        inside: match live.pack(now) {
            Pack::In => Some(true),
            Pack::Out => Some(false),
            Pack::Unknown => None,
        },
        millivolts: power.and_then(|power| power.millivolts),
        cells: sheet
            .and_then(|sheet| held_whole(sheet, &live.settings, SettingWord::BatteryCells))
            .and_then(|cells| u32::try_from(cells).ok()),
        centiamps: power.and_then(|power| power.centiamps),
    }
}
