//! A series of simulated crafts: its table is held against the worlds' truth.

use super::recovered::{WHOLE, later};
use crate::bench::stand::{Log, Played, Plot, Stand, Then};
use quadjig::record::folder;
use quadjig::record::series::rows::{Row, rows};
use quadjig::record::series::{Common, SCHEMA, SeriesName};
use quadjig::report::series::{Table, json, text};
use quadjig::virtual_board::{World, WorldConfig};
use std::path::Path;
use std::time::Duration;

fn name() -> SeriesName {
    SeriesName::read("wren").unwrap()
}

/// A craft of the series, its clock so many hours into it.
fn craft(config: WorldConfig, hour: i64) -> Stand<'static> {
    let mut stand = Stand::on(WHOLE, config);
    stand.series = Some("wren");
    stand.clock = jiff::Timestamp::from_second(hour * 3600).unwrap();
    stand
}

/// Puts the record of a craft where all of them are.
fn keep(crafts: &Path, played: &Played) {
    let id = played.board.truth()["board"]["id"].as_str().unwrap().to_owned();
    let place = folder::of_craft(crafts, &id).unwrap();
    for (file, bytes) in &played.disk.craft {
        let file = place.join(file);
        std::fs::create_dir_all(file.parent().unwrap()).unwrap();
        std::fs::write(file, bytes).unwrap();
    }
}

fn table(rows: &[Row]) -> (String, serde_json::Value) {
    let common = Common {
        schema: SCHEMA.to_owned(),
        at: "1970-01-01T00:00:00Z".to_owned(),
        program: String::new(),
        recipe: "Wren 95, stand".to_owned(),
        recipe_hash: "0".repeat(64),
        with: Vec::new(),
    };
    let name = name();
    let table = Table { name: &name, common: &common, rows };
    (text(table, false), serde_json::to_value(json(table)).unwrap())
}

/// The pulse that the most stubborn motor of a craft may need.
fn needs(board: &World) -> f64 {
    let truth = board.truth();
    let motors = truth["motors"].as_array().unwrap().iter();
    motors.map(|motor| motor["highest_start"].as_f64().unwrap()).fold(0.0, f64::max)
}

fn stored(board: &World, setting: &str) -> f64 {
    board.truth()["settings"][setting]["stored"].as_f64().unwrap()
}

