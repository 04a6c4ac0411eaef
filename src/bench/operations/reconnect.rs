//! The same board again after its restart: it may come back late, under another name, or among others.
//!
//! Whoever answers is told from the others by its id alone. Promises: until it is known to be the same board, only
//! signs of life and the question who it is are sent; another board is left alone. A port without a serial number
//! may come back under another name: each place that the world finds is tried, and asked only once it gives a sign of
//! life. A bootloader that shows first, gives none and leaves is survived. Must not be here: where ports are looked for.

use crate::bench::session::Inquiry;
use crate::bench::session::context::SessionContext;
use crate::board::signals::Identity;
use crate::interlock::BACK_WITHIN;
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::{Effect, OpenError};
use std::time::Duration;

/// How long one place is listened to before the next is tried.
const LIFE: Duration = Duration::from_secs(3);

impl SessionContext {
    /// Waits until the board is back and says that it is the same.
    ///
    /// # Errors
    /// Not back until then, or another board at the only place where it can be.
    pub(in crate::bench) async fn come_back(&self, was: &Identity, until: Time) -> Result<(), Fault> {
        let mut other = None;
        loop {
            if !self.link_up() {
                let opened = self.reopen(until.since(self.now())).await;
                found_at(opened, was, other.as_ref())?;
            }
            let among_others =
                self.port.borrow().as_ref().is_some_and(|port| port.usb.is_some() && port.serial.is_none());
            let alive = !among_others || self.gives_life(until).await;
            let now = if alive { self.who_is_there(was).await } else { None };
            if now.as_ref().is_some_and(|now| now.id == was.id) {
                if was.name.is_some() {
                    self.interlock_mut().named(was);
                }
                return if other.is_some() { self.learn_anew().await } else { Ok(()) };
            }
            let told = now.is_some();
            other = now.or(other);
            if self.now() >= until || other.is_some() && !among_others {
                return Err(not_back(was, other.as_ref()));
            }
            if among_others && self.link_up() {
                let opened = self.not_this(told, until.since(self.now())).await;
                found_at(opened, was, other.as_ref())?;
            }
        }
    }

    /// Whether the open port gives a sign of life; nothing is asked of one that gives none.
    async fn gives_life(&self, until: Time) -> bool {
        let opened = self.now();
        let alive = |bench: &Self| {
            let heard = bench.look(|live| live.armed.last().is_some_and(|sign| sign.at > opened));
            (heard || !bench.link_up()).then_some(heard)
        };
        self.until((opened + LIFE).min(until), alive).await == Some(true)
    }

    /// Who answers at the open port. One that never said who it is, is taken for the same where it is alive.
    async fn who_is_there(&self, was: &Identity) -> Option<Identity> {
        self.interlock_mut().forget_identity();
        let answered = self.request(Inquiry::Identify, "asking who the board is").await.is_ok();
        let alive = self.look(|live| live.armed.last().is_some()) && self.link_up();
        let unsaid = (!answered && alive && was.name.is_some()).then(Identity::unsaid);
        let now = self.look(|live| live.identity.clone()).filter(|_| answered).or(unsaid);
        if now.is_none() {
            self.sleep(Duration::from_millis(100)).await;
        }
        now
    }

    /// After another board answered, or this one was dark, nothing that was learned of the numbers holds any more.
    ///
    /// # Errors
    /// The settings could not be read.
    pub(in crate::bench) async fn learn_anew(&self) -> Result<(), Fault> {
        self.request(Inquiry::List, "reading all settings").await
    }

    /// Leaves what is open, and looks on for the board.
    async fn not_this(&self, other: bool, within: Duration) -> Result<(), Fault> {
        self.interlock_mut().left();
        let _of_before = self.replies().opened.take();
        self.act(Effect::NotThis { other });
        self.opened(within).await.map(|_| ())
    }
}

fn not_back(was: &Identity, other: Option<&Identity>) -> Fault {
    match other {
        Some(now) => Fault::AnotherBoard { was: was.told(), now: now.told() },
        None => Fault::NotBack(BACK_WITHIN.as_secs()),
    }
}

/// A port that was not found in time is the board's failure, not the port's.
fn found_at<T>(opened: Result<T, Fault>, was: &Identity, other: Option<&Identity>) -> Result<(), Fault> {
    match opened {
        Ok(_) => Ok(()),
        Err(Fault::NotBack(_) | Fault::Open(OpenError::Missing(_) | OpenError::Vanished(_))) => {
            Err(not_back(was, other))
        }
        Err(fault) => Err(fault),
    }
}
