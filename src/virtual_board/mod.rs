//! The world in which a virtual board lives: radio, receiver, motors, battery, memory and its wire.
//!
//! For rehearsals, demos and tests. Deterministic: the same seed and the same inputs give the same bytes.
//! Time comes from outside; nothing here knows recipes, operators, ports or anything else above the wire.

mod arming;
mod attitude;
mod battery;
mod board;
mod commands;
mod conduct;
mod config;
mod console;
mod controllers;
mod deeds;
mod eye;
mod false_speeds;
mod finch;
mod fitted;
mod frame;
mod framed;
mod kind;
mod lines;
mod make;
mod memory;
mod motor;
mod motor_test;
mod noise;
mod numbers;
mod pace;
mod packets;
mod parameters;
mod protocol_variants;
mod radio;
mod receiver;
mod rng;
mod settings;
mod spoken;
mod spread;
mod stabiliser;
mod streams;
mod telemetry;
mod truth;
mod tuning;
mod under_way;
mod wire;
mod wiring;
mod world;

pub use conduct::{Conduct, Deed, GivenId, RunsOn};
pub use config::{
    ArmBy, Encoding, Mix, MotorConfig, Mounted, OnLoss, PackConfig, RadioConfig, ReceiverConfig, StabiliserConfig,
    StickConfig, SwitchConfig, WorldConfig,
};
pub use console::{ConsoleConfig, Dialect, Exchange, Form, IdForm, Part, Slot, Verb};
pub use false_speeds::FalseSpeeds;
pub use frame::{Frame, Place};
pub use kind::BoardKind;
pub use lines::{HELP, WorldLineError};
pub use make::{Amount, BandNames, BandOf, Flag, Function, Make, Roles};
pub use motor::no_load_rpm;
pub use noise::ByteFaults;
pub use pace::WireConfig;
pub use packets::{Came, PacketAnswer, PacketFault, PacketQuestion, PacketSpeech, Signal, SignalReading, Speech};
pub use protocol_variants::{Intervals, ProtocolConfig, Secret, Versions};
pub use radio::CHANNELS;
pub use settings::{Definition, SettingType};
pub use world::World;
