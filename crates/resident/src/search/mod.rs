//! The search: iterative deepening (Slate and Atkin, "Chess 4.5", 1977) over principal variation search (Marsland and
//! Campbell, "Parallel Search of Strongly Ordered Game Trees", 1982). Several threads search the same position and help
//! one another through the table they share.

mod node;
mod pruning;
mod quiescence;
mod root;
mod window;
mod worker;

use std::{
    ops::ControlFlow,
    sync::atomic::{AtomicBool, AtomicU64, Ordering::Relaxed},
    thread,
    time::Instant,
};

use crate::{
    board::Board,
    eval::HandEvaluation,
    game::Game,
    moves::Move,
    report::{Iteration, Question, Report},
    score::INFINITE,
    table::Table,
};
use quiescence::Rest;
use window::Window;
use worker::{Shared, Worker};

/// No iteration goes deeper.
pub const MAX_DEPTH: u32 = 100;
const DRAW: i32 = 0;

/// A searcher with its table and what it learns.
pub struct Searcher {
    table: Table,
    /// The first gives the answer, the others help it. Never empty.
    workers: Vec<Worker>,
}

impl Searcher {
    /// A searcher on one thread with a transposition table of about `megabytes` MiB.
    #[must_use]
    pub fn new(megabytes: usize) -> Searcher {
        Searcher { table: Table::new(megabytes), workers: vec![new_worker()] }
    }

    /// Sets on how many threads to search, at least one. Only on one thread is a verdict the same each time.
    pub fn set_threads(&mut self, threads: usize) {
        self.workers.resize_with(threads.max(1), new_worker);
    }

    /// Forgets everything. Afterwards the searcher answers as a new one would.
    pub fn forget(&mut self) {
        self.table.forget();
        self.workers.iter_mut().for_each(Worker::forget);
    }

    /// Forgets everything before a game of any length.
    pub fn begin_game(&mut self) {
        self.table.clear();
        self.workers.iter_mut().for_each(Worker::forget);
    }

    /// Searches the present position of a game.
    ///
    /// `on_iteration` is called after each finished iteration and may end the search; `stop` ends it from elsewhere.
    /// Under a limit of nodes or depth, on one thread, the answer depends on nothing but the game, the question, the
    /// table's size and what was searched since the searcher was made or last told to forget.
    pub fn search(
        &mut self,
        game: &Game,
        question: &Question,
        stop: &AtomicBool,
        on_iteration: &mut dyn FnMut(&Iteration) -> ControlFlow<()>,
    ) -> Report {
        self.table.next_search();
        for worker in &mut self.workers {
            worker.memory.fade();
        }
        let shared = Shared {
            table: &self.table,
            stop,
            finished: AtomicBool::new(false),
            node_limit: question.limits.nodes.unwrap_or(u64::MAX),
            deadline: question.limits.time.and_then(|time| Instant::now().checked_add(time)),
            threads: self.workers.len(),
            visited: AtomicU64::new(0),
        };
        let Some((first, helpers)) = self.workers.split_first_mut() else {
            unreachable!("a searcher has a worker");
        };
        thread::scope(|scope| {
            for (index, helper) in helpers.iter_mut().enumerate() {
                let shared = &shared;
                scope.spawn(move || helper.help(shared, game, question, index));
            }
            let report = first.answer(&shared, game, question, on_iteration);
            shared.finished.store(true, Relaxed);
            report
        })
    }

    /// Static evaluation in centipawns for the side to move.
    pub fn evaluate(&mut self, board: &Board) -> i32 {
        self.workers[0].evaluator.evaluate(board)
    }

    /// Value of the position after captures have come to rest, in centipawns for the side to move, and the captures.
    pub fn quiesce(&mut self, board: &Board) -> (i32, Vec<Move>) {
        let stop = AtomicBool::new(false);
        self.table.forget();
        let shared = Shared {
            table: &self.table,
            stop: &stop,
            finished: AtomicBool::new(false),
            node_limit: u64::MAX,
            deadline: None,
            threads: 1,
            visited: AtomicU64::new(0),
        };
        let worker = &mut self.workers[0];
        worker.begin(&[board.key()]);
        let value = worker.quiesce(&shared, board, Window::new(-INFINITE, INFINITE), 0, Rest::CapturesOnly);
        (value, worker.frames[0].line.clone())
    }
}

fn new_worker() -> Worker {
    Worker::new(Box::<HandEvaluation>::default())
}
