//! Hands that are early, late or slow: recognised, never judged, and nothing of the run is lost by them.

use super::stand::{ARM_ONLY, CUT, Deeds, Did, Hands, IDLE, Log, Played, Plot, START, Stand, Then};
use quadjig::measure::time::Time;
use quadjig::rehearsal::operator::Deed;
use quadjig::seam::Key;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Gesture, Question, UiEvent};
use quadjig::virtual_board::{OnLoss, RunsOn, WorldConfig};
use std::cell::Cell;
use std::time::Duration;

/// Moves of the world, each after so many milliseconds.
fn moves<const N: usize>(lines: [(u64, &str); N]) -> Deeds {
    lines.into_iter().map(|(after, line)| (Duration::from_millis(after), Deed::World(line.to_owned()))).collect()
}

/// An operator who follows the invitations to arm otherwise; `arms` is told which it is, from 1.
fn arming<'a>(config: &WorldConfig, mut arms: impl FnMut(u32) -> Option<Deeds> + 'a) -> Hands<'a> {
    let mut invited = 0;
    Hands::willing(config).who_follows(move |gesture| {
        let Gesture::SwitchTo { position: 2, .. } = gesture else { return None };
        invited += 1;
        arms(invited)
    })
}

/// What is pressed when it is asked whether something is tried again.
fn pressing(question: &Question, key: char) -> Option<Deeds> {
    (question.about == About::Again).then(|| vec![(Duration::from_millis(900), Deed::Key(Key::Char(key)))])
}

fn asked_again(played: &Played) -> usize {
    played.log.questions().iter().filter(|question| question.about == About::Again).count()
}

fn said(played: &Played, what: &str) -> usize {
    played.log.lines().iter().filter(|line| line.contains(what)).count()
}

/// What was shown and asked, for a test that fails.
fn story(played: &Played) -> String {
    let entries = played.log.entries.iter().filter_map(|entry| {
        let what = match &entry.did {
            Did::UiEvent(UiEvent::Plan(_) | UiEvent::Cautions | UiEvent::Strip(_)) => return None,
            Did::UiEvent(UiEvent::Invite(_, sentence, ..)) => sentence.clone(),
            Did::UiEvent(shown) => format!("{shown:?}"),
            Did::Asked(question) => format!("? {} {:?}", question.title, question.lines),
            _ => return None,
        };
        Some(format!("{:>7} {}\n", entry.at.0 / 1000, what.chars().take(220).collect::<String>()))
    });
    let told: Vec<String> = entries.collect();
    told[told.len().saturating_sub(45)..].concat()
}

#[track_caller]
fn stops_nothing(played: &Played) {
    let stopped = played.log.shown(|shown| matches!(shown, UiEvent::StopBegins { .. }));
    assert!(stopped.is_none(), "{}", story(played));
}

fn kept(played: &Played) -> serde_json::Value {
    played.board.truth()["settings"]["IDLE_US"]["stored"].clone()
}

/// `safety.md`, prompts that are read: a hand that is off too early voids the start; not judged; the next invitation under
/// the same word; at most two voids a value.
#[test]
fn a_switch_off_too_early_voids_its_start_and_the_search_finds_what_steady_hands_find() {
    let config = WorldConfig::default();
    let steady = Stand::new(IDLE).play();
    assert_eq!(steady.code(), 0, "{}", story(&steady));
    // Off while it settles, in the middle of the dwell, and in its last moments.
    for off in [200, 500, 900, 1700, 2400] {
        let mut stand = Stand::new(IDLE);
        stand.hands = arming(&config, |number| {
            [2, 4, 5].contains(&number).then(|| moves([(350, "flip B 2"), (350 + off, "flip B 0")]))
        });
        let played = stand.play();
        assert_eq!(played.code(), 0, "{off}: {}", story(&played));
        assert_eq!(kept(&played), kept(&steady), "{off}");
        assert_eq!(said(&played, "no motor is judged by it"), 3, "{off}: {}", story(&played));
        assert_eq!(asked_again(&played), 0);
        assert_eq!(played.log.motor_questions().len(), steady.log.motor_questions().len(), "under the same word");
    }
}

