//! The bytes between a program and its guardian: one tag, a length, and what belongs to it.
//!
//! Promises: what is garbled or too long is an error, never half taken; answers have one length. Must not be here: what
//! an order leads to.

use super::machine::GuardianInput;
use crate::measure::time::Time;
use crate::seam::guardian::{GuardianEvent, StopFrames};
use std::net::SocketAddr;
use std::time::Duration;

/// Longest order: far more than the longest firing of signed stops takes.
const LONGEST: usize = 1 << 20;
/// Tag and length.
const HEAD: usize = 5;
/// Length of an answer: tag and number.
pub(super) const ANSWER: usize = 5;
/// The first answer: it has started, and holds the wire.
pub(super) const READY: [u8; ANSWER] = *b"ready";

/// An order as it travels.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Order {
    /// For the machine.
    Heard(GuardianInput),
    /// Whom datagrams go to.
    Peer(SocketAddr),
}

/// What is no order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Garbled;

/// The bytes of an order; `None` for what is never sent.
pub(super) fn bytes(order: &Order) -> Option<Vec<u8>> {
    let (tag, body) = match order {
        Order::Heard(GuardianInput::Prepare(frames)) => {
            let mut body = u32::try_from(frames.lasts.as_millis()).ok()?.to_le_bytes().to_vec();
            for stop in &frames.stops {
                body.extend(u16::try_from(stop.len()).ok()?.to_le_bytes());
                body.extend(stop);
            }
            (b'P', body)
        }
        Order::Heard(GuardianInput::Renew(number, at)) => {
            (b'R', number.to_le_bytes().into_iter().chain(at.0.to_le_bytes()).collect())
        }
        Order::Heard(GuardianInput::Release) => (b'L', Vec::new()),
        Order::Heard(GuardianInput::End | GuardianInput::HungUp) => return None,
        Order::Peer(peer) => (b'D', peer.to_string().into_bytes()),
    };
    let length = u32::try_from(body.len()).ok()?.to_le_bytes();
    Some([tag].into_iter().chain(length).chain(body).collect())
}

/// Takes the first order out of what has come, if it is whole.
pub(super) fn take(came: &mut Vec<u8>) -> Result<Option<Order>, Garbled> {
    let Some((head, rest)) = came.split_first_chunk::<HEAD>() else { return Ok(None) };
    let length = usize::try_from(u32::from_le_bytes([head[1], head[2], head[3], head[4]])).map_err(|_| Garbled)?;
    if length > LONGEST {
        return Err(Garbled);
    }
    let Some(body) = rest.get(..length) else { return Ok(None) };
    let order = order(head[0], body).ok_or(Garbled)?;
    came.drain(..HEAD + length);
    Ok(Some(order))
}

fn order(tag: u8, body: &[u8]) -> Option<Order> {
    match tag {
        b'P' => {
            let (lasts, mut rest) = body.split_first_chunk()?;
            let lasts = Duration::from_millis(u32::from_le_bytes(*lasts).into());
            let mut stops = Vec::new();
            while let Some((length, after)) = rest.split_first_chunk() {
                let length = u16::from_le_bytes(*length).into();
                stops.push(after.get(..length)?.to_vec());
                rest = &after[length..];
            }
            rest.is_empty().then_some(Order::Heard(GuardianInput::Prepare(StopFrames { stops, lasts })))
        }
        b'R' => {
            let (number, at) = body.split_first_chunk()?;
            let at = u64::from_le_bytes(at.try_into().ok()?);
            Some(Order::Heard(GuardianInput::Renew(u32::from_le_bytes(*number), Time(at))))
        }
        b'L' => body.is_empty().then_some(Order::Heard(GuardianInput::Release)),
        b'D' => Some(Order::Peer(std::str::from_utf8(body).ok()?.parse().ok()?)),
        _ => None,
    }
}

/// The bytes of an answer.
pub(super) fn answer(event: GuardianEvent) -> [u8; ANSWER] {
    let (tag, number) = match event {
        GuardianEvent::Held(number) => (b'h', number),
        GuardianEvent::Released => (b'l', 0),
        GuardianEvent::Fired => (b'f', 0),
        GuardianEvent::TooLate => (b't', 0),
        GuardianEvent::Gone => (b'g', 0),
    };
    let number: [u8; 4] = u32::to_le_bytes(number);
    [tag, number[0], number[1], number[2], number[3]]
}

/// What an answer says.
pub(super) fn answered(bytes: [u8; ANSWER]) -> Option<GuardianEvent> {
    let [tag, number @ ..] = bytes;
    match tag {
        b'h' => Some(GuardianEvent::Held(u32::from_le_bytes(number))),
        b'l' => Some(GuardianEvent::Released),
        b'f' => Some(GuardianEvent::Fired),
        b't' => Some(GuardianEvent::TooLate),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::{Garbled, GuardianInput, Order, answer, answered, bytes, take};
    use crate::measure::time::Time;
    use crate::seam::guardian::{GuardianEvent, StopFrames};
    use std::time::Duration;

    #[test]
    fn orders_and_answers_come_over_as_they_were_however_they_are_cut() {
        let frames = StopFrames { stops: vec![vec![1, 2, 3], vec![0xFD; 300]], lasts: Duration::from_secs(3) };
        let all = [
            Order::Heard(GuardianInput::Prepare(frames)),
            Order::Peer("127.0.0.1:14550".parse().unwrap()),
            Order::Heard(GuardianInput::Renew(7, Time(1_234_567_890_123))),
            Order::Heard(GuardianInput::Release),
        ];
        let sent: Vec<u8> = all.iter().filter_map(bytes).flatten().collect();
        for piece in [1, 3, 7, sent.len()] {
            let (mut came, mut heard) = (Vec::new(), Vec::new());
            for piece in sent.chunks(piece) {
                came.extend(piece);
                while let Some(order) = take(&mut came).unwrap() {
                    heard.push(order);
                }
            }
            assert_eq!(heard, all);
        }
        for event in [GuardianEvent::Held(9), GuardianEvent::Released, GuardianEvent::Fired, GuardianEvent::TooLate] {
            assert_eq!(answered(answer(event)), Some(event));
        }
    }

    #[test]
    fn what_is_no_order_is_garbled() {
        for bytes in
            [&b"X\0\0\0\0"[..], b"R\x01\0\0\0\0", b"P\x06\0\0\0\0\0\0\0\x05\0", b"L\xFF\xFF\xFF\xFF", b"D\x01\0\0\0x"]
        {
            assert_eq!(take(&mut bytes.to_vec()), Err(Garbled), "{bytes:?}");
        }
    }
}
