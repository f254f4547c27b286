//! One node of the search.

use super::{
    DRAW, Rest,
    pruning::{Look, late_reduction, quiet_limit, quiet_margin},
    window::Window,
    worker::{Shared, Worker},
};
use crate::{
    board::Board,
    exchange::gains_at_least,
    history::{Context, HISTORY_LIMIT},
    moves::Move,
    picker::Picker,
    score::{INFINITE, MATE, MATE_BOUND, MAX_PLY},
    table::{Bound, Entry, NO_EVALUATION},
};

/// Which kind of node this is likely to be (Knuth and Moore, "An Analysis of Alpha-Beta Pruning", 1975).
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Expect {
    /// On the best line: an exact value.
    Exact,
    /// Some move refutes the one before.
    Cut,
    /// No move does.
    All,
}

impl Expect {
    /// What a node one ply below is when it is searched with a closed window.
    pub fn below(self) -> Expect {
        if self == Expect::Cut { Expect::All } else { Expect::Cut }
    }
}

/// Shallowest node at which it is asked whether the table's move is the only good one.
const SINGULAR_DEPTH: i32 = 8;
/// Nodes of at least this depth without a move from the table are searched less deeply.
const UNPREPARED_DEPTH: i32 = 4;
/// Deepest nodes at which moves are left out unseen.
const LEAVE_OUT_DEPTH: i32 = 6;
/// Deepest nodes at which a quiet move that loses material is left out.
const SACRIFICE_DEPTH: i32 = 2;

/// The first moves of a kind that were tried; later ones teach little.
#[derive(Default)]
struct Tried {
    moves: [Move; 24],
    len: usize,
}

impl Tried {
    fn push(&mut self, m: Move) {
        if let Some(slot) = self.moves.get_mut(self.len) {
            *slot = m;
            self.len += 1;
        }
    }

    fn as_slice(&self) -> &[Move] {
        &self.moves[..self.len]
    }
}

/// How the moves of a node went.
struct Tally {
    best: i32,
    best_move: Move,
    count: i32,
    quiets: Tried,
    noisy: Tried,
}

impl Worker {
    /// Value of a node for the side to move, exact inside the window.
    pub fn search_node(
        &mut self,
        shared: &Shared<'_>,
        board: &Board,
        window: Window,
        depth: i32,
        ply: usize,
        expect: Expect,
    ) -> i32 {
        self.frames[ply].line.clear();
        if self.must_stop(shared) || self.is_draw(board) {
            return DRAW;
        }
        let in_check = board.is_check();
        // Checks are extended, but not without end.
        let mut depth = depth + i32::from(in_check && ply < 2 * self.iteration as usize);
        if depth <= 0 || ply >= MAX_PLY - 1 {
            return self.quiesce(shared, board, window, ply, Rest::WithChecks);
        }
        // No line can be better than mate at once, nor worse than being mated here.
        let window = Window::new(window.alpha.max(-MATE + ply as i32), window.beta.min(MATE - ply as i32 - 1));
        if window.alpha >= window.beta {
            return window.alpha;
        }
        let is_pv = window.is_open();
        let excluded = self.frames[ply].excluded;
        let known = if excluded.is_none() { shared.table.probe(board.key(), ply) } else { None };
        // Close to the fifty-move limit a stored value may come from another distance to it.
        if let Some(entry) = &known
            && !is_pv
            && entry.depth >= depth
            && board.halfmoves() < 90
            && window.is_answered_by(entry)
        {
            return entry.value;
        }
        let raw = match &known {
            _ if in_check => NO_EVALUATION,
            Some(entry) if entry.evaluation != NO_EVALUATION => entry.evaluation,
            _ => self.evaluator.evaluate(board),
        };
        let evaluation = if in_check { NO_EVALUATION } else { self.corrected(board, raw) };
        self.frames[ply].evaluation = evaluation;
        let improving = !in_check && self.is_improving(evaluation, ply);
        let table_move = known.map_or(Move::NONE, |entry| entry.best);
        let mut estimate = evaluation;
        if let Some(entry) = &known
            && !in_check
            && entry.value.abs() < MATE_BOUND
            && entry.is_nearer_than(estimate)
        {
            estimate = entry.value;
        }
        if !is_pv && !in_check && excluded.is_none() {
            let look = Look { depth, ply, estimate, improving, expect, table_move };
            if let Some(value) = self.spare(shared, board, window, look) {
                return value;
            }
        }
        if depth >= UNPREPARED_DEPTH && table_move.is_none() && excluded.is_none() && expect != Expect::All {
            depth -= 1;
        }
        self.memory.forget_killers(ply + 1);

        let look = Look { depth, ply, estimate, improving, expect, table_move };
        let tally = match self.try_moves(shared, board, window, look, known.as_ref()) {
            Ok(tally) => tally,
            Err(value) => return value,
        };
        if self.stopped {
            return DRAW;
        }
        if tally.count == 0 {
            // With a move left out there may be no other: then that one is far better than nothing.
            return if !excluded.is_none() {
                window.alpha
            } else if in_check {
                -MATE + ply as i32
            } else {
                DRAW
            };
        }
        let Tally { best, best_move, .. } = tally;
        let bound = window.bound_of(best);
        if bound == Bound::Lower {
            self.learn_from_cut(board, &tally, depth, ply);
        }
        if excluded.is_none() {
            let best_is_quiet = best_move.is_none() || board.is_quiet(best_move);
            let informative = bound == Bound::Exact || (best > evaluation) == (bound == Bound::Lower);
            if !in_check && best_is_quiet && informative && best.abs() < MATE_BOUND {
                self.corrections.learn(board, best - evaluation, depth);
            }
            shared.table.store(board.key(), ply, Entry { best: best_move, value: best, evaluation: raw, depth, bound });
        }
        best
    }

