//! Orders of writes: no prefix of a computed one switches on, and the check finds what does. Tried exhaustively.

use quadjig::measure::band_order::{Binding, Rebinding, RestPulses, Write, first_unsafe, safe_order};
use quadjig::measure::bands::Band;

const RESTS: [f64; 3] = [1000.0, 1500.0, 2000.0];
const ENDS: [i32; 5] = [850, 1250, 1746, 1754, 2146];

fn rests() -> RestPulses {
    RestPulses { by_channel: (5..=6).map(|c| (c, RESTS.to_vec())).collect(), noise: 0.0, unbound: Some(0) }
}

fn bindings() -> Vec<Binding> {
    let mut all = Vec::new();
    for channel in [0, 5, 6] {
        for from in ENDS {
            for to in ENDS {
                all.push(Binding { channel, band: Band { from, to } });
            }
        }
    }
    all
}

/// Rests of a binding's channel over which it is on, worked out by hand of the definition: from <= pulse < to.
fn on(binding: Binding) -> Vec<(i32, i32)> {
    let Band { from, to } = binding.band;
    [1000, 1500, 2000]
        .into_iter()
        .filter(|p| binding.channel != 0 && from <= *p && *p < to)
        .map(|p| (binding.channel, p))
        .collect()
}

/// Whether some write of the order switches on what was off and is not wanted.
fn comes_on(question: &Rebinding<'_>, order: &[Write]) -> bool {
    let wanted = on(question.wanted);
    let mut binding = question.present;
    order.iter().any(|write| {
        let before = on(binding);
        binding = write.applied(binding);
        on(binding).iter().any(|p| !before.contains(p) && !wanted.contains(p))
    })
}

fn each_pair(mut look: impl FnMut(&Rebinding<'_>)) {
    let rests = rests();
    let closed = Band { from: 850, to: 850 };
    let all = bindings();
    for present in &all {
        for wanted in all.iter().filter(|w| w.band.from <= w.band.to) {
            look(&Rebinding { present: *present, wanted: *wanted, closed, rests: &rests });
        }
    }
}

#[test]
fn every_computed_order_is_safe_in_every_prefix_and_arrives() {
    each_pair(|question| {
        let order = safe_order(question).expect("this board has a word for no channel, so an order exists");
        assert!(!comes_on(question, &order), "{question:?}: {order:?}");
        let end = order.iter().fold(question.present, |binding, write| write.applied(binding));
        assert_eq!(end, question.wanted);
    });
}

#[test]
fn the_check_agrees_with_the_definition_in_all_six_orders() {
    let (mut good, mut bad) = (0_u32, 0_u32);
    each_pair(|question| {
        let Binding { channel, band } = question.wanted;
        let [a, b, c] = [Write::Channel(channel), Write::From(band.from), Write::To(band.to)];
        for order in [[a, b, c], [a, c, b], [b, a, c], [b, c, a], [c, a, b], [c, b, a]] {
            let flagged = first_unsafe(question, &order).is_some();
            assert_eq!(flagged, comes_on(question, &order), "{question:?}: {order:?}");
            if flagged { bad += 1 } else { good += 1 }
        }
    });
    assert!(good > 500 && bad > 500, "both kinds have to occur: {good} and {bad}");
}

#[test]
fn moving_an_arm_band_closes_it_first_and_opens_it_last() {
    let rests = rests();
    let question = Rebinding {
        present: Binding { channel: 5, band: Band { from: 1754, to: 2146 } },
        wanted: Binding { channel: 6, band: Band { from: 1754, to: 2146 } },
        closed: Band { from: 850, to: 850 },
        rests: &rests,
    };
    // A single write moves it, and comes on only where it is wanted.
    assert_eq!(safe_order(&question), Some(vec![Write::Channel(6)]));
    let other_ends = Rebinding { wanted: Binding { channel: 6, band: Band { from: 1250, to: 1746 } }, ..question };
    let order = safe_order(&other_ends).unwrap();
    assert_eq!(order, [Write::To(850), Write::From(850), Write::Channel(6), Write::From(1250), Write::To(1746)]);
}

#[test]
fn without_a_safe_order_there_is_none() {
    let rests = RestPulses { unbound: None, ..rests() };
    let question = Rebinding {
        present: Binding { channel: 5, band: Band { from: 1754, to: 2146 } },
        wanted: Binding { channel: 6, band: Band { from: 1250, to: 1746 } },
        // A pair that closes nothing.
        closed: Band { from: 850, to: 2146 },
        rests: &rests,
    };
    assert_eq!(safe_order(&question), None);
}

#[test]
fn a_channel_of_unknown_rests_may_rest_anywhere() {
    let known = rests();
    let question = Rebinding {
        present: Binding { channel: 9, band: Band { from: 1754, to: 2146 } },
        wanted: Binding { channel: 6, band: Band { from: 1754, to: 2146 } },
        closed: Band { from: 850, to: 850 },
        rests: &known,
    };
    assert!(
        first_unsafe(&question, &[Write::From(1250)]).is_some_and(|found| found.after == 1 && found.pulse.is_none())
    );
    assert_eq!(safe_order(&question), Some(vec![Write::Channel(6)]));
}

#[test]
fn noise_reaches_over_an_end() {
    let noisy = RestPulses { noise: 12.0, ..rests() };
    let question = Rebinding {
        present: Binding { channel: 6, band: Band { from: 850, to: 850 } },
        wanted: Binding { channel: 6, band: Band { from: 1754, to: 2146 } },
        closed: Band { from: 850, to: 850 },
        rests: &noisy,
    };
    let found = first_unsafe(&question, &[Write::To(992)]).unwrap();
    assert_eq!((found.after, found.pulse), (1, Some(1000.0)));
    let quiet = RestPulses { noise: 0.0, ..noisy.clone() };
    assert_eq!(first_unsafe(&Rebinding { rests: &quiet, ..question }, &[Write::To(992)]), None);
}
