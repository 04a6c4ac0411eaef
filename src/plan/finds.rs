//! What is found and tested of the radio: switches, sticks, link loss.
//!
//! Promises: whatever has switches or sticks worked is done without the battery, and asks first where it could still arm.
//! Must not be here: what a switch is bound to (see `bands`).

use super::compile::{Planner, Spot};
use super::facts;
use super::inputs::Battery;
use super::problem::Problem;
use super::step::{Action, Guard, SticksAsked};
use crate::board::effect::Effect;
use crate::language::recipe::{Part, Stick, Switch};
use crate::language::units::Pulse;

impl Planner<'_> {
    pub(super) fn find_switch(&mut self, index: usize, switch: &Switch, positions: Option<u32>, momentary: bool) {
        let spot = self.spot(index);
        self.receiver_fed(&spot);
        let at = self.ahead.place_of(switch);
        if let (Some(at), Some(wanted)) = (&at, positions)
            && at.rests.len() != wanted as usize
        {
            let (switch, known) = (switch.0.clone(), at.rests.len());
            return self.refuse_part(index, Some(Part::Positions), Problem::PositionCount { switch, known, wanted });
        }
        let known = at.is_some();
        let act = Action::FindSwitch { switch: switch.clone(), positions, momentary, known };
        if known {
            return self.push(&spot, act, Effect::Looks, vec![Guard::Fresh]);
        }
        self.worked(&spot, act);
    }

    /// Whether the card knows all four, a live reading will do; else they are moved.
    pub(super) fn find_sticks(&mut self, index: usize, anew: bool) {
        let spot = self.spot(index);
        self.receiver_fed(&spot);
        let known = !anew && self.inputs.card.sticks.len() == Stick::ALL.len();
        let act = Action::FindSticks { known };
        if known {
            self.push(&spot, act, Effect::Looks, vec![Guard::Fresh]);
        } else {
            self.worked(&spot, act);
        }
    }

    pub(super) fn test_sticks(&mut self, index: usize, centre: (Pulse, Pulse), ends: (Pulse, Pulse, Pulse)) {
        let spot = self.spot(index);
        self.receiver_fed(&spot);
        let channels = facts::stick_channels(self.inputs.sheet, &self.ahead.settings);
        self.worked(&spot, Action::TestSticks(SticksAsked { centre, ends, channels }));
    }

    /// A step for which the operator works switches or sticks, which may be what arms: never with the battery in.
    fn worked(&mut self, spot: &Spot, act: Action) {
        if !self.inputs.sheet.usb_feeds_receiver {
            // With the battery in it would be a motor step, as the receiver is fed by nothing else.
            return self.refuse(spot.statement, Problem::ReceiverUnfed);
        }
        if self.ahead.battery == Battery::In {
            return self.refuse(spot.statement, Problem::BatteryIn);
        }
        if self.ahead.energised(self.inputs.sheet) && self.can_arm() {
            self.props_asked(spot);
            self.throttle_known(spot.statement);
            let mut guards = self.ahead.rules.hands_off();
            guards.extend([Guard::Confirmed, Guard::Disarmed, Guard::ThrottleLow, Guard::OutputsAtRest, Guard::Fresh]);
            return self.push(spot, act, Effect::TurnsMotors, guards);
        }
        self.push(spot, act, Effect::Asks, vec![Guard::Disarmed, Guard::Fresh]);
    }

    pub(super) fn find_link_loss(&mut self, index: usize, anew: bool) {
        let spot = self.spot(index);
        let found = !self.inputs.record.link_loss.is_empty();
        if found && !anew {
            let text = "what each channel does on link loss stands in the craft's record and is not measured again; \
                        `find link loss anew` would.";
            return self.remark_at(index, text.to_owned());
        }
        if !self.inputs.sheet.usb_feeds_receiver {
            return self.refuse(index, Problem::ReceiverUnfed);
        }
        if self.ahead.battery != Battery::Out {
            self.battery_out(&spot, false);
        }
        // What it will find takes the place of what stands there, whatever that is.
        self.ahead.link_loss.clear();
        self.push(&spot, Action::FindLinkLoss, Effect::Asks, vec![Guard::Disarmed, Guard::BatteryOut, Guard::Fresh]);
    }
}
