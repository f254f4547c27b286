//! Backing up one voice's verdicts through the graph: methods, section 3.

use rayon::prelude::*;

use super::knot::{Knot, Offer};
use super::{ColumnFault, Components, Edges, Incoming, NO_NODE, components, demand};

/// Effort of what the rules decide (mate, stalemate, dead material): above every verdict's.
pub const RULES_EFFORT: u64 = u64::MAX;

/// What is known of a node's value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Certainty {
    /// No verdict and no child with a value.
    Unknown = 0,
    /// At least this much for the side to move; decides no parent.
    Bound = 1,
    /// A value.
    Value = 2,
}

/// On what a value or bound rests.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Basis {
    /// On nothing: unknown.
    Nothing = 0,
    /// On a score of the deciding leaf's verdict.
    Verdict = 1,
    /// On the rules: the deciding leaf ends the game.
    Rules = 2,
    /// On repetition: neither side can force better, and no leaf decides.
    Repetition = 3,
}

/// The value of one node for one voice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Value {
    /// Expected score for White, 0 to 100; NaN when unknown.
    pub score: f64,
    /// Effort of the deciding leaf's verdict; 0 by repetition, `RULES_EFFORT` by the rules.
    pub effort: u64,
    /// The deciding leaf; `NO_NODE` by repetition and when unknown.
    pub leaf: u32,
    /// The move that leads there, packed; 0 where the game is over or nothing is known.
    pub via: u16,
    /// What is known.
    pub certainty: Certainty,
    /// On what it rests.
    pub basis: Basis,
}

const UNKNOWN: Value =
    Value { score: f64::NAN, effort: 0, leaf: NO_NODE, via: 0, certainty: Certainty::Unknown, basis: Basis::Nothing };

/// What backing up must know of the graph, voice by voice the same.
#[derive(Debug, Clone, Copy)]
pub struct Positions<'a> {
    edges: Edges<'a>,
    moves: &'a [u16],
    legal: &'a [u16],
    white: &'a [bool],
    outcome: &'a [u8],
}

impl<'a> Positions<'a> {
    /// Takes, for each edge, its packed move (ascending within a node); for each node, how many legal moves it has, whether
    /// White is to move, and how the rules end the game there (0 not, 1 White has won, 2 Black, 3 drawn).
    ///
    /// # Errors
    ///
    /// A column has the wrong length or values that cannot be.
    pub fn new(
        edges: Edges<'a>,
        moves: &'a [u16],
        legal: &'a [u16],
        white: &'a [bool],
        outcome: &'a [u8],
    ) -> Result<Self, ColumnFault> {
        demand(moves.len() == edges.len(), "there is not one move for each edge")?;
        for (what, len) in [("legal", legal.len()), ("white", white.len()), ("outcome", outcome.len())] {
            demand(len == edges.nodes(), &format!("{what} has not one entry for each node"))?;
        }
        demand(outcome.iter().all(|&how| how <= 3), "an outcome is not 0 to 3")?;
        for node in 0..edges.nodes() {
            let own = &moves[edges.of(node as u32)];
            demand(own.is_sorted_by(|one, next| one < next), "the moves of a node do not ascend")?;
            demand(own.len() <= usize::from(legal[node]), "a node has more edges than legal moves")?;
            demand(legal[node] > 0 || outcome[node] != 0, "a node has no legal move and no outcome")?;
            demand(own.is_empty() || outcome[node] == 0, "a move leads on from a position that ends the game")?;
        }
        Ok(Positions { edges, moves, legal, white, outcome })
    }

    /// Whether a child exists for every legal move.
    fn is_complete(&self, node: u32) -> bool {
        self.edges.of(node).len() == usize::from(self.legal[node as usize])
    }

    fn is_over(&self, node: u32) -> bool {
        self.outcome[node as usize] != 0
    }
}

/// One voice's verdicts, one a node at most.
#[derive(Debug, Clone, Copy)]
pub struct Verdicts<'a> {
    nodes: &'a [u32],
    efforts: &'a [u64],
    offsets: &'a [u32],
    moves: &'a [u16],
    scores: &'a [f64],
}

