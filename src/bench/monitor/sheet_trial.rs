//! A sheet tried on a board: each reading by itself, and what was understood of its answer.
//!
//! Promises: props off and battery out are attested before the port is opened; nothing but questions is sent, nothing
//! is written; a reading that fails hides no other. Must not be here: what a sheet says by itself (see the report).

use super::contradictions::{HeardAtRest, PULSES, contradictions, counting};
use crate::bench::attended::nobody;
use crate::bench::operations::settings::ALIVE;
use crate::bench::session::Inquiry;
use crate::bench::session::context::SessionContext;
use crate::board::console::Capability;
use crate::board::identity;
use crate::board::sheet::{Settings, Sheet};
use crate::board::signals::Stream;
use crate::board::value::SettingName;
use crate::interlock::BATTERY_OUT;
use crate::interlock::guards::RATES;
use crate::interlock::signals::Signals;
use crate::measure::time::Time;
use crate::seam::PortName;
use crate::seam::fault::Fault;
use crate::seam::sheet_trial::{Reading, Trial};
use crate::seam::ui::{About, Reply};
use std::time::Duration;

/// How long a signal may take.
const SIGNAL: Duration = Duration::from_millis(1500);

const NOTHING: &str = "no answer that is understood by the sheet";

/// Tries a sheet on the board at a port.
///
/// # Errors
/// Declined, no port, nobody on it, or a board that is armed.
pub async fn try_sheet(bench: &SessionContext, port: &PortName, sheet: &Sheet) -> Result<Trial, Fault> {
    bench.ensure_props_off().await?;
    let lines = vec!["The battery is out; the board has its power from USB alone.".to_owned()];
    let question = bench.question(About::BatteryOut, "Is the battery out?", lines, Reply::Word(BATTERY_OUT.to_owned()));
    bench.ask_word(question).await?;
    bench.news().came = Some(Vec::new());
    bench.open(port.clone()).await?;
    let mut trial = Trial::default();
    let armed = bench.until(bench.now() + ALIVE, |b| b.look(|live| live.armed.last())).await;
    match armed {
        // A link that is described wrongly is what is to be found out; the rest is asked all the same.
        None if sheet.says_what_is_sent() => trial.add(Capability::Armed, Err(NOTHING.to_owned())),
        None => return Err(nobody(bench, port)),
        Some(flag) if flag.value => return Err(Fault::FoundArmed),
        Some(_) => trial.add(Capability::Armed, Ok("disarmed".to_owned())),
    }
    let known = bench.identify().await;
    trial.add(
        Capability::Identity,
        known.as_ref().map_err(Fault::to_string).map(|known| {
            format!("{}, firmware {}, id {}", or(&known.kind, "of no kind"), or(&known.firmware, "unsaid"), known.id)
        }),
    );
    let listed = bench.request(Inquiry::List, "reading all settings").await;
    trial.settings = bench.look(|live| live.settings.clone());
    let count = trial.settings.len();
    // Every byte of a packet may stand in a sheet, also one that nobody sets.
    let again = sheet.packets().is_some() && listed.is_ok() && bench.request(Inquiry::List, "once more").await.is_ok();
    let counting = if again { bench.look(|live| counting(&trial.settings, &live.settings)) } else { Vec::new() };
    trial.add(Capability::List, listed.map_err(|fault| fault.to_string()).map(|()| format!("{count} settings")));
    if let Ok(known) = &known {
        trial.mismatch = identity::matches(sheet, known, &trial.settings).err().map(|why| why.to_string());
    }
    if let Some(name) = one(sheet, &trial.settings) {
        let read = bench.read(&name).await;
        trial.add(Capability::Read, read.map_err(|fault| fault.to_string()).map(|value| format!("{name} is {value}")));
    }
    for (stream, rate) in RATES {
        if *stream != Stream::Alive && sheet.gives(*stream) {
            let understood = signal(bench, *stream, *rate).await;
            // Speeds that the sheet does not promise may stay away.
            if *stream != Stream::Speeds || sheet.speed_telemetry || understood.is_ok() {
                trial.add(Capability::of(*stream), understood);
            }
        }
    }
    trial.contradictions = contradictions(sheet, &trial.settings, bench.look(heard));
    trial.contradictions.extend(counting);
    bench.put_streams_back().await;
    bench.close();
    trial.came = bench.news().came.take().unwrap_or_default();
    Ok(trial)
}

