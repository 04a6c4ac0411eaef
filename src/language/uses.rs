//! Gathers the files of a recipe: the named one, and through `use` the ones it stands on.
//!
//! Promises: a path never leaves the root of the named recipe; a file is taken once; a cycle, too many
//! files, levels or statements are findings. Must not be here: how bytes are read (see `sources`),
//! what other statements mean.

use super::codes;
use super::finding::Finding;
use super::grammar::Rule;
use super::limits;
use super::lines::{BLANKS, Line, Piece, split};
use super::lower::text::unquote;
use super::recipe::File;
use super::root::{FILE, Root};
use super::sources::{SourceError, Sources};
use super::span::{FileId, Span};
use super::syntax::{parse, place};
use std::collections::HashMap;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

/// A file of a recipe with its statements' lines.
pub(crate) struct Loaded {
    pub file: File,
    pub lines: Vec<Line>,
    /// The file that each `use` line names, by index of the line.
    pub uses: HashMap<usize, Used>,
    /// The file and the place that use it; none for the named one.
    pub used_at: Option<Span>,
    /// Its edition is not ours: nothing else in it is read.
    pub foreign: bool,
    identity: PathBuf,
    /// Relative to the root.
    path: PathBuf,
}

/// What a `use` line names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Used {
    /// A file that stands in place of the line.
    Fresh(FileId),
    /// A file that was taken before: the line does nothing.
    Again(FileId),
}

/// Reads the named recipe and all it uses.
pub(crate) fn load(sources: &dyn Sources, file: &Path, findings: &mut Vec<Finding>) -> (PathBuf, Vec<Loaded>) {
    let Root { folder, recipe: path, wrong } = sources.root(file);
    if let Some(why) = wrong {
        let message = format!("`{}`, which marks the root, is not as it has to be: {why}", folder.join(FILE).display());
        findings.push(
            Finding::error(codes::BAD_ROOT, Span::default(), message).hint("write `edition = 1` and nothing else"),
        );
    }
    let mut loader = Loader { sources, folder, files: Vec::new(), statements: 0, findings };
    let name = file.display().to_string();
    match sources.read(file) {
        Ok(source) => {
            let id = loader.add(name, source.text, source.identity, path, None);
            loader.follow(id, 0, &mut Vec::new());
        }
        Err(error) => {
            loader.findings.push(cannot_read(&name, &error));
            loader.files.push(Loaded {
                file: File { name, text: Arc::from("") },
                lines: Vec::new(),
                uses: HashMap::new(),
                used_at: None,
                foreign: true,
                identity: PathBuf::new(),
                path: PathBuf::new(),
            });
        }
    }
    (loader.folder, loader.files)
}

/// What to do with a file that lies outside.
const INSIDE: &str = "copy the file below the root: the folder with a `quadjig.toml`, else the named recipe's own";

/// The finding for the first statement that is one too many.
pub(crate) fn too_many_statements(span: Span) -> Finding {
    let message = format!(
        "this is statement {} of the recipe; {} is the most, all its files taken together",
        limits::STATEMENTS + 1,
        limits::STATEMENTS
    );
    Finding::error(codes::TOO_MANY_STATEMENTS, span, message).hint("nothing from here on was read")
}

/// The finding for a recipe that was named and cannot be read.
#[must_use]
pub fn cannot_read(name: &str, error: &SourceError) -> Finding {
    let code = match error {
        SourceError::TooLong => codes::FILE_TOO_LONG,
        SourceError::NotUtf8(_) => codes::NOT_UTF8,
        SourceError::Io(_) | SourceError::NotRegular(_) | SourceError::LeavesFolder => codes::UNREADABLE,
    };
    unreadable(code, Span::default(), name, error)
}

fn unreadable(code: &'static str, span: Span, name: &str, error: &SourceError) -> Finding {
    let finding = Finding::error(code, span, format!("`{name}` cannot be read: {error}"));
    match error {
        SourceError::TooLong => finding.hint("write it as several recipes, and `use` them"),
        SourceError::NotUtf8(_) => finding.hint("save it as UTF-8 text"),
        SourceError::LeavesFolder => finding.hint(INSIDE),
        SourceError::NotRegular(_) => finding.hint("name the file of a recipe; what comes through a pipe is named `-`"),
        SourceError::Io(_) => finding,
    }
}

struct Loader<'s> {
    sources: &'s dyn Sources,
    folder: PathBuf,
    files: Vec<Loaded>,
    statements: usize,
    findings: &'s mut Vec<Finding>,
}

