//! Ratios on simulated time: exact, the same on every machine.

use super::reading::{config, read, wire_time};
use super::{LOSSES, SEEDS, median};
use quadjig::board::signals::Done;

const BAUDS: [u32; 3] = [57_600, 115_200, 921_600];
const SETTINGS: [usize; 4] = [100, 300, 900, 1500];

pub fn figures() {
    println!(
        "\nreading all settings, simulated time, as a ratio to the time of the bytes alone; median of {SEEDS} seeds"
    );
    println!("  (a lost value has to be sent again: nobody is under 1.01, 1.05 and 1.25 on the average)");
    print!("  {:>7} {:>8}", "baud", "settings");
    for loss in LOSSES {
        print!(" {:>9}", format!("{} % lost", loss * 100.0));
    }
    println!();
    for baud in BAUDS {
        for settings in SETTINGS {
            print!("  {baud:>7} {settings:>8}");
            for loss in LOSSES {
                let (ratio, whole) = ratio(baud, settings, loss);
                let broken = if whole < SEEDS { format!(" ({whole} of {SEEDS} whole)") } else { String::new() };
                print!(" {ratio:>9.3}{broken}");
            }
            println!();
        }
    }
}

/// The median ratio, and how many were whole.
fn ratio(baud: u32, settings: usize, loss: f64) -> (f64, u64) {
    let mut whole = 0;
    let one = |seed| {
        let reading = read(config(baud, settings, loss, seed));
        whole += u64::from(reading.done == Some(Done::Ok) && reading.told == settings);
        reading.took.as_secs_f64() / wire_time(baud, settings).as_secs_f64()
    };
    let mut ratios: Vec<f64> = (1..=SEEDS).map(one).collect();
    (median(&mut ratios), whole)
}
