//! Reading a recipe: its files, lines, header and parameters, to the typed recipe with every finding.
//!
//! Promises: all findings are collected; bad lines are left out of the typed recipe; if there is an error
//! among the findings, whoever wants to run it refuses. Must not be here: checks over the typed recipe.

use super::agree::merge;
use super::characters::is_hidden;
use super::codes;
use super::finding::{Finding, Severity};
use super::givens::Table;
use super::grammar::{Rule, STARTS};
use super::header::{Header, header, is_header};
use super::limits;
use super::lower;
use super::mend::Mended;
use super::recipe::{Craft, File, Frame, Recipe, Statement};
use super::sources::{Memory, Sources};
use super::span::{FileId, Span, Spanned};
use super::syntax::{EXAMPLE, Parsed, WRITTEN, explain, form_of, parse_each, parse_mended, reads_on};
use super::turning::asks_or_tests;
use super::uses::{Loaded, Used, load};
use crate::measure::nearest::nearest;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// What reading gives.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// The typed recipe without its bad lines; `None` where not even the header suffices.
    pub recipe: Option<Recipe>,
    /// The folder that none of its files lies outside, as it can be opened from where the recipe was named.
    pub root: PathBuf,
    /// All files, the named one first, also where there is no recipe.
    pub files: Vec<File>,
    /// Findings by place.
    pub findings: Vec<Finding>,
    /// Statements of which nothing is in the typed recipe, since they could not be read.
    pub unread: Vec<Span>,
}

impl Reading {
    /// Whether a finding is an error: then the recipe must not be run.
    #[must_use]
    pub fn has_errors(&self) -> bool {
        self.findings.iter().any(|finding| finding.severity == Severity::Error)
    }
}

/// Reads a recipe and all it uses. `with` fills the named recipe's parameters, each by its kind; `words` is the vocabulary, which no parameter may be
/// called after. Findings hold whatever is wrong.
#[must_use]
pub fn read(sources: &dyn Sources, file: &Path, with: &[(String, String)], words: &[&str]) -> Reading {
    let mut findings = Vec::new();
    let (root, loaded) = load(sources, file, &mut findings);
    let mut unread = Vec::new();
    let recipe = typed(&loaded, with, words, &mut unread, &mut findings);
    with_forms(&loaded, &mut findings);
    let files = loaded.into_iter().map(|loaded| loaded.file).collect();
    super::finding::sort(&mut findings);
    Reading { recipe, root, files, findings, unread }
}

/// Reads one statement by itself, as the bench prompt takes them: no header, no parameters.
///
/// # Errors
/// Whatever is wrong with it, or that it is a line of the header.
pub fn read_statement(text: &str) -> Result<Statement, Vec<Finding>> {
    let mut findings = Vec::new();
    let name = Path::new("");
    let (_, loaded) = load(&Memory::of([(name, text)]), name, &mut findings);
    let statement = loaded.first().and_then(|file| {
        let (all, _) = parse_all(FileId(0), file, &mut findings);
        let mut all = all.into_iter().map(|(_, parsed)| parsed);
        let parsed = all.next()?;
        if let Some(second) = all.next() {
            let message = "one statement at a time";
            findings.push(Finding::error(codes::UNEXPECTED, second.span, message));
        }
        if is_header(&parsed) {
            let message = "this line belongs to the head of a recipe file";
            findings.push(Finding::error(codes::MISPLACED_HEADER, parsed.span.clone(), message));
        }
        lower::statement(&parsed, 0, &Table::default(), &mut findings)
    });
    match statement {
        Some(statement) if findings.is_empty() => Ok(statement),
        _ if findings.is_empty() => {
            Err(vec![Finding::error(codes::ENDS_EARLY, Span::default(), "there is no statement here")])
        }
        _ => Err(findings),
    }
}

/// Statements of a file, each with the index of its line, in order.
type Statements<'a> = Vec<(usize, Parsed<'a>)>;

