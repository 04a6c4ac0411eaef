//! Values out of an answer: what the groups of a pattern hold becomes a signal.
//!
//! Every number passes one strict form; an answer with anything else in it is none.

use super::super::polled::{self, LONGEST_NAME};
use super::super::signals::{Identity, LinkEvent, Stream};
use super::super::value::{Number, SettingName};
use super::template::number_of;
use regex::Captures;

fn group<'l>(captures: &Captures<'l>, name: &str) -> Option<&'l str> {
    captures.name(name).map(|found| found.as_str().trim())
}

fn real(captures: &Captures<'_>, name: &str) -> Option<f64> {
    number_of(group(captures, name)?).map(Number::real)
}

/// Numbers with blanks between, at most `most` of them.
fn row<T: std::str::FromStr>(text: &str, most: usize) -> Option<Vec<T>> {
    let words: Vec<&str> = text.split_ascii_whitespace().collect();
    let plain = words.iter().all(|word| matches!(number_of(word), Some(Number::Whole(_))));
    if !plain || words.is_empty() || words.len() > most {
        return None;
    }
    words.iter().map(|word| word.parse().ok()).collect()
}

/// A signal; `None` where the answer holds no value that could be one.
pub(super) fn signal(stream: Stream, captures: &Captures<'_>, heard: &mut Vec<LinkEvent>) -> Option<()> {
    match stream {
        Stream::Alive => {
            let armed = match (captures.name("armed"), captures.name("disarmed")) {
                (Some(_), None) => true,
                (None, Some(_)) => false,
                _ => return None,
            };
            heard.push(LinkEvent::Alive { vehicle: 1, armed });
        }
        // No group at all: the receiver hears no radio.
        Stream::Channels => heard.push(match group(captures, "pulses") {
            Some(text) => polled::channels(&row::<u16>(text, 18)?)?,
            None => polled::channels(&[])?,
        }),
        Stream::Outputs => {
            heard.push(polled::outputs(&row::<u16>(group(captures, "pulses")?, 8)?));
        }
        Stream::Attitude => {
            let yaw = if captures.name("yaw").is_some() { real(captures, "yaw")? } else { 0.0 };
            heard.push(polled::attitude([real(captures, "roll")?, real(captures, "pitch")?, yaw]));
        }
        Stream::Power => heard.push(power(captures)?),
        Stream::Speeds => heard.extend(polled::speeds(&row::<i32>(group(captures, "rpm")?, 8)?)),
    }
    Some(())
}

#[expect(clippy::cast_possible_truncation, reason = "bounded before")]
fn power(captures: &Captures<'_>) -> Option<LinkEvent> {
    let volts = real(captures, "volts")?;
    let millivolts = Some(volts * 1000.0).filter(|mv| (0.0..65_535.0).contains(mv));
    let centiamps = match captures.name("amps") {
        Some(_) => Some(real(captures, "amps")? * 100.0).filter(|ca| ca.abs() < 32_767.0),
        None => None,
    };
    #[expect(clippy::cast_sign_loss, reason = "not below zero")]
    let millivolts = Some(millivolts?.round() as u16);
    Some(LinkEvent::Power { millivolts, centiamps: centiamps.map(|ca| ca.round() as i16), receiver: None })
}

/// Who the board is.
pub(super) fn identity(captures: &Captures<'_>) -> Option<Identity> {
    let id = Identity::id_of(group(captures, "id")?)?;
    let text = |name| group(captures, name).unwrap_or_default().chars().take(LONGEST_NAME).collect();
    Some(Identity { id, firmware: text("firmware"), kind: text("kind"), name: None })
}

/// A setting's name and value; the value is `None` where it is no number.
pub(super) fn setting(captures: &Captures<'_>) -> Option<(SettingName, Option<Number>)> {
    let name = SettingName::new(group(captures, "name")?)?;
    // The rest of a number whose line was cut is none.
    Some((name, group(captures, "value").filter(|text| !is_padded(text)).and_then(number_of)))
}

/// Whether digits follow a zero that leads.
fn is_padded(text: &str) -> bool {
    let digits = text.trim_start_matches('-');
    digits.starts_with('0') && digits[1..].starts_with(|after: char| after.is_ascii_digit())
}
