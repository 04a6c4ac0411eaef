//! A guard that does not hold keeps every motor still; the run says which, and ends with 4.

use super::stand::{Hands, IDLE, Log, Played, Plot, SIGNAL, START, Stand, Then};
use mavlink::dialects::common::{COMMAND_LONG_DATA, HEARTBEAT_DATA, MavCmd, MavMessage, MavModeFlag, MavType};
use mavlink::{MavHeader, write_v2_msg};
use quadjig::board::radio_card::{RadioCard, SwitchEntry};
use quadjig::board::signals::LinkEvent;
use quadjig::interlock::{Interlock, guards};
use quadjig::language::recipe::Switch;
use quadjig::language::units::Pulse;
use quadjig::seam::Event;
use quadjig::seam::ui::{About, Gesture};
use quadjig::virtual_board::{OnLoss, WorldConfig};

fn craft(change: impl FnOnce(&mut WorldConfig)) -> WorldConfig {
    let mut config = WorldConfig::default();
    change(&mut config);
    config
}

#[track_caller]
fn refuses(played: &Played, code: u8, words: &str) {
    played.log.nothing_turned();
    assert_eq!(played.code(), code, "{}", played.log.tail());
    let said = played.fault().to_string();
    assert!(said.contains(words), "{said}");
}

/// The moment at which a motor question stands.
fn asked<'a>(then: Then) -> Plot<'a> {
    Plot::when(|_, log| !log.start_questions().is_empty(), 100, vec![then])
}

#[test]
fn a_craft_that_is_never_put_level() {
    let config = craft(|config| config.attitude = [4.0, -0.2, 0.0]);
    let mut stand = Stand::on(IDLE, config.clone());
    stand.hands =
        Hands::willing(&config).who_follows(|gesture| matches!(gesture, Gesture::Level { .. }).then(Vec::new));
    let played = stand.play();
    refuses(&played, 4, "level");
    assert!(played.log.says("Raise the right side"), "{}", played.log.tail());
}

#[test]
fn a_craft_tilted_after_the_answer_is_waited_for_disarmed() {
    let mut stand = Stand::new(IDLE).plot(asked(Then::Line("tilt 6 0")));
    stand.hands =
        Hands::willing(&WorldConfig::default()).who_follows(|g| matches!(g, Gesture::Level { .. }).then(Vec::new));
    refuses(&stand.play(), 4, "level");
}

#[test]
fn a_battery_too_low() {
    const LOW: &str = concat!(
        "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n",
        "require props off\nrequire throttle low\nchannels roll, pitch, throttle, yaw\n",
        "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n",
        "bind arm to switch B position 2\nat zero throttle spin\nidle at 1150\n",
        "battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell\nkeep\n",
        "require battery in\nrequire battery at least 3.7 V per cell\ntest idle in 2 starts\n",
    );
    let played = Stand::on(LOW, craft(|config| config.pack.volts = 7.2)).play();
    refuses(&played, 4, "V per cell");
    let full = Stand::new(LOW).play();
    assert_eq!(full.result, Some(Ok(())), "{}", full.log.tail());
}

#[test]
fn a_radio_that_is_off() {
    for recipe in [START, SIGNAL] {
        refuses(&Stand::new(recipe).plot(asked(Then::Line("radio off"))).play(), 4, "");
    }
    // Off from the beginning: not even the battery is asked in.
    let played = Stand::on(START, craft(|config| config.radio.on = false)).play();
    assert_eq!(played.code(), 4, "{}", played.log.tail());
    assert!(played.board.pack_volts() < 1.0);
}

#[test]
fn a_radio_that_is_off_behind_a_receiver_that_holds_moves_no_stick() {
    let config = craft(|config| {
        config.radio.on = true;
        config.receiver.on_loss = OnLoss::Hold;
    });
    let played = Stand::on(START, config)
        .plot(Plot::when(|board, _| board.now().0 > 1_000_000, 0, vec![Then::Line("radio off")]))
        .play();
    assert_eq!(played.code(), 4, "{}", played.log.tail());
    assert!(played.board.pack_volts() < 1.0, "the battery went in");
    played.log.nothing_turned();
}

#[test]
fn a_raised_throttle() {
    for recipe in [START, SIGNAL] {
        refuses(&Stand::new(recipe).plot(asked(Then::Line("stick throttle -80%"))).play(), 4, "throttle");
    }
}

fn frame(system: u8, message: &MavMessage) -> Event {
    let mut bytes = Vec::new();
    let header = MavHeader { system_id: system.into(), component_id: 1, sequence: 0 };
    write_v2_msg(&mut bytes, header, message).unwrap();
    Event::Bytes(bytes)
}

fn arm_by(system: u8) -> Event {
    let command = COMMAND_LONG_DATA {
        param1: 1.0,
        command: MavCmd::MAV_CMD_COMPONENT_ARM_DISARM,
        target_system: 1,
        target_component: 1,
        ..COMMAND_LONG_DATA::default()
    };
    frame(system, &MavMessage::COMMAND_LONG(command))
}

