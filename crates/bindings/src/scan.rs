//! The bulk scan for Python: a file as batches of NumPy columns.

use std::path::PathBuf;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use numpy::{IntoPyArray, PyArray1};
use pyo3::create_exception;
use pyo3::exceptions::{PyException, PyOSError, PyValueError};
use pyo3::prelude::*;
use pyo3::types::PyDict;
use variorum_core::scan::tags::{Pace, Pairs, unescaped};
use variorum_core::scan::text::decoded;
use variorum_core::scan::{self, Batch, Fault, Filter, Next, Remark, ScanOptions, Strings};

use crate::board::Board;

create_exception!(_core, ScanBrokenError, PyException, "A stream that cannot be read on: the reason, bytes before it.");

/// Signals are looked at and progress is told this often while a batch is waited for.
const TICK: Duration = Duration::from_millis(100);

type StringColumn = (Py<PyArray1<i32>>, Py<PyArray1<u8>>);
type OccurrenceColumns = (Py<PyArray1<u64>>, Py<PyArray1<u32>>, Py<PyArray1<u16>>, Py<PyArray1<u16>>);
type RejectRow = (u64, u64, u32, u64, &'static str, u16, String);

/// A batch of kept games and what was not kept; each column is a new array.
#[pyclass(frozen, get_all, module = "variorum._core")]
pub struct ScanBatch {
    file_offset: Py<PyArray1<u64>>,
    file_length: Py<PyArray1<u64>>,
    game_number: Py<PyArray1<u32>>,
    root: Py<PyArray1<u16>>,
    root_ply: Py<PyArray1<u16>>,
    result: Py<PyArray1<u8>>,
    date: Py<PyArray1<u32>>,
    white_elo: Py<PyArray1<u16>>,
    black_elo: Py<PyArray1<u16>>,
    pace: Py<PyArray1<u8>>,
    fault: Py<PyArray1<u8>>,
    fault_ply: Py<PyArray1<u16>>,
    fault_line: Py<PyArray1<u64>>,
    white: StringColumn,
    black: StringColumn,
    event: StringColumn,
    site: StringColumn,
    start_fen: StringColumn,
    text: StringColumn,
    moves: (Py<PyArray1<i32>>, Py<PyArray1<u16>>),
    occurrences: OccurrenceColumns,
    rejects: Vec<RejectRow>,
    notes: Vec<(u64, u64, &'static str)>,
    counts: Py<PyDict>,
}

/// A file being scanned.
#[pyclass(frozen, module = "variorum._core")]
pub struct Scan {
    scan: Mutex<scan::Scan>,
    /// When progress was told last.
    told: Mutex<Instant>,
}

#[pymethods]
impl Scan {
    #[new]
    #[pyo3(signature = (path, roots, *, min_rating=0, since=0, until=0, pace=0, threads=0))]
    #[expect(clippy::needless_pass_by_value, reason = "what Python hands over")]
    fn new(
        path: PathBuf,
        roots: Vec<Py<Board>>,
        min_rating: u16,
        since: u32,
        until: u32,
        pace: u8,
        threads: usize,
    ) -> PyResult<Scan> {
        let pace = match pace {
            0 => None,
            1 => Some(Pace::Classical),
            2 => Some(Pace::Rapid),
            3 => Some(Pace::Blitz),
            _ => return Err(PyValueError::new_err("a pace is 0 to 3")),
        };
        let defaults = ScanOptions::default();
        let options = ScanOptions {
            roots: roots.iter().map(|root| root.get().position().clone()).collect(),
            filter: Filter { min_rating, since, until, pace },
            threads: if threads == 0 { defaults.threads } else { threads },
            ..defaults
        };
        let scan = scan::Scan::of_file(&path, options).map_err(|error| match error.raw_os_error() {
            Some(_) => error.into(),
            None => PyOSError::new_err(error.to_string()),
        })?;
        Ok(Scan { scan: Mutex::new(scan), told: Mutex::new(Instant::now()) })
    }

    /// Bytes of the file on disk: all of them.
    #[getter]
    fn bytes_total(&self) -> u64 {
        self.scan.lock().unwrap_or_else(PoisonError::into_inner).bytes_total()
    }

    /// The next batch, `None` at the end.
    #[pyo3(signature = (callback=None))]
    fn next_batch(&self, py: Python<'_>, callback: Option<Bound<'_, PyAny>>) -> PyResult<Option<ScanBatch>> {
        loop {
            let (next, done) = py.detach(|| {
                let mut scan = self.scan.lock().unwrap_or_else(PoisonError::into_inner);
                let next = scan.next_batch(TICK);
                (next, scan.bytes_done())
            });
            py.check_signals()?;
            if let Some(callback) = &callback
                && self.time_to_tell(&next)
            {
                callback.call1((done,))?;
            }
            match next {
                Next::Batch(batch) => return ScanBatch::new(py, *batch).map(Some),
                Next::Wait => {}
                Next::End => return Ok(None),
                Next::Broken(error, bytes) => return Err(ScanBrokenError::new_err((error.to_string(), bytes))),
            }
        }
    }
}

impl Scan {
    /// Ten times a second at most, and at the end.
    fn time_to_tell(&self, next: &Next) -> bool {
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        let due = told.elapsed() >= TICK || !matches!(next, Next::Batch(_) | Next::Wait);
        if due {
            *told = Instant::now();
        }
        due
    }
}

/// The tag pairs at the start of a game's text, in order, unescaped.
#[pyfunction]
pub fn read_tags(text: &str) -> Vec<(String, String)> {
    Pairs::of(text.as_bytes()).map(|pair| (decoded(pair.name), decoded(&unescaped(pair.value)))).collect()
}

impl ScanBatch {
    fn new(py: Python<'_>, batch: Batch) -> PyResult<ScanBatch> {
        fn array<T: numpy::Element>(py: Python<'_>, column: Vec<T>) -> Py<PyArray1<T>> {
            column.into_pyarray(py).unbind()
        }
        let strings = |column: Strings| -> StringColumn { (array(py, column.ends), array(py, column.bytes)) };
        let counts = PyDict::new(py);
        for (name, count) in [
            ("sections", batch.counts.sections),
            ("untagged", batch.counts.untagged),
            ("kept", batch.counts.kept),
            ("passed", batch.counts.passed),
            ("aside", batch.counts.aside),
        ] {
            counts.set_item(name, count)?;
        }
        let games = batch.games;
        let found = batch.occurrences;
        Ok(ScanBatch {
            file_offset: array(py, games.file_offset),
            file_length: array(py, games.file_length),
            game_number: array(py, games.game_number),
            root: array(py, games.root),
            root_ply: array(py, games.root_ply),
            result: array(py, games.result),
            date: array(py, games.date),
            white_elo: array(py, games.white_elo),
            black_elo: array(py, games.black_elo),
            pace: array(py, games.pace),
            fault: array(py, games.fault),
            fault_ply: array(py, games.fault_ply),
            fault_line: array(py, games.fault_line),
            white: strings(games.white),
            black: strings(games.black),
            event: strings(games.event),
            site: strings(games.site),
            start_fen: strings(games.start_fen),
            text: strings(games.text),
            moves: (array(py, games.move_ends), array(py, games.moves)),
            occurrences: (
                array(py, found.key),
                array(py, found.game_row),
                array(py, found.ply),
                array(py, found.played),
            ),
            rejects: batch
                .rejects
                .into_iter()
                .map(|reject| {
                    let reason = Fault::NAMES[reject.fault as usize];
                    (reject.offset, reject.length, reject.game_number, reject.line, reason, reject.ply, reject.text)
                })
                .collect(),
            notes: batch
                .notes
                .into_iter()
                .map(|note| (note.offset, note.length, Remark::NAMES[note.remark as usize]))
                .collect(),
            counts: counts.unbind(),
        })
    }
}
