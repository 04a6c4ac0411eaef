//! What anybody does at a moment: the operator, the program, the wire, the computer.
//!
//! A program's act is a door or a frame, tried whenever it is anybody's turn. Must not be here: how the world goes on.

use super::craft::Frame;
use super::judge::{Asked, Under};
use super::scene::{Runs, Scene};
use quadjig::interlock::Phase;
use quadjig::seam::ui::About;

/// See the module.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Act {
    /// So many ticks pass.
    Pass(u16),

    // The operator.
    Switch,
    Throttle,
    Battery,
    Props,
    SayOut,
    Answer(Asked),
    Key,
    Interrupt,
    Closed,
    LeaveStop,

    // The program.
    Ask,
    TakeIn,
    Work,
    /// A change that can turn motors: under its answer, or without one.
    Change(bool),
    /// A change that is a store and nothing else.
    ChangeStore,
    Idle,
    Band,
    Store,
    Stored,
    Restart,
    Expect,
    Restarted,
    Drive(Asked),
    Again,
    Ended,
    Switches(bool),
    SwitchesRest,
    Latch,

    // What befalls.
    /// The other is at the wire in place of the one that is.
    Swap,
    Beside,
    Mute,
    Unplug,
    /// By itself.
    Restarts,
    Arms,
    Halt(u16),
    Hang(u16),
    Kill,

    // And ends again.
    Alone,
    Sound,
    Plug,
}

impl Act {
    pub fn befalls(self) -> bool {
        use Act as A;
        matches!(
            self,
            A::Swap | A::Beside | A::Mute | A::Unplug | A::Restarts | A::Arms | A::Halt(_) | A::Hang(_) | A::Kill
        )
    }

    /// Whether it can be done at all; a door judges for itself.
    pub fn may(self, scene: &Scene) -> bool {
        use Act as A;
        let phase = scene.interlock.phase();
        let of_the_program = match self {
            A::Pass(_) | A::Switch | A::Throttle | A::Battery | A::Restarts | A::Arms => return true,
            A::Swap | A::Beside => return !scene.beside,
            A::Alone => return scene.beside,
            A::Mute => return !scene.mute,
            A::Sound => return scene.mute,
            A::Unplug => return scene.plugged,
            A::Plug => return !scene.plugged,
            A::Props | A::SayOut | A::TakeIn | A::Work => scene.interlock.who().is_some(),
            A::Answer(asked) => phase != Phase::Stopping && scene.asked != Some((asked, scene.now)),
            A::LeaveStop => phase == Phase::Stopping,
            A::Change(true) | A::Switches(true) | A::Drive(_) => scene.asked.is_some(),
            A::Stored => phase == Phase::Storing,
            A::Expect => phase == Phase::Restarting,
            A::Ended => matches!(phase, Phase::Invited | Phase::Turning),
            A::SwitchesRest => phase == Phase::SwitchesWorked,
            A::Latch => phase != Phase::Latched,
            A::Idle => scene.lets(Frame::Idle),
            A::Band => scene.lets(Frame::Band),
            A::Store | A::Restart => scene.has_leave(),
            A::ChangeStore
            | A::Key
            | A::Interrupt
            | A::Closed
            | A::Ask
            | A::Change(false)
            | A::Restarted
            | A::Again
            | A::Switches(false)
            | A::Halt(_)
            | A::Hang(_)
            | A::Kill => true,
        };
        of_the_program && scene.alive
    }
}

/// Does it; `false`: it can't be done, or is refused.
pub fn does(scene: &mut Scene, act: Act) -> bool {
    if !act.may(scene) {
        return false;
    }
    scene.judge.disturbed |= act.befalls();
    match act {
        Act::Pass(ticks) => scene.pass(ticks, Runs::All),
        Act::Switch | Act::Throttle | Act::Battery => return hands(scene, act),
        Act::Props => {
            scene.types(About::Props);
            scene.judge.props_said(scene.now);
        }
        Act::SayOut => {
            scene.judge.disturbed |= scene.crafts[0].battery;
            scene.types(About::BatteryOut);
            scene.judge.out_said();
        }
        Act::Answer(asked) => scene.asked = Some((asked, scene.now)),
        Act::Key => scene.key(),
        Act::Interrupt => {
            scene.judge.disturbed = true;
            scene.judge.owes(scene.now, scene.now);
            scene.stops_or("Ctrl-C was pressed", true);
        }
        Act::Closed => {
            scene.judge.disturbed = true;
            scene.judge.owes(scene.now, scene.now);
            scene.interlock.terminal_is_gone();
            scene.stops_or("the terminal was closed", true);
        }
        Act::LeaveStop => return scene.leaves_stop(),
        Act::Ask => return scene.send(Frame::Identify),
        Act::TakeIn => return scene.takes_in(),
        Act::Work => return scene.works_on(),
        Act::Change(answered) => return scene.enters_change(answered),
        Act::ChangeStore => return scene.enters_store(),
        Act::Idle => return scene.send(Frame::Idle),
        Act::Band => return scene.send(Frame::Band),
        Act::Store => return scene.stores(),
        Act::Stored => scene.interlock.store_ended(),
        Act::Restart => return scene.restarts(),
        Act::Expect => scene.interlock.expects_anew(),
        Act::Restarted => return scene.restart_ends(),
        Act::Drive(asked) => return scene.drives(asked),
        Act::Again => return scene.drives_again(),
        Act::Ended => return scene.ends(|interlock| interlock.start_ends().is_ok()),
        Act::Switches(answered) => return scene.works_switches(answered),
        Act::SwitchesRest => return scene.ends(|interlock| interlock.switches_rest().is_ok()),
        Act::Latch => scene.latches(),
        Act::Swap => scene.at = 1 - scene.at,
        Act::Beside => scene.beside = true,
        Act::Mute => scene.mute = true,
        Act::Unplug => scene.unplugs(),
        Act::Restarts => {
            let now = scene.now;
            scene.crafts[0].restarts(now);
        }
        Act::Arms => {
            scene.crafts[0].wild = true;
            let now = scene.now;
            scene.crafts[0].advance(now);
        }
        Act::Halt(ticks) => {
            let by = scene.now + super::craft::TICK * 3;
            scene.judge.owes(scene.now, by);
            scene.pass(ticks, Runs::Guardian);
        }
        Act::Hang(ticks) => {
            let by = scene.now + super::craft::TICK * 3;
            scene.judge.owes(scene.now, by);
            scene.pass(ticks, Runs::NoCore);
        }
        Act::Kill => scene.is_killed(),
        Act::Alone => scene.beside = false,
        Act::Sound => scene.mute = false,
        Act::Plug => scene.plugs(),
    }
    true
}

fn hands(scene: &mut Scene, act: Act) -> bool {
    let now = scene.now;
    match act {
        Act::Switch => {
            scene.crafts[0].switch ^= true;
            scene.judge.disturbed |= scene.judge.under.is_none();
        }
        Act::Throttle => {
            scene.crafts[0].throttle ^= true;
            scene.judge.disturbed = true;
        }
        _ => {
            scene.crafts[0].battery ^= true;
            scene.judge.disturbed |= scene.crafts[0].battery || scene.judge.under == Some(Under::Start);
        }
    }
    scene.crafts[0].advance(now);
    true
}
