//! Reading all settings over a paced wire that loses messages: whole, and close to the bytes' own time.
//!
//! On simulated time, so that the ratios are exact.

use super::reading::{Reading, config, read, wire_time};
use quadjig::board::signals::Done;
use std::time::Duration;

const BAUDS: [u32; 3] = [57_600, 115_200, 921_600];

fn ratios(baud: u32, settings: usize, loss: f64, seeds: u64) -> Vec<f64> {
    let one = |seed| {
        let reading = read(config(baud, settings, loss, seed));
        let Reading { done, told, .. } = &reading;
        assert_eq!((done.as_ref(), *told), (Some(&Done::Ok), settings), "{baud} baud, {loss} lost, seed {seed}");
        reading.took.as_secs_f64() / wire_time(baud, settings).as_secs_f64()
    };
    let mut ratios: Vec<f64> = (1..=seeds).map(one).collect();
    ratios.sort_by(f64::total_cmp);
    ratios
}

#[test]
fn without_loss_the_wire_is_full_from_the_request_to_the_last_setting() {
    for baud in BAUDS {
        for settings in [100, 300, 1500] {
            let ratio = ratios(baud, settings, 0.0, 1)[0];
            assert!((1.0..1.01).contains(&ratio), "{baud} baud, {settings} settings: {ratio}");
        }
    }
}

#[test]
fn with_loss_it_costs_hardly_more_than_what_is_sent_again() {
    // Every lost value has to be sent again, so that nobody can be under 1 / (1 − loss), and chance is about that.
    for (loss, most) in [(0.01, 1.02), (0.05, 1.1)] {
        for baud in BAUDS {
            for settings in [100, 900] {
                let ratios = ratios(baud, settings, loss, 15);
                assert!(ratios[7] <= most, "{baud} baud, {settings} settings, {loss} lost: {ratios:?}");
            }
        }
    }
}

#[test]
fn it_is_whole_whatever_gets_lost() {
    for loss in [0.2, 0.35, 0.5] {
        for baud in BAUDS {
            let ratios = ratios(baud, 300, loss, 8);
            // At the fast rate the whole takes a tenth of a second, and a few lost answers in a row as long as that.
            if baud < 921_600 && loss < 0.3 {
                assert!(ratios[4] <= 1.4, "{baud} baud, {loss} lost: {ratios:?}");
            }
        }
    }
}

#[test]
fn a_wire_that_also_carries_telemetry_is_read_whole() {
    for loss in [0.0, 0.05] {
        let mut config = config(57_600, 300, loss, 3);
        config.wire.quiet = false;
        let reading = read(config);
        assert_eq!((reading.done, reading.told), (Some(Done::Ok), 300));
        let ratio = reading.took.as_secs_f64() / wire_time(57_600, 300).as_secs_f64();
        // Its own telemetry takes about a fifth of this wire.
        assert!((1.15..1.5).contains(&ratio), "{ratio}");
    }
}

#[test]
fn the_time_left_is_told_and_comes_true() {
    for loss in [0.0, 0.05, 0.2] {
        let reading = read(config(57_600, 900, loss, 5));
        assert_eq!(reading.way.last().map(|(have, _, left)| (*have, *left)), Some((900, Some(Duration::ZERO))));
        assert!(reading.way[..7].iter().all(|(.., left)| left.is_none()), "too early to say");
        for (have, at, left) in &reading.way[100..800] {
            let (left, really) = (left.unwrap().as_secs_f64(), reading.took.as_secs_f64() - at.as_secs_f64());
            assert!((left - really).abs() <= 0.5 + really / 3.0, "at {have}: {left} s, really {really} s, {loss} lost");
        }
    }
}

#[test]
fn the_same_seed_reads_the_same_way() {
    let again = || read(config(115_200, 300, 0.2, 9));
    assert_eq!(again(), again());
    assert_ne!(again(), read(config(115_200, 300, 0.2, 10)));
}

#[test]
fn how_far_it_is_is_said_with_the_time_left() {
    use quadjig::seam::page::Listing;
    let said = |left| Listing { have: 210, of: 900, left }.to_string();
    assert_eq!(said(Some(Duration::from_millis(5_700))), "210 of 900, about 6 s left");
    assert_eq!(said(Some(Duration::from_millis(400))), "210 of 900");
    assert_eq!(said(None), "210 of 900");
}
