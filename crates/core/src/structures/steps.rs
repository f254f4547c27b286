//! How the traffic of a graph goes from structure to structure.

use std::collections::BTreeMap;

use shakmaty::{Board, Role, Square};

use super::board_of;
use crate::graph::{ColumnFault, Course, Edges, Packed};
use crate::moves::PackedMove;

/// What is counted of each step: shares of the traffic, games, lines of the texts.
pub const WEIGHTS: usize = 3;
/// The weights of an edge or a step.
pub type Weights = [f64; WEIGHTS];

/// A move that changes the pawns: the step or capture of a pawn, or the capture of one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Break {
    /// Whether White plays it.
    pub white: bool,
    /// What moves.
    pub role: Role,
    /// The file that a pawn comes from, 0 to 7; 8 for other units, whose origin does not matter.
    pub file: u8,
    /// Where it goes.
    pub to: Square,
    /// Whether it takes something.
    pub takes: bool,
}

/// Traffic from one structure to another by one break, or by a capture and the recapture at once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Code of the structure that is left.
    pub from: u16,
    /// Code of the structure that is come to.
    pub to: u16,
    /// The break.
    pub by: Break,
    /// The recapture on its square, where that follows at once.
    pub retaken: Option<Break>,
    /// How much takes it.
    pub weights: Weights,
}

/// A graph with what is known of its nodes and edges.
#[derive(Debug, Clone, Copy)]
pub struct Ground<'a> {
    /// The edges.
    pub edges: Edges<'a>,
    /// How traffic runs.
    pub course: &'a Course,
    /// The position of each node.
    pub positions: &'a [Packed],
    /// The structure of each node as a code.
    pub codes: &'a [u16],
    /// The packed move of each edge.
    pub moves: &'a [u16],
    /// What takes each edge.
    pub weights: &'a [Weights],
}

/// The steps between structures, by what is left, what is come to and break.
///
/// A capture that is retaken on its square at once is one step: what stands on the board in between is nobody's structure.
/// Moves that return within a cycle are left out, and what no weight is on.
///
/// # Errors
///
/// The columns do not fit together or a position is none.
pub fn steps(ground: &Ground<'_>) -> Result<Vec<Step>, ColumnFault> {
    let Ground { edges, course, positions, codes, moves, weights } = *ground;
    if [positions.len(), codes.len(), course.depth.len()] != [edges.nodes(); 3]
        || [moves.len(), weights.len()] != [edges.len(); 2]
    {
        return Err(ColumnFault("columns of structures are not those of one graph".to_owned()));
    }
    let passing = passing(ground);
    // What of an edge is a recapture that was counted with the capture before it.
    let mut counted = vec![[0.0; WEIGHTS]; edges.len()];
    let mut found: BTreeMap<(u16, u16, Break, Option<Break>), Weights> = BTreeMap::new();
    for &node in &course.order {
        let changing = |&edge: &usize| {
            let target = edges.target(edge) as usize;
            codes[target] != codes[node as usize] && !course.returns[edge] && weights[edge] != [0.0; WEIGHTS]
        };
        if !edges.of(node).any(|edge| changing(&edge)) {
            continue;
        }
        let from = codes[node as usize];
        let board = board_at(positions, node)?;
        for edge in edges.of(node).filter(changing) {
            let mut left = less(weights[edge], counted[edge]);
            let target = edges.target(edge);
            let Some(by) = break_of(&board, PackedMove(moves[edge])) else { continue };
            if by.takes {
                let after = board_at(positions, target)?;
                for next in edges.of(target).filter(|&next| !course.returns[next]) {
                    let Some(again) = break_of(&after, PackedMove(moves[next])) else { continue };
                    if again.to != by.to || !again.takes {
                        continue;
                    }
                    let both = shared(less(weights[edge], counted[edge]), weights[next], passing[target as usize]);
                    counted[next] = more(counted[next], both);
                    left = less(left, both);
                    let to = codes[edges.target(next) as usize];
                    if to != from {
                        add(&mut found, (from, to, by, Some(again)), both);
                    }
                }
            }
            add(&mut found, (from, codes[target as usize], by, None), left);
        }
    }
    Ok(found.into_iter().map(|((from, to, by, retaken), weights)| Step { from, to, by, retaken, weights }).collect())
}

/// What comes to each node or goes on from it, whichever is more.
fn passing(ground: &Ground<'_>) -> Vec<Weights> {
    let Ground { edges, course, weights, .. } = *ground;
    let mut into = vec![[0.0; WEIGHTS]; edges.nodes()];
    let mut out = into.clone();
    for node in 0..edges.nodes() as u32 {
        for edge in edges.of(node).filter(|&edge| !course.returns[edge]) {
            out[node as usize] = more(out[node as usize], weights[edge]);
            let target = edges.target(edge) as usize;
            into[target] = more(into[target], weights[edge]);
        }
    }
    into.iter().zip(&out).map(|(into, out)| std::array::from_fn(|at| into[at].max(out[at]))).collect()
}

/// How much of `edge` goes on by `next` from a node that `all` passes.
fn shared(edge: Weights, next: Weights, all: Weights) -> Weights {
    std::array::from_fn(|at| if all[at] > 0.0 { edge[at] * next[at] / all[at] } else { 0.0 })
}

fn more(one: Weights, other: Weights) -> Weights {
    std::array::from_fn(|at| one[at] + other[at])
}

fn less(one: Weights, other: Weights) -> Weights {
    std::array::from_fn(|at| (one[at] - other[at]).max(0.0))
}

/// What is less than this is what is left of a difference.
const NOTHING: f64 = 1e-9;

fn add<K: Ord>(found: &mut BTreeMap<K, Weights>, key: K, weights: Weights) {
    if weights.iter().any(|&weight| weight > NOTHING) {
        let sum = found.entry(key).or_default();
        *sum = more(*sum, weights);
    }
}

fn board_at(positions: &[Packed], node: u32) -> Result<Board, ColumnFault> {
    board_of(&positions[node as usize]).ok_or_else(|| ColumnFault(format!("node {node} is no position")))
}

/// The move as a break; `None` for castling and moves from empty squares.
fn break_of(board: &Board, played: PackedMove) -> Option<Break> {
    let (from, to) = (played.from(), played.to());
    let unit = board.piece_at(from)?;
    let taken = board.piece_at(to);
    if taken.is_some_and(|taken| taken.color == unit.color) {
        return None;
    }
    let pawn = unit.role == Role::Pawn;
    let takes = taken.is_some() || pawn && from.file() != to.file();
    Some(Break {
        white: unit.color.is_white(),
        role: unit.role,
        file: if pawn { from.file() as u8 } else { 8 },
        to,
        takes,
    })
}
