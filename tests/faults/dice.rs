//! The stream of decisions of one seed: which kinds of fault it has, when each happens, and how.
//!
//! Promises: the seed alone decides, and each kind draws from its own part of the stream, so that a single
//! decision that is left out changes no other's number. Must not be here: what a fault does.

use quadjig::interlock::Phase;
use std::collections::{BTreeMap, BTreeSet};

macro_rules! kinds {
    ($($kind:ident $name:literal $rare:literal,)*) => {
        /// A kind of fault.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Kind { $($kind,)* }

        impl Kind {
            pub const ALL: &'static [Self] = &[$(Self::$kind,)*];

            pub fn name(self) -> &'static str {
                match self { $(Self::$kind => $name,)* }
            }

            /// Whether a run has only a few of it, at moments that matter; else each frame may have it.
            pub fn rare(self) -> bool {
                match self { $(Self::$kind => $rare,)* }
            }
        }
    };
}

impl Kind {
    /// Whether it is an event, rather than what a board is like.
    fn sudden(self) -> bool {
        use Kind::{
            AnotherReplugged, Battery, BatteryFed, Beside, Echo, Freeze, GuardianKilled, GuardianStopped, Halted,
            Interrupt, Key, Killed, Leaves, OtherVehicle, Paste, Radio, Restart, Silence, Stall, Suspend,
            SwappedInSilence, SwappedQuietly, Switch, Throttle, Tilted, TooSoon, Unplug,
        };
        matches!(
            self,
            AnotherReplugged
                | Battery
                | BatteryFed
                | Beside
                | Echo
                | Freeze
                | GuardianKilled
                | GuardianStopped
                | Halted
                | Interrupt
                | Key
                | Killed
                | Leaves
                | OtherVehicle
                | Paste
                | Radio
                | Restart
                | Silence
                | Stall
                | Suspend
                | SwappedInSilence
                | SwappedQuietly
                | Switch
                | Throttle
                | Tilted
                | TooSoon
                | Unplug
        )
    }
}

/// When a fault may fall that falls seldom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moment {
    Asked,
    Answered,
    Invited,
    /// A frame that acts left.
    Acts,
    /// Motors begin to be driven.
    Turning,
    Stops,
    Step,
    /// The wire was opened: nobody was met yet.
    Opens,
    /// A store begins.
    Stores,
}

/// From this seed on some have an eye for what is over soon: those before it stay what they were.
const SHORT: u64 = 400_001;
/// From this seed on there are kinds that those before it have not, from this one on.
pub const MORE: u64 = 1_500_001;
const FIRST_OF_MORE: Kind = Kind::NoSpeeds;

kinds! {
    Drop "drop" false,
    Duplicate "duplicate" false,
    BitFlip "bit-flip" false,
    Truncate "truncate" false,
    Split "split" false,
    Join "join" false,
    Delay "delay" false,
    LateAnswer "late-answer" false,
    Garbage "garbage" false,
    Echo "echo" true,
    Stall "stall" true,
    Silence "silence" true,
    OtherVehicle "other-vehicle" true,
    Unplug "unplug" true,
    AnotherReplugged "another-replugged" true,
    Beside "another-beside" true,
    SwappedQuietly "swapped-quietly" true,
    SwappedInSilence "swapped-in-silence" true,
    Restart "restart" true,
    Hollow "ack-without-deed" true,
    Unanswered "deed-without-ack" true,
    Late "deed-late" true,
    StoresNot "taken-not-stored" true,
    SlowFlag "flag-1-hz" true,
    NoSensor "no-voltage-sensor" true,
    NoId "id-zero" true,
    Clock "clock-off" true,
    ClockJump "clock-jump" true,
    Lag "constant-lag" true,
    MotorStuck "motor-stuck" true,
    Rearms "re-arms" true,
    ByChange "arms-by-change" true,
    Freeze "freeze" true,
    Suspend "suspend" true,
    WrongWord "wrong-word" true,
    FalseWord "false-attestation" true,
    NoAnswer "no-answer" true,
    EarlyHand "early-hand" true,
    LateHand "late-hand" true,
    Switch "switch-at-any-time" true,
    Throttle "throttle-at-any-time" true,
    Battery "battery-at-any-time" true,
    Radio "radio-off" true,
    Key "key" true,
    Interrupt "interrupt" true,
    Leaves "terminal-closed" true,
    Killed "killed" true,
    Halted "program-stopped" true,
    GuardianKilled "guardian-killed" true,
    GuardianStopped "guardian-stopped" true,
    DiskOnce "disk-fails-once" true,
    DiskFull "disk-full" true,
    DiskKills "killed-at-the-disk" true,
    NoSpeeds "no-speeds" true,
    FalseSpeeds "false-speeds" true,
    Leases "lease-not-kept" true,
    Swallows "stops-not-heard" true,
    BatteryFed "fed-by-battery-alone" true,
    WindsUp "winds-up" true,
    Tilted "tilted" true,
    Paste "paste" true,
    TooSoon "switch-in-question" true,
}

