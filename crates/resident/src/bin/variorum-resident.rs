//! The resident as a UCI program on standard input and output.

use std::io::{stdin, stdout};

fn main() -> std::io::Result<()> {
    variorum_resident::uci::run(stdin().lock(), stdout())
}
