//! Order and direction of motors: fewest changes, held against trying every list of exchanges.

use quadjig::measure::motor_permutation::{Correctable, Held, ReversalOf, Turn, correct, corrected};

const ALL: Correctable = Correctable { order: true, reversal: true };

fn turns(corners: [usize; 4]) -> Vec<Turn> {
    corners.iter().map(|corner| Turn { corner: *corner, clockwise: corner % 2 == 0 }).collect()
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

/// A craft: which motor hangs on each output, which way each turns as it is wired, and what the board holds.
#[derive(Clone)]
struct Craft {
    wired: [usize; 4],
    turns: [bool; 4],
    held: Held,
    of: ReversalOf,
}

impl Craft {
    /// Where each of the board's numbers is, and how it turns: as a board does it, from its settings to its outputs.
    fn seen(&self) -> Vec<Turn> {
        (0..4)
            .map(|motor| {
                let output = self.held.outputs[motor];
                let corner = self.wired[output];
                let by = match self.of {
                    ReversalOf::Motor => motor,
                    ReversalOf::Output => output,
                };
                Turn { corner, clockwise: self.turns[corner] != self.held.reversed[by] }
            })
            .collect()
    }
}

/// Whatever a board held before: what it holds then puts every motor right, whichever way it counts reversals, and an
/// exchange by plugs does so too.
#[test]
fn what_is_held_after_a_correction_puts_every_wiring_right() {
    let wanted = turns([0, 1, 2, 3]);
    for of in [ReversalOf::Motor, ReversalOf::Output] {
        for wired in permutations() {
            for outputs in permutations() {
                for bits in 0..256_u32 {
                    let bit = |at: usize| bits >> at & 1 == 1;
                    let reversed = (4..8).map(bit).collect();
                    let held = Held { outputs: outputs.to_vec(), reversed };
                    let mut craft = Craft { wired, turns: [0, 1, 2, 3].map(bit), held, of };
                    let correction = correct(&craft.seen(), &wanted, ALL).unwrap();
                    craft.held = corrected(&craft.held, &correction, of);
                    assert_eq!(craft.seen(), wanted, "{of:?} {wired:?} {outputs:?} {bits}");
                }
            }
            // By plugs: what hangs on the outputs is exchanged, and what the board holds of order stays.
            for bits in 0..256_u32 {
                let bit = |at: usize| bits >> at & 1 == 1;
                let held = Held { outputs: vec![0, 1, 2, 3], reversed: (4..8).map(bit).collect() };
                let mut craft = Craft { wired, turns: [0, 1, 2, 3].map(bit), held, of };
                let can = Correctable { order: false, reversal: true };
                let correction = correct(&craft.seen(), &wanted, can).unwrap();
                craft.held = corrected(&craft.held, &correction, of);
                for (a, b) in &correction.exchange {
                    craft.wired.swap(*a, *b);
                }
                assert_eq!(
                    (craft.seen(), &craft.held.outputs[..]),
                    (wanted.clone(), &[0, 1, 2, 3][..]),
                    "{of:?} {wired:?}"
                );
            }
        }
    }
}
