//! Lines of text from their chunks.

use super::kit::{InteractiveSession, raw_frame};
use quadjig::board::mavlink::text::WAIT;
use quadjig::board::signals::{Link, LinkEvent};
use quadjig::measure::time::Time;

/// `STATUSTEXT`: severity, 50 bytes, id, chunk (CM).
fn chunk(desk: &mut InteractiveSession, text: &[u8], id: u16, place: u8) {
    let mut payload = vec![4];
    payload.extend_from_slice(text);
    payload.resize(51, 0);
    payload.extend(id.to_le_bytes());
    payload.push(place);
    desk.bytes(&raw_frame((1, 1), 1, 253, &payload, 83));
}

fn lines(desk: &InteractiveSession) -> Vec<&str> {
    let line = |heard| if let &LinkEvent::Text { severity: 4, ref text } = heard { Some(text.as_str()) } else { None };
    desk.heard.iter().filter_map(line).collect()
}

const A: [u8; 50] = [b'a'; 50];
const B: [u8; 50] = [b'b'; 50];

#[test]
fn a_short_line_comes_at_once() {
    let mut desk = InteractiveSession::bound();
    chunk(&mut desk, b"props off?", 0, 0);
    // 50 bytes have no closing NUL.
    chunk(&mut desk, &A, 0, 0);
    assert_eq!(lines(&desk), ["props off?", "a".repeat(50).as_str()]);
}

#[test]
fn chunks_are_put_together_in_any_order() {
    let whole = "a".repeat(50) + &"b".repeat(50) + "end";
    for order in [[0, 1, 2], [2, 1, 0], [1, 2, 0]] {
        let mut desk = InteractiveSession::bound();
        for place in order {
            let text: &[u8] = [&A[..], &B[..], b"end"][usize::from(place)];
            chunk(&mut desk, text, 7, place);
        }
        assert_eq!(lines(&desk), [whole.as_str()]);
        assert_eq!(desk.link.wake(), Time::NEVER);
    }
}

#[test]
fn letters_may_be_split_between_chunks() {
    let mut desk = InteractiveSession::bound();
    let mut first = A;
    first[49] = 0xC2;
    chunk(&mut desk, &first, 7, 0);
    chunk(&mut desk, b"\xB5s", 7, 1);
    assert_eq!(lines(&desk), [format!("{}µs", "a".repeat(49)).as_str()]);
}

#[test]
fn missing_chunks_are_shown_after_a_while() {
    let mut desk = InteractiveSession::bound();
    chunk(&mut desk, &A, 7, 0);
    chunk(&mut desk, b"end", 7, 2);
    assert!(lines(&desk).is_empty());
    desk.wait(u64::try_from(WAIT.as_millis()).unwrap() + 1);
    assert_eq!(lines(&desk), [format!("{}…end", "a".repeat(50)).as_str()]);
    // Another line ends the one before.
    desk.heard.clear();
    chunk(&mut desk, &A, 8, 0);
    chunk(&mut desk, b"next", 9, 0);
    assert_eq!(lines(&desk), [format!("{}…", "a".repeat(50)).as_str(), "next"]);
}

#[test]
fn a_line_is_bounded() {
    let mut desk = InteractiveSession::bound();
    for place in 0..=255 {
        chunk(&mut desk, &A, 7, place);
    }
    desk.wait(1_001);
    assert_eq!(lines(&desk), [format!("{}…", "a".repeat(16 * 50)).as_str()]);
}
