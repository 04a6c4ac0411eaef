//! What a finished packet does, told from its bytes by the sheet, as the interlock's gate judges it.
//!
//! Promises: a packet that the sheet knows under no need, or that changes more than one setting, is nothing that is known.
//! Must not be here: whether it may leave (see `interlock::gate`).

use super::super::console::Capability;
use super::super::signals::Outgoing;
use super::super::value::{Number, SettingName};
use super::decode::AnswerPayload;
use super::framing::Packet;
use super::sheet::{Exchange, PacketSheet, SettingsPacket, Shape};
use std::collections::BTreeMap;
use std::time::Duration;

/// The bits that differ between two payloads of one length.
pub(super) fn differing(one: &[u8], other: &[u8]) -> Vec<u8> {
    one.iter().zip(other).map(|(one, other)| one ^ other).collect()
}

/// What holds the bits that are set, but for a setting that may differ: the first such setting, else a byte of no field.
pub(super) fn stranger(
    sheet: &PacketSheet,
    packet: &SettingsPacket,
    mut bits: Vec<u8>,
    but: &SettingName,
) -> Option<String> {
    let order = sheet.framing.order;
    let mut first = None;
    for (name, field) in &packet.fields {
        for (bit, mask) in bits.iter_mut().zip(field.mask(packet.answer.length, order)) {
            if *bit & mask != 0 && name != but && first.is_none() {
                first = Some(name.to_string());
            }
            *bit &= !mask;
        }
    }
    let unnamed = bits.iter().position(|bits| *bits != 0);
    first.or_else(|| {
        unnamed.map(|byte| format!("byte {byte} of [packets.settings.{}], which no field names", packet.key))
    })
}

/// What a packet does. `base`: what the packet of settings at a place held as it was read for the write that is under way,
/// and which setting is meant.
pub(super) fn outgoing(sheet: &PacketSheet, base: Option<&(usize, Vec<u8>, SettingName)>, packet: &Packet) -> Outgoing {
    for (need, exchange) in &sheet.exchanges {
        if let Some(does) = asked(sheet, *need, exchange, packet) {
            return does;
        }
    }
    if sheet.settings.iter().any(|known| known.ask.id == packet.id && known.ask.payload == packet.payload) {
        return Outgoing::Ask;
    }
    let write =
        |known: &SettingsPacket| known.write == Some(packet.id) && packet.payload.starts_with(&known.answer.begins);
    let Some((place, known)) = sheet.settings.iter().enumerate().find(|(_, known)| write(known)) else {
        return Outgoing::Unknown;
    };
    match base {
        Some((of, held, name)) if *of == place && held.len() == packet.payload.len() => {
            written(sheet, known, held, name, &packet.payload)
                .map_or(Outgoing::Unknown, |(name, value)| Outgoing::Write { name, value: Some(value) })
        }
        _ => Outgoing::Unknown,
    }
}

fn asked(sheet: &PacketSheet, need: Capability, exchange: &Exchange, packet: &Packet) -> Option<Outgoing> {
    let ask = exchange.ask.as_ref().filter(|ask| ask.id == packet.id)?;
    if need == Capability::RunMotor {
        return Some(run(sheet, exchange, &packet.payload).unwrap_or(Outgoing::Unknown));
    }
    if ask.payload != packet.payload {
        return None;
    }
    Some(match need {
        Capability::Identity => Outgoing::Identify,
        // Such a board may say nothing by itself: whether anybody is there is seen by asking whether it is armed.
        Capability::Armed => Outgoing::Presence,
        Capability::Store => Outgoing::Store,
        Capability::Restart => Outgoing::Restart,
        Capability::Stop => Outgoing::Disarm { force: false },
        Capability::Channels
        | Capability::Outputs
        | Capability::Attitude
        | Capability::Power
        | Capability::Speeds
        | Capability::List
        | Capability::Read => Outgoing::Ask,
        Capability::Write | Capability::RunMotor => Outgoing::Unknown,
    })
}