#[test]
fn a_third_early_hand_at_one_value_is_asked_about_and_its_word_is_typed_anew() {
    let config = WorldConfig::default();
    for (early, questions, key, code) in [(2, 1, 'a', 0), (3, 2, 'a', 0), (3, 1, 'g', 4)] {
        let mut stand = Stand::new(START);
        let hands =
            arming(&config, move |number| (number <= early).then(|| moves([(350, "flip B 2"), (1300, "flip B 0")])));
        stand.hands = hands.who_answers(move |question| pressing(question, key));
        let played = stand.play();
        assert_eq!(played.code(), code, "{early} {key}: {}", story(&played));
        assert_eq!(played.log.start_questions().len(), questions, "{early} {key}: {}", story(&played));
        assert_eq!(asked_again(&played), usize::from(early == 3));
        stops_nothing(&played);
    }
}

/// On a board whose flag comes once a second, hands of every speed: what they are slow by costs time of the motors, never
/// the run, and a switch that is off is not said to be on.
#[test]
fn a_slow_hand_loses_no_run_where_the_flag_comes_once_a_second() {
    for flag_ms in [1000, 100] {
        for reaction in [200, 600, 1000, 1300, 1600, 1900, 4000] {
            let mut config = WorldConfig::default();
            config.conduct.flag_every = Duration::from_millis(flag_ms);
            for recipe in [IDLE, START, CUT] {
                let mut stand = Stand::on(recipe, config.clone());
                let slow = Cell::new(0);
                stand.hands = Hands::willing(&config)
                    .who_follows(|gesture| {
                        let Gesture::SwitchTo { position: 0, .. } = gesture else { return None };
                        slow.set(slow.get() + 1);
                        Some(moves([(reaction, "flip B 0")]))
                    })
                    .who_answers(|question| pressing(question, if recipe == CUT { 'g' } else { 'a' }));
                let played = stand.play();
                // A cut needs its hand in time: it is not judged without, and given up in the end.
                let code = if recipe == CUT && reaction == 4000 { 4 } else { 0 };
                assert_eq!(played.code(), code, "{flag_ms} {reaction} {recipe}: {}", story(&played));
                stops_nothing(&played);
                if reaction < 1300 {
                    assert_eq!(said(&played, "it was still on"), 0, "{flag_ms} {reaction}: {}", story(&played));
                }
            }
        }
    }
}

/// A cut whose hand is early or does not come says nothing of the board.
#[test]
fn a_cut_is_never_judged_by_its_hand() {
    let config = WorldConfig::default();
    let mut stand = Stand::new(CUT);
    stand.hands = arming(&config, |number| (number == 1).then(|| moves([(350, "flip B 2"), (900, "flip B 0")])));
    let played = stand.play();
    assert_eq!(played.code(), 0, "{}", story(&played));
    assert_eq!(said(&played, "no motor is judged by it"), 1);

    let mut stand = Stand::new(CUT);
    let off = Cell::new(0);
    stand.hands = Hands::willing(&config).who_follows(|gesture| {
        let Gesture::SwitchTo { position: 0, .. } = gesture else { return None };
        off.set(off.get() + 1);
        // The first that is asked for while something turns.
        (off.get() == 1).then(|| moves([(5000, "flip B 0")]))
    });
    let played = stand.play();
    assert_eq!(played.code(), 0, "{}", story(&played));
    assert_eq!(said(&played, "not switched off in time"), 1, "{}", story(&played));
}

/// A deadline that passed asks: again, or give up; what was done before stays done.
#[test]
fn a_missed_invitation_is_asked_about_and_loses_nothing() {
    let config = WorldConfig::default();
    for recipe in [IDLE, START, CUT] {
        for (key, code) in [('a', 0), ('g', 4)] {
            let mut stand = Stand::new(recipe);
            let hands = arming(&config, |number| (number == 2).then(Vec::new));
            stand.hands = hands.who_answers(move |question| pressing(question, key));
            let played = stand.play();
            assert_eq!(asked_again(&played), 1, "{recipe}: {}", story(&played));
            assert_eq!(played.code(), code, "{recipe}: {}", story(&played));
            if code == 4 {
                assert!(matches!(played.fault(), Fault::TimedOut { .. }), "{}", story(&played));
            }
            stops_nothing(&played);
        }
    }
}

const ARM_POWERED: &str = concat!(
    "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n",
    "require props off\nrequire throttle low\nchannels roll, pitch, throttle, yaw\n",
    "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n",
    "bind arm to switch B position 2\nat zero throttle spin\nidle at 1150\nkeep\n",
    "require battery in\ntest arm\n",
);

/// The longest that the craft was armed at a time, by the world's own truth.
fn longest_armed(played: &Played) -> Duration {
    let (mut since, mut longest) = (None, Duration::ZERO);
    for truth in &played.log.truth {
        if truth.armed {
            longest = longest.max(truth.at.since(*since.get_or_insert(truth.at)));
        } else {
            since = None;
        }
    }
    longest
}

