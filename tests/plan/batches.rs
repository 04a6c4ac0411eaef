//! Batches: what closes one, what is written, when it is stored and restarted.

use super::{Bench, told, written};
use quadjig::plan::step::Action;

#[test]
fn a_run_of_settings_is_one_write_and_a_note_does_not_break_it() {
    let plan = Bench::finch().plan(
        "require battery out\nfailsafe cut motors after 500 ms\nnote \"The wait counts from the last frame.\"\n\
         battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell",
    );
    assert_eq!(
        told(&plan),
        [
            "asks: Battery out",
            "looks: The recipe says: \"The wait counts from the last frame.\"",
            "writes: Write 5 settings and read back",
            "stores: Store",
            "restarts: Restart, and read 5 settings back",
        ]
    );
    assert_eq!(
        written(&plan),
        ["LOSS_ACTION=1", "LOSS_WAIT_MS=500", "CELLS=2", "WARN_CELL_MV=3600", "LAND_CELL_MV=3400"]
    );
}

#[test]
fn a_pause_closes_a_batch() {
    let plan = Bench::finch()
        .plan("require battery out\nfailsafe cut motors after 500 ms\npause \"Look.\"\nset \"LIGHT_LEVEL\" to 50");
    let writes = plan.steps.iter().filter(|step| matches!(step.act, Action::Write(_))).count();
    assert_eq!(writes, 2);
}

#[test]
fn a_setting_that_takes_a_restart_has_its_batch_stored_at_once_and_a_keep_then_has_nothing_to_do() {
    let plan =
        Bench::finch().plan("require battery out\nset \"LIGHT_LEVEL\" to 50\nkeep\nboard turned 90 deg\nkeep\nkeep");
    assert_eq!(
        told(&plan)[1..],
        [
            "writes: Write 1 setting and read back",
            "stores: Store",
            "restarts: Restart, and read 1 setting back",
            "writes: Write 1 setting and read back",
            "stores: Store",
            "restarts: Restart, and read 1 setting back",
        ]
    );
    assert_eq!(plan.restarts(), 2);
}

#[test]
fn what_is_written_without_a_keep_is_kept_at_the_end_under_the_number_after_the_last() {
    let plan = Bench::finch().plan("require battery out\nfailsafe cut motors after 500 ms\nrequire disarmed");
    let last = plan.steps.last().unwrap();
    assert!(matches!(last.act, Action::Restart { .. }));
    assert_eq!(last.statement, 3);
}

#[test]
fn only_what_differs_is_written_and_later_statements_see_what_earlier_ones_wrote() {
    let mut bench = Bench::finch();
    bench.set("LOSS_ACTION", 1);
    let plan = bench.plan(
        "require battery out\nfailsafe cut motors after 500 ms\nexpect link-loss-wait is 500 ms\nset loop-rate to 2 kHz",
    );
    assert_eq!(written(&plan), ["LOSS_WAIT_MS=500"]);
    assert_eq!(plan.changes.len(), 1);
    let change = &plan.changes[0];
    assert_eq!((change.setting.as_str(), change.at.line), ("link-loss-wait", 7));
    assert_eq!((change.shown_from.as_str(), change.shown_to.as_str()), ("1000 ms", "500 ms"));
}

#[test]
fn a_sheet_that_stores_at_once_has_no_store_step() {
    let mut bench = Bench::finch();
    bench.sheet.stores_at_once = true;
    let plan = bench.plan("require battery out\nfailsafe cut motors after 500 ms\nkeep");
    assert!(!plan.steps.iter().any(|step| matches!(step.act, Action::Store)));
    assert_eq!(plan.restarts(), 1);
}

#[test]
fn every_settings_statement_has_its_numbers() {
    let plan = Bench::finch().plan(
        "require battery out\nreceiver sbus on port 4\nchannels throttle, roll, pitch, yaw\nat zero throttle spin\n\
         idle at 1120\nsignal dshot300 at 4 kHz\nboard turned 90 deg\nset \"ROTOR_TRIM\" to -3\n\
         battery 2 cells lihv warn at 3.6 V per cell land at 3.4 V per cell",
    );
    assert_eq!(
        written(&plan),
        [
            "RX_PROTOCOL=1",
            "RX_PORT=4",
            "THR_CHANNEL=1",
            "ROLL_CHANNEL=2",
            "PITCH_CHANNEL=3",
            "SPIN_AT_ZERO=1",
            "IDLE_US=1120",
            "MOTOR_SIGNAL=3",
            "LOOP_HZ=4000",
            "BOARD_TURN=90",
            "ROTOR_TRIM=-3",
            "CELLS=2",
            "CELL_KIND=1",
            "WARN_CELL_MV=3600",
            "LAND_CELL_MV=3400",
        ]
    );
}

/// A board that is set for another receiver than it has hears no switch, and arm is bound over one that is heard.
#[test]
fn a_receiver_that_is_set_is_in_force_before_arm_is_bound() {
    let lines = "require battery out\nreceiver sbus on port 4\n\
                 switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n\
                 bind arm to switch B position 2\nkeep";
    let mut bench = Bench::finch();
    let plan = bench.plan(lines);
    assert_eq!(
        told(&plan)[1..],
        [
            "writes: Write 3 settings and read back",
            "stores: Store",
            "restarts: Restart, and read 3 settings back",
            "writes: Write 3 settings and read back",
            "stores: Store",
            "restarts: Restart, and read 3 settings back",
        ]
    );
    assert_eq!(written(&plan)[..3], ["ARM_TO=850", "RX_PROTOCOL=1", "RX_PORT=4"]);
    assert!(plan.remarks.is_empty(), "{:?}", plan.remarks);
    let late = bench.plan(&lines.replace("receiver", "require throttle low\nreceiver"));
    let said: Vec<String> = late.remarks.iter().map(|remark| remark.text.clone()).collect();
    assert!(said.len() == 1 && said[0].contains("the step \"Throttle low\" above waits for the radio"), "{said:?}");
    bench.set("RX_PROTOCOL", 1).set("RX_PORT", 4);
    assert_eq!(bench.plan(lines).restarts(), 1, "one that the board has already waits for nothing");
}
