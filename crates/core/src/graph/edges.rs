//! Edges as columns, forwards and backwards.

use std::ops::Range;

use super::{ColumnFault, demand};

/// The edges of a graph, by the node they start from.
#[derive(Debug, Clone, Copy)]
pub struct Edges<'a> {
    offsets: &'a [u32],
    targets: &'a [u32],
}

impl<'a> Edges<'a> {
    /// Takes `offsets` (one more than there are nodes) and `targets` (one for each edge).
    ///
    /// # Errors
    ///
    /// The offsets do not rise from 0 to the number of edges, or a target is no node.
    pub fn new(offsets: &'a [u32], targets: &'a [u32]) -> Result<Self, ColumnFault> {
        demand(!offsets.is_empty(), "offsets are empty: they have one entry more than there are nodes")?;
        demand(offsets[0] == 0, "offsets do not start at 0")?;
        demand(offsets.is_sorted(), "offsets fall somewhere")?;
        demand(offsets[offsets.len() - 1] as usize == targets.len(), "offsets do not end at the number of edges")?;
        let nodes = offsets.len() - 1;
        demand(targets.iter().all(|&target| (target as usize) < nodes), "an edge leads to no node of the graph")?;
        Ok(Edges { offsets, targets })
    }

    /// How many nodes there are.
    #[must_use]
    pub fn nodes(&self) -> usize {
        self.offsets.len() - 1
    }

    /// How many edges there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.targets.len()
    }

    /// Whether there is no edge.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.targets.is_empty()
    }

    /// The edges that start from `node`.
    #[must_use]
    pub fn of(&self, node: u32) -> Range<usize> {
        self.offsets[node as usize] as usize..self.offsets[node as usize + 1] as usize
    }

    /// The node that `edge` leads to.
    #[must_use]
    pub fn target(&self, edge: usize) -> u32 {
        self.targets[edge]
    }

    /// The nodes that the edges of `node` lead to, in edge order.
    #[must_use]
    pub fn targets(&self, node: u32) -> &'a [u32] {
        &self.targets[self.of(node)]
    }

    /// The same edges by the node they lead to.
    #[must_use]
    pub fn incoming(&self) -> Incoming {
        let mut offsets = vec![0u32; self.nodes() + 1];
        for &target in self.targets {
            offsets[target as usize + 1] += 1;
        }
        for node in 0..self.nodes() {
            offsets[node + 1] += offsets[node];
        }
        let mut next = offsets.clone();
        let mut sources = vec![0u32; self.len()];
        let mut edges = vec![0u32; self.len()];
        for node in 0..self.nodes() as u32 {
            for edge in self.of(node) {
                let place = &mut next[self.targets[edge] as usize];
                sources[*place as usize] = node;
                edges[*place as usize] = edge as u32;
                *place += 1;
            }
        }
        Incoming { offsets, sources, edges }
    }
}

/// The edges of a graph, by the node they lead to.
#[derive(Debug, Clone)]
pub struct Incoming {
    offsets: Vec<u32>,
    sources: Vec<u32>,
    edges: Vec<u32>,
}

impl Incoming {
    fn range(&self, node: u32) -> Range<usize> {
        self.offsets[node as usize] as usize..self.offsets[node as usize + 1] as usize
    }

    /// The nodes from which an edge leads to `node`, ascending; twice where two moves do.
    #[must_use]
    pub fn sources(&self, node: u32) -> &[u32] {
        &self.sources[self.range(node)]
    }

    /// The edges that lead to `node`, ascending.
    #[must_use]
    pub fn edges(&self, node: u32) -> &[u32] {
        &self.edges[self.range(node)]
    }

    /// Every node from which `target` can be reached, itself included: its basin. Ascending.
    #[must_use]
    pub fn basin(&self, target: u32) -> Vec<u32> {
        let mut met = vec![false; self.offsets.len() - 1];
        met[target as usize] = true;
        let mut found = vec![target];
        let mut next = 0;
        while next < found.len() {
            for &source in self.sources(found[next]) {
                if !std::mem::replace(&mut met[source as usize], true) {
                    found.push(source);
                }
            }
            next += 1;
        }
        found.sort_unstable();
        found
    }
}
