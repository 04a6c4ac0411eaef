//! The interlock: why nothing turns by surprise, in one room.
//!
//! Events of the wire come in (`opened`, `lost`, `hear`), the moment is judged (`judge`), and orders come out: stop bytes,
//! the hold, who is asked who it is. What changes or drives a board passes one door a step (`doors`), and each frame is
//! judged again as it leaves (`gate`). Whoever adds a procedure, a command or a link can't get round it: every state and
//! every fact of a craft has its only place here. Must not be here: procedures, bytes, waiting, words beyond those of a
//! stop.
//!
//! | file | what it argues |
//! |---|---|
//! | `phase` | the states, and the only ways between them |
//! | `contact`, `clock`, `questions`, `rhythm`, `signals` | what is known of this very craft, and whether it still is |
//! | `authority` | who may be stopped |
//! | `watch`, `outputs` | what could turn, and whether what is seen may go on |
//! | `stop`, `heat`, `start` | a stop, a start, and how long motors turned |
//! | `restart`, `power_cycle` | a restart that was announced, and what showed it; a board that goes dark |
//! | `guards`, `doors`, `drives`, `tokens` | what must hold before a step, and what that yields |
//! | `gate` | what each frame may do as it leaves |
//! | `guardian` | what is known of the process that stops the motors when this one cannot |
//! | `events`, `steps`, `judge` | what happens, what is under way, and what the moment means |

mod attested;
mod authority;
mod clock;
mod contact;
mod contact_end;
pub mod craft;
mod doors;
mod drives;
mod events;
mod gate;
pub mod guardian;
pub mod guards;
mod heat;
mod judge;
mod outputs;
mod phase;
mod power_cycle;
mod prompt;
mod questions;
mod restart;
mod rhythm;
pub mod signals;
mod silence;
mod start;
mod steps;
mod stop;
mod stream;
mod tokens;
mod watch;

pub use authority::Authority;
pub use contact::{Doubt, LAG_MOST, WireKind};
pub use contact_end::Ended;
pub use drives::VOIDS;
pub use gate::FrameVerdict;
pub use guardian::Guardian;
pub use heat::{HeatNeeds, PAUSE};
pub use phase::{Happening, Phase};
pub use prompt::{ANTENNA_ON, Answer, BATTERY_IN, BATTERY_OUT, COOL, PROPS_OFF, Prompt, TypedWord};
pub use restart::RestartSeen;
pub use rhythm::AGE_MOST;
pub use start::{Breaks, COASTS, FIRST_START, INVITATION, Start, Tested};
pub use tokens::{ChangeStep, Clearance, Confirmed, Stillness};

use crate::board::binding::BoundNow;
use crate::board::sheet::Sheet;
use crate::board::signals::Identity;
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::ui::{MotorStep, UiEvent};
use authority::Warrant;
use contact::Contact;
use craft::Facts;
use heat::Heat;
use questions::{Questions, SILENCE_OVER};
use restart::Announced;
use signals::{Pack, Signals};
use std::collections::BTreeSet;
use std::rc::{Rc, Weak};
use std::time::Duration;
use stop::Stop;
use tokens::Permit;

/// How often it judges at least while anything may turn.
const WATCH: Duration = Duration::from_millis(20);
/// How often it judges otherwise: so long after an event the next is due at the latest.
pub const QUIET: Duration = Duration::from_millis(100);
/// How often the hold is renewed at most.
const RENEW: Duration = Duration::from_millis(40);
/// How long a restart may take.
pub const BACK_WITHIN: Duration = Duration::from_secs(30);
/// Frames of nobody knows whom that say armed are told of after this time.
const UNPROVED_WORDS: Duration = Duration::from_millis(500);

/// What is to be done now, in this order.
#[derive(Debug, Clone)]
pub enum Order {
    /// Stop bytes leave past every queue.
    Stop {
        /// As the second try only.
        force: bool,
    },
    /// The hold is renewed.
    Hold,
    /// The hold ends.
    Release,
    /// Whoever is on the wire is asked who it is.
    Identify,
    /// The board is asked once whether it is armed.
    ArmedFlag,
    /// The streams that the guards need are asked for.
    Streams,
    /// The wire is looked for.
    Reopen,
    /// A stop has begun: whatever was under way is over.
    StopBegan,
    /// Something is said.
    Say(UiEvent),
    /// What runs ends with this.
    Ends(Fault),
}

/// See the module. Nobody else sets any of it. A copy is for whoever explores what may follow; it takes no leave with it,
/// as that is with the one token of a door.
#[derive(Debug, Clone, Default)]
pub struct Interlock {
    now: Time,
    looks_only: bool,
    wire: Option<WireKind>,
    signals: Signals,
    sheet: Option<Rc<Sheet>>,
    craft: Option<Facts>,
    /// Arm bands that are being written: until they were read the board may have them.
    bands_in_writing: Vec<BoundNow>,
    contact: Option<Contact>,
    /// Whom this session is about, once its board was taken in.
    session_craft: Option<Identity>,
    /// When another was heard last on this opening, or beside it: whatever is sent may reach that one.
    another: Option<Time>,
    phase: Phase,
    start: Option<Start>,
    stop: Option<Stop>,
    warrant: Option<Warrant>,
    restart: Option<Announced>,
    permit: Weak<Permit>,
    clearance: Weak<MotorStep>,
    /// The answer whose starts are under way, and when the craft was seen at rest after the last of them.
    series: Option<(Time, Option<Time>)>,
    /// Tests of what stops it that failed last: neither a restart nor another contact makes that good.
    failed: BTreeSet<Tested>,
    heat: Heat,
    held: Option<Time>,
    guardian: Guardian,
    /// Identity questions whose answers may still come.
    asked: Questions,
    /// When a question who is there left last, and when the next is due.
    asked_at: Time,
    ask_at: Time,
    ask_flag_at: Time,
    pack: Pack,
    plug_in_invited: bool,
    armed_noted: bool,
    /// A stop was left before anything was seen at rest: until when what holds its bytes goes on by itself.
    left_until: Option<Time>,
    terminal_gone: bool,
    encoding_proved: bool,
    writing_ended: bool,
    /// Our own signs of life may leave: the craft was seen at rest, or takes up the time of signatures from nothing else.
    signs_of_life: bool,
    orders: Vec<Order>,
}

