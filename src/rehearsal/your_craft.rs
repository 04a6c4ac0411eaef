//! The virtual craft made like the one that a recipe is for: its radio, pack, motors' turning and signal, as recipe, radio
//! card and sheet tell them.
//!
//! Promises: what none of them tells stays as the virtual craft has it, and is named; two switches never drive one
//! channel. Must not be here: what a radio or a pack does.

use super::rehearse::Script;
use crate::board::radio_card::RadioCard;
use crate::language::recipe::{OnLoss, Recipe, Require, StatementKind, Stick, Switch, Turning};
use crate::language::units::Pulse;
use crate::plan::titles::count;
use crate::virtual_board::{CHANNELS, OnLoss as Receives, RadioConfig, SwitchConfig, WorldConfig};

/// How far a rest may be from what is written and still be the same: no radio is quite exact, µs.
const SAME_REST: f64 = 3.0;
/// Channels from this one on are nobody's stick.
const FIRST_FREE: usize = 5;

/// A craft as it is played.
#[derive(Debug, Clone)]
pub struct Played {
    /// The world in which it lives.
    pub config: WorldConfig,
    /// What of it is as it was told.
    pub told: Vec<String>,
    /// What nobody told, and is as the virtual craft has it.
    pub untold: Vec<String>,
}

/// Makes a craft like the one of a script.
#[must_use]
pub fn like_yours(mut config: WorldConfig, script: &Script) -> Played {
    let recipe = &script.recipe;
    let card = script.card.as_ref().map(|named| &named.card);
    let mut told: Vec<String> = recipe.craft.iter().map(|craft| craft.value.to_string()).collect();
    let mut untold = vec!["the pulses at which its motors start".to_owned()];
    let outward =
        recipe.craft.as_ref().and_then(|craft| craft.value.turning).map(|turning| turning == Turning::Outward);
    if outward.is_some_and(|outward| outward != config.make().outward) {
        config.motors.iter_mut().for_each(|motor| motor.clockwise = !motor.clockwise);
    }
    if let Some(version) = firmware(recipe, config.firmware) {
        config.firmware = version;
        told.push(format!("firmware {}", version.map(|part| part.to_string()).join(".")));
    }
    let kv = script.sheets.iter().find_map(|sheet| sheet.kv).map(|kv| format!("motors of {kv} rpm per volt"));
    note(kv, "their Kv", &mut told, &mut untold);
    sticks(&mut config.radio, card, recipe);
    note(switches(&mut config.radio, card, recipe), "its radio", &mut told, &mut untold);
    let loss = on_loss(card, recipe);
    note(loss.is_some().then(|| "its receiver on link loss".to_owned()), "its receiver", &mut told, &mut untold);
    config.receiver.on_loss = loss.unwrap_or(config.receiver.on_loss);
    let mut cells = None;
    for statement in &recipe.statements {
        match &statement.what {
            StatementKind::Battery { cells: counted, .. } => cells = Some(*counted),
            StatementKind::Signal { signal, .. } if !config.accepts.contains(signal) => config.accepts.push(*signal),
            _ => {}
        }
    }
    let said = cells.map(|cells| count(cells, "cell"));
    note(said, "its cells", &mut told, &mut untold);
    if let Some(cells) = cells.and_then(|cells| u8::try_from(cells).ok()) {
        with_cells(&mut config, cells);
    }
    Played { config, told, untold }
}

/// A firmware that the recipe asks for, where `usual` is none of those.
fn firmware(recipe: &Recipe, usual: [u8; 3]) -> Option<[u8; 3]> {
    let parts = |wanted: &str| wanted.split('.').map(|part| part.parse().ok()).collect::<Option<Vec<u8>>>();
    let wanted: Vec<Vec<u8>> = recipe.firmware.iter().filter_map(|firmware| parts(&firmware.value.0)).collect();
    if wanted.iter().any(|wanted| usual.starts_with(wanted)) {
        return None;
    }
    let first = wanted.first()?;
    Some(std::array::from_fn(|part| first.get(part).copied().unwrap_or(0)))
}

/// Either is said.
fn note(known: Option<String>, else_it: &str, told: &mut Vec<String>, untold: &mut Vec<String>) {
    match known {
        Some(known) => told.push(known),
        None => untold.push(else_it.to_owned()),
    }
}

/// A pack of so many cells, each as full and as strong as those before.
fn with_cells(config: &mut WorldConfig, cells: u8) {
    let pack = &mut config.pack;
    let share = f64::from(cells) / f64::from(pack.cells.max(1));
    pack.volts *= share;
    pack.milliohms *= share;
    pack.cells = cells;
}

/// Sticks on the channels of the card, else in the recipe's order.
fn sticks(radio: &mut RadioConfig, card: Option<&RadioCard>, recipe: &Recipe) {
    let order = recipe.statements.iter().find_map(|statement| match &statement.what {
        StatementKind::Channels(order) => Some(*order),
        _ => None,
    });
    for (stick, config) in Stick::ALL.into_iter().zip(&mut radio.sticks) {
        if let Some(place) = order.and_then(|order| order.iter().position(|one| *one == stick)) {
            config.channel = place + 1;
        }
        if let Some(entry) = card.and_then(|card| card.sticks.get(&stick)) {
            (config.channel, config.reversed) = (channel(entry.channel), entry.reversed);
        }
    }
}

fn channel(number: u32) -> usize {
    usize::try_from(number).unwrap_or(usize::MAX)
}

