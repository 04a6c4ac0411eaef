//! What every channel does when the radio goes off: battery out, twice, with the switches at 0 and
//! at their last position.

use crate::bench::procedures::gesture::BY_HAND;
use crate::bench::session::context::SessionContext;
use crate::board::radio_card::RadioCard;
use crate::measure::frame::ChannelFrame;
use crate::measure::link_loss::{self, BoardLearns, ChannelOnLoss as Seen, LossError, LossFrame, LossTrial, OnLoss};
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::record::{ChannelOnLoss, LossSeen};
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Gesture, Reply, Tone};
use std::time::Duration;

/// How long the channels are watched before and after the loss.
const WATCHED: Duration = Duration::from_secs(2);
/// How long hands have at least to the switches, or to the radio's.
const REACHES: Duration = Duration::from_secs(4);
/// And at most, as long as something shows that they are still at it.
const AT_MOST: Duration = Duration::from_secs(10);
/// Switches count as left alone once no channel has moved for so long.
const LEFT_ALONE: Duration = Duration::from_secs(2);
/// A channel that is so far from where it was has moved, us.
const MOVED: u16 = 100;
/// Said of a radio that was never seen alive.
const NOTHING_MOVED: &str = "No channel has moved since the switches stood at 0, so it can't be told a radio from its \
                             receiver alone, nor a channel that holds from one that goes to a fixed pulse. Is the radio on \
                             and bound? Is each switch on a channel? Where it has no switch, move a stick and leave it there.";
/// A receiver may take this long to notice.
const NOTICED: Duration = Duration::from_secs(3);

impl SessionContext {
    /// Watches two losses.
    ///
    /// # Errors
    /// The battery is in, nothing is heard, or the two losses disagree.
    pub async fn find_link_loss(&self, guards: &[Guard], known: &RadioCard) -> Result<Vec<ChannelOnLoss>, Fault> {
        self.work_switches("finding link loss", guards).await?;
        let trials = self.two_losses(known).await;
        self.switches_at_rest().await;
        self.judge_losses(&trials?).await
    }

    /// What was heard before and during each of two losses.
    async fn two_losses(&self, known: &RadioCard) -> Result<[(Vec<LossFrame>, Vec<LossFrame>); 2], Fault> {
        let mut trials = [const { (Vec::new(), Vec::new()) }; 2];
        let mut stood = None;
        for (trial, last) in trials.iter_mut().zip([false, true]) {
            if last {
                // A receiver that holds gives the channels of before: that the radio is back is not to be seen.
                self.radio_back_on().await?;
            }
            let place = if last { "their last position" } else { "position 0" };
            self.switches_to(last, format!("Put all switches to {place}; radio on, sticks alone.")).await;
            // A moment for the channels to come in before anything is asked.
            self.until(self.now() + Duration::from_secs(1), |bench| Self::hears_radio(bench).then_some(())).await;
            self.gesture(Gesture::Radio { on: true }, "Switch the radio on.", BY_HAND, Self::hears_radio).await?;
            if let Some(stood) = stood {
                self.seen_moved(stood).await?;
            }
            let from = self.now();
            self.sleep(WATCHED).await;
            let before = self.loss_frames(from);
            stood = before.last().copied();
            self.invite(Gesture::Radio { on: false }, "Switch the radio off now.", AT_MOST);
            // A receiver that holds says nothing at all: then nothing but time is waited for.
            let asked = self.now();
            let lost = |bench: &Self| (!bench.hears_radio() || bench.has_moved(asked, bench.now())).then_some(());
            self.until(asked + AT_MOST, lost).await;
            self.sleep(NOTICED).await;
            let from = self.now();
            self.sleep(WATCHED).await;
            let during = self.loss_frames(from);
            *trial = (before, during);
        }
        self.switches_to(false, "Put all switches back to position 0.".to_owned()).await;
        self.radio_back_on().await?;
        self.say_not_back(trials[0].0.last(), known);
        Ok(trials)
    }

