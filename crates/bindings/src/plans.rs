//! Plans that games show, for Python.

use std::sync::{Mutex, MutexGuard, PoisonError};

use numpy::{IntoPyArray, PyArray1, PyArray2, PyReadonlyArray1, ndarray::Array2};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use shakmaty::{Chess, Position};
use variorum_core::plans::{self, MOST_PLIES, View};
use variorum_resident as resident;

use crate::board::Board;
use crate::runs::{StringColumn, games_of};
use crate::structures::StructureCatalogue;

type Given<'py, T> = PyReadonlyArray1<'py, T>;
type Column<'py, T> = Bound<'py, PyArray1<T>>;

/// The plans that games show from one position on; see `_core.pyi`.
#[pyclass(frozen, module = "variorum._core")]
pub struct PlanTable {
    place: Chess,
    horizon: usize,
    structures: Py<StructureCatalogue>,
    table: Mutex<plans::PlanTable>,
}

impl PlanTable {
    fn view(&self) -> View<'_> {
        View { place: &self.place, horizon: self.horizon, catalogue: self.structures.get().catalogue() }
    }

    fn open(&self) -> MutexGuard<'_, plans::PlanTable> {
        self.table.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[pymethods]
impl PlanTable {
    #[new]
    fn new(
        board: &Board,
        horizon: usize,
        structures: Py<StructureCatalogue>,
        parents: Given<'_, u32>,
        codes: Given<'_, u32>,
    ) -> PyResult<PlanTable> {
        if !(1..=MOST_PLIES).contains(&horizon) {
            return Err(PyValueError::new_err(format!("a horizon has 1 to {MOST_PLIES} plies")));
        }
        let table = plans::PlanTable::of(parents.as_slice()?, codes.as_slice()?).map_err(PyValueError::new_err)?;
        Ok(PlanTable { place: board.position().clone(), horizon, structures, table: Mutex::new(table) })
    }

    fn collect(
        &self,
        py: Python<'_>,
        starts: StringColumn<'_>,
        moves: StringColumn<'_>,
        rows: Given<'_, u32>,
        plies: Given<'_, u16>,
    ) -> PyResult<()> {
        let games = games_of(&starts, &moves)?;
        let (rows, plies) = (rows.as_slice()?, plies.as_slice()?);
        py.detach(|| self.open().collect(&games, rows, plies, self.view())).map_err(PyValueError::new_err)
    }

    fn columns<'py>(&self, py: Python<'py>) -> (Column<'py, u32>, Column<'py, u32>, Column<'py, u32>) {
        let columns = py.detach(|| self.open().columns().clone());
        (columns.parents.into_pyarray(py), columns.codes.into_pyarray(py), columns.counts.into_pyarray(py))
    }

    #[allow(clippy::type_complexity)] // a table and a column
    fn trace<'py>(
        &self,
        py: Python<'py>,
        starts: StringColumn<'py>,
        moves: StringColumn<'py>,
        rows: Given<'py, u32>,
        plies: Given<'py, u16>,
    ) -> PyResult<(Bound<'py, PyArray2<u8>>, Column<'py, u8>)> {
        let games = games_of(&starts, &moves)?;
        let (rows, plies) = (rows.as_slice()?, plies.as_slice()?);
        let (traced, width) = py
            .detach(|| {
                let table = self.open();
                let width = table.columns().codes.len();
                table.trace(&games, rows, plies, self.view()).map(|traced| (traced, width))
            })
            .map_err(PyValueError::new_err)?;
        let first = Array2::from_shape_vec((rows.len(), width), traced.first)
            .map_err(|error| PyValueError::new_err(error.to_string()))?;
        Ok((first.into_pyarray(py), traced.lengths.into_pyarray(py)))
    }
}

/// One number for what each game plays next; see `_core.pyi`.
#[pyfunction]
pub fn trail_prints<'py>(
    py: Python<'py>,
    starts: StringColumn<'py>,
    moves: StringColumn<'py>,
    rows: Given<'py, u32>,
    plies: Given<'py, u16>,
    most: usize,
) -> PyResult<Column<'py, u64>> {
    let games = games_of(&starts, &moves)?;
    let (rows, plies) = (rows.as_slice()?, plies.as_slice()?);
    let found = py.detach(|| plans::prints(&games, rows, plies, most)).map_err(PyValueError::new_err)?;
    Ok(found.into_pyarray(py))
}

/// What the resident thinks at first sight along each game; see `_core.pyi`.
#[pyfunction]
#[allow(clippy::too_many_arguments)] // columns
pub fn first_looks<'py>(
    py: Python<'py>,
    board: &Board,
    starts: StringColumn<'py>,
    moves: StringColumn<'py>,
    rows: Given<'py, u32>,
    plies: Given<'py, u16>,
    horizon: usize,
    threads: usize,
) -> PyResult<Bound<'py, PyArray2<i16>>> {
    let games = games_of(&starts, &moves)?;
    let (rows, plies) = (rows.as_slice()?, plies.as_slice()?);
    let values = py
        .detach(|| resident::first_looks(board.position(), &games, rows, plies, horizon, threads))
        .map_err(PyValueError::new_err)?;
    let values = Array2::from_shape_vec((rows.len(), horizon + 1), values)
        .map_err(|error| PyValueError::new_err(error.to_string()))?;
    Ok(values.into_pyarray(py))
}

/// How many units attack each isolated pawn of a board, by square from a1.
#[pyfunction]
pub fn pressure_on(board: &Board) -> Vec<u32> {
    plans::pressure_on(board.position().board()).to_vec()
}
