//! Names of a recipe and all their places: switches, parameters, used files.
//!
//! Promises: a switch is one in all files of a recipe, a parameter belongs to its file, and a name is renamed in every
//! place or not at all. Must not be here: the protocol's messages, files that no recipe uses.

use super::buffers::{Buffer, Reader};
use super::edits::Edit;
use super::workspace::Workspace;
use crate::board::vocabulary;
use crate::language::finding::Severity;
use crate::language::outline::{Named, Outlined, Role, outline};
use crate::language::recipe::GivenKind;
use crate::language::root::Root;
use crate::language::sources::{Source, SourceError, Sources};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

/// Most recipes around that are looked through for places of a name.
const MOST_AROUND: usize = 500;
/// Most levels of folders in which they are looked for.
const LEVELS: usize = 8;

/// What a name stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Symbol {
    /// A switch of the radio.
    Switch(String),
    /// A parameter of a file.
    Parameter(PathBuf, String),
    /// A used file.
    File(PathBuf),
}

/// A place of a symbol.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Found {
    /// In which file.
    pub path: PathBuf,
    /// Start and end in bytes.
    pub from: usize,
    /// See above.
    pub to: usize,
    /// Whether it is declared or found there.
    pub is_new: bool,
}

impl Found {
    /// Where in its file.
    pub fn range(&self) -> Range<usize> {
        self.from..self.to
    }
}

/// The recipes around a file, each with its files, and what stands in these.
#[derive(Debug, Default)]
pub struct Files {
    all: BTreeMap<PathBuf, (Arc<str>, Vec<Outlined>)>,
    recipes: Vec<Vec<PathBuf>>,
}

impl Files {
    /// One file alone.
    pub fn of(buffer: &Buffer) -> Self {
        let mut files = Self::default();
        files.take([(buffer.path.clone(), &buffer.text)].into_iter());
        files
    }

    /// Every recipe that is open, and those in the folders around a file.
    pub fn around(workspace: &Workspace, buffer: &Buffer) -> Self {
        let mut files = Self::default();
        let open = workspace.buffers.values().filter(|other| other.is_recipe).map(|other| other.uri.as_str());
        for judged in open.filter_map(|uri| workspace.judge(uri)) {
            files.take(judged.reading.files.iter().map(|file| (PathBuf::from(&file.name), &file.text)));
        }
        let folders = workspace.folders.iter().filter(|folder| buffer.path.starts_with(folder)).map(PathBuf::as_path);
        let root = workspace.judge(&buffer.uri).map(|judged| judged.reading.root.clone());
        let root = root.as_deref().filter(|_| buffer.is_file());
        let around: BTreeSet<PathBuf> = folders
            .chain(root)
            .flat_map(|folder| super::folders::recipes(folder, LEVELS, MOST_AROUND))
            .filter(|path| workspace.buffer_of(path).is_none())
            .collect();
        for path in around.iter().take(MOST_AROUND) {
            let reading = crate::language::read(&Reader::on_disk(&workspace.buffers), path, &[], &[]);
            files.take(reading.files.iter().map(|file| (PathBuf::from(&file.name), &file.text)));
        }
        files
    }

