//! The search: iterative deepening (Slate and Atkin, "Chess 4.5", 1977) over principal variation search (Marsland and
//! Campbell, "Parallel Search of Strongly Ordered Game Trees", 1982), with null moves (Donninger, "Null Move and Deep
//! Search", 1993) and late move reductions.

use std::{
    ops::ControlFlow,
    sync::atomic::{AtomicBool, Ordering::Relaxed},
    time::Instant,
};

use crate::{
    board::Board,
    eval::{Evaluator, HandEvaluation},
    exchange::{exchange_gain, gain_at_once},
    game::Game,
    movegen::all_moves,
    moves::{Move, MoveList},
    order::{Memory, Picker, Previous},
    report::{Iteration, Line, Question, Report},
    score::{INFINITE, MATE, MATE_BOUND, MAX_PLY, Score},
    table::{Bound, Entry, NO_EVALUATION, Table},
};

/// No iteration goes deeper.
pub const MAX_DEPTH: u32 = 100;
const DRAW: i32 = 0;

/// A searcher with its table and what it learns; one for each thread that searches on its own.
pub struct Searcher {
    table: Table,
    worker: Worker,
}

impl Searcher {
    /// A searcher with a transposition table of about `megabytes` MiB.
    #[must_use]
    pub fn new(megabytes: usize) -> Searcher {
        Searcher { table: Table::new(megabytes), worker: Worker::new(Box::<HandEvaluation>::default()) }
    }

    /// Forgets everything. Afterwards the searcher answers as a new one would.
    pub fn forget(&mut self) {
        self.table.forget();
        self.worker.memory.clear();
    }

    /// Forgets everything before a game of any length.
    pub fn begin_game(&mut self) {
        self.table.clear();
        self.worker.memory.clear();
    }

    /// Searches the present position of a game.
    ///
    /// `on_iteration` is called after each finished iteration and may end the search; `stop` ends it from elsewhere.
    /// Under a limit of nodes or depth the answer depends on nothing but the game, the question, the table's size and
    /// what was searched since the searcher was made or last told to forget.
    pub fn search(
        &mut self,
        game: &Game,
        question: &Question,
        stop: &AtomicBool,
        on_iteration: &mut dyn FnMut(&Iteration) -> ControlFlow<()>,
    ) -> Report {
        self.table.next_search();
        self.worker.memory.fade();
        let shared = Shared {
            table: &self.table,
            stop,
            node_limit: question.limits.nodes.unwrap_or(u64::MAX),
            deadline: question.limits.time.and_then(|time| Instant::now().checked_add(time)),
        };
        self.worker.search_root(&shared, game, question, on_iteration)
    }

    /// Static evaluation in centipawns for the side to move.
    pub fn evaluate(&mut self, board: &Board) -> i32 {
        self.worker.evaluator.evaluate(board)
    }

    /// Value of the position after captures have come to rest, in centipawns for the side to move.
    pub fn quiesce(&mut self, board: &Board) -> i32 {
        let stop = AtomicBool::new(false);
        let shared = Shared { table: &self.table, stop: &stop, node_limit: u64::MAX, deadline: None };
        self.worker.begin(&[board.key()]);
        self.worker.quiesce(&shared, board, -INFINITE, INFINITE, 0, Rest::CapturesOnly)
    }
}

/// What the threads of one search share.
struct Shared<'a> {
    table: &'a Table,
    stop: &'a AtomicBool,
    node_limit: u64,
    deadline: Option<Instant>,
}

/// A first move with what is known of it.
struct RootMove {
    first: Move,
    /// Value in the present iteration, `-INFINITE` until it is the best so far.
    value: i32,
    line: Vec<Move>,
}

/// One thread of a search.
struct Worker {
    evaluator: Box<dyn Evaluator>,
    memory: Memory,
    nodes: u64,
    stopped: bool,
    /// Keys of the game and of the path from the root, the present node last.
    path: Vec<u64>,
    /// Where in `path` the root is.
    root: usize,
    /// Best lines below each ply of the path.
    lines: Vec<Vec<Move>>,
    /// Nominal depth of the present iteration.
    iteration: u32,
}

