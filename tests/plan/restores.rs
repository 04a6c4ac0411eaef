//! Bringing a copy of all settings back: arm is closed by the first write and opened by the last, and what
//! belongs to a single craft stays with it.

use super::{SessionContext, name, writes};
use quadjig::board::binding::bound_now;
use quadjig::board::value::Number;
use quadjig::language::recipe::Function;
use quadjig::plan::restore::{self, RestoreError};
use quadjig::plan::step::Action;
use quadjig::record::Snapshot;
use std::collections::BTreeSet;

fn copy_of(bench: &SessionContext) -> Snapshot {
    Snapshot::new("2026-03-01T10:15:00Z".to_owned(), bench.identity.clone(), bench.settings.clone())
}

/// A factory board, and the same one set up since: arm elsewhere, another throttle channel and idle.
fn boards() -> [(SessionContext, SessionContext); 2] {
    let (direct, rows) = (SessionContext::finch(), SessionContext::finch_r());
    let (mut direct_now, mut rows_now) = (direct.clone(), rows.clone());
    for (names, now) in [
        (["ARM_CHANNEL", "ARM_FROM", "ARM_TO"], &mut direct_now),
        (["ROW1_CHANNEL", "ROW1_FROM", "ROW1_TO"], &mut rows_now),
    ] {
        for (setting, number) in names.into_iter().zip([6, 1754, 2146]) {
            now.set(setting, number);
        }
        now.set("THR_CHANNEL", 4).set("IDLE_US", 1150);
    }
    // A second row that the copy does not have, behind arm's in the table.
    rows_now.set("ROW2_FUNC", 2).set("ROW2_CHANNEL", 7).set("ROW2_FROM", 1754).set("ROW2_TO", 2146);
    [(direct, direct_now), (rows, rows_now)]
}

#[test]
fn arm_is_closed_first_and_opened_last() {
    let arm = Function("arm".to_owned());
    for (before, mut now) in boards() {
        let plan =
            restore::plan(&copy_of(&before), &now.sheet, &now.identity, &now.settings, &BTreeSet::new()).unwrap();
        assert!(matches!(plan.steps[0].act, Action::BatteryOut));
        let Action::Write(order) = &plan.steps[1].act else { panic!("{:?}", plan.steps[1].act) };
        for (index, write) in order.iter().enumerate() {
            now.settings.insert(write.name.clone(), write.to);
            let armed = !bound_now(&now.sheet, &now.settings, &arm).unwrap().is_empty();
            assert_eq!(armed, index + 1 == order.len(), "{}: after write {index}, {}", now.sheet.board, write.name);
        }
        assert_eq!(now.settings, before.settings, "{}", now.sheet.board);
    }
}

#[test]
fn a_board_that_has_it_all_is_left_alone() {
    let bench = SessionContext::finch();
    let plan =
        restore::plan(&copy_of(&bench), &bench.sheet, &bench.identity, &bench.settings, &BTreeSet::new()).unwrap();
    assert!(plan.steps.is_empty() && plan.changes.is_empty() && plan.is_satisfied());
}

#[test]
fn what_belongs_to_one_craft_is_not_carried_to_another() {
    let before = SessionContext::finch();
    let mut now = before.clone();
    now.identity.id.replace_range(15.., "2");
    now.set("IDLE_US", 1150).set("BOARD_TURN", 90).set("BOOT_TONE", 0);
    let plan = restore::plan(&copy_of(&before), &now.sheet, &now.identity, &now.settings, &BTreeSet::new()).unwrap();
    let written: Vec<String> = writes(&plan).iter().map(|write| write.name.to_string()).collect();
    // BOARD_TURN is the craft's own by the sheet; what the sheet does not know may be.
    assert_eq!(written, ["IDLE_US"]);
    assert_eq!(plan.remarks.len(), 2, "{:?}", plan.remarks);
    now.carry_out(&plan);
    assert_eq!(now.settings[&name("BOARD_TURN")], Number::Whole(90));
}

#[test]
fn a_copy_of_another_kind_is_refused() {
    let (direct, rows) = (SessionContext::finch(), SessionContext::finch_r());
    let refused = restore::plan(&copy_of(&rows), &direct.sheet, &direct.identity, &direct.settings, &BTreeSet::new());
    assert!(matches!(refused, Err(RestoreError::Kind { .. })), "{refused:?}");
    let mut real = direct.clone();
    real.identity.id = "0123456789abcdef".to_owned();
    let refused = restore::plan(&copy_of(&direct), &real.sheet, &real.identity, &real.settings, &BTreeSet::new());
    assert_eq!(refused, Err(RestoreError::Virtual));
}
