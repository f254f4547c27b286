//! The lossless PGN reader, for texts that their author goes on writing: nothing is dropped, every byte keeps its place.
//!
//! [`tokenize`] splits the bytes into tokens with their spans; [`build`] reads the moves and makes the tree of games,
//! variations, comments and signs over them, as columns. What cannot be read stays a token and becomes a [`Fault`].
//! Both run in linear time and without recursion, whatever the bytes are. Rules: the PGN standard of 1994, in its
//! import format; where it is silent, common practice, as the reference cases of the tests say.

mod build;
mod fault;
mod lex;
mod section;
mod sign;
mod token;
mod tree;

use std::fmt;

pub use build::build;
pub use fault::{Fault, FaultKind, Weight};
pub use lex::tokenize;
pub use token::{GameResult, Span, TagFlaw, TagParts, TokenKind, Tokens};
pub use tree::{Games, Manuscript, NONE, Nodes, Start, Variations};

/// The text is 2 GiB or longer: too long for the manuscript's reader.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TooLong;

impl fmt::Display for TooLong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a manuscript is at most 2 GiB")
    }
}

impl std::error::Error for TooLong {}

/// Reads a manuscript.
///
/// # Errors
///
/// [`TooLong`]. Anything else that is wrong is a [`Fault`] in the result.
pub fn read(text: &[u8]) -> Result<Manuscript, TooLong> {
    if text.len() > i32::MAX as usize {
        return Err(TooLong); // rows and offsets are 32 bits wide
    }
    Ok(build(text, tokenize(text)))
}

#[cfg(test)]
mod tests;
