//! What came that begins and ends like a sheet's packets and is none: what checksum, over what, in which byte order, fits all.
//!
//! Promises: what is named fits every one of them, and so many that it does not by chance; bounded work. Must not be here:
//! finding packets that fit the sheet (see `splitter`).

use super::checksum::Checksum;
use super::framing::{ByteOrder, Delimiting, Framing, Part, Span};
use super::slip;

/// So many packets are looked at.
const MOST: usize = 48;
/// So many bits of checksums have to fit: some 15,000 ways are tried, and chance passes one of them once in 1,000 times.
const BITS: usize = 24;

/// Packets whose checksum or byte order is not the sheet's.
#[derive(Debug, Clone, PartialEq)]
pub struct Misfit {
    /// How many came.
    pub packets: usize,
    /// How many of these differ from each other.
    pub different: usize,
    /// In which byte order their lengths are read.
    pub order: ByteOrder,
    /// Whether they are enough to tell a checksum by.
    pub enough: bool,
    /// Each checksum that fits all of them, with what it is taken over.
    pub fits: Vec<(Checksum, Vec<Span>)>,
}

/// What some bytes hold of packets that are not quite a sheet's; `None`: nothing that begins and ends so, or one that fits.
#[must_use]
pub fn misfit(framing: &Framing, bytes: &[u8]) -> Option<Misfit> {
    let other = match framing.order {
        ByteOrder::Little => ByteOrder::Big,
        ByteOrder::Big => ByteOrder::Little,
    };
    let found = [framing.order, other].map(|order| {
        let framing = Framing { order, ..framing.clone() };
        let bodies = bodies(&framing, bytes);
        (framing, bodies)
    });
    let start = start(framing);
    let (own, bodies) = &found[0];
    if bodies.iter().any(|body| own.decode(start, body).is_ok()) {
        return None;
    }
    let mut told = found.iter().map(|(framing, bodies)| judged(framing, bodies)).filter(|told| told.packets > 0);
    let first = told.next()?;
    match told.next() {
        Some(second) if first.fits.is_empty() && !second.fits.is_empty() => Some(second),
        // Read in the other order alone: one of them is soon found in noise.
        _ if first.order != framing.order && first.different < 2 => None,
        _ => Some(first),
    }
}

fn start(framing: &Framing) -> &[u8] {
    match &framing.way {
        Delimiting::Length { heard, .. } => heard,
        Delimiting::Cobs | Delimiting::Slip => &[],
    }
}

/// What stands behind the start bytes of everything that begins and ends like a packet.
fn bodies(framing: &Framing, bytes: &[u8]) -> Vec<Vec<u8>> {
    let (before, after) = framing.around();
    let fits = |body: &Vec<u8>| (before + after..=before + framing.most + after).contains(&body.len());
    let by_marks = |mark: u8, unstuff: fn(&[u8]) -> Option<Vec<u8>>| {
        let mut parts: Vec<&[u8]> = bytes.split(|byte| *byte == mark).collect();
        // What stands before the first mark and behind the last is no whole packet.
        parts.pop();
        parts.into_iter().skip(1).filter(|part| !part.is_empty()).filter_map(unstuff).filter(fits).take(MOST).collect()
    };
    match &framing.way {
        Delimiting::Cobs => by_marks(0, |stuffed| cobs::decode_vec(stuffed).ok()),
        Delimiting::Slip => by_marks(slip::END, slip::unstuff),
        Delimiting::Length { heard, .. } => {
            let (mut at, mut all) = (0, Vec::new());
            while at < bytes.len() && all.len() < MOST {
                match one(framing, heard, before, after, &bytes[at..]) {
                    Some(body) => {
                        at += heard.len() + body.len();
                        all.push(body.to_vec());
                    }
                    None => at += 1,
                }
            }
            all
        }
    }
}

/// A packet by its start bytes and its length, which another follows, or nothing.
fn one<'b>(framing: &Framing, start: &[u8], before: usize, after: usize, bytes: &'b [u8]) -> Option<&'b [u8]> {
    let rest = bytes.strip_prefix(start)?;
    let whole = before + framing.payload_by(rest.get(..before)?)? + after;
    let next = rest.get(whole..)?;
    (next.starts_with(start) || start.starts_with(next)).then(|| &rest[..whole])
}

