//! Structures for Python.

use numpy::{IntoPyArray, PyArray1, PyReadonlyArray1};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use shakmaty::{Color, Position};
use variorum_core::structures::{Catalogue, Entry, Skeleton, pawns_of};

use crate::board::Board;

/// Named pawn skeletons, compiled once.
#[pyclass(frozen, module = "variorum._core")]
pub struct StructureCatalogue {
    catalogue: Catalogue,
}

impl StructureCatalogue {
    /// The catalogue itself, for the other files of this crate.
    #[allow(dead_code)] // plans look structures up
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

    fn codes<'py>(&self, py: Python<'py>, packed: PyReadonlyArray1<'py, u8>) -> PyResult<Bound<'py, PyArray1<u16>>> {
        let (positions, rest) = packed.as_slice()?.as_chunks();
        let codes = if rest.is_empty() { py.detach(|| self.catalogue.codes(positions)) } else { None };
        Ok(codes.ok_or_else(|| PyValueError::new_err("these bytes are no packed positions"))?.into_pyarray(py))
    }

    fn order(&self) -> Vec<u16> {
        self.catalogue.order().collect()
    }
}
