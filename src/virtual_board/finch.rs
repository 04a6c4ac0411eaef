//! The Finch and its kin as makes: names, kinds, factory values and limits of their settings, and what each is for.
//!
//! The board sheets in `recipes/boards/` say the same from outside; a test holds the two together.

use super::console::finch_c;
use super::frame::Frame;
use super::kind::BoardKind;
use super::make::{Amount, BandNames, BandOf, Flag, Function, Make, Roles};
use super::packets::{Packets, Speech};
use super::settings::{Definition, SettingType};
use crate::measure::signal_timing::MotorSignal;
use SettingType::{I8, I16, I32, Real, U8, U16, U32};
use std::sync::{Arc, LazyLock};

/// Rows of the boards that have them.
const ROWS: usize = 8;
// What this board's settings are called, hold and bound is chosen: it is nobody's board.

/// Lowest end of a switch band, µs.
const BAND_LEAST: f64 = 850.0;
/// Highest end of a switch band, µs.
const BAND_MOST: f64 = 2150.0;
/// Ends are `BAND_LEAST + n × BAND_STEP`, µs.
const BAND_STEP: f64 = 8.0;
/// The factory's arm band, about 1700–2100 µs on that grid.
const FACTORY_ARM: [f64; 3] = [5.0, 1698.0, 2098.0];

