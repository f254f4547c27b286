//! Runs of occurrences and packed games for Python, in NumPy columns.

use std::sync::{Mutex, PoisonError};

use numpy::{IntoPyArray, PyArray1, PyReadonlyArray1};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::PyBytes;
use variorum_core::runs::{self, Chunk, Ranges, Strings};

use crate::board::Board;

type ChunkColumns<'py> = (
    PyReadonlyArray1<'py, u64>,
    PyReadonlyArray1<'py, u32>,
    PyReadonlyArray1<'py, u16>,
    PyReadonlyArray1<'py, u16>,
    bool,
);
type MergedColumns<'py> =
    (Bound<'py, PyArray1<u64>>, Bound<'py, PyArray1<u32>>, Bound<'py, PyArray1<u16>>, Bound<'py, PyArray1<u16>>);

/// Merges what the chunks have in common; see `variorum_core::runs::merge`.
#[pyfunction]
pub fn merge_runs<'py>(
    py: Python<'py>,
    chunks: Vec<ChunkColumns<'py>>,
    live_starts: PyReadonlyArray1<'py, u32>,
    live_ends: PyReadonlyArray1<'py, u32>,
) -> PyResult<(Vec<usize>, MergedColumns<'py>)> {
    let live = Ranges { starts: live_starts.as_slice()?, ends: live_ends.as_slice()? };
    let mut parts = Vec::with_capacity(chunks.len());
    for (keys, games, plies, moves, more) in &chunks {
        let part = Chunk {
            keys: keys.as_slice()?,
            games: games.as_slice()?,
            plies: plies.as_slice()?,
            moves: moves.as_slice()?,
            more: *more,
        };
        let rows = part.keys.len();
        if part.games.len() != rows || part.plies.len() != rows || part.moves.len() != rows {
            return Err(PyValueError::new_err("the columns of a run differ in length"));
        }
        parts.push(part);
    }
    if live.starts.len() != live.ends.len() {
        return Err(PyValueError::new_err("ranges need a start and an end each"));
    }
    let (taken, merged) = py.detach(|| runs::merge(&parts, live));
    let columns = (
        merged.keys.into_pyarray(py),
        merged.games.into_pyarray(py),
        merged.plies.into_pyarray(py),
        merged.moves.into_pyarray(py),
    );
    Ok((taken, columns))
}

/// A string column as Arrow has it: offsets and bytes.
pub type StringColumn<'py> = (PyReadonlyArray1<'py, i32>, PyReadonlyArray1<'py, u8>);

pub fn games_of<'a>(starts: &'a StringColumn<'_>, moves: &'a StringColumn<'_>) -> PyResult<runs::Games<'a>> {
    let strings = |column: &'a StringColumn<'_>| -> PyResult<Strings<'a>> {
        Strings::new(column.0.as_slice()?, column.1.as_slice()?).map_err(PyValueError::new_err)
    };
    runs::Games::new(strings(starts)?, strings(moves)?).map_err(PyValueError::new_err)
}

/// One fingerprint a game; see `variorum_core::runs::Games::fingerprints`.
#[pyfunction]
pub fn fingerprints<'py>(
    py: Python<'py>,
    starts: StringColumn<'py>,
    moves: StringColumn<'py>,
) -> PyResult<Bound<'py, PyArray1<u64>>> {
    let games = games_of(&starts, &moves)?;
    Ok(py.detach(|| games.fingerprints()).into_pyarray(py))
}

/// Whether each hit is the position of `board`, found by replay.
#[pyfunction]
pub fn verify_hits<'py>(
    py: Python<'py>,
    board: &Board,
    starts: StringColumn<'py>,
    moves: StringColumn<'py>,
    rows: PyReadonlyArray1<'py, u32>,
    plies: PyReadonlyArray1<'py, u16>,
) -> PyResult<Bound<'py, PyArray1<bool>>> {
    let games = games_of(&starts, &moves)?;
    let (rows, plies) = (rows.as_slice()?, plies.as_slice()?);
    let found = py.detach(|| games.verify(board.position(), rows, plies)).map_err(PyValueError::new_err)?;
    Ok(found.into_pyarray(py))
}

type CountedOrder<'py> = (String, Bound<'py, PyBytes>, [u32; runs::RESULTS]);

/// Counts the orders of moves that reach a position.
#[pyclass(frozen, module = "variorum._core")]
pub struct OrderCounts {
    counts: Mutex<runs::OrderCounts>,
}

#[pymethods]
impl OrderCounts {
    #[new]
    fn new() -> OrderCounts {
        OrderCounts { counts: Mutex::default() }
    }

    fn add(
        &self,
        py: Python<'_>,
        starts: StringColumn<'_>,
        moves: StringColumn<'_>,
        rows: PyReadonlyArray1<'_, u32>,
        plies: PyReadonlyArray1<'_, u16>,
        results: PyReadonlyArray1<'_, u8>,
    ) -> PyResult<()> {
        let games = games_of(&starts, &moves)?;
        let (rows, plies, results) = (rows.as_slice()?, plies.as_slice()?, results.as_slice()?);
        py.detach(|| {
            let mut counts = self.counts.lock().unwrap_or_else(PoisonError::into_inner);
            counts.add(&games, rows, plies, results)
        })
        .map_err(PyValueError::new_err)
    }

    fn most_frequent<'py>(&self, py: Python<'py>, limit: usize) -> Vec<CountedOrder<'py>> {
        let counts = self.counts.lock().unwrap_or_else(PoisonError::into_inner);
        let found = counts.most_frequent(limit);
        found
            .into_iter()
            .map(|(order, by_result)| {
                let moves: Vec<u8> = order.moves.iter().flat_map(|packed| packed.to_le_bytes()).collect();
                (String::from_utf8_lossy(&order.start).into_owned(), PyBytes::new(py, &moves), by_result)
            })
            .collect()
    }

    fn __len__(&self) -> usize {
        self.counts.lock().unwrap_or_else(PoisonError::into_inner).len()
    }
}