    /// Names what is elsewhere than as all switches stood at 0: the steps that follow begin there.
    fn say_not_back(&self, first: Option<&LossFrame>, known: &RadioCard) {
        let Some(first) = first else { return };
        let now = self.look(|live| live.channels.last().map(|now| now.value.pulses));
        let pairs = (1u32..).zip(first.frame.pulses.iter().zip(now.iter().flatten()));
        let away = pairs.filter(|(_, (was, is))| apart(&[**was], &[**is])).map(|(channel, _)| {
            let switch = known.switches.iter().find(|(_, entry)| entry.channel == channel);
            switch.map_or_else(|| format!("channel {channel}"), |(switch, _)| format!("switch {}", switch.0))
        });
        let away: Vec<String> = away.collect();
        if !away.is_empty() {
            self.line(
                Tone::Warning,
                format!("Not back where it was with all switches at 0: {}. Put it back now.", away.join(", ")),
            );
        }
    }

    /// Has all switches put to their last position, or to 0, and waits for hands that are seen at it.
    async fn switches_to(&self, last: bool, sentence: String) {
        self.invite(Gesture::AllSwitches { last }, sentence, AT_MOST);
        let began = self.now();
        self.sleep(REACHES).await;
        let left_alone = |bench: &Self| {
            let now = bench.now();
            let waits = last && bench.hears_radio() && !bench.has_moved(began, now);
            (!waits && !bench.has_moved(now - LEFT_ALONE, now)).then_some(())
        };
        self.until(began + AT_MOST, left_alone).await;
    }

    /// A channel that a hand moves shows that a radio gives the channels, and not its receiver alone. Where none does, what
    /// holds and what goes to a fixed pulse would look the same on every channel.
    async fn seen_moved(&self, stood: LossFrame) -> Result<(), Fault> {
        let moved = |bench: &Self| {
            bench.look(|live| live.channels.last().is_some_and(|now| apart(&stood.frame.pulses, &now.value.pulses)))
        };
        if moved(self) {
            return Ok(());
        }
        let missing = |bench: &Self| (!moved(bench)).then(|| NOTHING_MOVED.to_owned());
        let sentence = "Put all switches to their last position; radio on.";
        self.gesture_told(Gesture::AllSwitches { last: true }, sentence, BY_HAND, moved, missing).await
    }

    /// Whether a channel has left between two moments where it was at the first.
    fn has_moved(&self, from: Time, to: Time) -> bool {
        self.look(|live| {
            let mut samples = live.channels.since(from).filter(|sample| sample.at <= to && sample.value.count > 0);
            let Some(first) = samples.next() else { return false };
            samples.any(|sample| apart(&first.value.pulses, &sample.value.pulses))
        })
    }

    /// Invites to switch the radio on whatever is heard, and waits for what shows it.
    async fn radio_back_on(&self) -> Result<(), Fault> {
        let on = Gesture::Radio { on: true };
        self.invite(on.clone(), "Switch the radio on again.", BY_HAND);
        self.sleep(REACHES).await;
        self.gesture(on, "Switch the radio on again.", BY_HAND, Self::hears_radio).await
    }

    /// What both came to. Where nothing at all changed, only the operator knows whether the radio was off.
    async fn judge_losses(&self, trials: &[(Vec<LossFrame>, Vec<LossFrame>); 2]) -> Result<Vec<ChannelOnLoss>, Fault> {
        let judge = |was_off| {
            let trials = trials.each_ref().map(|(on, off)| LossTrial { on, off });
            link_loss::on_loss(trials, was_off)
        };
        let mut seen = judge(false);
        if seen == Err(LossError::NothingHappened) && self.radio_was_off().await? {
            self.line(Tone::Attested, "The radio was off both times.");
            seen = judge(true);
        }
        let seen = seen.map_err(|error| Fault::NotFound(format!("Link loss could not be told: {error}")))?;
        let found = channels(&seen)?;
        self.line(Tone::Measured, words(&found, &seen));
        if seen.board == BoardLearns::No {
            self.line(
                Tone::Warning,
                "The receiver never tells the board that the link is lost, so the craft flies on with the last sticks. Set \
                 the receiver's own link loss to no output; where it knows only fixed values, to a throttle right down \
                 and the arm switch at position 0. Then `find link loss anew`.",
            );
        }
        Ok(found)
    }

