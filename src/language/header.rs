//! What every recipe begins with, in its order: title, edition, craft, boards, firmware, parameters.
//!
//! Must not be here: parameters' values (see `givens`), files (see `uses`), all other statements.

use super::codes;
use super::finding::{Finding, Fix};
use super::grammar::Rule;
use super::lines::Line;
use super::lower::text::unquote;
use super::recipe::{Craft, Firmware, Frame, Turning};
use super::span::{FileId, Span, Spanned};
use super::syntax::{Parsed, parse};
use super::tree::Pair;
use super::units::Decimal;

/// The header of one file; what is missing was reported.
#[derive(Debug, Default)]
pub(crate) struct Header {
    pub title: Option<Spanned<String>>,
    pub craft: Option<Spanned<Craft>>,
    pub boards: Vec<Spanned<String>>,
    pub firmware: Vec<Spanned<Firmware>>,
    /// Lines that a file which others use may leave out, and which this one does.
    pub left_out: Vec<(Rule, Fix)>,
}

/// The lines that a recipe cannot do without, each with an example.
const NEEDED: [(Rule, &str, &str); 4] = [
    (Rule::recipe, "recipe", "recipe \"Title\""),
    (Rule::edition, "edition", "edition 1"),
    (Rule::craft, "craft", "craft quad x"),
    (Rule::board, "board", "board \"Name of its sheet\""),
];

/// Whether a file is of an edition that is not ours; that is the one thing then said about it.
pub(crate) fn foreign(file: FileId, text: &str, lines: &[Line], findings: &mut Vec<Finding>) -> bool {
    for line in lines.iter().filter(|line| !line.bad && line.text(text).starts_with("edition")) {
        let Ok(parsed) = parse(file, text, line) else { continue };
        let Some(number) = parsed.root().into_inner().find(|pair| pair.as_rule() == Rule::number) else {
            continue;
        };
        if number.as_str().parse::<Decimal>().is_ok_and(|number| number.whole() == Some(1)) {
            if number.as_str() != "1" {
                let place = parsed.place(number);
                findings.push(Finding::error(codes::BAD_NUMBER, &place, "an edition is a whole number").replace(
                    "write `1`",
                    &place,
                    "1",
                ));
            }
        } else {
            findings.push(
                Finding::error(
                    codes::UNKNOWN_EDITION,
                    parsed.place(number),
                    format!("edition {} of the language is not known; this program reads edition 1", number.as_str()),
                )
                .hint("read the recipe with a version of this program that knows its edition"),
            );
            return true;
        }
    }
    false
}

/// The place of a statement in the order of a recipe; `None` for what follows the header.
fn rank(parsed: &Parsed<'_>) -> Option<(usize, &'static str)> {
    Some(match parsed.root().as_rule() {
        Rule::recipe => (0, "recipe"),
        Rule::edition => (1, "edition"),
        Rule::craft => (2, "craft"),
        Rule::board => (3, "board"),
        Rule::require if firmware_of(parsed).is_some() => (4, "require firmware"),
        Rule::given => (5, "given"),
        _ => return None,
    })
}

fn firmware_of<'p>(parsed: &'p Parsed<'_>) -> Option<Pair<'p>> {
    parsed.root().into_inner().nth(1).filter(|pair| pair.as_rule() == Rule::firmware)
}

/// Whether a statement belongs to the header and is dealt with here or by the reader.
pub(crate) fn is_header(parsed: &Parsed<'_>) -> bool {
    parsed.root().as_rule() == Rule::uses || rank(parsed).is_some()
}

