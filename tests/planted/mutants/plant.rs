//! The copy of the tree: what each mutant replaces is wrapped in a choice that is made as the program runs.
//!
//! Only one mutant is ever on, so what stands in its place is the text as it was. Must not be here: what is run.

use proc_macro2::Span;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::ops::Range;
use std::path::Path;
use syn::spanned::Spanned as _;
use syn::visit::{self, Visit};

/// Tells which mutant is on, and which were reached; added to the copy's `lib.rs`.
const SWITCH: &str = r#"
/// Whether this mutant is on.
pub(crate) fn mutant(id: u32) -> bool {
    use std::sync::{LazyLock, Mutex};
    static ON: LazyLock<u32> =
        LazyLock::new(|| std::env::var("QUADJIG_MUTANT").ok().and_then(|id| id.parse().ok()).unwrap_or(0));
    static SEEN: LazyLock<Option<(std::path::PathBuf, Mutex<std::collections::BTreeSet<u32>>)>> =
        LazyLock::new(|| Some((std::env::var_os("QUADJIG_MUTANTS_SEEN")?.into(), Mutex::default())));
    if let Some((file, seen)) = &*SEEN {
        if seen.lock().is_ok_and(|mut seen| seen.insert(id)) {
            let file = std::fs::OpenOptions::new().create(true).append(true).open(file);
            let _told = file.map(|mut file| std::io::Write::write_all(&mut file, format!("{id}\n").as_bytes()));
        }
    }
    *ON == id
}
"#;

/// One of the list: where in which file, and what takes the place.
pub struct Mutant {
    pub id: u32,
    pub name: String,
    file: String,
    genre: String,
    at: (usize, usize),
    new: String,
}

/// The list as `cargo mutants --list --json` gives it.
pub fn read(list: &str) -> Vec<Mutant> {
    let list: Vec<serde_json::Value> = serde_json::from_str(list).unwrap();
    let text = |value: &serde_json::Value| value.as_str().unwrap().to_owned();
    let number = |value: &serde_json::Value| usize::try_from(value.as_u64().unwrap()).unwrap();
    let mutant = |(id, told): (u32, &serde_json::Value)| Mutant {
        id,
        name: text(&told["name"]),
        file: text(&told["file"]),
        genre: text(&told["genre"]),
        at: (number(&told["span"]["start"]["line"]), number(&told["span"]["start"]["column"]) - 1),
        new: text(&told["replacement"]),
    };
    (1..).zip(&list).map(mutant).collect()
}

/// Where each mutant of a file stands in its copy, and which cannot.
pub struct Planted {
    whose: Vec<(Range<usize>, u32)>,
    pub unfit: Vec<u32>,
}

impl Planted {
    /// Whose text is here; else those of the innermost choice around it.
    pub fn at(&self, at: usize) -> BTreeSet<u32> {
        let around = || self.whose.iter().filter(|(range, _)| range.contains(&at));
        let least = around().map(|(range, _)| range.len()).min();
        around().filter(|(range, _)| Some(range.len()) == least).map(|(_, id)| *id).collect()
    }
}

/// Makes the copy, or brings it up to date; what is as it was is left alone.
pub fn copy(copy: &Path, mutants: &[Mutant], without: &BTreeSet<&str>) -> BTreeMap<String, Planted> {
    let (project, mut planted) = (fs::canonicalize(".").unwrap(), BTreeMap::new());
    let mut left = vec![project.clone()];
    while let Some(folder) = left.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.strip_prefix(&project).unwrap().to_string_lossy().into_owned();
            if path.file_name().is_some_and(|name| name == "target" || name == ".git") {
                continue;
            }
            if path.is_dir() {
                left.push(path);
                continue;
            }
            let mut bytes = fs::read(&path).unwrap();
            let there: Vec<_> =
                mutants.iter().filter(|m| m.file == name && !without.contains(m.name.as_str())).collect();
            if !there.is_empty() {
                let (text, places) = plant(&String::from_utf8(bytes).unwrap(), &there);
                bytes = text.into_bytes();
                planted.insert(name.clone(), places);
            }
            if name == "src/lib.rs" {
                bytes.extend_from_slice(SWITCH.as_bytes());
            }
            let to = copy.join("tree").join(&name);
            if fs::read(&to).ok().as_ref() != Some(&bytes) {
                fs::create_dir_all(to.parent().unwrap()).unwrap();
                fs::write(&to, bytes).unwrap();
            }
        }
    }
    planted
}

