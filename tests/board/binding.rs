//! Where functions are bound and what would bind them, on boards of both ways.

use quadjig::board::binding::{BandChange, BindingError, BoundNow, bind, bound_now, functions, unbind};
use quadjig::board::bound::{all_bound, positions_on};
use quadjig::board::sheet::{BandPart, BindingLayout, Settings, Sheet};
use quadjig::board::shipped;
use quadjig::board::value::{Number, SettingName};
use quadjig::language::recipe::Function;
use quadjig::language::units::Pulse;
use std::fmt::Write as _;

fn function(name: &str) -> Function {
    Function(name.to_owned())
}

fn name(text: &str) -> SettingName {
    SettingName::new(text).unwrap()
}

fn put(settings: &mut Settings, pairs: &[(&str, i64)]) {
    settings.extend(pairs.iter().map(|(key, number)| (name(key), Number::Whole(*number))));
}

fn direct() -> (Sheet, Settings) {
    let mut settings = Settings::new();
    for of in ["ARM", "BUZZ", "SELFLVL", "LIGHT"] {
        let [channel, from, to] = ["CHANNEL", "FROM", "TO"].map(|role| format!("{of}_{role}"));
        put(&mut settings, &[(&channel, 0), (&from, 850), (&to, 850)]);
    }
    (shipped::sheet("Finch").unwrap().unwrap(), settings)
}

fn rows() -> (Sheet, Settings) {
    let mut settings = Settings::new();
    for row in 1..=8 {
        set_row(&mut settings, row, [0, 0, 850, 850]);
    }
    (shipped::sheet("Finch R").unwrap().unwrap(), settings)
}

fn set_row(settings: &mut Settings, row: u32, numbers: [i64; 4]) {
    for (role, number) in ["FUNC", "CHANNEL", "FROM", "TO"].into_iter().zip(numbers) {
        put(settings, &[(&format!("ROW{row}_{role}"), number)]);
    }
}

fn apply(settings: &mut Settings, changes: &[BandChange]) {
    for (_, name, number) in changes.iter().flat_map(BandChange::settings) {
        assert!(settings.insert(name.clone(), number).is_some(), "{name} is on the board");
    }
}

fn band(from: i32, to: i32) -> (Pulse, Pulse) {
    (Pulse(from), Pulse(to))
}

fn bound(channel: u32, from: i32, to: i32) -> BoundNow {
    BoundNow { channel, from: Pulse(from), to: Pulse(to) }
}

/// Rows whose settings would change, with the function that they are to hold.
fn touched(changes: &[BandChange]) -> Vec<(String, i64)> {
    let row = |change: &BandChange| change.names.function.as_ref().unwrap().as_str()[3..4].to_owned();
    changes.iter().filter(|change| !change.satisfied()).map(|change| (row(change), change.then.function)).collect()
}

#[test]
fn a_direct_binding_is_three_settings_with_their_roles() {
    let (sheet, settings) = direct();
    let changes = bind(&sheet, &settings, &function("arm"), 6, &[band(1754, 2146)]).unwrap();
    let all: Vec<_> = changes.iter().flat_map(BandChange::settings).collect();
    assert_eq!(
        all,
        [
            (BandPart::Channel, &name("ARM_CHANNEL"), Number::Whole(6)),
            (BandPart::From, &name("ARM_FROM"), Number::Whole(1754)),
            (BandPart::To, &name("ARM_TO"), Number::Whole(2146)),
        ]
    );
    assert_eq!((changes[0].now.channel, changes[0].now.from, changes[0].now.to), (0, 850, 850));
}

#[test]
fn bound_unbound_and_bound_again_on_either_board() {
    for (sheet, mut settings) in [direct(), rows()] {
        let arm = function("arm");
        assert_eq!(bound_now(&sheet, &settings, &arm).unwrap(), []);
        let changes = bind(&sheet, &settings, &arm, 6, &[band(1754, 2146)]).unwrap();
        apply(&mut settings, &changes);
        assert_eq!(bound_now(&sheet, &settings, &arm).unwrap(), [bound(6, 1754, 2146)]);
        for other in functions(&sheet).into_iter().filter(|other| !other.is_arm()) {
            assert_eq!(bound_now(&sheet, &settings, other).unwrap(), [], "{other:?}");
        }

        let again = bind(&sheet, &settings, &arm, 6, &[band(1754, 2146)]).unwrap();
        assert!(again.iter().all(BandChange::satisfied), "a second run writes nothing");

        let changes = bind(&sheet, &settings, &arm, 7, &[band(850, 1250)]).unwrap();
        apply(&mut settings, &changes);
        assert_eq!(bound_now(&sheet, &settings, &arm).unwrap(), [bound(7, 850, 1250)]);

        let changes = unbind(&sheet, &settings, &arm).unwrap();
        assert_eq!((changes.len(), changes[0].then.channel), (1, 0));
        assert_eq!((changes[0].then.from, changes[0].then.to), sheet.binding.closed);
        apply(&mut settings, &changes);
        assert_eq!(bound_now(&sheet, &settings, &arm).unwrap(), []);
        assert!(unbind(&sheet, &settings, &arm).unwrap().iter().all(BandChange::satisfied));
    }
}

