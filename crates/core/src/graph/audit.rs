//! What an audit of move orders counts on the positions between the roots and a target (methods, section 4).
//!
//! All of it runs over a course without moves that return, whose nodes all lie on an order to the target: it is exact for
//! every order without listing one.

use super::{ColumnFault, Course, Edges, NO_NODE, demand};

impl Course {
    /// For each node the least that an order from a root to it can make of the greatest weight it passes, the node's own
    /// included; infinite where no order leads.
    ///
    /// # Errors
    ///
    /// There is not one weight for each node.
    pub fn least_worst(&self, weights: &[f64]) -> Result<Vec<f64>, ColumnFault> {
        demand(weights.len() == self.nodes(), "there is not one weight for each node")?;
        let mut least = vec![f64::INFINITY; self.nodes()];
        for &node in &self.order {
            let begins = if self.roots[node as usize] { f64::NEG_INFINITY } else { f64::INFINITY };
            let before = self.arrivals(node).map(|(source, _)| least[source as usize]).fold(begins, f64::min);
            least[node as usize] = before.max(weights[node as usize]);
        }
        Ok(least)
    }

    /// How many orders from the roots to `target` pass each node; `u64::MAX` for more than that.
    ///
    /// # Errors
    ///
    /// The target is no node.
    pub fn passing(&self, edges: Edges<'_>, target: u32) -> Result<Vec<u64>, ColumnFault> {
        demand((target as usize) < self.nodes(), "the target is no node of the graph")?;
        let mut onward = vec![0u64; self.nodes()];
        onward[target as usize] = 1;
        for &node in self.order.iter().rev() {
            if node != target {
                let next = edges.of(node).filter(|&edge| !self.returns[edge]);
                onward[node as usize] =
                    next.map(|edge| onward[edges.target(edge) as usize]).fold(0, u64::saturating_add);
            }
        }
        let before = self.order_counts();
        Ok(before.iter().zip(&onward).map(|(before, onward)| before.saturating_mul(*onward)).collect())
    }

    /// For each node the least that one side can guarantee the greatest take to be from there on.
    ///
    /// Where the side chooses (`own`) it takes the move with the least, elsewhere the opponent takes what `takes` says he
    /// gets by leaving there, or goes on where the side can guarantee least; after a move with a finite entry in `leaves`
    /// the side may itself leave for that. The opponent may also play `back`, moves (node, node) that return: what is
    /// repeated for ever takes nothing, so this is the least fixed point, reached from below. A node without a move on holds
    /// its own take.
    ///
    /// # Errors
    ///
    /// A column has the wrong length, a take is negative, or a move back is none of the graph's.
    pub fn guarantee(
        &self,
        edges: Edges<'_>,
        own: &[bool],
        takes: &[f64],
        leaves: &[f64],
        back: &[(u32, u32)],
    ) -> Result<Vec<f64>, ColumnFault> {
        let count = self.nodes();
        demand(own.len() == count && takes.len() == count, "there is not one entry for each node")?;
        demand(leaves.len() == edges.len(), "there is not one entry for each edge")?;
        demand(takes.iter().chain(leaves).all(|take| *take >= 0.0), "a take is negative")?;
        demand(
            back.iter().all(|&(from, to)| from.max(to) != NO_NODE && (from.max(to) as usize) < count),
            "a move back is no move of the graph",
        )?;
        let mut back_of: Vec<Vec<u32>> = vec![Vec::new(); count];
        for &(from, to) in back.iter().filter(|&&(from, _)| !own[from as usize]) {
            back_of[from as usize].push(to);
        }
        let mut least = vec![0.0f64; count];
        loop {
            let mut rises = false;
            for &node in self.order.iter().rev() {
                let at = node as usize;
                let forward = edges.of(node).filter(|&edge| !self.returns[edge]);
                let on = |edge: usize| least[edges.target(edge) as usize];
                let found = if own[at] {
                    forward.map(on).reduce(f64::min).unwrap_or(0.0).max(takes[at])
                } else {
                    let next = forward.map(|edge| on(edge).min(leaves[edge]));
                    let again = back_of[at].iter().map(|&to| least[to as usize]);
                    next.chain(again).fold(takes[at], f64::max)
                };
                if found > least[at] {
                    least[at] = found;
                    rises = true;
                }
            }
            // Without moves back one pass is enough.
            if !rises || back.is_empty() {
                return Ok(least);
            }
        }
    }
}
