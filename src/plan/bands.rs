//! Functions on switches: where a switch is, and which bands its positions make.
//!
//! Promises: arm is never bound where link loss or power-up would arm. Must not be here: the order in
//! which bands are written (see `order`), the mathematics (see `measure`).

use super::compile::Planner;
use super::inputs::Inputs;
use super::predicted::Known;
use super::problem::Problem;
use super::step::{BoundFunction, SwitchAt, Unknown};
use super::wanted::{BandWanted, Later};
use crate::board::binding::{self, BoundNow};
use crate::board::bound;
use crate::board::sheet::{Settings, Sheet};
use crate::language::ceilings::REST_MARGIN;
use crate::language::recipe::{Function, OnLoss, Part, Statement, StatementKind, Switch};
use crate::language::units::Pulse;
use crate::measure::bands::{self, BandError, BandLimits, BandQuestion, Nearby};
use crate::record::ChannelOnLoss;

/// Channels that a receiver has. Source: MAVLink `common`, `RC_CHANNELS` carries 18; a switch is on one of the first 16
/// by the language.
const MOST_CHANNELS: f64 = 16.0;

impl Planner<'_> {
    pub(super) fn declare_switch(&mut self, switch: &Switch, known: Known) {
        // What the card says of a switch of this name may be of another one.
        self.ahead.switches.insert(switch.clone(), Some(known));
    }

    /// What is said of link loss is held against what was seen of it.
    pub(super) fn loss_seen_otherwise(&mut self, index: usize, channel: u32, said: OnLoss) {
        let Some(seen) = self.inputs.record.link_loss.iter().find(|seen| seen.channel == channel) else { return };
        let does = seen.does.into();
        let same = match (said, does) {
            (OnLoss::Rests(one), OnLoss::Rests(other)) => one.0.abs_diff(other.0) <= REST_MARGIN.0.unsigned_abs(),
            (one, other) => one == other,
        };
        if !same {
            let text = format!(
                "channel {channel} {said}, this line says, and with the radio off it was seen that it {does}. Correct the \
                 line, or see it again with `find link loss anew`."
            );
            self.remark_at(index, text);
        }
    }

    /// A `find` makes a switch known to all that follows; what it is stays open where the card does not say.
    pub(super) fn find_ahead(&mut self, index: usize, switch: &Switch, anew: bool) {
        let Inputs { card, progress, .. } = self.inputs;
        let done = progress.found.contains(switch) || index < progress.next;
        let entry = card.switches.get(switch).filter(|_| done || !anew);
        let known = entry.map(|entry| Known {
            channel: entry.channel,
            rests: entry.rests.clone(),
            noise: entry.noise,
            momentary: entry.momentary,
            on_loss: entry.on_loss,
        });
        let slot = self.ahead.switches.entry(switch.clone()).or_default();
        if slot.is_none() {
            *slot = known;
        }
    }

    pub(super) fn bind(&mut self, index: usize, function: &Function, switch: &Switch, positions: &[u32]) {
        let sheet = self.inputs.sheet;
        if function.is_arm() && positions.contains(&BoundFunction::OFF) {
            return self.refuse_part(index, Some(Part::Positions), Problem::ArmAtRest);
        }
        if let Err(error) = binding::bound_now(sheet, self.inputs.settings, function) {
            return self.refuse_part(index, Some(Part::Function), Problem::Binding(error));
        }
        let known = match self.ahead.switches.get(switch) {
            None => return self.refuse_part(index, Some(Part::Switch), Problem::NoSwitch(switch.0.clone())),
            Some(None) => return self.bind_later(index, function, switch, positions),
            Some(Some(known)) => known.clone(),
        };
        if function.is_arm()
            && let Err(problem) = arm_stays(switch, known.momentary)
        {
            return self.refuse_part(index, Some(Part::Switch), problem);
        }
        match self.ends(function, switch, &known, positions) {
            Ok(ends) => {
                if function.is_arm() && !self.loss_known(index, &known) {
                    let unknown = loss_unknown(known.channel);
                    self.remark_at(index, format!("{unknown}. `find link loss` before the binding tells."));
                }
                let bands =
                    BandWanted { statement: index, function: function.clone(), to: Some((known.channel, ends)) };
                self.batch.bands.push(bands);
            }
            Err(problem) => self.refuse_part(index, Some(Part::Positions), problem),
        }
    }

    pub(super) fn unbind(&mut self, index: usize, function: &Function) {
        match binding::bound_now(self.inputs.sheet, self.inputs.settings, function) {
            Ok(_) => {
                self.batch.bands.push(BandWanted { statement: index, function: function.clone(), to: None });
            }
            Err(error) => self.refuse_part(index, Some(Part::Function), Problem::Binding(error)),
        }
    }

    fn ends(
        &self,
        function: &Function,
        switch: &Switch,
        known: &Known,
        positions: &[u32],
    ) -> Result<Vec<(Pulse, Pulse)>, Problem> {
        if let Some(position) = positions.iter().find(|at| **at as usize >= known.rests.len()) {
            let (switch, count) = (switch.0.clone(), known.rests.len());
            return Err(Problem::NoPosition { switch, position: *position, count });
        }
        let avoid = if function.is_arm() { self.loss_pulses(known)? } else { Vec::new() };
        let binding = &self.inputs.sheet.binding;
        let rests: Vec<f64> = known.rests.iter().map(|rest| f64::from(rest.0)).collect();
        let question = BandQuestion {
            rests: &rests,
            sigma: known.noise.unwrap_or(0.0),
            limits: BandLimits { least: binding.least.0, most: binding.most.0, granularity: binding.granularity },
            avoid: &avoid,
        };
        let positions: Vec<usize> = positions.iter().map(|at| *at as usize).collect();
        match bands::bands_of(&question, &positions) {
            Ok(bands) => Ok(bands.iter().map(|band| (Pulse(band.from), Pulse(band.to))).collect()),
            Err(BandError::Margin { because: Nearby::Avoided(pulse), .. }) => {
                Err(Problem::ArmOnLinkLoss { channel: known.channel, does: format!("goes to {pulse:.0} us") })
            }
            Err(error) => Err(Problem::Band { function: function.0.clone(), switch: switch.0.clone(), error }),
        }
    }

    /// See [`loss_pulses`].
    pub(super) fn loss_pulses(&self, known: &Known) -> Result<Vec<f64>, Problem> {
        loss_pulses(known.channel, known.on_loss, &self.ahead.link_loss)
    }

    /// Why link loss would arm the craft as it is bound at this point, if it would.
    pub(super) fn armed_by_loss(&self, arm: &BoundFunction) -> Option<Problem> {
        let SwitchAt { channel, rests } = arm.at.clone()?;
        let stated = self.ahead.switches.get(&arm.switch).cloned().flatten();
        let known = stated.unwrap_or(Known { channel, rests, noise: None, momentary: false, on_loss: None });
        let pulses = match self.loss_pulses(&known) {
            Ok(pulses) => pulses,
            Err(problem) => return Some(problem),
        };
        let bands = binding::bound_now(self.inputs.sheet, &self.ahead.settings, &arm.function).ok()?;
        let inside = |pulse: f64, band: &BoundNow| {
            band.channel == channel && f64::from(band.from.0) <= pulse && pulse < f64::from(band.to.0)
        };
        let pulse = pulses.into_iter().find(|pulse| bands.iter().any(|band| inside(*pulse, band)))?;
        Some(Problem::ArmOnLinkLoss { channel, does: format!("goes to {pulse:.0} us") })
    }

    /// Whether anything tells what the channel does on link loss, or a find before this statement will.
    fn loss_known(&self, index: usize, known: &Known) -> bool {
        loss_is_known(known.channel, known.on_loss, &self.inputs.record.link_loss)
            || self.inputs.progress.link_loss_found
            || self
                .inputs
                .recipe
                .statements
                .iter()
                .take(index)
                .any(|s| matches!(s.what, StatementKind::FindLinkLoss { .. }))
    }

    fn bind_later(&mut self, index: usize, function: &Function, switch: &Switch, positions: &[u32]) {
        let binding = &self.inputs.sheet.binding;
        let what = super::titles::bind(function, switch, positions);
        let at = self.spot(index).at;
        let unknown = |part: &str, least: f64, most: f64, unit: &str| Unknown {
            setting: format!("{}: {part}", function.0),
            least,
            most,
            unit: unit.to_owned(),
            at: at.clone(),
        };
        let (least, most) = (f64::from(binding.least.0), f64::from(binding.most.0));
        let unknown = vec![
            unknown("channel", 1.0, MOST_CHANNELS, ""),
            unknown("from", least, most, "us"),
            unknown("to", least, most, "us"),
        ];
        self.batch.later.push(Later { statement: index, what, unknown, arms: function.is_arm() });
    }

    /// What a statement leaves bound, for the proofs after it.
    pub(super) fn bound_by(&mut self, statement: &Statement) {
        match &statement.what {
            StatementKind::Bind { function, switch, positions } => {
                let at = self.ahead.place_of(switch);
                let bound = BoundFunction {
                    function: function.clone(),
                    switch: switch.clone(),
                    positions: positions.clone(),
                    at,
                };
                self.ahead.bound.insert(function.clone(), Some(bound));
            }
            StatementKind::Unbind(function) => {
                self.ahead.bound.insert(function.clone(), None);
            }
            _ => {}
        }
    }

    /// Where a function is bound at this point: by the recipe, else by what the board holds.
    pub(super) fn bound(&self, function: &Function) -> Option<BoundFunction> {
        if let Some(bound) = self.ahead.bound.get(function) {
            return bound.clone();
        }
        let card = self
            .inputs
            .card
            .switches
            .iter()
            .map(|(switch, entry)| (switch, SwitchAt { channel: entry.channel, rests: entry.rests.clone() }));
        let stated = self.ahead.switches.keys().filter_map(|switch| Some((switch, self.ahead.place_of(switch)?)));
        bound_on_board(self.inputs.sheet, &self.ahead.settings, function, stated.chain(card))
    }

    /// Why it can't be told by which switch a function is worked.
    pub(super) fn not_bound(&self, function: &Function) -> Problem {
        let name = function.0.clone();
        let on_board = binding::bound_now(self.inputs.sheet, &self.ahead.settings, function).unwrap_or_default();
        match on_board.first().filter(|_| !self.ahead.bound.contains_key(function)) {
            Some(band) => Problem::BoundElsewhere { function: name, channel: band.channel },
            None => Problem::NotBound(name),
        }
    }

    /// Whether the board could arm at this point: by a switch, or by the sticks. What can't be told counts as yes.
    pub(super) fn can_arm(&self) -> bool {
        let arm = Function::arm();
        self.inputs.sheet.sticks_can_arm
            || self.ahead.later_unsaved
            || binding::bound_now(self.inputs.sheet, &self.ahead.settings, &arm).map_or(true, |bands| !bands.is_empty())
    }
}