/// What is known, to be read by everybody.
impl Interlock {
    /// The signals as they stand.
    #[must_use]
    pub fn signals(&self) -> &Signals {
        &self.signals
    }

    /// Where the bench stands with the craft.
    #[must_use]
    pub fn phase(&self) -> Phase {
        self.phase
    }

    /// The start under way.
    #[must_use]
    pub fn start(&self) -> Option<&Start> {
        self.start.as_ref()
    }

    /// The facts of the craft, once its sheet was matched and its settings read.
    ///
    /// # Errors
    /// Before that.
    pub fn facts(&self) -> Result<&Facts, Fault> {
        self.craft
            .as_ref()
            .ok_or_else(|| Fault::refused("Nothing is known of this craft yet.", "The settings have to be read first."))
    }

    /// The sheet of the craft.
    #[must_use]
    pub fn sheet(&self) -> Option<&Rc<Sheet>> {
        self.sheet.as_ref()
    }

    /// Who is on the wire, if that was asked on this opening and is sure.
    #[must_use]
    pub fn who(&self) -> Option<&Identity> {
        self.contact.as_ref().map(|contact| &contact.identity)
    }

    /// The wire is open.
    #[must_use]
    pub fn link_up(&self) -> bool {
        self.wire.is_some()
    }

    /// The board on the wire was asked who it is, and is the one that this session is about.
    #[must_use]
    pub fn is_session_craft_there(&self) -> bool {
        self.contact.as_ref().is_some_and(|contact| self.is_session_craft(&contact.identity))
            && self.session_craft.is_some()
    }

    /// Whether the battery is in, as measured; else as typed in this contact.
    #[must_use]
    pub fn pack(&self) -> Pack {
        match self.signals.pack(self.now) {
            Pack::Unknown if self.said_out() => Pack::Out,
            Pack::Unknown if self.said_in() => Pack::In,
            pack => pack,
        }
    }

    /// Could anything turn? See `watch`.
    #[must_use]
    pub fn could_turn(&self) -> bool {
        watch::could_turn(&self.signals, self.craft.as_ref(), self.now)
    }

    /// Whether everything has been at rest for a second.
    #[must_use]
    pub fn rests(&self) -> bool {
        let speeds = self.craft.as_ref().map_or(0, Facts::speeds_told);
        self.contact.as_ref().is_some_and(|contact| contact.rests(&self.signals, speeds, self.now))
    }

    /// Whether propellers off is attested and still stands.
    #[must_use]
    pub fn props_off(&self) -> bool {
        self.contact.as_ref().is_some_and(|contact| contact.attested.props_stand(self.now))
    }

    /// Whether the video antenna is attested.
    #[must_use]
    pub fn antenna_on(&self) -> bool {
        self.contact.as_ref().is_some_and(|contact| contact.attested.antenna_on)
    }

    /// What one more turning needs first.
    #[must_use]
    pub fn heat(&self, longest: Duration) -> HeatNeeds {
        self.heat.needs(longest, self.now)
    }

    /// Another was heard on this opening of late: whatever is sent may reach that one as well.
    pub(super) fn another_hears(&self) -> bool {
        self.another.is_some_and(|heard| self.now.since(heard) < SILENCE_OVER)
    }

    /// What may be sent to whoever is on the wire.
    #[must_use]
    pub fn authority(&self) -> Authority {
        if self.looks_only || self.another_hears() {
            return Authority::Nothing;
        }
        authority::authority(self.contact.as_ref(), self.warrant.as_ref(), self.wire, self.now)
    }

    /// When it wants to be woken at the latest.
    #[must_use]
    pub fn wake(&self) -> Time {
        match (self.phase, &self.stop) {
            (Phase::Stopping, Some(stop)) => stop.wake().min(self.now + WATCH),
            (Phase::SwitchesWorked | Phase::Invited | Phase::Turning, _) => self.now + WATCH,
            _ => self.now + QUIET,
        }
    }

    /// The round trip of late.
    #[must_use]
    pub fn round_trip(&self) -> Option<Duration> {
        self.contact.as_ref().and_then(|contact| contact.round_trip(self.now))
    }

    /// Whether the round trip was measured by a question that left no earlier than this.
    #[must_use]
    pub fn is_measured_since(&self, then: Time) -> bool {
        self.contact.as_ref().is_some_and(|contact| contact.is_measured_since(then))
    }

    fn is_session_craft(&self, identity: &Identity) -> bool {
        self.session_craft.as_ref().is_none_or(|craft| craft.is_same_craft(identity))
    }

    fn said_out(&self) -> bool {
        self.contact.as_ref().is_some_and(|contact| contact.attested.battery_out)
    }

    /// Whether that word settles that nothing is fed: it says nothing of what USB feeds.
    fn unfed_by_word(&self) -> bool {
        self.said_out() && self.craft.as_ref().is_some_and(|craft| !craft.usb_feeds_motors)
    }

    fn said_in(&self) -> bool {
        self.contact.as_ref().is_some_and(|contact| contact.attested.battery_in)
    }

    fn may_ask(&self) -> bool {
        self.looks_only || self.contact.as_ref().is_some_and(|contact| self.is_session_craft(&contact.identity))
    }
}
