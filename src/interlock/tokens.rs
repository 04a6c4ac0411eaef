//! What lets a request leave: values that only a door of the interlock gives out.
//!
//! None can be made, copied or kept by anybody else; each is worth something only while the interlock that gave it still
//! says so. Must not be here: what is judged at a door (see `doors`).

use super::prompt::TypedWord;
use super::start::FIRST_START;
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, BoardChange, MotorStep, StartedBy};
use std::rc::Rc;

/// A motor step that was confirmed by its typed word: made from what was typed to the very question that was shown.
///
/// It is for the one thing that was asked, and each door takes from it what it lets through: so many starts, just this
/// change of the board, switches worked once. A door takes it to be changed, so that none can be passed without using it
/// up, and nobody else can give anything back.
///
/// ```compile_fail,E0451
/// # fn made(step: quadjig::seam::ui::MotorStep, answered: quadjig::measure::time::Time) {
/// # let change = quadjig::seam::ui::BoardChange::default();
/// let forged = quadjig::interlock::Confirmed { step, answered, starts_left: 1, voids: 0, first: true, change };
/// # }
/// ```
/// ```compile_fail,E0616
/// fn renewed(one: &mut quadjig::interlock::Confirmed) {
///     one.starts_left = 2;
/// }
/// ```
/// ```compile_fail,E0616
/// fn for_another(one: &mut quadjig::interlock::Confirmed, change: quadjig::seam::ui::BoardChange) {
///     one.change = change;
/// }
/// ```
/// ```compile_fail,E0308
/// # fn entered(interlock: &mut quadjig::interlock::Interlock, one: &quadjig::interlock::Confirmed) {
/// let kept = interlock.enter_change(quadjig::interlock::ChangeStep::default(), Some(one));
/// # }
/// ```
/// ```compile_fail,E0308
/// # fn entered(interlock: &mut quadjig::interlock::Interlock, one: &quadjig::interlock::Confirmed) {
/// let kept = interlock.enter_switches(&[], Some(one));
/// # }
/// ```
/// ```compile_fail,E0308
/// # fn entered(interlock: &mut quadjig::interlock::Interlock, one: &quadjig::interlock::Confirmed) {
/// let kept = interlock.enter_drive(one, &[], quadjig::interlock::Breaks::default());
/// # }
/// ```
/// ```compile_fail,E0308
/// fn twice(one: &quadjig::interlock::Confirmed) -> quadjig::interlock::Confirmed {
///     one.clone()
/// }
/// ```
#[derive(Debug)]
pub struct Confirmed {
    pub(super) step: MotorStep,
    pub(super) answered: Time,
    pub(super) starts_left: u32,
    /// Starts that a hand ended early, and that were given back.
    pub(super) voids: u32,
    pub(super) first: bool,
    change: BoardChange,
}

impl Confirmed {
    /// What the operator confirmed; `None` if it was asked of anything but a motor step, or with another word than that
    /// step's.
    #[must_use]
    pub fn of(typed: TypedWord) -> Option<Self> {
        let About::Motor(step) = typed.about else { return None };
        let (starts_left, change) = (step.starts, step.change.clone());
        (typed.word == step.word()).then_some(Self {
            step,
            answered: typed.at,
            starts_left,
            voids: 0,
            first: true,
            change,
        })
    }

    /// The step that was confirmed.
    #[must_use]
    pub fn step(&self) -> &MotorStep {
        &self.step
    }

    /// What is left of it: the same step with the starts that were not made.
    #[must_use]
    pub fn rest(&self) -> MotorStep {
        MotorStep { starts: self.starts_left, ..self.step.clone() }
    }

    /// Whether it was answered of late, and starts are left of it.
    pub(super) fn is_young(&self, now: Time) -> bool {
        self.starts_left > 0 && now.since(self.answered) <= FIRST_START
    }