type Line = (&'static str, SettingType, f64, f64, f64);

/// With a word of the vocabulary.
const WORDS: [Line; 20] = [
    ("IDLE_US", U16, 1050.0, 1000.0, 1250.0),
    ("SPIN_AT_ZERO", U8, 0.0, 0.0, 1.0),
    ("MOTOR_SIGNAL", U8, 0.0, 0.0, 4.0),
    ("LOOP_HZ", U16, 2000.0, 1000.0, 8000.0),
    ("RX_PROTOCOL", U8, 0.0, 0.0, 2.0),
    ("RX_PORT", U8, 2.0, 1.0, 6.0),
    ("ROLL_CHANNEL", U8, 1.0, 1.0, 16.0),
    ("PITCH_CHANNEL", U8, 2.0, 1.0, 16.0),
    ("THR_CHANNEL", U8, 3.0, 1.0, 16.0),
    ("YAW_CHANNEL", U8, 4.0, 1.0, 16.0),
    ("LOSS_ACTION", U8, 0.0, 0.0, 1.0),
    ("LOSS_WAIT_MS", U16, 1000.0, 100.0, 2000.0),
    ("CELLS", U8, 1.0, 1.0, 6.0),
    ("CELL_KIND", U8, 0.0, 0.0, 2.0),
    ("WARN_CELL_MV", U16, 3500.0, 3000.0, 4200.0),
    ("LAND_CELL_MV", U16, 3300.0, 2800.0, 4100.0),
    ("VOLT_RATIO", Real, 10.9, 5.0, 20.0),
    ("BOARD_TURN", I16, 0.0, 0.0, 315.0),
    ("LEVEL_ROLL", Real, 0.0, -10.0, 10.0),
    ("LEVEL_PITCH", Real, 0.0, -10.0, 10.0),
];

/// The board's own, without a word.
const OWN: [Line; 48] = [
    ("ROTOR_TRIM", I8, 0.0, -50.0, 50.0),
    ("LIGHT_LEVEL", U8, 40.0, 0.0, 100.0),
    ("LIGHT_HUE", U16, 120.0, 0.0, 359.0),
    ("LIGHT_BLINK_MS", U16, 0.0, 0.0, 5000.0),
    ("BEEP_TONE_HZ", U16, 2400.0, 500.0, 5000.0),
    ("BEEP_LOUD", U8, 80.0, 0.0, 100.0),
    ("BOOT_TONE", U8, 1.0, 0.0, 1.0),
    ("LOST_TONE_S", U16, 60.0, 0.0, 3600.0),
    ("MOTOR1_OUT", U8, 1.0, 1.0, 4.0),
    ("MOTOR2_OUT", U8, 2.0, 1.0, 4.0),
    ("MOTOR3_OUT", U8, 3.0, 1.0, 4.0),
    ("MOTOR4_OUT", U8, 4.0, 1.0, 4.0),
    ("OUT1_REVERSED", U8, 0.0, 0.0, 1.0),
    ("OUT2_REVERSED", U8, 0.0, 0.0, 1.0),
    ("OUT3_REVERSED", U8, 0.0, 0.0, 1.0),
    ("OUT4_REVERSED", U8, 0.0, 0.0, 1.0),
    ("LOST_TONE_HZ", U16, 1800.0, 500.0, 5000.0),
    ("TURN_ROLL_DPS", U16, 540.0, 30.0, 1800.0),
    ("TURN_PITCH_DPS", U16, 540.0, 30.0, 1800.0),
    ("TURN_YAW_DPS", U16, 360.0, 30.0, 1800.0),
    ("SOFT_ROLL_PC", U8, 25.0, 0.0, 100.0),
    ("SOFT_PITCH_PC", U8, 25.0, 0.0, 100.0),
    ("SOFT_YAW_PC", U8, 10.0, 0.0, 100.0),
    ("LEAN_MOST_DEG", U8, 45.0, 10.0, 80.0),
    ("LEAN_PULL", Real, 5.5, 0.0, 20.0),
    ("THR_BEND", I8, 0.0, -100.0, 100.0),
    ("THR_MOST_PC", U8, 100.0, 20.0, 100.0),
    ("GYRO_CALM_HZ", U16, 180.0, 20.0, 1000.0),
    ("ACCEL_CALM_HZ", U16, 20.0, 1.0, 200.0),
    ("GYRO_OFF_X", I16, 12.0, -2000.0, 2000.0),
    ("GYRO_OFF_Y", I16, -7.0, -2000.0, 2000.0),
    ("GYRO_OFF_Z", I16, 3.0, -2000.0, 2000.0),
    ("ACCEL_OFF_X", I32, -1840.0, -2_000_000.0, 2_000_000.0),
    ("ACCEL_OFF_Y", I32, 2210.0, -2_000_000.0, 2_000_000.0),
    ("ACCEL_OFF_Z", I32, 16_777_217.0, -20_000_000.0, 20_000_000.0),
    ("SPEED_TELEM", U8, 1.0, 0.0, 1.0),
    ("POLE_PAIRS", U8, 6.0, 1.0, 20.0),
    ("AMP_SCALE", Real, 25.0, 1.0, 200.0),
    ("AMP_OFF_MA", I32, -35.0, -100_000.0, 100_000.0),
    ("PACK_MAH", U32, 450.0, 0.0, 100_000.0),
    ("TELEM_PORT", U8, 0.0, 0.0, 6.0),
    ("TELEM_HZ", U8, 10.0, 1.0, 50.0),
    ("LOG_HZ", U16, 0.0, 0.0, 2000.0),
    ("CAM_TILT_DEG", I8, 20.0, -90.0, 90.0),
    ("CRAFT_NUMBER", U32, 1.0, 0.0, 4_000_000_000.0),
    ("QUALITY_CHANNEL", U8, 0.0, 0.0, 16.0),
    ("STICK_REST_US", U8, 4.0, 0.0, 50.0),
    ("ARM_TONE", U8, 1.0, 0.0, 1.0),
];

/// Prefixes of the directly bound functions, in the order of [`Function::ALL`].
const DIRECT: [&str; 4] = ["ARM", "BUZZ", "SELFLVL", "LIGHT"];

static MAKES: LazyLock<[Arc<Make>; 5]> = LazyLock::new(|| BoardKind::ALL.map(|kind| Arc::new(make(kind))));

impl BoardKind {
    /// What it is made as.
    #[must_use]
    pub fn make(self) -> Arc<Make> {
        let [finch, finch_r, finch_c, finch_p, finch_q] = &*MAKES;
        Arc::clone(match self {
            Self::Finch => finch,
            Self::FinchR => finch_r,
            Self::FinchC => finch_c,
            Self::FinchP => finch_p,
            Self::FinchQ => finch_q,
        })
    }
}

fn make(kind: BoardKind) -> Make {
    Make {
        name: kind.name().to_owned(),
        settings: definitions(kind),
        roles: roles(),
        bands: bands(kind),
        ends_inside: [true, false],
        throttle_below: 1050,
        arms_on_usb: true,
        usb_feeds_receiver: true,
        usb_feeds_motors: false,
        stores_at_once: false,
        longest_run: Some(3.0),
        frame: Frame::QuadX,
        places: (0..4).collect(),
        outward: false,
        motors_sound: false,
        speeds: true,
        kv: None,
        dialect: kind.has_console().then(|| Arc::new(finch_c(kind.name()))),
        packets: kind.packets().map(|stuffed| Speech::new(Packets::new(stuffed))),
        console_blocks_arming: false,
        receiver: [0, 2],
    }
}

fn roles() -> Roles {
    let number = Amount::number;
    let flag = |name: &str| Flag::Is(name.to_owned(), 1.0);
    let signals = [0.0, 1.0, 2.0, 3.0, 4.0].into_iter().zip(MotorSignal::ALL).collect();
    Roles {
        idle: number("IDLE_US"),
        spin_at_zero: flag("SPIN_AT_ZERO"),
        throttle: number("THR_CHANNEL"),
        loss_cuts: flag("LOSS_ACTION"),
        loss_wait: number("LOSS_WAIT_MS"),
        volt_ratio: number("VOLT_RATIO"),
        level: [number("LEVEL_ROLL"), number("LEVEL_PITCH")],
        speeds: flag("SPEED_TELEM"),
        signal: Some(("MOTOR_SIGNAL".to_owned(), signals)),
        protocol: Some(number("RX_PROTOCOL")),
        port: Some(number("RX_PORT")),
        turn: number("BOARD_TURN"),
        order: (1..=4).map(|motor| number(&format!("MOTOR{motor}_OUT"))).collect(),
        reversed: (1..=4).map(|output| flag(&format!("OUT{output}_REVERSED"))).collect(),
        reversed_by_motor: false,
    }
}

fn bands(kind: BoardKind) -> Vec<BandNames> {
    let band = |of, prefix: &str| BandNames {
        of,
        channel: format!("{prefix}_CHANNEL"),
        from: format!("{prefix}_FROM"),
        to: format!("{prefix}_TO"),
    };
    if !kind.has_rows() {
        return Function::ALL.into_iter().zip(DIRECT).map(|(of, name)| band(BandOf::Function(of), name)).collect();
    }
    let codes: Vec<(f64, Function)> = [1.0, 2.0, 3.0, 4.0].into_iter().zip(Function::ALL).collect();
    (1..=ROWS).map(|row| band(BandOf::Setting(format!("ROW{row}_FUNC"), codes.clone()), &format!("ROW{row}"))).collect()
}

/// All settings of a board, in the order in which it lists them.
fn definitions(board: BoardKind) -> Vec<Definition> {
    let mut all: Vec<Definition> = WORDS.iter().map(of).collect();
    if board.has_rows() {
        for row in 1..=ROWS {
            let prefix = format!("ROW{row}");
            let (function, factory) = if row == 1 { (1.0, FACTORY_ARM) } else { (0.0, [0.0, BAND_LEAST, BAND_LEAST]) };
            all.push(Definition::new(&format!("{prefix}_FUNC"), U8, function, 0.0, 4.0));
            all.extend(band(&prefix, factory));
        }
    } else {
        for (place, prefix) in DIRECT.iter().enumerate() {
            let factory = if place == 0 { FACTORY_ARM } else { [0.0, BAND_LEAST, BAND_LEAST] };
            all.extend(band(prefix, factory));
        }
    }
    all.extend(OWN.iter().map(of));
    all
}

fn of(line: &Line) -> Definition {
    let (name, kind, factory, least, most) = *line;
    let mut definition = Definition::new(name, kind, factory, least, most);
    match name {
        "LOOP_HZ" => definition.only = vec![1000.0, 2000.0, 4000.0, 8000.0],
        "BOARD_TURN" => definition.only = vec![0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0],
        _ => {}
    }
    definition
}

fn band(prefix: &str, [channel, from, to]: [f64; 3]) -> [Definition; 3] {
    let end = |name: &str, factory| Definition {
        step: BAND_STEP,
        ..Definition::new(&format!("{prefix}_{name}"), U16, factory, BAND_LEAST, BAND_MOST)
    };
    [Definition::new(&format!("{prefix}_CHANNEL"), U8, channel, 0.0, 16.0), end("FROM", from), end("TO", to)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_fit_the_wire_and_factory_values_are_taken() {
        for board in BoardKind::ALL {
            let all = definitions(board);
            assert!(all.len() >= 80, "{}", all.len());
            let mut names: Vec<&str> = all.iter().map(|definition| definition.name.as_str()).collect();
            names.sort_unstable();
            names.dedup();
            assert_eq!(names.len(), all.len());
            for definition in &all {
                assert!(definition.name.len() <= 16, "{}", definition.name);
                let taken = definition.take(definition.factory).unwrap();
                assert!((taken - definition.factory).abs() < 1e-6, "{}", definition.name);
            }
        }
    }

    #[test]
    fn ends_come_to_the_grid() {
        let all = definitions(BoardKind::Finch);
        let end = all.iter().find(|definition| definition.name == "ARM_FROM").unwrap();
        assert_eq!(end.take(1700.0), Ok(1698.0));
        assert_eq!(end.take(2150.0), Ok(2146.0));
        assert!(end.take(849.0).is_err());
    }
}
