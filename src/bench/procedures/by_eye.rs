//! What no signal tells of a start: whether each motor started and turned is asked, corner by corner.
//!
//! Promises: of a motor whose speed is told nothing is asked, and a start that nobody looked at closely enough can be made
//! again. Must not be here: how speeds are judged (see `judged`).

use crate::bench::session::context::SessionContext;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Answer, MotorSeen, Reply, StartSeen, Tone};

/// Said of a motor by who stood there.
const TURNS: &str = "turns, as you saw";
const DOES_NOT: &str = "did not start at once and turn evenly, as you saw";

/// Whether no speed is told of a motor.
fn untold(motor: &MotorSeen) -> bool {
    motor.rpm.is_none() && !motor.turns
}

impl SessionContext {
    /// Completes what was judged of a start by what the operator saw. `false`: it is to be made again.
    ///
    /// # Errors
    /// Declined.
    pub(in crate::bench) async fn told_by_eye(&self, start: &mut StartSeen) -> Result<bool, Fault> {
        let silent: Vec<String> = start.motors.iter().filter(|m| untold(m)).map(|m| m.corner.clone()).collect();
        if silent.is_empty() {
            return Ok(true);
        }
        let mut choices = vec![('y', "yes: every one of them".to_owned())];
        choices.extend(('1'..='9').zip(&silent).map(|(key, corner)| (key, format!("no: the {corner} motor did not"))));
        choices.push(('n', "no: more than one did not".to_owned()));
        choices.push(('a', "again: I did not see it, or not all of it".to_owned()));
        let lines = vec![format!("No speed is told of {}, so only you saw it.", silent.join(", "))];
        let title = "Did each of these motors start at once, and turn evenly?";
        let question = self.question(About::Choice, title, lines, Reply::Choice(choices));
        let bad: Vec<&String> = match self.ask(question).await {
            Answer::Chosen('y') => Vec::new(),
            Answer::Chosen('n') => silent.iter().collect(),
            Answer::Yes { .. } | Answer::Named(_) | Answer::Volts(_) | Answer::Chosen('a') => return Ok(false),
            Answer::Chosen(key) => {
                let at = key.to_digit(10).and_then(|digit| usize::try_from(digit).ok()?.checked_sub(1));
                at.and_then(|at| silent.get(at)).into_iter().collect()
            }
            Answer::Declined(why) => return Err(Fault::Declined { what: "how the motors turned".to_owned(), why }),
        };
        for motor in start.motors.iter_mut().filter(|motor| untold(motor)) {
            let turns = !bad.contains(&&motor.corner);
            if turns { TURNS } else { DOES_NOT }.clone_into(&mut motor.judged);
            (motor.turns, motor.at_once) = (turns, turns);
        }
        let said =
            if bad.is_empty() { "started at once and turned evenly" } else { "did not all start and turn evenly" };
        self.line(Tone::Attested, format!("At {} the motors {said}.", start.pulse));
        Ok(true)
    }
}

/// Whether all of a value was told by an eye: nothing is left to ask of it.
pub(in crate::bench) fn by_eye(starts: &[StartSeen], of: crate::language::units::Pulse) -> bool {
    let all = starts.iter().filter(|start| start.pulse == of).flat_map(|start| &start.motors);
    all.into_iter().all(|motor| motor.rpm.is_none() && motor.turns)
}