impl Worker {
    fn new(evaluator: Box<dyn Evaluator>) -> Worker {
        Worker {
            evaluator,
            memory: Memory::default(),
            nodes: 0,
            stopped: false,
            path: Vec::new(),
            root: 0,
            lines: vec![Vec::new(); MAX_PLY + 2],
            iteration: 0,
        }
    }

    fn begin(&mut self, keys: &[u64]) {
        self.nodes = 0;
        self.stopped = false;
        self.path.clear();
        self.path.extend_from_slice(keys);
        self.root = self.path.len() - 1;
    }

    fn search_root(
        &mut self,
        shared: &Shared<'_>,
        game: &Game,
        question: &Question,
        on_iteration: &mut dyn FnMut(&Iteration) -> ControlFlow<()>,
    ) -> Report {
        self.begin(game.keys());
        let board = game.board();
        let mut roots = self.first_moves(board, &question.only);
        if roots.is_empty() {
            let score = if board.is_check() { Score::Mate(0) } else { Score::Centipawns(DRAW) };
            let line = Line { score, moves: Vec::new(), depth: 0 };
            return Report { lines: vec![line], nodes: 0, depth: 0, iterations: Vec::new() };
        }
        let wanted = question.lines.clamp(1, roots.len());
        let mut lines = lines_of(&roots[..wanted], 0);
        let mut iterations: Vec<Iteration> = Vec::new();
        let deepest = question.limits.depth.unwrap_or(MAX_DEPTH).min(MAX_DEPTH);

        for depth in 1..=deepest {
            self.iteration = depth;
            for index in 0..wanted {
                self.search_first_moves(shared, board, &mut roots[index..], depth as i32);
                if self.stopped {
                    break;
                }
            }
            if self.stopped {
                // A better move found in an unfinished iteration is good when the old best move was searched before it.
                if wanted == 1 && roots[0].value > -INFINITE {
                    lines = lines_of(&roots[..1], depth);
                }
                break;
            }
            roots[..wanted].sort_by_key(|root| -root.value);
            lines = lines_of(&roots[..wanted], depth);
            let finished = Iteration { depth, nodes: self.nodes, lines: lines.clone() };
            let flow = on_iteration(&finished);
            iterations.push(finished);
            if flow.is_break() || is_settled(roots[0].value, depth) {
                break;
            }
        }
        let depth = iterations.last().map_or(0, |iteration| iteration.depth);
        Report { lines, nodes: self.nodes, depth, iterations }
    }

    /// The first moves in the order of what static evaluation and exchange say of them.
    fn first_moves(&mut self, board: &Board, only: &[Move]) -> Vec<RootMove> {
        let mut list = MoveList::default();
        all_moves(board, &mut list);
        let considered = list.as_slice().iter().filter(|m| only.is_empty() || only.contains(m));
        let mut roots: Vec<RootMove> = considered
            .map(|&first| {
                self.nodes += 1;
                let next = board.play(first);
                // A static look sees a capture and not the answer to it; under the smallest limits nothing else does.
                let value = if next.is_dead() {
                    DRAW
                } else {
                    exchange_gain(board, first) - gain_at_once(board, first) - self.evaluator.evaluate(&next)
                };
                RootMove { first, value, line: vec![first] }
            })
            .collect();
        roots.sort_by_key(|root| -root.value);
        roots
    }

