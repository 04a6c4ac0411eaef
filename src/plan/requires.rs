//! `require` and `expect`: what is tested at its place, and what guards every later motor step.
//!
//! Must not be here: motor steps themselves (see `motor`).

use super::compile::{Planner, Spot};
use super::guard::STILL;
use super::inputs::Battery;
use super::predicted::Rules;
use super::problem::Problem;
use super::step::{Action, Guard};
use crate::board::effect::Effect;
use crate::language::recipe::{Part, Require, Setting, Switch, Value};

impl Planner<'_> {
    /// What a `require` asks of every later motor step.
    pub(super) fn rule(&mut self, require: &Require) {
        let rules: &mut Rules = &mut self.ahead.rules;
        match require {
            Require::PropsOff => rules.props_off = true,
            Require::AntennaOn => rules.antenna_on = true,
            Require::BatteryAtLeast(voltage) => {
                rules.battery_at_least = rules.battery_at_least.max(Some(*voltage));
            }
            Require::Level(angle) => rules.level = Some(rules.level.map_or(*angle, |before| before.min(*angle))),
            // Every motor step is guarded by the first two with or without the line; the others hold at their place.
            Require::ThrottleLow
            | Require::Disarmed
            | Require::Battery { .. }
            | Require::SwitchPosition { .. }
            | Require::Attest(_) => {}
        }
    }

    /// The test at its place.
    pub(super) fn require(&mut self, index: usize, require: &Require) {
        let spot = self.spot(index);
        match require {
            Require::PropsOff => self.props_asked(&spot),
            Require::AntennaOn => {
                if !self.ahead.antenna_on {
                    self.ahead.antenna_on = true;
                    self.push(&spot, Action::AttestAntenna, Effect::Asks, Vec::new());
                }
            }
            Require::Battery { inside: true } => self.battery_in(&spot),
            Require::Battery { inside: false } => self.battery_out(&spot, false),
            Require::BatteryAtLeast(per_cell) => match self.ahead.rules.cells {
                Some(cells) => {
                    self.battery_in(&spot);
                    let act = Action::RequireBatteryAtLeast { per_cell: *per_cell, cells };
                    self.push(&spot, act, Effect::Looks, vec![Guard::BatteryIn]);
                }
                None => self.refuse_part(index, Some(Part::Value), Problem::NoCells(*per_cell)),
            },
            Require::ThrottleLow => {
                self.throttle_known(index);
                self.receiver_fed(&spot);
                self.push(&spot, Action::RequireThrottleLow, Effect::Looks, Vec::new());
            }
            Require::Disarmed => self.push(&spot, Action::RequireDisarmed, Effect::Looks, Vec::new()),
            Require::Level(angle) => self.push(&spot, Action::RequireLevel(*angle), Effect::Looks, Vec::new()),
            Require::SwitchPosition { switch, position } => self.require_switch(&spot, switch, *position),
            Require::Attest(text) => self.push(&spot, Action::Attest(text.clone()), Effect::Asks, Vec::new()),
        }
    }

    fn require_switch(&mut self, spot: &Spot, switch: &Switch, position: u32) {
        if !self.ahead.switches.contains_key(switch) {
            return self.refuse_part(spot.statement, Some(Part::Switch), Problem::NoSwitch(switch.0.clone()));
        }
        let at = self.ahead.place_of(switch);
        if let Some(known) = at.as_ref().filter(|known| position as usize >= known.rests.len()) {
            let (switch, count) = (switch.0.clone(), known.rests.len());
            return self.refuse_part(
                spot.statement,
                Some(Part::Positions),
                Problem::NoPosition { switch, position, count },
            );
        }
        self.receiver_fed(spot);
        let act = Action::RequireSwitch { switch: switch.clone(), position, at };
        self.push(spot, act, Effect::Looks, Vec::new());
    }

    /// `expect SETTING is VALUE`: refused at once where the plan can tell that it would not hold.
    pub(super) fn expect(&mut self, index: usize, setting: &Setting, value: &Value) {
        let Some((name, number)) = self.expected(index, setting, value) else { return };
        let (words, shown) = (self.naming().describe(&name), self.naming().show(&name, number));
        match self.ahead.settings.get(&name) {
            None => return self.refuse(index, Problem::NotOnBoard(name.to_string())),
            Some(_) if self.ahead.open.contains(&name) => {}
            Some(now) if !now.same(number) => {
                let problem =
                    Problem::ExpectFails { setting: words, found: self.naming().show(&name, *now), wanted: shown };
                return self.refuse_part(index, Some(Part::Value), problem);
            }
            Some(_) => {}
        }
        let spot = self.spot(index);
        let act = Action::Expect { name, value: number, setting: words, shown };
        self.push(&spot, act, Effect::Looks, Vec::new());
    }

    /// Asks for the propellers, unless that stands.
    pub(super) fn props_asked(&mut self, spot: &Spot) {
        if !self.ahead.props_off {
            self.ahead.props_off = true;
            self.push(spot, Action::AttestPropsOff, Effect::Asks, Vec::new());
        }
    }

    /// The battery is in from here on.
    pub(super) fn battery_in(&mut self, spot: &Spot) {
        if self.ahead.battery == Battery::In {
            return;
        }
        self.props_asked(spot);
        self.throttle_known(spot.statement);
        let guards = self.plug_in_guards();
        self.push(spot, Action::BatteryIn, Effect::TurnsMotors, guards);
        self.ahead.battery = Battery::In;
    }

    /// What has to hold as the battery goes in.
    pub(super) fn plug_in_guards(&self) -> Vec<Guard> {
        let mut guards = self.ahead.rules.hands_off();
        guards.extend(STILL);
        guards
    }

    /// The battery is out from here on. That the propellers are off is asked again where it was in.
    pub(super) fn battery_out(&mut self, spot: &Spot, cycle: bool) {
        if self.ahead.battery == Battery::In {
            self.ahead.props_off = false;
        }
        self.push(spot, Action::BatteryOut { cycle }, Effect::Asks, Vec::new());
        self.ahead.battery = Battery::Out;
    }

    /// Where USB does not feed the receiver, what reads its channels needs the battery.
    pub(super) fn receiver_fed(&mut self, spot: &Spot) {
        if !self.inputs.sheet.usb_feeds_receiver {
            self.battery_in(spot);
        }
    }

    /// A refusal where the throttle's channel is not known.
    pub(super) fn throttle_known(&mut self, statement: usize) {
        if super::facts::throttle_channel(self.inputs.sheet, &self.ahead.settings).is_none() {
            self.refuse(statement, Problem::NoThrottle);
        }
    }
}
