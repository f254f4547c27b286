//! Positions among which one can go round, solved by attractors.
//!
//! White gets v > 50 where White can force play into leaves worth at least v in finitely many moves; Black gets v < 50
//! likewise; every other node is 50. The ways out are sorted, and for each level the positions from which a side forces
//! its way there are gathered backwards, each edge looked at once: O(edges · log edges). (The attractor of a
//! reachability game: E. Grädel, W. Thomas, T. Wilke, "Automata, Logics, and Infinite Games", LNCS 2500, 2002, ch. 2.)

use super::NO_NODE;
use super::values::Basis;

/// The value of a repetition.
const LEVEL: f64 = 50.0;

/// What a move is worth to a node, and why.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Offer {
    pub score: f64,
    /// Rounds of the attractor until play has left the knot; 0 for a way out.
    pub rank: u32,
    pub effort: u64,
    pub leaf: u32,
    pub via: u16,
    pub basis: Basis,
}

impl Offer {
    /// Whether a side (White or not) takes this before `other`: a total order over the moves of one node.
    pub fn is_better(&self, other: &Offer, white: bool) -> bool {
        let gain = if white { self.score.total_cmp(&other.score) } else { other.score.total_cmp(&self.score) };
        gain.then(other.rank.cmp(&self.rank))
            .then(self.effort.cmp(&other.effort))
            .then(other.via.cmp(&self.via))
            .is_gt()
    }
}

/// Nodes numbered from 0, the best way out of each, and the moves that stay.
#[derive(Debug)]
pub(super) struct Knot {
    white: Vec<bool>,
    exits: Vec<Option<Offer>>,
    stays: Vec<Vec<(u32, u16)>>,
}

impl Knot {
    pub fn new(white: Vec<bool>) -> Self {
        let count = white.len();
        Knot { white, exits: vec![None; count], stays: vec![Vec::new(); count] }
    }

    /// Adds a way out of `node`; only the best for the side to move can matter.
    pub fn offer(&mut self, node: u32, exit: Offer) {
        let white = self.white[node as usize];
        let known = &mut self.exits[node as usize];
        if known.as_ref().is_none_or(|known| exit.is_better(known, white)) {
            *known = Some(exit);
        }
    }

    /// Adds a move that stays.
    pub fn stay(&mut self, from: u32, to: u32, via: u16) {
        self.stays[from as usize].push((to, via));
    }

    /// Turns each move (from, to, move) for which `judge` has an offer into a way out; tells whether there was one.
    pub fn leave_where(&mut self, judge: impl Fn(u32, u32, u16) -> Option<Offer>) -> bool {
        let mut exits = Vec::new();
        for (from, moves) in (0u32..).zip(&mut self.stays) {
            moves.retain(|&(to, via)| match judge(from, to, via) {
                Some(exit) => {
                    exits.push((from, exit));
                    false
                }
                None => true,
            });
        }
        for &(from, exit) in &exits {
            self.offer(from, exit);
        }
        !exits.is_empty()
    }

    /// The value of every node.
    pub fn solve(&self) -> Vec<Offer> {
        let mut work = Attractor::new(self);
        work.sweep(true);
        work.sweep(false);
        work.level_leaves();
        work.repetitions();
        work.decided.into_iter().map(|offer| offer.expect("each node is decided")).collect()
    }
}

struct Attractor<'a> {
    knot: &'a Knot,
    sources: Vec<Vec<u32>>,
    decided: Vec<Option<Offer>>,
    pending: Vec<bool>,
}

impl<'a> Attractor<'a> {
    fn new(knot: &'a Knot) -> Self {
        let count = knot.white.len();
        let mut sources = vec![Vec::new(); count];
        for (from, moves) in (0u32..).zip(&knot.stays) {
            for &(to, _) in moves {
                sources[to as usize].push(from);
            }
        }
        Attractor { knot, sources, decided: vec![None; count], pending: vec![false; count] }
    }