/// Parses every line of a file; lines that had to be mended before they parse come by themselves.
fn parse_all<'a>(
    id: FileId,
    loaded: &'a Loaded,
    findings: &mut Vec<Finding>,
) -> (Statements<'a>, Vec<(usize, Mended)>) {
    let (mut all, mut mended, mut broken_lines) = (Vec::with_capacity(loaded.lines.len()), Vec::new(), 0);
    if loaded.foreign {
        return (all, mended);
    }
    let (places, lines): (Vec<usize>, Vec<_>) = loaded.lines.iter().enumerate().filter(|(_, line)| !line.bad).unzip();
    for ((index, line), parsed) in places.into_iter().zip(&lines).zip(parse_each(id, &loaded.file.text, &lines)) {
        match parsed {
            Ok(parsed) => all.push((index, parsed)),
            Err(broken) if broken_lines == limits::MENDED => findings.push(broken.finding),
            Err(broken) if broken.offset == 0 && index > 0 && goes_on(loaded, index) => {
                broken_lines += 1;
                // What was said of the line above, was said of half a statement.
                let above = &loaded.lines[index - 1].range;
                all.pop_if(|(last, _)| *last + 1 == index);
                mended.pop_if(|(last, _)| *last + 1 == index);
                findings.retain(|finding| finding.span.file != id || !above.contains(&finding.span.range.start));
                let backslash = loaded.file.text[..above.end].ends_with('\\');
                let comma = Span { file: id, range: above.end - usize::from(backslash)..above.end };
                let message = "the statement above goes on here, and its line does not end in a comma";
                findings.push(Finding::error(broken.finding.code, broken.finding.span, message).replace(
                    "end the line above in a comma",
                    comma,
                    ",",
                ));
            }
            Err(broken) => {
                broken_lines += 1;
                let (finding, mend) = explain(&loaded.file.text, line, *broken);
                findings.push(finding);
                mended.extend(mend.map(|mend| (index, mend)));
            }
        }
    }
    (all, mended)
}

/// Whether a line is the rest of the statement in the line above it.
fn goes_on(loaded: &Loaded, index: usize) -> bool {
    let (above, line) = (&loaded.lines[index - 1], &loaded.lines[index]);
    let text: &str = &loaded.file.text;
    let between = &text[above.range.end..line.range.start];
    // Nothing but a line end, and comments behind the line above.
    let apart = between.bytes().filter(|byte| *byte == b'\n').count() > 1;
    // One that begins as a statement nearly does is a slip of the hand, whatever could stand above.
    let first = line.text(text).split_ascii_whitespace().next().unwrap_or_default();
    !apart && nearest(first, STARTS.iter().copied()).is_none() && reads_on(above.text(text), line.text(text))
}

