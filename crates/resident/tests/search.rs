//! What the search answers: suites at fixed nodes, mates, draws by rule, and the same answer each time.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::{ops::ControlFlow, sync::atomic::AtomicBool, time::Duration};

use shakmaty::{CastlingMode, Chess, Position, fen::Epd, fen::Fen, san::San, uci::UciMove};
use variorum_resident::{Game, Limits, Move, Question, Report, Score, Searcher};

fn position(fen: &str) -> Chess {
    fen.parse::<Fen>().unwrap().into_position(CastlingMode::Standard).unwrap()
}

fn ask(searcher: &mut Searcher, game: &Game, question: &Question) -> Report {
    searcher.forget();
    searcher.search(game, question, &AtomicBool::new(false), &mut |_| ControlFlow::Continue(()))
}

fn search(fen: &str, limits: Limits) -> Report {
    ask(&mut Searcher::new(8), &Game::new(&position(fen)), &Question::best(limits))
}

fn move_of(game: &Game, uci: &str) -> Move {
    uci.parse::<UciMove>().unwrap().to_move(game.position()).unwrap().into()
}

fn play(game: &mut Game, line: &str) {
    for uci in line.split(' ') {
        game.play(move_of(game, uci)).unwrap();
    }
}

/// Under the smallest limits no reply is searched: the score must know all the same that a capture is answered. White
/// wins a bishop for a rook by Rxe7, which is a loss (common practice, no source: a rook is worth more than a bishop).
#[test]
fn the_smallest_limits_know_that_a_capture_is_answered() {
    let fen = "r2q1rk1/pp1bbppp/2n5/3p4/3P4/3B1N2/PP3PPP/R1BQR1K1 w - - 0 12";
    for nodes in [1, 50, 200] {
        let game = Game::new(&position(fen));
        let question = Question { limits: Limits::nodes(nodes), lines: 50, only: Vec::new() };
        let report = ask(&mut Searcher::new(8), &game, &question);
        let takes = move_of(&game, "e1e7");
        let taking = report.lines.iter().find(|line| line.moves[0] == takes).unwrap();
        assert!(matches!(taking.score, Score::Centipawns(value) if value < -50), "{:?}", taking.score);
        assert_ne!(report.best().unwrap(), takes);
    }
}

/// How many of every `step`-th position of an EPD suite (see tests/external/data/README.md) are solved.
fn solved(suite: &str, step: usize, nodes: u64) -> (usize, usize) {
    let mut searcher = Searcher::new(16);
    let (mut solved, mut total) = (0, 0);
    for line in suite.lines().filter(|line| !line.is_empty()).step_by(step) {
        let fields: Vec<&str> = line.splitn(5, ' ').collect();
        let epd: Epd = fields[..4].join(" ").parse().unwrap();
        let position: Chess = epd.into_position(CastlingMode::Standard).unwrap();
        let (operation, operand) = fields[4].split_once(';').unwrap().0.split_once(' ').unwrap();
        let named: Vec<Move> = operand
            .split_whitespace()
            .map(|san| san.parse::<San>().unwrap().to_move(&position).unwrap().into())
            .collect();
        let best = ask(&mut searcher, &Game::new(&position), &Question::best(Limits::nodes(nodes))).best().unwrap();
        solved += usize::from(named.contains(&best) == (operation == "bm"));
        total += 1;
    }
    (solved, total)
}

/// Reinfeld, "Win at Chess", 1958: a third of the positions at a small fixed effort.
#[test]
fn win_at_chess_at_fixed_nodes() {
    let (solved, total) = solved(include_str!("../../../tests/external/data/wac.epd"), 3, 40_000);
    assert!(total == 100 && solved >= 75, "{solved} of {total}");
}

#[test]
fn the_same_answer_each_time_whatever_was_searched_before() {
    let question = Question { limits: Limits::nodes(30_000), lines: 3, only: Vec::new() };
    let game = Game::new(&position("r1bqkb1r/pp3ppp/2n1pn2/3p4/2PP4/2N2N2/PP3PPP/R1BQKB1R w KQkq - 0 7"));
    let fresh = ask(&mut Searcher::new(8), &game, &question);
    let mut used = Searcher::new(8);
    // More searches than the table can count.
    for _ in 0..300 {
        ask(&mut used, &Game::new(&Chess::default()), &Question::best(Limits::nodes(200)));
    }
    assert_eq!(ask(&mut used, &game, &question), fresh);
    assert_eq!(ask(&mut used, &game, &question), fresh);
    assert_eq!(fresh.nodes, 30_000);
}

