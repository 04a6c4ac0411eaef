//! What was shown of a craft last, of each kind, and what has voided it since.
//!
//! Promises: what is not known to be as it was voids as well. Must not be here: what a plan concludes from a proof.

use super::repair::{ProofKind, Voiding};
use crate::board::sheet::Settings;
use crate::board::signals::Identity;
use crate::board::value::{Number, SettingName};
use crate::record::Proof;

/// The last proof of a kind.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// Of what.
    pub kind: ProofKind,
    /// When, RFC 3339.
    pub at: String,
    /// The proof.
    pub proof: Proof,
    /// Nothing here: it stands.
    pub void: Vec<Void>,
}

/// Why a proof no longer counts.
#[derive(Debug, Clone, PartialEq)]
pub enum Void {
    /// Something was repaired or exchanged.
    Repair(String),
    /// A setting that it depends on is another; `None`: nobody knows what it is.
    Setting(SettingName, Number, Option<Number>),
    /// The firmware is another.
    Firmware(String, String),
    /// It was shown with another board.
    Board,
}

impl Void {
    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Repair(words) => words.clone(),
            Self::Setting(name, was, Some(is)) => format!("{name} was {was} and is {is}"),
            Self::Setting(name, was, None) => format!("{name} was {was} and is not known"),
            Self::Firmware(was, is) => format!("the firmware was {was} and is {is}"),
            Self::Board => "it was shown with another board".to_owned(),
        }
    }
}

/// The craft as it was seen last.
#[derive(Debug, Clone, Copy)]
pub struct LastSeen<'a> {
    /// Its board.
    pub board: &'a Identity,
    /// Its settings; one that is not here is not known.
    pub settings: &'a Settings,
}

/// Judges one proof, which stands in this line of its file, from 0.
#[must_use]
pub fn judge(line: usize, proof: &Proof, voiding: &[Voiding], seen: Option<LastSeen<'_>>) -> Shown {
    let kind = ProofKind::of(&proof.subject);
    let by_repair = voiding.iter().filter(|one| one.voids(line, kind)).map(|one| Void::Repair(one.words()));
    let mut void: Vec<Void> = by_repair.collect();
    if let Some(LastSeen { board, settings }) = seen {
        if !proof.board.is_same_craft(board) {
            void.push(Void::Board);
        } else if proof.board.firmware != board.firmware {
            void.push(Void::Firmware(proof.board.firmware.clone(), board.firmware.clone()));
        }
        for (name, was) in &proof.depends_on {
            let is = settings.get(name).copied();
            if is.is_none_or(|is| !is.same(*was)) {
                void.push(Void::Setting(name.clone(), *was, is));
            }
        }
    }
    Shown { kind, at: proof.at.clone(), proof: proof.clone(), void }
}
