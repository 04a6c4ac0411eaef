//! Bringing a copy of all settings back: judged as a recipe is before anything is sent, arm closed by the first write
//! and opened by the last, and what belongs to a single craft stays with it.
//!
//! Source of what must be refused: the safety model (built-in ceilings; in doubt means on; a raw name has the worst).

use super::{Bench, guards, name, step, told, writes};
use quadjig::board::binding::bound_now;
use quadjig::board::radio_card::{RadioCard, SwitchEntry};
use quadjig::board::sheet::Form;
use quadjig::board::value::{NoValue, Number};
use quadjig::interlock::craft::Facts;
use quadjig::language::recipe::{Function, OnLoss, Switch};
use quadjig::language::units::Pulse;
use quadjig::plan::facts::throttle_channel;
use quadjig::plan::restore::{self, Radio, RestoreError};
use quadjig::plan::step::{Action, Plan};
use quadjig::record::{ChannelOnLoss, LossSeen, Snapshot};
use std::collections::{BTreeMap, BTreeSet};

fn copy_of(bench: &Bench) -> Snapshot {
    Snapshot::new("2026-03-01T10:15:00Z".to_owned(), bench.identity.clone(), bench.settings.clone())
}

/// A receiver whose channels all stand at 1000 us.
fn heard() -> BTreeMap<u32, Pulse> {
    (1..=18).map(|channel| (channel, Pulse(1000))).collect()
}

/// The plan that brings `before` back to `now`, with all channels heard.
fn plan(before: &Bench, now: &Bench) -> Result<Plan, Vec<RestoreError>> {
    by(before, now, &now.card, &[], heard())
}

fn by(
    before: &Bench,
    now: &Bench,
    card: &RadioCard,
    link_loss: &[ChannelOnLoss],
    heard: BTreeMap<u32, Pulse>,
) -> Result<Plan, Vec<RestoreError>> {
    let radio = Radio { card, link_loss, heard: Some(heard) };
    restore::plan(&copy_of(before), &now.sheet, &now.identity, &now.settings, &radio, &BTreeSet::new())
}

/// A factory board, and the same one set up since: arm elsewhere, another throttle channel and idle.
fn boards() -> [(Bench, Bench); 2] {
    let (direct, rows) = (Bench::finch(), Bench::finch_r());
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
        let plan = plan(&before, &now).unwrap();
        assert!(matches!(plan.steps[0].act, Action::BatteryOut { .. }));
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
    let bench = Bench::finch();
    let plan = plan(&bench, &bench).unwrap();
    assert!(plan.steps.is_empty() && plan.changes.is_empty() && plan.is_satisfied());
}

#[test]
fn what_belongs_to_one_craft_is_not_carried_to_another() {
    let before = Bench::finch();
    let mut now = before.clone();
    now.identity.id.replace_range(15.., "2");
    now.set("IDLE_US", 1150).set("BOARD_TURN", 90).set("BOOT_TONE", 0);
    let plan = plan(&before, &now).unwrap();
    let written: Vec<String> = writes(&plan).iter().map(|write| write.name.to_string()).collect();
    // BOARD_TURN is the craft's own by the sheet; what the sheet does not know may be.
    assert_eq!(written, ["IDLE_US"]);
    let left = plan.remarks.iter().filter(|remark| remark.text.contains("not carried over"));
    assert_eq!(left.count(), 2, "{:?}", plan.remarks);
    now.carry_out(&plan);
    assert_eq!(now.settings[&name("BOARD_TURN")], Number::Whole(90));
}

/// A board whose every value travels as a real number, whole or not, is brought back like any other.
#[test]
fn a_board_of_real_numbers_is_brought_back() {
    for (mut before, mut now) in boards() {
        for bench in [&mut before, &mut now] {
            for number in bench.settings.values_mut() {
                *number = Number::Real(number.real());
            }
        }
        let plan = plan(&before, &now).unwrap();
        now.carry_out(&plan);
        assert!(before.settings.iter().all(|(name, was)| now.settings[name].same(*was)), "{:?}", told(&plan));
        let facts = Facts::read("Wren 95", true, &now.sheet, &now.settings).unwrap();
        assert_eq!((facts.throttle_channel, facts.roll_channel, facts.cells), (Some(3), Some(1), 1));
        now.settings.insert(name("CELLS"), Number::Real(4.0));
        assert_eq!(Facts::read("Wren 95", true, &now.sheet, &now.settings).unwrap().cells, 4);
        // What is not whole is no channel.
        before.settings.insert(name("THR_CHANNEL"), Number::Real(2.5));
        assert_eq!(throttle_channel(&before.sheet, &before.settings), None);
    }
}

