//! What the guards need to know of the craft: from the sheet and the settings as they were read.
//!
//! Made anew after every change of settings. Must not be here: live signals.

use crate::board::binding::{self, BindingError, BoundNow};
use crate::board::console::Capability;
use crate::board::convert::idle_pulse;
use crate::board::sheet::{Settings, Sheet};
use crate::language::recipe::{Function, Stick};
use crate::language::setting_word::SettingWord;
use crate::language::units::{Current, Pulse};
use crate::plan::facts::{held, held_whole, stick_channel, throttle_channel};
use std::time::Duration;

/// The function that some boards have their motors sound.
const BUZZER: &str = "buzzer";

/// See the module.
#[derive(Debug, Clone, PartialEq)]
pub struct Facts {
    /// The craft's name on every prompt.
    pub craft: String,
    /// Whether the board has a virtual id.
    pub is_virtual: bool,
    /// Corners in the order of the outputs.
    pub corners: Vec<String>,
    /// Channel of the throttle, from 1.
    pub throttle_channel: Option<u32>,
    /// From which it takes roll.
    pub roll_channel: Option<u32>,
    /// The throttle counts as low below this.
    pub throttle_below: Pulse,
    /// Bands that arm.
    pub arm_bands: Vec<BoundNow>,
    /// Bands in which the motors sound, where they are what sounds the buzzer.
    pub sounding_bands: Vec<BoundNow>,
    /// Whether the sticks can arm it.
    pub sticks_arm: bool,
    /// Most current without propellers.
    pub most_current: Option<Current>,
    /// The longest that one motor is run by command, as the sheet says that the board bounds it by itself; `None`: not at
    /// all, as where disarming does not stop it.
    pub motor_run: Option<Duration>,
    /// Whether the board sends motor speeds.
    pub speeds: bool,
    /// Motor constant in rpm per volt.
    pub kv: Option<u32>,
    /// Whether the board can be armed with the battery out.
    pub arms_on_usb: bool,
    /// Whether USB power can turn motors.
    pub usb_feeds_motors: bool,
    /// Whether USB power feeds the receiver.
    pub usb_feeds_receiver: bool,
    /// Cells of the pack as the board has them, at least 1.
    pub cells: u32,
    /// Idle in µs as the board has it.
    pub idle: Option<Pulse>,
}

impl Facts {
    /// Reads the facts out of a sheet and the settings of the board.
    ///
    /// # Errors
    /// The settings that hold the arm binding are not on the board, or hold something that is no binding.
    pub fn read(craft: &str, is_virtual: bool, sheet: &Sheet, settings: &Settings) -> Result<Self, BindingError> {
        let buzzer = binding::functions(sheet).into_iter().find(|function| function.0 == BUZZER);
        let sounding = buzzer.filter(|_| sheet.motors_sound_buzzer);
        let sounding = sounding.map(|buzzer| binding::bound_now(sheet, settings, buzzer)).transpose()?;
        let cells = held_whole(sheet, settings, SettingWord::BatteryCells);
        Ok(Self {
            craft: craft.to_owned(),
            is_virtual,
            corners: sheet.corners.iter().map(|corner| corner.0.clone()).collect(),
            throttle_channel: throttle_channel(sheet, settings),
            roll_channel: stick_channel(sheet, settings, Stick::Roll),
            throttle_below: sheet.throttle_below,
            arm_bands: binding::bound_now(sheet, settings, &Function::arm())?,
            sounding_bands: sounding.unwrap_or_default(),
            sticks_arm: sheet.sticks_can_arm,
            most_current: sheet.most_current,
            motor_run: sheet.motor_run.as_ref().map(|run| run.longest),
            speeds: sheet.speed_telemetry,
            kv: sheet.kv,
            arms_on_usb: sheet.arms_on_usb,
            usb_feeds_motors: sheet.usb_feeds_motors,
            usb_feeds_receiver: sheet.usb_feeds_receiver,
            cells: cells.and_then(|n| u32::try_from(n).ok()).unwrap_or(1).max(1),
            idle: held(sheet, settings, SettingWord::Idle).and_then(|(entry, number)| idle_pulse(entry, number)),
        })
    }

    /// How many of its motors tell their speeds.
    #[must_use]
    pub fn speeds_told(&self) -> usize {
        if self.speeds { self.corners.len() } else { 0 }
    }

    /// Whether a pulse on a channel lies in a band that arms.
    #[must_use]
    pub fn arms_at(&self, channel: u32, pulse: Pulse) -> bool {
        self.arm_bands.iter().any(|band| band.is_on(channel, pulse))
    }
}

/// What a board's sheet does not give; empty where the link asks the board itself.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct MissingCapabilities {
    /// The sheet.
    pub sheet: String,
    /// The table of the sheet in which each need has its own.
    pub link: &'static str,
    /// Its needs without a line.
    pub needs: Vec<Capability>,
}

impl MissingCapabilities {
    /// What a sheet lacks.
    #[must_use]
    pub fn of(sheet: &Sheet) -> Self {
        let needs = Capability::ALL.into_iter().filter(|need| !sheet.provides(*need)).collect();
        Self { sheet: sheet.origin.clone(), link: sheet.link.word(), needs }
    }
}
