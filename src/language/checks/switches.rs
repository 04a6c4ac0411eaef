//! Switches: found or declared before use, with positions that can be told apart.

use super::codes;
use super::scan::{self, Known};
use crate::language::ceilings::REST_MARGIN;
use crate::language::finding::Finding;
use crate::language::recipe::{Form, Part, Recipe, Require, Statement, StatementKind, Stick, Switch};
use crate::language::units::Pulse;
use crate::measure::frame::CHANNEL_NUMBERS;
use crate::measure::nearest::nearest;
use std::collections::BTreeMap;

/// Fewest and most positions of a switch that the bench can find.
const POSITIONS: std::ops::RangeInclusive<usize> = 2..=6;

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    let switches = scan::switches(recipe);
    let sticks = recipe.statements.iter().find_map(|s| match &s.what {
        StatementKind::Channels(order) => Some((s, order)),
        _ => None,
    });
    let mut channels: BTreeMap<u32, (&Switch, &Statement)> = BTreeMap::new();
    for (index, statement) in recipe.statements.iter().enumerate() {
        if let Some(switch) = scan::uses(&statement.what) {
            known(recipe, index, switch, &switches, found);
            position(statement, switch, &switches, found);
        }
        match &statement.what {
            StatementKind::DeclareSwitch { switch, channel, rests, .. } => {
                count(switch, rests.len(), statement, Part::Rests, found);
                apart(switch, rests, statement, found);
                free(switch, *channel, statement, sticks, &channels, found);
                channels.entry(*channel).or_insert((switch, statement));
            }
            StatementKind::FindSwitch { switch, positions: Some(positions), .. } => {
                let positions = usize::try_from(*positions).unwrap_or(usize::MAX);
                count(switch, positions, statement, Part::Positions, found);
            }
            _ => {}
        }
    }
    unused(recipe, &switches, found);
}

type Switches<'r> = BTreeMap<&'r Switch, Known<'r>>;

/// A switch is found or declared above the line that uses it.
fn known(recipe: &Recipe, index: usize, switch: &Switch, switches: &Switches<'_>, found: &mut Vec<Finding>) {
    let first = switches.get(switch).and_then(|known| known.first);
    if first.is_some_and(|first| first < index) {
        return;
    }
    let statement = &recipe.statements[index];
    let place = statement.part(Part::Switch);
    let name = &switch.0;
    if let Some(later) = first.map(|first| &recipe.statements[first]) {
        let message =
            format!("switch {name} is not known yet here: at this point the bench could not tell where it rests");
        found.push(
            Finding::error(codes::SWITCH_USED_EARLY, place, message)
                .also(&later.span, "found or declared only here")
                .hint(format!("move the line that finds or declares switch {name} above this one")),
        );
        return;
    }
    let message =
        format!("switch {name} is neither found nor declared: the bench could not tell which channel it moves");
    let mut finding = Finding::error(codes::UNKNOWN_SWITCH, place, message);
    let others = switches.iter().filter(|(_, known)| known.first.is_some()).map(|(other, _)| other.0.as_str());
    let near = nearest(name, others);
    let mut idle = switches.iter().filter(|(_, known)| known.first.is_some() && !known.used);
    let only_idle = idle.next().filter(|_| idle.next().is_none()).map(|(other, _)| other.0.as_str());
    finding = match near.or(only_idle) {
        Some(near) => finding.replace(format!("write `{near}`, which is known"), place, near),
        None => finding.hint(format!("write `find switch {name}` above, or declare it: `switch {name} on channel …`")),
    };
    found.push(finding);
}

/// How near a rest pulse a number in the place of a position has to be to mean it, in µs.
const MEANT: u64 = 50;

/// A position that is used is one that the switch has.
fn position(statement: &Statement, switch: &Switch, switches: &Switches<'_>, found: &mut Vec<Finding>) {
    let wanted: &[u32] = match &statement.what {
        StatementKind::Bind { positions, .. } => positions,
        StatementKind::Require(Require::SwitchPosition { position, .. }) => std::slice::from_ref(position),
        _ => return,
    };
    let Some((count, source)) = switches.get(switch).and_then(|known| known.positions) else { return };
    let missing: Vec<String> = wanted.iter().filter(|p| **p >= count).map(u32::to_string).collect();
    if missing.is_empty() {
        return;
    }
    // Who writes a pulse width means the position that rests there.
    let rests = switches.get(switch).and_then(|known| known.declared).map_or(&[][..], |declared| declared.rests);
    let meant = match wanted {
        [pulse] => rests.iter().position(|rest| i64::from(*pulse).abs_diff(i64::from(rest.0)) <= MEANT),
        _ => None,
    };
    let (name, missing) = (&switch.0, missing.join(", "));
    let message = format!("switch {name} has no position {missing}: nothing that the operator does would reach it");
    let last = count.saturating_sub(1);
    let place = statement.part(Part::Positions);
    let finding = Finding::error(codes::NO_SUCH_POSITION, place, message)
        .also(&source.span, format!("{count} positions by this line"))
        .hint(format!("positions count from 0: switch {name} has 0 to {last}"));
    found.push(match meant {
        Some(position) => finding.replace(
            format!("write `{position}`, where it rests at {}", rests[position]),
            place,
            position.to_string(),
        ),
        None => finding,
    });
}