fn typed(
    loaded: &[Loaded],
    with: &[(String, String)],
    words: &[&str],
    unread: &mut Vec<Span>,
    findings: &mut Vec<Finding>,
) -> Option<Recipe> {
    if loaded.first()?.foreign {
        return None;
    }
    let (mut parsed, mended): (Vec<_>, Vec<_>) =
        loaded.iter().enumerate().map(|(id, file)| parse_all(FileId(id), file, findings)).unzip();
    for (id, (statements, mended)) in parsed.iter_mut().zip(&mended).enumerate().filter(|(_, (_, m))| !m.is_empty()) {
        for (index, mended) in mended {
            let line = &loaded[id].lines[*index];
            statements.extend(parse_mended(FileId(id), line, mended).into_iter().map(|parsed| (*index, parsed)));
        }
        statements.sort_by_key(|(index, _)| *index);
    }
    for (id, file) in loaded.iter().enumerate() {
        let lines = &parsed[id];
        for (index, line) in file.lines.iter().enumerate() {
            let at = lines.binary_search_by_key(&index, |(parsed, _)| *parsed);
            let refused =
                at.is_ok_and(|at| lines[at].1.root().as_rule() == Rule::uses && !file.uses.contains_key(&index));
            if at.is_err() || refused {
                unread.push(Span { file: FileId(id), range: line.range.clone() });
            }
        }
    }
    let mut headers = Vec::with_capacity(loaded.len());
    for (id, file) in loaded.iter().enumerate().filter(|(_, file)| !file.foreign) {
        let lines = &parsed[id];
        let unparsed = |index: &usize| lines.binary_search_by_key(index, |(parsed, _)| *parsed).is_err();
        let attempted = |word: &str| {
            (0..file.lines.len()).filter(unparsed).any(|index| begins(file.lines[index].text(&file.file.text), word))
        };
        headers.push(header(FileId(id), parsed[id].iter().map(|(_, parsed)| parsed), attempted, findings));
    }
    let mut headers = headers.into_iter();
    let mut top = headers.next()?;
    for used in headers {
        merge(&mut top, &used, findings);
    }

    let mut order = Vec::with_capacity(parsed.iter().map(Vec::len).sum());
    in_order(FileId(0), loaded, &parsed, &mut order);
    let title =
        top.title.clone().unwrap_or_else(|| Spanned { value: loaded[0].file.name.clone(), span: Span::default() });
    let table = table(loaded, &order, with, words, &title.span, findings);

    let mut statements = Vec::with_capacity(order.len());
    for (index, (parsed, _)) in order.iter().enumerate().filter(|(_, (parsed, _))| !is_header(parsed)) {
        let before = findings.len();
        let statement = lower::statement(parsed, index, &table, findings);
        // What was mended was told already, and a place inside it is none that was written.
        if let Some((mended, _)) = parsed.mended {
            let told = parsed.at + mended.was.start..parsed.at + mended.was.end;
            let behind = findings.split_off(before);
            findings.extend(
                behind.into_iter().filter(|f| f.span.range.end <= told.start || f.span.range.start >= told.end),
            );
        }
        match statement {
            Some(statement) => statements.push(statement),
            None => unread.push(parsed.span.clone()),
        }
    }
    taken_once(loaded, &table, &statements, findings);
    let attempted =
        |word: &str| unread.iter().any(|span| begins(&loaded[span.file.0].file.text[span.range.clone()], word));
    // A frame that could not be read is reported; what else is wrong shows with any.
    if top.craft.is_none() && attempted("craft") {
        top.craft = Some(Spanned { value: Craft { frame: Frame::QuadX, turning: None }, span: title.span.clone() });
    }
    let is_part = top.craft.is_none() || top.boards.is_empty() && !attempted("board");
    if is_part {
        findings.push(left_out(&top, &title.span));
    }
    Some(Recipe {
        files: loaded.iter().map(|loaded| loaded.file.clone()).collect(),
        title,
        is_part,
        craft: top.craft,
        boards: top.boards,
        firmware: top.firmware,
        givens: table.into_givens(),
        statements,
    })
}

/// Adds to every error of reading how its statement is written, with an example, where nothing says so yet.
fn with_forms(loaded: &[Loaded], findings: &mut [Finding]) {
    let of_statement = |code: &str| ["RS", "RQ", "RG", "RT7", "RT8", "RU1"].iter().any(|group| code.starts_with(group));
    let said = |hint: &String| hint.starts_with(WRITTEN) || hint.starts_with(EXAMPLE);
    let errors = findings.iter_mut().filter(|f| f.severity == Severity::Error && of_statement(f.code));
    for finding in errors.filter(|finding| !finding.hints.iter().any(said)).take(limits::MENDED) {
        let Some(file) = loaded.get(finding.span.file.0) else { continue };
        let after = file.lines.partition_point(|line| line.range.start <= finding.span.range.start);
        let Some(line) = after.checked_sub(1).map(|at| &file.lines[at]) else { continue };
        // What is wrong with a value from outside is told at the title, and has no statement.
        let text = line.text(&file.file.text);
        if finding.span.range.start <= line.range.end && !(finding.code.starts_with("RG") && begins(text, "recipe")) {
            finding.hints.extend(form_of(text));
        }
    }
}

/// Whether a text that could not be read begins with a word, what does not show before it left out; or a line of it,
/// where only carriage returns end them.
fn begins(text: &str, word: &str) -> bool {
    let first = |line: &str| line.trim_start_matches(is_hidden).split([' ', '\t', '"', ':']).next() == Some(word);
    text.split('\r').any(first)
}

/// A statement, and for a `use` line the file that it names.
type Ordered<'p, 'a> = (&'p Parsed<'a>, Option<Used>);

/// All statements in their order: those of a used file follow its `use` line.
fn in_order<'p, 'a>(
    FileId(id): FileId,
    loaded: &[Loaded],
    parsed: &'p [Vec<(usize, Parsed<'a>)>],
    order: &mut Vec<Ordered<'p, 'a>>,
) {
    for (index, statement) in &parsed[id] {
        let used = loaded[id].uses.get(index).copied();
        order.push((statement, used));
        if let Some(Used::Fresh(file)) = used {
            in_order(file, loaded, parsed, order);
        }
    }
}