#[test]
fn a_copy_of_another_kind_is_refused() {
    let (direct, rows) = (Bench::finch(), Bench::finch_r());
    let refused = plan(&rows, &direct);
    assert!(matches!(refused.as_ref().map_err(Vec::as_slice), Err([RestoreError::Kind { .. }])), "{refused:?}");
    let mut real = direct.clone();
    real.identity.id = "0123456789abcdef".to_owned();
    let refused = plan(&direct, &real);
    assert_eq!(refused, Err(vec![RestoreError::Virtual]));
}

/// What is said of a copy that holds one value more.
fn refused(setting: &str, number: Number) -> String {
    let now = Bench::finch();
    let mut before = now.clone();
    before.settings.insert(name(setting), number);
    match plan(&before, &now) {
        Ok(plan) => panic!("{setting} = {number} is written: {:?}", told(&plan)),
        Err(errors) => restore::refusals(&errors),
    }
}

#[test]
fn a_value_that_no_recipe_could_set_is_refused_by_name() {
    for (setting, number, why) in [
        ("IDLE_US", Number::Whole(2000), "this board takes 1000 us to 1250 us"),
        ("IDLE_US", Number::Real(1120.5), "in steps of 1"),
        ("IDLE_US", Number::Real(1e39), "32 bits"),
        ("LEVEL_ROLL", Number::Real(1e39), "32 bits"),
        ("LEVEL_ROLL", Number::Real(11.0), "-10 deg to 10 deg"),
        ("MOTOR_SIGNAL", Number::Whole(9), "cannot be 9"),
        ("LOOP_HZ", Number::Whole(3000), "cannot be 3 kHz"),
        ("LIGHT_LEVEL", Number::Whole(101), "this board takes 0 to 100"),
        ("BOOT_TONE", Number::Real(0.5), "in steps of 1"),
        ("BOOT_TONE", Number::Whole(5_000_000_000), "32 bits"),
        ("BUZZ_FROM", Number::Whole(3000), "in a band"),
        ("BUZZ_FROM", Number::Whole(1001), "in a band"),
        ("BUZZ_CHANNEL", Number::Whole(19), "in a band"),
    ] {
        let said = refused(setting, number);
        assert!(said.contains(setting) && said.contains(why), "{setting} = {number}: {said}");
    }
    // The ceiling stands, whatever a sheet allows.
    let mut now = Bench::finch();
    for (word, setting, number, most) in
        [("idle", "IDLE_US", 1300, 2000.0), ("link-loss-wait", "LOSS_WAIT_MS", 2500, 60_000.0)]
    {
        now.sheet.settings.get_mut(word).unwrap().range = Some((0.0, most));
        let mut before = now.clone();
        before.set(setting, number);
        let said = restore::refusals(&plan(&before, &now).unwrap_err());
        assert!(said.contains(setting) && (said.contains("1250 us") || said.contains("longer than 2 s")), "{said}");
    }
    // Also between two pulse widths.
    now.sheet.settings.get_mut("idle").unwrap().form = Form::Real { unit: "us".to_owned() };
    for (number, refused) in [(1250.0, false), (1250.5, true), (1400.5, true)] {
        let (mut before, mut now) = (now.clone(), now.clone());
        before.settings.insert(name("IDLE_US"), Number::Real(number));
        now.settings.insert(name("IDLE_US"), Number::Real(1150.0));
        let said = plan(&before, &now).map(|plan| told(&plan)).map_err(|errors| restore::refusals(&errors));
        assert_eq!(said.as_ref().is_err_and(|said| said.contains("1250 us")), refused, "{number}: {said:?}");
    }
}

#[test]
fn all_that_is_wrong_with_a_copy_is_told() {
    let now = Bench::finch();
    let mut before = now.clone();
    before.set("IDLE_US", 2000).set("CELLS", 9);
    assert_eq!(plan(&before, &now).unwrap_err().len(), 2);
}

