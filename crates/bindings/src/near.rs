//! Near positions and reversed twins for Python.

use std::ops::ControlFlow;

use numpy::{IntoPyArray, PyArray1, PyReadonlyArray1};
use pyo3::exceptions::{PyKeyboardInterrupt, PyValueError};
use pyo3::prelude::*;
use shakmaty::Position;
use variorum_core::graph::{PACKED_BYTES, unpack};
use variorum_core::near::{Columns, Pairs, Placement, Setting, difference, find_pairs, pairs_of};

use crate::board::Board;
use crate::graph::GraphCore;

type Given<'py, T> = PyReadonlyArray1<'py, T>;
/// Whether it is a group of twins, how many units differ, how many pairs, and the best of them.
type GroupFields = (bool, u8, u64, Vec<(u32, u32, f64)>);
type Found = (Vec<GroupFields>, u64, u64, u64);

/// All pairs, or those of one node; see `_core.pyi`.
#[pyfunction]
#[allow(clippy::too_many_arguments)] // columns
#[pyo3(signature = (graph, packed, values, noise, flow, roots, *, node, limit, callback=None))]
pub fn near_pairs(
    py: Python<'_>,
    graph: &GraphCore,
    packed: Given<'_, u8>,
    values: Given<'_, f64>,
    noise: Given<'_, f64>,
    flow: Given<'_, f64>,
    roots: Given<'_, u32>,
    node: Option<u32>,
    limit: usize,
    callback: Option<Py<PyAny>>,
) -> PyResult<Found> {
    let columns = Columns {
        packed: packed.as_slice()?,
        values: values.as_slice()?,
        noise: noise.as_slice()?,
        flow: flow.as_slice()?,
        roots: roots.as_slice()?,
    };
    py.detach(|| {
        let (edges, incoming) = graph.edges();
        let setting = Setting::new(columns, edges, incoming)
            .ok_or_else(|| PyValueError::new_err("columns are not those of one graph of positions"))?;
        if let Some(node) = node {
            if node as usize >= setting.nodes() {
                return Err(PyValueError::new_err(format!("{node} is no node of the graph")));
            }
            return Ok(fields(pairs_of(&setting, node, limit)));
        }
        let setting = setting.for_all_pairs();
        let mut fault = None;
        let found = find_pairs(&setting, limit, &mut |done, parts| {
            let go_on = Python::attach(|py| {
                py.check_signals()?;
                callback.as_ref().map_or(Ok(true), |callback| callback.bind(py).call1((done, parts))?.is_truthy())
            });
            match go_on {
                Ok(true) => return ControlFlow::Continue(()),
                Ok(false) => {}
                Err(error) => fault = Some(error),
            }
            ControlFlow::Break(())
        });
        match (found, fault) {
            (_, Some(fault)) => Err(fault),
            (Ok(found), None) => Ok(fields(found)),
            (Err(_), None) => Err(PyKeyboardInterrupt::new_err("stopped")),
        }
    })
}

fn fields(found: Pairs) -> Found {
    let groups = found
        .groups
        .into_iter()
        .map(|group| {
            let pairs = group.pairs.iter().map(|pair| (pair.here, pair.there, pair.interest)).collect();
            (group.twin, group.difference.units, group.count, pairs)
        })
        .collect();
    (groups, found.near, found.twins, found.all_groups)
}

/// In how many units packed positions differ from a board; see `_core.pyi`.
#[pyfunction]
pub fn units_apart<'py>(py: Python<'py>, board: &Board, packed: Given<'py, u8>) -> PyResult<Bound<'py, PyArray1<u8>>> {
    let own = Placement::new(board.position().board());
    let (positions, rest) = packed.as_slice()?.as_chunks::<PACKED_BYTES>();
    if !rest.is_empty() {
        return Err(PyValueError::new_err("these bytes are no packed positions"));
    }
    let apart: Option<Vec<u8>> = py.detach(|| {
        let units = |bytes| {
            let other = Placement::new(unpack(bytes)?.board());
            Some(difference(&own, &other).map_or(u8::MAX, |difference| difference.units))
        };
        positions.iter().map(units).collect()
    });
    let apart = apart.ok_or_else(|| PyValueError::new_err("these bytes are no packed positions"))?;
    Ok(apart.into_pyarray(py))
}
