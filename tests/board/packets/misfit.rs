//! Packets whose checksum or byte order is not the sheet's: what would fit all of them is found, and nothing by chance.
//!
//! The packets are made by the other framing itself, whose checksums are held against the catalogue's published values in
//! `board::packets::checksum`.

use super::kit::packets;
use super::kit::text;
use quadjig::board::packets::checksum::Checksum;
use quadjig::board::packets::framing::{ByteOrder, Delimiting, Framing, Packet, Part, Span};
use quadjig::board::packets::misfit::misfit;

fn sheet(stem: &str) -> Framing {
    packets(text(stem)).framing
}

/// Packets of the board's with a framing, so many that differ.
fn came(framing: &Framing, count: u16) -> Vec<u8> {
    let framing = framing.mirrored();
    let packet = |n: u16| {
        let payload = (0..n % 7 + 2).map(|at| u8::try_from((n * 31 + at * 17) % 251).unwrap()).collect();
        framing.encode(&Packet { id: 0x40 + n % 5, sequence: n, payload })
    };
    (0..count).flat_map(packet).collect()
}

#[test]
fn the_checksum_that_fits_is_named_with_what_it_is_taken_over() {
    for stem in ["finch-p", "finch-q"] {
        let says = sheet(stem);
        let (own, over) = says.sum.clone().unwrap();
        let size = own.size();
        let parts = says.parts.iter().enumerate().filter(|(_, part)| **part != Part::Checksum);
        let all: Vec<Span> = parts.map(|(at, _)| Span::Part(at)).collect();
        for sum in Checksum::of_size(size) {
            for taken in [all.clone(), all[1..].to_vec()] {
                if (sum, &taken) == (own, &over) {
                    continue;
                }
                let does = Framing { sum: Some((sum, taken.clone())), ..says.clone() };
                let told = misfit(&says, &came(&does, 12)).unwrap_or_else(|| panic!("{stem}: {}", sum.name()));
                assert_eq!((told.packets, told.enough, told.order), (12, true, says.order), "{stem}: {}", sum.name());
                assert_eq!(told.fits, [(sum, taken)], "{stem}");
                assert!(told.words(&says).contains(&format!("checksum = \"{}\"", sum.name())), "{}", told.words(&says));
            }
        }
    }
}

#[test]
fn the_other_byte_order_is_named() {
    for stem in ["finch-p", "finch-q"] {
        let says = sheet(stem);
        let order = if says.order == ByteOrder::Little { ByteOrder::Big } else { ByteOrder::Little };
        let word = if order == ByteOrder::Big { "byte-order = \"big\"" } else { "byte-order = \"little\"" };
        // A length of two bytes as well, which in the sheet's order can't be.
        let long =
            says.parts.iter().map(|part| if let Part::Length(_) = part { Part::Length(2) } else { *part }).collect();
        for says in [says.clone(), Framing { parts: long, ..says }] {
            let does = Framing { order, ..says.clone() };
            let told = misfit(&says, &came(&does, 12)).unwrap();
            assert_eq!((told.order, told.fits.clone()), (order, vec![says.sum.clone().unwrap()]), "{stem}");
            assert!(told.words(&says).contains(word), "{}", told.words(&says));
        }
        let none = says_no_sum(&sheet(stem));
        if let Delimiting::Length { .. } = none.way {
            let does = Framing { order, ..none.clone() };
            let words = misfit(&none, &came(&does, 12)).unwrap().words(&none);
            assert!(words.contains(word), "{words}");
        }
    }
}

/// With a length of two bytes and no checksum.
fn says_no_sum(framing: &Framing) -> Framing {
    let kept = framing.parts.iter().filter(|part| **part != Part::Checksum);
    let parts: Vec<Part> = kept.map(|part| if let Part::Length(_) = part { Part::Length(2) } else { *part }).collect();
    let payload = parts.iter().position(|part| *part == Part::Payload).unwrap();
    let way = match framing.way.clone() {
        Delimiting::Length { start, heard, .. } => {
            Delimiting::Length { start, heard, counts: vec![Span::Part(payload)] }
        }
        way => way,
    };
    Framing { way, parts, sum: None, ..framing.clone() }
}

#[test]
fn what_fits_too_few_or_nothing_is_said_so() {
    let says = sheet("finch-p");
    let (own, over) = says.sum.clone().unwrap();
    let other = Checksum::of_size(own.size()).find(|sum| *sum != own).unwrap();
    let does = Framing { sum: Some((other, over)), ..says.clone() };
    let one = misfit(&says, &came(&does, 1)).unwrap();
    assert!(!one.enough && one.fits.is_empty() && one.words(&says).contains("let more come"), "{}", one.words(&says));
    // The same one over and over tells no more than once.
    let again = misfit(&says, &came(&does, 1).repeat(20)).unwrap();
    assert!(!again.enough && again.packets == 20, "{}", again.words(&says));
    // Damaged, each in another way: no checksum fits.
    let mut damaged = came(&does, 12);
    let ends: Vec<usize> = (1..=12).map(|count| came(&does, count).len() - 1).collect();
    for (at, end) in ends.into_iter().enumerate() {
        damaged[end] ^= u8::try_from(at * 19 + 3).unwrap();
    }
    let none = misfit(&says, &damaged).unwrap();
    assert!(none.enough && none.fits.is_empty() && none.words(&says).contains("none of"), "{}", none.words(&says));
    // One that fits the sheet, and bytes that are nobody's.
    assert_eq!(misfit(&says, &[came(&does, 12), came(&says, 1)].concat()), None);
    let noise: Vec<u8> = (0..4000_u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 24).to_le_bytes()[0]).collect();
    assert!(misfit(&says, &noise).is_none_or(|told| told.fits.is_empty()));
    assert_eq!(misfit(&says, &[]), None);
}
