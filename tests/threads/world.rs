//! The files of `src/world/` that pump the machines, with a clock of the checker's.
//!
//! Must not be here: any code of theirs.

pub mod clock {
    use crate::measure::time::Time;

    #[derive(Debug, Clone, Copy)]
    pub struct Clock(Time);

    impl Clock {
        pub fn start() -> Self {
            Self(crate::passing::now())
        }

        pub fn now(&self) -> Time {
            Time(0) + crate::passing::now().since(self.0)
        }
    }
}
#[path = "../../src/world/helper.rs"]
mod helper;
#[path = "../../src/world/mailbox.rs"]
pub mod mailbox;
#[path = "../../src/world/writer.rs"]
pub mod writer;

mod turn {
    pub(super) fn turn() {}
}

/// As the panic hook does; whether any bytes were held.
pub fn breaks_down(longest: real::time::Duration) -> bool {
    writer::fire_all(longest)
}

/// As a wire's thread does.
pub fn post_bytes(to: &mailbox::Mailbox, event: crate::seam::Event, closed: &crate::sync::atomic::AtomicBool) {
    to.post_bytes(event, closed);
}
