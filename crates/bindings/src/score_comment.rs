//! Scores in the comments of engine games, for Python.

use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use variorum_core::score_comment as core;

/// A pattern that reads score, depth and time from the start of a comment.
#[pyclass(frozen, module = "variorum._core")]
pub struct ScorePattern {
    pattern: core::ScorePattern,
}

#[pymethods]
impl ScorePattern {
    #[new]
    fn new(pattern: &str) -> PyResult<Self> {
        match core::ScorePattern::new(pattern) {
            Ok(pattern) => Ok(Self { pattern }),
            Err(error) => Err(PyValueError::new_err(error.to_string())),
        }
    }

    /// `(cp, mate, depth, seconds)`, or `None` when the comment tells no score.
    #[allow(clippy::type_complexity)] // four plain values, named in the stub
    fn read(&self, comment: &str) -> Option<(Option<i32>, Option<i32>, Option<u32>, Option<f64>)> {
        let note = self.pattern.read(comment)?;
        let (cp, mate) = match note.score {
            core::NotedScore::Cp(cp) => (Some(cp), None),
            core::NotedScore::Mate(moves) => (None, Some(moves)),
        };
        Some((cp, mate, note.depth, note.seconds))
    }
}