impl Loader<'_> {
    fn add(&mut self, name: String, text: Arc<str>, identity: PathBuf, path: PathBuf, used_at: Option<Span>) -> FileId {
        let id = FileId(self.files.len());
        let pieces = split(id, &text, self.findings);
        let mut lines = Vec::with_capacity(pieces.len());
        for piece in pieces {
            if let Piece::Line(line) = piece {
                lines.extend(uncomma(id, &text, line, self.findings));
                // One past the limit is all that has to be known.
                if self.statements + lines.len() > limits::STATEMENTS {
                    break;
                }
            }
        }
        let before = self.statements;
        self.statements += lines.len();
        if self.statements > limits::STATEMENTS && before <= limits::STATEMENTS {
            lines.truncate(limits::STATEMENTS - before + 1);
            if let Some(over) = lines.pop() {
                self.findings.push(too_many_statements(Span { file: id, range: over.range }));
            }
        } else if self.statements > limits::STATEMENTS {
            lines.clear();
        }
        let foreign = super::header::foreign(id, &text, &lines, self.findings);
        let file = File { name, text };
        self.files.push(Loaded { file, lines, uses: HashMap::new(), used_at, foreign, identity, path });
        id
    }

    /// Reads what a file uses, and what that uses.
    fn follow(&mut self, id: FileId, level: usize, above: &mut Vec<PathBuf>) {
        let FileId(index) = id;
        if self.files[index].foreign {
            return;
        }
        above.push(self.files[index].identity.clone());
        for line in 0..self.files[index].lines.len() {
            let Some((span, written)) = self.use_line(id, line) else { continue };
            if let Some(used) = self.take(id, &span, &written, level, above) {
                self.files[index].uses.insert(line, used);
                if let Used::Fresh(used) = used {
                    self.follow(used, level + 1, above);
                }
            }
        }
        above.pop();
    }

    /// The path of a `use` line and its place. A line that does not parse is reported with all others.
    fn use_line(&self, id: FileId, line: usize) -> Option<(Span, String)> {
        let Loaded { file, lines, .. } = &self.files[id.0];
        let line = &lines[line];
        if line.bad || !line.text(&file.text).starts_with("use") {
            return None;
        }
        let parsed = parse(id, &file.text, line).ok().filter(|parsed| parsed.root().as_rule() == Rule::uses)?;
        let path = parsed.root().into_inner().find(|pair| pair.as_rule() == Rule::string)?;
        Some((place(id, line.range.start, path), unquote(path.as_str())))
    }

    fn take(&mut self, id: FileId, span: &Span, written: &str, level: usize, above: &[PathBuf]) -> Option<Used> {
        let report = |finding: Finding, findings: &mut Vec<Finding>| {
            findings.push(finding);
            None
        };
        let path = match resolve(self.files[id.0].path.parent().unwrap_or(Path::new("")), written) {
            Ok(path) => path,
            Err(wrong) => return report(wrong.finding(span, written), self.findings),
        };
        // As it can be opened from where the recipe was named.
        let name = self.folder.join(&path).display().to_string();
        let source = match self.sources.read_inside(&self.folder, &path) {
            Ok(source) => source,
            Err(error) => {
                let code = match error {
                    SourceError::TooLong => codes::FILE_TOO_LONG,
                    SourceError::NotUtf8(_) => codes::NOT_UTF8,
                    SourceError::LeavesFolder => codes::LEAVES_FOLDER,
                    SourceError::Io(_) | SourceError::NotRegular(_) => codes::CANNOT_USE,
                };
                let mut finding = unreadable(code, span.clone(), &name, &error);
                if code == codes::CANNOT_USE && finding.hints.is_empty() {
                    finding =
                        finding.hint("a path is relative to the file that says it, here with the folder of that added");
                }
                return report(finding, self.findings);
            }
        };
        if !begins_as_recipe(&source.text) {
            let message = format!("`{name}` does not begin as a recipe, so nothing of it is read or shown");
            let finding = Finding::error(codes::NO_RECIPE, span.clone(), message);
            return report(finding.hint("a recipe begins with `recipe \"Title\"`"), self.findings);
        }
        if above.contains(&source.identity) {
            let mut finding = Finding::error(
                codes::USE_CYCLE,
                span.clone(),
                format!("`{name}` is being read already: a recipe cannot use itself, directly or through others"),
            );
            let mut at = self.files[id.0].used_at.as_ref();
            while let Some(span) = at {
                at = self.files[span.file.0].used_at.as_ref();
                finding = finding.also(span.clone(), "used from here");
            }
            return report(finding.hint("take one of these `use` lines away"), self.findings);
        }
        if let Some(taken) = self.files.iter().position(|file| file.identity == source.identity) {
            return Some(Used::Again(FileId(taken)));
        }
        if level == limits::USE_LEVELS {
            let message = format!("`{name}` would be level {} of `use`; {} is the most", level + 1, limits::USE_LEVELS);
            return report(Finding::error(codes::TOO_DEEP, span.clone(), message), self.findings);
        }
        if self.files.len() == limits::FILES {
            let message =
                format!("`{name}` would be file {} of this recipe; {} is the most", limits::FILES + 1, limits::FILES);
            return report(Finding::error(codes::TOO_MANY_FILES, span.clone(), message), self.findings);
        }
        Some(Used::Fresh(self.add(name, source.text, source.identity, path, Some(span.clone()))))
    }
}

