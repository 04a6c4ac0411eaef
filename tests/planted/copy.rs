//! The copy of the tree in which every defect stands beside what it takes out, to be switched on one at a time.
//!
//! So one build serves them all. Which one is on stands in a file beside the copy's manifest, since tests start the program
//! without any environment. Promises: text that does not stand exactly once, or that two defects would change in part, is
//! refused. Must not be here: which defects there are.

use super::catalogue::Defect;
use crate::docs::project;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// Tells which defect is on; added to the copy's `lib.rs`.
const SWITCH: &str = "
/// Whether this defect is switched on.
pub(crate) fn planted(name: &str) -> bool {
    static NOW: std::sync::OnceLock<String> = std::sync::OnceLock::new();
    let file = concat!(env!(\"CARGO_MANIFEST_DIR\"), \"/planted\");
    NOW.get_or_init(|| std::fs::read_to_string(file).unwrap_or_default()) == name
}
";

/// A defect's name, what stands there, what takes its place.
type Planted<'d> = (&'d str, &'d str, &'d str);

/// The changes of each file.
pub fn by_file(defects: &[Defect]) -> BTreeMap<&str, Vec<Planted<'_>>> {
    let mut files: BTreeMap<&str, Vec<Planted<'_>>> = BTreeMap::new();
    for defect in defects {
        for (file, old, new) in defect.changes() {
            files.entry(file).or_default().push((&defect.name, old, new));
        }
    }
    files
}

/// A text with each change beside what it takes out.
///
/// # Errors
/// What does not fit, and why.
pub fn plant(text: &str, changes: &[Planted<'_>]) -> Result<String, String> {
    let mut places: BTreeMap<(usize, usize), Vec<(&str, &str)>> = BTreeMap::new();
    for (name, old, new) in changes {
        let whole = old.replace(['«', '»'], "");
        let times = text.matches(&whole).count();
        let Some(at) = text.find(&whole).filter(|_| times == 1) else {
            return Err(format!("the old text of {name} stands there {times} times: {whole}"));
        };
        let from = old.find('«').unwrap_or(0);
        let part = old.split_once('«').map_or(*old, |(_, rest)| rest);
        let part = part.split_once('»').map_or(part, |(part, _)| part);
        places.entry((at + from, at + from + part.len())).or_default().push((name, new));
    }
    let (mut planted, mut done) = (String::new(), 0);
    for ((from, to), changes) in places {
        if from < done {
            return Err(format!("{} overlaps with another: {}", changes[0].0, &text[from..to]));
        }
        planted.push_str(&text[done..from]);
        planted.push_str(&beside(&text[from..to], &changes));
        done = to;
    }
    Ok(planted + &text[done..])
}

/// What stands there, with each change before it.
fn beside(old: &str, changes: &[(&str, &str)]) -> String {
    let changes = changes.iter().map(|(name, new)| format!("if crate::planted({name:?}) {{ {new} }} else "));
    let code = format!("{}{{ {old} }}", changes.collect::<String>());
    if old.trim_end().ends_with([';', '}']) { code } else { format!("({code})") }
}

/// Makes the copy, or brings it up to date; what is as it was is left alone, so that little is built anew.
pub fn make(copy: &Path, defects: &[Defect]) {
    let files = by_file(defects);
    let mut left = vec![project().to_owned()];
    while let Some(folder) = left.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.strip_prefix(project()).unwrap().to_string_lossy().replace('\\', "/");
            if matches!(name.as_str(), "target" | ".git") {
                continue;
            }
            if path.is_dir() {
                left.push(path);
                continue;
            }
            let to = copy.join("tree").join(&name);
            let mut bytes = fs::read(&path).unwrap();
            if let Some(changes) = files.get(name.as_str()) {
                let text = String::from_utf8(bytes).unwrap().replace('\r', "");
                bytes = plant(&text, changes).unwrap_or_else(|why| panic!("{name}: {why}")).into_bytes();
            }
            if name == "src/lib.rs" {
                bytes.extend_from_slice(SWITCH.as_bytes());
            }
            if fs::read(&to).ok().as_ref() != Some(&bytes) {
                fs::create_dir_all(to.parent().unwrap()).unwrap();
                fs::write(&to, bytes).unwrap();
            }
        }
    }
}