/// Switches of the card, those that the recipe declares, and those that it finds; without a card also those that the
/// virtual radio has beside them. What of them was told, if anything was.
fn switches(radio: &mut RadioConfig, card: Option<&RadioCard>, recipe: &Recipe) -> Option<String> {
    let card = card.filter(|card| !card.switches.is_empty());
    let mut own = std::mem::take(&mut radio.switches);
    let mut all: Vec<SwitchConfig> = Vec::new();
    for (name, entry) in card.iter().flat_map(|card| &card.switches) {
        let told = told_switch(name, entry.channel, &entry.rests, entry.momentary, &own);
        put(&mut all, told);
    }
    if let Some(noise) = card.and_then(|card| card.switches.values().filter_map(|entry| entry.noise).reduce(f64::max)) {
        radio.jitter = noise;
    }
    for statement in &recipe.statements {
        if let StatementKind::DeclareSwitch { switch, channel, rests, momentary, .. } = &statement.what {
            put(&mut all, told_switch(switch, *channel, rests, *momentary, &own));
        }
    }
    for statement in &recipe.statements {
        let StatementKind::FindSwitch { switch, positions, momentary, .. } = &statement.what else { continue };
        if all.iter().any(|one| one.name == switch.0) {
            continue;
        }
        let count = positions.unwrap_or_else(|| positions_used(recipe, switch)).max(2);
        let fits = |one: &SwitchConfig| one.name == switch.0 && one.rests.len() >= channel(count);
        let taken = |number: usize| all.iter().chain(&own).any(|one| one.channel == number);
        let found = match own.iter().position(fits) {
            Some(at) => own.remove(at),
            None => SwitchConfig {
                name: switch.0.clone(),
                channel: (FIRST_FREE..=CHANNELS).find(|number| !taken(*number)).unwrap_or(CHANNELS),
                rests: (0..count).map(|at| 1000.0 + 1000.0 * f64::from(at) / f64::from(count - 1)).collect(),
                position: 0,
                springs: *momentary,
            },
        };
        put(&mut all, found);
    }
    let told = (!all.is_empty()).then(|| {
        let names: Vec<&str> = all.iter().map(|one| one.name.as_str()).collect();
        let whose = card.map_or_else(String::new, |card| format!(" of {}", card.radio));
        format!("a radio{whose} with {}", names.join(", "))
    });
    if card.is_none() {
        own.into_iter()
            .filter(|one| all.iter().all(|other| apart(one, other)))
            .collect::<Vec<_>>()
            .into_iter()
            .for_each(|one| all.push(one));
    }
    radio.switches = all;
    told
}

fn apart(one: &SwitchConfig, other: &SwitchConfig) -> bool {
    one.name != other.name && one.channel != other.channel
}

/// In place of what has its name or its channel.
fn put(all: &mut Vec<SwitchConfig>, switch: SwitchConfig) {
    all.retain(|one| apart(one, &switch));
    all.push(switch);
}

/// A switch as it is written; as the virtual radio has it where that is the same.
fn told_switch(name: &Switch, number: u32, rests: &[Pulse], springs: bool, own: &[SwitchConfig]) -> SwitchConfig {
    let rests: Vec<f64> = rests.iter().map(|rest| f64::from(rest.0)).collect();
    let same = |one: &&SwitchConfig| {
        let near = |(one, other): (&f64, &f64)| (one - other).abs() <= SAME_REST;
        one.channel == channel(number) && one.rests.len() == rests.len() && one.rests.iter().zip(&rests).all(near)
    };
    let rests = own.iter().find(same).map_or(rests, |one| one.rests.clone());
    SwitchConfig { name: name.0.clone(), channel: channel(number), rests, position: 0, springs }
}

/// How many positions the recipe speaks of.
fn positions_used(recipe: &Recipe, of: &Switch) -> u32 {
    let last = recipe.statements.iter().filter_map(|statement| match &statement.what {
        StatementKind::Bind { switch, positions, .. } if switch == of => positions.iter().max().copied(),
        StatementKind::Require(Require::SwitchPosition { switch, position }) if switch == of => Some(*position),
        _ => None,
    });
    last.max().map_or(0, |last| last + 1)
}

/// What the receiver does, where card or recipe says it of a switch's channel.
fn on_loss(card: Option<&RadioCard>, recipe: &Recipe) -> Option<Receives> {
    let cards = card.into_iter().flat_map(|card| card.switches.values()).map(|entry| (entry.channel, entry.on_loss));
    let declared = recipe.statements.iter().filter_map(|statement| match &statement.what {
        StatementKind::DeclareSwitch { channel, on_loss, .. } => Some((*channel, *on_loss)),
        _ => None,
    });
    let said: Vec<(u32, OnLoss)> = cards.chain(declared).filter_map(|(at, loss)| Some((at, loss?))).collect();
    if said.iter().all(|(_, loss)| *loss == OnLoss::Flagged) {
        return (!said.is_empty()).then_some(Receives::Flagged);
    }
    let mut fixed = vec![None; CHANNELS];
    for (at, loss) in said {
        if let (OnLoss::Rests(pulse), Some(place)) = (loss, fixed.get_mut(channel(at).wrapping_sub(1))) {
            *place = u16::try_from(pulse.0).ok();
        }
    }
    Some(if fixed.iter().all(Option::is_none) { Receives::Hold } else { Receives::Fixed(fixed) })
}