    /// Searches the given first moves and puts the best in front.
    fn search_first_moves(&mut self, shared: &Shared<'_>, board: &Board, roots: &mut [RootMove], depth: i32) {
        for root in roots.iter_mut() {
            root.value = -INFINITE;
        }
        let mut alpha = -INFINITE;
        for (index, root) in roots.iter_mut().enumerate() {
            let next = board.play(root.first);
            let previous = Previous(board.role_on(root.first.from()), root.first);
            self.enter(&next);
            let mut value = alpha + 1;
            if index > 0 {
                value = -self.search_node(shared, &next, Window::null(-alpha), depth - 1, 1, previous);
            }
            if index == 0 || value > alpha {
                value = -self.search_node(shared, &next, Window::new(-INFINITE, -alpha), depth - 1, 1, previous);
            }
            self.leave();
            if self.stopped {
                break;
            }
            if value > alpha {
                alpha = value;
                root.value = value;
                root.line.truncate(1);
                root.line.extend_from_slice(&self.lines[1]);
            }
        }
        roots.sort_by_key(|root| -root.value);
    }

    fn enter(&mut self, board: &Board) {
        self.nodes += 1;
        self.path.push(board.key());
    }

    fn leave(&mut self) {
        self.path.pop();
    }

    /// Whether the search has to end now.
    fn must_stop(&mut self, shared: &Shared<'_>) -> bool {
        if self.nodes >= shared.node_limit {
            self.stopped = true;
        } else if self.nodes.is_multiple_of(1024) {
            let late = shared.deadline.is_some_and(|deadline| Instant::now() >= deadline);
            self.stopped |= late || shared.stop.load(Relaxed);
        }
        self.stopped
    }

    /// A draw by rule, other than stalemate. A position met once before on the way from the root counts as drawn: who
    /// could avoid the repetition would have done so the first time.
    fn is_draw(&self, board: &Board) -> bool {
        if board.halfmoves() >= 100 {
            // Mate on the hundredth ply stands.
            let mut list = MoveList::default();
            if board.is_check() {
                all_moves(board, &mut list);
            }
            return !board.is_check() || !list.as_slice().is_empty();
        }
        let present = self.path.len() - 1;
        let mut earlier = 0;
        for back in (4..=usize::from(board.halfmoves()).min(present)).step_by(2) {
            if self.path[present - back] == board.key() {
                earlier += 1;
                if earlier == 2 || present - back > self.root {
                    return true;
                }
            }
        }
        board.is_dead()
    }

    fn search_node(
        &mut self,
        shared: &Shared<'_>,
        board: &Board,
        window: Window,
        depth: i32,
        ply: usize,
        previous: Previous,
    ) -> i32 {
        let Window { mut alpha, mut beta } = window;
        let is_pv = beta - alpha > 1;
        self.lines[ply].clear();
        if self.must_stop(shared) {
            return DRAW;
        }
        if self.is_draw(board) {
            return DRAW;
        }
        let in_check = board.is_check();
        // Checks are extended, but not without end.
        let depth = depth + i32::from(in_check && ply < 2 * self.iteration as usize);
        if depth <= 0 || ply >= MAX_PLY - 1 {
            return self.quiesce(shared, board, alpha, beta, ply, Rest::WithChecks);
        }
        // No line can be better than mate at once, nor worse than being mated here.
        alpha = alpha.max(-MATE + ply as i32);
        beta = beta.min(MATE - ply as i32 - 1);
        if alpha >= beta {
            return alpha;
        }

        let known = shared.table.probe(board.key(), ply);
        // Close to the fifty-move limit a stored value may come from another distance to it.
        if let Some(entry) = &known
            && !is_pv
            && entry.depth >= depth
            && board.halfmoves() < 90
            && is_cutoff(entry, alpha, beta)
        {
            return entry.value;
        }
        let evaluation = match &known {
            _ if in_check => NO_EVALUATION,
            Some(entry) if entry.evaluation != NO_EVALUATION => entry.evaluation,
            _ => self.evaluator.evaluate(board),
        };

        if !is_pv
            && !in_check
            && let Some(value) = self.try_null_move(shared, board, beta, evaluation, depth, ply, previous)
        {
            return value;
        }

        let table_move = known.map_or(Move::NONE, |entry| entry.best);
        let mut picker = Picker::all(board, &self.memory, table_move, previous, ply);
        let mut tried = MoveList::default();
        let mut best = -INFINITE;
        let mut best_move = Move::NONE;
        let mut count = 0;
        while let Some(m) = picker.next(board, &self.memory) {
            count += 1;
            let quiet = board.is_quiet(m);
            let next = board.play(m);
            let following = Previous(board.role_on(m.from()), m);
            self.enter(&next);
            let mut value = alpha + 1;
            if count > 1 {
                let mut reduction = 0;
                if depth >= 3 && count > 3 && !in_check && !next.is_check() && (quiet || picker.is_losing()) {
                    reduction = late_reduction(depth, count);
                    reduction -= i32::from(is_pv);
                    if quiet {
                        reduction -= self.memory.history(board.turn(), m) / 6000;
                    }
                    reduction = reduction.clamp(0, depth - 2);
                }
                value =
                    -self.search_node(shared, &next, Window::null(-alpha), depth - 1 - reduction, ply + 1, following);
                if value > alpha && reduction > 0 {
                    value = -self.search_node(shared, &next, Window::null(-alpha), depth - 1, ply + 1, following);
                }
            }
            if count == 1 || is_pv && value > alpha {
                value = -self.search_node(shared, &next, Window::new(-beta, -alpha), depth - 1, ply + 1, following);
            }
            self.leave();
            if self.stopped {
                return DRAW;
            }
            if value > best {
                best = value;
                if value > alpha {
                    best_move = m;
                    alpha = value;
                    self.extend_line(ply, m);
                    if value >= beta {
                        if quiet {
                            self.memory.refuted_by(board, m, tried.as_slice(), previous, ply, depth);
                        }
                        break;
                    }
                }
            }
            if quiet {
                tried.push(m);
            }
        }
        if count == 0 {
            return if in_check { -MATE + ply as i32 } else { DRAW };
        }
        let bound = if best >= beta {
            Bound::Lower
        } else if best_move.is_none() {
            Bound::Upper
        } else {
            Bound::Exact
        };
        shared.table.store(board.key(), ply, Entry { best: best_move, value: best, evaluation, depth, bound });
        best
    }