    /// Takes a recipe in.
    fn take<'f>(&mut self, recipe: impl Iterator<Item = (PathBuf, &'f Arc<str>)>) {
        let mut files = Vec::new();
        for (path, text) in recipe {
            self.all.entry(path.clone()).or_insert_with(|| (Arc::clone(text), outline(text)));
            files.push(path);
        }
        self.recipes.push(files);
    }

    /// The files in which a name of this file means the same: those of its recipes, and of every recipe that shares a
    /// file with these which has the name too.
    fn reach<'f>(&'f self, from: &'f Path, name: &str) -> BTreeSet<&'f Path> {
        let mut reached = BTreeSet::from([from]);
        loop {
            let before = reached.len();
            for recipe in &self.recipes {
                if recipe.iter().any(|path| reached.contains(path.as_path()) && (path == from || self.has(path, name)))
                {
                    reached.extend(recipe.iter().map(PathBuf::as_path));
                }
            }
            if reached.len() == before {
                return reached;
            }
        }
    }

    fn has(&self, path: &Path, name: &str) -> bool {
        let words = self.all.get(path).into_iter().flat_map(|(_, all)| all).flat_map(|statement| &statement.words);
        words.into_iter().any(|word| word.text == name)
    }

    /// The text of a file.
    pub fn text(&self, path: &Path) -> Option<&str> {
        self.all.get(path).map(|(text, _)| &**text)
    }

    /// The word at a byte of a file, with its statement.
    fn word(&self, path: &Path, at: usize) -> Option<(&Outlined, &Named)> {
        let (_, statements) = self.all.get(path)?;
        let statement = statements.iter().find(|statement| touches(&statement.range, at))?;
        let mut words = statement.words.iter().filter(|word| touches(&word.range, at));
        // Between two words that touch, the name is meant.
        let first = words.next()?;
        Some((statement, words.next().filter(|_| first.role == Role::Other).unwrap_or(first)))
    }

    /// What stands at a byte of a file, and where.
    pub fn symbol(&self, path: &Path, at: usize) -> Option<(Symbol, Range<usize>)> {
        let (statement, word) = self.word(path, at)?;
        Some((self.symbol_of(path, statement, word)?, word.range.clone()))
    }

    fn symbol_of(&self, path: &Path, statement: &Outlined, word: &Named) -> Option<Symbol> {
        let parameter = |path: &Path| Symbol::Parameter(path.to_owned(), word.text.clone());
        let used = || {
            let written = statement.words.iter().find(|word| word.role == Role::UsedFile)?;
            Some(resolved(path, &written.text))
        };
        match word.role {
            Role::NewSwitch | Role::Switch | Role::Protocol | Role::Value if self.declares(path, &word.text) => {
                Some(parameter(path))
            }
            Role::Value => {
                // What a used file's parameter is told is a switch where that stands for one.
                let before = statement.words.iter().take_while(|other| other.range.start < word.range.start);
                let told = before.filter(|word| word.role == Role::Told).last()?;
                let is_switch = self.parameter(&used()?, &told.text)? == GivenKind::Switch;
                is_switch.then(|| Symbol::Switch(word.text.clone()))
            }
            Role::NewSwitch | Role::Switch => Some(Symbol::Switch(word.text.clone())),
            Role::NewParameter | Role::Parameter => Some(parameter(path)),
            Role::Told => used().map(|path| parameter(&path)),
            Role::UsedFile => used().map(Symbol::File),
            _ => None,
        }
    }

    fn declares(&self, path: &Path, name: &str) -> bool {
        self.parameter(path, name).is_some()
    }

    /// What a parameter of a file stands for.
    fn parameter(&self, path: &Path, name: &str) -> Option<GivenKind> {
        let (_, statements) = self.all.get(path)?;
        let mut declared = statements.iter().filter_map(Outlined::parameter);
        declared.find(|(known, _)| *known == name).map(|(_, kind)| kind)
    }

    /// Every place of a symbol of this file, in order.
    pub fn places(&self, from: &Path, symbol: &Symbol) -> Vec<Found> {
        let name = match symbol {
            Symbol::Switch(name) | Symbol::Parameter(_, name) => name.as_str(),
            Symbol::File(_) => "",
        };
        let mut found = Vec::new();
        for path in self.reach(from, name) {
            let Some((_, statements)) = self.all.get(path) else { continue };
            for statement in statements {
                for word in &statement.words {
                    if self.symbol_of(path, statement, word).as_ref() == Some(symbol) {
                        let is_new = matches!(word.role, Role::NewSwitch | Role::NewParameter);
                        let Range { start, end } = word.range;
                        found.push(Found { path: path.to_owned(), from: start, to: end, is_new });
                    }
                }
            }
        }
        found
    }

    /// A line that cannot be read and holds this word: whether the name stands in it nobody can tell.
    fn unread<'f>(&'f self, from: &'f Path, name: &str) -> Option<(&'f Path, usize)> {
        let in_word = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
        self.reach(from, name).into_iter().find_map(|path| {
            let (path, (text, all)) = self.all.get_key_value(path)?;
            let mut unread = all.iter().filter(|statement| !statement.is_read);
            let statement = unread.find(|statement| statement.text.split(|c| !in_word(c)).any(|word| word == name))?;
            Some((path.as_path(), text[..statement.range.start].matches('\n').count() + 1))
        })
    }

    /// Gives a name another one everywhere.
    ///
    /// # Errors
    /// Why that would not leave a recipe that means the same.
    pub fn rename(&self, from: &Path, symbol: &Symbol, new: &str, workspace: &Workspace) -> Result<Vec<Edit>, String> {
        let (old, taken) = match symbol {
            Symbol::File(_) => return Err("a file is renamed on the disk, not in a recipe".to_owned()),
            Symbol::Switch(name) => (name, Symbol::Switch(new.to_owned())),
            Symbol::Parameter(path, name) => (name, Symbol::Parameter(path.clone(), new.to_owned())),
        };
        if new == old {
            return Ok(Vec::new());
        }
        if let Some((path, line)) = self.unread(from, old) {
            return Err(format!("line {line} of {} cannot be read and holds `{old}`: mend it first", path.display()));
        }
        if !self.places(from, &taken).is_empty() {
            return Err(format!("`{new}` stands for something else already"));
        }
        let places = self.places(from, symbol);
        let edits: Vec<Edit> = places.iter().map(|found| Edit::new(&found.path, &found.range(), new)).collect();
        self.still_reads(&edits, workspace, new).map(|()| edits)
    }

    /// Whether every file still reads once it is changed, judged by reading it.
    fn still_reads(&self, edits: &[Edit], workspace: &Workspace, new: &str) -> Result<(), String> {
        // By code, as the words of a finding name what is renamed.
        let errors = |texts: &BTreeMap<PathBuf, Arc<str>>, path: &Path| {
            let read = vocabulary::read(&Changed { texts, workspace }, path, &workspace.setup.with);
            let errors = read.findings.into_iter().filter(|finding| finding.severity == Severity::Error);
            errors.map(|finding| (finding.code, finding.message)).collect::<Vec<_>>()
        };
        let before: BTreeMap<PathBuf, Arc<str>> =
            self.all.iter().map(|(path, (text, _))| (path.clone(), Arc::clone(text))).collect();
        let mut after = before.clone();
        for edit in edits.iter().rev() {
            if let Some(text) = after.get_mut(&edit.path) {
                *text = Arc::from(format!("{}{}{}", &text[..edit.from], edit.text, &text[edit.to..]));
            }
        }
        let changed = |recipe: &&Vec<PathBuf>| edits.iter().any(|edit| recipe.contains(&edit.path));
        for path in self.recipes.iter().filter(changed).filter_map(|recipe| recipe.first()) {
            let mut known = errors(&before, path);
            for (code, message) in errors(&after, path) {
                match known.iter().position(|(known, _)| *known == code) {
                    Some(at) => drop(known.swap_remove(at)),
                    None => return Err(format!("it can't be called `{new}`: {message}")),
                }
            }
        }
        Ok(())
    }
}

