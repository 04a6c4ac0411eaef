//! Can the motor signal carry the loop rate? Every pass of the loop sends one frame to each motor.

use crate::board::sheet::{Form, Sheet};
use crate::language::checks::codes;
use crate::language::checks::undecided::{Needs, Open};
use crate::language::finding::Finding;
use crate::language::recipe::{Part, Recipe, Setting, Signal, Value, What};
use crate::language::span::Span;
use crate::language::units::Frequency;

/// Fastest loop that boards of today offer, in hertz; taken where no sheet says. *Common practice*.
const FASTEST: Frequency = Frequency(8000);

/// Time of the longest frame and the gap after it, in microseconds.
///
/// Pulses last 1000 to 2000 µs, with oneshot125 an eighth of that (librobotcontrol,
/// `rc_servo_send_oneshot_pulse_normalized`); a gap of a fiftieth of the longest pulse lets the
/// usual 490 Hz through: *common practice*. The digital signals send 16 bits at 150, 300 or
/// 600 kbit/s (docs.rs, dshot-frame 0.4.0) and rest at least 2 µs: *common practice*.
fn frame(signal: Signal) -> f64 {
    match signal {
        Signal::Pwm => 2000.0 * 1.02,
        Signal::Oneshot125 => 250.0 * 1.02,
        Signal::Dshot150 => 16_000.0 / 150.0 + 2.0,
        Signal::Dshot300 => 16_000.0 / 300.0 + 2.0,
        Signal::Dshot600 => 16_000.0 / 600.0 + 2.0,
    }
}

/// What a speed that comes back on the same wire adds, in microseconds: a turn-around of about
/// 30 µs and 21 bits at 5/4 of the rate; *common practice*.
fn reply(signal: Signal) -> Option<f64> {
    let rate = match signal {
        Signal::Pwm | Signal::Oneshot125 => return None,
        Signal::Dshot150 => 150.0,
        Signal::Dshot300 => 300.0,
        Signal::Dshot600 => 600.0,
    };
    Some(30.0 + 21_000.0 / (1.25 * rate))
}

fn period(rate: Frequency) -> f64 {
    1e6 / f64::from(rate.0.max(1))
}

/// The loop rate that the recipe sets, and where.
fn rate(recipe: &Recipe) -> Option<(Frequency, &Span)> {
    recipe.statements.iter().find_map(|statement| match &statement.what {
        What::Signal { rate: Some(rate), .. } => Some((*rate, statement.part(Part::Rate))),
        What::Set { setting: Setting::Word(word), value: Value::Quantity(quantity) } if word == "loop-rate" => {
            quantity.frequency().ok().map(|rate| (rate, statement.part(Part::Value)))
        }
        _ => None,
    })
}

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    let Some((rate, source)) = rate(recipe) else { return };
    for statement in &recipe.statements {
        let What::Signal { signal, .. } = statement.what else { continue };
        let (needs, has) = (frame(signal), period(rate));
        if needs > has {
            let message = format!(
                "a frame of {} takes {needs:.1} us, and at {rate} a new one begins every {has:.1} us: the speed controllers would get broken frames",
                signal.word()
            );
            let most = 1e6 / needs / 1000.0;
            found.push(
                Finding::error(codes::SIGNAL_TOO_SLOW, statement.part(Part::Subject), message)
                    .also(source, "the loop rate")
                    .hint(format!(
                        "{} carries {most:.2} kHz at most: choose a lower rate or a faster signal",
                        signal.word()
                    )),
            );
        }
    }
}

/// With the sheet: a speed that may come back on the signal's wire needs its time too.
pub(super) fn with_reply(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    let Some((rate, source)) = rate(recipe).filter(|_| sheet.speed_telemetry) else { return };
    for statement in &recipe.statements {
        let What::Signal { signal, .. } = statement.what else { continue };
        let Some(reply) = reply(signal) else { continue };
        let (alone, both, has) = (frame(signal), frame(signal) + reply, period(rate));
        if alone <= has && both > has {
            let message = format!(
                "with motor speeds coming back on the same wire a frame of {} takes {both:.1} us, and at {rate} a new one begins every {has:.1} us",
                signal.word()
            );
            found.push(
                Finding::warning(codes::SIGNAL_TOO_SLOW, statement.part(Part::Subject), message)
                    .also(source, "the loop rate")
                    .hint("choose a lower rate or a faster signal, or take the speeds from another wire"),
            );
        }
    }
}

/// A signal whose loop rate only the board knows, where some rate would be too fast for it.
pub(super) fn open(recipe: &Recipe, sheet: Option<&Sheet>) -> Option<Open> {
    if rate(recipe).is_some() {
        return None;
    }
    let fastest = sheet.and_then(fastest).unwrap_or(FASTEST);
    recipe.statements.iter().find_map(|statement| match statement.what {
        What::Signal { signal, .. } if frame(signal) > period(fastest) => Some(Open {
            needs: Needs::Board,
            span: statement.span.clone(),
            words: format!("whether {} carries the loop rate that the board has", signal.word()),
        }),
        _ => None,
    })
}

/// The fastest loop that a sheet lists, where it lists rates in hertz.
fn fastest(sheet: &Sheet) -> Option<Frequency> {
    match &sheet.settings.get("loop-rate")?.form {
        Form::Whole { unit, only } if unit == "Hz" => {
            only.iter().max().and_then(|rate| u32::try_from(*rate).ok()).map(Frequency)
        }
        _ => None,
    }
}
