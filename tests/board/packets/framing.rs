//! Framing against what was published of it, and against accidents: cut anywhere, noise between, packets without an end.

use super::kit::{packets, text};
use proptest::prelude::*;
use quadjig::board::packets::checksum::Checksum;
use quadjig::board::packets::framing::{ByteOrder, Delimiting, FrameFault, Framing, Packet, Part, Span};
use quadjig::board::packets::splitter::{Found, Splitter};

fn packet(id: u16, payload: &[u8]) -> Packet {
    Packet { id, sequence: 0, payload: payload.to_vec() }
}

fn found(framing: &Framing, chunks: &[&[u8]]) -> Vec<Found> {
    let (mut splitter, mut found) = (Splitter::new(framing.clone()), Vec::new());
    for chunk in chunks {
        splitter.feed(chunk, &mut found);
    }
    found
}

fn packets_in(found: &[Found]) -> Vec<Packet> {
    found
        .iter()
        .filter_map(|found| match found {
            Found::Packet(packet, _) => Some(packet.clone()),
            Found::Fault(_) | Found::Skipped(_) => None,
        })
        .collect()
}

fn bare(way: Delimiting) -> Framing {
    Framing { way, parts: vec![Part::Id(1), Part::Payload], sum: None, order: ByteOrder::Big, most: 64 }
}

/// "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on Networking 7 (1999), 159: its example of a packet, the
/// beginning of an IP header, and its encoding. Packets stand between zeros.
#[test]
fn the_example_of_the_paper_on_cobs() {
    let stuffed = [0x02, 0x45, 0x01, 0x04, 0x2C, 0x4C, 0x79, 0x01, 0x05, 0x40, 0x06, 0x4F, 0x37];
    let plain = packet(0x45, &[0x00, 0x00, 0x2C, 0x4C, 0x79, 0x00, 0x00, 0x40, 0x06, 0x4F, 0x37]);
    let framing = bare(Delimiting::Cobs);
    let sent = framing.encode(&plain);
    assert_eq!(sent, [&[0][..], &stuffed, &[0]].concat());
    assert_eq!(packets_in(&found(&framing, &[&sent])), [plain]);
}

/// RFC 1055: END 192, ESC 219; inside of a packet END is sent as 219 220, ESC as 219 221; an END before a packet flushes
/// what the line picked up.
#[test]
fn the_bytes_of_the_rfc_on_slip() {
    let framing = bare(Delimiting::Slip);
    let plain = packet(7, &[192, 1, 219]);
    let sent = framing.encode(&plain);
    assert_eq!(sent, [192, 7, 219, 220, 1, 219, 221, 192]);
    assert_eq!(packets_in(&found(&framing, &[&[1, 219, 3], &sent])), [plain]);
}

/// The shipped sheets' framings, written out by hand: the checksums are those of the check value's own nine bytes and of
/// RFC 1146, so they are checked beside `checksum`.
#[test]
fn the_packets_of_the_shipped_sheets() {
    let (p, q) = (packets(text("finch-p")).framing, packets(text("finch-q")).framing);
    let sum = |name: &str, bytes: &[u8]| u16::try_from(Checksum::named(name).unwrap().of(bytes)).unwrap();
    let kermit = sum("CRC-16/KERMIT", &[2, 0x18, 0xAA, 0xBB]).to_le_bytes();
    let expected = [&[0x9D, 0x4B, 2, 0x18, 0xAA, 0xBB], &kermit[..]].concat();
    assert_eq!(p.encode(&packet(0x18, &[0xAA, 0xBB])), expected);
    let body = [0x05, 0x18, 9, 0xAA];
    let fletcher = sum("fletcher-16", &body).to_be_bytes();
    let whole = [&body[..], &fletcher].concat();
    assert!(!whole.contains(&0), "so that its stuffing is one code byte");
    let sent = q.encode(&Packet { id: 0x0518, sequence: 9, payload: vec![0xAA] });
    assert_eq!(sent, [&[0, 7], &whole[..], &[0]].concat());
}

