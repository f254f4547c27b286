//! Counts of move paths against published tables: the "Perft Results" and "Chess960 Perft Results" pages of the Chess
//! Programming Wiki and public suites, as described in `tests/external/data/README.md`.

mod common;

use rayon::prelude::*;
use shakmaty::{CastlingMode, perft};
use variorum_core::fen::read_fen;

/// Larger counts are left to the ignored test, so that the whole stays within seconds.
const CAP: u64 = 20_000_000;
/// The ignored test goes this far; beyond lie minutes for each count.
const FAR_CAP: u64 = 1_000_000_000;

struct Count {
    fen: String,
    depth: u32,
    nodes: u64,
}

fn counts(file: &str) -> Vec<Count> {
    let mut found = Vec::new();
    for line in common::reference(file).lines() {
        let mut parts = line.split(';').map(str::trim);
        let fen = parts.next().expect("a FEN").to_owned();
        for part in parts {
            let (depth, nodes) = part.split_once(' ').expect("depth and count");
            found.push(Count {
                fen: fen.clone(),
                depth: depth.strip_prefix('D').expect("D before the depth").parse().expect("a depth"),
                nodes: nodes.trim().parse().expect("a count"),
            });
        }
    }
    found
}

/// Compares every count within the limits; returns how many there were.
fn compare(file: &str, mode: CastlingMode, least: u64, most: u64) -> usize {
    let chosen: Vec<Count> = counts(file).into_iter().filter(|c| c.nodes > least && c.nodes <= most).collect();
    let wrong: Vec<String> = chosen
        .par_iter()
        .filter_map(|count| {
            let position = match read_fen(count.fen.as_bytes(), mode) {
                Ok(position) => position,
                Err(fault) => return Some(format!("{}: {fault}", count.fen)),
            };
            let nodes = perft(&position, count.depth);
            (nodes != count.nodes)
                .then(|| format!("{} depth {}: {nodes}, published {}", count.fen, count.depth, count.nodes))
        })
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    chosen.len()
}

#[test]
fn standard_positions() {
    assert_eq!(compare("perft.epd", CastlingMode::Standard, 0, CAP), 772);
}

#[test]
fn awkward_positions() {
    assert_eq!(compare("perft_tricky.epd", CastlingMode::Chess960, 0, CAP), 52);
}

#[test]
fn chess960_positions() {
    assert_eq!(compare("perft_chess960.epd", CastlingMode::Chess960, 0, CAP), 192);
}

#[test]
#[ignore = "39 counts between twenty million and a thousand million: minutes"]
fn deep_counts() {
    compare("perft.epd", CastlingMode::Standard, CAP, FAR_CAP);
}
