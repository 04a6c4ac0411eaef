//! What Tab offers: words and names as the prompt knows them, and files after `write`.
//!
//! Promises: nothing is offered that would not show as it is. Must not be here: which words there are.

use crate::bench::interactive::complete::{self, Offered};
use crate::language::characters::is_hidden;
use crate::language::complete::Candidate;
use crate::language::known::Known;
use crate::virtual_board::HELP;
use crate::world::mailbox::held;
use rustyline::completion::FilenameCompleter;
use std::sync::mpsc::Sender;
use std::sync::mpsc::channel;
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// What a line begins with that is for the virtual world.
pub(super) const WORLD: &str = "world ";

/// Where lines go to another world than the core's.
pub(in crate::world) type WorldLines = Arc<Mutex<Option<Sender<String>>>>;

/// Sends lines to the world, if there is one: several with `;` between.
pub(in crate::world) fn to_world(world: &WorldLines, text: &str) -> bool {
    let world = held(world);
    if let Some(lines) = &*world {
        let whole = text.split(';').map(str::trim).filter(|line| !line.is_empty());
        // A world that is gone answers nothing.
        whole.for_each(|line| drop(lines.send(line.to_owned())));
    }
    world.is_some()
}

/// What could stand at the cursor from `start` on.
pub(super) struct Offer {
    pub start: usize,
    pub candidates: Vec<Candidate>,
}

/// What could stand at byte `at` of a text; `world` where there is a virtual one.
pub(super) fn complete(text: &str, at: usize, known: &Known, world: bool) -> Offer {
    let typed = text[..at].trim_start();
    if world && let Some(begun) = typed.strip_prefix(WORLD) {
        return Offer { start: at - begun.len(), candidates: world_lines(begun) };
    }
    let mut offer = plain(text, at, known);
    if world && !typed.contains(' ') && WORLD.starts_with(typed) {
        let about = "move the virtual world by hand; `world help` lists how".to_owned();
        offer.candidates.push(Candidate { text: WORLD.trim_end().to_owned(), about });
    }
    offer
}

/// What the world takes as the first word of a line.
fn world_lines(begun: &str) -> Vec<Candidate> {
    let one = |(form, about): &(&str, &str)| {
        let word = form.split(' ').next().unwrap_or_default();
        word.starts_with(begun).then(|| Candidate { text: word.to_owned(), about: format!("{form}: {about}") })
    };
    HELP.iter().filter_map(one).collect()
}

fn plain(text: &str, at: usize, known: &Known) -> Offer {
    match complete::complete(&text[..at], known) {
        Offered::Words(start, candidates) => Offer { start, candidates },
        Offered::File(start) => Offer { start, candidates: files(&text[start..at]) },
    }
}

/// What may follow, in a few words.
pub(super) fn hint(text: &str, known: &Known, world: bool) -> Option<String> {
    if world && let Some(begun) = text.trim_start().strip_prefix(WORLD) {
        let form = HELP.iter().find(|(form, _)| begun.split(' ').next() == form.split(' ').next());
        return form.map(|(form, _)| (*form).to_owned());
    }
    complete::hint(text, known)
}

/// How long a folder is waited for: meanwhile no key is heard.
const LONGEST: Duration = Duration::from_millis(20);

/// Files whose path begins so, where the disk tells them in time; a folder ends in `/`.
fn files(begun: &str) -> Vec<Candidate> {
    let (told, found) = channel();
    let begun = begun.to_owned();
    // Nobody waits any more where the disk took too long.
    let read = move || _ = told.send(read_files(&begun));
    let started = std::thread::Builder::new().name("files".to_owned()).spawn(read);
    started.ok().and_then(|_| found.recv_timeout(LONGEST).ok()).unwrap_or_default()
}

fn read_files(begun: &str) -> Vec<Candidate> {
    // Behind an open quote a path is taken whole, blanks and all.
    let quoted = format!("\"{begun}");
    let Ok((start, found)) = FilenameCompleter::new().complete_path(&quoted, quoted.len()) else { return Vec::new() };
    let Some(folder) = quoted.get(1..start) else { return Vec::new() };
    let whole = |replaced: &str| format!("{folder}{}", replaced.trim_end_matches('"'));
    let texts = found.iter().map(|pair| whole(&pair.replacement));
    let shown = texts.filter(|text| text.starts_with(begun) && !text.chars().any(|c| is_hidden(c) || c == '\\'));
    shown.map(|text| Candidate { text, about: String::new() }).collect()
}

/// Candidates as lines, at most so many.
pub(super) fn list(candidates: &[Candidate], most: usize) -> Vec<String> {
    let shown = if candidates.len() > most { most - 1 } else { candidates.len() };
    let width = candidates[..shown].iter().map(|one| one.text.chars().count()).max().unwrap_or_default();
    let mut lines: Vec<String> = candidates[..shown]
        .iter()
        .map(|one| format!("  {:width$}  {}", one.text, one.about).trim_end().to_owned())
        .collect();
    if candidates.len() > shown {
        lines.push(format!("  and {} more", candidates.len() - shown));
    }
    lines
}
