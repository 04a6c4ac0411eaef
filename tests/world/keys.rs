//! Bytes of a terminal become keys; what is pasted never does.

use quadjig::seam::Key;
use quadjig::world::keys::{Keys, Pressed};

fn pressed(bytes: &[u8]) -> Vec<Pressed> {
    let mut keys = Keys::default();
    let mut pressed: Vec<Pressed> = bytes.iter().filter_map(|&byte| keys.take(byte)).collect();
    pressed.extend(keys.pause());
    assert!(!keys.begun());
    pressed
}

fn key(key: Key) -> Pressed {
    Pressed::Key(key)
}

#[test]
fn every_key_is_one() {
    let other = key(Key::Other);
    let cases: [(&[u8], Vec<Pressed>); 14] = [
        (b"a1", vec![key(Key::Char('a')), key(Key::Char('1'))]),
        ("é字".as_bytes(), vec![key(Key::Char('é')), key(Key::Char('字'))]),
        (b"\r\n", vec![key(Key::Enter), key(Key::Enter)]),
        (b"\x7f\x08", vec![key(Key::Backspace), key(Key::Backspace)]),
        (b"\x03\x04", vec![key(Key::Interrupt), key(Key::Interrupt)]),
        (b"\x1b", vec![key(Key::Escape)]),
        (b"\x1b\x1b", vec![key(Key::Escape), key(Key::Escape)]),
        (b"\x1b[A\x1bOP\x1b[15~\x1b[1;5C", vec![other; 4]),
        (b"\x1bx", vec![other]),
        (b"\x1b[12", vec![other]),
        (b"\xff\xc3(", vec![other, other]),
        (b"\x01\x13", vec![other, other]),
        (b"\t", vec![Pressed::Tab]),
        (b"\x1a\x1c", vec![Pressed::Suspend, Pressed::Quit]),
    ];
    for (bytes, expected) in cases {
        assert_eq!(pressed(bytes), expected, "{bytes:?}");
    }
}

#[test]
fn a_marked_paste_is_one_event_without_its_text() {
    let bytes = b"\x1b[200~1120\r\x1b[20\x1b[201\x1b[201~z";
    assert_eq!(pressed(bytes), [Pressed::Paste, key(Key::Char('z'))]);
    // Cut off in the middle it stays a paste, however long nothing comes.
    let mut keys = Keys::default();
    let first: Vec<Pressed> = b"\x1b[200~11".iter().filter_map(|&byte| keys.take(byte)).collect();
    assert_eq!(first, [Pressed::Paste]);
    assert_eq!(keys.pause(), None);
    assert_eq!(b"20\r".iter().filter_map(|&byte| keys.take(byte)).count(), 0);
}

#[test]
fn a_sequence_without_an_end_is_given_up() {
    let bytes = [b"\x1b[".as_slice(), &[b'1'; 200]].concat();
    assert!(pressed(&bytes).contains(&key(Key::Other)));
}
