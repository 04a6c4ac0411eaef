//! Finding switches, sticks and link loss within a run: what is learned goes onto the card and into the record.

use crate::bench::attended::job::RunJob;
use crate::bench::attended::run_state::RunState;
use crate::bench::session::context::SessionContext;
use crate::board::binding;
use crate::board::bound;
use crate::board::radio_card::SwitchEntry;
use crate::board::radio_card_file;
use crate::language::characters::shell_word;
use crate::language::recipe::{Function, Switch};
use crate::plan::facts::stick_channels;
use crate::plan::step::Guard;
use crate::plan::titles;
use crate::record::folder::RADIO_CARD;
use crate::record::link_loss::LinkLoss;
use crate::record::{StoreJob, StorePlace};
use crate::seam::fault::Fault;
use crate::seam::ui::Tone;
use std::path::Path;

impl SessionContext {
    /// Finds a switch, or confirms what the card says of it.
    ///
    /// # Errors
    /// Not found, the card disagrees, or the disk.
    pub async fn find_switch_step(
        &self,
        job: &RunJob,
        knows: &mut RunState,
        (switch, positions, momentary, on_card): (&Switch, Option<u32>, bool, bool),
        guards: &[Guard],
    ) -> Result<(), Fault> {
        if on_card && let Ok(entry) = knows.switch(switch) {
            self.confirm_switch(switch, &entry).await?;
        } else {
            let taken = knows.taken_channels(switch);
            let entry = self.find_switch(switch, (positions, momentary), (&knows.sticks(), &taken), guards).await?;
            knows.card.switches.insert(switch.clone(), entry);
            self.store_card(job, knows).await?;
        }
        knows.progress.found.insert(switch.clone());
        Ok(())
    }

    /// Finds the sticks, or confirms what the card says of them.
    ///
    /// # Errors
    /// Not found, the card disagrees, or the disk.
    pub async fn find_sticks_step(
        &self,
        job: &RunJob,
        knows: &mut RunState,
        on_card: bool,
        guards: &[Guard],
    ) -> Result<(), Fault> {
        let board = self.look(|live| stick_channels(&knows.sheet, &live.settings));
        if on_card {
            return self.confirm_sticks(&knows.card.sticks, board).await;
        }
        knows.card.sticks.extend(self.find_sticks(board, guards).await?);
        self.store_card(job, knows).await
    }

    /// Writes the radio card, keeping the comments of its file.
    async fn store_card(&self, job: &RunJob, knows: &mut RunState) -> Result<(), Fault> {
        knows.card.is_virtual |= knows.identity.is_virtual();
        // Nobody said what it is called: it is named for what is heard of it.
        if knows.card.radio.is_empty() {
            let count = self.look(|live| live.channels.last().map_or(0, |channels| channels.value.count));
            knows.card.radio = format!("radio with {}", titles::count(usize::from(count), "channel"));
        }
        let own = knows.record.folder.join(RADIO_CARD);
        let path = match (&job.card, &job.options.radio) {
            (Some(named), Some(told)) if named.file => Path::new(told),
            _ => &own,
        };
        let (place, old) = match &job.card {
            Some(named) if named.file => (StorePlace::RadioCard, named.text.as_ref()),
            // What is shared is only read: what was found belongs to this craft until somebody shares it.
            _ => (StorePlace::Craft(RADIO_CARD.into()), knows.record.radio_card.as_ref()),
        };
        let text = match old {
            Some(text) => radio_card_file::update("the radio card", text, &knows.card)
                .map_err(|error| Fault::Plan(error.to_string()))?,
            None => radio_card_file::create(&knows.card),
        };
        self.store(StoreJob { place, bytes: text.into_bytes(), append: false }).await?;
        if knows.progress.found.is_empty() {
            let path = shell_word(path);
            match &job.card {
                Some(named) if !named.file => {
                    let where_to = format!(
                        "Written to the craft's own radio card, `{path}`; the one that was named is only read."
                    );
                    self.line(Tone::Plain, where_to);
                }
                _ => self.noted(Tone::Plain, format!("Written to the radio card, `{path}`.")),
            }
        }
        Ok(())
    }

    /// Finds link loss and keeps it in the craft's record.
    ///
    /// # Errors
    /// Not told for sure, or the disk.
    pub async fn find_link_loss_step(&self, job: &RunJob, knows: &mut RunState, guards: &[Guard]) -> Result<(), Fault> {
        let found = self.find_link_loss(guards, &knows.card).await?;
        let kept = LinkLoss::new(job.clock.at(self.now()), found.clone());
        self.store(kept.store()?).await?;
        knows.record.link_loss = found;
        knows.progress.link_loss_found = true;
        Ok(())
    }

    /// Has self-level switched off where a switch other than the arm switch can: it would push the motors
    /// apart on a craft that is not quite level, and a search would find the wrong idle.
    ///
    /// # Errors
    /// The switch was not moved.
    pub async fn self_level_off(&self, knows: &RunState, arm: &Switch) -> Result<(), Fault> {
        let Ok((switch, entry, _, off)) = self.bound_switch(knows, "self-level") else { return Ok(()) };
        if switch == *arm {
            return Ok(());
        }
        let facts = self.facts()?;
        let (channel, rest) = (entry.channel, entry.rests.get(off as usize).copied());
        if rest.is_none_or(|rest| facts.arms_at(channel, rest)) {
            return Ok(());
        }
        self.switch_to(&switch, &entry, off).await?;
        self.line(Tone::Measured, format!("Self-level is off: switch {} is in position {off}.", switch.0));
        Ok(())
    }

    /// The switch of a function as it is bound on the board now: name, card entry, a position in which
    /// it is on and one in which it is off.
    ///
    /// # Errors
    /// Bound to no known switch, or on in every position.
    pub fn bound_switch(&self, knows: &RunState, function: &str) -> Result<(Switch, SwitchEntry, u32, u32), Fault> {
        let function = Function(function.to_owned());
        let bands = self
            .look(|live| binding::bound_now(&knows.sheet, &live.settings, &function))
            .map_err(|error| Fault::Plan(error.to_string()))?;
        let found = knows.card.switches.iter().find_map(|(switch, entry)| {
            let on = bound::positions_on(&bands, entry.channel, &entry.rests);
            let off = (0..).zip(&entry.rests).map(|(position, _)| position).find(|position| !on.contains(position))?;
            Some((switch.clone(), entry.clone(), *on.first()?, off))
        });
        found.ok_or_else(|| {
            Fault::refused(
                format!("No known switch has {} bound to some of its positions.", function.0),
                "Bind it in the recipe before it is tested.",
            )
        })
    }
}
