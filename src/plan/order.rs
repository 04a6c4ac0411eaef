//! In which order a batch writes the settings of bands.
//!
//! Promises: no prefix of the writes arms at a pulse at which the channel can rest, or the order is
//! called dangerous; what closes comes first, what opens last, arm after all others. Must not be here:
//! which bands (see `bands`), the judgement of an order (see `measure::band_order`).

use super::compile::Planner;
use super::problem::Problem;
use super::wanted::{BandWanted, Ordered};
use crate::board::binding::{self, BandChange, BandNumbers};
use crate::board::sheet::{BandPart, Binding, BindingLayout, Sheet};
use crate::board::value::{Number, SettingName};
use crate::language::recipe::Part;
use crate::measure::band_order::{self, Rebinding, RestPulses};
use crate::measure::bands::{Band, MARGIN_SIGMAS};

/// How far a pulse may be from its rest where its noise was not measured, µs. Common practice: receivers' jitter is
/// a few µs.
pub(super) const UNMEASURED_NOISE: f64 = 10.0;

impl Planner<'_> {
    /// Writes of the batch's bands in a safe order: those of other functions, and those of arm.
    pub(super) fn order_bands(&mut self, wanted: &[BandWanted]) -> (Ordered, Ordered) {
        let (mut others, mut arm) = (Ordered::default(), Ordered::default());
        let mut settings = self.ahead.settings.clone();
        let (arms, rest): (Vec<_>, Vec<_>) = wanted.iter().partition(|band| band.function.is_arm());
        for band in rest.into_iter().chain(arms) {
            let sheet = self.inputs.sheet;
            let changes = match &band.to {
                Some((channel, ends)) => binding::bind(sheet, &settings, &band.function, *channel, ends),
                None => binding::unbind(sheet, &settings, &band.function),
            };
            let changes = match changes {
                Ok(changes) => changes,
                Err(error) => {
                    self.refuse_part(band.statement, Some(Part::Positions), Problem::Binding(error));
                    continue;
                }
            };
            let ordered = if band.function.is_arm() { &mut arm } else { &mut others };
            for change in changes.iter().filter(|change| !change.satisfied()) {
                order_change(sheet, &self.rests(), change, band.statement, ordered);
                for (_, name, number) in change.settings() {
                    settings.insert(name.clone(), number);
                }
            }
        }
        (others, arm)
    }

    /// Every pulse at which a known switch's channel can rest.
    fn rests(&self) -> RestPulses {
        let binding = &self.inputs.sheet.binding;
        let mut rests = RestPulses {
            unbound: i32::try_from(binding.channel_unbound).ok(),
            noise: UNMEASURED_NOISE,
            ..RestPulses::default()
        };
        let mut add = |channel: u32, pulses: &mut dyn Iterator<Item = f64>, noise: Option<f64>| {
            let Ok(channel) = i32::try_from(channel) else { return };
            rests.by_channel.entry(channel).or_default().extend(pulses);
            rests.noise = rests.noise.max(noise.unwrap_or(0.0) * MARGIN_SIGMAS);
        };
        for entry in self.inputs.card.switches.values() {
            add(entry.channel, &mut entry.rests.iter().map(|rest| f64::from(rest.0)), entry.noise);
        }
        for known in self.ahead.switches.values().flatten() {
            add(known.channel, &mut known.rests.iter().map(|rest| f64::from(rest.0)), known.noise);
            let loss = self.loss_pulses(known).unwrap_or_default();
            add(known.channel, &mut loss.into_iter(), None);
        }
        rests
    }
}

/// Lays one band's writes into the order of the batch.
fn order_change(sheet: &Sheet, rests: &RestPulses, change: &BandChange, statement: usize, ordered: &mut Ordered) {
    let names = &change.names;
    let write = |name: &SettingName, number: i64| (statement, name.clone(), Number::Whole(number));
    // A row that changes hands is off for this function until its function is written.
    if let Some(function) = names.function.as_ref().filter(|_| change.now.function != change.then.function) {
        let differs = |part| part != BandPart::Function && change.now.of(part) != change.then.of(part);
        let rest = change.settings().filter(|(part, ..)| differs(*part));
        let rest: Vec<_> = rest.map(|(_, name, to)| (statement, name.clone(), to)).collect();
        let hand = write(function, change.then.function);
        if is_free(sheet, change.then) {
            ordered.closing.push(hand);
            ordered.closing.extend(rest);
        } else {
            ordered.opening.extend(rest);
            ordered.opening.push(hand);
        }
        return;
    }
    let binding = &sheet.binding;
    let (Some(present), Some(wanted), Some(closed)) =
        (narrow(binding, change.now), narrow(binding, change.then), ends(binding, binding.closed))
    else {
        ordered.dangerous = true;
        ordered.opening.extend(change.settings().map(|(_, name, to)| (statement, name.clone(), to)));
        return;
    };
    let question = Rebinding { present, wanted, closed, rests };
    let order = band_order::safe_order(&question).unwrap_or_else(|| {
        ordered.dangerous = true;
        let all = [
            band_order::Write::From(wanted.band.from),
            band_order::Write::To(wanted.band.to),
            band_order::Write::Channel(wanted.channel),
        ];
        all.into_iter().filter(|write| write.applied(present) != present).collect()
    });
    // The part that closes comes first in the batch, the part that opens last.
    let off = |b: &band_order::Binding| b.band.from >= b.band.to || rests.unbound == Some(b.channel);
    let mut states = order.iter().scan(present, |now, single| {
        *now = single.applied(*now);
        Some(*now)
    });
    let prefix = match () {
        () if off(&wanted) => order.len(),
        () if off(&present) => 0,
        () => states.position(|now| off(&now)).map_or(0, |at| at + 1),
    };
    // In the board's own ends again.
    let shifted = binding.half_open((0, 0));
    let writes = order.iter().map(|single| match *single {
        band_order::Write::Channel(channel) => write(&names.channel, channel.into()),
        band_order::Write::From(from) => write(&names.from, i64::from(from) - shifted.0),
        band_order::Write::To(end) => write(&names.to, i64::from(end) - shifted.1),
    });
    for (at, single) in writes.enumerate() {
        if at < prefix { ordered.closing.push(single) } else { ordered.opening.push(single) }
    }
}

fn is_free(sheet: &Sheet, numbers: BandNumbers) -> bool {
    matches!(sheet.binding.way, BindingLayout::Rows { free, .. } if free == numbers.function)
}

/// Ends as the mathematics counts them: the lower one inside, the upper one not.
fn ends(binding: &Binding, ends: (i64, i64)) -> Option<Band> {
    let (from, to) = binding.half_open(ends);
    Some(Band { from: i32::try_from(from).ok()?, to: i32::try_from(to).ok()? })
}

fn narrow(binding: &Binding, numbers: BandNumbers) -> Option<band_order::Binding> {
    let channel = i32::try_from(numbers.channel).ok()?;
    Some(band_order::Binding { channel, band: ends(binding, (numbers.from, numbers.to))? })
}