#[test]
fn a_packet_is_found_wherever_it_is_cut() {
    for stem in ["finch-p", "finch-q"] {
        let framing = packets(text(stem)).framing;
        // The first holds start bytes of its own.
        let two = [packet(0x11, &[0x9D, 0x4B, 0, 0, 0x9D]), packet(0x12, &[])];
        let bytes: Vec<u8> = two.iter().flat_map(|packet| framing.encode(packet)).collect();
        for at in 0..bytes.len() {
            for to in at..bytes.len() {
                let found = found(&framing, &[&bytes[..at], &bytes[at..to], &bytes[to..]]);
                assert_eq!(packets_in(&found), two, "{stem}: cut at {at} and {to}");
            }
        }
    }
}

/// What is lost, doubled or damaged hides no packet but itself.
#[test]
fn after_whatever_happens_the_next_packet_is_found() {
    for stem in ["finch-p", "finch-q"] {
        let framing = packets(text(stem)).framing;
        let [one, two] = [packet(0x11, &[1, 2, 3, 0, 5]), packet(0x12, &[6])];
        let (first, second) = (framing.encode(&one), framing.encode(&two));
        for at in 0..first.len() {
            let lost = [&first[..at], &first[at + 1..]].concat();
            let mut damaged = first.clone();
            damaged[at] ^= 0x10;
            for bytes in [lost, damaged, first[..at].to_vec()] {
                let (mut splitter, mut found) = (Splitter::new(framing.clone()), Vec::new());
                splitter.feed(&bytes, &mut found);
                splitter.feed(&second, &mut found);
                while splitter.waiting() > 0 && !packets_in(&found).contains(&two) {
                    splitter.give_up(&mut found);
                }
                assert_eq!(packets_in(&found).last(), Some(&two), "{stem}, {at}: {found:?}");
            }
        }
    }
}

#[test]
fn a_packet_without_an_end_takes_no_room() {
    let length = packets(text("finch-p")).framing;
    let stuffed = packets(text("finch-q")).framing;
    for (framing, bytes) in [
        (&length, vec![0x9D; 1 << 20]),
        (&length, [0x9D, 0x4B, 0x80, 0x11].repeat(1 << 18)),
        (&length, [0x9D, 0x4B, 0xFF, 0x11].repeat(1 << 18)),
        (&stuffed, vec![0x55; 1 << 20]),
    ] {
        let (mut splitter, mut found) = (Splitter::new(framing.clone()), Vec::new());
        splitter.feed(&bytes, &mut found);
        assert!(splitter.waiting() <= 2 * (framing.most + 16) + 256, "{}", splitter.waiting());
        assert!(packets_in(&found).is_empty());
    }
    let one = stuffed.encode(&packet(5, &[1]));
    let long = vec![0x55; 4096];
    let told = found(&stuffed, &[&long, &one]);
    assert_eq!(told[0], Found::Fault(FrameFault::TooLong));
    assert_eq!(packets_in(&told).len(), 1);
}

