//! The move orders that lead to a node.

use std::collections::{HashMap, HashSet};

use super::{ColumnFault, Course, NO_NODE, demand};

/// Least weight of a move in an order, so that moves without traffic are ranked too: shorter orders first.
const FLOOR: f64 = 1e-6;

/// One order of moves.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// Where it starts: the node it was asked from, or a root.
    pub start: u32,
    /// Its edges, first move first.
    pub edges: Vec<u32>,
    /// Product of the shares of its moves, and of what starts at its root where it starts from one.
    pub weight: f64,
}

/// How the best orders to a node came there: weight, edge (`NO_NODE` at the start), node before, which of its orders.
#[derive(Clone, Copy)]
struct Step {
    weight: f64,
    edge: u32,
    before: u32,
    nth: u32,
}

impl Course {
    /// The `limit` heaviest orders to `target` (heaviest first; then by edge number), and how many there are in all. They
    /// start from `since`, a node that every order passes, or from the roots with `NO_NODE`.
    ///
    /// # Errors
    ///
    /// A column has the wrong length, or a node is none of the graph.
    pub fn orders_to(
        &self,
        target: u32,
        since: u32,
        starts: &[f64],
        shares: &[f64],
        limit: usize,
    ) -> Result<(Vec<Order>, u64), ColumnFault> {
        demand(starts.len() == self.nodes(), "there is not one start for each node")?;
        demand(shares.len() == self.returns.len(), "there is not one share for each edge")?;
        demand((target as usize) < self.nodes(), "the target is no node of the graph")?;
        demand(since == NO_NODE || (since as usize) < self.nodes(), "the start is no node of the graph")?;
        let between = self.between(target, since);
        let mut steps: HashMap<u32, (Vec<Step>, u64)> = HashMap::with_capacity(between.len());
        for &node in &between {
            let mut found: Vec<Step> = Vec::new();
            let mut count = 0u64;
            let begins = if since == NO_NODE { self.roots[node as usize] } else { node == since };
            if begins {
                let weight = if since == NO_NODE { starts[node as usize].max(FLOOR) } else { 1.0 };
                found.push(Step { weight, edge: NO_NODE, before: NO_NODE, nth: 0 });
                count = 1;
            }
            if node != since {
                for (source, edge) in self.arrivals(node) {
                    if let Some((earlier, ways)) = steps.get(&source) {
                        count = count.saturating_add(*ways);
                        let share = shares[edge as usize].max(FLOOR);
                        found.extend((0u32..).zip(earlier).map(|(nth, step)| Step {
                            weight: step.weight * share,
                            edge,
                            before: source,
                            nth,
                        }));
                    }
                }
            }
            found.sort_by(|a, b| b.weight.total_cmp(&a.weight).then(a.edge.cmp(&b.edge)).then(a.nth.cmp(&b.nth)));
            found.truncate(limit);
            if count > 0 {
                steps.insert(node, (found, count));
            }
        }
        let Some((best, count)) = steps.get(&target) else { return Ok((Vec::new(), 0)) };
        Ok((best.iter().map(|&last| trace(&steps, target, last)).collect(), *count))
    }

    /// The nodes on orders from `since` (or the roots) to `target`, each before those it leads to.
    fn between(&self, target: u32, since: u32) -> Vec<u32> {
        if self.depth[target as usize] == NO_NODE {
            return Vec::new();
        }
        let mut met = HashSet::from([target]);
        let mut found = vec![target];
        let mut next = 0;
        while next < found.len() {
            let node = found[next];
            next += 1;
            if node != since {
                for (source, _) in self.arrivals(node) {
                    if met.insert(source) {
                        found.push(source);
                    }
                }
            }
        }
        found.sort_unstable_by_key(|&node| self.place[node as usize]);
        found
    }
}

fn trace(steps: &HashMap<u32, (Vec<Step>, u64)>, target: u32, last: Step) -> Order {
    let (mut start, mut step, mut edges) = (target, last, Vec::new());
    while step.edge != NO_NODE {
        edges.push(step.edge);
        start = step.before;
        step = steps[&start].0[step.nth as usize];
    }
    edges.reverse();
    Order { start, edges, weight: last.weight }
}