impl<'a> Verdicts<'a> {
    /// Takes nodes (ascending), their efforts, and for each its scored moves: packed move and expected score for White.
    ///
    /// # Errors
    ///
    /// A column has the wrong length, a verdict scores nothing, or a score is not within 0 to 100.
    pub fn new(
        nodes: &'a [u32],
        efforts: &'a [u64],
        offsets: &'a [u32],
        moves: &'a [u16],
        scores: &'a [f64],
    ) -> Result<Self, ColumnFault> {
        demand(nodes.is_sorted_by(|one, next| one < next), "the nodes with verdicts do not ascend")?;
        demand(efforts.len() == nodes.len(), "there is not one effort for each verdict")?;
        demand(efforts.iter().all(|&effort| effort < RULES_EFFORT), "an effort is out of range")?;
        demand(offsets.len() == nodes.len() + 1 && offsets[0] == 0, "offsets of verdicts do not start at 0")?;
        demand(offsets.is_sorted_by(|one, next| one < next), "a verdict scores no move")?;
        demand(offsets[nodes.len()] as usize == moves.len(), "offsets of verdicts do not end at their moves")?;
        demand(scores.len() == moves.len(), "there is not one score for each move of a verdict")?;
        demand(scores.iter().all(|score| (0.0..=100.0).contains(score)), "a score is not within 0 to 100")?;
        Ok(Verdicts { nodes, efforts, offsets, moves, scores })
    }

    fn lines(&self, verdict: u32) -> impl Iterator<Item = (u16, f64)> + '_ {
        let range = self.offsets[verdict as usize] as usize..self.offsets[verdict as usize + 1] as usize;
        self.moves[range.clone()].iter().copied().zip(self.scores[range].iter().copied())
    }

    /// What the verdict scores `played` at, if it does.
    fn score(&self, verdict: u32, played: u16) -> Option<f64> {
        self.lines(verdict).find(|&(scored, _)| scored == played).map(|(_, score)| score)
    }
}

/// The values of all nodes for one voice. The child's value counts for a move, unless the node's own verdict scores that
/// move at greater effort than the child's deciding leaf; a bound never decides a parent.
///
/// Round a cycle, efforts depend on values and values on efforts; there it is worked in two steps: first every move that
/// stays on the cycle is worth what its child is worth, then the own scores that outrank what came out are put in, and it
/// is solved again. Repetition rests on no leaf: any verdict outranks it.
///
/// Of equal moves the one that leaves a cycle sooner decides, then the one of greater effort, then the lower packed move.
///
/// `incoming` must belong to the edges of `positions`.
///
/// # Errors
///
/// A verdict belongs to no node.
pub fn back_up(
    positions: &Positions<'_>,
    incoming: &Incoming,
    verdicts: &Verdicts<'_>,
) -> Result<Vec<Value>, ColumnFault> {
    let count = positions.edges.nodes();
    demand(verdicts.nodes.last().is_none_or(|&last| (last as usize) < count), "a verdict belongs to no node")?;
    let mut verdict_of = vec![NO_NODE; count];
    for (verdict, &node) in verdicts.nodes.iter().enumerate() {
        verdict_of[node as usize] = verdict as u32;
    }
    let valued = nodes_with_value(positions, incoming, &verdict_of);
    let cycles = components(positions.edges, |node| valued[node as usize]);
    let mut work = BackingUp { positions, verdicts, verdict_of, valued, values: vec![UNKNOWN; count] };
    for component in 0..cycles.len() {
        match *cycles.members(component) {
            [node] => work.settle(node),
            ref members => work.settle_cycle(members, &cycles),
        }
    }
    for node in 0..count as u32 {
        if !work.valued[node as usize]
            && let Some(best) = work.best_child(node)
        {
            work.set(node, best, Certainty::Bound);
        }
    }
    Ok(work.values)
}

/// `back_up` for each of several voices, at the same time.
///
/// # Errors
///
/// A verdict belongs to no node.
pub fn back_up_all(
    positions: &Positions<'_>,
    incoming: &Incoming,
    voices: &[Verdicts<'_>],
) -> Result<Vec<Vec<Value>>, ColumnFault> {
    voices.par_iter().map(|verdicts| back_up(positions, incoming, verdicts)).collect()
}

/// Which nodes have a value: those that end the game, those with a verdict, and those with a valued child for each move.
fn nodes_with_value(positions: &Positions<'_>, incoming: &Incoming, verdict_of: &[u32]) -> Vec<bool> {
    let stands = |node: u32| positions.is_over(node) || verdict_of[node as usize] != NO_NODE;
    let mut valued = vec![true; verdict_of.len()];
    let mut without: Vec<u32> = Vec::new();
    for node in 0..verdict_of.len() as u32 {
        if !stands(node) && !positions.is_complete(node) {
            valued[node as usize] = false;
            without.push(node);
        }
    }
    while let Some(node) = without.pop() {
        for &parent in incoming.sources(node) {
            if !stands(parent) && std::mem::replace(&mut valued[parent as usize], false) {
                without.push(parent);
            }
        }
    }
    valued
}

struct BackingUp<'a> {
    positions: &'a Positions<'a>,
    verdicts: &'a Verdicts<'a>,
    verdict_of: Vec<u32>,
    valued: Vec<bool>,
    values: Vec<Value>,
}

