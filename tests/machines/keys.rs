//! Bytes of a terminal become keys; what is pasted never does, and Ctrl-C always is Ctrl-C.

use proptest::prelude::*;
use quadjig::machines::keys::{Keys, Pressed};
use quadjig::measure::time::Time;
use quadjig::seam::Key;
use std::time::Duration;

const NOW: Time = Time(1_000_000);

fn taken(keys: &mut Keys, now: Time, bytes: &[u8]) -> Vec<Pressed> {
    bytes.iter().filter_map(|&byte| keys.take(now, byte)).collect()
}

/// All of it at once, and then nothing.
fn pressed(bytes: &[u8]) -> Vec<Pressed> {
    let mut keys = Keys::default();
    let mut pressed = taken(&mut keys, NOW, bytes);
    pressed.extend(keys.quiet(NOW + Duration::from_millis(50)));
    assert_eq!(keys.wake(), Time::NEVER);
    pressed
}

#[test]
fn every_key_is_one() {
    use Pressed::{Backspace, Char, Enter, Escape, Interrupt, Leave, Other, Quit, Suspend, Tab};
    let cases: [(&[u8], Vec<Pressed>); 16] = [
        (b"a1", vec![Char('a'), Char('1')]),
        ("é字".as_bytes(), vec![Char('é'), Char('字')]),
        (b"\r\n\x1bOM", vec![Enter, Enter, Enter]),
        (b"\x7f\x08", vec![Backspace, Backspace]),
        (b"\x03\x04", vec![Interrupt, Leave]),
        (b"\x1b", vec![Escape]),
        (b"\x1b\x1b", vec![Escape, Escape]),
        (b"\x1b[A\x1bOP\x1b[15~\x1b[1;5C", vec![Pressed::Up, Other, Other, Pressed::WordRight]),
        (b"\x1bx", vec![Other]),
        (b"\x1b[12", vec![Other]),
        (b"\xff\xc3(", vec![Other, Other]),
        (b"\x13", vec![Other]),
        (b"\t", vec![Tab]),
        (b"\x1a\x1c", vec![Suspend, Quit]),
        // Begun, and not gone on with.
        (b"\x1b[1\x03", vec![Interrupt]),
        (b"\xc3\x03\x1b\x03", vec![Interrupt, Interrupt]),
    ];
    for (bytes, expected) in cases {
        assert_eq!(pressed(bytes), expected, "{bytes:?}");
    }
}

/// Where no line is edited, whatever moves a cursor is a key like others.
#[test]
fn without_a_line_only_a_few_keys_are_told_apart() {
    let keys: Vec<Option<Key>> = pressed(b"a\r\x7f\x1b[A\x01\x03\x04\x1b").iter().map(Pressed::key).collect();
    let expected = [
        Key::Char('a'),
        Key::Enter,
        Key::Backspace,
        Key::Other,
        Key::Other,
        Key::Interrupt,
        Key::Interrupt,
        Key::Escape,
    ];
    assert_eq!(keys, expected.map(Some));
    assert_eq!(Pressed::PasteGoesOn.key(), None);
}

#[test]
fn every_byte_of_a_paste_is_told_and_none_is_typing() {
    let came = pressed(b"\x1b[200~11\r\x1b[20\x1b[201\x1b[201~z");
    let (first, last) = (came.first().unwrap(), &came[came.len() - 2..]);
    assert_eq!(first, &Pressed::PasteBegins);
    assert_eq!(last, [Pressed::Pasted("11\r\x1b[20\x1b[201".to_owned()), Pressed::Char('z')]);
    assert_eq!(came.len(), "[1".len() + "11\r\x1b[20\x1b[201\x1b[201~z".len() - 1);
    assert!(came[1..came.len() - 2].iter().all(|pressed| *pressed == Pressed::PasteGoesOn));
}