fn framings() -> impl Strategy<Value = Framing> {
    let sums = prop_oneof![
        Just(None),
        Just(Some("CRC-32/ISO-HDLC")),
        Just(Some("CRC-16/XMODEM")),
        Just(Some("CRC-24/OPENPGP")),
        Just(Some("xor-8")),
        Just(Some("fletcher-16")),
    ];
    let wide = prop_oneof![Just(1_usize), Just(2)];
    (0..3_u8, sums, wide.clone(), wide, any::<(bool, bool, bool)>()).prop_map(
        |(way, sum, id, length, (big, numbered, last))| {
            let mut parts = Vec::new();
            parts.extend((way == 0).then_some(Part::Length(length)));
            parts.push(Part::Id(id));
            parts.push(Part::Fixed(0xA5));
            parts.extend(numbered.then_some(Part::Sequence(1)));
            let sum = sum.map(|name| Checksum::named(name).unwrap());
            if last {
                parts.push(Part::Payload);
                parts.extend(sum.map(|_| Part::Checksum));
            } else {
                parts.extend(sum.map(|_| Part::Checksum));
                parts.push(Part::Payload);
            }
            let all: Vec<Span> =
                (0..parts.len()).filter(|place| parts[*place] != Part::Checksum).map(Span::Part).collect();
            let way = match way {
                0 => Delimiting::Length { start: vec![0x7E, 0x31], heard: vec![0x7E, 0x31], counts: all.clone() },
                1 => Delimiting::Cobs,
                _ => Delimiting::Slip,
            };
            let order = if big { ByteOrder::Big } else { ByteOrder::Little };
            Framing { way, parts, sum: sum.map(|sum| (sum, all)), order, most: 200 }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever a framing is made of, what it makes reads back as itself.
    #[test]
    fn what_is_made_reads_back(
        framing in framings(),
        (id, sequence) in any::<(u8, u8)>(),
        payload in prop::collection::vec(any::<u8>(), 0..200),
    ) {
        let numbered = framing.sequences().is_some();
        let packet = Packet { id: id.into(), sequence: if numbered { sequence.into() } else { 0 }, payload };
        let bytes = framing.encode(&packet);
        prop_assert_eq!(found(&framing, &[&bytes]), [Found::Packet(packet, bytes.len() - usize::from(framing.encode(&Packet { id: 0, sequence: 0, payload: vec![] })[0] != 0x7E))]);
    }

    /// Noise before, between and behind, cut anywhere: every packet is found. A sum of 32 bits, so that noise is none.
    #[test]
    fn noise_hides_no_packet(
        stuffed in any::<bool>(),
        payloads in prop::collection::vec(prop::collection::vec(any::<u8>(), 0..40), 1..5),
        noise in prop::collection::vec(prop::collection::vec(prop_oneof![Just(0x7E_u8), Just(0x31), any::<u8>()], 0..30), 6),
        cuts in prop::collection::vec(any::<prop::sample::Index>(), 0..6),
    ) {
        let parts = if stuffed { vec![Part::Id(1), Part::Payload, Part::Checksum] } else {
            vec![Part::Length(1), Part::Id(1), Part::Payload, Part::Checksum]
        };
        let over: Vec<Span> = (0..parts.len() - 1).map(Span::Part).collect();
        let counts = vec![Span::Part(2)];
        let way = if stuffed { Delimiting::Cobs } else { Delimiting::Length { start: vec![0x7E, 0x31], heard: vec![0x7E, 0x31], counts } };
        let sum = Some((Checksum::named("CRC-32/ISO-HDLC").unwrap(), over));
        let framing = Framing { way, parts, sum, order: ByteOrder::Little, most: 40 };
        let sent: Vec<Packet> = payloads.iter().map(|payload| packet(9, payload)).collect();
        let mut bytes = noise[0].clone();
        for (packet, noise) in sent.iter().zip(&noise[1..]) {
            bytes.extend(framing.encode(packet));
            bytes.extend(noise);
        }
        let mut at: Vec<usize> = cuts.iter().map(|cut| cut.index(bytes.len() + 1)).chain([0, bytes.len()]).collect();
        at.sort_unstable();
        let (mut splitter, mut found) = (Splitter::new(framing.clone()), Vec::new());
        for pair in at.windows(2) {
            splitter.feed(&bytes[pair[0]..pair[1]], &mut found);
        }
        while !stuffed && splitter.waiting() > 0 {
            splitter.give_up(&mut found);
        }
        prop_assert_eq!(packets_in(&found), sent);
    }
}

/// What a length counts of the start bytes is what stands before that very packet, where both ways begin otherwise.
#[test]
fn start_bytes_of_another_length_are_counted_as_they_are() {
    let way = Delimiting::Length {
        start: vec![0xA7],
        heard: vec![0x7A, 0x11, 0x22],
        counts: vec![Span::Start, Span::Part(2)],
    };
    let parts = vec![Part::Length(1), Part::Id(1), Part::Payload];
    let framing = Framing { way, parts, sum: None, order: ByteOrder::Big, most: 64 };
    let sent = framing.encode(&packet(5, &[9, 8]));
    assert_eq!(sent, [0xA7, 3, 5, 9, 8]);
    let said = framing.mirrored().encode(&packet(6, &[9, 8]));
    assert_eq!(said, [0x7A, 0x11, 0x22, 5, 6, 9, 8]);
    assert_eq!(packets_in(&found(&framing, &[&said])), [packet(6, &[9, 8])]);
    assert_eq!(packets_in(&found(&framing.mirrored(), &[&sent])), [packet(5, &[9, 8])]);
}