/// Whether the first thing in a text but comments is a recipe's first line.
fn begins_as_recipe(text: &str) -> bool {
    let mut lines = text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'));
    lines.next().and_then(|line| line.strip_prefix("recipe")).is_some_and(|rest| rest.starts_with([' ', '\t', '"']))
}

/// What is wrong with a path.
enum Wrong {
    Empty,
    Absolute,
    Backslash,
    Leaves,
    Ending,
}

impl Wrong {
    fn finding(&self, span: &Span, written: &str) -> Finding {
        let (code, message, hint) = match self {
            Self::Empty => (
                codes::BAD_PATH,
                "this path names no file".to_owned(),
                "write the file's path, such as `\"common/receiver.jig\"`",
            ),
            Self::Absolute => (
                codes::BAD_PATH,
                format!("`{written}` is an absolute path"),
                "write it relative to this file, below the root",
            ),
            Self::Backslash => (
                codes::BAD_PATH,
                format!("`{written}` has a backslash"),
                "write folders with `/`, so that the recipe reads alike everywhere",
            ),
            Self::Leaves => (
                codes::LEAVES_FOLDER,
                format!("`{written}` lies outside the root of the recipe that was named"),
                INSIDE,
            ),
            Self::Ending => {
                (codes::BAD_PATH, format!("`{written}` is not named as a recipe"), "the names of recipes end in `.jig`")
            }
        };
        let finding = Finding::error(code, span.clone(), message).hint(hint);
        let meant = match self {
            Self::Ending if Path::new(written).extension().is_none() => format!("{written}.jig"),
            Self::Backslash => written.replace('\\', "/"),
            _ => return finding,
        };
        finding.replace(format!("write `\"{meant}\"`"), span, format!("\"{meant}\""))
    }
}

/// A written path, relative to the root.
fn resolve(from: &Path, written: &str) -> Result<PathBuf, Wrong> {
    if written.contains('\\') {
        return Err(Wrong::Backslash);
    }
    let drive = written.as_bytes().get(1) == Some(&b':');
    if written.starts_with('/') || drive {
        return Err(Wrong::Absolute);
    }
    let mut path = from.to_owned();
    for part in Path::new(written).components() {
        match part {
            Component::Normal(name) => path.push(name),
            Component::CurDir => {}
            Component::ParentDir if path.pop() => {}
            Component::ParentDir => return Err(Wrong::Leaves),
            Component::RootDir | Component::Prefix(_) => return Err(Wrong::Absolute),
        }
    }
    if path.as_os_str().is_empty() || path == from || written.ends_with('/') {
        return Err(Wrong::Empty);
    }
    if path.extension().is_some_and(|ending| ending == "jig") { Ok(path) } else { Err(Wrong::Ending) }
}

/// Undoes a stray comma: a statement that breaks off exactly where a further line begins with a statement of
/// its own is taken as two, so that the comma hides nothing.
pub(crate) fn uncomma(file: FileId, text: &str, line: Line, findings: &mut Vec<Finding>) -> Vec<Line> {
    let mut done = Vec::new();
    let mut rest = line;
    while !rest.bad && !rest.breaks.is_empty() && done.len() < limits::STRAY_COMMAS {
        let Err(broken) = parse(file, text, &rest) else { break };
        // It breaks off at the comma, or at the word after it.
        let from_there = &rest.text(text)[broken.offset..];
        let past_comma = from_there.strip_prefix(',').unwrap_or(from_there).trim_start_matches(BLANKS);
        let at = rest.range.end - past_comma.len();
        let starts = super::grammar::STARTS;
        let first = text[at..].split(|c: char| !c.is_ascii_alphanumeric()).next().unwrap_or("");
        if !rest.breaks.contains(&at) || !starts.contains(&first) {
            break;
        }
        let (head, tail) = rest.cut(text, at);
        let comma = text[head.range.end..at].find(',').map_or(head.range.end, |found| head.range.end + found);
        let span = Span { file, range: comma..comma + 1 };
        findings.push(
            Finding::error(
                codes::STRAY_COMMA,
                span.clone(),
                "this line ends in a comma, but the next begins a new statement",
            )
            .also(Span { file, range: at..at + first.len() }, "the next statement")
            .replace("take the comma away", span, ""),
        );
        done.push(head);
        rest = tail;
    }
    done.push(rest);
    done
}
