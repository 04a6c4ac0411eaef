//! The make of a virtual board that a sheet describes: its names, limits, steps, words, bands, link, and what feeds it.
//!
//! Promises: the board takes every value that the sheet says it takes, and no other; what the sheet cannot say, such as
//! what a setting holds at first, is chosen harmless. A sheet's caution that sticks *can* arm is not played: it is what a
//! board may do, not what it does. Must not be here: what a board does with any of it.

mod answers;
mod packets;
mod settings;

use crate::board::sheet::Sheet;
use crate::board::shipped;
use crate::language::recipe::Turning;
use crate::seam::fault::Fault;
use crate::virtual_board::{BoardKind, Frame, Make};
use std::sync::Arc;

/// Longest name of a kind that MAVLink carries: the custom version of `AUTOPILOT_VERSION`.
const LONGEST_KIND: usize = 8;

/// Why no virtual board can be made of a sheet.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unplayable {
    /// A virtual craft is one of the frames that a recipe can name.
    #[error("its motors sit at {0}, and no frame has just these corners")]
    Corners(String),
    /// A kind that its link cannot carry.
    #[error("its kind \"{0}\" is longer than the 8 characters in which MAVLink carries one")]
    Kind(String),
    /// An id that is too short to be told from a real one.
    #[error("its id has {0} bytes, and that of a virtual board takes 8, the first of which mark it as one")]
    Id(usize),
    /// A pattern that matches none of the answers that the board would have to give.
    #[error("no answer could be made that matches the pattern of {need}: {pattern}")]
    Answer {
        /// The table of the sheet.
        need: &'static str,
        /// Its pattern.
        pattern: String,
    },
}

/// The virtual board that is described by the first of these sheets that describes one.
///
/// # Errors
/// None of them does.
pub fn make_for(sheets: &[Sheet]) -> Result<Arc<Make>, Fault> {
    let mut why = None;
    for sheet in sheets {
        match make_of(sheet) {
            Ok(make) => return Ok(make),
            Err(error) => drop(why.get_or_insert((sheet, error))),
        }
    }
    Err(match why {
        Some((sheet, error)) => {
            Fault::Plan(format!("No virtual {} can be made from {}: {error}.", sheet.board, sheet.origin))
        }
        None => Fault::Plan(
            "Nothing at hand describes any of the recipe's boards, so none can be played. Name its sheet with --sheet."
                .to_owned(),
        ),
    })
}

/// What a sheet says that its virtual board does not do.
#[must_use]
pub fn unplayed(sheet: &Sheet) -> Option<String> {
    sheet.sticks_can_arm.then(|| {
        format!(
            "mind this: {} says that sticks can arm (arming.sticks-can-arm). This virtual board is armed by its switch \
             alone: what sticks do on the real one is not played.",
            sheet.origin
        )
    })
}

/// The make of a sheet. Boards of shipped sheets are their own, which those sheets are tested against.
///
/// # Errors
/// What of the sheet cannot be played.
pub fn make_of(sheet: &Sheet) -> Result<Arc<Make>, Unplayable> {
    let ships = |kind: &BoardKind| {
        kind.name() == sheet.board
            && shipped::sheet(kind.name()).is_some_and(|own| own.is_ok_and(|own| own.hash == sheet.hash))
    };
    if let Some(kind) = BoardKind::ALL.into_iter().find(ships) {
        return Ok(kind.make());
    }
    let name = sheet.kind.clone().unwrap_or_else(|| sheet.board.clone());
    if !sheet.says_what_is_sent() && sheet.kind.is_some() && name.len() > LONGEST_KIND {
        return Err(Unplayable::Kind(name));
    }
    let named: Vec<&str> = sheet.corners.iter().map(|corner| corner.0.as_str()).collect();
    let (frame, places) = Frame::with(&named).ok_or_else(|| Unplayable::Corners(named.join(", ")))?;
    let dialect = sheet.console().map(|console| answers::dialect(console, &name)).transpose()?;
    let speech = sheet.packets().map(packets::speech).transpose()?;
    let (settings, receiver) = settings::settings(sheet);
    Ok(Arc::new(Make {
        settings,
        receiver,
        roles: settings::roles(sheet),
        bands: settings::bands(sheet),
        ends_inside: [sheet.binding.from_inside, sheet.binding.to_inside],
        throttle_below: u16::try_from(sheet.throttle_below.0).unwrap_or(u16::MAX),
        arms_on_usb: sheet.arms_on_usb,
        usb_feeds_receiver: sheet.usb_feeds_receiver,
        usb_feeds_motors: sheet.usb_feeds_motors,
        stores_at_once: sheet.stores_at_once,
        longest_run: sheet.motor_run.as_ref().map(|run| run.longest.as_secs_f32()),
        frame,
        places,
        motors_sound: sheet.motors_sound_buzzer,
        outward: sheet.turning == Some(Turning::Outward),
        speeds: sheet.speed_telemetry,
        kv: sheet.kv.map(f64::from),
        console_blocks_arming: sheet.console().is_some_and(|console| !console.arms_while_open),
        dialect: dialect.map(Arc::new),
        packets: speech,
        name,
    }))
}