/// What is put before and behind a part of the text, and for whom.
struct Around {
    part: Range<usize>,
    before: String,
    behind: String,
    /// Where in `before` whose text is.
    whose: Vec<(Range<usize>, u32)>,
}

struct Places<'t> {
    text: &'t str,
    mutants: BTreeMap<(&'t str, (usize, usize)), Vec<&'t Mutant>>,
    around: Vec<Around>,
    unfit: Vec<u32>,
}

/// The text with every mutant in it, and where.
fn plant(text: &str, mutants: &[&Mutant]) -> (String, Planted) {
    let mut places = Places { text, mutants: BTreeMap::new(), around: Vec::new(), unfit: Vec::new() };
    for mutant in mutants {
        places.mutants.entry((&mutant.genre, mutant.at)).or_default().push(mutant);
    }
    places.visit_file(&syn::parse_file(text).unwrap());
    let lost: Vec<_> = places.mutants.values().flatten().map(|mutant| &mutant.name).collect();
    assert!(lost.is_empty(), "found nowhere: {lost:?}");
    // Of what begins or ends at one place, what is around more is further out; of the same, what was visited first.
    let mut marks = Vec::new();
    for (order, around) in places.around.iter().enumerate() {
        let (length, order) = (isize::try_from(around.part.len()).unwrap(), isize::try_from(order).unwrap());
        marks.push(((around.part.start, 1, -length, order), around));
        marks.push(((around.part.end, 0, length, -order), around));
    }
    marks.sort_by_key(|(key, _)| *key);
    let (mut planted, mut whose, mut open, mut done) = (String::new(), Vec::new(), Vec::new(), 0);
    for ((at, begins, ..), around) in marks {
        planted.push_str(&text[done..at]);
        done = at;
        if begins == 1 {
            open.push(planted.len());
            let own = |(range, id): &(Range<usize>, u32)| (range.start + planted.len()..range.end + planted.len(), *id);
            whose.extend(around.whose.iter().map(own));
            planted.push_str(&around.before);
        } else {
            planted.push_str(&around.behind);
            let from = open.pop().unwrap();
            whose.extend(around.whose.iter().map(|(_, id)| (from..planted.len(), *id)));
        }
    }
    let unfit = places.unfit;
    (planted + &text[done..], Planted { whose, unfit })
}

impl<'t> Places<'t> {
    fn take(&mut self, genre: &'t str, span: Span) -> Vec<&'t Mutant> {
        self.mutants.remove(&(genre, (span.start().line, span.start().column))).unwrap_or_default()
    }

    /// Text with one part of it replaced.
    fn with(&self, whole: &Range<usize>, part: &Range<usize>, new: &str) -> String {
        format!("{}{new}{}", &self.text[whole.start..part.start], &self.text[part.end..whole.end])
    }

    /// Puts code before a part of the text, one piece a mutant, and something behind it.
    fn around(&mut self, part: Range<usize>, first: &str, pieces: Vec<(u32, String)>, last: &str, behind: &str) {
        let (mut before, mut whose) = (first.to_owned(), Vec::new());
        for (id, piece) in pieces {
            whose.push((before.len()..before.len() + piece.len(), id));
            before.push_str(&piece);
        }
        if !whose.is_empty() {
            self.around.push(Around { part, before: before + last, behind: behind.to_owned(), whose });
        }
    }

    /// A choice between an expression and its mutants.
    fn choice(&mut self, whole: Range<usize>, mutants: Vec<(u32, String)>) {
        let piece = |(id, new)| (id, format!("if crate::mutant({id}) {{ {new} }} else "));
        self.around(whole, "(", mutants.into_iter().map(piece).collect(), "{ ", " })");
    }

    fn body(&mut self, block: &syn::Block) {
        let (Some(first), Some(last)) = (block.stmts.first(), block.stmts.last()) else { return };
        let mutants = self.take("FnValue", first.span());
        let piece =
            |mutant: &Mutant| (mutant.id, format!("if crate::mutant({}) {{ return {}; }} ", mutant.id, mutant.new));
        let part = first.span().byte_range().start..last.span().byte_range().end;
        self.around(part, "", mutants.into_iter().map(piece).collect(), "", "");
    }
}

impl<'t> Visit<'t> for Places<'_> {
    fn visit_item_fn(&mut self, item: &'t syn::ItemFn) {
        self.body(&item.block);
        visit::visit_item_fn(self, item);
    }