/// A board whose copy has arm on channel 7 from 1498 to 2098, and which has arm nowhere now.
fn arm_back() -> (Bench, Bench) {
    let (mut before, mut now) = (Bench::finch(), Bench::finch());
    before.set("ARM_CHANNEL", 7).set("ARM_FROM", 1498).set("ARM_TO", 2098);
    now.set("ARM_CHANNEL", 0).set("ARM_FROM", 850).set("ARM_TO", 850);
    (before, now)
}

#[test]
fn arm_comes_back_only_where_its_channel_is_heard_outside_of_its_band() {
    let (before, now) = arm_back();
    let empty = RadioCard::default();
    assert!(by(&before, &now, &empty, &[], heard()).is_ok());
    let none = by(&before, &now, &empty, &[], BTreeMap::new());
    assert_eq!(none, Err(vec![RestoreError::ArmUnheard { channel: 7, fed: true }]));
    let mut inside = heard();
    inside.insert(7, Pulse(1900));
    let refused = by(&before, &now, &empty, &[], inside);
    assert!(
        matches!(refused.as_ref().map_err(Vec::as_slice), Err([RestoreError::ArmStands { channel: 7, .. }])),
        "{refused:?}"
    );
    assert!(!restore::refusals(&refused.unwrap_err()).contains("position 0"), "which position that is, nobody knows");
    // A card does not speak for a radio that is off, where USB feeds the receiver.
    assert!(by(&before, &now, &now.card, &[], BTreeMap::new()).is_err());
    let mut unfed = now.clone();
    unfed.sheet.usb_feeds_receiver = false;
    assert!(by(&before, &unfed, &now.card, &[], BTreeMap::new()).is_ok());
    // It could never be heard: what helps is a card, and nobody is told to switch the radio on.
    let said = restore::refusals(&by(&before, &unfed, &empty, &[], BTreeMap::new()).unwrap_err());
    assert!(said.contains("--radio") && !said.contains("Switch the radio on"), "{said}");
}

#[test]
fn arm_does_not_come_back_over_a_rest_or_over_link_loss() {
    let (before, now) = arm_back();
    let card = |rests: [i32; 2], on_loss| {
        let mut card = RadioCard::default();
        let entry =
            SwitchEntry { channel: 7, rests: rests.map(Pulse).to_vec(), noise: None, momentary: false, on_loss };
        card.switches.insert(Switch("C".to_owned()), entry);
        card
    };
    let seen = |does| [ChannelOnLoss { channel: 7, does }];
    for (card, link_loss, why) in [
        (card([2000, 1000], None), vec![], "position 0"),
        (card([1000, 2000], Some(OnLoss::Rests(Pulse(1800)))), vec![], "goes to 1800 us"),
        (card([1000, 2000], Some(OnLoss::Holds)), vec![], "stays where it was"),
        (card([1000, 2000], None), seen(LossSeen::Fixed(1500)).to_vec(), "goes to 1500 us"),
        (RadioCard::default(), seen(LossSeen::Holds).to_vec(), "stays where it was"),
    ] {
        let said = restore::refusals(&by(&before, &now, &card, &link_loss, heard()).expect_err(why));
        assert!(said.contains(why), "{said}");
    }
    assert!(
        by(&before, &now, &card([1000, 2000], Some(OnLoss::Flagged)), &seen(LossSeen::Fixed(988)), heard()).is_ok()
    );
}

/// As a recipe's binding: a switch that springs back never arms.
#[test]
fn arm_does_not_come_back_on_a_switch_that_springs_back() {
    let (before, now) = arm_back();
    let card = |momentary| {
        let mut card = RadioCard::default();
        let rests = vec![Pulse(1000), Pulse(2000)];
        let entry = SwitchEntry { channel: 7, rests, noise: None, momentary, on_loss: Some(OnLoss::Flagged) };
        card.switches.insert(Switch("C".to_owned()), entry);
        card
    };
    assert!(by(&before, &now, &card(false), &[], heard()).is_ok());
    let said = restore::refusals(&by(&before, &now, &card(true), &[], heard()).unwrap_err());
    assert!(said.contains("switch C") && said.contains("a switch that stays where it is put"), "{said}");
    // So is what an undo would bring back.
    let arm: Vec<_> = before.settings.iter().filter(|(name, _)| name.as_str().starts_with("ARM_")).collect();
    let wanted = arm.into_iter().map(|(name, value)| (name.clone(), *value)).collect();
    let radio = Radio { card: &card(true), link_loss: &[], heard: Some(heard()) };
    let undone = restore::take_back(&wanted, &now.sheet, &now.identity, &now.settings, &radio);
    assert!(restore::refusals(&undone.unwrap_err()).contains("switch C"));
}