fn table(
    loaded: &[Loaded],
    order: &[Ordered<'_, '_>],
    with: &[(String, String)],
    words: &[&str],
    title: &Span,
    findings: &mut Vec<Finding>,
) -> Table {
    let mut table = Table::default();
    let mut lines = Vec::new();
    for (index, (parsed, used)) in order.iter().enumerate() {
        match (parsed.root().as_rule(), used) {
            (Rule::given, _) => table.declare(parsed, index, words, findings),
            (Rule::uses, Some(used)) => lines.push((parsed, index, used)),
            (Rule::battery, _) => {
                let count = parsed.root().into_inner().find(|pair| pair.as_rule() == Rule::count);
                table.cells = table.cells.or(count.and_then(|count| count.as_str().trim().parse().ok()));
            }
            _ => {}
        }
    }
    for (line, index, used) in lines {
        match used {
            Used::Fresh(file) => table.tell(line, index, *file, false, findings),
            Used::Again(file) => table.tell(line, index, *file, true, findings),
        }
    }
    if !table.is_empty() {
        for (index, (parsed, _)) in order.iter().enumerate().filter(|(_, (parsed, _))| !is_header(parsed)) {
            table.note_uses(parsed, index, findings);
        }
    }
    let used_at: Vec<Option<Span>> = loaded.iter().map(|file| file.used_at.clone()).collect();
    table.settle(with, &used_at, title, findings);
    table.judge_with(with, title, |declared| handed_on(loaded, declared), findings);
    table
}

/// The hint for a recipe that is whole only in another one.
fn left_out(top: &Header, title: &Span) -> Finding {
    let missing = match (&top.craft, top.boards.is_empty()) {
        (None, true) => "no craft and no board",
        (None, false) => "no craft",
        (Some(_), _) => "no board",
    };
    let message = format!(
        "this recipe names {missing}: it is judged as a part of one that uses it, which brings what is missing here, \
         and by itself it is not run"
    );
    let finding = Finding::suggestion(codes::LEFT_OUT, title, message);
    let unnamed = |rule| if rule == Rule::craft { top.craft.is_none() } else { top.boards.is_empty() };
    let fixes = top.left_out.iter().filter(|(rule, _)| unnamed(*rule));
    fixes.fold(finding, |finding, (_, fix)| finding.fix(fix.clone()))
}

/// A file that is named again does nothing the second time; whoever relies on what it asks or tests is told.
fn taken_once(loaded: &[Loaded], table: &Table, statements: &[Statement], findings: &mut Vec<Finding>) {
    let asking: BTreeSet<FileId> =
        statements.iter().filter(|one| asks_or_tests(&one.what)).map(|one| one.span.file).collect();
    let above = |file: &FileId| loaded[file.0].used_at.as_ref().map(|span| span.file);
    for again in table.taken_again() {
        let inside = |file: &FileId| std::iter::successors(Some(*file), above).any(|file| file == again.target);
        if asking.iter().any(inside) {
            let message =
                "this file was taken already: what it requires, asks and tests happens there, and not again here";
            findings.push(
                Finding::warning(codes::TAKEN_ONCE, &again.line, message)
                    .hint("leave this line out, and write here what has to hold or be proved once more"),
            );
        }
    }
}

/// How a used file's parameter is handed on from the named recipe: the lines that each file between needs.
fn handed_on(loaded: &[Loaded], declared: &Span) -> Vec<String> {
    let file = &loaded[declared.file.0];
    let line = file.lines.iter().find(|line| line.range.contains(&declared.range.start));
    let given = line.map(|line| line.text(&file.file.text)).unwrap_or_default();
    let name = &file.file.text[declared.range.clone()];
    let mut hints = Vec::new();
    let mut used_at = file.used_at.as_ref();
    while let Some(span) = used_at {
        let using = &loaded[span.file.0];
        let path = &using.file.text[span.range.clone()];
        hints.push(format!("in `{}` write `{given}`, and `use {path} with {name} {name}`", using.file.name));
        used_at = using.used_at.as_ref();
    }
    hints.reverse();
    hints
}
