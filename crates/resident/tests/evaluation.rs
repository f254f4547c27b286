//! The static evaluation: fair to both sides, and made of what its trace says.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use shakmaty::{CastlingMode, Chess, Color, Position, Setup, fen::Epd};
use variorum_resident::{
    Board, Evaluator, HandEvaluation,
    eval::{DANGER_SQUARE, DANGER_STRAIGHT, trace, weights},
};

/// The positions of two published suites (see tests/external/data/README.md).
fn positions() -> Vec<Chess> {
    let suites = [
        include_str!("../../../tests/external/data/wac.epd"),
        include_str!("../../../tests/external/data/bratko_kopec.epd"),
    ];
    suites
        .iter()
        .flat_map(|suite| suite.lines().filter(|line| !line.is_empty()))
        .map(|line| {
            let epd: Epd = line.splitn(5, ' ').take(4).collect::<Vec<_>>().join(" ").parse().unwrap();
            epd.into_position(CastlingMode::Standard).unwrap()
        })
        .collect()
}

/// The same position with the colours changed.
fn reversed(position: &Chess) -> Chess {
    let mut setup: Setup = position.to_setup(shakmaty::EnPassantMode::Legal);
    setup.mirror();
    setup.position(CastlingMode::Standard).unwrap()
}

#[test]
fn both_colours_are_judged_alike() {
    let mut evaluation = HandEvaluation::default();
    for position in positions() {
        let (board, twin) = (Board::from(&position), Board::from(&reversed(&position)));
        assert_eq!(evaluation.evaluate(&board), evaluation.evaluate(&twin), "{position:?}");
    }
}

#[test]
fn what_is_remembered_of_pawns_changes_nothing() {
    let mut used = HandEvaluation::default();
    for position in positions() {
        let board = Board::from(&position);
        let first = used.evaluate(&board);
        assert_eq!(used.evaluate(&board), first);
        assert_eq!(HandEvaluation::default().evaluate(&board), first);
    }
}

/// The fit works on traces: what it adds up has to be what the search hears.
#[test]
fn a_trace_adds_up_to_the_evaluation() {
    let (linear, danger) = weights();
    let mut evaluation = HandEvaluation::default();
    for position in positions() {
        let board = Board::from(&position);
        let trace = trace(&board);
        let mut total = [0, 0];
        for &(at, count) in &trace.linear {
            total[0] += linear[at as usize].0 * i32::from(count);
            total[1] += linear[at as usize].1 * i32::from(count);
        }
        for (side, sign) in [(0, 1), (1, -1)] {
            let sum: i32 = trace.danger[side].iter().map(|&(at, count)| danger[at as usize] * i32::from(count)).sum();
            let sum = sum.clamp(0, 1000);
            total[0] += sign * (sum * sum / DANGER_SQUARE);
            total[1] += sign * (sum / DANGER_STRAIGHT);
        }
        let blended = (total[0] * trace.phase + total[1] * trace.scale / 64 * (24 - trace.phase)) / 24 + trace.rest;
        assert_eq!(blended, trace.value);
        let sign = if board.turn() == Color::White { 1 } else { -1 };
        assert_eq!(evaluation.evaluate(&board), sign * trace.value);
    }
}
