//! The tree of a manuscript as columns: games, positions reached by moves, variations.

use crate::moves::PackedMove;

use super::fault::Fault;
use super::token::{GameResult, Tokens};

/// "No such row" in a column of rows.
pub const NONE: i32 = -1;

/// How a game starts. The numbers cross to Python.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Start {
    /// From the normal position.
    Normal = 0,
    /// From the position of the tag FEN.
    Fen = 1,
    /// From the normal position, castling written as in Chess960.
    Normal960 = 2,
    /// From the position of the tag FEN, castling written as in Chess960.
    Fen960 = 3,
    /// From a position that cannot be used: no move was read.
    Bad = 4,
}

/// One row for each game.
#[derive(Debug, Default)]
pub struct Games {
    /// Its first token; it ends where the next game starts.
    pub first_token: Vec<u32>,
    /// Its first tag, a row of [`Tokens::tags`].
    pub tags_start: Vec<u32>,
    /// The row after its last tag.
    pub tags_end: Vec<u32>,
    /// The node of its start position.
    pub root: Vec<u32>,
    /// Where it starts.
    pub start: Vec<Start>,
    /// Its result, by the marker or else by the tag.
    pub result: Vec<GameResult>,
    /// The token of the termination marker, or [`NONE`].
    pub result_token: Vec<i32>,
    /// Whether every move of the main line was read, and nothing torn hides its end.
    pub complete: Vec<bool>,
}

/// One row for each position that the manuscript reaches, in the order of the text; a start position has no move.
#[derive(Debug, Default)]
pub struct Nodes {
    /// The node before the move, or [`NONE`] for a start position.
    pub parent: Vec<i32>,
    /// The token of the move, or [`NONE`].
    pub token: Vec<i32>,
    /// The move.
    pub played: Vec<PackedMove>,
    /// Half-moves since the start of the game.
    pub ply: Vec<u32>,
    /// The variation it stands in, or [`NONE`] for the main line.
    pub variation: Vec<i32>,
    /// The key of the position.
    pub key: Vec<u64>,
}

/// One row for each variation that could be followed, in the order of the opening parentheses.
#[derive(Debug, Default)]
pub struct Variations {
    /// The game, from 0.
    pub game: Vec<u32>,
    /// The token of the opening parenthesis.
    pub open: Vec<u32>,
    /// The token of the closing parenthesis, or [`NONE`].
    pub close: Vec<i32>,
    /// The variation around it, or [`NONE`] for the main line.
    pub outer: Vec<i32>,
    /// 1 for a variation of the main line.
    pub depth: Vec<u32>,
    /// The node from which it departs.
    pub branch: Vec<u32>,
}

/// A manuscript: the tokens of the text, and what they mean.
#[derive(Debug, Default)]
pub struct Manuscript {
    /// The tokens.
    pub tokens: Tokens,
    /// The node that each token speaks of: the one its move reaches, or the one its comment, NAG or number follows;
    /// [`NONE`] for all else.
    pub token_node: Vec<i32>,
    /// The variation that each token stands in, or [`NONE`].
    pub token_variation: Vec<i32>,
    /// The games.
    pub games: Games,
    /// The positions.
    pub nodes: Nodes,
    /// The variations.
    pub variations: Variations,
    /// What is wrong, in the order of the text.
    pub faults: Vec<Fault>,
}
