//! Which channel each stick moves, and which way; and each stick held over and let go, for what else is told of it.
//!
//! The computation stands in `measure::sticks`; here are the hands and the frames.

use crate::bench::session::context::SessionContext;
use crate::board::radio_card::StickEntry;
use crate::interlock::guards;
use crate::language::recipe::Stick;
use crate::language::units::Pulse;
use crate::measure::frame::ChannelFrame;
use crate::measure::sticks::{self, Moved, Rest, StickFound};
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Gesture, Reply, Tone};
use std::collections::BTreeMap;
use std::time::Duration;

/// Hands off for this long, once they are off.
const QUIET: Duration = Duration::from_secs(2);
/// How long hands have to let go.
const REACHES: Duration = Duration::from_secs(2);
/// So far back it is looked whether a stick is held over, or let go.
const LATELY: Duration = Duration::from_secs(1);
/// How often.
const LOOKS: Duration = Duration::from_millis(100);
/// How long a hand may take to a stick, and to let it go.
const HELD_WITHIN: Duration = Duration::from_secs(20);
const BACK_WITHIN: Duration = Duration::from_secs(10);
/// How often a stick, and all four, are asked for before giving up.
const TRIES: u32 = 3;
/// A channel rests in the middle, or low, if it is so near to it, µs.
const NEAR: i32 = 150;

/// What was seen of a stick that was held over.
pub(in crate::bench) struct Held {
    /// While it was.
    pub held: Vec<ChannelFrame>,
    /// How far each channel moved.
    pub moved: Moved,
}

impl SessionContext {
    /// Finds the four sticks by having each held over alone. `board`: the channels from which the board takes them.
    ///
    /// # Errors
    /// Nothing that could be told for sure, with the reason.
    pub async fn find_sticks(
        &self,
        board: [Option<u32>; 4],
        guards: &[Guard],
    ) -> Result<BTreeMap<Stick, StickEntry>, Fault> {
        let mut again = TRIES;
        let found = loop {
            self.work_switches("finding the sticks", guards).await?;
            let found = self.find_sticks_held(board).await;
            self.switches_at_rest().await;
            let found = found?;
            // Asked at rest only: a key is an answer there.
            let differing = differing(&found, board);
            if differing.is_empty() || self.hand_is_right(&differing).await? {
                break found;
            }
            let why = "one stick may have been taken for another; hold the one that is asked";
            again -= 1;
            self.not_told(why, again);
            if again == 0 {
                return Err(Fault::NotFound(format!("The sticks were not found: {why}")));
            }
        };
        let mut entries = BTreeMap::new();
        for (stick, found) in Stick::ALL.into_iter().zip(&found) {
            self.line(Tone::Measured, found_words(stick, found));
            entries.insert(stick, StickEntry { channel: found.channel, reversed: found.reversed });
        }
        for line in remarks(&entries, board) {
            self.line(Tone::Warning, line);
        }
        Ok(entries)
    }

    async fn find_sticks_held(&self, board: [Option<u32>; 4]) -> Result<[StickFound; 4], Fault> {
        let mut last = String::new();
        for again in (0..TRIES).rev() {
            let mut rest = self.sticks_alone().await;
            let [roll, pitch, throttle, yaw] = Stick::ALL;
            let held = [
                self.held_over(roll, true, &mut rest).await?.moved,
                self.held_over(pitch, true, &mut rest).await?.moved,
                self.held_over(throttle, true, &mut rest).await?.moved,
                self.held_over(yaw, true, &mut rest).await?.moved,
            ];
            match sticks::assign(&held) {
                Ok(found) => match self.moves_again(&found, board, &mut rest).await? {
                    None => return Ok(found),
                    Some(other) => last = other,
                },
                Err(reason) => last = reason.to_string(),
            }
            self.not_told(&last, again);
        }
        Err(Fault::NotFound(format!("The sticks were not found: {last}")))
    }

    /// Where the board takes the sticks otherwise, a hand may have taken one for another: each that differs is asked for once
    /// more, the other way and by what it does. Gives what speaks against it.
    async fn moves_again(
        &self,
        found: &[StickFound; 4],
        board: [Option<u32>; 4],
        rest: &mut Vec<ChannelFrame>,
    ) -> Result<Option<String>, Fault> {
        // A throttle rests at the end to which it would be held.
        for (stick, found, _) in differing(found, board).into_iter().filter(|(stick, ..)| *stick != Stick::Throttle) {
            let (name, way) = (stick.word(), way(stick, false));
            let sentence =
                format!("Hold the {name} stick {way} once more, until told to let go: the one that {}.", does(stick));
            let moved = self.held_over_as(stick, false, &sentence, rest).await?.moved;
            if !moved.may_be(found) {
                return Ok(Some(format!(
                    "the {name} stick moved channel {found} at first, and another now; hold the one that is asked"
                )));
            }
        }
        Ok(None)
    }