    /// Asks whether the radio really was off.
    async fn radio_was_off(&self) -> Result<bool, Fault> {
        let lines = vec![
            "In both trials every channel went on as before, and the board said nothing.".to_owned(),
            "Either its receiver holds everything, or the radio was never off.".to_owned(),
        ];
        let choices = vec![
            ('o', "off: the radio was off both times".to_owned()),
            ('n', "not off, or not sure: nothing is recorded".to_owned()),
        ];
        let title = "Was the radio really off, both times?";
        let question = self.question(About::Choice, title, lines, Reply::Choice(choices));
        Ok(self.ask_choice(question, "whether the radio was off").await? == 'o')
    }

    /// Frames since then, each with what the board knew of its receiver.
    fn loss_frames(&self, from: Time) -> Vec<LossFrame> {
        self.look(|live| {
            live.channels
                .since(from)
                .map(|s| LossFrame {
                    frame: ChannelFrame { at: s.at, pulses: s.value.pulses },
                    count: s.value.count,
                    receiver: live.power.by(s.at).and_then(|power| power.value.receiver),
                })
                .collect()
        })
    }
}

/// What each channel does; a channel whose loss is told to the board counts as nowhere.
fn channels(seen: &OnLoss) -> Result<Vec<ChannelOnLoss>, Fault> {
    let mut found = Vec::new();
    for (channel, does) in (1u32..).zip(&seen.channels) {
        let Some(does) = does else { continue };
        #[expect(clippy::cast_possible_truncation, reason = "a pulse width in µs")]
        let does = match does {
            _ if seen.board == BoardLearns::Yes => LossSeen::Flagged,
            Seen::Silent => LossSeen::Flagged,
            Seen::Holds | Seen::HoldsOrFixed(_) => LossSeen::Holds,
            Seen::Fixed(pulse) => LossSeen::Fixed(pulse.round() as i32),
            Seen::Unclear { .. } => {
                return Err(Fault::NotFound(format!(
                    "Link loss could not be told: channel {channel} did not do the same twice. Find it again."
                )));
            }
        };
        found.push(ChannelOnLoss { channel, does });
    }
    Ok(found)
}

/// Whether some channel is elsewhere than it was.
fn apart(was: &[Option<u16>], is: &[Option<u16>]) -> bool {
    was.iter().zip(is).any(|pulses| match pulses {
        (Some(was), Some(is)) => was.abs_diff(*is) > MOVED,
        (was, is) => was != is,
    })
}

fn words(found: &[ChannelOnLoss], seen: &OnLoss) -> String {
    if found.iter().all(|c| c.does == LossSeen::Flagged) {
        return "On link loss the board is told, on every channel.".to_owned();
    }
    let untold = |c: &ChannelOnLoss| {
        let at = usize::try_from(c.channel).ok()?.checked_sub(1)?;
        matches!(seen.channels.get(at), Some(Some(Seen::HoldsOrFixed(_)))).then(|| c.channel.to_string())
    };
    let each: Vec<String> = found
        .iter()
        .filter(|c| untold(c).is_none())
        .map(|c| match c.does {
            LossSeen::Holds => format!("channel {} holds", c.channel),
            LossSeen::Fixed(pulse) => format!("channel {} goes to {pulse} us", c.channel),
            LossSeen::Flagged => format!("channel {} is flagged", c.channel),
        })
        .collect();
    let not_told: Vec<String> = found.iter().filter_map(untold).collect();
    let told = if each.is_empty() { String::new() } else { format!("On link loss: {}. ", each.join(", ")) };
    let rest = format!(
        "Not told, as it stood at one pulse both times: whether channel {} holds or goes there; taken as holding.",
        not_told.join(", ")
    );
    if not_told.is_empty() { told.trim_end().to_owned() } else { told + &rest }
}
