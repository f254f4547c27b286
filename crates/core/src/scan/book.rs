//! First plies that many games share, read once: a tree of positions, from one to the next by the text of a move.
//!
//! It only saves work: what it gives is what reading the moves would give.

use shakmaty::Chess;

use super::reach::{Alive, Roots};
use crate::key::{PositionKey, key_of};
use crate::moves::PackedMove;

/// A position in the tree.
#[derive(Debug)]
pub struct Node {
    /// The position itself.
    pub position: Chess,
    /// Its key.
    pub key: PositionKey,
    /// The move that led here.
    pub played: PackedMove,
    /// The roots that can still be reached.
    pub alive: Alive,
    /// The root that this position is.
    pub root: Option<u16>,
}

/// The text of a move in eight bytes, zeros behind; longer ones are not in the tree.
pub type MoveText = u64;

/// Index of a node.
pub type NodeIndex = u32;

/// The tree. One node at most is added for each game, so that it grows where games are many.
#[derive(Debug)]
pub struct Book {
    nodes: Vec<Node>,
    /// Open addressing: text of the move, node it is played in, node it leads to (0: free, since none leads to 0).
    table: Vec<(MoveText, NodeIndex, NodeIndex)>,
}

const MOST_NODES: usize = 1 << 15;
const TABLE_BITS: u32 = 17;

impl Book {
    /// The start position alone.
    #[must_use]
    pub fn new(roots: &Roots) -> Book {
        let position = Chess::default();
        let key = key_of(&position);
        let start = Node {
            alive: roots.reachable(&position, roots.all()),
            root: roots.found(&position, key),
            key,
            played: PackedMove::NULL,
            position,
        };
        Book { nodes: vec![start], table: vec![(0, 0, 0); 1 << TABLE_BITS] }
    }

    /// A node by its index; 0 is the start position.
    #[inline]
    #[must_use]
    pub fn node(&self, index: NodeIndex) -> &Node {
        &self.nodes[index as usize]
    }

    /// Whether no more nodes are taken.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.nodes.len() >= MOST_NODES
    }

    #[inline]
    fn slot(text: MoveText, node: NodeIndex) -> usize {
        let mixed = (text ^ u64::from(node).rotate_left(40)).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        (mixed ^ mixed >> 29).wrapping_mul(0xbf58_476d_1ce4_e5b9) as usize >> (usize::BITS - TABLE_BITS)
    }

    /// Where a move leads.
    #[inline]
    #[must_use]
    pub fn child(&self, node: NodeIndex, text: MoveText) -> Option<NodeIndex> {
        let mut slot = Book::slot(text, node);
        loop {
            let (known, parent, child) = self.table[slot];
            if child == 0 {
                return None;
            }
            if known == text && parent == node {
                return Some(child);
            }
            slot = (slot + 1) % self.table.len();
        }
    }

    /// Adds what a move leads to; the tree must not be full.
    pub fn add(&mut self, node: NodeIndex, text: MoveText, child: Node) -> NodeIndex {
        let index = self.nodes.len() as NodeIndex;
        self.nodes.push(child);
        let mut slot = Book::slot(text, node);
        while self.table[slot].2 != 0 {
            slot = (slot + 1) % self.table.len();
        }
        self.table[slot] = (text, node, index);
        index
    }
}