/// Texts as they would be.
struct Changed<'c> {
    texts: &'c BTreeMap<PathBuf, Arc<str>>,
    workspace: &'c Workspace,
}

impl Sources for Changed<'_> {
    fn read(&self, file: &Path) -> Result<Source, SourceError> {
        let source = Reader::on_disk(&self.workspace.buffers).read(file);
        match self.texts.get(file) {
            Some(text) => Ok(Source {
                text: Arc::clone(text),
                identity: source.map_or_else(|_| file.to_owned(), |source| source.identity),
            }),
            None => source,
        }
    }

    fn root(&self, file: &Path) -> Root {
        Reader::on_disk(&self.workspace.buffers).root(file)
    }

    fn read_inside(&self, folder: &Path, file: &Path) -> Result<Source, SourceError> {
        let mut source = Reader::on_disk(&self.workspace.buffers).read_inside(folder, file)?;
        if let Some(text) = self.texts.get(&folder.join(file)) {
            source.text = Arc::clone(text);
        }
        Ok(source)
    }
}

/// Whether a byte lies in a range or right behind it, where a cursor stands that has just typed it.
pub fn touches(range: &Range<usize>, at: usize) -> bool {
    range.start <= at && at <= range.end
}

/// Where a path leads that a file writes.
pub fn resolved(from: &Path, written: &str) -> PathBuf {
    let mut path = from.parent().unwrap_or(Path::new("")).to_owned();
    for part in Path::new(written).components() {
        match part {
            Component::ParentDir => {
                path.pop();
            }
            Component::CurDir => {}
            other => path.push(other),
        }
    }
    path
}
