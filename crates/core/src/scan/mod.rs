//! The bulk scan: reads PGN collections of any size and keeps the games that reach a root by any order of moves.
//!
//! A stream of bytes ([`source`]) is cut into segments ([`segment`]), blocks of which ([`feed`]) are read by as many
//! threads as there are cores ([`drive`]). Of each game ([`game`]) the tags ([`tags`]) and the main line ([`movetext`])
//! are read, the latter only until it can no longer reach a root ([`reach`]); first plies that many games share are
//! looked up ([`book`]). What is kept becomes columns ([`batch`]).
//!
//! No game vanishes: kept, passed over and set aside are together the tag sections and the games without tags.

pub mod batch;
pub mod book;
pub mod drive;
pub mod feed;
pub mod game;
pub mod movetext;
pub mod reach;
pub mod san;
pub mod segment;
pub mod source;
pub mod tags;
pub mod text;

pub use batch::{Batch, Counts, Games, Occurrences, Reject, Strings};
pub use drive::{Next, Scan, ScanOptions};
pub use feed::Note;
pub use game::{Fault, Filter};
pub use segment::Remark;