/// Arm is bound to no switch that springs back.
pub(super) fn arm_stays(switch: &Switch, momentary: bool) -> Result<(), Problem> {
    if momentary { Err(Problem::ArmMomentary(switch.0.clone())) } else { Ok(()) }
}

/// Whether it is known what a channel does on link loss, by what is said of it or by what was seen.
pub(super) fn loss_is_known(channel: u32, said: Option<OnLoss>, seen: &[ChannelOnLoss]) -> bool {
    said.is_some() || seen.iter().any(|seen| seen.channel == channel)
}

/// Said of arm on a channel of which that is not known.
pub(super) fn loss_unknown(channel: u32) -> String {
    format!("it is not known what channel {channel} does on link loss, and arm is bound there")
}

/// Pulses to which a channel goes on link loss, by what is said of it and by what was seen.
pub(super) fn loss_pulses(channel: u32, said: Option<OnLoss>, seen: &[ChannelOnLoss]) -> Result<Vec<f64>, Problem> {
    let mut pulses = Vec::new();
    let seen = seen.iter().filter(|seen| seen.channel == channel).map(|seen| seen.does.into());
    for does in said.into_iter().chain(seen) {
        match does {
            OnLoss::Holds => return Err(Problem::ArmOnLinkLoss { channel, does: "stays where it was".to_owned() }),
            OnLoss::Rests(pulse) => pulses.push(f64::from(pulse.0)),
            OnLoss::Flagged => {}
        }
    }
    Ok(pulses)
}

/// Where a function is bound, by the settings, on one of some switches.
fn bound_on_board<'s>(
    sheet: &Sheet,
    settings: &Settings,
    function: &Function,
    switches: impl Iterator<Item = (&'s Switch, SwitchAt)>,
) -> Option<BoundFunction> {
    let now = binding::bound_now(sheet, settings, function).ok()?;
    let channel = now.first()?.channel;
    for (switch, at) in switches {
        if at.channel == channel && now.iter().all(|band| band.channel == channel) {
            let positions = bound::positions_on(&now, channel, &at.rests);
            let (function, switch) = (function.clone(), switch.clone());
            return Some(BoundFunction { function, switch, positions, at: Some(at) })
                .filter(|b| !b.positions.is_empty());
        }
    }
    None
}