/// An end that no band can have may be the rest of a number: whether the function is off is not known.
#[test]
fn an_end_outside_of_all_bands_closes_none() {
    let (sheet, settings) = rows();
    for ([from, to], strange) in [
        ([1754, 0], Some("ROW1_TO")),
        ([1754, 21], Some("ROW1_TO")),
        ([9999, 2100], Some("ROW1_FROM")),
        ([0, 0], Some("ROW1_FROM")),
        ([850, 850], None),
        ([2100, 1754], None),
    ] {
        let mut settings = settings.clone();
        set_row(&mut settings, 1, [1, 6, from, to]);
        let bound = bound_now(&sheet, &settings, &function("arm"));
        match strange {
            None => assert_eq!(bound, Ok(Vec::new()), "{from} {to}"),
            Some(end) => {
                let is = |error| matches!(error, BindingError::Strange { name, .. } if name.as_str() == end);
                assert!(bound.is_err_and(is), "{from} {to}");
            }
        }
        // Without a channel it is on nowhere, whatever its ends are.
        set_row(&mut settings, 1, [1, 0, from, to]);
        assert_eq!(bound_now(&sheet, &settings, &function("arm")), Ok(Vec::new()), "{from} {to}");
    }
}

#[test]
fn rows_in_use_are_used_again_then_free_ones_and_the_rest_is_freed() {
    let (sheet, mut settings) = rows();
    let lights = function("lights");
    set_row(&mut settings, 1, [1, 6, 1754, 2146]);
    set_row(&mut settings, 3, [4, 7, 850, 1250]);
    set_row(&mut settings, 5, [4, 7, 1746, 2146]);
    assert_eq!(bound_now(&sheet, &settings, &lights).unwrap(), [bound(7, 850, 1250), bound(7, 1746, 2146)]);

    // Row 5 already holds one of the wanted bands and keeps it; row 3 takes the other; row 2 is the first free one.
    let bands = [band(1746, 2146), band(1250, 1450), band(850, 1050)];
    let changes = bind(&sheet, &settings, &lights, 7, &bands).unwrap();
    assert_eq!(touched(&changes), [("3".to_owned(), 4), ("2".to_owned(), 4)]);
    apply(&mut settings, &changes);
    let all = [bound(7, 850, 1050), bound(7, 1250, 1450), bound(7, 1746, 2146)];
    assert_eq!(bound_now(&sheet, &settings, &lights).unwrap(), all);
    let mut turned = bands;
    turned.reverse();
    assert!(bind(&sheet, &settings, &lights, 7, &turned).unwrap().iter().all(BandChange::satisfied));

    // One band is left: the other two rows are freed, and the row of `arm` was never touched.
    let changes = bind(&sheet, &settings, &lights, 7, &[band(1250, 1450)]).unwrap();
    assert_eq!(touched(&changes).iter().map(|(_, function)| *function).collect::<Vec<_>>(), [0, 0]);
    apply(&mut settings, &changes);
    assert_eq!(bound_now(&sheet, &settings, &lights).unwrap(), [bound(7, 1250, 1450)]);
    assert_eq!(bound_now(&sheet, &settings, &function("arm")).unwrap(), [bound(6, 1754, 2146)]);

    let changes = unbind(&sheet, &settings, &lights).unwrap();
    assert_eq!(touched(&changes).len(), 1);
}