    /// If even passing the turn keeps the value above beta, a move will. Passing may be the best of bad choices
    /// (zugzwang): never without pieces, and with one piece only after a check by a search that does not pass.
    #[expect(clippy::too_many_arguments, reason = "one step of the search, split off to be read")]
    fn try_null_move(
        &mut self,
        shared: &Shared<'_>,
        board: &Board,
        beta: i32,
        evaluation: i32,
        depth: i32,
        ply: usize,
        previous: Previous,
    ) -> Option<i32> {
        let officers = board.officers(board.turn());
        if depth < 2 || evaluation < beta || previous.is_pass() || officers.is_empty() || beta <= -MATE_BOUND {
            return None;
        }
        let left = depth - 3 - depth / 4 - ((evaluation - beta) / 200).min(2);
        let next = board.pass();
        self.enter(&next);
        let value = -self.search_node(shared, &next, Window::null(1 - beta), left - 1, ply + 1, Previous::PASS);
        self.leave();
        if self.stopped || value < beta {
            return None;
        }
        if !officers.more_than_one() {
            let checked = self.search_node(shared, board, Window::null(beta), left, ply, Previous::PASS);
            self.lines[ply].clear();
            if self.stopped || checked < beta {
                return None;
            }
        }
        // A mate found by passing is not proved.
        Some(if value >= MATE_BOUND { beta } else { value })
    }

