//! Values out of an answer: what the fields of a payload hold becomes a signal.
//!
//! An answer that lacks a field, or holds a number that can't be one, gives no signal. Must not be here: which answer
//! belongs to which question.

use super::super::polled::{self, LONGEST_NAME};
use super::super::signals::{Identity, LinkEvent, Stream};
use super::field::FieldType;
use super::framing::ByteOrder;
use super::sheet::Shape;

/// A payload and how it is laid out.
#[derive(Clone, Copy)]
pub(super) struct AnswerPayload<'a> {
    pub(super) shape: &'a Shape,
    pub(super) order: ByteOrder,
    pub(super) payload: &'a [u8],
}

impl AnswerPayload<'_> {
    /// A number in the smallest unit of its family.
    fn measured(self, word: &str) -> Option<f64> {
        self.shape.fields.get(word)?.measured(self.payload, self.order, 0)
    }

    /// Whether a field that is there holds anything but zero; `None` where it is not there.
    fn is_set(self, word: &str) -> Option<bool> {
        let number = self.shape.fields.get(word)?.number(self.payload, self.order, 0)?;
        Some(number.real().abs() > 0.0)
    }

    /// Text; a row of whole numbers becomes them with points between, as versions are written.
    fn text(self, word: &str) -> Option<String> {
        let field = self.shape.fields.get(word)?;
        let text = match field.kind {
            FieldType::Text | FieldType::Hex => field.text(self.payload)?,
            _ => {
                let numbers = (0..field.count_in(self.payload.len()))
                    .map(|index| field.number(self.payload, self.order, index).map(|number| number.to_string()));
                numbers.collect::<Option<Vec<String>>>()?.join(".")
            }
        };
        Some(text.chars().take(LONGEST_NAME).collect())
    }

    /// A row of whole numbers of a type.
    fn row<T: TryFrom<i64>>(self, word: &str, most: usize) -> Option<Vec<T>> {
        let all = self.shape.fields.get(word)?.all(self.payload, self.order)?;
        if all.len() > most {
            return None;
        }
        all.into_iter().map(|number| T::try_from(rounded(number)?).ok()).collect()
    }

    /// The number of a motor run's or a refusal's field.
    pub(super) fn whole(self, word: &str) -> Option<i64> {
        rounded(self.measured(word)?)
    }

    /// Whether an answer to a command says that it is not done.
    pub(super) fn refuses(self) -> bool {
        self.is_set("refused") == Some(true)
    }

    /// What it says in words.
    pub(super) fn words(self, word: &str) -> String {
        self.text(word).unwrap_or_default()
    }

    /// Who the board is.
    pub(super) fn identity(self) -> Option<Identity> {
        let field = self.shape.fields.get("id")?;
        let digits = match field.kind {
            FieldType::Text | FieldType::Hex => field.text(self.payload)?,
            _ => format!("{:x}", self.whole("id")?),
        };
        let id = Identity::id_of(&digits)?;
        Some(Identity { id, firmware: self.words("firmware"), kind: self.words("kind"), name: None })
    }

    /// A signal; `None` where the answer holds no value that could be one.
    pub(super) fn signal(self, stream: Stream, heard: &mut Vec<LinkEvent>) -> Option<()> {
        match stream {
            Stream::Alive => heard.push(LinkEvent::Alive { vehicle: 1, armed: self.is_set("armed")? }),
            // A field `signal` that is zero: the receiver hears no radio.
            Stream::Channels if self.is_set("signal") == Some(false) => heard.push(polled::channels(&[])?),
            Stream::Channels => heard.push(polled::channels(&self.row::<u16>("pulses", 18)?)?),
            Stream::Outputs => heard.push(polled::outputs(&self.row::<u16>("pulses", 8)?)),
            Stream::Attitude => {
                let yaw = if self.shape.fields.contains_key("yaw") { self.measured("yaw")? } else { 0.0 };
                heard.push(polled::attitude([self.measured("roll")?, self.measured("pitch")?, yaw]));
            }
            Stream::Power => {
                let millivolts = self.measured("volts").and_then(|mv| u16::try_from(rounded(mv)?).ok());
                let centiamps = self.measured("amps").and_then(|ma| i16::try_from(rounded(ma / 10.0)?).ok());
                heard.push(LinkEvent::Power { millivolts, centiamps, receiver: None });
            }
            Stream::Speeds => heard.extend(polled::speeds(&self.row::<i32>("rpm", 8)?)),
        }
        Some(())
    }
}

#[expect(clippy::cast_possible_truncation, reason = "bounded before")]
fn rounded(number: f64) -> Option<i64> {
    (number.is_finite() && number.abs() < 9e15).then(|| number.round() as i64)
}