/// An operator who does something else at the first invitation to some position, or at the `which`th.
fn at_position<'a>(config: &WorldConfig, (place, which): (u32, u32), deeds: impl Fn() -> Deeds + 'a) -> Hands<'a> {
    let mut invited = 0;
    Hands::willing(config).who_follows(move |gesture| {
        let Gesture::SwitchTo { position, .. } = gesture else { return None };
        invited += u32::from(*position == place);
        (*position == place && invited == which).then(&deeds)
    })
}

/// The wrong position is named at once; where it arms, the walk ends in words then, long before the time of its question is
/// over, and nothing is judged by it.
#[test]
fn an_overshoot_while_positions_are_walked_ends_in_words_at_once() {
    for (recipe, flag_ms) in [(ARM_ONLY, 100), (ARM_ONLY, 1000), (ARM_POWERED, 100), (ARM_POWERED, 1000)] {
        let mut config = WorldConfig::default();
        config.conduct.flag_every = Duration::from_millis(flag_ms);
        // At once; and by 1, and on while its flag is awaited.
        for deeds in [vec![(400, "flip B 2")], vec![(400, "flip B 1"), (900, "flip B 2")]] {
            for (key, code) in [('a', 0), ('g', 4)] {
                let mut stand = Stand::on(recipe, config.clone());
                let past = deeds.clone();
                let hands = at_position(&config, (1, 1), move || {
                    past.iter()
                        .map(|(ms, line)| (Duration::from_millis(*ms), Deed::World((*line).to_owned())))
                        .collect()
                });
                stand.hands = hands.who_answers(move |question| pressing(question, key));
                let played = stand.play();
                assert_eq!(played.code(), code, "{flag_ms} {deeds:?} {key}: {}", story(&played));
                let asked = played.log.questions();
                let asked: Vec<_> = asked.iter().filter(|question| question.about == About::Again).collect();
                assert_eq!(asked.len(), 1, "{}", story(&played));
                assert!(asked[0].lines[0].contains("witch B is at 2, 1 was asked, and 2 arms"), "{:?}", asked[0].lines);
                stops_nothing(&played);
                if key == 'g' {
                    assert!(longest_armed(&played) < Duration::from_millis(1500), "{:?}", longest_armed(&played));
                }
            }
        }
    }
}

/// A hand that leaves the switch on is told so before the time that its question names is over.
#[test]
fn a_hand_that_walks_away_from_an_armed_position_is_told_in_the_time_of_the_question() {
    for (recipe, longest) in [(ARM_ONLY, 9), (ARM_POWERED, 5)] {
        let config = WorldConfig::default();
        let mut stand = Stand::new(recipe);
        // The second invitation to 0 is the one after position 2.
        let (asked, again) = (Cell::new(false), Cell::new(false));
        stand.hands = Hands::willing(&config)
            .who_follows(|gesture| match gesture {
                Gesture::SwitchTo { position: 2, .. } => {
                    asked.set(true);
                    None
                }
                Gesture::SwitchTo { position: 0, .. } if asked.get() && !again.get() => {
                    again.set(true);
                    Some(Vec::new())
                }
                _ => None,
            })
            .who_answers(|question| pressing(question, 'a'));
        let played = stand.play();
        assert_eq!(played.code(), 0, "{}", story(&played));
        assert_eq!(asked_again(&played), 1, "{}", story(&played));
        let asked = played.log.start_questions();
        let About::Motor(step) = &asked[0].about else { panic!("{asked:?}") };
        assert_eq!(step.bound(), Duration::from_secs(longest), "what its question says");
        assert!(longest_armed(&played) <= step.bound(), "{:?}", longest_armed(&played));
        stops_nothing(&played);
    }
}

/// Where a throttle or a switch was not held as it was asked, the board is not judged by it.
#[test]
fn a_board_is_not_said_to_arm_wrongly_where_a_hand_let_it() {
    let config = WorldConfig::default();
    for (throttle_early, words) in [(true, "hrottle came down before"), (false, "was to be left on while")] {
        let mut stand = Stand::new(ARM_ONLY);
        let up = Cell::new(0);
        stand.hands = Hands::willing(&config)
            .who_follows(|gesture| match gesture {
                Gesture::ThrottleUp => {
                    up.set(up.get() + 1);
                    None
                }
                Gesture::SwitchTo { position: 2, .. } if up.get() == 1 && throttle_early => {
                    Some(moves([(200, "stick throttle -100%"), (400, "flip B 2")]))
                }
                Gesture::ThrottleDown if up.get() == 1 && !throttle_early => {
                    Some(moves([(200, "stick throttle -100%"), (400, "flip B 0"), (900, "flip B 2")]))
                }
                _ => None,
            })
            .who_answers(|question| pressing(question, 'a'));
        let played = stand.play();
        assert_eq!(played.code(), 0, "{}", story(&played));
        let asked = played.log.questions();
        let asked = asked.iter().find(|question| question.about == About::Again);
        let asked = asked.unwrap_or_else(|| panic!("{}", story(&played)));
        assert!(asked.lines[0].contains(words), "{:?}", asked.lines);
    }
}