#[test]
fn limits_are_kept() {
    let start = Game::new(&Chess::default());
    let mut searcher = Searcher::new(1);
    assert_eq!(ask(&mut searcher, &start, &Question::best(Limits::depth(5))).depth, 5);
    let time = Limits { time: Some(Duration::from_millis(1)), ..Limits::default() };
    assert!(ask(&mut searcher, &start, &Question::best(time)).best().is_some());
    // A single node is not enough for anything, yet there is a move.
    assert!(ask(&mut searcher, &start, &Question::best(Limits::nodes(1))).best().is_some());
    let stopped =
        searcher.search(&start, &Question::best(Limits::default()), &AtomicBool::new(false), &mut |iteration| {
            if iteration.depth == 4 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        });
    assert_eq!(stopped.depth, 4);
    let before = ask(&mut searcher, &start, &Question::best(Limits::nodes(100)));
    searcher.forget();
    let raised = searcher
        .search(&start, &Question::best(Limits::default()), &AtomicBool::new(true), &mut |_| ControlFlow::Continue(()));
    assert!(raised.best().is_some() && before.best().is_some());
}

#[test]
fn mates_are_exact_and_their_lines_complete() {
    // Own positions, each with its shortest mate: back rank; two rooks; queen and king; smothered by a knight.
    for (fen, moves) in [
        ("6k1/5ppp/8/8/8/8/5PPP/3R2K1 w - - 0 1", 1),
        ("7k/8/8/8/8/8/R7/1R4K1 w - - 0 1", 2),
        ("k7/8/2K5/8/8/8/8/1Q6 w - - 0 1", 1),
        ("5r1k/6pp/7N/3Q4/8/8/6PP/6K1 w - - 0 1", 2),
        ("3r2k1/5ppp/8/8/8/8/5PPP/6K1 b - - 0 1", 1),
    ] {
        let report = search(fen, Limits::depth(8));
        assert_eq!(report.lines[0].score, Score::Mate(moves), "{fen}");
        let mut game = Game::new(&position(fen));
        for &m in &report.lines[0].moves {
            game.play(m).unwrap();
        }
        assert!(game.position().is_checkmate(), "{fen}");
        assert_eq!(report.lines[0].moves.len() as i32, 2 * moves - 1);
    }
    let mated = search("R5k1/5ppp/8/8/8/8/6PP/6K1 b - - 0 1", Limits::depth(3));
    assert_eq!((mated.lines[0].score, mated.best()), (Score::Mate(0), None));
    let stalemate = search("7k/5Q2/6K1/8/8/8/8/8 b - - 0 1", Limits::depth(3));
    assert_eq!((stalemate.lines[0].score, stalemate.best()), (Score::Centipawns(0), None));
}

#[test]
fn lines_differ_in_their_first_moves_and_come_best_first() {
    let fen = "r1bqkb1r/pp3ppp/2n1pn2/3p4/2PP4/2N2N2/PP3PPP/R1BQKB1R w KQkq - 0 7";
    let mut searcher = Searcher::new(8);
    let game = Game::new(&position(fen));
    let all = ask(&mut searcher, &game, &Question { limits: Limits::depth(4), lines: 100, only: Vec::new() });
    assert_eq!(all.lines.len(), game.position().legal_moves().len());
    let firsts: std::collections::HashSet<Move> = all.lines.iter().map(|line| line.moves[0]).collect();
    assert_eq!(firsts.len(), all.lines.len());
    assert!(all.lines.is_sorted_by_key(|line| -line.score.value()));
    let only = vec![move_of(&game, "c1g5"), move_of(&game, "a2a3")];
    let two = ask(&mut searcher, &game, &Question { limits: Limits::depth(4), lines: 5, only: only.clone() });
    assert_eq!(two.lines.len(), 2);
    assert!(two.lines.iter().all(|line| only.contains(&line.moves[0])));
}

