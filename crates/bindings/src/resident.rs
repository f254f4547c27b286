//! The resident for Python: analysis of one position.

use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::sync::{Mutex, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use shakmaty::{Chess, Position, uci::UciMove};
use variorum_resident::{Game, Iteration, Limits, Line, Move, Question, Report, Score, Searcher, VERSION};

use crate::board::Board;

/// Signals are looked at this often, and progress is told at most half as often.
const TICK: Duration = Duration::from_millis(50);

/// A line: exactly one of `cp` and `mate` is set, for the side to move at the root.
#[pyclass(frozen, get_all, module = "variorum._core")]
pub struct ResidentLine {
    moves: Vec<String>,
    cp: Option<i32>,
    mate: Option<i32>,
    depth: u32,
}

/// A finished iteration with its best lines.
#[pyclass(frozen, get_all, module = "variorum._core")]
pub struct ResidentIteration {
    depth: u32,
    nodes: u64,
    lines: Vec<Py<ResidentLine>>,
}

/// The answer to one question.
#[pyclass(frozen, get_all, module = "variorum._core")]
pub struct ResidentReport {
    lines: Vec<Py<ResidentLine>>,
    nodes: u64,
    depth: u32,
    iterations: Vec<Py<ResidentIteration>>,
}

/// Ends a question from another thread. Made for one question and then thrown away, so that no question ends by a
/// flag meant for another.
#[pyclass(frozen, module = "variorum._core")]
pub struct StopFlag(AtomicBool);

#[pymethods]
impl StopFlag {
    #[new]
    fn new() -> StopFlag {
        StopFlag(AtomicBool::new(false))
    }

    fn set(&self) {
        self.0.store(true, Relaxed);
    }
}

/// The analyst that Variorum brings along.
#[pyclass(frozen, module = "variorum._core")]
pub struct Resident {
    searcher: Mutex<Searcher>,
}

#[pymethods]
impl Resident {
    #[new]
    #[pyo3(signature = (hash_mb, threads=1))]
    fn new(hash_mb: usize, threads: usize) -> PyResult<Resident> {
        if !(1..=65_536).contains(&hash_mb) {
            return Err(PyValueError::new_err("the table has 1 to 65536 MiB"));
        }
        if !(1..=256).contains(&threads) {
            return Err(PyValueError::new_err("it thinks on 1 to 256 threads"));
        }
        let mut searcher = Searcher::new(hash_mb);
        searcher.set_threads(threads);
        Ok(Resident { searcher: Mutex::new(searcher) })
    }

    /// Version of what the resident says: the same version gives the same verdict under a node limit, on one thread.
    #[classattr]
    fn version() -> &'static str {
        VERSION
    }

    #[pyo3(signature = (start, moves=Vec::new(), *, nodes=None, depth=None, seconds=None, multipv=1, only=Vec::new(), stop=None, callback=None))]
    #[expect(clippy::too_many_arguments, reason = "keyword arguments of Python")]
    fn analyse(
        &self,
        py: Python<'_>,
        start: &Board,
        moves: Vec<String>,
        nodes: Option<u64>,
        depth: Option<u32>,
        seconds: Option<f64>,
        multipv: usize,
        only: Vec<String>,
        stop: Option<Py<StopFlag>>,
        callback: Option<Py<PyAny>>,
    ) -> PyResult<ResidentReport> {
        let game = game_of(start.position(), &moves)?;
        let time = match seconds.map(Duration::try_from_secs_f64) {
            Some(Err(_)) => return Err(PyValueError::new_err("seconds must be a positive number")),
            Some(Ok(time)) => Some(time),
            None => None,
        };
        if nodes.is_none() && depth.is_none() && time.is_none() && stop.is_none() {
            return Err(PyValueError::new_err("a limit is needed: nodes, depth, seconds or a flag to stop"));
        }
        if multipv == 0 || nodes == Some(0) || depth == Some(0) {
            return Err(PyValueError::new_err("limits and number of lines are positive"));
        }
        let only = only.iter().map(|uci| move_of(game.position(), uci).map(Into::into)).collect::<PyResult<_>>()?;
        let question = Question { limits: Limits { nodes, depth, time }, lines: multipv, only };
        let own = StopFlag::new();
        let stop = stop.as_ref().map_or(&own, |flag| flag.get());
        let report = py.detach(|| self.ask(&game, &question, &stop.0, callback.as_ref()))?;
        report_of(py, game.position(), &report)
    }

    /// Static evaluation in centipawns for the side to move.
    fn evaluate(&self, board: &Board) -> i32 {
        let mut searcher = self.searcher.lock().unwrap_or_else(PoisonError::into_inner);
        searcher.evaluate(&variorum_resident::Board::from(board.position()))
    }
}