fn vehicle(system: u8) -> Event {
    let alive = HEARTBEAT_DATA {
        mavtype: MavType::MAV_TYPE_QUADROTOR,
        base_mode: MavModeFlag::empty(),
        ..HEARTBEAT_DATA::default()
    };
    frame(system, &MavMessage::HEARTBEAT(alive))
}

#[test]
fn another_station_that_gives_commands() {
    for recipe in [START, SIGNAL] {
        let played = Stand::new(recipe).plot(asked(Then::Event(arm_by(254)))).play();
        refuses(&played, 4, "Another station (system 254");
    }
}

#[test]
fn another_vehicle_on_the_wire() {
    let played = Stand::new(START).plot(asked(Then::Event(vehicle(7)))).play();
    refuses(&played, 4, "Another vehicle (system 7)");
}

#[test]
fn nothing_is_written_while_another_station_gives_commands() {
    let played = Stand::new(START)
        .plot(Plot::when(|board, _| board.now().0 > 200_000, 0, vec![Then::Event(arm_by(254))]))
        .play();
    assert_eq!(played.code(), 4, "{}", played.log.tail());
    assert!(played.log.writes().is_empty(), "{:?}", played.log.writes());
}

#[test]
fn props_off_that_is_not_attested() {
    for recipe in [START, SIGNAL, IDLE] {
        let mut stand = Stand::new(recipe);
        stand.hands = Hands::willing(&WorldConfig::default()).who_answers(|question| {
            matches!(question.about, About::Props).then(|| quadjig::rehearsal::operator::typed("no"))
        });
        let played = stand.play();
        refuses(&played, 4, "propellers");
        assert!(played.log.writes().is_empty());
    }
}

#[test]
fn a_card_that_disagrees_stops_the_run_before_anything_is_written() {
    const FIND: &str = concat!(
        "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n",
        "require props off\nrequire throttle low\nchannels roll, pitch, throttle, yaw\n",
        "find switch B with 3 positions\nfind link loss\nbind arm to switch B position 2\nkeep\n",
    );
    let card = |rests: [i32; 3]| {
        let entry = SwitchEntry {
            channel: 6,
            rests: rests.map(Pulse).to_vec(),
            noise: Some(1.2),
            momentary: false,
            on_loss: None,
        };
        let switches = [(Switch("B".to_owned()), entry)].into();
        Some(RadioCard { radio: "Bench".to_owned(), switches, ..RadioCard::default() })
    };
    let mut stand = Stand::new(FIND);
    stand.card = card([1000, 1500, 2000]);
    assert_eq!(stand.play().result, Some(Ok(())), "a card that agrees");
    let mut stand = Stand::new(FIND);
    stand.card = card([1250, 1600, 1900]);
    let played = stand.play();
    assert_eq!(played.code(), 6, "{}", played.log.tail());
    assert!(played.fault().to_string().contains("radio card says that switch B rests at"), "{}", played.fault());
    let after = played.log.writes().into_iter().filter(|(_, name, _)| name.starts_with("ARM")).count();
    assert_eq!(after, 0);
}

/// A craft has more components than its board, and any of them may be heard first.
#[test]
fn another_component_of_the_same_craft_is_no_other_vehicle() {
    let stranger = |system, component, commands| LinkEvent::Stranger { system, component, commands };
    for (system, commands, allowed) in [(1, false, true), (1, true, false), (2, false, false)] {
        let mut interlock = Interlock::default();
        interlock.hear(&stranger(system, 100, commands));
        interlock.hear(&LinkEvent::Alive { vehicle: 1, armed: false });
        assert_eq!(guards::alone(interlock.signals()).is_ok(), allowed, "system {system}, commands {commands}");
    }
}

/// Steps that drive nothing are judged as well: with the battery out an armed craft stops nothing, and its buzzer's
/// switch is worked by nobody.
#[test]
fn a_craft_that_is_armed_has_no_buzzer_tested() {
    const BUZZER: &str = concat!(
        "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n",
        "require props off\nrequire throttle low\nchannels roll, pitch, throttle, yaw\n",
        "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n",
        "switch C on channel 7 rests at 1000, 2000 on link loss flagged\n",
        "require battery in\nrequire battery out\n",
        "bind arm to switch B position 2\nbind buzzer to switch C position 1\nkeep\n",
        "pause \"Look at it.\"\ntest buzzer\n",
    );
    let asked = |log: &Log, about: fn(&About) -> bool| log.questions().iter().any(|question| about(&question.about));
    let paused = move |log: &Log| asked(log, |about| matches!(about, About::Pause(_)));
    let tested = move |played: &Played| asked(&played.log, |about| matches!(about, About::Buzzer));
    let armed = Plot::when(move |_, log| paused(log), 20, vec![Then::Line("flip B 2")]);
    let played = Stand::new(BUZZER).plot(armed).play();
    refuses(&played, 4, "armed");
    assert!(!tested(&played), "{}", played.log.tail());
    assert!(tested(&Stand::new(BUZZER).play()), "it is never tested");
}
