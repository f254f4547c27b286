//! How traffic runs from the roots through the graph: depth, moves that return, flow, and what all orders share.
//!
//! A move that stays within a strongly connected component and does not lead further from the roots *returns*: its
//! traffic ends there as a repetition. What is left has no cycle, so no traffic passes a node twice, and the flow of a
//! node is the share that passes it.

use super::{ColumnFault, Edges, Incoming, NO_NODE, components, demand};

/// The graph as traffic from its roots runs through it.
#[derive(Debug, Clone)]
pub struct Course {
    /// Least plies from a root; `NO_NODE` where none leads there.
    pub depth: Vec<u32>,
    /// For each edge whether it returns.
    pub returns: Vec<bool>,
    /// The nodes that a root leads to, each before those that its edges lead to (those that return aside).
    pub order: Vec<u32>,
    /// The place of each node in `order`, from 1; 0 where no root leads.
    pub(super) place: Vec<u32>,
    pub(super) roots: Vec<bool>,
    pub(super) incoming: Incoming,
}

/// Flow, in shares of the traffic that starts at the roots.
#[derive(Debug, Clone, PartialEq)]
pub struct Flow {
    /// What passes each node: what starts there and what its moves bring, those that return aside.
    pub nodes: Vec<f64>,
    /// What passes each edge.
    pub edges: Vec<f64>,
}

impl Course {
    /// Lays the course from `roots`. O(nodes · log nodes + edges).
    ///
    /// # Errors
    ///
    /// A root is no node.
    pub fn new(edges: Edges<'_>, roots: &[u32]) -> Result<Course, ColumnFault> {
        let count = edges.nodes();
        demand(roots.iter().all(|&root| (root as usize) < count), "a root is no node of the graph")?;
        let mut depth = vec![NO_NODE; count];
        let mut is_root = vec![false; count];
        let mut order: Vec<u32> = Vec::with_capacity(count);
        for &root in roots {
            if !std::mem::replace(&mut is_root[root as usize], true) {
                depth[root as usize] = 0;
                order.push(root);
            }
        }
        let mut next = 0;
        while next < order.len() {
            let node = order[next];
            for &target in edges.targets(node) {
                if depth[target as usize] == NO_NODE {
                    depth[target as usize] = depth[node as usize] + 1;
                    order.push(target);
                }
            }
            next += 1;
        }
        let cycles = components(edges, |node| depth[node as usize] != NO_NODE);
        let mut returns = vec![false; edges.len()];
        for &node in &order {
            for edge in edges.of(node) {
                let target = edges.target(edge) as usize;
                returns[edge] = cycles.of[target] == cycles.of[node as usize] && depth[target] <= depth[node as usize];
            }
        }
        order.sort_unstable_by_key(|&node| {
            let at = node as usize;
            (std::cmp::Reverse(cycles.of[at]), depth[at], node)
        });
        let mut place = vec![0u32; count];
        for (at, &node) in (1u32..).zip(&order) {
            place[node as usize] = at;
        }
        Ok(Course { depth, returns, order, place, roots: is_root, incoming: edges.incoming() })
    }

    /// How many nodes the graph has.
    #[must_use]
    pub fn nodes(&self) -> usize {
        self.depth.len()
    }

    /// The edges that bring traffic to `node`, with the nodes they come from.
    pub(super) fn arrivals(&self, node: u32) -> impl Iterator<Item = (u32, u32)> + '_ {
        let sources = self.incoming.sources(node).iter().copied();
        let edges = self.incoming.edges(node).iter().copied();
        sources
            .zip(edges)
            .filter(|&(source, edge)| self.depth[source as usize] != NO_NODE && !self.returns[edge as usize])
    }

    /// The flow when `starts` (one for each node) begins at the nodes and each move of a node takes its share (one for each
    /// edge) of what passes the node; what the shares of a node leave of 1 ends there.
    ///
    /// # Errors
    ///
    /// A column has the wrong length or negative entries, or traffic starts where no root leads.
    pub fn flow(&self, edges: Edges<'_>, starts: &[f64], shares: &[f64]) -> Result<Flow, ColumnFault> {
        demand(starts.len() == self.nodes(), "there is not one start for each node")?;
        demand(
            shares.len() == self.returns.len() && edges.len() == shares.len(),
            "there is not one share for each edge",
        )?;
        let is_share = |&share: &f64| (0.0..=1.0).contains(&share);
        demand(starts.iter().all(is_share) && shares.iter().all(is_share), "a share is not within 0 to 1")?;
        let starts_well = starts.iter().zip(&self.depth).all(|(&start, &depth)| start == 0.0 || depth != NO_NODE);
        demand(starts_well, "traffic starts where no root leads")?;
        let mut nodes = starts.to_vec();
        let mut passed = vec![0.0; shares.len()];
        for &node in &self.order {
            for edge in edges.of(node) {
                passed[edge] = nodes[node as usize] * shares[edge];
                if !self.returns[edge] {
                    nodes[edges.target(edge) as usize] += passed[edge];
                }
            }
        }
        Ok(Flow { nodes, edges: passed })
    }

    /// How many orders of moves lead from a root to each node, returning moves aside; `u64::MAX` for more than that.
    #[must_use]
    pub fn order_counts(&self) -> Vec<u64> {
        let mut counts = vec![0u64; self.nodes()];
        for &node in &self.order {
            let arriving = self.arrivals(node).map(|(source, _)| counts[source as usize]);
            counts[node as usize] = arriving.fold(u64::from(self.roots[node as usize]), u64::saturating_add);
        }
        counts
    }

    /// For each node the last node before it that every order passes; `NO_NODE` where orders share none (they start from
    /// different roots) and for roots. (K. Cooper, T. Harvey, K. Kennedy, "A simple, fast dominance algorithm", 2001; one
    /// pass is enough without cycles.)
    #[must_use]
    pub fn last_shared(&self) -> Vec<u32> {
        let count = self.nodes();
        let above = count as u32; // an entry above all roots
        let place = |node: u32| if node == above { 0 } else { self.place[node as usize] };
        let mut shared = vec![NO_NODE; count + 1];
        shared[count] = above;
        for &node in &self.order {
            let mut common = if self.roots[node as usize] { above } else { NO_NODE };
            for (source, _) in self.arrivals(node) {
                common = if common == NO_NODE { source } else { meet(common, source, &shared, place) };
            }
            shared[node as usize] = common;
        }
        shared.truncate(count);
        shared.into_iter().map(|node| if node == above { NO_NODE } else { node }).collect()
    }
}

fn meet(mut one: u32, mut other: u32, shared: &[u32], place: impl Fn(u32) -> u32) -> u32 {
    while one != other {
        if place(one) > place(other) {
            one = shared[one as usize];
        } else {
            other = shared[other as usize];
        }
    }
    one
}