/// As a recipe's binding: what nobody has seen of link loss is said.
#[test]
fn arm_that_comes_back_over_an_unknown_link_loss_is_remarked() {
    let (before, now) = arm_back();
    let remarks = |link_loss: &[ChannelOnLoss], card: &RadioCard| {
        let plan = by(&before, &now, card, link_loss, heard()).unwrap();
        plan.remarks.into_iter().filter(|remark| remark.text.contains("on link loss")).count()
    };
    let stated = |on_loss| {
        let mut card = RadioCard::default();
        let rests = vec![Pulse(1000), Pulse(2000)];
        let entry = SwitchEntry { channel: 7, rests, noise: None, momentary: false, on_loss };
        card.switches.insert(Switch("C".to_owned()), entry);
        card
    };
    assert_eq!(remarks(&[], &RadioCard::default()), 1);
    assert_eq!(remarks(&[], &stated(None)), 1);
    assert_eq!(remarks(&[], &stated(Some(OnLoss::Flagged))), 0);
    assert_eq!(remarks(&[ChannelOnLoss { channel: 7, does: LossSeen::Flagged }], &RadioCard::default()), 0);
    // A band that stays is not judged again.
    let same = by(&now, &now, &RadioCard::default(), &[], heard()).unwrap();
    assert!(same.remarks.iter().all(|remark| !remark.text.contains("on link loss")));
}

#[test]
fn an_arm_band_that_stays_is_not_judged_again() {
    let (_, mut now) = arm_back();
    now.set("ARM_CHANNEL", 7).set("ARM_FROM", 1498).set("ARM_TO", 2098);
    let mut before = now.clone();
    before.set("IDLE_US", 1100);
    assert_eq!(by(&before, &now, &now.card, &[], BTreeMap::new()).map(|plan| writes(&plan).len()), Ok(1));
}

#[test]
fn what_can_turn_motors_says_so() {
    let now = Bench::finch();
    let mut before = now.clone();
    before.set("IDLE_US", 1100).set("LIGHT_LEVEL", 50);
    let harmless = plan(&before, &now).unwrap();
    assert!(told(&harmless).iter().all(|step| !step.starts_with("turns motors")), "{:?}", told(&harmless));
    // A name that the sheet does not list may do anything, with the battery out as well.
    before.set("BOOT_TONE", 0);
    let raw = plan(&before, &now).unwrap();
    assert_eq!(
        told(&raw)[..3],
        [
            "asks: Battery out",
            "asks: Propellers off, and no other craft on this radio",
            "turns motors: Write 3 settings and read back"
        ]
    );
    let write = step(&raw, |act| matches!(act, Action::Write(_)));
    assert_eq!(guards(&write), "props off, confirmed by its word, disarmed, battery out, encoding proved");
    // So may every change of how motors answer, and a restart with arm bound, where USB turns them.
    let mut fed = now.clone();
    fed.sheet.usb_feeds_motors = true;
    let mut before = fed.clone();
    before.set("IDLE_US", 1100);
    let told = told(&plan(&before, &fed).unwrap());
    assert_eq!(told.iter().filter(|step| step.starts_with("turns motors")).count(), 2, "{told:?}");
}

#[test]
fn a_place_is_kept_by_bands_and_words() {
    for (mut before, now) in boards() {
        before.set("LIGHT_LEVEL", 50).set("BOOT_TONE", 0).set("CELLS", 2);
        let free: Vec<String> = writes(&plan(&before, &now).unwrap())
            .iter()
            .filter(|write| !write.ordered)
            .map(|write| write.name.to_string())
            .collect();
        assert_eq!(free, ["BOOT_TONE", "LIGHT_LEVEL"], "{}", now.sheet.board);
    }
}