/// A switch that comes to rest elsewhere than asked is named, once, and then waited for.
#[test]
fn a_switch_in_the_wrong_position_is_named_at_once() {
    let config = WorldConfig::default();
    let mut stand = Stand::new(START);
    let off = Cell::new(0);
    stand.hands = Hands::willing(&config).who_follows(|gesture| {
        let Gesture::SwitchTo { position: 0, .. } = gesture else { return None };
        off.set(off.get() + 1);
        // Only half way back after the first start; all the way once it is named.
        (off.get() == 1).then(|| moves([(400, "flip B 1"), (6000, "flip B 0")]))
    });
    let played = stand.play();
    assert_eq!(played.code(), 0, "{}", story(&played));
    assert_eq!(said(&played, "Switch B is at 1, 0 was asked."), 1, "{}", story(&played));
}

/// A gesture starts from what is there now, and half of one is told as half.
#[test]
fn a_stick_held_over_and_a_craft_in_the_hand_blind_no_gesture() {
    let config = WorldConfig::default();
    let mut stand = Stand::new(START).plot(Plot::when(
        |_, log| log.says("still there"),
        0,
        vec![Then::Line("stick roll 100%"), Then::Line("tilt 30 0")],
    ));
    let tilted = Cell::new(0);
    stand.hands = Hands::willing(&config).who_follows(|gesture| match gesture {
        Gesture::WiggleRoll => Some(moves([
            (700, "stick roll 0%"),
            (2000, "stick roll 80%"),
            (2200, "stick roll 0%"),
            (4000, "stick roll 80%"),
            (4200, "stick roll -80%"),
            (4500, "stick roll 0%"),
        ])),
        Gesture::TiltCraft => {
            tilted.set(tilted.get() + 1);
            Some(moves([(600, "tilt 26 2"), (2500, "tilt 0.3 -0.2")]))
        }
        _ => None,
    });
    let played = stand.play();
    assert_eq!(played.code(), 0, "{}", story(&played));
    assert_eq!(said(&played, "now to the left"), 1, "{}", story(&played));
    assert_eq!(tilted.get(), 1, "once was enough");
    let proved = played.log.entries.iter().find(|entry| {
        matches!(&entry.did, Did::UiEvent(UiEvent::Line(_, text)) if text.contains("this is the craft on the link"))
    });
    let asked = played.log.shown(|shown| matches!(shown, UiEvent::Invite(Gesture::WiggleRoll, ..)));
    let took = proved.unwrap().at.since(asked.unwrap().at);
    assert!(took < Duration::from_secs(9), "{took:?}");
}

/// The pitch stick is no roll stick, and it is said which one moved.
#[test]
fn another_stick_than_the_one_asked_for_passes_nothing() {
    let config = WorldConfig::default();
    let mut stand = Stand::new(START);
    stand.hands = Hands::willing(&config).who_follows(|gesture| match gesture {
        Gesture::WiggleRoll => Some(moves([
            (700, "stick pitch 80%"),
            (1100, "stick pitch -80%"),
            (1500, "stick pitch 0%"),
            (9000, "stick roll 80%"),
            (9400, "stick roll -80%"),
            (9800, "stick roll 0%"),
        ])),
        _ => None,
    });
    let played = stand.play();
    assert_eq!(played.code(), 0, "{}", story(&played));
    let told = "Channel 2 moved, and the board takes roll from channel 1: move the roll stick.";
    assert_eq!(said(&played, told), 1, "{}", story(&played));
    let tilts = played.log.shown(|shown| matches!(shown, UiEvent::Invite(Gesture::TiltCraft, ..))).unwrap();
    let asked = played.log.shown(|shown| matches!(shown, UiEvent::Invite(Gesture::WiggleRoll, ..))).unwrap();
    assert!(tilts.at.since(asked.at) > Duration::from_secs(9), "{}", story(&played));
}

