//! The battery: in or out, sagging under load, slowly emptied; and the board's sensor for it.

use super::config::PackConfig;
use super::rng::bell;
use crate::measure::time::Time;

/// What the board itself draws, amperes; chosen for the virtual craft (*common practice*).
const BOARD_DRAWS: f64 = 0.22;
const NOISE: u64 = 0x61;

impl PackConfig {
    /// Volts a cell without load for which the pulses of motors are given: a pack that is neither full nor empty (chosen
    /// between 3.7 V nominal and 4.2 V full, cell sheet LP-503759-1S-3).
    pub const USUAL: f64 = 3.95;

    /// Volts of the whole pack at [`Self::USUAL`], as the motors that go with it are fed while the board alone draws.
    pub(super) fn usual(&self) -> f64 {
        Self { volts: Self::USUAL * f64::from(self.cells), ..*self }.at_rest()
    }

    /// Volts at its leads while the board alone draws from it.
    #[must_use]
    pub fn at_rest(&self) -> f64 {
        self.volts - BOARD_DRAWS * self.milliohms / 1000.0
    }
}

/// The battery and its leads.
#[derive(Clone)]
pub struct Pack {
    pub config: PackConfig,
    pub plugged: bool,
    /// Milliampere hours taken out of it.
    used: f64,
    amperes: f64,
    since: Time,
}

impl Pack {
    pub fn new(config: PackConfig) -> Self {
        Self { config, plugged: config.plugged, used: 0.0, amperes: 0.0, since: Time(0) }
    }

    /// Volts without load; about half a volt a cell over the useful charge, and never under 2.5 V (*common practice*).
    pub fn open_volts(&self) -> f64 {
        let cells = f64::from(self.config.cells);
        (self.config.volts - 0.5 * cells * self.used / self.config.capacity).max(2.5 * cells)
    }

    /// Volts that motors at rest find, in or out.
    pub fn at_rest(&self) -> f64 {
        PackConfig { volts: self.open_volts(), ..self.config }.at_rest()
    }

    /// Volts at its leads: 0 when out.
    pub fn volts(&self) -> f64 {
        if self.plugged { self.open_volts() - self.amperes * self.config.milliohms / 1000.0 } else { 0.0 }
    }

    /// As if charged, or emptied, to so many volts without load.
    pub fn charge(&mut self, volts: f64) {
        self.config.volts = volts;
        self.used = 0.0;
    }

    /// Amperes that it gives.
    pub fn amperes(&self) -> f64 {
        if self.plugged { self.amperes } else { 0.0 }
    }

    /// The motors draw this from now on, amperes.
    pub fn draw(&mut self, now: Time, motors: f64) {
        if self.plugged {
            self.used += self.amperes * now.since(self.since).as_secs_f64() / 3.6;
        }
        self.since = now;
        self.amperes = if self.plugged { motors + BOARD_DRAWS } else { 0.0 };
    }

    /// Volts as the board's sensor shows them with a divider ratio set in it, with a noise of 6 mV (chosen).
    pub fn shown(&self, ratio: f64, now: Time, seed: u64) -> f64 {
        let true_volts = self.volts() + 0.006 * bell(seed, NOISE, now.0 / 10_000);
        (true_volts * ratio / self.config.true_ratio).max(0.0)
    }
}
