//! In which order a restore writes: what closes a band first, what opens one last, arm's before and after all others.
//!
//! Promises: a run that breaks off leaves a craft that cannot arm, or arms where it did before; an order that cannot
//! promise it is called dangerous. Must not be here: whether a band may be opened at all (see `judge`).

use crate::board::binding::{self, BoundNow};
use crate::board::sheet::{BandNames, Binding, BindingLayout, Settings, Sheet};
use crate::board::value::{Number, SettingName};
use crate::language::recipe::Function;
use std::collections::BTreeSet;

/// Whether some prefix of an order has arm bound where it is bound neither now nor in the end.
pub(super) fn dangerous(sheet: &Sheet, order: &[(SettingName, Number)], now: &Settings, bands: &[BoundNow]) -> bool {
    let arm = Function::arm();
    let before = binding::bound_now(sheet, now, &arm).unwrap_or_default();
    let mut settings = now.clone();
    order.iter().any(|(name, to)| {
        settings.insert(name.clone(), *to);
        // What can't be told counts as on.
        binding::bound_now(sheet, &settings, &arm)
            .map_or(true, |on| on.iter().any(|band| !before.contains(band) && !bands.contains(band)))
    })
}

/// Bands that change are closed first, arm's before all others; then everything else; then they are moved and
/// opened, each by its last write, arm's after all others. A run that breaks off leaves a craft that cannot arm.
pub(super) fn ordered(sheet: &Sheet, wanted: &Settings, now: &Settings) -> Vec<(SettingName, Number)> {
    let binding = &sheet.binding;
    let then = |name: &SettingName| wanted.get(name).or_else(|| now.get(name)).copied();
    let bands = bands(binding);
    let of_bands: BTreeSet<&SettingName> = bands.iter().flat_map(|band| band.names.names()).collect();
    let mut changed: Vec<&Band> =
        bands.iter().filter(|band| band.names.names().any(|name| wanted.contains_key(name))).collect();
    changed.sort_by_key(|band| !band.arms(binding, |name| now.get(name).copied()));
    let mut order: Vec<_> = changed.iter().flat_map(|band| band.closing(binding)).collect();
    order.extend(wanted.iter().filter(|(name, _)| !of_bands.contains(name)).map(|(name, to)| (name.clone(), *to)));
    changed.sort_by_key(|band| band.arms(binding, then));
    order.extend(changed.iter().flat_map(|band| band.opening(then)));
    order
}

struct Band<'s> {
    names: &'s BandNames,
    /// Whether it is arm's own, where bands are direct.
    arm: bool,
}

fn bands(binding: &Binding) -> Vec<Band<'_>> {
    match &binding.way {
        BindingLayout::Direct(functions) => {
            functions.iter().map(|(function, names)| Band { names, arm: function.is_arm() }).collect()
        }
        BindingLayout::Rows { rows, .. } => rows.iter().map(|names| Band { names, arm: false }).collect(),
    }
}

impl Band<'_> {
    /// Whether it arms, by what its settings hold.
    fn arms(&self, binding: &Binding, held: impl Fn(&SettingName) -> Option<Number>) -> bool {
        let BindingLayout::Rows { functions, .. } = &binding.way else { return self.arm };
        let arm = functions.iter().find(|(function, _)| function.is_arm()).map(|(_, number)| Number::Whole(*number));
        self.names.function.as_ref().and_then(held).zip(arm).is_some_and(|(held, arm)| held.same(arm))
    }

    fn closing(&self, binding: &Binding) -> Vec<(SettingName, Number)> {
        let (low, high) = binding.closed;
        match (&self.names.function, &binding.way) {
            // A row is off while it is free.
            (Some(hand), BindingLayout::Rows { free, .. }) => vec![(hand.clone(), Number::Whole(*free))],
            // The upper end at its lowest closes a band whatever its lower end is.
            _ => vec![
                (self.names.to.clone(), Number::Whole(high.min(low))),
                (self.names.from.clone(), Number::Whole(low)),
            ],
        }
    }

    /// The last write opens it.
    fn opening(&self, then: impl Fn(&SettingName) -> Option<Number>) -> Vec<(SettingName, Number)> {
        let BandNames { function, channel, from, to } = self.names;
        let names = [channel, from, to].into_iter().chain(function);
        names.filter_map(|name| then(name).map(|to| (name.clone(), to))).collect()
    }
}
