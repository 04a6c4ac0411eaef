//! The loop that joins a session to a world: one event at a time until the session has ended.

use crate::bench::session::Session;
use crate::seam::World;
use crate::seam::fault::Fault;

/// Runs a session to its end.
///
/// # Errors
/// What ended it before its end.
pub fn drive(session: &mut Session, world: &mut dyn World) -> Result<(), Fault> {
    loop {
        let (now, event) = world.next(session.wake());
        session.handle(now, event, &mut |effect| world.act(effect));
        if let Some(result) = session.ended() {
            return result.clone();
        }
    }
}
