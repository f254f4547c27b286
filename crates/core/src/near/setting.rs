//! What the search knows of the graph around its positions: who descends from whom, and how interesting a pair is.

use std::collections::HashSet;

use rayon::prelude::*;

use super::Placement;
use crate::graph::{Edges, Incoming, PACKED_BYTES, unpack};

/// A pair does not count where one is so many plies or fewer below the other.
pub const BELOW: usize = 8;
/// Nor where both have a common ancestor so many plies or fewer above them.
pub const SIBLINGS: usize = 6;
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
    incoming: &'a Incoming,
    /// Ancestors of every node within [`BELOW`] and [`SIBLINGS`], where all pairs are looked at.
    ancestors: Option<(Ancestors, Ancestors)>,
    openings: Vec<u64>,
}

impl<'a> Setting<'a> {
    /// Takes a graph; `None` where the packed bytes are not positions or the columns differ in length.
    #[must_use]
    pub fn new(columns: Columns<'a>, edges: Edges<'_>, incoming: &'a Incoming) -> Option<Setting<'a>> {
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
        let of = |plies| Ancestors::new(self.nodes(), self.incoming, plies);
        self.ancestors = Some((of(BELOW), of(SIBLINGS)));
        self
    }

    /// Whether two nodes are no near relations: neither shortly below the other, nor both shortly below a third.
    #[must_use]
    pub fn apart(&self, one: u32, other: u32) -> bool {
        if let Some((below, siblings)) = &self.ancestors {
            return unrelated(one, other, [below.of(one), below.of(other)], [siblings.of(one), siblings.of(other)]);
        }
        let of = |node, plies| {
            let mut found = Vec::new();
            above(node, self.incoming, plies, &mut HashSet::new(), &mut found);
            found
        };
        unrelated(one, other, [&of(one, BELOW), &of(other, BELOW)], [&of(one, SIBLINGS), &of(other, SIBLINGS)])
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

/// The nodes at most some plies above each node, itself included, ascending.
#[derive(Debug)]
struct Ancestors {
    offsets: Vec<usize>,
    nodes: Vec<u32>,
}

impl Ancestors {
    fn new(nodes: usize, incoming: &Incoming, plies: usize) -> Ancestors {
        let lists: Vec<(Vec<u32>, Vec<u32>)> = (0..nodes as u32)
            .into_par_iter()
            .chunks(4096)
            .map(|chunk| {
                let (mut lengths, mut found) = (Vec::with_capacity(chunk.len()), Vec::new());
                let mut met = HashSet::new();
                for node in chunk {
                    let start = found.len();
                    above(node, incoming, plies, &mut met, &mut found);
                    lengths.push((found.len() - start) as u32);
                }
                (lengths, found)
            })
            .collect();
        let mut offsets = vec![0];
        let mut all = Vec::with_capacity(lists.iter().map(|(_, found)| found.len()).sum());
        for (lengths, found) in lists {
            for length in lengths {
                offsets.push(offsets[offsets.len() - 1] + length as usize);
            }
            all.extend_from_slice(&found);
        }
        Ancestors { offsets, nodes: all }
    }

    fn of(&self, node: u32) -> &[u32] {
        &self.nodes[self.offsets[node as usize]..self.offsets[node as usize + 1]]
    }
}

/// Appends the nodes at most `plies` above `node`, ascending; `met` is scratch.
fn above(node: u32, incoming: &Incoming, plies: usize, met: &mut HashSet<u32>, found: &mut Vec<u32>) {
    met.clear();
    met.insert(node);
    let start = found.len();
    found.push(node);
    let mut level = start;
    for _ in 0..plies {
        let end = found.len();
        for index in level..end {
            for &source in incoming.sources(found[index]) {
                if met.insert(source) {
                    found.push(source);
                }
            }
        }
        if found.len() == end {
            break;
        }
        level = end;
    }
    found[start..].sort_unstable();
}

/// `apart` by the ancestors of both within [`BELOW`] and within [`SIBLINGS`].
fn unrelated(one: u32, other: u32, below: [&[u32]; 2], siblings: [&[u32]; 2]) -> bool {
    below[0].binary_search(&other).is_err() && below[1].binary_search(&one).is_err() && !meet(siblings[0], siblings[1])
}

/// Whether two ascending lists share a number.
fn meet(one: &[u32], other: &[u32]) -> bool {
    let (mut i, mut j) = (0, 0);
    while i < one.len() && j < other.len() {
        match one[i].cmp(&other[j]) {
            std::cmp::Ordering::Less => i += 1,
            std::cmp::Ordering::Greater => j += 1,
            std::cmp::Ordering::Equal => return true,
        }
    }
    false
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