    /// A hand that takes one stick for another every time is told from another order in the radio by nobody but the person,
    /// who is asked, stick by stick.
    async fn hand_is_right(&self, differing: &[Differing]) -> Result<bool, Fault> {
        let title = "Hand and board differ. Which is right?";
        let line = |(stick, found, on_board): &Differing| {
            let (name, does) = (stick.word(), does(*stick));
            format!("{name}, which {does}: you moved channel {found}, the board takes channel {on_board}")
        };
        let choices = vec![
            ('h', "my hand: each stick was the one that was asked".to_owned()),
            ('b', "the board, or not sure: all are asked again".to_owned()),
        ];
        let lines = differing.iter().map(line).collect();
        let question = self.question(About::Choice, title, lines, Reply::Choice(choices));
        let by_hand = self.ask_choice(question, "whose order of the sticks is right").await? == 'h';
        if by_hand {
            self.line(Tone::Attested, "Each stick that was moved is the one that was asked.");
        }
        Ok(by_hand)
    }

    /// Everybody's hands off: what is heard then.
    pub(in crate::bench) async fn sticks_alone(&self) -> Vec<ChannelFrame> {
        let sentence = "Pull the throttle right down, let go of everything, and leave it alone for a while.";
        self.invite(Gesture::LetGo, sentence, REACHES);
        self.sleep(REACHES).await;
        let from = self.now();
        self.sleep(QUIET).await;
        self.frames(from)
    }

    /// One stick held right over and let go again; asked for again where that is not told. `rest`: what was heard with all
    /// sticks let go, before it and then after it.
    ///
    /// # Errors
    /// Not told for sure.
    pub(in crate::bench) async fn held_over(
        &self,
        stick: Stick,
        high: bool,
        rest: &mut Vec<ChannelFrame>,
    ) -> Result<Held, Fault> {
        let sentence =
            format!("Hold the {} stick {} as far as it goes, until told to let go.", stick.word(), way(stick, high));
        self.held_over_as(stick, high, &sentence, rest).await
    }

    async fn held_over_as(
        &self,
        stick: Stick,
        high: bool,
        sentence: &str,
        rest: &mut Vec<ChannelFrame>,
    ) -> Result<Held, Fault> {
        let name = stick.word();
        let mut last = String::new();
        for again in (0..TRIES).rev() {
            let alone = Rest::of(rest).map_err(|error| not_found(name, &error.to_string()))?;
            self.invite(Gesture::HoldStick { stick, high }, sentence, HELD_WITHIN);
            let held = self.lately(HELD_WITHIN, |lately| alone.is_held(lately)).await;
            let back = match stick {
                Stick::Throttle => "Pull the throttle right down again.".to_owned(),
                _ => format!("Let the {name} stick go."),
            };
            self.invite(Gesture::LetGo, back, BACK_WITHIN);
            *rest = self.lately(BACK_WITHIN, |lately| alone.is_back(lately)).await;
            match Moved::of(&alone, &held, rest) {
                Ok(moved) => return Ok(Held { held, moved }),
                Err(reason) => {
                    last = reason.to_string();
                    self.not_told(&last, again);
                }
            }
        }
        Err(not_found(name, &last))
    }

    /// The frames of late, once they are as they are waited for, or the time is over. What came before it was asked for
    /// does not count.
    async fn lately(&self, within: Duration, seen: impl Fn(&[ChannelFrame]) -> bool) -> Vec<ChannelFrame> {
        let deadline = self.now() + within;
        self.sleep(LATELY).await;
        loop {
            let lately = self.frames(self.now() - LATELY);
            if seen(&lately) || self.now() >= deadline {
                return lately;
            }
            self.sleep(LOOKS).await;
        }
    }

    pub(in crate::bench) fn not_told(&self, why: &str, again: u32) {
        let key = if self.phase().any_key_stops() { "any key" } else { "Ctrl-C" };
        let more = if again > 0 { format!(". It is asked for again; {key} ends it") } else { String::new() };
        self.line(Tone::Warning, format!("Not told for sure: {why}{more}."));
    }

