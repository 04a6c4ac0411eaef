//! Board sheets that are new here, before a session that could do anything with them.
//!
//! Promises: sheets that come with the program are taken as they are, every other once it was accepted by its hash; what
//! is shown is what was read. Must not be here: how it is asked (see `bench`), what is kept (see `record`).

use super::board::{self, Sitting};
use super::output::Output;
use super::peer::Peer;
use crate::bench::monitor::new_sheet::{Before, NewSheet, accept};
use crate::bench::session::context::SessionContext;
use crate::board::document::load;
use crate::board::sheet::Sheet;
use crate::board::shipped;
use crate::language::canonical::sha256;
use crate::record::accepted::{self, AcceptedSheet};
use crate::seam::PortName;
use crate::seam::exit::Exit;
use crate::world::replace;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::rc::Rc;

/// Has each sheet that is new here accepted, or refuses.
///
/// # Errors
/// Declined, not understood by its board, or a file that can't be read or written; after it was told.
pub fn accepted(sheets: &[Sheet], crafts: &Path, port: &PortName, peer: &Peer, out: &mut Output) -> Result<(), Exit> {
    let ships = |sheet: &Sheet| {
        let mut all = shipped::SHEETS.iter().filter_map(|one| shipped::sheet(one.stem)?.ok());
        all.any(|one| one.hash == sheet.hash)
    };
    let file = crafts.join(accepted::FILE);
    for sheet in sheets.iter().filter(|sheet| !ships(sheet)) {
        let bytes = match std::fs::read(&file) {
            Err(error) if error.kind() == ErrorKind::NotFound => Vec::new(),
            read => read.map_err(|error| told(&error, &file, out))?,
        };
        let known = accepted::parse(&bytes);
        if known.iter().any(|known| known.sha256 == sheet.hash) {
            continue;
        }
        let text = load::text(Path::new(&sheet.origin)).unwrap_or_default();
        if sha256(&text) != sheet.hash {
            return Err(told(&"this sheet changed while it was read; begin again", Path::new(&sheet.origin), out));
        }
        let before = known.iter().rev().find(|known| known.board == sheet.board).map(|known| {
            // What is not what was accepted is nothing to compare with.
            let said = Some(known.text.clone()).filter(|text| sha256(text) == known.sha256);
            Before { at: known.at.clone(), text: said }
        });
        let new = NewSheet { sheet: sheet.clone(), text: text.clone(), before };
        let (bench, port) = (Rc::new(SessionContext::default()), port.clone());
        let here = Rc::clone(&bench);
        let script = Box::pin(async move { accept(&here, &port, &new).await });
        // Nothing of a craft's record is read or written here.
        let sitting = Sitting { crafts: PathBuf::from("."), peer: peer.clone().for_sheet(sheet), ..Sitting::default() };
        board::look_at_terminal(sitting, &bench, script, out).map_err(|fault| {
            out.message("Nothing was written to the board.");
            board::ended(&fault, out)
        })?;
        let one = AcceptedSheet {
            schema: accepted::SCHEMA.to_owned(),
            at: board::clock().started.to_string(),
            board: sheet.board.clone(),
            from: sheet.origin.clone(),
            sha256: sheet.hash.clone(),
            text,
        };
        let bytes = accepted::with(bytes, &one).map_err(|_| Exit::Bug)?;
        let written = std::fs::create_dir_all(crafts).and_then(|()| replace::replace(&file, &bytes));
        written.map_err(|error| told(&error, &file, out))?;
    }
    Ok(())
}

fn told(what: &dyn std::fmt::Display, file: &Path, out: &mut Output) -> Exit {
    out.error(&format!("{}: {what}", file.display()), Some("until a sheet was accepted and this kept, it is not used"));
    out.message("Nothing was written to the board.");
    Exit::Link
}