/// Every line is searched with an open window, so that its score is its own and no bound.
#[test]
fn each_line_is_a_whole_search_of_its_move() {
    // Mates in one, two and three moves are told apart, so each line was searched with an open window.
    let game = Game::new(&position("7k/8/8/8/8/8/R7/1R4K1 w - - 0 1"));
    let report = ask(&mut Searcher::new(8), &game, &Question { limits: Limits::depth(6), lines: 4, only: Vec::new() });
    let scores: Vec<Score> = report.lines.iter().map(|line| line.score).collect();
    assert!(scores.contains(&Score::Mate(2)) && scores.contains(&Score::Mate(3)), "{scores:?}");
}

/// FIDE Laws of Chess, 9.2: the third appearance of a position draws. A move that gives it is worth nothing.
#[test]
fn repetition_counts_the_game_s_history() {
    let mut game = Game::new(&position("6k1/8/8/8/8/8/r7/3QK3 w - - 0 1"));
    play(&mut game, "d1d4 a2a1 e1e2 a1a2 e2e1 a2a1 e1e2 a1a2");
    assert_eq!(game.times_seen(), 2);
    let back = move_of(&game, "e2e1");
    let question = |only: Vec<Move>| Question { limits: Limits::depth(1), lines: 1, only };
    let mut searcher = Searcher::new(8);
    let drawn = ask(&mut searcher, &game, &question(vec![back]));
    // The position after Ke1 stood on the board twice before.
    assert_eq!(drawn.lines[0].score, Score::Centipawns(0));
    let fresh = Game::new(game.position());
    assert_ne!(ask(&mut searcher, &fresh, &question(vec![back])).lines[0].score, Score::Centipawns(0));
}

/// FIDE Laws of Chess, 9.3: fifty moves by each player without capture or pawn move; 5.1.1: mate on the last one stands.
#[test]
fn fifty_moves_draw_but_mate_comes_first() {
    // Rook against king with the clock almost out: no mate in time.
    let late = search("8/8/8/3k4/8/8/8/R3K3 w - - 97 120", Limits::depth(8));
    assert_eq!(late.lines[0].score, Score::Centipawns(0));
    let mate = search("7k/8/6K1/8/8/8/8/R7 w - - 99 120", Limits::depth(6));
    assert_eq!(mate.lines[0].score, Score::Mate(1));
}

#[test]
fn neither_side_can_win_without_material() {
    for fen in ["8/8/4k3/8/8/3BK3/8/8 w - - 0 1", "8/8/4k3/8/8/3NK3/8/8 b - - 0 1"] {
        assert_eq!(search(fen, Limits::depth(6)).lines[0].score, Score::Centipawns(0));
    }
}

/// Passing would save the side that must move: the search must not believe that it may. (The trebuchet, a mutual
/// zugzwang of endgame theory: who moves loses the pawn and the game.)
#[test]
fn zugzwang_is_not_passed_over() {
    let to_move_loses = "8/8/8/3pK3/2kP4/8/8/8";
    let white = search(&format!("{to_move_loses} w - - 0 1"), Limits::depth(14));
    let black = search(&format!("{to_move_loses} b - - 0 1"), Limits::depth(14));
    assert!(white.lines[0].score.value() < -200, "{:?}", white.lines[0]);
    assert!(black.lines[0].score.value() < -200, "{:?}", black.lines[0]);
}

/// Threads change what is searched, not what is promised.
#[test]
fn several_threads_answer_like_one() {
    let mut searcher = Searcher::new(8);
    searcher.set_threads(3);
    let mate = Game::new(&position("5r1k/6pp/7N/3Q4/8/8/6PP/6K1 w - - 0 1"));
    assert_eq!(ask(&mut searcher, &mate, &Question::best(Limits::depth(8))).lines[0].score, Score::Mate(2));
    let game = Game::new(&position("r1bqkb1r/pp3ppp/2n1pn2/3p4/2PP4/2N2N2/PP3PPP/R1BQKB1R w KQkq - 0 7"));
    let report = ask(&mut searcher, &game, &Question { limits: Limits::nodes(60_000), lines: 2, only: Vec::new() });
    assert_eq!(report.lines.len(), 2);
    // Nodes are counted together, by a thousand or so at a time.
    assert!((50_000..90_000).contains(&report.nodes), "{}", report.nodes);
    let mut replay = game.clone();
    for &m in &report.lines[0].moves {
        replay.play(m).unwrap();
    }
    searcher.set_threads(1);
    let again = ask(&mut searcher, &game, &Question::best(Limits::nodes(20_000)));
    assert_eq!(again, ask(&mut Searcher::new(8), &game, &Question::best(Limits::nodes(20_000))));
}
