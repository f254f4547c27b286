//! Keys, features, PGN reading and graph arithmetic. Pure Rust: no Python, no policy about files.

pub mod fen;
pub mod graph;
pub mod key;
pub mod manuscript;
pub mod moves;
pub mod near;
pub mod parse;
pub mod plans;
pub mod runs;
pub mod scan;
pub mod score_comment;
pub mod section;
pub mod squares;
pub mod structures;