/// A battery that is not plugged in in time, and a pack that is low, are asked about; nothing of the run is lost.
#[test]
fn a_plug_in_that_was_missed_and_a_low_pack_are_choices() {
    let config = WorldConfig::default();
    let mut stand = Stand::new(START);
    let plugged = Cell::new(0);
    stand.hands = Hands::willing(&config)
        .who_follows(|gesture| {
            let Gesture::Battery { inside: true } = gesture else { return None };
            plugged.set(plugged.get() + 1);
            (plugged.get() == 1).then(Vec::new)
        })
        .who_answers(|question| pressing(question, 'a'));
    let played = stand.play();
    assert_eq!(played.code(), 0, "{}", story(&played));
    assert_eq!(asked_again(&played), 1);

    let low = format!(
        "{}battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell\nkeep\nrequire battery in\n\
         require battery at least 3.7 V per cell\ntest idle in 2 starts\n",
        START.split("keep\n").next().unwrap()
    );
    let mut config = WorldConfig::default();
    config.pack.volts = 7.2;
    let mut stand = Stand::on(&low, config.clone());
    let asked = Cell::new(0);
    stand.hands = Hands::willing(&config).who_answers(|question| {
        asked.set(asked.get() + u32::from(question.about == About::Again));
        pressing(question, if asked.get() == 1 { 'b' } else { 'g' })
    });
    let played = stand.play();
    assert_eq!(played.code(), 4, "{}", story(&played));
    assert_eq!(asked_again(&played), 2, "{}", story(&played));
    let props = played.log.questions().iter().filter(|question| question.about == About::Props).count();
    assert_eq!(props, 2, "the battery went out between: {}", story(&played));
    assert_eq!(said(&played, "The battery is out"), 1);
}

/// A hand that hears of the stop takes its switch back.
fn takes_it_back<'a>() -> Plot<'a> {
    let stopped = |log: &Log| log.shown(|shown| matches!(shown, UiEvent::StopBegins { .. })).is_some();
    Plot::when(move |_, log| stopped(log), 800, vec![Then::Line("flip B 0")])
}

/// `safety.md`, prompts that are read: a switch on before its invitation, battery in, is an unexpected start. After it the
/// battery comes out, everything is asked anew, and the search goes on at the value where it was.
#[test]
fn a_switch_on_before_its_invitation_stops_and_the_run_goes_on_at_the_same_value() {
    let steady = Stand::new(IDLE).play();
    for (key, code) in [('a', 0), ('g', 4)] {
        let mut stand = Stand::new(IDLE).plot(Plot::when(
            |_, log| log.entries.iter().filter(|e| matches!(e.did, Did::UiEvent(UiEvent::Start(_)))).count() == 4,
            100,
            vec![Then::Line("flip B 2")],
        ));
        stand = stand.plot(takes_it_back());
        stand.hands = Hands::willing(&WorldConfig::default()).who_answers(move |question| pressing(question, key));
        let played = stand.play();
        assert_eq!(played.code(), code, "{key}: {}", story(&played));
        assert_eq!(asked_again(&played), 1, "{}", story(&played));
        let stop = played.log.stop();
        let after = played.log.entries.iter().filter(|entry| entry.at > stop.at);
        if key == 'g' {
            assert!(matches!(played.fault(), Fault::Stopped { confirmed: true, by_hand: true, .. }));
            continue;
        }
        let asked: Vec<&Question> = after
            .filter_map(|entry| if let Did::Asked(question) = &entry.did { Some(question) } else { None })
            .collect();
        assert_eq!(asked[0].about, About::Again);
        assert_eq!(asked[1].about, About::Props, "what was said is asked anew: {}", story(&played));
        assert_eq!(said(&played, "The battery is out"), 1, "measured out between");
        let About::Motor(next) = &asked[2].about else { panic!("{}", story(&played)) };
        assert_eq!(next.pulse.0, 1125, "at the value where it was");
        assert_eq!(kept(&played), kept(&steady));
    }
}