    /// Static evaluation with what searches taught about it.
    pub fn corrected(&self, board: &Board, raw: i32) -> i32 {
        (raw + self.corrections.of(board)).clamp(1 - MATE_BOUND, MATE_BOUND - 1)
    }

    fn learn_from_cut(&mut self, board: &Board, tally: &Tally, depth: i32, ply: usize) {
        let m = tally.best_move;
        if board.is_quiet(m) {
            let contexts = self.contexts(ply);
            self.memory.quiet_cut(board, m, tally.quiets.as_slice(), &contexts, ply, depth);
            self.memory.noisy_cut(board, None, tally.noisy.as_slice(), depth);
        } else {
            self.memory.noisy_cut(board, Some(m), tally.noisy.as_slice(), depth);
        }
    }

    /// Searches the moves of a node; an `Err` is a value at least beta that is reached without the best of them.
    fn try_moves(
        &mut self,
        shared: &Shared<'_>,
        board: &Board,
        window: Window,
        look: Look,
        known: Option<&Entry>,
    ) -> Result<Tally, i32> {
        let contexts = self.contexts(look.ply);
        let list = self.take_list();
        let mut picker = Picker::all(board, &self.memory, list, look.table_move, contexts, look.ply);
        let tried = self.try_picked(shared, board, window, look, known, &mut picker);
        self.keep_list(picker);
        tried
    }

