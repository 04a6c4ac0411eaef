//! The root of a recipe: the folder that none of its files lies outside, marked by a `quadjig.toml`.
//!
//! Promises: one root for the whole recipe, found from the recipe that was named; never above a version control's own,
//! never as far up as the home folder. Must not be here: reading recipes (see `sources`).

use std::path::{Component, Path, PathBuf};

/// The file that marks a root.
pub const FILE: &str = "quadjig.toml";

/// Most bytes that are read of it.
pub(super) const BYTES: u64 = 4096;

/// What stands at the root of a version control.
const VERSION_CONTROL: &[&str] = &[".git", ".hg", ".jj", ".svn", ".pijul"];

/// A root, as seen from a recipe.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Root {
    /// The folder, as it can be opened from where the recipe was named.
    pub folder: PathBuf,
    /// The recipe, relative to the folder.
    pub recipe: PathBuf,
    /// What is wrong with the file that marks it, if anything.
    pub wrong: Option<String>,
}

impl Root {
    /// The recipe's own folder, where nothing marks another.
    #[must_use]
    pub fn own(file: &Path) -> Self {
        let folder = file.parent().unwrap_or(Path::new("")).to_owned();
        Self { folder, recipe: file.file_name().map(PathBuf::from).unwrap_or_default(), wrong: None }
    }

    /// The root of a recipe on the disk.
    #[must_use]
    pub fn on_disk(file: &Path) -> Self {
        let own = Self::own(file);
        // An empty parent, as of `recipe.jig`, is the current folder.
        let Ok(here) = Path::new(".").join(&own.folder).canonicalize() else { return own };
        let home = std::env::home_dir().and_then(|home| home.canonicalize().ok());
        let Some(root) = marked(&here, home.as_deref()) else { return own };
        let Ok(below) = here.strip_prefix(root) else { return own };
        let mut folder = own.folder.clone();
        for _ in below.components() {
            if !matches!(folder.components().next_back(), Some(Component::Normal(_))) || !folder.pop() {
                folder.push("..");
            }
        }
        // Through a link the way up by name is another than the way up by folder.
        let same = Path::new(".").join(&folder).canonicalize().is_ok_and(|found| found == root);
        let folder = if same { folder } else { root.to_owned() };
        let wrong = read(&root.join(FILE)).and_then(|text| judge(&text)).err();
        Self { folder, recipe: below.join(own.recipe), wrong }
    }
}

/// The nearest marked folder upwards.
fn marked<'p>(here: &'p Path, home: Option<&Path>) -> Option<&'p Path> {
    for folder in here.ancestors() {
        if home.is_some_and(|home| home.starts_with(folder)) {
            return None;
        }
        if folder.join(FILE).symlink_metadata().is_ok() {
            return Some(folder);
        }
        if VERSION_CONTROL.iter().any(|mark| folder.join(mark).symlink_metadata().is_ok()) {
            return None;
        }
    }
    None
}

fn read(file: &Path) -> Result<String, String> {
    use std::io::Read as _;
    let found = file.symlink_metadata().map_err(|error| error.to_string())?;
    if !found.is_file() {
        return Err("it is no regular file".to_owned());
    }
    let mut text = String::new();
    let opened = std::fs::File::open(file).and_then(|file| file.take(BYTES).read_to_string(&mut text));
    opened.map(|_| text).map_err(|error| error.to_string())
}

/// Whether a root's file says what it may say.
///
/// # Errors
/// What is wrong with it.
pub(super) fn judge(text: &str) -> Result<(), String> {
    let table: toml::Table = text.parse().map_err(|error: toml::de::Error| error.message().to_owned())?;
    if let Some(key) = table.keys().find(|key| *key != "edition") {
        return Err(format!("`{}` is no key of it: it has `edition = 1` and nothing else", key.escape_debug()));
    }
    match table.get("edition").and_then(toml::Value::as_integer) {
        Some(1) => Ok(()),
        Some(other) => Err(format!("edition {other} is not known; this program reads edition 1")),
        None => Err("it needs the line `edition = 1`".to_owned()),
    }
}