/// A battery that goes in before it is asked for is told so, and the stop that it causes says how to go on.
#[test]
fn a_battery_that_goes_in_too_early_is_told_so_and_the_run_goes_on() {
    let recipe = START.replace("keep\n", "require battery out\nkeep\n");
    // Where its sensor was seen working, and where only a word had said that the battery was out.
    for (key, code, seen) in [('a', 0, true), ('g', 4, true), ('a', 0, false)] {
        let mut stand = Stand::new(&recipe);
        if seen {
            stand.board.line(Time(0), "battery in").unwrap();
        }
        stand = stand.plot(Plot::when(
            |_, log| log.shown(|shown| matches!(shown, UiEvent::Invite(Gesture::WiggleRoll, ..))).is_some(),
            200,
            vec![Then::Line("battery in")],
        ));
        stand.hands = Hands::willing(&WorldConfig::default()).who_answers(move |question| pressing(question, key));
        let played = stand.play();
        assert_eq!(played.code(), code, "{key}: {}", story(&played));
        let asked = played.log.questions();
        let asked = asked.iter().find(|question| question.about == About::Again);
        let asked = asked.unwrap_or_else(|| panic!("{}", story(&played)));
        let words = if seen { "the battery went in before it was asked for" } else { "battery was said to be out" };
        assert!(asked.lines[0].contains(words), "{:?}", asked.lines);
    }
}

/// Another stop after a run went on is closed like the first; a key says that nothing goes on.
#[test]
fn a_run_that_went_on_is_stopped_and_closed_like_any_other() {
    let starts = |log: &Log| log.entries.iter().filter(|e| matches!(e.did, Did::UiEvent(UiEvent::Start(_)))).count();
    let asked = |log: &Log| log.questions().iter().any(|question| question.about == About::Again);
    let mut stand = Stand::new(IDLE)
        .plot(Plot::when(move |_, log| starts(log) == 4, 100, vec![Then::Line("flip B 2")]))
        .plot(takes_it_back())
        .plot(Plot::when(
            move |board, log| asked(log) && board.speeds().iter().any(|rpm| *rpm > 1000.0) && board.pack_volts() > 5.0,
            300,
            vec![Then::Event(quadjig::seam::Event::Key(Key::Char('x')))],
        ));
    stand.hands = Hands::willing(&WorldConfig::default()).who_answers(move |question| pressing(question, 'a'));
    let played = stand.play();
    let Fault::Stopped { reason, confirmed: true, by_hand: false } = played.fault() else {
        panic!("{}", story(&played))
    };
    assert!(reason.contains("key"), "{reason}");
    let closings = played.log.entries.iter().filter(|e| matches!(e.did, Did::UiEvent(UiEvent::Closing { .. })));
    assert_eq!(closings.count(), 1, "{}", story(&played));
    assert_eq!(asked_again(&played), 1, "{}", story(&played));
}

/// A key is a stop and no hand at the switch, though the switch went on at that very moment: nothing goes on after it.
#[test]
fn a_key_beside_a_switch_that_goes_on_ends_the_run() {
    let invited = |log: &Log| {
        log.shown(|shown| matches!(shown, UiEvent::Invite(_, text, ..) if text.starts_with("Start 1"))).is_some()
    };
    let key = Then::Event(quadjig::seam::Event::Key(Key::Char('x')));
    let played = Stand::new(IDLE)
        .plot(Plot::when(move |_, log| invited(log), 100, vec![Then::Line("flip B 2"), key]))
        .plot(takes_it_back())
        .play();
    let Fault::Stopped { reason, by_hand: false, .. } = played.fault() else { panic!("{}", story(&played)) };
    assert!(reason.contains("key"), "{reason}");
    assert_eq!(asked_again(&played), 0, "{}", story(&played));
}

/// A switch that goes back on while a cut is measured says nothing of the board.
#[test]
fn a_cut_is_not_judged_by_a_switch_that_goes_on_again() {
    for (off, on) in [(400, 600), (400, 450), (400, 800)] {
        let config = WorldConfig::default();
        let mut stand = Stand::new(CUT);
        let bounces = move || moves([(off, "flip B 0"), (on, "flip B 2"), (off + 4000, "flip B 0")]);
        stand.hands = at_position(&config, (0, 2), bounces).who_answers(|question| pressing(question, 'a'));
        let played = stand.play();
        assert_eq!(played.code(), 0, "{on}: {}", story(&played));
        assert_eq!(said(&played, "went on again at once") + asked_again(&played), 1, "{on}: {}", story(&played));
    }
}

/// A switch that went off and on again, before it was asked: the same stop, and the run goes on at the same start.
#[test]
fn a_switch_that_goes_on_again_stops_and_the_run_goes_on() {
    for flag_ms in [100, 1000] {
        // In the test of the arm switch, after its throttle came down, and the walk's invitation is over.
        for (recipe, which, off) in [(START, 1, 400), (START, 1, 1900), (ARM_ONLY, 3, 15_000)] {
            let mut config = WorldConfig::default();
            config.conduct.flag_every = Duration::from_millis(flag_ms);
            let mut stand = Stand::on(recipe, config.clone());
            let bounces = || moves([(off, "flip B 0"), (off + 200, "flip B 2"), (off + 4000, "flip B 0")]);
            let hands = at_position(&config, (0, which), bounces);
            stand.hands = hands.who_answers(|question| pressing(question, 'a'));
            let played = stand.play();
            assert_eq!(played.code(), 0, "{flag_ms} {recipe}: {}", story(&played));
            assert_eq!(asked_again(&played), 1, "{flag_ms} {recipe}: {}", story(&played));
            played.log.stop();
        }
    }
}