fn judged(framing: &Framing, bodies: &[Vec<u8>]) -> Misfit {
    let mut different = bodies.to_vec();
    different.sort();
    different.dedup();
    let size = framing.sum.as_ref().map_or(0, |(sum, _)| sum.size());
    let enough = different.len() * size * 8 >= BITS;
    let mut fits = Vec::new();
    for sum in Checksum::of_size(size).filter(|_| enough) {
        let over =
            spans(framing).into_iter().filter(|over| different.iter().all(|body| sums(framing, sum, over, body)));
        fits.extend(over.map(|over| (sum, over)));
    }
    Misfit { packets: bodies.len(), different: different.len(), order: framing.order, enough, fits }
}

/// Every row of neighbouring parts, start bytes among them, that a checksum could be taken over.
fn spans(framing: &Framing) -> Vec<Vec<Span>> {
    let parts = framing.parts.iter().enumerate().filter(|(_, part)| **part != Part::Checksum);
    let start = (!start(framing).is_empty()).then_some(Span::Start);
    let all: Vec<Span> = start.into_iter().chain(parts.map(|(at, _)| Span::Part(at))).collect();
    let holds = |over: &&[Span]| over.iter().any(|span| is_payload(framing, *span));
    let rows = (0..all.len()).flat_map(|from| (from + 1..=all.len()).map(move |to| (from, to)));
    rows.map(|(from, to)| &all[from..to]).filter(holds).map(<[Span]>::to_vec).collect()
}

fn is_payload(framing: &Framing, span: Span) -> bool {
    matches!(span, Span::Part(at) if framing.parts.get(at) == Some(&Part::Payload))
}

/// Whether a packet has this checksum.
fn sums(framing: &Framing, sum: Checksum, over: &[Span], body: &[u8]) -> bool {
    let (before, after) = framing.around();
    let Some(payload) = body.len().checked_sub(before + after) else { return false };
    let Some(at) = framing.parts.iter().position(|part| *part == Part::Checksum) else { return false };
    let stands: usize = framing.parts[..at].iter().map(|part| framing.size(*part)).sum();
    let stands = if framing.parts[..at].contains(&Part::Payload) { stands + payload } else { stands };
    let summed = framing.summed(over, start(framing), body, payload);
    summed.is_some_and(|summed| {
        body.get(stands..stands + sum.size()) == Some(&framing.order.bytes(sum.of(&summed), sum.size())[..])
    })
}

impl Misfit {
    /// What it is, and what to write.
    #[must_use]
    pub fn words(&self, framing: &Framing) -> String {
        let Self { packets, different, .. } = self;
        let order = match self.order {
            _ if self.order == framing.order => "",
            ByteOrder::Little => "byte-order = \"little\"",
            ByteOrder::Big => "byte-order = \"big\"",
        };
        let Some((sum, over)) = &framing.sum else {
            return format!("{packets} packets came that begin as the sheet says, and whose length fits with {order}");
        };
        let came = format!("{packets} packets came that begin and end as the sheet says");
        let with = if order.is_empty() { String::new() } else { format!(" with {order}") };
        let not = format!("their checksum is not {} over {}", sum.name(), names(framing, over).join(", "));
        let then = if !self.enough {
            format!("with {different} different among them it can't be told which it is: let more come")
        } else if self.fits.is_empty() {
            format!("none of {} bytes that is known fits all of them over parts that stand together", sum.size())
        } else {
            let line = |(sum, over): &(Checksum, Vec<Span>)| {
                let over: Vec<String> = names(framing, over).into_iter().map(|name| format!("\"{name}\"")).collect();
                format!("checksum = \"{}\", checksum-over = [{}]", sum.name(), over.join(", "))
            };
            format!("what fits all of them: {}", self.fits.iter().map(line).collect::<Vec<_>>().join("; or "))
        };
        format!("{came}{with}, and {not}; {then}")
    }
}

fn names(framing: &Framing, over: &[Span]) -> Vec<String> {
    over.iter()
        .map(|span| match span {
            Span::Start => "start".to_owned(),
            Span::Part(at) => match framing.parts.get(*at) {
                Some(Part::Length(_)) => "length".to_owned(),
                Some(Part::Id(_)) => "id".to_owned(),
                Some(Part::Sequence(_)) => "sequence".to_owned(),
                Some(Part::Fixed(byte)) => format!("{byte:#04X}").replace("0X", "0x"),
                Some(Part::Payload) | None => "payload".to_owned(),
                Some(Part::Checksum) => "checksum".to_owned(),
            },
        })
        .collect()
}
