//! Structures and square language for Python.

use numpy::{IntoPyArray, PyArray1, PyReadonlyArray1};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use shakmaty::{Color, Position};
use variorum_core::squares::{Language, Route, language, languages, routes};
use variorum_core::structures::{Break, Catalogue, Entry, Ground, Skeleton, WEIGHTS, Weights, pawns_of, steps};

use crate::board::Board;
use crate::graph::Course;

type Given<'py, T> = PyReadonlyArray1<'py, T>;
/// Whether White plays it, kind of unit (1 pawn to 6 king), file it comes from (8 for other units than pawns), square, whether it takes.
type BreakFields = (bool, u8, u8, u8, bool);
type StepFields = (u16, u16, BreakFields, Option<BreakFields>, Weights);

/// Named pawn skeletons, compiled once.
#[pyclass(frozen, module = "variorum._core")]
pub struct StructureCatalogue {
    catalogue: Catalogue,
}

impl StructureCatalogue {
    /// The catalogue itself, for the other files of this crate.
    pub fn catalogue(&self) -> &Catalogue {
        &self.catalogue
    }
}

#[pymethods]
impl StructureCatalogue {
    #[new]
    fn new(entries: Vec<(String, String, bool)>) -> PyResult<StructureCatalogue> {
        let entries = entries
            .into_iter()
            .map(|(white, black, of_white)| {
                let skeleton =
                    Skeleton::parse(&white, &black).map_err(|fault| PyValueError::new_err(fault.to_string()))?;
                Ok(Entry { skeleton, side: Color::from_white(of_white) })
            })
            .collect::<PyResult<Vec<_>>>()?;
        Ok(StructureCatalogue { catalogue: Catalogue::new(entries) })
    }

    fn recognise(&self, board: &Board) -> Option<(u16, u8)> {
        let (white, black) = pawns_of(board.position().board());
        self.catalogue.recognise(white, black).map(|found| (found.structure, found.holder as u8))
    }

    fn codes<'py>(&self, py: Python<'py>, packed: Given<'py, u8>) -> PyResult<Bound<'py, PyArray1<u16>>> {
        let (positions, rest) = packed.as_slice()?.as_chunks();
        let codes = if rest.is_empty() { py.detach(|| self.catalogue.codes(positions)) } else { None };
        Ok(codes.ok_or_else(|| PyValueError::new_err("these bytes are no packed positions"))?.into_pyarray(py))
    }

    fn order(&self) -> Vec<u16> {
        self.catalogue.order().collect()
    }
}

/// Traffic between structures; see `_core.pyi`.
#[pyfunction]
pub fn structure_steps(
    py: Python<'_>,
    course: &Course,
    packed: Given<'_, u8>,
    codes: Given<'_, u16>,
    moves: Given<'_, u16>,
    weights: Given<'_, f64>,
) -> PyResult<Vec<StepFields>> {
    let (positions, no_position) = packed.as_slice()?.as_chunks();
    let (weights, no_weights) = weights.as_slice()?.as_chunks::<WEIGHTS>();
    let (codes, moves) = (codes.as_slice()?, moves.as_slice()?);
    if !no_position.is_empty() || !no_weights.is_empty() {
        return Err(PyValueError::new_err("columns of structures are not whole"));
    }
    py.detach(|| {
        let (edges, course) = course.laid();
        let found = steps(&Ground { edges, course, positions, codes, moves, weights })
            .map_err(|fault| PyValueError::new_err(fault.to_string()))?;
        Ok(found
            .into_iter()
            .map(|step| (step.from, step.to, break_fields(step.by), step.retaken.map(break_fields), step.weights))
            .collect())
    })
}

fn break_fields(by: Break) -> BreakFields {
    (by.white, by.role as u8, by.file, u8::from(by.to), by.takes)
}

/// What is said of one side, as numbers; the order is that of `_core.pyi`.
const WORDS: usize = 10;

fn words(side: &Language) -> [u64; WORDS] {
    let Language { holes, outposts, isolated, backward, doubled, bad_bishops, levers, open, half_open, space } = *side;
    let [open, half_open, space] = [open, half_open, space].map(u64::from);
    [holes, outposts, isolated, backward, doubled, bad_bishops, levers, open, half_open, space]
}

/// Square language of packed positions: numbers of White and Black, one position after the other.
#[pyfunction]
pub fn square_languages<'py>(py: Python<'py>, packed: Given<'py, u8>) -> PyResult<Bound<'py, PyArray1<u64>>> {
    let (positions, rest) = packed.as_slice()?.as_chunks();
    let found = if rest.is_empty() { py.detach(|| languages(positions)) } else { None };
    let found = found.ok_or_else(|| PyValueError::new_err("these bytes are no packed positions"))?;
    let numbers: Vec<u64> = found.iter().flatten().flat_map(words).collect();
    Ok(numbers.into_pyarray(py))
}

/// Square language of a board: White's numbers and Black's.
#[pyfunction]
pub fn square_language(board: &Board) -> [[u64; WORDS]; 2] {
    language(board.position().board()).each_ref().map(words)
}

/// Knights and bishops that can come to squares: to, moves, kind (2 knight, 3 bishop), from.
#[pyfunction]
pub fn square_routes(board: &Board, white: bool, targets: u64) -> Vec<(u8, u8, u8, u8)> {
    routes(board.position().board(), Color::from_white(white), targets)
        .into_iter()
        .map(|Route { to, moves, role, from }| (u8::from(to), moves, role as u8, u8::from(from)))
        .collect()
}
