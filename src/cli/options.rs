//! Options that several commands share, so that they are spelled and explained alike.
//!
//! Promises: what stands here is parsed, never opened. Must not be here: what a command does.

use super::completions;
use super::output::{Format, PageFormat};
use crate::language::characters::is_hidden;
use crate::language::units::Quantity;
use clap_complete::engine::ArgValueCompleter;
use std::path::PathBuf;
use std::str::FromStr;

/// How a report is written.
#[derive(Debug, Clone, Copy, clap::Args)]
pub struct Reporting {
    /// How to report: for people, or JSON for programs.
    #[arg(long, value_enum, default_value_t = Format::Text, value_name = "FORM")]
    pub format: Format,
}

/// How a report is written that may be a page as well.
#[derive(Debug, Clone, Copy, clap::Args)]
pub struct PageReporting {
    /// How to report: for people, JSON for programs, or HTML, one page for a browser and for paper.
    #[arg(long, value_enum, default_value_t = PageFormat::Text, value_name = "FORM")]
    pub format: PageFormat,
}

/// Which board sheet to use.
#[derive(Debug, Clone, clap::Args)]
pub struct SheetOption {
    /// Board sheet: a file, or the name of a shipped sheet such as `finch` or of one in `boards/` at the root.
    #[arg(long, value_name = "FILE|NAME", add = ArgValueCompleter::new(completions::sheets))]
    pub sheet: Option<String>,
}

/// Which radio card to use.
#[derive(Debug, Clone, clap::Args)]
pub struct RadioOption {
    /// Radio card: a file, or the name of a shipped card such as `bench` or of one in `radios/` at the root.
    #[arg(long, value_name = "FILE|NAME", add = ArgValueCompleter::new(completions::cards))]
    pub radio: Option<String>,
}

/// What a recipe is read with.
#[derive(Debug, Clone, clap::Args)]
pub struct ReadingOptions {
    /// The board sheet.
    #[command(flatten)]
    pub sheet: SheetOption,
    /// The radio card.
    #[command(flatten)]
    pub radio: RadioOption,
    /// Values for its parameters.
    #[command(flatten)]
    pub with: WithOption,
}

/// A board on a wire, with what is known of it.
#[derive(Debug, Clone, clap::Args)]
pub struct BoardOptions {
    /// Where it is.
    #[command(flatten)]
    pub port: PortOptions,
    /// The board sheet.
    #[command(flatten)]
    pub sheet: SheetOption,
    /// Where its record is kept.
    #[command(flatten)]
    pub records: RecordsOption,
}

/// Values for a recipe's parameters.
#[derive(Debug, Clone, clap::Args)]
pub struct WithOption {
    /// Value for a `given` of the named recipe, such as `idle-floor=1120us` or `arm-switch=C`; may stand more than once.
    #[arg(long = "with", value_name = "NAME=VALUE")]
    pub with: Vec<With>,
}

impl WithOption {
    /// The pairs, as the reader takes them.
    #[must_use]
    pub fn pairs(&self) -> Vec<(String, String)> {
        self.with.iter().map(|with| (with.name.clone(), with.value.clone())).collect()
    }

    /// Each as it was given.
    #[must_use]
    pub fn as_given(&self) -> Vec<String> {
        self.with.iter().map(|with| format!("{}={}", with.name, with.value)).collect()
    }
}

/// A short text that stands in one line.
pub(super) fn one_line(text: &str) -> Result<String, OptionError> {
    let fits = !text.trim().is_empty() && text.chars().count() <= 64 && !text.chars().any(is_hidden);
    if fits { Ok(text.trim().to_owned()) } else { Err(OptionError::NotOneLine) }
}

/// Where a board is.
#[derive(Debug, Clone, clap::Args)]
pub struct PortOptions {
    /// Where the board is: a serial port, `tcp:HOST:PORT`, `udp:HOST:PORT`, or `virtual[:NAME]`.
    /// Left out: the only plausible serial port.
    #[arg(long, value_name = "PORT", add = ArgValueCompleter::new(completions::ports))]
    pub port: Option<Port>,
    /// System number of the craft, where several answer on one wire.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..=255))]
    pub system_id: Option<u8>,
    /// File with the key that the board signs with: 64 hexadecimal digits. Nothing unsigned is sent or taken then.
    #[arg(long, value_name = "FILE")]
    pub signing_key: Option<PathBuf>,
}

/// Where craft records are kept.
#[derive(Debug, Clone, clap::Args)]
pub struct RecordsOption {
    /// Folder of the craft records. Left out: the user's data folder.
    #[arg(long, value_name = "DIR")]
    pub records: Option<PathBuf>,
}

/// Who sits at the bench.
#[derive(Debug, Clone, clap::Args)]
pub struct OperatorOption {
    /// Who sits at the bench, for the craft's record.
    #[arg(long, value_name = "NAME", value_parser = one_line)]
    pub operator: Option<String>,
}

/// One `--with NAME=VALUE`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct With {
    /// The parameter's name.
    pub name: String,
    /// Its value as written: what it must be, the parameter's kind says.
    pub value: String,
}

