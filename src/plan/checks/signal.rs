//! Can the motor signal carry the loop rate? Every pass of the loop sends one frame to each motor.

use crate::board::sheet::{Form, Sheet};
use crate::language::checks::codes;
use crate::language::checks::undecided::{Needs, Open};
use crate::language::finding::Finding;
use crate::language::recipe::{Part, Recipe, Setting, StatementKind, Value};
use crate::language::setting_word::SettingWord;
use crate::language::span::Span;
use crate::language::units::Frequency;
use crate::measure::rounding;

/// Fastest loop that boards of today offer, in hertz; taken where no sheet says. *Common practice*.
const FASTEST: Frequency = Frequency(8000);

fn period(rate: Frequency) -> f64 {
    1e6 / f64::from(rate.0.max(1))
}

/// The loop rate that the recipe sets, and where.
fn rate(recipe: &Recipe) -> Option<(Frequency, &Span)> {
    recipe.statements.iter().find_map(|statement| match &statement.what {
        StatementKind::Signal { rate: Some(rate), .. } => Some((*rate, statement.part(Part::Rate))),
        StatementKind::Set { setting: Setting::Word(word), value: Value::Quantity(quantity) }
            if word == SettingWord::LoopRate.word() =>
        {
            quantity.frequency().ok().map(|rate| (rate, statement.part(Part::Value)))
        }
        _ => None,
    })
}

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    let Some((rate, source)) = rate(recipe) else { return };
    for statement in &recipe.statements {
        let StatementKind::Signal { signal, .. } = statement.what else { continue };
        let (needs, has) = (signal.frame_time(false), period(rate));
        if needs > has {
            let message = format!(
                "a frame of {} takes {:.1} us, and at {rate} a new one begins every {:.1} us: the speed controllers would get broken frames",
                signal.word(),
                rounding::up(needs, 1),
                rounding::down(has, 1)
            );
            let most = rounding::down(signal.highest_rate(false) / 1000.0, 2);
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
        let StatementKind::Signal { signal, .. } = statement.what else { continue };
        let (alone, both, has) = (signal.frame_time(false), signal.frame_time(true), period(rate));
        if alone <= has && both > has {
            let message = format!(
                "with motor speeds coming back on the same wire a frame of {} takes {:.1} us, and at {rate} a new one begins every {:.1} us",
                signal.word(),
                rounding::up(both, 1),
                rounding::down(has, 1)
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
        StatementKind::Signal { signal, .. } if !signal.carries(f64::from(fastest.0), false) => Some(Open {
            needs: Needs::Board,
            span: statement.span.clone(),
            words: format!("whether {} carries the loop rate that the board has", signal.word()),
        }),
        _ => None,
    })
}

/// The fastest loop that a sheet lists, where it lists rates in hertz.
fn fastest(sheet: &Sheet) -> Option<Frequency> {
    match &sheet.entry(SettingWord::LoopRate)?.form {
        Form::Whole { unit, only } if unit == "Hz" => {
            only.iter().max().and_then(|rate| u32::try_from(*rate).ok()).map(Frequency)
        }
        _ => None,
    }
}
