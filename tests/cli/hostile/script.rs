//! A small scripted board at the end of a pseudo-terminal: a character says what it does.

use super::port::{self, Port};
use mavlink::MavHeader;
use mavlink::dialects::common::{
    AUTOPILOT_VERSION_DATA, COMMAND_ACK_DATA, COMMAND_LONG_DATA, HEARTBEAT_DATA, MavAutopilot, MavCmd, MavMessage,
    MavModeFlag, MavParamType, MavResult, MavState, MavType, PARAM_VALUE_DATA,
};
use mavlink::types::CharArray;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// What a scripted board does.
pub trait Character: Send + 'static {
    /// Bytes that it says unasked, this long after its start; asked again and again.
    fn unasked(&mut self, at: Duration) -> Vec<u8>;
    /// What it answers.
    fn answer(&mut self, message: &MavMessage) -> Vec<MavMessage>;
}

/// A running board; gone when dropped.
pub struct Scripted {
    /// What `--port` is to be.
    pub port: String,
    sent: Arc<Mutex<Vec<u8>>>,
    over: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Scripted {
    pub fn new(mut character: impl Character) -> Self {
        let mut port = Port::new();
        let path = port.path.display().to_string();
        let (sent, over) = (Arc::<Mutex<Vec<u8>>>::default(), Arc::new(AtomicBool::new(false)));
        let (kept, ends) = (sent.clone(), over.clone());
        let thread = std::thread::spawn(move || {
            let (began, mut buffer, mut sequence) = (Instant::now(), Vec::new(), 0_u8);
            while !ends.load(Ordering::SeqCst) {
                let came = port.work();
                kept.lock().unwrap().extend(&came);
                buffer.extend(&came);
                for frame in port::take(&mut buffer) {
                    for answer in character.answer(&port::message(&frame)) {
                        port.say(&port::frame(sender(&mut sequence), &answer));
                    }
                }
                let unasked = if port.room() { character.unasked(began.elapsed()) } else { Vec::new() };
                if unasked.is_empty() && came.is_empty() {
                    std::thread::sleep(Duration::from_millis(2));
                }
                port.say(&unasked);
            }
        });
        Self { port: path, sent, over, thread: Some(thread) }
    }

    /// Every byte that the program sent.
    pub fn sent(&self) -> Vec<u8> {
        self.sent.lock().unwrap().clone()
    }
}

impl Drop for Scripted {
    fn drop(&mut self) {
        self.over.store(true, Ordering::SeqCst);
        if let Some(thread) = self.thread.take() {
            let ended = thread.join();
            assert!(std::thread::panicking() || ended.is_ok(), "the board of the test itself failed");
        }
    }
}

fn sender(sequence: &mut u8) -> MavHeader {
    *sequence = sequence.wrapping_add(1);
    MavHeader { system_id: 1, component_id: 1, sequence: *sequence }
}

/// A disarmed craft's sign of life.
pub fn alive() -> MavMessage {
    MavMessage::HEARTBEAT(HEARTBEAT_DATA {
        custom_mode: 0,
        mavtype: MavType::MAV_TYPE_QUADROTOR,
        autopilot: MavAutopilot::MAV_AUTOPILOT_GENERIC,
        base_mode: MavModeFlag::empty(),
        system_status: MavState::MAV_STATE_STANDBY,
        mavlink_version: 3,
    })
}

/// Signs of life ten times a second, for whoever has nothing else to say unasked.
#[derive(Default)]
pub struct Signs(u32);

impl Signs {
    pub fn due(&mut self, at: Duration) -> Vec<u8> {
        if at < Duration::from_millis(100) * self.0 {
            return Vec::new();
        }
        self.0 += 1;
        let sequence = u8::try_from(self.0 % 256).unwrap();
        port::frame(MavHeader { system_id: 1, component_id: 1, sequence }, &alive())
    }
}

pub fn accepted(command: MavCmd) -> MavMessage {
    MavMessage::COMMAND_ACK(COMMAND_ACK_DATA { command, result: MavResult::MAV_RESULT_ACCEPTED, ..Default::default() })
}

pub fn identity(uid: u64) -> MavMessage {
    let capabilities = mavlink::dialects::common::MavProtocolCapability::empty();
    MavMessage::AUTOPILOT_VERSION(AUTOPILOT_VERSION_DATA { capabilities, uid, ..Default::default() })
}

/// A real setting at its place.
pub fn setting(name: [u8; 16], value: f32, index: u16, count: u16) -> MavMessage {
    MavMessage::PARAM_VALUE(PARAM_VALUE_DATA {
        param_value: value,
        param_count: count,
        param_index: index,
        param_id: CharArray::new(name),
        param_type: MavParamType::MAV_PARAM_TYPE_REAL32,
    })
}

/// A name in the 16 bytes of the wire.
pub fn name(text: &[u8]) -> [u8; 16] {
    std::array::from_fn(|i| text.get(i).copied().unwrap_or(0))
}

/// What an honest board answers to commands that only ask.
pub fn honest(command: &COMMAND_LONG_DATA) -> Vec<MavMessage> {
    // `AUTOPILOT_VERSION` is message 148 (standard.xml).
    let asks = command.command == MavCmd::MAV_CMD_REQUEST_MESSAGE && command.param1.to_string() == "148";
    let mut answers = vec![accepted(command.command)];
    answers.extend(asks.then(|| identity(7)));
    answers
}