/// Ten crafts of a spread fleet: the fourth with a motor that starts at no value that may be tried, the sixth swapped for
/// the tenth while it runs, the eighth killed and finished by `recover`.
#[test]
fn ten_crafts_are_told_as_they_are() {
    let crafts = tempfile::tempdir().unwrap();
    let mut all: Vec<Played> = Vec::new();
    for number in 1..=10 {
        let config = WorldConfig::spread(number);
        let mut stand = craft(config, i64::try_from(number).unwrap());
        match number {
            4 => {
                let now = stand.board.now();
                stand.board.line(now, "threshold rear right 1240").unwrap();
            }
            6 => {
                let other = Then::Another(Box::new(World::new(WorldConfig::spread(10))));
                stand = stand.plot(Plot::when(|board: &World, _: &Log| board.starts() == 2, 0, vec![other]));
            }
            8 => stand = stand.plot(Plot::turning(500, vec![Then::Die])),
            _ => {}
        }
        let mut played = stand.play();
        match number {
            4 => assert_eq!(played.code(), 6, "{}", played.log.tail()),
            6 => {
                assert!(played.log.says("Another board answers now"), "{}", played.log.tail());
                // What lies there is the sixth's, whichever board is on the wire by now.
                played.board = World::new(WorldConfig::spread(6));
            }
            8 => {
                assert_eq!(played.result, None);
                keep(crafts.path(), &played);
                let open = rows(crafts.path(), &name(), &|_| false).unwrap();
                assert!(table(&open).0.contains("OPEN: cut off, see `quadjig recover`"), "{}", table(&open).0);
                played = later(played.board, played.disk, 'f', 8 * 3600 + 600).play();
                assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
            }
            _ => assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail()),
        }
        keep(crafts.path(), &played);
        all.push(played);
    }
    let rows = rows(crafts.path(), &name(), &|_| false).unwrap();
    let (text, json) = table(&rows);
    assert_eq!(rows.len(), 10, "{text}");
    for ((played, row), number) in all.iter().zip(&rows).zip(1..) {
        assert_eq!(row.board.id, played.board.truth()["board"]["id"], "in the order in which they came\n{text}");
        assert_eq!(row.is_done(), !matches!(number, 4 | 6), "{number}\n{text}");
        assert_eq!(row.runs.len(), if number == 8 { 2 } else { 1 });
        if matches!(number, 4 | 6) {
            assert_eq!(row.figures.idle, None, "{number}\n{text}");
            continue;
        }
        let (idle, step) = row.figures.idle.unwrap();
        assert_eq!((f64::from(idle), step), (stored(&played.board, "IDLE_US"), Some(25)), "{text}");
        // The lowest value that starts every motor, with its margin: no lower, and at most a step higher than it has to be.
        let needs = needs(&played.board);
        let above = f64::from(idle) - needs;
        assert!((0.0..75.0).contains(&above), "{number}: idle {idle} where {needs} is needed\n{text}");
        let truth = played.board.truth();
        // Each shows its volts by the ratio that it was delivered with.
        let shown = row.figures.volts.unwrap() / truth["battery"]["volts_without_load"].as_f64().unwrap();
        assert!((0.95..1.05).contains(&shown), "{shown}");
        let (least, most) = row.figures.cut.unwrap();
        assert!(least < most && most < 250.0, "{least} to {most}");
        let seconds = row.figures.seconds.unwrap();
        assert!((20.0..1800.0).contains(&seconds), "{seconds}");
        assert!(row.figures.uneven.as_ref().is_some_and(|(by, _)| (0.0..0.08).contains(by)), "{:?}", row.figures);
    }
    let unlike = |at: usize| json["crafts"][at]["unlike_the_first"].clone();
    let idle = |at: usize| stored(&all[at].board, "IDLE_US");
    for at in (1..10).filter(|at| !matches!(at, 3 | 5)) {
        let named = unlike(at).as_array().unwrap().iter().any(|name| name == "IDLE_US");
        assert_eq!(named, (idle(at) - idle(0)).abs() > 0.5, "{text}");
    }
    assert!(unlike(3).is_null() && unlike(5).is_null(), "{text}");
}

/// Six crafts alike, and one with a stubborn motor: it alone is marked, and for its idle.
#[test]
fn one_that_stands_far_from_the_others_is_marked() {
    let crafts = tempfile::tempdir().unwrap();
    for number in 1..=7 {
        let mut stand = craft(WorldConfig { seed: number, ..WorldConfig::default() }, i64::try_from(number).unwrap());
        if number == 5 {
            let now = stand.board.now();
            stand.board.line(now, "threshold rear right 1175").unwrap();
        }
        let played = stand.play();
        assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
        keep(crafts.path(), &played);
    }
    let rows = rows(crafts.path(), &name(), &|_| false).unwrap();
    let (text, json) = table(&rows);
    for (at, row) in json["crafts"].as_array().unwrap().iter().enumerate() {
        let marked = row["outliers"].as_array().unwrap().iter().any(|name| name == "idle");
        assert_eq!(marked, at == 4, "{text}");
    }
    assert!(text.contains("us*") && text.contains("modified z-score above 3.5 (Iglewicz and Hoaglin, 1993)"), "{text}");
}

/// What another series or no series did is not in it, and a name that only begins alike is another.
#[test]
fn only_runs_of_the_series_count() {
    let crafts = tempfile::tempdir().unwrap();
    let mut stand = craft(WorldConfig::default(), 1);
    stand.series = Some("wren-2");
    let mut played = stand.play();
    keep(crafts.path(), &played);
    assert_eq!(rows(crafts.path(), &name(), &|_| false).unwrap(), []);
    // The same craft alone, and then in the series: its idle was found before it was of it, and is tested in it.
    let alone = |played: Played, series: Option<&'static str>| {
        let mut stand = craft(WorldConfig::default(), 2);
        (stand.board, stand.disk, stand.series) = (played.board, played.disk, series);
        stand.disk.again();
        let now = stand.board.now();
        stand.board.advance(now + Duration::from_secs(8));
        stand.play()
    };
    played = alone(played, None);
    played = alone(played, Some("wren"));
    keep(crafts.path(), &played);
    let rows = rows(crafts.path(), &name(), &|_| false).unwrap();
    assert_eq!((rows.len(), rows[0].runs.len()), (1, 1));
}