#[test]
fn a_paste_without_its_end_ends_after_50_ms_of_quiet() {
    let mut keys = Keys::default();
    taken(&mut keys, NOW, b"\x1b[200~yes");
    let later = NOW + Duration::from_millis(40);
    assert_eq!(keys.quiet(later), None);
    assert_eq!(taken(&mut keys, later, b"\r"), [Pressed::PasteGoesOn]);
    assert_eq!(keys.quiet(later + Duration::from_micros(49_999)), None);
    assert_eq!(keys.wake(), later + Duration::from_millis(50));
    assert_eq!(keys.quiet(keys.wake()), Some(Pressed::Pasted("yes\r".to_owned())));
    // Keys are keys again; a mark that comes late is still no key.
    let even_later = later + Duration::from_secs(1);
    assert_eq!(taken(&mut keys, even_later, b"a\x1b[201~"), [Pressed::Char('a'), Pressed::PasteGoesOn]);
}

/// The keyboard is deaf to nothing, least of all to this key.
#[test]
fn ctrl_c_is_itself_inside_a_paste() {
    let came = pressed(b"\x1b[200~a\x03b\x1b[20\x031~");
    assert_eq!(came.iter().filter(|pressed| **pressed == Pressed::Interrupt).count(), 2);
    assert_eq!(came.last(), Some(&Pressed::Pasted("ab".to_owned())));
}

#[test]
fn a_sequence_without_an_end_is_given_up() {
    let bytes = [b"\x1b[".as_slice(), &[b'1'; 200]].concat();
    assert!(pressed(&bytes).contains(&Pressed::Other));
}

#[test]
fn a_paste_that_is_far_too_long_still_ends() {
    let bytes = [b"\x1b[200~".as_slice(), &vec![b'x'; 100_000], b"\x1b[201~k"].concat();
    let came = pressed(&bytes);
    assert_eq!(came.last(), Some(&Pressed::Char('k')));
    assert!(matches!(&came[came.len() - 2], Pressed::Pasted(text) if text.len() < 1 << 17));
}

/// Pieces of what terminals send, whole and broken.
fn piece() -> impl Strategy<Value = Vec<u8>> {
    prop_oneof![
        Just(b"\x1b[200~".to_vec()),
        Just(b"\x1b[201~".to_vec()),
        Just(b"\x03".to_vec()),
        Just(b"\x1b[A".to_vec()),
        Just("é".as_bytes().to_vec()),
        Just(b"yes\r".to_vec()),
        proptest::collection::vec(any::<u8>(), 1..4),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Where the bytes are cut makes no difference as long as nothing is quiet; every Ctrl-C comes out, and each read
    /// inside a paste tells of itself.
    #[test]
    fn bytes_may_be_cut_anywhere(
        pieces in proptest::collection::vec(piece(), 0..12),
        cuts in proptest::collection::vec(1usize..7, 40),
    ) {
        let bytes = pieces.concat();
        let whole = pressed(&bytes);
        let interrupts = bytes.split(|byte| *byte == 3).count() - 1;
        prop_assert_eq!(whole.iter().filter(|pressed| **pressed == Pressed::Interrupt).count(), interrupts);
        let (mut keys, mut came, mut now, mut rest) = (Keys::default(), Vec::new(), NOW, bytes.as_slice());
        for cut in cuts {
            if rest.is_empty() {
                break;
            }
            let (read, later) = rest.split_at(cut.min(rest.len()));
            rest = later;
            // A paste waits for longer than an escape.
            let in_paste = keys.wake() != Time::NEVER && keys.wake() > now + Duration::from_millis(10);
            let before = came.len();
            came.extend(taken(&mut keys, now, read));
            prop_assert!(!in_paste || came.len() > before);
            now = now + Duration::from_millis(10);
            prop_assert_eq!(keys.quiet(now), None);
        }
        came.extend(taken(&mut keys, now, rest));
        came.extend(keys.quiet(now + Duration::from_millis(50)));
        prop_assert_eq!(came, whole);
    }

    /// However long nothing comes, whenever: after 50 ms of it the next key is one.
    #[test]
    fn nothing_deafens_the_keyboard(pieces in proptest::collection::vec(piece(), 0..12)) {
        let mut keys = Keys::default();
        taken(&mut keys, NOW, &pieces.concat());
        let later = NOW + Duration::from_millis(50);
        keys.quiet(later);
        prop_assert_eq!(keys.wake(), Time::NEVER);
        prop_assert_eq!(taken(&mut keys, later, b"k"), [Pressed::Char('k')]);
    }
}