    fn visit_impl_item_fn(&mut self, item: &'t syn::ImplItemFn) {
        self.body(&item.block);
        visit::visit_impl_item_fn(self, item);
    }

    fn visit_expr_binary(&mut self, binary: &'t syn::ExprBinary) {
        let (whole, part) = (binary.span().byte_range(), binary.op.span().byte_range());
        let mutants = self.take("BinaryOperator", binary.op.span());
        // Beside a `let` there is nothing but `&&`.
        if [&binary.left, &binary.right].into_iter().any(|side| lets(side)) {
            self.unfit.extend(mutants.iter().map(|mutant| mutant.id));
        } else {
            let new = mutants.iter().map(|mutant| (mutant.id, self.with(&whole, &part, &mutant.new))).collect();
            self.choice(whole, new);
        }
        visit::visit_expr_binary(self, binary);
    }

    fn visit_expr_unary(&mut self, unary: &'t syn::ExprUnary) {
        let (whole, part) = (unary.span().byte_range(), unary.op.span().byte_range());
        let mutants = self.take("UnaryOperator", unary.op.span());
        let new = mutants.iter().map(|mutant| (mutant.id, self.with(&whole, &part, &mutant.new))).collect();
        self.choice(whole, new);
        visit::visit_expr_unary(self, unary);
    }

    fn visit_expr_struct(&mut self, item: &'t syn::ExprStruct) {
        let whole = item.span().byte_range();
        let mut without = Vec::new();
        for pair in item.fields.pairs() {
            let part = pair.value().span().byte_range();
            let end = pair.punct().map_or(part.end, |comma| comma.span().byte_range().end);
            let mutants = self.take("StructField", pair.value().span());
            without.extend(mutants.iter().map(|mutant| (mutant.id, self.with(&whole, &(part.start..end), ""))));
        }
        self.choice(whole, without);
        visit::visit_expr_struct(self, item);
    }

    /// An arm is left out by a guard that never holds, where the last one takes all that is left.
    fn visit_expr_match(&mut self, choice: &'t syn::ExprMatch) {
        for (index, arm) in choice.arms.iter().enumerate() {
            let rest = choice.arms[index + 1..].last().filter(|last| last.guard.is_none());
            let rest = rest.is_some_and(|last| match &last.pat {
                syn::Pat::Wild(_) => true,
                syn::Pat::Ident(name) => name.ident.to_string().starts_with(char::is_lowercase),
                _ => false,
            });
            for mutant in self.take("MatchArm", arm.span()) {
                if rest {
                    let unless = format!(" if !crate::mutant({})", mutant.id);
                    self.around(arm.pat.span().byte_range(), "", vec![(mutant.id, String::new())], "", &unless);
                } else {
                    self.unfit.push(mutant.id);
                }
            }
        }
        visit::visit_expr_match(self, choice);
    }

    fn visit_arm(&mut self, arm: &'t syn::Arm) {
        if let Some((_, guard)) = &arm.guard {
            let mutants = self.take("MatchArmGuard", guard.span());
            let piece = |mutant: &Mutant| {
                let code = if mutant.new == "true" { "crate::mutant(ID) || " } else { "!crate::mutant(ID) && " };
                (mutant.id, code.replace("ID", &mutant.id.to_string()))
            };
            self.around(guard.span().byte_range(), "(", mutants.into_iter().map(piece).collect(), "(", "))");
        }
        visit::visit_arm(self, arm);
    }
}

fn lets(side: &syn::Expr) -> bool {
    match side {
        syn::Expr::Let(_) => true,
        syn::Expr::Binary(binary) => lets(&binary.left) || lets(&binary.right),
        _ => false,
    }
}
