//! The lossless PGN reader for Python: its columns, as numpy arrays.

use numpy::{IntoPyArray, PyArray1};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use variorum_core::manuscript::{self, FaultKind, Manuscript, TagFlaw, Weight};

/// What `read_manuscript` gives: one array a column, one row a token, tag, game, node, variation or fault. Offsets are
/// bytes of the text. -1 stands for "none". The meaning of each column stands in the core's `manuscript` module.
#[pyclass(frozen, get_all, module = "variorum._core")]
pub struct ManuscriptColumns {
    token_kind: Py<PyArray1<u8>>,
    token_start: Py<PyArray1<u32>>,
    token_end: Py<PyArray1<u32>>,
    token_value: Py<PyArray1<u16>>,
    token_node: Py<PyArray1<i32>>,
    token_variation: Py<PyArray1<i32>>,
    tag_token: Py<PyArray1<u32>>,
    tag_name_start: Py<PyArray1<u32>>,
    tag_name_end: Py<PyArray1<u32>>,
    tag_value_start: Py<PyArray1<u32>>,
    tag_value_end: Py<PyArray1<u32>>,
    tag_closed: Py<PyArray1<bool>>,
    game_first_token: Py<PyArray1<u32>>,
    game_tags_start: Py<PyArray1<u32>>,
    game_tags_end: Py<PyArray1<u32>>,
    game_root: Py<PyArray1<u32>>,
    game_start: Py<PyArray1<u8>>,
    game_result: Py<PyArray1<u8>>,
    game_result_token: Py<PyArray1<i32>>,
    game_complete: Py<PyArray1<bool>>,
    node_parent: Py<PyArray1<i32>>,
    node_token: Py<PyArray1<i32>>,
    node_move: Py<PyArray1<u16>>,
    node_ply: Py<PyArray1<u32>>,
    node_variation: Py<PyArray1<i32>>,
    node_key: Py<PyArray1<u64>>,
    variation_game: Py<PyArray1<u32>>,
    variation_open: Py<PyArray1<u32>>,
    variation_close: Py<PyArray1<i32>>,
    variation_outer: Py<PyArray1<i32>>,
    variation_depth: Py<PyArray1<u32>>,
    variation_branch: Py<PyArray1<u32>>,
    fault_kind: Py<PyArray1<u8>>,
    fault_start: Py<PyArray1<u32>>,
    fault_end: Py<PyArray1<u32>>,
    fault_game: Py<PyArray1<u32>>,
    fault_ply: Py<PyArray1<u32>>,
    fault_detail: Vec<String>,
}

/// A column made from the rows of a table.
fn column<'py, R, T: numpy::Element>(py: Python<'py>, rows: &[R], value: impl Fn(&R) -> T) -> Py<PyArray1<T>> {
    rows.iter().map(value).collect::<Vec<T>>().into_pyarray(py).unbind()
}

fn array<T: numpy::Element>(py: Python<'_>, values: Vec<T>) -> Py<PyArray1<T>> {
    values.into_pyarray(py).unbind()
}

impl ManuscriptColumns {
    fn new(py: Python<'_>, read: Manuscript) -> ManuscriptColumns {
        let Manuscript { tokens, token_node, token_variation, games, nodes, variations, faults } = read;
        ManuscriptColumns {
            token_kind: column(py, &tokens.kind, |kind| *kind as u8),
            token_start: column(py, &tokens.span, |span| span.start),
            token_end: column(py, &tokens.span, |span| span.end),
            token_value: array(py, tokens.value),
            token_node: array(py, token_node),
            token_variation: array(py, token_variation),
            tag_token: column(py, &tokens.tags, |tag| tag.token),
            tag_name_start: column(py, &tokens.tags, |tag| tag.name.start),
            tag_name_end: column(py, &tokens.tags, |tag| tag.name.end),
            tag_value_start: column(py, &tokens.tags, |tag| tag.value.start),
            tag_value_end: column(py, &tokens.tags, |tag| tag.value.end),
            tag_closed: column(py, &tokens.tags, |tag| tag.flaw != TagFlaw::Unclosed),
            game_first_token: array(py, games.first_token),
            game_tags_start: array(py, games.tags_start),
            game_tags_end: array(py, games.tags_end),
            game_root: array(py, games.root),
            game_start: column(py, &games.start, |start| *start as u8),
            game_result: column(py, &games.result, |result| *result as u8),
            game_result_token: array(py, games.result_token),
            game_complete: array(py, games.complete),
            node_parent: array(py, nodes.parent),
            node_token: array(py, nodes.token),
            node_move: column(py, &nodes.played, |played| played.0),
            node_ply: array(py, nodes.ply),
            node_variation: array(py, nodes.variation),
            node_key: array(py, nodes.key),
            variation_game: array(py, variations.game),
            variation_open: array(py, variations.open),
            variation_close: array(py, variations.close),
            variation_outer: array(py, variations.outer),
            variation_depth: array(py, variations.depth),
            variation_branch: array(py, variations.branch),
            fault_kind: column(py, &faults, |fault| fault.kind as u8),
            fault_start: column(py, &faults, |fault| fault.span.start),
            fault_end: column(py, &faults, |fault| fault.span.end),
            fault_game: column(py, &faults, |fault| fault.game),
            fault_ply: column(py, &faults, |fault| fault.ply),
            fault_detail: faults.into_iter().map(|fault| fault.detail).collect(),
        }
    }
}

/// Reads the bytes of a PGN text. `ValueError` when they are 2 GiB or more.
#[pyfunction]
pub fn read_manuscript(py: Python<'_>, text: &[u8]) -> PyResult<ManuscriptColumns> {
    let read = py.detach(|| manuscript::read(text)).map_err(|error| PyValueError::new_err(error.to_string()))?;
    Ok(ManuscriptColumns::new(py, read))
}

/// Code of each kind of fault, and whether it leaves something of the text out, by the numbers of `fault_kind`.
#[pyfunction]
pub fn manuscript_faults() -> Vec<(&'static str, bool)> {
    FaultKind::ALL.iter().map(|kind| (kind.code(), kind.weight() == Weight::Error)).collect()
}