impl Resident {
    /// Searches on a thread of its own while this one looks after signals and progress.
    fn ask(
        &self,
        game: &Game,
        question: &Question,
        stop: &AtomicBool,
        callback: Option<&Py<PyAny>>,
    ) -> PyResult<Report> {
        let mut guard = self.searcher.lock().unwrap_or_else(PoisonError::into_inner);
        let searcher: &mut Searcher = &mut guard;
        searcher.forget();
        // The sender goes to the thread: the channel closes when the search ends.
        let (sender, receiver) = channel::<Iteration>();
        thread::scope(|scope| {
            let search = scope.spawn(move || {
                searcher.search(game, question, stop, &mut |iteration| {
                    // Nobody listens any more only when the analysis is being given up.
                    let _ = sender.send(iteration.clone());
                    ControlFlow::Continue(())
                })
            });
            let mut told = Instant::now();
            let mut fault = None;
            loop {
                let go_on = match receiver.recv_timeout(TICK) {
                    Ok(iteration) => match callback {
                        Some(callback) if told.elapsed() >= 2 * TICK => {
                            told = Instant::now();
                            Python::attach(|py| tell(py, callback, game.position(), &iteration))
                        }
                        _ => Ok(true),
                    },
                    Err(RecvTimeoutError::Timeout) => Python::attach(|py| py.check_signals().map(|()| true)),
                    Err(RecvTimeoutError::Disconnected) => break,
                };
                match go_on {
                    Ok(true) => {}
                    Ok(false) => stop.store(true, Relaxed),
                    Err(error) => {
                        stop.store(true, Relaxed);
                        fault.get_or_insert(error);
                    }
                }
            }
            let report = search.join().expect("the search does not panic");
            match fault {
                Some(error) => Err(error),
                None => Ok(report),
            }
        })
    }
}

fn tell(py: Python<'_>, callback: &Py<PyAny>, position: &Chess, iteration: &Iteration) -> PyResult<bool> {
    callback.bind(py).call1((iteration_of(py, position, iteration)?,))?.is_truthy()
}

fn move_of(position: &Chess, uci: &str) -> PyResult<shakmaty::Move> {
    let read = uci.parse::<UciMove>().ok().and_then(|read| read.to_move(position).ok());
    read.ok_or_else(|| PyValueError::new_err(format!("{uci} is no legal move here")))
}

/// Packed moves of a line in UCI.
pub fn line_from(start: &Chess, moves: &[String]) -> PyResult<Vec<Move>> {
    let mut position = start.clone();
    let mut line = Vec::with_capacity(moves.len());
    for uci in moves {
        let played = move_of(&position, uci)?;
        position.play_unchecked(played);
        line.push(played.into());
    }
    Ok(line)
}

fn game_of(start: &Chess, moves: &[String]) -> PyResult<Game> {
    let mut game = Game::new(start);
    for m in line_from(start, moves)? {
        game.play(m).expect("the rules library found the move legal");
    }
    Ok(game)
}

fn line_of(py: Python<'_>, root: &Chess, line: &Line) -> PyResult<Py<ResidentLine>> {
    let mut position = root.clone();
    let mut moves = Vec::with_capacity(line.moves.len());
    for m in &line.moves {
        let played = m.to_shakmaty(&position).expect("the search gives legal lines");
        moves.push(played.to_uci(position.castles().mode()).to_string());
        position.play_unchecked(played);
    }
    let (cp, mate) = match line.score {
        Score::Centipawns(cp) => (Some(cp), None),
        Score::Mate(n) => (None, Some(n)),
    };
    Py::new(py, ResidentLine { moves, cp, mate, depth: line.depth })
}

fn lines_of(py: Python<'_>, root: &Chess, lines: &[Line]) -> PyResult<Vec<Py<ResidentLine>>> {
    lines.iter().map(|line| line_of(py, root, line)).collect()
}

fn iteration_of(py: Python<'_>, root: &Chess, iteration: &Iteration) -> PyResult<Py<ResidentIteration>> {
    let lines = lines_of(py, root, &iteration.lines)?;
    Py::new(py, ResidentIteration { depth: iteration.depth, nodes: iteration.nodes, lines })
}

fn report_of(py: Python<'_>, root: &Chess, report: &Report) -> PyResult<ResidentReport> {
    Ok(ResidentReport {
        lines: lines_of(py, root, &report.lines)?,
        nodes: report.nodes,
        depth: report.depth,
        iterations: report.iterations.iter().map(|i| iteration_of(py, root, i)).collect::<PyResult<_>>()?,
    })
}
