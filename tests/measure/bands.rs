//! Bands of switch positions: the rule of the procedures, its refusals, and its laws.

use proptest::prelude::*;
use quadjig::measure::bands::{Band, BandError, BandLimits, BandQuestion, End, Nearby, band_of, bands_of};

const FINCH: BandLimits = BandLimits { least: 850, most: 2150, granularity: 8 };
const THREE: [f64; 3] = [1000.0, 1500.0, 2000.0];

fn question<'a>(rests: &'a [f64], avoid: &'a [f64]) -> BandQuestion<'a> {
    BandQuestion { rests, sigma: 1.2, limits: FINCH, avoid }
}

/// As a board takes its ends.
fn inside(band: Band, pulse: f64) -> bool {
    f64::from(band.from) <= pulse && pulse < f64::from(band.to)
}

#[test]
fn half_the_way_to_the_neighbour_rounded_inwards_and_clipped() {
    let q = question(&THREE, &[]);
    // 1000 − 250 is under the limit; 1000 + 250 = 1250 = 850 + 50 × 8 lies on the grid.
    assert_eq!(band_of(&q, 0), Ok(Band { from: 850, to: 1250 }));
    assert_eq!(band_of(&q, 1), Ok(Band { from: 1250, to: 1746 }));
    // 2150 is not on the grid from 850 in steps of 8: the last end under it is 2146.
    assert_eq!(band_of(&q, 2), Ok(Band { from: 1754, to: 2146 }));
}

#[test]
fn a_far_neighbour_gives_no_wider_band() {
    let q = BandQuestion {
        limits: BandLimits { least: 0, most: 4000, granularity: 1 },
        ..question(&[1000.0, 2000.0], &[])
    };
    assert_eq!(band_of(&q, 0), Ok(Band { from: 750, to: 1250 }));
}

#[test]
fn neighbours_become_one_band_and_others_stay_apart() {
    let q = question(&THREE, &[]);
    assert_eq!(bands_of(&q, &[2, 1]), Ok(vec![Band { from: 1250, to: 2146 }]));
    assert_eq!(bands_of(&q, &[0, 2]), Ok(vec![Band { from: 850, to: 1250 }, Band { from: 1754, to: 2146 }]));
    let falling = [2000.0, 1500.0, 1000.0];
    assert_eq!(bands_of(&question(&falling, &[]), &[0, 1]), Ok(vec![Band { from: 1250, to: 2146 }]));
}

#[test]
fn the_pulse_on_link_loss_stays_outside() {
    let q = question(&THREE, &[1880.0]);
    assert_eq!(band_of(&q, 2), Ok(Band { from: 1946, to: 2146 }));
    // Between two positions it parts the band that would have joined them.
    let parted = bands_of(&question(&THREE, &[1700.0]), &[1, 2]).unwrap();
    assert_eq!(parted.len(), 2);
    assert!(parted.iter().all(|band| !inside(*band, 1700.0)));
}

#[test]
fn refusals_carry_their_figures() {
    let close = band_of(&question(&[1000.0, 1080.0, 2000.0], &[]), 0);
    let Err(BandError::Margin { because: Nearby::Rest(rest), margin, needed, .. }) = close else { panic!("{close:?}") };
    assert!((rest - 1080.0).abs() < 1e-9 && margin < 50.0 && (needed - 50.0).abs() < 1e-9);
    let limit = band_of(&question(&[880.0, 2000.0], &[]), 0);
    assert!(matches!(limit, Err(BandError::Margin { end: End::From, because: Nearby::Limit(850), .. })), "{limit:?}");
    let loss = band_of(&question(&THREE, &[2000.0]), 2);
    assert!(matches!(loss, Err(BandError::Margin { because: Nearby::Avoided(_), .. })), "{loss:?}");
    let noisy = band_of(&BandQuestion { sigma: 50.0, ..question(&THREE, &[]) }, 1);
    assert!(matches!(noisy, Err(BandError::Margin { .. })), "{noisy:?}");
    assert_eq!(band_of(&question(&THREE, &[]), 3), Err(BandError::NoPosition { position: 3, positions: 3 }));
    let nan = band_of(&BandQuestion { sigma: f64::NAN, ..question(&THREE, &[]) }, 0);
    assert_eq!(nan, Err(BandError::Nonsense { least: 850, most: 2150 }));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 512, ..ProptestConfig::default() })]

    #[test]
    fn no_band_takes_in_a_stranger_and_every_margin_holds(
        steps in prop::collection::vec(60_i32..500, 1..6),
        first in 880_i32..1100,
        falling: bool,
        chosen in prop::collection::vec(any::<bool>(), 6),
        sigma in 0.0_f64..15.0,
        granularity in 1_i32..26,
        loss in 850_i32..2150,
    ) {
        let mut rests = vec![f64::from(first)];
        for step in steps {
            rests.push(rests[rests.len() - 1] + f64::from(step));
        }
        if falling {
            rests.reverse();
        }
        let wanted: Vec<usize> = (0..rests.len()).filter(|p| chosen[*p]).collect();
        let limits = BandLimits { least: 850, most: 2150, granularity };
        let avoid = [f64::from(loss)];
        if let Ok(bands) = bands_of(&BandQuestion { rests: &rests, sigma, limits, avoid: &avoid }, &wanted) {
            for (position, rest) in rests.iter().enumerate() {
                let holding = bands.iter().filter(|band| inside(**band, *rest)).count();
                prop_assert_eq!(holding, usize::from(wanted.contains(&position)));
            }
            let needed = f64::max(50.0, 6.0 * sigma);
            for band in bands {
                prop_assert!(!inside(band, avoid[0]));
                prop_assert!(band.from >= 850 && band.to <= 2150);
                prop_assert!((band.from - 850) % granularity == 0 && (band.to - 850) % granularity == 0);
                for rest in rests.iter().filter(|rest| inside(band, **rest)) {
                    prop_assert!(rest - f64::from(band.from) >= needed && f64::from(band.to) - rest >= needed);
                }
            }
        }
    }
}
