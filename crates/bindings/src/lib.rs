//! The one crate that knows Python: module `variorum._core`. Thin on purpose: each file here wraps one subject of the
//! core or the resident; long work releases the GIL (`Python::detach`).

mod board;
mod graph;
mod manuscript;
mod near;
mod plans;
mod resident;
mod runs;
mod scan;
mod score_comment;
mod selfplay;
mod structures;

/// The compiled core of Variorum. Private: use the packages above it.
#[pyo3::pymodule]
mod _core {
    use pyo3::prelude::*;

    #[pymodule_export]
    use super::board::{Board, MoveFaultError};
    #[pymodule_export]
    use super::graph::{
        Course, GraphBuilder, GraphColumns, GraphCore, KeyCollisionError, interleavings, unpack_position,
    };
    #[pymodule_export]
    use super::manuscript::{ManuscriptColumns, manuscript_faults, read_manuscript};
    #[pymodule_export]
    use super::near::{near_pairs, units_apart};
    #[pymodule_export]
    use super::plans::{PlanTable, first_looks, pressure_on, trail_prints};
    #[pymodule_export]
    use super::resident::{Resident, ResidentIteration, ResidentLine, ResidentReport, StopFlag};
    #[pymodule_export]
    use super::runs::{OrderCounts, fingerprints, merge_runs, verify_hits};
    #[pymodule_export]
    use super::scan::{Scan, ScanBatch, ScanBrokenError, read_tags};
    #[pymodule_export]
    use super::score_comment::ScorePattern;
    #[pymodule_export]
    use super::selfplay::{PlayedGames, self_play};
    #[pymodule_export]
    use super::structures::{StructureCatalogue, square_language, square_languages, square_routes, structure_steps};

    /// Names of the faults of games, by their numbers; 0 is none.
    #[pymodule_export]
    const SCAN_FAULTS: [&str; 11] = variorum_core::scan::Fault::NAMES;

    /// Version and build profile of the compiled core.
    #[pyfunction]
    fn build_info() -> (&'static str, &'static str) {
        (env!("CARGO_PKG_VERSION"), if cfg!(debug_assertions) { "debug" } else { "release" })
    }
}