#[test]
fn an_order_that_cannot_keep_arm_off_by_the_way_turns_motors() {
    let [(before, mut now), _] = boards();
    // A board whose closed pair lies inside the range, so that closing one end leaves a band open.
    now.sheet.binding.closed = (1906, 1906);
    let plan = plan(&before, &now).unwrap();
    assert!(told(&plan).iter().any(|step| step.starts_with("turns motors: Write")), "{:?}", told(&plan));
}

/// What a plan says of where functions will be bound.
fn afterwards(plan: &Plan) -> Vec<String> {
    plan.remarks.iter().map(ToString::to_string).filter(|text| text.starts_with("Afterwards")).collect()
}

#[test]
fn what_would_arm_is_told_in_the_recipes_words_where_a_card_has_its_switch() {
    let (before, now) = arm_back();
    let card = |channel, rests: &[i32]| {
        let mut card = RadioCard::default();
        let rests = rests.iter().map(|rest| Pulse(*rest)).collect();
        let entry = SwitchEntry { channel, rests, noise: None, momentary: false, on_loss: Some(OnLoss::Flagged) };
        card.switches.insert(Switch("C".to_owned()), entry);
        card
    };
    let three = card(7, &[1000, 1500, 2000]);
    let none = RadioCard::default();
    let said =
        |before: &Bench, now: &Bench, card: &RadioCard| afterwards(&by(before, now, card, &[], heard()).unwrap());
    let place = "channel 7 from 1498 us to 2098 us";
    assert_eq!(said(&before, &now, &three), [format!("Afterwards: bind arm to switch C positions 1, 2 ({place}).")]);
    assert_eq!(
        said(&before, &now, &none),
        [format!("Afterwards: arm is on with {place}; which switch that is, no radio card here says.")]
    );
    assert_eq!(
        said(&before, &now, &card(7, &[1000, 1200])),
        [format!("Afterwards: arm is on in no position of switch C ({place}).")]
    );
    // Nothing is left to be guessed where it stays, or goes.
    assert_eq!(
        said(&before, &before, &three),
        [format!("Afterwards, as now: bind arm to switch C positions 1, 2 ({place}).")]
    );
    assert_eq!(said(&now, &before, &three), ["Afterwards: arm is bound to no switch."]);
    // What else changes is told too, and arm all the same.
    let mut buzzing = now.clone();
    buzzing.set("BUZZ_CHANNEL", 7).set("BUZZ_FROM", 1754).set("BUZZ_TO", 2146);
    let said = said(&buzzing, &now, &three);
    assert_eq!(said.len(), 2, "{said:?}");
    assert_eq!(said[0], "Afterwards, as now: arm is bound to no switch.");
    assert!(said[1].starts_with("Afterwards: bind buzzer to switch C position 2 ("), "{said:?}");
}

#[test]
fn a_copy_that_is_not_whole_is_no_way_back() {
    let (before, now) = boards()[0].clone();
    let mut copy = copy_of(&before);
    copy.lacking.insert(name("CRAFT"), NoValue::NoNumber);
    let radio = Radio { card: &now.card, link_loss: &[], heard: Some(heard()) };
    let refused = restore::plan(&copy, &now.sheet, &now.identity, &now.settings, &radio, &BTreeSet::new());
    let said = restore::refusals(&refused.unwrap_err());
    assert!(said.contains("not whole, and no way back") && said.contains("no number is told of CRAFT"), "{said}");
}

/// Where nobody listens a copy is planned as far as can be: the rests of a card still count.
#[test]
fn against_a_copy_no_channel_is_heard_and_a_rest_still_refuses() {
    let (before, now) = arm_back();
    let planned = |card: &RadioCard| {
        let radio = Radio { card, link_loss: &[], heard: None };
        restore::plan(&copy_of(&before), &now.sheet, &now.identity, &now.settings, &radio, &BTreeSet::new())
    };
    assert!(planned(&RadioCard::default()).is_ok());
    let mut card = RadioCard::default();
    let rests = vec![Pulse(2000), Pulse(1000)];
    let entry = SwitchEntry { channel: 7, rests, noise: None, momentary: false, on_loss: Some(OnLoss::Flagged) };
    card.switches.insert(Switch("C".to_owned()), entry);
    assert!(restore::refusals(&planned(&card).unwrap_err()).contains("position 0"));
}
