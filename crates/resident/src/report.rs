//! What is asked of a search and what it answers.

use std::time::Duration;

use crate::{moves::Move, score::Score};

/// When a search ends; the first limit that is reached counts. Without any it runs until it is stopped.
#[derive(Clone, Copy, Debug, Default)]
pub struct Limits {
    /// Positions visited.
    pub nodes: Option<u64>,
    /// Iterations.
    pub depth: Option<u32>,
    /// Time on the clock of the wall. The only limit under which a verdict is not the same each time.
    pub time: Option<Duration>,
}

impl Limits {
    /// So many nodes.
    #[must_use]
    pub fn nodes(nodes: u64) -> Limits {
        Limits { nodes: Some(nodes), ..Limits::default() }
    }

    /// So many iterations.
    #[must_use]
    pub fn depth(depth: u32) -> Limits {
        Limits { depth: Some(depth), ..Limits::default() }
    }
}

/// What is asked.
#[derive(Clone, Debug)]
pub struct Question {
    /// When to end.
    pub limits: Limits,
    /// How many lines with different first moves, at least one.
    pub lines: usize,
    /// First moves to consider; all legal ones when empty.
    pub only: Vec<Move>,
}

impl Question {
    /// The best line under these limits.
    #[must_use]
    pub fn best(limits: Limits) -> Question {
        Question { limits, lines: 1, only: Vec::new() }
    }
}

/// A line and its score.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// For the side to move at the root.
    pub score: Score,
    /// The moves, the first one at the root; empty only when there is no legal move.
    pub moves: Vec<Move>,
    /// The iteration that found it; 0 when not even the first was finished.
    pub depth: u32,
}

/// One finished iteration.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Iteration {
    /// Nominal depth in plies.
    pub depth: u32,
    /// Positions visited since the beginning of the search.
    pub nodes: u64,
    /// Best lines, best first.
    pub lines: Vec<Line>,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Report {
    /// Best lines, best first; never empty.
    pub lines: Vec<Line>,
    /// Positions visited.
    pub nodes: u64,
    /// The deepest finished iteration.
    pub depth: u32,
    /// All finished iterations.
    pub iterations: Vec<Iteration>,
}

impl Report {
    /// The best move, unless there is no legal one.
    #[must_use]
    pub fn best(&self) -> Option<Move> {
        self.lines.first().and_then(|line| line.moves.first()).copied()
    }
}
