//! The `[packets.framing]` table: start bytes and a length or byte stuffing, the parts of a packet, and its checksum.
//!
//! Promises: a framing that is read can be made and read back. Must not be here: finding packets (see `packets::splitter`).

use super::super::super::document::Problem;
use super::super::super::document::reader::{Node, Reader, escaped};
use super::super::super::packets::checksum::Checksum;
use super::super::super::packets::framing::{ByteOrder, Delimiting, Framing, LONGEST, Part, Span};
use super::fields::bad;

const PARTS: &str = "the parts in their order: \"id u8\" or \"id u16\", \"payload\", and where they are there \"length u8\" or \
                     \"length u16\", \"sequence u8\" or \"sequence u16\", \"checksum\", and bytes that stay the same, such as \"0x00\"";
/// Most parts of a packet, and most start bytes.
const MOST_PARTS: usize = 12;
const MOST_START: usize = 8;

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Length,
    Cobs,
    Slip,
}

/// What stands for a framing that could not be read, so that the rest is read all the same.
pub(super) fn any() -> Framing {
    let parts = vec![Part::Id(2), Part::Payload];
    Framing { way: Delimiting::Cobs, parts, sum: None, order: ByteOrder::Little, most: LONGEST }
}

pub(super) fn framing(r: &mut Reader<'_>, node: &Node<'_>) -> Option<Framing> {
    let mut t = r.table(node)?;
    let kinds = [("length", Kind::Length), ("cobs", Kind::Cobs), ("slip", Kind::Slip)];
    let way = t.need(r, "way", "by what a packet's ends are told").and_then(|n| r.one_of(&n, &kinds));
    let orders = [("little", ByteOrder::Little), ("big", ByteOrder::Big)];
    let order = t.need(r, "byte-order", "which byte of a number comes first").and_then(|n| r.one_of(&n, &orders));
    let longest = i64::try_from(LONGEST).unwrap_or(i64::MAX);
    let most = t.need(r, "most", "bytes of the longest payload").and_then(|n| r.whole(&n, 1, longest));
    let parts_at = t.need(r, "parts", PARTS);
    let parts = parts_at.as_ref().and_then(|n| parts(r, n));
    let start = t.take("start").map(|n| (bytes(r, &n, 1, MOST_START), n));
    let heard = t.take("start-heard").map(|n| bytes(r, &n, 1, MOST_START));
    let counts = t.take("length-counts");
    let name = t.take("checksum");
    let over = t.take("checksum-over");
    t.done(r);
    let (way, parts, most) = (way?, parts?, usize::try_from(most?).ok()?);
    let at = parts_at.as_ref()?;
    let has = |part: fn(&Part) -> bool| parts.iter().position(part);
    let length = has(|part| matches!(part, Part::Length(_)));
    let payload = has(|part| *part == Part::Payload)?;
    let way = if way == Kind::Length {
        if length.is_none_or(|length| length > payload) {
            r.note(at.span().start, bad(&at.path, "the length must stand before the payload", PARTS));
            return None;
        }
        let Some((start, _)) = start else {
            let why =
                "bytes with which each packet begins, such as [0x9D, 0x4B]: without them nobody finds the next one";
            r.note(node.key_span.start, Problem::MissingKey { key: "packets.framing.start".to_owned(), why });
            return None;
        };
        let counts_at = counts.as_ref().map(|n| n.span().start);
        let counts = match &counts {
            Some(n) => spans(r, n, &parts)?,
            None => vec![Span::Part(payload)],
        };
        let start = start?;
        let heard = heard.unwrap_or_else(|| Some(start.clone()))?;
        if !counts.contains(&Span::Part(payload)) {
            let n = counts_at.unwrap_or(at.span().start);
            let cause = "a length that does not count the payload tells no end";
            r.note(n, bad("packets.framing.length-counts", cause, "add \"payload\" to it"));
            return None;
        }
        Delimiting::Length { start, heard, counts }
    } else {
        let extra = [(start.map(|(_, n)| n), "start"), (counts, "length-counts")];
        if let Some((n, key)) = extra.into_iter().find_map(|(n, key)| Some((n?, key))) {
            let other = "packets.framing.way".to_owned();
            r.note(n.key_span.start, Problem::Conflict { key: format!("packets.framing.{key}"), other });
            return None;
        }
        if length.is_some() {
            let cause = "a byte-stuffed packet ends at its mark: it has no length";
            r.note(at.span().start, bad(&at.path, cause, "leave the length out"));
            return None;
        }
        if way == Kind::Cobs { Delimiting::Cobs } else { Delimiting::Slip }
    };
    let sum = sum(r, name.as_ref(), over.as_ref(), &parts, (at, payload))?;
    let framing = Framing { way, parts, sum, order: order?, most };
    let (size, counted) = (
        framing.parts.iter().find_map(|part| match part {
            Part::Length(size) => Some(*size),
            _ => None,
        }),
        framing.longest_counted(),
    );
    if let (Some(size), Some(counted)) = (size, counted)
        && counted >= 1 << (8 * size)
    {
        let cause = format!("a length of {size} byte(s) cannot count {counted}, which the longest payload makes");
        r.note(
            at.span().start,
            bad("packets.framing.most", cause, "make `most` smaller, or the length \"length u16\""),
        );
        return None;
    }
    Some(framing)
}