/// One fault that happened: its kind and which of its decisions it was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Decision {
    pub kind: Kind,
    pub count: u64,
}

impl std::fmt::Display for Decision {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}#{}", self.kind.name(), self.count)
    }
}

impl std::str::FromStr for Decision {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (name, count) = text.split_once('#').ok_or_else(|| format!("{text}: say it as drop#3"))?;
        let kind = kind(name)?;
        Ok(Self { kind, count: count.parse().map_err(|_| format!("{text}: not a number"))? })
    }
}

/// A kind by its name.
pub fn kind(name: &str) -> Result<Kind, String> {
    let found = Kind::ALL.iter().copied().find(|kind| kind.name() == name);
    found.ok_or_else(|| format!("there is no kind of fault `{name}`"))
}

/// What of a seed is played, to make its failure small; the default is all.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Part {
    /// Just these decisions.
    pub just: Option<BTreeSet<Decision>>,
    /// With everything that left and was shown, in words.
    pub tells: bool,
}

/// See the module.
#[derive(Debug, Clone)]
pub struct Dice {
    seed: u64,
    on: BTreeSet<Kind>,
    part: Part,
    drawn: BTreeMap<Kind, u64>,
    /// Everything that happened.
    pub fired: Vec<(Decision, String)>,
    /// The state that the program is in.
    pub phase: Phase,
    /// Rare faults that may still happen.
    left: u32,
    /// How likely each frame has a fault, one in so many.
    one_in: u64,
    /// Bytes that decide in the seed's place, and how many were taken.
    bytes: Option<(Vec<u8>, usize)>,
    /// The frames so far that are more than telemetry, by their numbers from 1.
    pub talk: Vec<u64>,
    /// All frames so far.
    pub frames: u64,
}

/// So many of those bytes say what is decided once; each after them whether something falls.
const ONCE: usize = 32;