/// A throttle that is touched while a start is invited stops; nothing turned, and the run goes on.
#[test]
fn a_throttle_touched_while_a_start_is_invited_loses_no_run() {
    let config = WorldConfig::default();
    let mut stand = Stand::new(START);
    let touched = |number| (number == 2).then(|| moves([(300, "stick throttle -40%"), (2500, "stick throttle -100%")]));
    stand.hands = arming(&config, touched).who_answers(|question| pressing(question, 'a'));
    let played = stand.play();
    assert_eq!(played.code(), 0, "{}", story(&played));
    assert_eq!(asked_again(&played), 1, "{}", story(&played));
    // While motors turn a raised throttle is no slip before a start: nothing goes on after it.
    let mut stand = Stand::new(START).plot(Plot::turning(500, vec![Then::Line("stick throttle -40%")]));
    stand = stand.plot(takes_it_back());
    stand.hands = Hands::willing(&config).who_answers(|question| pressing(question, 'a'));
    let played = stand.play();
    assert!(matches!(played.fault(), Fault::Stopped { by_hand: false, .. }), "{}", story(&played));
    assert_eq!(asked_again(&played), 0, "{}", story(&played));
}

const LINK_LOSS: &str = concat!(
    "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n",
    "require battery out\nrequire props off\nchannels roll, pitch, throttle, yaw\n",
    "switch B on channel 6 rests at 1000, 1500, 2000\nfind link loss\n",
);

/// A hand that takes its time to the radio's own switch is waited for where the loss can be seen, as long as it is told; and
/// one that is still at the switches, too.
#[test]
fn a_slow_hand_at_the_radio_is_waited_for() {
    for on_loss in
        [OnLoss::Flagged, OnLoss::Fixed(vec![Some(1500), Some(1500), Some(950), Some(1500), None, Some(990)])]
    {
        let mut config = WorldConfig::default();
        config.receiver.on_loss = on_loss.clone();
        let mut stand = Stand::on(LINK_LOSS, config.clone());
        stand.hands = Hands::willing(&config).who_follows(|gesture| match gesture {
            Gesture::Radio { on: false } => Some(moves([(7500, "radio off")])),
            Gesture::AllSwitches { last: true } => {
                Some(moves([(3000, "flip B 2"), (4700, "flip C 1"), (6400, "flip D 2")]))
            }
            _ => None,
        });
        let played = stand.play();
        assert_eq!(played.code(), 0, "{on_loss:?}: {}", story(&played));
        assert_eq!(asked_again(&played), 0, "{on_loss:?}: {}", story(&played));
        let asked = played.log.questions();
        assert!(asked.iter().all(|question| question.about != About::Choice), "{on_loss:?}: {}", story(&played));
    }
}

/// A hand that slips once more while the battery comes out is asked about like the first time.
#[test]
fn a_switch_that_goes_on_while_the_battery_comes_out_loses_no_run() {
    let config = WorldConfig::default();
    let mut stand = Stand::new(START);
    stand.hands = arming(&config, |number| {
        (number == 2).then(|| moves([(300, "stick throttle -40%"), (1500, "stick throttle -100%")]))
    });
    stand.hands = stand.hands.who_answers(|question| pressing(question, 'a'));
    let stops =
        |log: &Log| log.entries.iter().filter(|e| matches!(e.did, Did::UiEvent(UiEvent::StopBegins { .. }))).count();
    let asked = |log: &Log| {
        log.shown(|shown| matches!(shown, UiEvent::Invite(Gesture::Battery { inside: false }, ..))).is_some()
    };
    stand = stand.plot(Plot::when(move |_, log| asked(log), 100, vec![Then::Line("flip B 2")])).plot(Plot::when(
        move |_, log| stops(log) == 2,
        900,
        vec![Then::Line("flip B 0")],
    ));
    let played = stand.play();
    assert_eq!(played.code(), 0, "{}", story(&played));
    assert_eq!(asked_again(&played), 2, "{}", story(&played));
}