    /// Captures and promotions until the position is quiet; all moves out of a check.
    fn quiesce(
        &mut self,
        shared: &Shared<'_>,
        board: &Board,
        mut alpha: i32,
        beta: i32,
        ply: usize,
        rest: Rest,
    ) -> i32 {
        self.lines[ply].clear();
        if self.must_stop(shared) || board.is_dead() {
            return DRAW;
        }
        if ply >= MAX_PLY - 1 {
            return if board.is_check() { DRAW } else { self.evaluator.evaluate(board) };
        }
        let known = shared.table.probe(board.key(), ply);
        if let Some(entry) = &known
            && beta - alpha == 1
            && is_cutoff(entry, alpha, beta)
        {
            return entry.value;
        }
        let in_check = board.is_check();
        let mut best = -INFINITE;
        let mut evaluation = NO_EVALUATION;
        if !in_check {
            evaluation = match &known {
                Some(entry) if entry.evaluation != NO_EVALUATION => entry.evaluation,
                _ => self.evaluator.evaluate(board),
            };
            best = evaluation;
            if best >= beta {
                return best;
            }
        }
        let before = alpha;
        alpha = alpha.max(best);
        let table_move = known.map_or(Move::NONE, |entry| entry.best);
        let mut picker = if in_check {
            Picker::all(board, &self.memory, table_move, Previous::NOTHING, ply)
        } else if rest == Rest::WithChecks {
            Picker::noisy_and_checks(board, table_move)
        } else {
            Picker::noisy(board, table_move)
        };
        let mut best_move = Move::NONE;
        let mut count = 0;
        while let Some(m) = picker.next(board, &self.memory) {
            count += 1;
            let next = board.play(m);
            self.enter(&next);
            let value =
                -self.quiesce(shared, &next, -beta, -alpha, ply + 1, if in_check { rest } else { Rest::CapturesOnly });
            self.leave();
            if self.stopped {
                return DRAW;
            }
            if value > best {
                best = value;
                if value > alpha {
                    best_move = m;
                    alpha = value;
                    self.extend_line(ply, m);
                    if value >= beta {
                        break;
                    }
                }
            }
        }
        if in_check && count == 0 {
            return -MATE + ply as i32;
        }
        let bound = if best >= beta {
            Bound::Lower
        } else if best > before {
            Bound::Exact
        } else {
            Bound::Upper
        };
        shared.table.store(board.key(), ply, Entry { best: best_move, value: best, evaluation, depth: 0, bound });
        best
    }

    /// The best line at `ply` is `m` and then the best line one ply below.
    fn extend_line(&mut self, ply: usize, m: Move) {
        let (above, below) = self.lines.split_at_mut(ply + 1);
        above[ply].clear();
        above[ply].push(m);
        above[ply].extend_from_slice(&below[0]);
    }
}

/// What a position has to come to rest from.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Rest {
    /// Captures and promotions.
    CapturesOnly,
    /// On its first ply also safe checks.
    WithChecks,
}

/// Bounds of a search: values at or below alpha and at or above beta need not be exact.
#[derive(Clone, Copy)]
struct Window {
    alpha: i32,
    beta: i32,
}

impl Window {
    fn new(alpha: i32, beta: i32) -> Window {
        Window { alpha, beta }
    }

    /// The window that only asks whether a value is at least `beta`.
    fn null(beta: i32) -> Window {
        Window { alpha: beta - 1, beta }
    }
}

fn is_cutoff(entry: &Entry, alpha: i32, beta: i32) -> bool {
    match entry.bound {
        Bound::Exact => true,
        Bound::Lower => entry.value >= beta,
        Bound::Upper => entry.value <= alpha,
    }
}

/// A mate searched to twice its length will not be improved.
fn is_settled(value: i32, depth: u32) -> bool {
    value.abs() >= MATE_BOUND && depth as i32 >= 2 * (MATE - value.abs()) + 2
}

fn lines_of(roots: &[RootMove], depth: u32) -> Vec<Line> {
    roots.iter().map(|root| Line { score: Score::from_value(root.value), moves: root.line.clone(), depth }).collect()
}

/// Plies taken off a late move's depth: grows with the logarithms of depth and of the move's number, in integers so that
/// it is the same on each machine.
fn late_reduction(depth: i32, count: i32) -> i32 {
    1 + log2_eighths(depth as u32) * log2_eighths(count as u32) / 280
}

/// Eight times the binary logarithm, rounded down to what linear interpolation between powers of two gives.
fn log2_eighths(n: u32) -> i32 {
    let whole = n.ilog2();
    let part = ((n << 3) >> whole) & 7;
    (8 * whole + part) as i32
}