#[test]
fn a_full_table_is_an_error_but_its_own_rows_still_serve() {
    let (sheet, mut settings) = rows();
    // A function that the sheet does not know holds its row like any other.
    for (row, function) in [(1, 1), (2, 2), (3, 2), (4, 3), (5, 3), (6, 4), (7, 4), (8, 99)] {
        set_row(&mut settings, row, [function, 6, 850, 1250]);
    }
    let two = [band(850, 1050), band(1450, 1650)];
    let full = bind(&sheet, &settings, &function("arm"), 6, &two).unwrap_err();
    assert_eq!(full, BindingError::NoRow { function: "arm".to_owned(), wanted: 2, left: 1, all: 8 });
    assert_eq!(bind(&sheet, &settings, &function("buzzer"), 6, &two).unwrap().len(), 2);
}

/// Positions that are apart take a row each, and nothing else in the table moves: neither other functions' rows, nor
/// rows of functions that the sheet does not know, nor free ones that are not needed.
#[test]
fn binding_and_unbinding_disturb_nothing_else_in_any_table() {
    let (sheet, _) = rows();
    let ends = [850_i32, 1050, 1250, 1450, 1650, 1850, 2050];
    let mut state = 7_u32;
    let mut dice = move |sides: u32| {
        // Numerical Recipes' linear congruential generator; its low bits are left out.
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 16) % sides
    };
    let mut full = 0;
    for round in 0..2_000 {
        let mut settings = Settings::new();
        for row in 1..=8 {
            let function = [0, 1, 2, 3, 4, 99][dice(6) as usize];
            let from = i64::from(ends[dice(6) as usize]);
            let numbers =
                if function == 0 { [0, 0, 850, 850] } else { [function, 5 + i64::from(dice(4)), from, from + 200] };
            set_row(&mut settings, row, numbers);
        }
        let names = ["arm", "buzzer", "self-level", "lights"];
        let at = dice(4) as usize;
        let (of, number) = (function(names[at]), i64::try_from(at).unwrap() + 1);
        let mut wanted: Vec<_> = ends.windows(2).step_by(2).map(|pair| band(pair[0], pair[1])).collect();
        wanted.truncate(1 + dice(3) as usize);
        let before = settings.clone();
        let holds = |settings: &Settings, row: usize| settings[&name(&format!("ROW{row}_FUNC"))];
        let own_or_free = |row: &usize| [Number::Whole(number), Number::Whole(0)].contains(&holds(&before, *row));
        let room = (1..=8).filter(own_or_free).count();

        match bind(&sheet, &settings, &of, 9, &wanted) {
            Ok(changes) => {
                apply(&mut settings, &changes);
                let bound_there: Vec<_> = wanted.iter().map(|(from, to)| bound(9, from.0, to.0)).collect();
                assert_eq!(bound_now(&sheet, &settings, &of).unwrap(), bound_there, "round {round}");
                assert!(bind(&sheet, &settings, &of, 9, &wanted).unwrap().iter().all(BandChange::satisfied));
                let in_use = (1..=8).filter(|row| holds(&settings, *row) == Number::Whole(number)).count();
                assert_eq!(in_use, wanted.len(), "rows that are not needed any more are freed");
            }
            Err(error) => {
                assert!(wanted.len() > room && matches!(error, BindingError::NoRow { .. }), "round {round}: {error}");
                full += 1;
            }
        }
        let own = |name: &SettingName| own_or_free(&usize::from(name.as_str().as_bytes()[3] - b'0'));
        for (name, value) in settings.iter().filter(|(name, _)| !own(name)) {
            assert_eq!(*value, before[name], "round {round}: {name}");
        }
        let changes = unbind(&sheet, &settings, &of).unwrap();
        apply(&mut settings, &changes);
        assert_eq!(bound_now(&sheet, &settings, &of).unwrap(), []);
        for other in functions(&sheet).into_iter().filter(|other| **other != of) {
            assert_eq!(bound_now(&sheet, &settings, other).unwrap(), bound_now(&sheet, &before, other).unwrap());
        }
    }
    assert!(full > 20, "full tables were among them: {full}");
}

/// Ends are what the sheet's own least, most and step allow, and nothing between.
#[test]
fn ends_follow_the_sheets_own_granularity() {
    for (granularity, fits, unfit) in [(1, band(851, 1049), band(849, 1049)), (25, band(875, 1050), band(866, 1050))] {
        let text = shipped::SHEETS.iter().find(|sheet| sheet.stem == "finch-r").unwrap().text;
        let text = text.replace("granularity = 8", &format!("granularity = {granularity}"));
        let sheet = quadjig::board::sheet_file::read("try.toml", &text).unwrap();
        let (_, settings) = rows();
        assert!(bind(&sheet, &settings, &function("arm"), 6, &[fits]).is_ok(), "{granularity}");
        let error = bind(&sheet, &settings, &function("arm"), 6, &[unfit]).unwrap_err();
        assert!(matches!(error, BindingError::BadEnds { .. }), "{granularity}: {error}");
    }
}

