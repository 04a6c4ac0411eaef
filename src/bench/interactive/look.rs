//! Looking: what is there now, in vocabulary words with the board's own names.
//!
//! Promises: nothing is sent; every value is the one read or heard last, and says when it is old. Must not be
//! here: layout.

use crate::bench::interactive::commands::LookSubject;
use crate::bench::interactive::session::{InteractiveSession, SessionState, differing};
use crate::bench::monitor::live_page;
use crate::bench::procedures::find_switch::pulses;
use crate::board::binding;
use crate::board::bound;
use crate::board::convert;
use crate::interlock::signals::{Pack, STREAM_AGE};
use crate::interlock::{Phase, guards};
use crate::plan::naming::Naming;
use crate::plan::titles::count;
use crate::seam::fault::Fault;
use crate::seam::page::Title;
use crate::seam::ui::{Fact, UiEvent};

/// What is not heard.
const UNHEARD: &str = "not heard";

impl InteractiveSession {
    /// Shows what was asked for.
    pub(in crate::bench) fn look(&self, subject: Option<LookSubject>) {
        let shown = self.with(|state| match subject {
            None => ("At the bench".to_owned(), self.summary(state)),
            Some(LookSubject::Settings) => ("Settings, with the board's own names".to_owned(), self.settings(state)),
            Some(LookSubject::Changes) => {
                let title = format!("Otherwise than in {}", state.snapshot.display());
                (title, self.changes(state))
            }
            Some(LookSubject::Switches) => ("Switches and bands".to_owned(), self.switches(state)),
            Some(LookSubject::Outputs) => ("Motor outputs and speeds".to_owned(), self.outputs(state)),
            Some(LookSubject::Battery) => ("Battery".to_owned(), self.battery()),
            Some(LookSubject::Journal) => ("This session so far".to_owned(), journal(state)),
        });
        if let Some((title, facts)) = shown {
            self.bench.show(UiEvent::Facts { title, facts });
        }
    }

    fn summary(&self, state: &SessionState) -> Vec<Fact> {
        let bench = &self.bench;
        let now = bench.now();
        let identity = &state.knows.identity;
        let virtual_board = if identity.is_virtual() { ", VIRTUAL" } else { "" };
        let mut facts = vec![
            Fact::new(
                "board",
                format!("{}, firmware {}, id {}{virtual_board}", identity.kind, identity.firmware, identity.id),
            ),
            if let Some(other) = bench.look(|live| live.identity.clone()).filter(|now| now.id != identity.id) {
                Fact::minded("link", format!("up, on {}, with another board: {}", self.job.port, other.told()))
            } else if bench.link_up() {
                Fact::new("link", format!("up, on {}", self.job.port))
            } else {
                Fact::minded("link", format!("lost, on {}", self.job.port))
            },
            match bench.look(|live| live.flag(now)) {
                Some(false) => Fact::new("armed", "no"),
                Some(true) => Fact::minded("armed", "YES"),
                None => Fact::minded("armed", UNHEARD),
            },
        ];
        facts.extend(self.battery());
        let throttle = bench.facts().and_then(|facts| bench.look(|live| guards::throttle_low(live, &facts, now)));
        facts.push(match throttle {
            Ok(pulse) => Fact::new("throttle", format!("low, {pulse}")),
            Err(fault) => Fact::minded("throttle", fault.to_string()),
        });
        let (switches, bands) =
            (state.knows.card.switches.len(), bound::all_bound(&state.knows.sheet, &state.held).len());
        facts.push(Fact::new("switches", format!("{} known, {}; `look switches`", switches, count(bands, "band"))));
        if let Some(under_way) = &state.under_way {
            let (left, all) = (under_way.left(&state.draft).len(), under_way.statements.len());
            let go_on = if left > 0 { "; `go on` goes through the rest" } else { "" };
            facts.push(Fact::new(
                "recipe",
                format!("{}, {left} of {} left{go_on}", under_way.name, count(all, "statement")),
            ));
        }
        let unsaved = bench.unsettled();
        facts.push(if unsaved.is_empty() {
            Fact::new("not kept", "nothing")
        } else {
            Fact::minded("not kept", format!("{}; `keep` keeps them over a restart", unsaved.join("; ")))
        });
        if bench.phase() != Phase::Still {
            facts.push(Fact::minded("writing", "not before the battery is out: a stop or a lost link came before"));
        }
        facts
    }

    fn settings(&self, state: &SessionState) -> Vec<Fact> {
        let sheet = &state.knows.sheet;
        self.bench.look(|live| {
            let mut facts: Vec<Fact> = sheet
                .settings
                .iter()
                .map(|(word, entry)| match live.settings.get(&entry.name) {
                    Some(number) => Fact::new(*word, format!("{}  ({})", convert::show(entry, *number), entry.name)),
                    None => Fact::minded(*word, format!("not on the board  ({})", entry.name)),
                })
                .collect();
            for (name, number) in &live.settings {
                if sheet.word_of(name).is_none() && !binding::is_band_setting(sheet, name) {
                    let entry = sheet.raw.get(name);
                    let value = entry.map_or_else(|| number.to_string(), |entry| convert::show(entry, *number));
                    facts.push(Fact::new(format!("\"{name}\""), value));
                }
            }
            facts.push(Fact::new("bands", "`look switches`"));
            facts
        })
    }

