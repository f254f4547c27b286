//! One thread of a search: what it remembers and where it stands.

use std::{
    sync::atomic::{AtomicBool, AtomicU64, Ordering::Relaxed},
    time::Instant,
};

use crate::{
    board::Board,
    correction::Corrections,
    eval::Evaluator,
    history::{Context, Contexts, Memory},
    movegen::all_moves,
    moves::{Move, MoveList},
    picker::{Picker, Scored},
    score::MAX_PLY,
    table::{NO_EVALUATION, Table},
};

/// Nodes between two looks at the clock.
const TICK: u64 = 1024;

/// What the threads of one search share.
pub struct Shared<'a> {
    pub table: &'a Table,
    /// Ends the search from outside.
    pub stop: &'a AtomicBool,
    /// The first thread has its answer.
    pub finished: AtomicBool,
    pub node_limit: u64,
    pub deadline: Option<Instant>,
    pub threads: usize,
    /// Nodes of all threads up to their last looks at the clock; kept only when there are several.
    pub visited: AtomicU64,
}

/// What a thread knows of one ply of its path.
#[derive(Clone, Default)]
pub struct Frame {
    /// Corrected static evaluation, `NO_EVALUATION` in check.
    pub evaluation: i32,
    /// What led to this ply.
    pub context: Context,
    /// A move left out here: the search asks what the others are worth.
    pub excluded: Move,
    /// Best line below.
    pub line: Vec<Move>,
}

/// One thread of a search.
pub struct Worker {
    pub evaluator: Box<dyn Evaluator>,
    pub memory: Memory,
    pub corrections: Corrections,
    pub nodes: u64,
    pub stopped: bool,
    /// Nodes at the last look at the clock.
    ticked: u64,
    /// Keys of the game and of the path from the root, the present node last.
    path: Vec<u64>,
    /// Where in `path` the root is.
    root: usize,
    pub frames: Vec<Frame>,
    /// Lists of moves that no node uses now.
    lists: Vec<Scored>,
    /// Nominal depth of the present iteration.
    pub iteration: u32,
}

impl Worker {
    pub fn new(evaluator: Box<dyn Evaluator>) -> Worker {
        Worker {
            evaluator,
            memory: Memory::default(),
            corrections: Corrections::default(),
            nodes: 0,
            stopped: false,
            ticked: 0,
            path: Vec::new(),
            root: 0,
            frames: vec![Frame::default(); MAX_PLY + 2],
            lists: Vec::new(),
            iteration: 0,
        }
    }

    /// Forgets what earlier searches taught.
    pub fn forget(&mut self) {
        self.memory.clear();
        self.corrections.clear();
    }

    /// Begins a search after a game with these positions.
    pub fn begin(&mut self, keys: &[u64]) {
        self.nodes = 0;
        self.stopped = false;
        self.ticked = 0;
        self.path.clear();
        self.path.extend_from_slice(keys);
        self.root = self.path.len() - 1;
        let root = &mut self.frames[0];
        (root.context, root.excluded) = (Context::NOTHING, Move::NONE);
        root.evaluation = NO_EVALUATION;
    }

    /// Goes one ply down, to `board`, which `context` led to.
    pub fn enter(&mut self, board: &Board, context: Context, ply: usize) {
        self.nodes += 1;
        self.path.push(board.key());
        self.frames[ply + 1].context = context;
    }

    /// Goes back up.
    pub fn leave(&mut self) {
        self.path.pop();
    }

    /// A list of moves to use.
    pub fn take_list(&mut self) -> Scored {
        self.lists.pop().unwrap_or_default()
    }

    /// Keeps the list of a node that is done with.
    pub fn keep_list(&mut self, picker: Picker) {
        self.lists.push(picker.into_list());
    }

    /// The moves that led to a ply.
    pub fn contexts(&self, ply: usize) -> Contexts {
        let at = |back: usize| ply.checked_sub(back).map_or(Context::NOTHING, |at| self.frames[at].context);
        Contexts { last: at(0), own: at(1), own_before: at(3) }
    }

    /// Whether the search has to end now.
    pub fn must_stop(&mut self, shared: &Shared<'_>) -> bool {
        if shared.threads == 1 && self.nodes >= shared.node_limit {
            self.stopped = true;
        } else if self.nodes - self.ticked >= TICK {
            let passed = self.nodes - std::mem::replace(&mut self.ticked, self.nodes);
            let late = shared.deadline.is_some_and(|deadline| Instant::now() >= deadline);
            self.stopped |= late || shared.stop.load(Relaxed) || shared.finished.load(Relaxed);
            if shared.threads > 1 {
                let visited = shared.visited.fetch_add(passed, Relaxed) + passed;
                self.stopped |= visited >= shared.node_limit;
            }
        }
        self.stopped
    }

    /// A draw by rule, other than stalemate. A position met once before on the way from the root counts as drawn: who
    /// could avoid the repetition would have done so the first time.
    pub fn is_draw(&self, board: &Board) -> bool {
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

    /// Whether the position is better for the side to move than two plies ago, as far as static evaluation goes.
    pub fn is_improving(&self, evaluation: i32, ply: usize) -> bool {
        let before = |back: usize| ply.checked_sub(back).map(|at| self.frames[at].evaluation);
        let earlier = [2, 4].into_iter().filter_map(before).find(|&value| value != NO_EVALUATION);
        earlier.is_some_and(|earlier| evaluation > earlier)
    }

    /// The best line at `ply` is `m` and then the best line one ply below.
    pub fn extend_line(&mut self, ply: usize, m: Move) {
        let (above, below) = self.frames.split_at_mut(ply + 1);
        let line = &mut above[ply].line;
        line.clear();
        line.push(m);
        line.extend_from_slice(&below[0].line);
    }
}