/// `splitmix64` (Steele, Lea, Flood 2014).
fn mix(value: u64) -> u64 {
    let mut z = value.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

impl Dice {
    /// A swarm: one seed in eight has no fault at all, another few kinds, another many.
    pub fn new(seed: u64, part: Part) -> Self {
        Self::of(seed, part, None)
    }

    /// Decisions that were handed over, byte by byte; once they are used up, nothing falls any more.
    pub fn of_bytes(bytes: &[u8]) -> Self {
        Self::of(0, Part::default(), Some((bytes.to_vec(), ONCE)))
    }

    /// Just these decisions, of kinds that fall at no other time; which of them falls how is the seed's.
    pub fn just(seed: u64, kinds: &[Kind], decisions: &[Decision]) -> Self {
        let mut dice = Self::of(seed, Part { just: Some(decisions.iter().copied().collect()), tells: false }, None);
        dice.on = kinds.iter().copied().collect();
        dice
    }

    fn of(seed: u64, part: Part, bytes: Option<(Vec<u8>, usize)>) -> Self {
        let mut dice = Self {
            seed,
            talk: Vec::new(),
            frames: 0,
            bytes,
            on: BTreeSet::new(),
            part,
            drawn: BTreeMap::new(),
            fired: Vec::new(),
            phase: Phase::NoContact,
            left: 0,
            one_in: 1,
        };
        let share = match dice.choose("share", 8) {
            0 => 0,
            few @ 1..=5 => 2 + 2 * few,
            _ => 50,
        };
        let all = || Kind::ALL.iter().copied().filter(|kind| *kind < FIRST_OF_MORE || dice.has_more());
        let on: BTreeSet<Kind> = all().filter(|kind| dice.choose(kind.name(), 100) < share).collect();
        let rare = |kind: &Kind| kind.rare() && (dice.eye() != Some(Moment::Turning) || kind.sudden());
        let rare: Vec<Kind> = all().filter(rare).collect();
        dice.on = on;
        let pet = rare[usize::try_from(dice.choose("pet", rare.len() as u64)).unwrap_or(0)];
        dice.on.extend((share > 0).then_some(pet));
        dice.left = 1 + u32::try_from(dice.choose("rare", 5)).unwrap_or(0);
        // Where everything falls, each falls seldom: else nobody gets past the first contact.
        let many = if share > 20 { 5 } else { 1 };
        dice.one_in = many * [2000, 600, 200, 60][usize::try_from(dice.choose("one in", 4)).unwrap_or(0)];
        dice
    }

    /// A number below another, for what is decided once.
    pub fn choose(&self, what: &str, below: u64) -> u64 {
        let what = what
            .bytes()
            .fold(0xCBF2_9CE4_8422_2325, |sum: u64, byte| (sum ^ u64::from(byte)).wrapping_mul(0x0100_0000_01B3));
        if let Some((bytes, _)) = &self.bytes {
            let at = usize::try_from(mix(what) % ONCE as u64).unwrap_or(0);
            return u64::from(bytes.get(at).copied().unwrap_or(0)) % below.max(1);
        }
        mix(mix(self.seed) ^ what) % below.max(1)
    }

    /// A seed has an eye for some moments, so that late ones are hit as often as the many early ones; `None`: for all.
    pub fn eye(&self) -> Option<Moment> {
        use Moment::{Acts, Answered, Invited, Opens, Stops, Stores, Turning};
        let all = [None, None, Some(Turning), Some(Turning), Some(Answered), Some(Invited), Some(Acts), Some(Stops)];
        if self.seed >= SHORT {
            match self.choose("short", 10) {
                0 => return Some(Opens),
                1 => return Some(Stores),
                _ => {}
            }
        }
        all[usize::try_from(self.choose("eye", all.len() as u64)).unwrap_or(0)]
    }

    /// Whether it is one of those for which there is more that may befall them.
    pub fn has_more(&self) -> bool {
        self.seed >= MORE
    }

    /// Without these, whatever the seed says.
    pub fn without(&mut self, kinds: &[Kind]) {
        self.on.retain(|kind| !kinds.contains(kind));
    }

    /// With these and no others, whatever the seed says.
    pub fn only(&mut self, kinds: &[Kind]) {
        self.on = kinds.iter().copied().collect();
    }

    /// Whether a seed has a kind of fault.
    pub fn has(&self, kind: Kind) -> bool {
        self.on.contains(&kind)
    }

    /// Whether it has any.
    pub fn has_any(&self) -> bool {
        !self.on.is_empty()
    }

    /// Whether this fault happens here, one time in so many.
    fn falls(&mut self, kind: Kind, one_in: u64, costs: bool) -> Option<u64> {
        if !self.on.contains(&kind) {
            return None;
        }
        let count = self.drawn.entry(kind).or_default();
        *count += 1;
        let decision = Decision { kind, count: *count };
        let mut number = self.choose(kind.name(), u64::MAX) ^ mix(*self.drawn.get(&kind).unwrap_or(&0));
        if let Some((bytes, at)) = &mut self.bytes {
            let byte = *bytes.get(*at)?;
            *at += 1;
            // What may fall often falls as seldom as a mutation makes it.
            if !byte.is_multiple_of(if one_in > 8 { 32 } else { 2 }) {
                return None;
            }
            number = u64::from(byte) ^ mix(*at as u64);
        } else if let Some(just) = &self.part.just {
            if !just.contains(&decision) {
                return None;
            }
        } else if !mix(number).is_multiple_of(one_in) {
            return None;
        } else if costs {
            self.left = self.left.checked_sub(1)?;
        }
        self.fired.push((decision, format!("{:?}", self.phase)));
        Some(mix(number ^ 0xF00D))
    }

    /// Whether it happens to this frame; a number that says how.
    pub fn frame(&mut self, kind: Kind) -> Option<How> {
        self.falls(kind, self.one_in, false).map(How)
    }

    /// Whether it happens at a moment that matters, one time in so many.
    pub fn moment(&mut self, kind: Kind, one_in: u64) -> Option<How> {
        self.falls(kind, one_in, true).map(How)
    }

    /// What was decided falls now: in the state that the program is in.
    pub fn fell(&mut self, decision: usize) {
        if let Some((_, phase)) = self.fired.get_mut(decision) {
            *phase = format!("{:?}", self.phase);
        }
    }

    /// Whether it happens to what the operator does.
    pub fn hand(&mut self, kind: Kind) -> Option<How> {
        self.falls(kind, 6, true).map(How)
    }

    /// Whether the craft is made so.
    pub fn made(&mut self, kind: Kind) -> Option<How> {
        self.falls(kind, 2, false).map(How)
    }
}

/// How a fault happens, a number at a time.
#[derive(Debug, Clone, Copy)]
pub struct How(u64);

impl How {
    pub fn below(&mut self, below: u64) -> u64 {
        self.0 = mix(self.0);
        self.0 % below.max(1)
    }

    /// One of some.
    pub fn of<T: Copy>(&mut self, all: &[T]) -> T {
        all[usize::try_from(self.below(all.len() as u64)).unwrap_or(0)]
    }

    /// So many ms, from least to most; short times as often as long ones.
    pub fn ms(&mut self, least: u64, most: u64) -> std::time::Duration {
        let mut top = least.max(10);
        while top < most && self.below(3) > 0 {
            top = (top * 3).min(most);
        }
        std::time::Duration::from_millis(least + self.below(top.saturating_sub(least) + 1))
    }
}
