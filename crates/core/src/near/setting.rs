//! What the search knows of the graph around its positions: who descends from whom, and how interesting a pair is.

use std::borrow::Cow;
use std::collections::HashSet;

use rayon::prelude::*;

use super::Placement;
use crate::graph::{Edges, Incoming, PACKED_BYTES, unpack};

/// A pair does not count where both have a common ancestor so many plies or fewer above them, nor where one is at most two
/// plies more than that below the other.
const SIBLINGS: usize = 6;
/// How much more interesting a pair is whose values differ by more than their noise, and one from different openings;
/// settings, common practice, no source.
const DIFFERS: f64 = 3.0;
const ELSEWHERE: f64 = 3.0;

/// What is known of each node.
#[derive(Debug, Clone, Copy)]
pub struct Columns<'a> {
    /// Packed positions, one after the other.
    pub packed: &'a [u8],
    /// E for White, NaN where it is not known.
    pub values: &'a [f64],
    /// σ of each value.
    pub noise: &'a [f64],
    /// Share of the traffic, 0 to 1.
    pub flow: &'a [f64],
    /// The nodes that openings start from.
    pub roots: &'a [u32],
}

/// Nodes with their placements, ancestors and openings.
#[derive(Debug)]
pub struct Setting<'a> {
    columns: Columns<'a>,
    pub(super) placements: Vec<Placement>,
    edges: Edges<'a>,
    incoming: &'a Incoming,
    /// Of every node, where all pairs are looked at.
    ancestors: Option<AllAncestors>,
    openings: Vec<u64>,
}

impl<'a> Setting<'a> {
    /// Takes a graph; `None` where the packed bytes are not positions or the columns differ in length.
    #[must_use]
    pub fn new(columns: Columns<'a>, edges: Edges<'a>, incoming: &'a Incoming) -> Option<Setting<'a>> {
        let nodes = edges.nodes();
        let whole = columns.packed.len() == nodes * PACKED_BYTES
            && [columns.values.len(), columns.noise.len(), columns.flow.len()].iter().all(|&length| length == nodes)
            && columns.roots.iter().all(|&root| (root as usize) < nodes);
        if !whole {
            return None;
        }
        let (packed, _) = columns.packed.as_chunks::<PACKED_BYTES>();
        let placements: Option<Vec<Placement>> = packed
            .par_iter()
            .map(|packed| unpack(packed).map(|position| Placement::new(shakmaty::Position::board(&position))))
            .collect();
        Some(Setting {
            columns,
            placements: placements?,
            edges,
            incoming,
            ancestors: None,
            openings: openings(edges, columns.roots),
        })
    }

    /// How many nodes there are.
    #[must_use]
    pub fn nodes(&self) -> usize {
        self.placements.len()
    }

    /// Looks up the ancestors of every node, so that `apart` is quick for many pairs.
    #[must_use]
    pub fn for_all_pairs(mut self) -> Setting<'a> {
        self.ancestors = Some(AllAncestors::new(self.nodes(), self.incoming));
        self
    }

    /// Whether two nodes are no near relations: neither shortly below the other, nor both shortly below a third.
    #[must_use]
    pub fn apart(&self, one: u32, other: u32) -> bool {
        let (mine, theirs) = (self.above(one), self.above(other));
        // Each is among its own: where one is SIBLINGS plies or fewer above the other, they meet. Where it is one or two
        // plies more above the other, one of its grandchildren is among the other's.
        let leads_to = |node, above: &[u32]| {
            let mut children = self.edges.targets(node).iter();
            children.any(|&child| self.edges.targets(child).iter().any(|next| above.binary_search(next).is_ok()))
        };
        !meet(&mine, &theirs) && !leads_to(one, &theirs) && !leads_to(other, &mine)
    }

