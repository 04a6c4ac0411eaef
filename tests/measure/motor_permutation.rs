//! Order and direction of motors: fewest changes, held against trying every list of exchanges.

use quadjig::measure::motor_permutation::{AskAgain, Correctable, Turn, correct, settle};

const ALL: Correctable = Correctable { order: true, reversal: true };

fn turns(corners: [usize; 4]) -> Vec<Turn> {
    corners.iter().map(|corner| Turn { corner: *corner, clockwise: corner % 2 == 0 }).collect()
}

fn twice(turns: &[Turn]) -> Vec<Vec<Turn>> {
    turns.iter().map(|turn| vec![*turn; 2]).collect()
}

#[test]
fn two_agreeing_answers_settle_a_motor() {
    let wanted = turns([2, 0, 3, 1]);
    assert_eq!(settle(&twice(&wanted)), Ok(wanted.clone()));
    let mut one_short = twice(&wanted);
    one_short[1].pop();
    assert_eq!(settle(&one_short), Err(AskAgain::Unsettled { outputs: vec![1] }));
    // A mistaken answer is outlived by two that agree.
    let mut corrected = twice(&wanted);
    corrected[0].insert(0, Turn { corner: 1, clockwise: false });
    assert_eq!(settle(&corrected), Ok(wanted));
}

#[test]
fn a_corner_named_twice_is_asked_again() {
    let error = settle(&twice(&turns([0, 1, 1, 3]))).unwrap_err();
    assert_eq!(error, AskAgain::SameCorner { outputs: vec![1, 2] });
    assert_eq!(error.to_string(), "output 2, output 3 were said to be at the same corner; run them again");
    let outside = settle(&twice(&turns([0, 1, 2, 4])));
    assert_eq!(outside, Err(AskAgain::NoCorner { output: 3, corner: 4, corners: 4 }));
}

fn permutations() -> Vec<[usize; 4]> {
    let mut all = Vec::new();
    for code in 0..256_usize {
        let p = [code % 4, code / 4 % 4, code / 16 % 4, code / 64];
        if (0..4).all(|corner| p.contains(&corner)) {
            all.push(p);
        }
    }
    all
}

/// Fewest exchanges from `from` to `to`, by breadth.
fn fewest(from: [usize; 4], to: [usize; 4]) -> usize {
    let mut reached = vec![from];
    for steps in 0.. {
        if reached.contains(&to) {
            return steps;
        }
        let mut next = Vec::new();
        for p in reached {
            for a in 0..4 {
                for b in a + 1..4 {
                    let mut q = p;
                    q.swap(a, b);
                    next.push(q);
                }
            }
        }
        reached = next;
    }
    unreachable!("every order is reached")
}

#[test]
fn the_exchanges_arrive_and_are_the_fewest() {
    let wanted = [1, 0, 2, 3];
    for found in permutations() {
        let correction = correct(&turns(found), &turns(wanted), ALL).unwrap();
        let mut after = found;
        for (a, b) in &correction.exchange {
            after.swap(*a, *b);
        }
        assert_eq!(after, wanted);
        assert_eq!(correction.exchange.len(), fewest(found, wanted), "{found:?}");
        assert!(correction.reverse.is_empty(), "directions belong to corners, and those are right");
    }
}

#[test]
fn directions_by_setting_or_by_wire() {
    let wanted = turns([0, 1, 2, 3]);
    let mut found = turns([1, 0, 2, 3]);
    found[0].clockwise = !found[0].clockwise;
    let by_setting = correct(&found, &wanted, ALL).unwrap();
    assert_eq!((by_setting.reverse, by_setting.swap_wires, by_setting.exchange), (vec![0], vec![], vec![(0, 1)]));
    let by_wire = correct(&found, &wanted, Correctable::default()).unwrap();
    assert_eq!((by_wire.reverse, by_wire.swap_wires, by_wire.exchange_by_setting), (vec![], vec![1], false));
    assert!(correct(&wanted, &wanted, ALL).unwrap().is_nothing());
    assert_eq!(correct(&turns([0, 0, 1, 2]), &wanted, ALL), None);
}