/// A switch has as many positions as the bench can tell apart.
fn count(switch: &Switch, positions: usize, statement: &Statement, part: Part, found: &mut Vec<Finding>) {
    if !POSITIONS.contains(&positions) {
        let message = format!(
            "switch {} with {positions} positions: the bench tells 2 to 6 positions of a switch apart",
            switch.0
        );
        found.push(Finding::error(codes::POSITION_COUNT, statement.part(part), message));
    }
}

/// Rest pulses run one way and stand far enough apart.
fn apart(switch: &Switch, rests: &[Pulse], statement: &Statement, found: &mut Vec<Finding>) {
    // Of too few or too many positions nothing else needs to be said.
    if !POSITIONS.contains(&rests.len()) {
        return;
    }
    let place = statement.part(Part::Rests);
    let name = &switch.0;
    let least = 2 * REST_MARGIN.0;
    let mut sorted = rests.to_vec();
    sorted.sort_unstable();
    for pair in sorted.windows(2).filter(|pair| pair[1].0 - pair[0].0 < least) {
        let (a, b) = (pair[0], pair[1]);
        let message =
            format!("two positions of switch {name} rest at {a} and {b}: noise could carry one into the other's band");
        let advice =
            format!("rest pulses need at least {} between them; widen the switch's travel in the radio", Pulse(least));
        found.push(Finding::error(codes::RESTS_CLOSE, place, message).hint(advice));
    }
    if !rests.is_sorted() && !rests.iter().rev().is_sorted() {
        let message = format!(
            "the rest pulses of switch {name} go up and down: position 0 is at one end of a switch, and each further position one further away"
        );
        found.push(
            Finding::error(codes::RESTS_UNORDERED, place, message)
                .hint("write them in the order in which the switch moves"),
        );
    }
}

/// A switch has a channel of its own.
fn free(
    switch: &Switch,
    channel: u32,
    statement: &Statement,
    sticks: Option<(&Statement, &[Stick; 4])>,
    channels: &BTreeMap<u32, (&Switch, &Statement)>,
    found: &mut Vec<Finding>,
) {
    let place = statement.part(Part::Channel);
    let name = &switch.0;
    if !CHANNEL_NUMBERS.contains(&channel.into()) {
        let message = format!("there is no channel {channel}: nothing would be heard from switch {name}");
        found.push(Finding::error(codes::CHANNEL_RANGE, place, message).hint("channels count from 1 to 18"));
        return;
    }
    let index = usize::try_from(channel).unwrap_or(usize::MAX) - 1;
    if let Some((line, stick)) = sticks.and_then(|(line, order)| Some((line, order.get(index)?))) {
        let word = stick.word();
        let message =
            format!("channel {channel} is the {word} stick: switch {name} and the stick would move each other");
        found.push(
            Finding::error(codes::CHANNEL_TAKEN, place, message).also(&line.span, format!("{word} by this line")),
        );
    }
    if let Some((other, earlier)) = channels.get(&channel).filter(|(other, _)| *other != switch) {
        let message = format!(
            "switches {} and {name} are both on channel {channel}: the board could not tell them apart",
            other.0
        );
        found.push(
            Finding::error(codes::CHANNEL_TAKEN, place, message)
                .also(earlier.part(Part::Channel), format!("switch {} is here", other.0)),
        );
    }
}

/// A declared switch serves something; a found one may serve the radio card alone.
fn unused(recipe: &Recipe, switches: &Switches<'_>, found: &mut Vec<Finding>) {
    // What waits for a value may use any of them.
    if recipe
        .statements
        .iter()
        .any(|s| matches!(s.what, StatementKind::Waiting { form: Form::Bind | Form::RequireSwitch, .. }))
    {
        return;
    }
    for (switch, known) in switches.iter().filter(|(_, known)| !known.used) {
        let Some(first) = known.first else { continue };
        let name = &switch.0;
        let place = recipe.statements[first].part(Part::Switch);
        let finding = if known.found {
            let message = format!(
                "switch {name} is found and nothing uses it: the operator would work it for the radio card alone"
            );
            Finding::suggestion(codes::UNUSED_SWITCH, place, message)
        } else {
            let message = format!("nothing uses switch {name}: the board would not be told about it");
            Finding::error(codes::UNUSED_SWITCH, place, message)
        };
        let advice = format!("bind something to it, or leave the line out: `bind … to switch {name} position …`");
        found.push(finding.hint(advice));
    }
}
