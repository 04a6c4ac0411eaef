//! Switches: found or declared before use, with positions that can be told apart.

use super::assigned::stick_word;
use super::codes;
use super::scan;
use crate::language::ceilings::REST_MARGIN;
use crate::language::finding::Finding;
use crate::language::nearest::nearest;
use crate::language::recipe::{Part, Recipe, Require, Statement, Switch, What};
use crate::language::units::Pulse;

/// Channels that a receiver message can carry: `RC_CHANNELS` of the MAVLink `common` set has 18.
const CHANNELS: std::ops::RangeInclusive<u32> = 1..=18;

/// Fewest and most positions of a switch that the bench can find.
const POSITIONS: std::ops::RangeInclusive<usize> = 2..=6;

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    for (index, statement) in recipe.statements.iter().enumerate() {
        known(recipe, index, statement, found);
        position(recipe, statement, found);
        match &statement.what {
            What::DeclareSwitch { switch, channel, rests, .. } => {
                count(switch, rests.len(), statement, Part::Rests, found);
                apart(switch, rests, statement, found);
                free(recipe, index, switch, *channel, statement, found);
            }
            What::FindSwitch { switch, positions: Some(positions), .. } => {
                let positions = usize::try_from(*positions).unwrap_or(usize::MAX);
                count(switch, positions, statement, Part::Positions, found);
            }
            _ => {}
        }
    }
    unused(recipe, found);
}

/// A switch is found or declared above the line that uses it.
fn known(recipe: &Recipe, index: usize, statement: &Statement, found: &mut Vec<Finding>) {
    let Some(switch) = scan::uses(&statement.what) else { return };
    let introduces = |s: &&Statement| scan::introduces(&s.what) == Some(switch);
    if recipe.statements[..index].iter().any(|s| introduces(&s)) {
        return;
    }
    let place = statement.part(Part::Switch);
    let name = &switch.0;
    if let Some(later) = recipe.statements[index..].iter().find(introduces) {
        let message =
            format!("switch {name} is not known yet here: at this point the bench could not tell where it rests");
        found.push(
            Finding::error(codes::SWITCH_USED_EARLY, place, message)
                .also(&later.span, "found or declared only here")
                .hint("move that line above this one"),
        );
        return;
    }
    let message =
        format!("switch {name} is neither found nor declared: the bench could not tell which channel it moves");
    let mut finding = Finding::error(codes::UNKNOWN_SWITCH, place, message);
    let others = recipe.statements.iter().filter_map(|s| scan::introduces(&s.what)).map(|s| s.0.as_str());
    // Most switches have one letter for a name, where any other is "near".
    finding = match nearest(name, others).filter(|_| name.chars().count() > 1) {
        Some(near) => finding.replace(format!("write {near}, which is known"), place, near),
        None => finding.hint(format!("write `find switch {name}` above, or declare it: `switch {name} on channel …`")),
    };
    found.push(finding);
}

/// A position that is used is one that the switch has.
fn position(recipe: &Recipe, statement: &Statement, found: &mut Vec<Finding>) {
    let (switch, wanted): (&Switch, &[u32]) = match &statement.what {
        What::Bind { switch, positions, .. } => (switch, positions),
        What::Require(Require::SwitchPosition { switch, position }) => (switch, std::slice::from_ref(position)),
        _ => return,
    };
    let Some((count, source)) = scan::positions(recipe, switch) else { return };
    let missing: Vec<String> = wanted.iter().filter(|p| **p >= count).map(u32::to_string).collect();
    if missing.is_empty() {
        return;
    }
    let (name, missing) = (&switch.0, missing.join(", "));
    let message = format!("switch {name} has no position {missing}: nothing that the operator does would reach it");
    let last = count.saturating_sub(1);
    found.push(
        Finding::error(codes::NO_SUCH_POSITION, statement.part(Part::Positions), message)
            .also(&source.span, format!("{count} positions by this line"))
            .hint(format!("positions count from 0: switch {name} has 0 to {last}")),
    );
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
fn free(recipe: &Recipe, index: usize, switch: &Switch, channel: u32, statement: &Statement, found: &mut Vec<Finding>) {
    let place = statement.part(Part::Channel);
    let name = &switch.0;
    if !CHANNELS.contains(&channel) {
        let message = format!("there is no channel {channel}: nothing would be heard from switch {name}");
        found.push(Finding::error(codes::CHANNEL_RANGE, place, message).hint("channels count from 1 to 18"));
        return;
    }
    let stick = recipe.statements.iter().find_map(|s| match &s.what {
        What::Channels(order) => Some((s, order.get(usize::try_from(channel).ok()?.checked_sub(1)?)?)),
        _ => None,
    });
    if let Some((channels, stick)) = stick {
        let word = stick_word(*stick);
        let message =
            format!("channel {channel} is the {word} stick: switch {name} and the stick would move each other");
        found.push(
            Finding::error(codes::CHANNEL_TAKEN, place, message).also(&channels.span, format!("{word} by this line")),
        );
    }
    let other = recipe.statements[..index].iter().find_map(|s| match &s.what {
        What::DeclareSwitch { switch: other, channel: same, .. } if other != switch && *same == channel => {
            Some((s, other))
        }
        _ => None,
    });
    if let Some((earlier, other)) = other {
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
fn unused(recipe: &Recipe, found: &mut Vec<Finding>) {
    let mut seen: Vec<&Switch> = Vec::new();
    for statement in &recipe.statements {
        let Some(switch) = scan::introduces(&statement.what) else { continue };
        if seen.contains(&switch) {
            continue;
        }
        seen.push(switch);
        if recipe.statements.iter().any(|s| scan::uses(&s.what) == Some(switch)) {
            continue;
        }
        // What waits for a value may use it.
        if recipe.statements.iter().any(|s| matches!(&s.what, What::Waiting { form, .. } if form.starts_with("bind"))) {
            continue;
        }
        let name = &switch.0;
        let finds =
            recipe.statements.iter().any(|s| matches!(&s.what, What::FindSwitch { switch: s, .. } if s == switch));
        let place = statement.part(Part::Switch);
        let finding = if finds {
            let message = format!(
                "switch {name} is found and nothing uses it: the operator would work it for the radio card alone"
            );
            Finding::suggestion(codes::UNUSED_SWITCH, place, message)
        } else {
            let message = format!("nothing uses switch {name}: the board would not be told about it");
            Finding::error(codes::UNUSED_SWITCH, place, message)
        };
        found.push(
            finding.hint(format!("bind something to it, or leave the line out: `bind … to switch {name} position …`")),
        );
    }
}