    fn changes(&self, state: &SessionState) -> Vec<Fact> {
        let now = self.bench.look(|live| live.settings.clone());
        let naming = Naming { sheet: &state.knows.sheet, then: &now, now: &state.begun };
        let facts: Vec<Fact> = differing(&state.begun, &now)
            .into_iter()
            .map(|(name, (was, now))| {
                let ledger = self.bench.ledger.borrow();
                let kept = match ledger.seen().get(&name) {
                    _ if ledger.open().any(|(open, _)| *open == name) => "not kept yet",
                    Some(seen) if seen.same(now) => "kept",
                    _ => "not by this session",
                };
                let (was, now) = (naming.show(&name, was), naming.show(&name, now));
                Fact::new(naming.describe(&name), format!("{was} before, {now} now, {kept}"))
            })
            .collect();
        if facts.is_empty() { vec![Fact::new("changes", "none")] } else { facts }
    }

    fn switches(&self, state: &SessionState) -> Vec<Fact> {
        let bench = &self.bench;
        let now = bench.now();
        let channels = bench.look(|live| live.channels.fresh(now, STREAM_AGE));
        let pulse = |channel: u32| channels.filter(|c| c.count > 0).and_then(|channels| channels.of(channel));
        let mut facts = Vec::new();
        for (switch, entry) in &state.knows.card.switches {
            let here = match pulse(entry.channel) {
                None => UNHEARD.to_owned(),
                Some(pulse) => match bench.position_of(entry) {
                    Some(position) => format!("{pulse} now, position {position}"),
                    None => format!("{pulse} now, between two positions"),
                },
            };
            let value = format!("channel {}, rests at {} us, {here}", entry.channel, pulses(&entry.rests));
            facts.push(Fact::new(format!("switch {}", switch.0), value));
        }
        if facts.is_empty() {
            facts.push(Fact::new("switches", "none known: `find switch NAME` finds one"));
        }
        for (function, band) in bound::all_bound(&state.knows.sheet, &state.held) {
            let pulse = pulse(band.channel);
            let inside = pulse.is_some_and(|pulse| band.is_on(band.channel, pulse));
            let here = match pulse {
                None => UNHEARD.to_owned(),
                Some(pulse) if inside => format!("{pulse} now, INSIDE"),
                Some(pulse) => format!("{pulse} now, outside"),
            };
            let value = format!("channel {}, {} to {} us, {here}", band.channel, band.from.0, band.to.0);
            let fact = if inside && function.is_arm() { Fact::minded } else { Fact::new };
            facts.push(fact(function.0.clone(), value));
        }
        facts
    }

    fn outputs(&self, state: &SessionState) -> Vec<Fact> {
        let bench = &self.bench;
        let now = bench.now();
        let (outputs, speeds) =
            bench.look(|live| (live.outputs.fresh(now, STREAM_AGE), live.speeds.fresh(now, STREAM_AGE)));
        let motors = state.knows.sheet.corners.iter().enumerate();
        motors
            .map(|(index, corner)| {
                let output = outputs.map_or(UNHEARD.to_owned(), |outputs| match outputs[index] {
                    0 => "no pulse".to_owned(),
                    pulse => format!("{pulse} us"),
                });
                let speed = match speeds.map(|speeds| speeds[index]) {
                    Some(Some(rpm)) => format!("{rpm:.0} rpm"),
                    _ => "speed not measured".to_owned(),
                };
                Fact::new(corner.0.clone(), format!("{output}, {speed}"))
            })
            .collect()
    }

    fn battery(&self) -> Vec<Fact> {
        let bench = &self.bench;
        let cells = bench.facts().map_or(1, |facts| facts.cells);
        let power = bench.look(|live| live.power.last().map(|sample| sample.value));
        let volts = power.and_then(|power| power.millivolts).map(|millivolts| f64::from(millivolts) / 1000.0);
        let word = match bench.pack() {
            Pack::In => "in",
            Pack::Out => "out",
            Pack::Unknown => "not known, as no sensor was seen working",
        };
        let measured = volts.filter(|_| bench.link_up()).map_or_else(String::new, |volts| {
            let each = if bench.pack() == Pack::In && cells > 1 {
                format!(", {:.2} V per cell of {cells}", volts / f64::from(cells))
            } else {
                String::new()
            };
            format!(", {volts:.2} V{each}")
        });
        let amps = power.and_then(|power| power.centiamps).filter(|_| bench.pack() == Pack::In);
        let amps = amps.map_or_else(String::new, |centiamps| format!(", {:.2} A", f64::from(centiamps) / 100.0));
        vec![Fact::new("battery", format!("{word}{measured}{amps}"))]
    }
}

impl InteractiveSession {
    /// The live page, until a key is pressed.
    ///
    /// # Errors
    /// The link was lost meanwhile, or another board answers.
    pub(in crate::bench) async fn watch(&self) -> Result<(), Fault> {
        let known = self.with(|state| (state.title.clone(), state.knows.card.clone(), state.knows.identity.clone()));
        let Some((craft, card, board)) = known else { return Ok(()) };
        self.bench.monitor().board = Some(board);
        let title = Title { craft: Some(craft), port: self.job.port.to_string() };
        live_page::watch(&self.bench, &title, Some(&card)).await
    }
}

fn journal(state: &SessionState) -> Vec<Fact> {
    let time = |at: &str| at.split('T').nth(1).and_then(|time| time.get(..8)).unwrap_or(at).to_owned();
    let facts: Vec<Fact> =
        state.log.iter().map(|done| Fact::new(time(&done.at), format!("{}  ({})", done.text, done.outcome))).collect();
    if facts.is_empty() { vec![Fact::new("done", "nothing yet")] } else { facts }
}