/// Reads the header of one file. `attempted`: whether a line that did not parse begins with a word.
pub(crate) fn header<'p, 'a: 'p>(
    file: FileId,
    statements: impl Iterator<Item = &'p Parsed<'a>>,
    attempted: impl Fn(&str) -> bool,
    findings: &mut Vec<Finding>,
) -> Header {
    let mut header = Header::default();
    let mut highest: Option<(usize, &Parsed<'_>, &str)> = None;
    let mut once: Vec<(Rule, Span)> = Vec::new();
    let mut ends = [0; NEEDED.len()];
    let mut seen: Vec<Rule> = Vec::new();
    for parsed in statements {
        let rule = parsed.root().as_rule();
        if rule == Rule::uses {
            if !seen.contains(&Rule::edition) && !attempted("edition") {
                findings.push(
                    Finding::error(codes::MISPLACED_HEADER, parsed.span.clone(), "`use` stands too early")
                        .hint("it may stand anywhere below `edition`"),
                );
            }
            continue;
        }
        let (rank, word) = rank(parsed).unwrap_or((6, "this statement"));
        match &highest {
            Some((most, before, other)) if *most > rank => {
                findings.push(
                    Finding::error(codes::MISPLACED_HEADER, parsed.span.clone(), format!("`{word}` stands too late"))
                        .also(
                            before.span.clone(),
                            if *most == 6 {
                                "the header ends here".into()
                            } else {
                                format!("it belongs before `{other}`")
                            },
                        )
                        .hint("first come, in this order: recipe, edition, craft, board, require firmware, given"),
                );
            }
            _ => highest = Some((rank, parsed, word)),
        }
        for (needed, end) in ends.iter_mut().enumerate() {
            if rank < needed {
                *end = parsed.span.range.end;
            }
        }
        if rank > 4 {
            continue;
        }
        seen.push(rule);
        if rank < 3 {
            if let Some((_, first)) = once.iter().find(|(known, _)| *known == rule) {
                findings.push(
                    Finding::error(
                        codes::REPEATED_HEADER,
                        parsed.span.clone(),
                        format!("`{word}` stands a second time"),
                    )
                    .also(first.clone(), "the first")
                    .hint("keep one of them"),
                );
                continue;
            }
            once.push((rule, parsed.span.clone()));
        }
        header.take(parsed, findings);
    }
    for ((rule, word, example), end) in NEEDED.iter().zip(ends) {
        if !seen.contains(rule) && !attempted(word) {
            let span = Span { file, range: end..end };
            let replacement = if end == 0 { format!("{example}\n") } else { format!("\n{example}") };
            let fix = Fix { title: format!("add `{example}`"), span: span.clone(), replacement };
            if matches!(rule, Rule::craft | Rule::board) {
                header.left_out.push((*rule, fix));
                continue;
            }
            findings.push(
                Finding::error(codes::MISSING_HEADER, span, format!("the recipe has no `{word}` line"))
                    .hint(format!("add the line `{example}`"))
                    .fix(fix),
            );
        }
    }
    header
}

impl Header {
    fn take(&mut self, parsed: &Parsed<'_>, findings: &mut Vec<Finding>) {
        let string = |tree: Pair<'_>| {
            tree.into_inner()
                .find(|pair| pair.as_rule() == Rule::string)
                .map(|pair| Spanned { value: unquote(pair.as_str()), span: parsed.place(pair) })
        };
        let full = |text: Option<Spanned<String>>, findings: &mut Vec<Finding>| {
            text.filter(|text| {
                let empty = text.value.trim().is_empty();
                if empty {
                    findings.push(Finding::error(codes::EMPTY_TEXT, text.span.clone(), "this text is empty"));
                }
                !empty
            })
        };
        match parsed.root().as_rule() {
            Rule::recipe => self.title = full(string(parsed.root()), findings),
            Rule::board => {
                let Some(board) = full(string(parsed.root()), findings) else { return };
                if let Some(first) = self.boards.iter().find(|known| known.value == board.value) {
                    let message = format!("board \"{}\" stands a second time", board.value);
                    findings.push(
                        Finding::error(codes::REPEATED_HEADER, board.span, message)
                            .also(first.span.clone(), "the first"),
                    );
                } else {
                    self.boards.push(board);
                }
            }
            Rule::craft => self.craft = craft(parsed, findings),
            Rule::require => {
                let Some(version) = firmware_of(parsed).and_then(string) else { return };
                let parts: Vec<_> = version.value.split('.').collect();
                let number =
                    |part: &&str| !part.is_empty() && part.len() <= 9 && part.bytes().all(|b| b.is_ascii_digit());
                if !(2..=3).contains(&parts.len()) || !parts.iter().all(number) {
                    let message = format!("`{}` is no firmware version", version.value);
                    findings.push(
                        Finding::error(codes::BAD_FIRMWARE, version.span, message)
                            .hint("write two or three numbers, such as \"2.4\" (any 2.4) or \"2.4.1\""),
                    );
                } else {
                    self.firmware.push(Spanned { value: Firmware(version.value), span: version.span });
                }
            }
            _ => {}
        }
    }
}

fn craft(parsed: &Parsed<'_>, findings: &mut Vec<Finding>) -> Option<Spanned<Craft>> {
    let mut frame = None;
    let mut turning: Option<(Turning, Span)> = None;
    for pair in parsed.root().into_inner() {
        let has = |rule: Rule| pair.into_inner().any(|inner| inner.as_rule() == rule);
        match pair.as_rule() {
            Rule::frame => {
                frame = Some(match () {
                    () if has(Rule::kw_plus) => Frame::QuadPlus,
                    () if has(Rule::kw_quad) => Frame::QuadX,
                    () if has(Rule::kw_hex) => Frame::HexX,
                    () => Frame::OctoX,
                });
            }
            Rule::turning => {
                let place = parsed.place(pair);
                if let Some((_, first)) = &turning {
                    findings.push(super::finding::repeated_clause(place, first.clone()));
                } else {
                    let way = if has(Rule::kw_inward) { Turning::Inward } else { Turning::Outward };
                    turning = Some((way, place));
                }
            }
            _ => {}
        }
    }
    let turning = turning.map(|(way, _)| way);
    frame.map(|frame| Spanned { value: Craft { frame, turning }, span: parsed.span.clone() })
}
