//! What happens on link loss, from two made-up trials.

use quadjig::measure::frame::{CHANNELS, ChannelFrame};
use quadjig::measure::link_loss::{BoardLearns, ChannelOnLoss, LossError, LossFrame, LossTrial, on_loss};
use quadjig::measure::time::Time;

/// Forty messages of three channels; `None`: no pulse.
fn frames(pulses: [Option<u16>; 3], count: u8) -> Vec<LossFrame> {
    let mut all = [None; CHANNELS];
    all[..3].copy_from_slice(&pulses);
    (0..40)
        .map(|i| LossFrame { frame: ChannelFrame { at: Time(i * 20_000), pulses: all }, count, receiver: None })
        .collect()
}

fn judge(
    on: [[u16; 3]; 2],
    off: [[Option<u16>; 3]; 2],
    counts: [u8; 2],
) -> Result<(Vec<Option<ChannelOnLoss>>, BoardLearns), LossError> {
    let on = on.map(|pulses| frames(pulses.map(Some), 3));
    let off = [frames(off[0], counts[0]), frames(off[1], counts[1])];
    let trials = [LossTrial { on: &on[0], off: &off[0] }, LossTrial { on: &on[1], off: &off[1] }];
    on_loss(trials, false).map(|found| (found.channels[..4].to_vec(), found.board))
}

#[test]
fn held_fixed_and_untold() {
    let (channels, board) = judge(
        [[1000, 1000, 1500], [2000, 2000, 1500]],
        [[Some(1000), Some(988), Some(1500)], [Some(2000), Some(988), Some(1500)]],
        [0, 0],
    )
    .unwrap();
    assert_eq!(channels[0], Some(ChannelOnLoss::Holds));
    assert_eq!(channels[1], Some(ChannelOnLoss::Fixed(988.0)));
    assert_eq!(channels[2], Some(ChannelOnLoss::HoldsOrFixed(1500.0)));
    assert_eq!((channels[3], board), (None, BoardLearns::Yes));
}

#[test]
fn dropped_channels_and_trials_that_disagree() {
    let (channels, board) = judge(
        [[1000, 1000, 1500], [2000, 2000, 1500]],
        [[None, Some(1200), Some(1500)], [None, Some(1700), None]],
        [3, 0],
    )
    .unwrap();
    assert_eq!(channels[0], Some(ChannelOnLoss::Silent));
    assert_eq!(channels[1], Some(ChannelOnLoss::Unclear { first: Some(1200.0), second: Some(1700.0) }));
    assert_eq!(channels[2], Some(ChannelOnLoss::Unclear { first: Some(1500.0), second: None }));
    assert_eq!(board, BoardLearns::Sometimes);
}

#[test]
fn a_receiver_that_holds_everything_looks_like_a_radio_left_on() {
    let on = [[1000, 1000, 1500], [2000, 2000, 1500]];
    let held = on.map(|pulses| pulses.map(Some));
    assert_eq!(judge(on, held, [3, 3]).unwrap_err(), LossError::NothingHappened);
    let trials = on.map(|pulses| frames(pulses.map(Some), 3));
    let trial = |i: usize| LossTrial { on: &trials[i], off: &trials[i] };
    let told = on_loss([trial(0), trial(1)], true).unwrap();
    assert_eq!((told.board, told.channels[0]), (BoardLearns::No, Some(ChannelOnLoss::Holds)));
}

#[test]
fn the_health_bit_counts_as_well_and_may_come_late() {
    let on = frames([Some(1000); 3], 3);
    let mut off = on.clone();
    off.iter_mut().skip(15).for_each(|f| f.receiver = Some(false));
    let trial = LossTrial { on: &on, off: &off };
    assert_eq!(on_loss([trial, trial], false).unwrap().board, BoardLearns::Yes);
}

#[test]
fn no_trial_without_a_signal_or_with_too_little() {
    let lost = frames([None; 3], 0);
    let good = frames([Some(1000); 3], 3);
    let dead = LossTrial { on: &lost, off: &lost };
    assert_eq!(on_loss([dead, dead], true), Err(LossError::NoSignalBefore { trial: 1 }));
    let short = LossTrial { on: &good, off: &lost[..5] };
    let whole = LossTrial { on: &good, off: &lost };
    assert_eq!(on_loss([whole, short], true), Err(LossError::TooFew { trial: 2, on: false, heard: 5, needed: 10 }));
}