    /// Searches the moves that the picker gives.
    fn try_picked(
        &mut self,
        shared: &Shared<'_>,
        board: &Board,
        window: Window,
        look: Look,
        known: Option<&Entry>,
        picker: &mut Picker,
    ) -> Result<Tally, i32> {
        let Look { depth, ply, improving, expect, table_move, .. } = look;
        let Window { mut alpha, beta } = window;
        let (is_pv, in_check) = (window.is_open(), board.is_check());
        let excluded = self.frames[ply].excluded;
        let contexts = self.contexts(ply);
        let mut tally = Tally {
            best: -INFINITE,
            best_move: Move::NONE,
            count: 0,
            quiets: Tried::default(),
            noisy: Tried::default(),
        };
        let noisy_table_move = !table_move.is_none() && !board.is_quiet(table_move);
        while let Some(m) = picker.next(board, &self.memory) {
            if m == excluded {
                continue;
            }
            shared.table.prefetch(board.likely_key_after(m));
            tally.count += 1;
            let count = tally.count;
            let quiet = board.is_quiet(m);
            let learnt =
                if quiet { self.memory.of_quiet(board, m, &contexts) } else { 2 * self.memory.of_noisy(board, m) };
            let base_reduction = late_reduction(depth, count);
            // Where a mate is known only a shorter one is better: margins say nothing of that.
            if tally.best > -MATE_BOUND && alpha < MATE_BOUND && board.officers(board.turn()).any() {
                if quiet && count > quiet_limit(depth, improving) && depth <= LEAVE_OUT_DEPTH {
                    picker.skip_quiets();
                }
                if self.may_leave_out(board, m, quiet, learnt, base_reduction / 16, alpha, look) {
                    continue;
                }
            }

            let extension = match known {
                Some(entry) if m == table_move && excluded.is_none() => {
                    self.singular_extension(shared, board, entry, beta, look)?
                }
                _ => 0,
            };
            if self.stopped {
                return Ok(tally);
            }

            let next = board.play(m);
            let gives_check = next.is_check();
            self.enter(&next, Context::of(board, m), ply);
            let full = depth - 1 + extension;
            let mut value = alpha + 1;
            if count > 1 {
                let mut reduction = 0;
                if depth >= 2 && count > 1 + 2 * i32::from(is_pv) && !in_check && (quiet || picker.is_losing()) {
                    let mut sixteenths = base_reduction - 8;
                    sixteenths -= 16 * i32::from(is_pv);
                    sixteenths += 12 * i32::from(expect == Expect::Cut);
                    sixteenths += 8 * i32::from(!improving);
                    sixteenths += 8 * i32::from(noisy_table_move);
                    sixteenths -= 16 * i32::from(gives_check);
                    sixteenths -= 12 * i32::from(picker.is_refutation());
                    sixteenths -= 16 * learnt / HISTORY_LIMIT;
                    reduction = (sixteenths / 16).clamp(0, (full - 1).max(0));
                }
                value = -self.search_node(shared, &next, Window::null(-alpha), full - reduction, ply + 1, Expect::Cut);
                if value > alpha && reduction > 0 {
                    value = -self.search_node(shared, &next, Window::null(-alpha), full, ply + 1, expect.below());
                }
            }
            if is_pv && (count == 1 || value > alpha) {
                value = -self.search_node(shared, &next, Window::new(-beta, -alpha), full, ply + 1, Expect::Exact);
            } else if count == 1 {
                value = -self.search_node(shared, &next, Window::null(-alpha), full, ply + 1, expect.below());
            }
            self.leave();
            if self.stopped {
                return Ok(tally);
            }
            if value > tally.best {
                tally.best = value;
                if value > alpha {
                    tally.best_move = m;
                    alpha = value;
                    if is_pv {
                        self.extend_line(ply, m);
                    }
                    if value >= beta {
                        break;
                    }
                }
            }
            if quiet {
                tally.quiets.push(m);
            } else {
                tally.noisy.push(m);
            }
        }
        Ok(tally)
    }

    /// Whether a move of a shallow node is not worth a look, something better being there.
    #[expect(clippy::too_many_arguments, reason = "one step of the search, split off to be read")]
    fn may_leave_out(
        &self,
        board: &Board,
        m: Move,
        quiet: bool,
        learnt: i32,
        reduction: i32,
        alpha: i32,
        look: Look,
    ) -> bool {
        let Look { depth, ply, .. } = look;
        if depth > LEAVE_OUT_DEPTH {
            return false;
        }
        let useless = if quiet {
            let left = (depth - reduction).max(0);
            let evaluation = self.frames[ply].evaluation;
            !board.is_check() && evaluation + quiet_margin(left) + learnt / 256 <= alpha
                || left <= 4 && learnt < -2800 * depth
                || depth <= SACRIFICE_DEPTH && !gains_at_least(board, m, -30 - 35 * left * left)
        } else {
            !gains_at_least(board, m, -60 - 110 * depth)
        };
        useless && !board.gives_direct_check(m)
    }

    /// Extends the table's move when all others are clearly worse (after Anantharaman, Campbell and Hsu, "Singular
    /// Extensions: Adding Selectivity to Brute-Force Searching", 1990); an `Err` is a value at least beta that the others
    /// reach too.
    fn singular_extension(
        &mut self,
        shared: &Shared<'_>,
        board: &Board,
        entry: &Entry,
        beta: i32,
        look: Look,
    ) -> Result<i32, i32> {
        let Look { depth, ply, .. } = look;
        if depth < SINGULAR_DEPTH
            || entry.depth < depth - 3
            || entry.bound == Bound::Upper
            || entry.value.abs() >= MATE_BOUND
            || ply >= 2 * self.iteration as usize
        {
            return Ok(0);
        }
        let lowered = entry.value - 2 * depth;
        self.frames[ply].excluded = entry.best;
        let value = self.search_node(shared, board, Window::null(lowered), (depth - 1) / 2, ply, look.expect);
        self.frames[ply].excluded = Move::NONE;
        self.frames[ply].line.clear();
        if self.stopped {
            return Ok(0);
        }
        if value < lowered {
            return Ok(1);
        }
        if lowered >= beta && beta.abs() < MATE_BOUND {
            return Err(lowered);
        }
        Ok(if entry.value >= beta { -1 } else { 0 })
    }
}