impl Trial {
    fn add(&mut self, need: Capability, understood: Result<String, String>) {
        self.readings.push(Reading { need, understood });
    }
}

/// What was heard while it was tried.
fn heard(live: &Signals) -> HeardAtRest {
    let driven = |outputs: &[u16; 8]| outputs.iter().filter(|pulse| **pulse != 0 && **pulse != u16::MAX).count();
    let odd = |pulse: u16| pulse != 0 && pulse != u16::MAX && !PULSES.contains(&pulse);
    let channel = live.channels.last().and_then(|channels| {
        let pulses = channels.value.pulses.iter().enumerate();
        pulses.filter_map(|(at, pulse)| Some((at, (*pulse)?))).find(|(_, pulse)| odd(*pulse))
    });
    let output = live
        .outputs
        .last()
        .and_then(|outputs| outputs.value.iter().copied().enumerate().find(|(_, pulse)| odd(*pulse)));
    let named = |signal| move |(at, pulse): (usize, u16)| (signal, at + 1, pulse);
    HeardAtRest {
        odd: channel.map(named("channel")).or_else(|| output.map(named("output"))),
        channels: live.channels.last().map(|channels| channels.value.count),
        outputs: live.outputs.last().map(|outputs| driven(&outputs.value)),
        speeds: live.speeds.last().map(|speeds| speeds.value.iter().flatten().count()),
    }
}

fn or<'t>(text: &'t str, else_: &'t str) -> &'t str {
    if text.is_empty() { else_ } else { text }
}

/// A setting that the sheet names and the board has.
fn one(sheet: &Sheet, settings: &Settings) -> Option<SettingName> {
    let named = sheet.settings.values().map(|entry| &entry.name).chain(&sheet.must_have);
    named.into_iter().find(|name| settings.contains_key(*name)).cloned()
}

async fn signal(bench: &SessionContext, stream: Stream, rate: u32) -> Result<String, String> {
    let since = bench.now();
    let asked = bench.request(Inquiry::Stream(stream, Some(rate)), "asking for it").await;
    asked.map_err(|fault| fault.to_string())?;
    let seen = bench.until(bench.now() + SIGNAL, |bench| bench.look(|live| words(live, stream, since))).await;
    seen.ok_or_else(|| {
        bench.news().misread.get(&stream).map_or_else(|| NOTHING.to_owned(), |why| format!("{NOTHING}: {why}"))
    })
}

fn row(numbers: impl IntoIterator<Item = impl ToString>) -> String {
    numbers.into_iter().map(|number| number.to_string()).collect::<Vec<_>>().join(" ")
}

/// What a signal says, once it was heard after `since`.
fn words(live: &Signals, stream: Stream, since: Time) -> Option<String> {
    Some(match stream {
        Stream::Alive => live.armed.since(since).last().map(|s| if s.value { "armed" } else { "disarmed" })?.to_owned(),
        Stream::Channels => {
            let channels = live.channels.since(since).last()?.value;
            match channels.count {
                0 => "no signal from the radio".to_owned(),
                count => {
                    let pulses = channels.pulses.iter().take(usize::from(count));
                    format!("{count} channels: {} us", row(pulses.map(|pulse| pulse.unwrap_or(0))))
                }
            }
        }
        Stream::Outputs => {
            let outputs = live.outputs.since(since).last()?.value;
            let driven = outputs.iter().filter(|pulse| **pulse != 0 && **pulse != u16::MAX);
            format!("{} us", row(driven))
        }
        Stream::Attitude => {
            let (roll, pitch) = live.attitude.since(since).last()?.value;
            format!("roll {roll:.1} deg, pitch {pitch:.1} deg")
        }
        Stream::Power => {
            let power = live.power.since(since).last()?.value;
            let volts = power.millivolts.map(|mv| format!("{:.2} V", f64::from(mv) / 1000.0));
            let amps = power.centiamps.map(|ca| format!("{:.2} A", f64::from(ca) / 100.0));
            let all: Vec<String> = volts.into_iter().chain(amps).collect();
            if all.is_empty() { "nothing measured".to_owned() } else { all.join(", ") }
        }
        Stream::Speeds => {
            let speeds = live.speeds.since(since).last()?.value;
            format!("{} rpm", row(speeds.iter().flatten()))
        }
    })
}
