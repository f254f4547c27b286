//! The resident: search and evaluation. Knows the core only.
//!
//! Integers throughout and no platform mathematics: under a limit of nodes or depth, on one thread, a verdict is the same
//! each time and on each machine.

mod board;
mod correction;
pub mod eval;
mod exchange;
mod first_look;
mod game;
mod history;
mod keys;
mod movegen;
mod moves;
mod pages;
mod picker;
mod random;
mod report;
mod score;
mod search;
pub mod selfplay;
mod table;
pub mod uci;

/// Changes whenever the search or the evaluation says anything else than before under the same limit of nodes.
pub const VERSION: &str = "4";

pub use board::Board;
pub use eval::{Evaluator, HandEvaluation};
pub use first_look::first_looks;
pub use game::Game;
pub use movegen::{all_moves, path_count};
pub use moves::{Move, MoveList};
pub use random::Random;
pub use report::{Iteration, Limits, Line, Question, Report};
pub use score::Score;
pub use search::{MAX_DEPTH, Searcher};
