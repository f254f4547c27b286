//! The legal orders of one set of moves: dynamic programming over subsets (methods, section 4).

use std::collections::HashMap;

use shakmaty::{Chess, Position};

use super::{ColumnFault, Packed, demand, pack, unpack};
use crate::moves::PackedMove;

/// Which moves of each side are played, as bits, and the position they led to. Mostly the bits say the position already; where
/// two orders of captures lead to different ones, both are kept.
type State = (u32, u32, Packed);

/// What the legal orders of a set of moves pass.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Interleavings {
    /// Every position on an order that ends where the given one does, start and end included; each once, sorted.
    pub positions: Vec<Packed>,
    /// How many such orders there are; `u64::MAX` for more than that.
    pub orders: u64,
}

/// All legal orders in which both sides play the moves of `line` from `start`, each side its own in turn, to the same end.
///
/// A move is its squares and promotion, so a knight's move that captures in one order and not in another is the same move.
///
/// # Errors
///
/// A side has more than 32 moves, a move of the line is not legal, or more than `limit` states are met.
pub fn interleavings(start: &Chess, line: &[PackedMove], limit: usize) -> Result<Interleavings, ColumnFault> {
    let mut sides: [Vec<PackedMove>; 2] = [Vec::new(), Vec::new()];
    let mut end = start.clone();
    for (ply, &packed) in line.iter().enumerate() {
        sides[ply % 2].push(packed);
        let legal = packed.unpack(&end);
        end.play_unchecked(legal.ok_or_else(|| ColumnFault(format!("move {} of the line is not legal", ply + 1)))?);
    }
    demand(sides.iter().all(|side| side.len() <= 32), "a side has more than 32 moves")?;
    for side in &mut sides {
        side.sort_unstable_by_key(|packed| packed.0);
    }
    // Layer by layer forwards; each state knows the states before it.
    let mut layers: Vec<HashMap<State, Vec<State>>> = vec![HashMap::from([((0, 0, pack(start)), Vec::new())])];
    let mut met = 1usize;
    for ply in 0..line.len() {
        let mut next: HashMap<State, Vec<State>> = HashMap::new();
        let side = &sides[ply % 2];
        for &(first, second, packed) in layers[ply].keys() {
            let position = unpack(&packed).ok_or_else(|| ColumnFault("a position cannot be read".to_owned()))?;
            let played = if ply % 2 == 0 { first } else { second };
            for at in 0..side.len() {
                let is_played = |at: usize| played >> at & 1 == 1;
                // Of equal moves the first that is left: two orders that differ in which of them comes first are one.
                let repeated = at > 0 && side[at - 1] == side[at] && !is_played(at - 1);
                if is_played(at) || repeated {
                    continue;
                }
                let Some(legal) = side[at].unpack(&position) else { continue };
                let mut after = position.clone();
                after.play_unchecked(legal);
                let bit = 1u32 << at;
                let state = if ply % 2 == 0 {
                    (first | bit, second, pack(&after))
                } else {
                    (first, second | bit, pack(&after))
                };
                next.entry(state).or_default().push((first, second, packed));
            }
        }
        met += next.len();
        demand(met <= limit, "there are too many orders of these moves to look at")?;
        layers.push(next);
    }
    Ok(backwards(&layers, &pack(&end)))
}

/// Keeps what leads to `end`, and counts the orders.
fn backwards(layers: &[HashMap<State, Vec<State>>], end: &Packed) -> Interleavings {
    let last = &layers[layers.len() - 1];
    let mut ways: HashMap<State, u64> = last.keys().filter(|state| state.2 == *end).map(|state| (*state, 1)).collect();
    let mut positions: Vec<Packed> = Vec::new();
    for layer in layers.iter().rev() {
        let mut before: HashMap<State, u64> = HashMap::new();
        for (state, orders) in &ways {
            positions.push(state.2);
            for earlier in &layer[state] {
                let sum = before.entry(*earlier).or_default();
                *sum = sum.saturating_add(*orders);
            }
        }
        if before.is_empty() {
            break;
        }
        ways = before;
    }
    positions.sort_unstable();
    positions.dedup();
    Interleavings { positions, orders: ways.values().copied().fold(0, u64::saturating_add) }
}