impl BackingUp<'_> {
    fn white(&self, node: u32) -> bool {
        self.positions.white[node as usize]
    }

    fn set(&mut self, node: u32, offer: Offer, certainty: Certainty) {
        let Offer { score, effort, leaf, via, basis, .. } = offer;
        self.values[node as usize] = Value { score, effort, leaf, via, certainty, basis };
    }

    /// What playing `via` to `child`, a node that is settled, offers.
    fn through(&self, child: u32, via: u16) -> Offer {
        let Value { score, effort, leaf, basis, .. } = self.values[child as usize];
        Offer { score, rank: 0, effort, leaf, via, basis }
    }

    /// What the node's own verdict offers for a move.
    fn own(&self, node: u32, via: u16, score: f64) -> Offer {
        let effort = self.verdicts.efforts[self.verdict_of[node as usize] as usize];
        Offer { score, rank: 0, effort, leaf: node, via, basis: Basis::Verdict }
    }

    /// The own verdict's score of a move, if its effort is greater than `effort`.
    fn outranking(&self, node: u32, via: u16, effort: u64) -> Option<Offer> {
        let verdict = self.verdict_of[node as usize];
        if verdict == NO_NODE || self.verdicts.efforts[verdict as usize] <= effort {
            return None;
        }
        self.verdicts.score(verdict, via).map(|score| self.own(node, via, score))
    }

    /// The best of what `node` can play outside the moves for which `stays` holds; `None` when there is nothing.
    fn best_exit(&self, node: u32, stays: impl Fn(u32) -> bool) -> Option<Offer> {
        let positions = self.positions;
        if positions.is_over(node) {
            return Some(self.by_rules(node));
        }
        let mut best: Option<Offer> = None;
        let mut take = |offer: Offer| {
            if best.as_ref().is_none_or(|known| offer.is_better(known, self.white(node))) {
                best = Some(offer);
            }
        };
        let range = positions.edges.of(node);
        for edge in range.clone() {
            let (child, via) = (positions.edges.target(edge), positions.moves[edge]);
            if self.valued[child as usize] && !stays(child) {
                let through = self.through(child, via);
                take(self.outranking(node, via, through.effort).unwrap_or(through));
            }
        }
        let verdict = self.verdict_of[node as usize];
        if verdict != NO_NODE {
            let own_moves = &positions.moves[range.clone()];
            for (via, score) in self.verdicts.lines(verdict) {
                let child = own_moves.binary_search(&via).map(|at| positions.edges.target(range.start + at));
                if !child.is_ok_and(|child| self.valued[child as usize]) {
                    take(self.own(node, via, score));
                }
            }
        }
        best
    }

    fn by_rules(&self, node: u32) -> Offer {
        let score = match self.positions.outcome[node as usize] {
            1 => 100.0,
            2 => 0.0,
            _ => 50.0,
        };
        Offer { score, rank: 0, effort: RULES_EFFORT, leaf: node, via: 0, basis: Basis::Rules }
    }

    fn settle(&mut self, node: u32) {
        if let Some(best) = self.best_exit(node, |child| child == node) {
            self.set(node, best, Certainty::Value);
        }
    }

    fn settle_cycle(&mut self, members: &[u32], cycles: &Components) {
        let here = cycles.of[members[0] as usize];
        let inside = |child: u32| cycles.of[child as usize] == here;
        // Sorted: the same local numbers however the component was found, and found by halving.
        let mut members = members.to_vec();
        members.sort_unstable();
        let local = |node: u32| members.binary_search(&node).expect("a member of the component") as u32;
        let mut knot = Knot::new(members.iter().map(|&node| self.white(node)).collect());
        for (at, &node) in (0u32..).zip(&members) {
            if let Some(exit) = self.best_exit(node, inside) {
                knot.offer(at, exit);
            }
            for edge in self.positions.edges.of(node) {
                let child = self.positions.edges.target(edge);
                if inside(child) {
                    knot.stay(at, local(child), self.positions.moves[edge]);
                }
            }
        }
        let mut offers = knot.solve();
        let outranking =
            |from: u32, to: u32, via: u16| self.outranking(members[from as usize], via, offers[to as usize].effort);
        if knot.leave_where(outranking) {
            offers = knot.solve();
        }
        for (&node, offer) in members.iter().zip(offers) {
            self.set(node, offer, Certainty::Value);
        }
    }

    /// The best child with a value: what an unvalued node is at least worth to the side to move.
    fn best_child(&self, node: u32) -> Option<Offer> {
        let mut best: Option<Offer> = None;
        for edge in self.positions.edges.of(node) {
            let child = self.positions.edges.target(edge);
            if self.valued[child as usize] {
                let offer = self.through(child, self.positions.moves[edge]);
                if best.as_ref().is_none_or(|known| offer.is_better(known, self.white(node))) {
                    best = Some(offer);
                }
            }
        }
        best
    }
}
