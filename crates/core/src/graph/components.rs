//! Strongly connected components: the positions among which one can go round.

use super::{Edges, NO_NODE};

/// Components in an order in which every edge leads into the same or an earlier one.
#[derive(Debug, Clone)]
pub struct Components {
    /// The component of each node; `NO_NODE` for nodes that were left out.
    pub of: Vec<u32>,
    members: Vec<u32>,
    starts: Vec<u32>,
}

impl Components {
    /// How many there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.starts.len() - 1
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The nodes of one component.
    #[must_use]
    pub fn members(&self, component: usize) -> &[u32] {
        &self.members[self.starts[component] as usize..self.starts[component + 1] as usize]
    }
}

/// The strongly connected components of the nodes that `keep` lets in (R. Tarjan, "Depth-first search and linear graph
/// algorithms", SIAM J. Comput. 1, 1972), without recursion. O(nodes + edges).
#[must_use]
pub fn components(edges: Edges<'_>, keep: impl Fn(u32) -> bool) -> Components {
    let count = edges.nodes();
    let mut of = vec![NO_NODE; count];
    let mut found = vec![0u32; count]; // order of discovery from 1; 0 = not met yet
    let mut low = vec![0u32; count];
    let mut members = Vec::with_capacity(count);
    let mut starts = vec![0u32];
    let mut open: Vec<u32> = Vec::new();
    let mut path: Vec<(u32, usize)> = Vec::new();
    let mut met = 0u32;
    for first in 0..count as u32 {
        if found[first as usize] != 0 || !keep(first) {
            continue;
        }
        path.push((first, edges.of(first).start));
        while let Some((node, edge)) = path.last_mut() {
            let at = *node as usize;
            if found[at] == 0 {
                met += 1;
                found[at] = met;
                low[at] = met;
                open.push(*node);
            }
            if *edge < edges.of(*node).end {
                let target = edges.target(*edge);
                *edge += 1;
                if found[target as usize] == 0 {
                    if keep(target) {
                        path.push((target, edges.of(target).start));
                    }
                } else if of[target as usize] == NO_NODE {
                    low[at] = low[at].min(found[target as usize]);
                }
                continue;
            }
            let node = *node;
            path.pop();
            if let Some(&(parent, _)) = path.last() {
                low[parent as usize] = low[parent as usize].min(low[at]);
            }
            if low[at] == found[at] {
                let component = starts.len() as u32 - 1;
                while let Some(member) = open.pop() {
                    of[member as usize] = component;
                    members.push(member);
                    if member == node {
                        break;
                    }
                }
                starts.push(members.len() as u32);
            }
        }
    }
    Components { of, members, starts }
}