    /// Everything that the side `white` can force to be better than level for itself.
    fn sweep(&mut self, white: bool) {
        let ahead = |score: f64| if white { score > LEVEL } else { score < LEVEL };
        // Moves of the other side that do not yet lose: when none is left, the node is taken.
        let mut ways: Vec<usize> =
            self.knot.stays.iter().zip(&self.knot.exits).map(|(s, e)| s.len() + usize::from(e.is_some())).collect();
        let mut exits: Vec<(f64, u32)> = (0u32..)
            .zip(&self.knot.exits)
            .filter_map(|(node, exit)| exit.map(|exit| (exit.score, node)))
            .filter(|&(score, _)| ahead(score))
            .collect();
        exits.sort_unstable_by(|a, b| {
            let by_score = if white { b.0.total_cmp(&a.0) } else { a.0.total_cmp(&b.0) };
            by_score.then(a.1.cmp(&b.1))
        });
        for level in exits.chunk_by(|a, b| a.0 == b.0) {
            let mut round: Vec<u32> = Vec::new();
            for &(_, node) in level {
                self.reach(node, white, &mut ways, &mut round);
            }
            let mut rank = 0;
            while !round.is_empty() {
                rank += 1;
                for &node in &round {
                    self.decide(node, level[0].0, rank);
                }
                let mut next = Vec::new();
                for &node in &round {
                    for at in 0..self.sources[node as usize].len() {
                        let source = self.sources[node as usize][at];
                        self.reach(source, white, &mut ways, &mut next);
                    }
                }
                round = next;
            }
        }
    }

    /// A move of `node` has turned out well for the side `white`; takes the node if that settles it.
    fn reach(&mut self, node: u32, white: bool, ways: &mut [usize], round: &mut Vec<u32>) {
        let at = node as usize;
        ways[at] -= 1;
        if !self.pending[at] && (self.knot.white[at] == white || ways[at] == 0) {
            self.pending[at] = true;
            round.push(node);
        }
    }

    /// Decides `node` at `score` in round `rank` by the best of its moves with that score known before this round.
    fn decide(&mut self, node: u32, score: f64, rank: u32) {
        let at = node as usize;
        let white = self.knot.white[at];
        let mut best: Option<Offer> = self.knot.exits[at].filter(|exit| exit.score == score);
        for &(to, via) in &self.knot.stays[at] {
            if let Some(known) = self.decided[to as usize]
                && known.score == score
                && known.rank < rank
            {
                let offer = Offer { via, ..known };
                if best.as_ref().is_none_or(|best| offer.is_better(best, white)) {
                    best = Some(offer);
                }
            }
        }
        let best = best.expect("a taken node has a move with the score of its level");
        self.decided[at] = Some(Offer { rank, ..best });
    }

    /// Among the nodes that are level, those from which play can leave to a leaf worth exactly that.
    fn level_leaves(&mut self) {
        let left: Vec<u32> = (0u32..).zip(&self.pending).filter(|&(_, &taken)| !taken).map(|(node, _)| node).collect();
        let mut round: Vec<u32> =
            left.into_iter().filter(|&node| self.knot.exits[node as usize].is_some_and(|e| e.score == LEVEL)).collect();
        for &node in &round {
            self.pending[node as usize] = true;
        }
        let mut rank = 0;
        while !round.is_empty() {
            rank += 1;
            for &node in &round {
                self.decide(node, LEVEL, rank);
            }
            let mut next = Vec::new();
            for &node in &round {
                for &source in &self.sources[node as usize] {
                    if !std::mem::replace(&mut self.pending[source as usize], true) {
                        next.push(source);
                    }
                }
            }
            round = next;
        }
    }

    /// What is left goes round for ever.
    fn repetitions(&mut self) {
        let left: Vec<usize> = (0..self.pending.len()).filter(|&at| !self.pending[at]).collect();
        for &at in &left {
            let round = |&&(to, _): &&(u32, u16)| !self.pending[to as usize];
            let via = self.knot.stays[at].iter().filter(round).map(|&(_, via)| via).min();
            self.decided[at] = Some(Offer {
                score: LEVEL,
                rank: u32::MAX,
                effort: 0,
                leaf: NO_NODE,
                via: via.expect("a node that is left has a move that goes round"),
                basis: Basis::Repetition,
            });
        }
    }
}
