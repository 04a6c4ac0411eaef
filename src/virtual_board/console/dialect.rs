//! What a console is made of: its prompt, the lines that it knows, and how it answers each.
//!
//! Plain data, and forms with places for values. Promises: a line is heard only as a whole. Must not be here: what a line
//! does.

/// A place for a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "each is named as it is written in a form")]
pub enum Slot {
    Name,
    Value,
    Motor,
    Pulse,
    Milliseconds,
    Id,
    Kind,
    Firmware,
    Pulses,
    Roll,
    Pitch,
    Yaw,
    Volts,
    Amps,
    Speeds,
    Count,
    Why,
    Text,
}

impl Slot {
    const ALL: [(&'static str, Self); 18] = [
        ("name", Self::Name),
        ("value", Self::Value),
        ("motor", Self::Motor),
        ("pulse", Self::Pulse),
        ("ms", Self::Milliseconds),
        ("id", Self::Id),
        ("kind", Self::Kind),
        ("firmware", Self::Firmware),
        ("pulses", Self::Pulses),
        ("roll", Self::Roll),
        ("pitch", Self::Pitch),
        ("yaw", Self::Yaw),
        ("volts", Self::Volts),
        ("amps", Self::Amps),
        ("rpm", Self::Speeds),
        ("count", Self::Count),
        ("why", Self::Why),
        ("text", Self::Text),
    ];

    /// The place of a name, if there is one.
    #[must_use]
    pub fn of(name: &str) -> Option<Self> {
        Self::ALL.iter().find(|(known, _)| *known == name).map(|(_, slot)| *slot)
    }
}

/// A piece of a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    /// As it stands.
    Text(String),
    /// A place for a value.
    Slot(Slot),
}

/// A line with places for values.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Form(pub Vec<Part>);

impl Form {
    /// From a text with its places in braces; what stands in braces and is no place is text.
    #[must_use]
    pub fn of(text: &str) -> Self {
        let mut parts = Vec::new();
        let mut rest = text;
        while let Some((before, after)) = rest.split_once('{') {
            let slot = after.split_once('}').and_then(|(name, after)| Some((Slot::of(name)?, after)));
            let Some((slot, after)) = slot else { break };
            if !before.is_empty() {
                parts.push(Part::Text(before.to_owned()));
            }
            parts.push(Part::Slot(slot));
            rest = after;
        }
        if !rest.is_empty() {
            parts.push(Part::Text(rest.to_owned()));
        }
        Self(parts)
    }

    /// With values in its places; one that is not given stays empty.
    #[must_use]
    pub fn said(&self, values: &[(Slot, &str)]) -> String {
        let part = |part: &Part| match part {
            Part::Text(text) => text.clone(),
            Part::Slot(slot) => {
                values.iter().find(|(of, _)| of == slot).map(|(_, value)| (*value).to_owned()).unwrap_or_default()
            }
        };
        self.0.iter().map(part).collect()
    }

    /// The values in a line of this form. A value ends where the text behind its place begins, and holds no blank.
    #[must_use]
    pub fn heard(&self, line: &str) -> Option<Vec<(Slot, String)>> {
        let (mut values, mut rest) = (Vec::new(), line);
        for (place, part) in self.0.iter().enumerate() {
            match part {
                Part::Text(text) => rest = rest.strip_prefix(text.as_str())?,
                Part::Slot(slot) => {
                    let end = match self.0.get(place + 1) {
                        Some(Part::Text(behind)) => rest.find(behind.as_str())?,
                        _ => rest.len(),
                    };
                    let (value, after) = rest.split_at(end);
                    if value.is_empty() || value.contains(' ') {
                        return None;
                    }
                    values.push((*slot, value.to_owned()));
                    rest = after;
                }
            }
        }
        rest.is_empty().then_some(values)
    }
}

/// What a line is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "named as the needs of a link are")]
pub enum Verb {
    Identity,
    List,
    Read,
    Write,
    Store,
    Restart,
    Armed,
    Channels,
    Outputs,
    Attitude,
    Power,
    Speeds,
    RunMotor,
    Stop,
}

/// A line that the console knows, and its answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exchange {
    /// What it is for.
    pub verb: Verb,
    /// The line.
    pub asks: Form,
    /// A line of the answer.
    pub says: Form,
    /// The answer where the other thing is so: disarmed, no signal from the radio; the last line of a list.
    pub other: Option<Form>,
    /// Places behind the point of its numbers.
    pub decimals: usize,
}

/// A console.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dialect {
    /// Shown where a line can be typed.
    pub prompt: String,
    /// Whether what is typed comes back.
    pub echo: bool,
    /// Throws away what is typed, open or to come.
    pub interrupt: Option<u8>,
    /// Shown where a page waits, and what turns it; `None`: answers have no pages.
    pub more: Option<(String, u8)>,
    /// Said when the board starts.
    pub banner: Option<String>,
    /// Says something unasked.
    pub note: Option<Form>,
    /// Says no.
    pub refusal: Form,
    /// Leaves the console.
    pub leave: Option<String>,
    /// What it knows besides.
    pub exchanges: Vec<Exchange>,
    /// How the id is written.
    pub id: IdForm,
    /// How each line is said, and what it is for, where it tells that.
    pub help: &'static [(&'static str, &'static str)],
}

/// How an id is written: so many hexadecimal digits, those of the board's own first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct IdForm {
    /// How many.
    pub digits: usize,
    /// In capitals.
    pub capitals: bool,
}

impl IdForm {
    /// An id in this form.
    #[must_use]
    pub fn written(self, id: &str) -> String {
        let id = format!("{id:0<width$}", width = self.digits);
        if self.capitals { id.to_ascii_uppercase() } else { id }
    }
}
