//! The tree of one parsed line, kept small: what stands where, by the grammar's rules.
//!
//! Promises: a tree is one piece of memory, a fifth of what the parser needs while it works, and may go to another
//! thread; walking it allocates nothing. Must not be here: parsing (see `syntax`), meaning (see `lower`).

use super::grammar::Rule;
use pest::Token;

/// A rule that fits, and how many rules fit in it, itself among them; 0 until it ends. A line has 4 KiB at most, and one
/// that was mended little more.
#[derive(Debug, Clone, Copy)]
struct Node {
    rule: Rule,
    start: u16,
    end: u16,
    size: u16,
}

/// A parsed line; offsets are bytes of its text.
#[derive(Debug, Clone)]
pub(crate) struct Tree<'a> {
    text: &'a str,
    /// Each before what stands in it; the statement is the first.
    nodes: Box<[Node]>,
}

impl<'a> Tree<'a> {
    /// Takes over the first of what pest found in a text.
    pub fn of(text: &'a str, found: pest::iterators::Pairs<'_, Rule>) -> Option<Self> {
        let tokens = found.tokens();
        // Each rule begins and ends; the last is the end of the input.
        let mut nodes: Vec<Node> = Vec::with_capacity((tokens.len() / 2).saturating_sub(1));
        let byte = |pos: pest::Position<'_>| u16::try_from(pos.pos()).ok();
        for token in tokens {
            match token {
                Token::Start { rule, pos } => nodes.push(Node { rule, start: byte(pos)?, end: 0, size: 0 }),
                Token::End { pos, .. } => {
                    let at = nodes.iter().rposition(|node| node.size == 0)?;
                    nodes[at].size = u16::try_from(nodes.len() - at).ok()?;
                    nodes[at].end = byte(pos)?;
                    if at == 0 {
                        return Some(Self { text, nodes: nodes.into() });
                    }
                }
            }
        }
        None
    }

    /// The whole statement.
    pub fn root(&self) -> Pair<'_> {
        Pair { text: self.text, nodes: &self.nodes }
    }
}

/// A rule and the text that it fits.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pair<'t> {
    text: &'t str,
    /// Itself, then all in it; never empty.
    nodes: &'t [Node],
}

impl<'t> Pair<'t> {
    /// The rule.
    pub fn as_rule(self) -> Rule {
        self.nodes[0].rule
    }

    /// The text.
    pub fn as_str(self) -> &'t str {
        &self.text[self.start()..self.end()]
    }

    /// Byte in the line.
    pub fn start(self) -> usize {
        usize::from(self.nodes[0].start)
    }

    /// Past the last byte in the line.
    pub fn end(self) -> usize {
        usize::from(self.nodes[0].end)
    }

    /// What stands in it.
    pub fn into_inner(self) -> Pairs<'t> {
        Pairs { text: self.text, nodes: &self.nodes[1..] }
    }

    /// It, and all that stands in it, each before its own.
    pub fn deep(self) -> impl Iterator<Item = Self> {
        (0..self.nodes.len()).map(move |at| {
            let size = usize::from(self.nodes[at].size);
            Self { text: self.text, nodes: &self.nodes[at..at + size] }
        })
    }
}

/// Rules that follow each other.
#[derive(Debug, Clone)]
pub(crate) struct Pairs<'t> {
    text: &'t str,
    nodes: &'t [Node],
}

impl<'t> Iterator for Pairs<'t> {
    type Item = Pair<'t>;

    fn next(&mut self) -> Option<Pair<'t>> {
        let size = usize::from(self.nodes.first()?.size);
        let (nodes, rest) = self.nodes.split_at(size);
        self.nodes = rest;
        Some(Pair { text: self.text, nodes })
    }
}
