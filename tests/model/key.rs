//! What tells one state from another: the machines' own `Debug`, read as it is written, with every moment as an age.
//!
//! So a field that is added is part of it by itself. Three things are left out, as nothing that is judged can tell them
//! apart here: how old a moment is beyond [`OLD`]; which of the last four seconds showed the least offset of a clock that
//! runs even; samples older than the newest, but for what `scene` adds of them. Must not be here: any rule.

use quadjig::measure::time::Time;
use std::fmt::{self, Write};
use std::hash::{DefaultHasher, Hasher};
use std::time::Duration;

/// Longer ago than every limit that the world's few steps can reach.
const OLD: Duration = Duration::from_secs(62);

#[derive(Clone, Copy, PartialEq)]
enum Reads {
    Text,
    /// `Time` was read, and then its bracket.
    Name,
    Moment,
    /// A number on a board's clock is next, in µs.
    Clock,
}

/// See the module.
pub struct Key {
    now: Time,
    hasher: DefaultHasher,
    reads: Reads,
    /// Behind the newest moment of a clock, and inside its least offsets.
    clock: bool,
    least: bool,
    told: Option<String>,
}

impl Key {
    pub fn new(now: Time) -> Self {
        Self { now, hasher: DefaultHasher::new(), reads: Reads::Text, clock: false, least: false, told: None }
    }

    /// The same, which keeps what it hashes.
    pub fn telling(now: Time) -> Self {
        Self { told: Some(String::new()), ..Self::new(now) }
    }

    pub fn value(&self) -> u64 {
        self.hasher.finish()
    }

    pub fn told(self) -> String {
        self.told.unwrap_or_default()
    }

    fn take(&mut self, bytes: &[u8]) {
        self.hasher.write(bytes);
        if let Some(told) = &mut self.told {
            told.push_str(&String::from_utf8_lossy(bytes));
        }
    }

    /// An age in µs, or how far it lies ahead.
    fn age(&mut self, at: u64) {
        if self.least {
            return;
        }
        let old = u64::try_from(OLD.as_micros()).unwrap();
        let age =
            if at == u64::MAX { i64::MIN } else { i64::try_from(self.now.0).unwrap() - i64::try_from(at).unwrap() };
        let age = age.min(i64::try_from(old).unwrap());
        if self.told.is_some() {
            self.take(format!("{age}").as_bytes());
        } else {
            self.hasher.write_i64(age);
        }
    }
}

impl Write for Key {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        match (self.reads, text) {
            (Reads::Text, "Time") => self.reads = Reads::Name,
            (Reads::Text, "newest") => (self.reads, self.clock) = (Reads::Clock, true),
            (Reads::Text, "least") if self.clock => (self.clock, self.least) = (false, true),
            (Reads::Text, "broken") => self.least = false,
            (Reads::Name, "(") => self.reads = Reads::Moment,
            (Reads::Name, _) => {
                self.reads = Reads::Text;
                self.take(text.as_bytes());
            }
            (Reads::Moment, number) => {
                self.reads = Reads::Text;
                self.age(number.parse().map_err(|_| fmt::Error)?);
            }
            (Reads::Clock, text) => {
                let number = text.parse::<u64>().ok();
                if number.is_some() || text == "None" {
                    self.reads = Reads::Text;
                }
                // It runs as ours does: what tells is how far it is from it.
                let apart = number.map(|number| self.now.0.wrapping_sub(number).to_string());
                self.take(apart.as_deref().unwrap_or(text).as_bytes());
            }
            (Reads::Text, text) => self.take(text.as_bytes()),
        }
        Ok(())
    }
}