    /// Confirms by one live reading that the sticks rest where the card has them.
    ///
    /// # Errors
    /// The card disagrees, or nothing is heard.
    pub async fn confirm_sticks(
        &self,
        card: &BTreeMap<Stick, StickEntry>,
        board: [Option<u32>; 4],
    ) -> Result<(), Fault> {
        let pulse_of = |bench: &Self, entry: &StickEntry| {
            let now = bench.now();
            bench.look(|live| guards::channel_pulse(live, entry.channel, now))
        };
        let off = |bench: &Self| {
            card.iter().find_map(|(stick, entry)| {
                pulse_of(bench, entry).map_or(Some(*stick), |pulse| (!rests(*stick, *entry, pulse)).then_some(*stick))
            })
        };
        let sentence = "Pull the throttle right down and let all sticks go: they are held against the radio card.";
        let rest = self.gesture(Gesture::LetGo, sentence, BACK_WITHIN, |bench| off(bench).is_none()).await;
        if let Some((stick, entry)) = off(self).and_then(|stick| Some((stick, card.get(&stick)?))) {
            let pulse = pulse_of(self, entry)?;
            return Err(Fault::NotFound(format!(
                "The radio card has the {} stick on channel {}, and that channel is at {pulse} with the sticks let go. Use \
                 `find sticks anew`, or the card of this radio.",
                stick.word(),
                entry.channel
            )));
        }
        rest?;
        let list: Vec<String> =
            card.iter().map(|(stick, entry)| format!("{} on channel {}", stick.word(), entry.channel)).collect();
        self.line(Tone::Measured, format!("The sticks rest as the radio card has them: {}.", list.join(", ")));
        for line in remarks(card, board) {
            self.line(Tone::Warning, line);
        }
        Ok(())
    }
}

/// A stick, the channel that was moved for it, and the one from which the board takes it.
type Differing = (Stick, u32, u32);

fn differing(found: &[StickFound; 4], board: [Option<u32>; 4]) -> Vec<Differing> {
    let sticks = Stick::ALL.into_iter().zip(found).zip(board);
    let all = sticks.filter_map(|((stick, found), on_board)| Some((stick, found.channel, on_board?)));
    all.filter(|(_, found, on_board)| found != on_board).collect()
}

/// Whether a stick that is let go rests as it should.
fn rests(stick: Stick, entry: StickEntry, pulse: Pulse) -> bool {
    match (stick, entry.reversed) {
        (Stick::Throttle, false) => pulse.0 <= 1000 + NEAR,
        (Stick::Throttle, true) => pulse.0 >= 2000 - NEAR,
        _ => (pulse.0 - 1500).abs() <= NEAR,
    }
}

/// Which way a stick goes.
fn way(stick: Stick, high: bool) -> &'static str {
    match (stick, high) {
        (Stick::Roll | Stick::Yaw, true) => "right",
        (Stick::Roll | Stick::Yaw, false) => "left",
        (Stick::Pitch, true) => "up, away from you,",
        (Stick::Throttle, true) => "up",
        (Stick::Pitch, false) => "down, towards you,",
        (Stick::Throttle, false) => "down",
    }
}

/// What the lower end of a stick does to a craft, in other words than its name.
fn does(stick: Stick) -> &'static str {
    match stick {
        Stick::Roll => "banks the craft to its left",
        Stick::Pitch => "lifts the nose of the craft",
        Stick::Yaw => "turns the nose of the craft to the left",
        Stick::Throttle => "slows the motors",
    }
}

fn not_found(name: &str, why: &str) -> Fault {
    Fault::NotFound(format!("The {name} stick was not told: {why}"))
}

fn found_words(stick: Stick, found: &StickFound) -> String {
    let way = if found.reversed { ", reversed" } else { "" };
    let list: Vec<String> = found.crossed.iter().map(u32::to_string).collect();
    let along = if list.is_empty() { String::new() } else { format!("; channel {} moves along", list.join(" and ")) };
    format!("The {} stick moves channel {}{way}{along}.", stick.word(), found.channel)
}

/// What is to be minded of sticks as they were found: where the board takes them from elsewhere, and which are reversed.
fn remarks(found: &BTreeMap<Stick, StickEntry>, board: [Option<u32>; 4]) -> Vec<String> {
    let mut lines = Vec::new();
    let differs = Stick::ALL.into_iter().zip(board).any(|(stick, on_board)| {
        on_board.zip(found.get(&stick)).is_some_and(|(on_board, entry)| on_board != entry.channel)
    });
    if differs {
        let order: Vec<&str> = (1..=sticks::FIRST)
            .filter_map(|channel| found.iter().find(|(_, entry)| entry.channel == channel))
            .map(|(stick, _)| stick.word())
            .collect();
        lines.push(if order.len() == Stick::ALL.len() {
            format!("The board takes the sticks in another order: write `channels {}`.", order.join(", "))
        } else {
            "The board takes the sticks from other channels, and only the first four can be told to it: put them there in \
             the radio."
                .to_owned()
        });
    }
    let reversed: Vec<&str> = found.iter().filter(|(_, entry)| entry.reversed).map(|(stick, _)| stick.word()).collect();
    if !reversed.is_empty() {
        lines.push(format!(
            "Reversed, so the craft would answer the other way round unless the board is told of it: {}. Turn it round in \
             the radio.",
            reversed.join(", ")
        ));
    }
    lines
}
