//! All skeletons that are known, and which of them a position has.

use rayon::prelude::*;
use shakmaty::Color;

use super::{Skeleton, board_of, pawns_of};
use crate::graph::Packed;

/// The place of a structure in the data that the catalogue was made from, from 0.
pub type StructureIndex = u16;

/// Whose structure it is: of Carlsbad the side with the minority, of an isolated queen's pawn the side that has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum Holder {
    /// White has it.
    White = 0,
    /// Black has it.
    Black = 1,
    /// It is symmetrical, or each side has it.
    Both = 2,
}

/// A structure as it is handed over: its skeleton, and whose it is in the colours that it is written in.
#[derive(Debug, Clone)]
pub struct Entry {
    /// What must hold of the pawns.
    pub skeleton: Skeleton,
    /// Whose it is.
    pub side: Color,
}

/// A structure and who has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Recognised {
    /// Which.
    pub structure: StructureIndex,
    /// Whose.
    pub holder: Holder,
}

/// "No structure" among codes.
pub const NO_STRUCTURE: u16 = u16::MAX;

/// What was recognised as one number: index times three plus the [`Holder`], or [`NO_STRUCTURE`].
#[must_use]
pub fn code_of(found: Option<Recognised>) -> u16 {
    found.map_or(NO_STRUCTURE, |found| found.structure * 3 + found.holder as u16)
}

/// Skeletons in the order in which they take precedence.
#[derive(Debug, Clone)]
pub struct Catalogue {
    entries: Vec<(StructureIndex, Entry)>,
}

impl Catalogue {
    /// Puts the structures in order: one whose skeleton implies another's, in the same colours or reversed, comes before
    /// it; else that with more words; else the earlier one.
    #[must_use]
    pub fn new(entries: Vec<Entry>) -> Catalogue {
        let mut waiting: Vec<(StructureIndex, Entry)> =
            entries.into_iter().enumerate().map(|(index, entry)| (index as StructureIndex, entry)).collect();
        waiting.sort_by_key(|(_, entry)| std::cmp::Reverse(entry.skeleton.words));
        let mut ordered = Vec::with_capacity(waiting.len());
        while !waiting.is_empty() {
            let free = |&place: &usize| {
                let this = &waiting[place].1;
                waiting.iter().all(|(_, other)| !precedes(other, this) || precedes(this, other))
            };
            // Implication has no cycles but among equals, so one is always free.
            let next = (0..waiting.len()).find(free).unwrap_or(0);
            ordered.push(waiting.remove(next));
        }
        Catalogue { entries: ordered }
    }

    /// The structure that pawns have, and who has it.
    #[must_use]
    pub fn recognise(&self, white_pawns: u64, black_pawns: u64) -> Option<Recognised> {
        let turned = (black_pawns.swap_bytes(), white_pawns.swap_bytes());
        self.entries.iter().find_map(|(structure, entry)| {
            let written = entry.skeleton.holds(white_pawns, black_pawns);
            let reversed = entry.skeleton.holds(turned.0, turned.1);
            let holder = match (written, reversed) {
                (false, false) => return None,
                (true, true) => Holder::Both,
                (true, false) => holder(entry.side),
                (false, true) => holder(entry.side.other()),
            };
            Some(Recognised { structure: *structure, holder })
        })
    }

    /// The codes of packed positions, on all cores; `None` where the bytes of one are no position.
    #[must_use]
    pub fn codes(&self, positions: &[Packed]) -> Option<Vec<u16>> {
        positions
            .par_iter()
            .with_min_len(1024)
            .map(|packed| {
                let (white, black) = pawns_of(&board_of(packed)?);
                Some(code_of(self.recognise(white, black)))
            })
            .collect()
    }

    /// The structures in order of precedence.
    pub fn order(&self) -> impl Iterator<Item = StructureIndex> {
        self.entries.iter().map(|(structure, _)| *structure)
    }
}

fn holder(side: Color) -> Holder {
    side.fold_wb(Holder::White, Holder::Black)
}

fn precedes(one: &Entry, other: &Entry) -> bool {
    one.skeleton.implies(&other.skeleton) || one.skeleton.implies(&other.skeleton.mirrored())
}