/// A motor run, by the fields of its question.
fn run(sheet: &PacketSheet, exchange: &Exchange, payload: &[u8]) -> Option<Outgoing> {
    let shape = Shape {
        id: 0,
        begins: Vec::new(),
        length: payload.len(),
        longer: false,
        fields: BTreeMap::clone(&exchange.put),
    };
    let said = AnswerPayload { shape: &shape, order: sheet.framing.order, payload };
    if exchange.ask.as_ref().is_none_or(|ask| ask.payload.len() != payload.len()) {
        return None;
    }
    Some(Outgoing::Motor {
        motor: u8::try_from(said.whole("motor")?).ok()?,
        pulse: u16::try_from(said.whole("pulse")?).ok()?,
        // In the smallest unit of its family.
        lease: Duration::from_micros(u64::try_from(said.whole("ms")?).ok()?),
    })
}

/// The one setting that a payload changes of what was held; where it changes none, the one that is meant.
fn written(
    sheet: &PacketSheet,
    packet: &SettingsPacket,
    held: &[u8],
    meant: &SettingName,
    payload: &[u8],
) -> Option<(SettingName, Number)> {
    let order = sheet.framing.order;
    let differs = |(_, field): &&(SettingName, super::field::Field)| {
        field.number(held, order, 0) != field.number(payload, order, 0)
    };
    let (name, field) =
        packet.fields.iter().find(differs).or_else(|| packet.fields.iter().find(|(name, _)| name == meant))?;
    if stranger(sheet, packet, differing(held, payload), name).is_some() {
        return None;
    }
    Some((name.clone(), field.number(payload, order, 0)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::shipped;

    /// Idle stands in bytes 0 and 1 of packet 0x40 of the Finch P, spin in byte 2.
    #[test]
    fn a_packet_is_what_it_changes_and_nothing_that_is_unknown() {
        let sheet = shipped::sheet("finch-p").unwrap().unwrap();
        let packets = sheet.packets().unwrap();
        let name = |name: &str| SettingName::new(name).unwrap();
        let held = vec![0x4C, 4, 0, 3, 0xD0, 7, 0, 2, 1, 2, 3, 4];
        let base = (0, held.clone(), name("IDLE_US"));
        let does =
            |id, payload: &[u8]| outgoing(packets, Some(&base), &Packet { id, sequence: 0, payload: payload.to_vec() });
        let changed = |at: &[(usize, u8)]| {
            let mut payload = held.clone();
            for (at, byte) in at {
                payload[*at] = *byte;
            }
            does(0x40, &payload)
        };
        let write = |setting: &str, value| Outgoing::Write { name: name(setting), value: Some(Number::Whole(value)) };
        assert_eq!(changed(&[(0, 0x51)]), write("IDLE_US", 1105));
        // What is meant counts only where nothing tells what it is.
        assert_eq!(changed(&[(2, 1)]), write("SPIN_AT_ZERO", 1));
        assert_eq!(changed(&[]), write("IDLE_US", 1100));
        for (id, payload) in [(0x40, &held[..11]), (0x41, &held), (0x18, &held), (0x18, &[]), (0x02, &[1]), (0x77, &[])]
        {
            assert_eq!(does(id, payload), Outgoing::Unknown, "{id:#x} {payload:?}");
        }
        assert_eq!(changed(&[(0, 0x51), (2, 1)]), Outgoing::Unknown, "two settings at once");
        assert_eq!(does(0x02, &[]), Outgoing::Store);
        assert_eq!(does(0x03, &[]), Outgoing::Restart);
        assert_eq!(does(0x10, &[]), Outgoing::Presence);
        assert_eq!(does(0x19, &[]), Outgoing::Disarm { force: false });
        assert_eq!(
            does(0x18, &[3, 0x7E, 4, 0xE8, 3]),
            Outgoing::Motor { motor: 4, pulse: 1150, lease: Duration::from_secs(1) }
        );
    }
}