/// Why a shared option can't be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum OptionError {
    /// A parameter without `=`.
    #[error("write NAME=VALUE, such as idle-floor=1120us")]
    NoEquals,
    /// A name that no `given` can have.
    #[error("`{0}` is no parameter's name: lower case letters, digits and inner hyphens")]
    BadName(String),
    /// A value that is no quantity.
    #[error("`{text}`: {error}; write a number and a unit, such as 1120us")]
    BadValue {
        /// What was written.
        text: String,
        /// What is wrong with it.
        error: crate::language::quantity::QuantityError,
    },
    /// A text of several lines, or none.
    #[error("write one line of text, 64 characters at most")]
    NotOneLine,
    /// A network port without host or number.
    #[error("write {0}:HOST:PORT, such as {0}:127.0.0.1:5760")]
    BadAddress(&'static str),
    /// Nothing at all.
    #[error("write the path of a serial port, tcp:HOST:PORT, udp:HOST:PORT, or virtual")]
    Empty,
}

impl FromStr for With {
    type Err = OptionError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let (name, value) = text.split_once('=').ok_or(OptionError::NoEquals)?;
        let fits = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        let good = name.starts_with(|c: char| c.is_ascii_lowercase()) && name.chars().all(fits) && !name.ends_with('-');
        if !good {
            return Err(OptionError::BadName(name.to_owned()));
        }
        // What begins as a number is one; anything else may be a switch or a word.
        if value.is_empty() {
            return Err(OptionError::NoEquals);
        }
        if value.starts_with(|c: char| c.is_ascii_digit() || c == '-')
            && let Err(error) = value.parse::<Quantity>()
            && !value.chars().all(|c| c.is_ascii_alphanumeric() || c == '-')
        {
            return Err(OptionError::BadValue { text: value.to_owned(), error });
        }
        Ok(Self { name: name.to_owned(), value: value.to_owned() })
    }
}

/// Where a board is, as written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Port {
    /// A serial port or pseudo-terminal, by path.
    Serial(PathBuf),
    /// A TCP address to connect to.
    Tcp {
        /// Host name or address.
        host: String,
        /// Port number.
        port: u16,
    },
    /// A UDP address to listen on, or to talk to.
    Udp {
        /// Host name or address.
        host: String,
        /// Port number.
        port: u16,
    },
    /// The virtual board in this process; the name chooses one of the shipped worlds.
    Virtual(Option<String>),
}

impl FromStr for Port {
    type Err = OptionError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if text.is_empty() {
            return Err(OptionError::Empty);
        }
        if text == "virtual" {
            return Ok(Self::Virtual(None));
        }
        if let Some(name) = text.strip_prefix("virtual:") {
            return if name.is_empty() { Err(OptionError::Empty) } else { Ok(Self::Virtual(Some(name.to_owned()))) };
        }
        if let Some(rest) = text.strip_prefix("tcp:") {
            let (host, port) = address(rest).ok_or(OptionError::BadAddress("tcp"))?;
            return Ok(Self::Tcp { host, port });
        }
        if let Some(rest) = text.strip_prefix("udp:") {
            let (host, port) = address(rest).ok_or(OptionError::BadAddress("udp"))?;
            return Ok(Self::Udp { host, port });
        }
        Ok(Self::Serial(PathBuf::from(text)))
    }
}

/// `HOST:PORT`; the host of an address of version 6 may stand in square brackets.
fn address(text: &str) -> Option<(String, u16)> {
    let (host, port) = text.rsplit_once(':')?;
    let host = host.strip_prefix('[').and_then(|inner| inner.strip_suffix(']')).unwrap_or(host);
    let port = port.parse().ok().filter(|port| *port > 0)?;
    (!host.is_empty()).then(|| (host.to_owned(), port))
}

#[cfg(test)]
mod tests {
    use super::{OptionError, Port, With};

    #[test]
    fn a_parameter_is_a_name_and_a_value() {
        let with: With = "idle-floor=1120us".parse().unwrap();
        assert_eq!((with.name.as_str(), with.value.as_str()), ("idle-floor", "1120us"));
        assert_eq!("idle-floor".parse::<With>(), Err(OptionError::NoEquals));
        assert_eq!("Idle=1".parse::<With>(), Err(OptionError::BadName("Idle".to_owned())));
        assert!(matches!("idle=5 volts.".parse::<With>(), Err(OptionError::BadValue { .. })));
        assert_eq!("arm-switch=3B".parse::<With>().unwrap().value, "3B");
    }

    #[test]
    fn a_port_is_told_by_its_prefix() {
        assert_eq!("virtual".parse(), Ok(Port::Virtual(None)));
        assert_eq!("virtual:tilted".parse(), Ok(Port::Virtual(Some("tilted".to_owned()))));
        assert_eq!("/dev/ttyACM0".parse(), Ok(Port::Serial("/dev/ttyACM0".into())));
        assert_eq!("tcp:[::1]:5760".parse(), Ok(Port::Tcp { host: "::1".to_owned(), port: 5760 }));
        assert_eq!("udp:bench:0".parse::<Port>(), Err(OptionError::BadAddress("udp")));
        assert_eq!("tcp:5760".parse::<Port>(), Err(OptionError::BadAddress("tcp")));
    }
}