    /// The nodes at most [`SIBLINGS`] plies above a node, itself included, ascending.
    fn above(&self, node: u32) -> Cow<'_, [u32]> {
        if let Some(ancestors) = &self.ancestors {
            return ancestors.of(node).into();
        }
        let (mut met, mut found) = (HashSet::new(), Vec::new());
        above(node, self.incoming, |source| met.insert(source), &mut found);
        found.into()
    }

    /// How interesting a pair is: the lesser flow in percent, three times as much where the values differ by more than
    /// their noise, three times as much where no opening leads to both, divided by one and the units that differ (squared for twins).
    #[must_use]
    pub fn interest(&self, one: u32, other: u32, units: u8, twin: bool) -> f64 {
        let Columns { flow, .. } = self.columns;
        let (one, other) = (one as usize, other as usize);
        let mut interest = 100.0 * flow[one].min(flow[other]);
        if self.differs(one, other, twin) {
            interest *= DIFFERS;
        }
        if self.openings[one] & self.openings[other] == 0 {
            interest *= ELSEWHERE;
        }
        let less = 1.0 + f64::from(units);
        interest / if twin { less * less } else { less }
    }

    fn differs(&self, one: usize, other: usize, twin: bool) -> bool {
        let Columns { values, noise, .. } = self.columns;
        let second = if twin { 100.0 - values[other] } else { values[other] };
        // False where a value is not known.
        (values[one] - second).abs() > 1.96 * noise[one].hypot(noise[other])
    }
}

/// The nodes at most [`SIBLINGS`] plies above each node, itself included, ascending.
#[derive(Debug)]
struct AllAncestors {
    offsets: Vec<usize>,
    nodes: Vec<u32>,
}

impl AllAncestors {
    fn new(nodes: usize, incoming: &Incoming) -> AllAncestors {
        let lists: Vec<(Vec<usize>, Vec<u32>)> = (0..nodes as u32)
            .into_par_iter()
            .chunks(16_384)
            .map(|chunk| {
                let (mut ends, mut found) = (Vec::with_capacity(chunk.len()), Vec::new());
                // The node that met each node last: nothing needs to be cleared between two.
                let mut met_by = vec![u32::MAX; nodes];
                for node in chunk {
                    let fresh = |source: u32| std::mem::replace(&mut met_by[source as usize], node) != node;
                    above(node, incoming, fresh, &mut found);
                    ends.push(found.len());
                }
                (ends, found)
            })
            .collect();
        let mut offsets = vec![0];
        let mut all = Vec::with_capacity(lists.iter().map(|(_, found)| found.len()).sum());
        for (ends, found) in lists {
            offsets.extend(ends.into_iter().map(|end| all.len() + end));
            all.extend_from_slice(&found);
        }
        AllAncestors { offsets, nodes: all }
    }

    fn of(&self, node: u32) -> &[u32] {
        &self.nodes[self.offsets[node as usize]..self.offsets[node as usize + 1]]
    }
}

/// Appends the nodes at most [`SIBLINGS`] plies above `node`, ascending. `fresh` says of a node whether it is met for the
/// first time.
fn above(node: u32, incoming: &Incoming, mut fresh: impl FnMut(u32) -> bool, found: &mut Vec<u32>) {
    fresh(node);
    let start = found.len();
    found.push(node);
    let mut level = start;
    for _ in 0..SIBLINGS {
        let end = found.len();
        for index in level..end {
            for &source in incoming.sources(found[index]) {
                if fresh(source) {
                    found.push(source);
                }
            }
        }
        level = end;
    }
    found[start..].sort_unstable();
}

/// Whether two ascending lists share a number. In steps of eight, each against each: the processor compares these at
/// once, and which list goes on need be foretold an eighth as often.
fn meet(one: &[u32], other: &[u32]) -> bool {
    const STEP: usize = 8;
    let (mut mine, mut theirs) = (one, other);
    while let (Some((here, mine_after)), Some((there, theirs_after))) =
        (mine.split_first_chunk::<STEP>(), theirs.split_first_chunk::<STEP>())
    {
        let mut shared = false;
        for number in here {
            shared |= there.iter().fold(false, |shared, other| shared | (number == other));
        }
        if shared {
            return true;
        }
        if here[STEP - 1] < there[STEP - 1] {
            mine = mine_after;
        } else {
            theirs = theirs_after;
        }
    }
    let (few, many) = if mine.len() < theirs.len() { (mine, theirs) } else { (theirs, mine) };
    few.iter().any(|number| many.binary_search(number).is_ok())
}

/// Which openings lead to each node, a bit each; the sixty-fourth and all later ones share the last bit.
fn openings(edges: Edges<'_>, roots: &[u32]) -> Vec<u64> {
    let mut found = vec![0u64; edges.nodes()];
    for (number, &root) in roots.iter().enumerate() {
        let bit = 1 << number.min(63);
        let mut waiting = vec![root];
        while let Some(node) = waiting.pop() {
            if found[node as usize] & bit == 0 {
                found[node as usize] |= bit;
                waiting.extend_from_slice(edges.targets(node));
            }
        }
    }
    found
}