    /// Whether this change is what was asked, and was not made yet.
    pub(super) fn covers(&self, change: &BoardChange, now: Time) -> Result<(), Fault> {
        if !self.is_young(now) {
            return Err(Fault::StaleAnswer);
        }
        let differs = |asked: &BoardChange| {
            !change.writes.is_empty() && change.writes_others_than(asked)
                || change.store && !asked.store
                || change.restart && !asked.restart
        };
        if change.is_nothing() || differs(&self.step.change) {
            return Err(other_answer());
        }
        if differs(&self.change) { Err(Fault::StaleAnswer) } else { Ok(()) }
    }

    /// A door let this change through: it is made once.
    pub(super) fn uses(&mut self, change: &BoardChange) {
        if !change.writes.is_empty() {
            self.change.writes.clear();
        }
        self.change.store &= !change.store;
        self.change.restart &= !change.restart;
    }

    /// Whether it was asked of a start.
    pub(super) fn is_of_a_start(&self) -> Result<(), Fault> {
        match self.step.by {
            StartedBy::Switch { .. } | StartedBy::Sound { .. } | StartedBy::Command => Ok(()),
            StartedBy::Change { .. } | StartedBy::WorkedSwitch => Err(other_answer()),
        }
    }

    /// Whether it was asked of switches that are worked, of late and once.
    pub(super) fn is_of_switches(&self, now: Time) -> Result<(), Fault> {
        match self.step.by {
            StartedBy::WorkedSwitch if self.is_young(now) => Ok(()),
            StartedBy::WorkedSwitch => Err(Fault::StaleAnswer),
            StartedBy::Switch { .. } | StartedBy::Sound { .. } | StartedBy::Command | StartedBy::Change { .. } => {
                Err(other_answer())
            }
        }
    }
}

fn other_answer() -> Fault {
    Fault::refused("What was confirmed is something else.", "Start again, and answer the question of this step.")
}

/// Proof that the craft was seen at rest, and leave to make just the changes that were written down. Every write, store
/// and restart takes one.
///
/// ```compile_fail,E0603
/// let forge = |permit| quadjig::interlock::Stillness(permit);
/// ```
/// ```compile_fail,E0308
/// fn twice(one: &quadjig::interlock::Stillness) -> quadjig::interlock::Stillness {
///     one.clone()
/// }
/// ```
#[derive(Debug)]
pub struct Stillness(pub(super) Rc<Permit>);

impl Stillness {
    /// Whether it was given for this.
    pub(super) fn permits(&self, of: impl Fn(&Permit) -> bool) -> Result<(), Fault> {
        let refused = || Fault::refused("This step has no leave for that.", "Start again.");
        if of(&self.0) { Ok(()) } else { Err(refused()) }
    }
}

/// What a [`Stillness`] permits, kept by the interlock as long as the token lives.
#[derive(Debug)]
pub(super) struct Permit {
    /// What may be made, as its intent was journalled.
    pub change: BoardChange,
    /// The change can turn motors: when it was confirmed, unless it was because nothing could turn.
    pub confirmed: Option<Time>,
    /// The change can turn motors.
    pub turns_motors: bool,
}

/// Leave to turn motors, lent for one start.
///
/// ```compile_fail,E0603
/// # fn made(cleared: std::rc::Rc<quadjig::seam::ui::MotorStep>) {
/// let forged = quadjig::interlock::Clearance(cleared);
/// # }
/// ```
/// ```compile_fail,E0308
/// fn twice(lent: &quadjig::interlock::Clearance) -> quadjig::interlock::Clearance {
///     lent.clone()
/// }
/// ```
#[derive(Debug)]
pub struct Clearance(pub(super) Rc<MotorStep>);

impl Clearance {
    /// The confirmed step.
    #[must_use]
    pub fn step(&self) -> &MotorStep {
        &self.0
    }
}

/// A change of the board as it comes to its door.
#[derive(Debug, Clone, Default)]
pub struct ChangeStep<'p> {
    /// What the plan says must hold; each is judged.
    pub guards: &'p [Guard],
    /// What is made, as it was written down.
    pub change: BoardChange,
    /// Whether the plan says that it can turn motors.
    pub turns_motors: bool,
}