#[expect(clippy::option_option, reason = "wrong, left out, or read")]
fn sum(
    r: &mut Reader<'_>,
    name: Option<&Node<'_>>,
    over: Option<&Node<'_>>,
    parts: &[Part],
    (at, payload): (&Node<'_>, usize),
) -> Option<Option<(Checksum, Vec<Span>)>> {
    let placed = parts.contains(&Part::Checksum);
    let Some(name) = name else {
        if placed {
            let why = "the checksum's name in the published catalogue, such as \"CRC-16/KERMIT\", or sum-8, sum-16, xor-8, fletcher-16";
            r.note(at.span().start, Problem::MissingKey { key: "packets.framing.checksum".to_owned(), why });
            return None;
        }
        return Some(None);
    };
    if !placed {
        r.note(
            name.span().start,
            bad(&name.path, "no part says where the checksum stands", "add \"checksum\" to `parts`"),
        );
        return None;
    }
    let text = r.text(name)?;
    let Some(checksum) = Checksum::named(text) else {
        let nearest = Checksum::like(text).map(str::to_owned);
        let mut known = Checksum::begun(text);
        if known.is_empty() {
            known = Checksum::plain();
            known.push("a name of the published catalogue of CRCs");
        }
        let known = known.into_iter().map(str::to_owned).collect();
        let problem = Problem::UnknownWord { key: name.path.clone(), found: escaped(text), nearest, known };
        r.note(name.span().start, problem);
        return None;
    };
    let over = match over {
        Some(n) => {
            let over = spans(r, n, parts)?;
            let itself = over.iter().any(|span| matches!(span, Span::Part(place) if parts[*place] == Part::Checksum));
            if itself || !over.contains(&Span::Part(payload)) {
                let cause = "a checksum is taken over the payload at least, and never over itself";
                r.note(n.span().start, bad(&n.path, cause, "such as [\"id\", \"payload\"]"));
                return None;
            }
            over
        }
        None => (0..parts.len()).filter(|place| parts[*place] != Part::Checksum).map(Span::Part).collect(),
    };
    Some(Some((checksum, over)))
}

fn parts(r: &mut Reader<'_>, node: &Node<'_>) -> Option<Vec<Part>> {
    let mut all = Vec::new();
    for item in r.list(node, 2, MOST_PARTS)? {
        let text = r.text(&item)?;
        let words: Vec<&str> = text.split(' ').collect();
        let part = match words[..] {
            ["length", "u8"] => Part::Length(1),
            ["length", "u16"] => Part::Length(2),
            ["id", "u8"] => Part::Id(1),
            ["id", "u16"] => Part::Id(2),
            ["sequence", "u8"] => Part::Sequence(1),
            ["sequence", "u16"] => Part::Sequence(2),
            ["payload"] => Part::Payload,
            ["checksum"] => Part::Checksum,
            [word] if word.strip_prefix("0x").is_some_and(|hex| u8::from_str_radix(hex, 16).is_ok()) => {
                Part::Fixed(u8::from_str_radix(word.trim_start_matches("0x"), 16).ok()?)
            }
            _ => {
                r.note(
                    item.span().start,
                    bad(&node.path, format!("\"{}\" is no part of a packet", escaped(text)), PARTS),
                );
                return None;
            }
        };
        let same = |known: &&Part| std::mem::discriminant(*known) == std::mem::discriminant(&part);
        if !matches!(part, Part::Fixed(_)) && all.iter().any(|known| same(&known)) {
            r.note(item.span().start, Problem::Twice { key: node.path.clone(), found: escaped(text) });
            return None;
        }
        all.push(part);
    }
    for (part, is) in
        [("id", all.iter().any(|part| matches!(part, Part::Id(_)))), ("payload", all.contains(&Part::Payload))]
    {
        if !is {
            r.note(node.span().start, bad(&node.path, format!("a packet has a part `{part}`"), PARTS));
            return None;
        }
    }
    Some(all)
}

/// Parts by their words.
fn spans(r: &mut Reader<'_>, node: &Node<'_>, parts: &[Part]) -> Option<Vec<Span>> {
    let word = |part: &Part| match part {
        Part::Length(_) => "length",
        Part::Id(_) => "id",
        Part::Sequence(_) => "sequence",
        Part::Fixed(_) => "fixed",
        Part::Payload => "payload",
        Part::Checksum => "checksum",
    };
    let mut all = Vec::new();
    for item in r.list(node, 1, MOST_PARTS)? {
        let known: Vec<(&str, ())> = parts.iter().map(|part| (word(part), ())).chain([("start", ())]).collect();
        r.one_of(&item, &known)?;
        let text = r.text(&item)?;
        let of = parts.iter().enumerate().filter(|(_, part)| word(part) == text).map(|(place, _)| Span::Part(place));
        all.extend(of);
        if text == "start" {
            all.push(Span::Start);
        }
    }
    Some(all)
}

/// An id that its part can hold.
pub(super) fn id(r: &mut Reader<'_>, node: &Node<'_>, framing: &Framing) -> Option<u16> {
    let wide = framing.parts.contains(&Part::Id(2));
    r.whole(node, 0, if wide { 0xFFFF } else { 0xFF }).and_then(|id| u16::try_from(id).ok())
}

/// A list of bytes.
pub(super) fn bytes(r: &mut Reader<'_>, node: &Node<'_>, least: usize, most: usize) -> Option<Vec<u8>> {
    let items = r.list(node, least, most)?;
    items.iter().map(|item| r.whole(item, 0, 255).and_then(|byte| u8::try_from(byte).ok())).collect()
}