/// Whoever says "again" every time is told how often that goes on, and what to do then.
#[test]
fn again_ends_after_so_many_times_at_one_step() {
    let config = WorldConfig::default();
    let mut stand = Stand::new(START);
    stand.hands = arming(&config, |_| Some(Vec::new())).who_answers(|question| pressing(question, 'a'));
    let played = stand.play();
    assert_eq!(played.code(), 4, "{}", story(&played));
    assert_eq!(asked_again(&played), 10, "{}", story(&played));
    let asked = played.log.questions();
    let asked: Vec<_> = asked.iter().filter(|question| question.about == About::Again).collect();
    assert!(!asked[0].lines.iter().any(|line| line.contains("at this step")), "{:?}", asked[0].lines);
    assert!(asked[7].lines.iter().any(|line| line.contains("8 of 10 times at this step")), "{:?}", asked[7].lines);
    assert_eq!(said(&played, "quadjig watch"), 1, "{}", story(&played));
    stops_nothing(&played);
}

/// What came right in between does not count for the step that follows.
#[test]
fn again_is_counted_for_each_step_by_itself() {
    let config = WorldConfig::default();
    let twice = START.replace("test idle in 2 starts\n", &"test idle in 1 start\n".repeat(3));
    let mut stand = Stand::new(&twice);
    // Six times at each: none comes to ten.
    let hands = arming(&config, |number| (number % 7 != 0).then(Vec::new));
    stand.hands = hands.who_answers(|question| pressing(question, 'a'));
    let played = stand.play();
    assert_eq!(played.code(), 0, "{}", story(&played));
    assert_eq!(asked_again(&played), 18, "{}", story(&played));
}

/// A board that its battery alone feeds goes dark with it: that nothing goes on then is said at once, and what to do.
#[test]
fn a_board_that_goes_dark_with_its_battery_says_why_nothing_goes_on() {
    for port_stays in [false, true] {
        let mut config = WorldConfig::default();
        (config.conduct.runs_on, config.conduct.port_stays, config.pack.plugged) = (RunsOn::Battery, port_stays, true);
        let mut stand = Stand::on(START, config.clone()).plot(takes_it_back());
        stand.hands = Hands::willing(&config).who_answers(|question| match question.about {
            About::Motor(_) if question.title.contains("will turn") => Some(moves([(100, "flip B 2")])),
            _ => pressing(question, 'a'),
        });
        let played = stand.play();
        assert_ne!(played.code(), 0, "{}", story(&played));
        assert_eq!(asked_again(&played), 1, "{}", story(&played));
        assert_eq!(said(&played, "went dark with its battery"), 1, "{port_stays}: {}", story(&played));
        let ended = played.log.truth.last().unwrap().at.since(played.log.stop().at);
        assert!(ended < Duration::from_secs(30), "{ended:?}");
    }
}

/// Another switch than the one that was asked for is no find: its channel is that switch's already.
#[test]
fn a_switch_that_was_found_is_not_found_again_as_another() {
    let recipe = "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x\nboard \"Finch\"\nrequire battery out\nrequire props off\n\
        find switch B with 3 positions\nfind switch D with 3 positions\nfind link loss\nbind arm to switch B position 2\n\
        bind self-level to switch D positions 0, 1\nkeep\n";
    let works_b = |wrong: usize| {
        let mut left = wrong;
        Hands::willing(&WorldConfig::default()).who_follows(move |gesture| {
            let asked = matches!(gesture, Gesture::WorkSwitch(switch) if switch.0 == "D");
            if !asked || left == 0 {
                return None;
            }
            left -= 1;
            let flips = [0, 1, 2, 1, 0, 1, 2, 1, 0];
            let at = |n: usize| Duration::from_millis(400 + 600 * u64::try_from(n).unwrap());
            Some(flips.iter().enumerate().map(|(n, to)| (at(n), Deed::World(format!("flip B {to}")))).collect())
        })
    };
    let mut stand = Stand::new(recipe);
    stand.hands = works_b(1);
    let played = stand.play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    assert!(played.log.says("channel 6 moved, and that is switch B; work switch D"), "{}", played.log.tail());
    let channel = |name: &str| played.board.truth()["settings"][name]["working"].as_i64();
    assert_eq!((channel("ARM_CHANNEL"), channel("SELFLVL_CHANNEL")), (Some(6), Some(8)));

    // Whoever goes on so gets no card for it.
    let mut stand = Stand::new(recipe);
    stand.hands = works_b(9);
    let played = stand.play();
    assert!(!matches!(played.result, Some(Ok(()))), "{}", played.log.tail());
    assert!(!played.log.says("Switch D drives"), "{}", played.log.tail());
}