#[test]
fn closed_bands_and_unbound_channels_are_on_nowhere() {
    let (sheet, mut settings) = direct();
    let arm = function("arm");
    for (channel, from, to) in [(0, 850, 2146), (6, 850, 850), (6, 2146, 850), (6, 1450, 1450)] {
        put(&mut settings, &[("ARM_CHANNEL", channel), ("ARM_FROM", from), ("ARM_TO", to)]);
        assert_eq!(bound_now(&sheet, &settings, &arm).unwrap(), [], "{channel} {from} {to}");
    }
    settings.insert(name("ARM_CHANNEL"), Number::Real(6.0));
    put(&mut settings, &[("ARM_FROM", 1450), ("ARM_TO", 1458)]);
    assert_eq!(bound_now(&sheet, &settings, &arm).unwrap(), [bound(6, 1450, 1458)], "a real that is whole");
}

#[test]
fn what_cannot_be_bound_is_refused_with_the_reason() {
    let (sheet, mut settings) = direct();
    let arm = function("arm");
    let mut told = String::new();
    let mut tell = |result: Result<Vec<BandChange>, BindingError>| {
        writeln!(told, "{}", result.unwrap_err()).unwrap();
    };
    tell(bind(&sheet, &settings, &function("flaps"), 6, &[band(850, 1050)]));
    tell(bind(&sheet, &settings, &arm, 0, &[band(850, 1050)]));
    tell(bind(&sheet, &settings, &arm, 19, &[band(850, 1050)]));
    tell(bind(&sheet, &settings, &arm, 6, &[]));
    tell(bind(&sheet, &settings, &arm, 6, &[band(850, 1050), band(1450, 1650)]));
    tell(bind(&sheet, &settings, &arm, 6, &[band(1050, 1050)]));
    tell(bind(&sheet, &settings, &arm, 6, &[band(842, 1050)]));
    tell(bind(&sheet, &settings, &arm, 6, &[band(850, 2154)]));
    tell(bind(&sheet, &settings, &arm, 6, &[band(850, 1051)]));
    tell(bind(&sheet, &settings, &arm, 6, &[band(850, 1058), band(1050, 1250)]));
    settings.insert(name("ARM_FROM"), Number::Real(900.5));
    tell(bind(&sheet, &settings, &arm, 6, &[band(850, 1050)]));
    put(&mut settings, &[("ARM_CHANNEL", -2), ("ARM_FROM", 850), ("ARM_TO", 1050)]);
    tell(bound_now(&sheet, &settings, &arm).map(|_| Vec::new()));
    settings.remove(&name("ARM_TO"));
    tell(unbind(&sheet, &settings, &arm));
    insta::assert_snapshot!(told);
}

#[test]
fn functions_are_the_boards_to_say() {
    let ((direct, _), (rows, _)) = (direct(), rows());
    assert!(matches!(rows.binding.way, BindingLayout::Rows { .. }));
    let names: Vec<_> = functions(&direct).into_iter().map(|function| function.0.as_str()).collect();
    assert_eq!(names, ["arm", "buzzer", "lights", "self-level"]);
}

/// By hand: the board's three settings of each function, `from` inside and `to` outside.
#[test]
fn every_band_is_told_with_the_positions_that_are_in_it() {
    let (sheet, mut settings) = direct();
    put(&mut settings, &[("BUZZ_CHANNEL", 7), ("BUZZ_FROM", 1500), ("BUZZ_TO", 2000)]);
    let all = all_bound(&sheet, &settings);
    let buzzer: Vec<BoundNow> = all.iter().filter(|(of, _)| of.0 == "buzzer").map(|(_, band)| *band).collect();
    assert_eq!(buzzer, [BoundNow { channel: 7, from: Pulse(1500), to: Pulse(2000) }]);
    let rests = [1000, 1500, 1999, 2000].map(Pulse);
    assert_eq!(positions_on(&buzzer, 7, &rests), [1, 2]);
    assert_eq!(positions_on(&buzzer, 6, &rests), [0_u32; 0]);
}
