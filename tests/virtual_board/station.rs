//! A plain MAVLink station on the virtual wire: sends messages of the standard, keeps what it hears.
//!
//! Uses the `mavlink` crate's codec alone, nothing of the project's own link.

use mavlink::dialects::common::{
    COMMAND_LONG_DATA, MavCmd, MavMessage, MavParamType, MavResult, PARAM_REQUEST_LIST_DATA, PARAM_SET_DATA,
    PARAM_VALUE_DATA,
};
use mavlink::{MavHeader, MavlinkReader, write_v2_msg};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{World, WorldConfig};
use std::collections::VecDeque;
use std::io::{self, Read};
use std::time::Duration;

#[derive(Default)]
pub struct Queue(pub VecDeque<u8>);

impl Read for Queue {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.0.is_empty() { Err(io::ErrorKind::WouldBlock.into()) } else { self.0.read(into) }
    }
}

/// A station with its world.
pub struct Station {
    pub world: World,
    pub now: Time,
    pub heard: Vec<(Time, MavMessage)>,
    reader: MavlinkReader<Queue>,
    sequence: u8,
}

/// The bytes of a message from a ground station.
pub fn frame(sequence: u8, message: &MavMessage) -> Vec<u8> {
    let mut bytes = Vec::new();
    let header = MavHeader { system_id: 255, component_id: 25, sequence };
    write_v2_msg(&mut bytes, header, message).unwrap();
    bytes
}

/// A command to the board.
pub fn command(command: MavCmd, parameters: [f32; 7]) -> MavMessage {
    let [param1, param2, param3, param4, param5, param6, param7] = parameters;
    MavMessage::COMMAND_LONG(COMMAND_LONG_DATA {
        param1,
        param2,
        param3,
        param4,
        param5,
        param6,
        param7,
        command,
        target_system: 1,
        target_component: 1,
        confirmation: 0,
    })
}

impl Station {
    pub fn new(config: WorldConfig) -> Self {
        let mut station = Self {
            world: World::new(config),
            now: Time(0),
            heard: Vec::new(),
            reader: MavlinkReader::new(Queue::default()),
            sequence: 0,
        };
        station.listen();
        station
    }

    /// Lets time pass, hearing every message at its moment.
    pub fn wait(&mut self, milliseconds: u64) {
        let end = self.now + Duration::from_millis(milliseconds);
        while self.now < end {
            self.now = self.world.wake().min(end);
            self.world.advance(self.now);
            self.listen();
        }
    }

    pub fn send(&mut self, message: &MavMessage) {
        let bytes = frame(self.sequence, message);
        self.sequence = self.sequence.wrapping_add(1);
        self.world.receive(self.now, &bytes);
        self.listen();
    }

    /// Hears what the board has sent up to now.
    pub fn listen(&mut self) {
        let bytes = self.world.take_output();
        self.reader.get_mut().0.extend(bytes);
        while let Ok((header, message)) = self.reader.read_any_message::<MavMessage>() {
            assert_eq!((header.system_id, header.component_id), (1, 1));
            self.heard.push((self.now, message));
        }
    }

    pub fn line(&mut self, line: &str) -> String {
        let answer = self.world.line(self.now, line).unwrap_or_else(|error| panic!("{line}: {error}"));
        self.listen();
        answer.join("\n")
    }

    /// Sends a command and says how it was answered.
    pub fn ask(&mut self, what: MavCmd, parameters: &[f32]) -> MavResult {
        let mut all = [0.0; 7];
        all[..parameters.len()].copy_from_slice(parameters);
        self.heard.clear();
        self.send(&command(what, all));
        let ack = self.heard.iter().find_map(|(_, message)| match message {
            MavMessage::COMMAND_ACK(ack) if ack.command == what => Some(ack.clone()),
            _ => None,
        });
        let ack = ack.expect("a command is answered at once");
        assert_eq!((ack.target_system, ack.target_component), (255, 25));
        ack.result
    }

    /// All parameters, by list.
    pub fn list(&mut self) -> Vec<PARAM_VALUE_DATA> {
        self.heard.clear();
        self.send(&MavMessage::PARAM_REQUEST_LIST(PARAM_REQUEST_LIST_DATA { target_system: 1, target_component: 1 }));
        self.wait(1000);
        self.values()
    }

    pub fn values(&self) -> Vec<PARAM_VALUE_DATA> {
        self.heard
            .iter()
            .filter_map(|(_, message)| match message {
                MavMessage::PARAM_VALUE(value) => Some(value.clone()),
                _ => None,
            })
            .collect()
    }

    /// Sets a parameter; the value that the board answers with.
    pub fn set(&mut self, name: &str, value: f32, param_type: MavParamType) -> PARAM_VALUE_DATA {
        self.heard.clear();
        self.send(&MavMessage::PARAM_SET(PARAM_SET_DATA {
            param_value: value,
            target_system: 1,
            target_component: 1,
            param_id: name.into(),
            param_type,
        }));
        self.values().into_iter().next_back().expect("a set is answered")
    }

    /// The texts heard since the last clearing.
    pub fn texts(&self) -> Vec<String> {
        self.heard
            .iter()
            .filter_map(|(_, message)| match message {
                MavMessage::STATUSTEXT(text) => Some(text.text.to_str().unwrap().to_owned()),
                _ => None,
            })
            .collect()
    }

    /// A value of the truth, by path.
    pub fn truth(&self, path: &str) -> serde_json::Value {
        self.world.truth().pointer(path).unwrap_or_else(|| panic!("no {path} in the truth")).clone()
    }

    /// Binds arm to switch B in its last position, and motors to spin at idle.
    pub fn bind_arm(&mut self) {
        for line in ["set ARM_CHANNEL 6", "set ARM_FROM 1800", "set ARM_TO 2146", "set SPIN_AT_ZERO 1"] {
            self.line(line);
        }
    }
}
