//! Helpers of the integration tests.

use std::path::PathBuf;

/// The text of a file of published check data.
#[must_use]
pub fn reference(name: &str) -> String {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/external/data").join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}
