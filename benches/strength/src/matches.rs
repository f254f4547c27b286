//! Matches between two programs, each opening played with both colours.

use std::sync::{
    Mutex,
    atomic::{AtomicUsize, Ordering::Relaxed},
};

use shakmaty::{CastlingMode, Chess, Color, Position, fen::Fen, uci::UciMove};
use variorum_resident::Game;

use crate::program::Program;

/// How a match is played.
pub struct Terms {
    /// The words after `go`.
    pub go: String,
    /// Table of each program in MiB.
    pub hash_mb: usize,
    /// Games at the same time.
    pub at_once: usize,
}

/// A win is agreed when both sides saw it for so many plies.
const WIN_PLIES: usize = 6;
const WIN: i32 = 900;
/// Longer games are drawn.
const MOST_PLIES: usize = 400;

/// Points of the first program in the two games of each opening.
pub fn play(first: &str, second: &str, openings: &[String], terms: &Terms) -> Vec<[f64; 2]> {
    let next = AtomicUsize::new(0);
    let points = Mutex::new(vec![[f64::NAN; 2]; openings.len()]);
    std::thread::scope(|scope| {
        for _ in 0..terms.at_once {
            scope.spawn(|| {
                let mut programs = [first, second].map(|path| Program::start(path, terms.hash_mb, 1));
                loop {
                    let index = next.fetch_add(1, Relaxed);
                    let Some(opening) = openings.get(index) else { break };
                    let as_white = game(&mut programs, opening, &terms.go);
                    programs.reverse();
                    let as_black = 1.0 - game(&mut programs, opening, &terms.go);
                    programs.reverse();
                    let mut points = points.lock().expect("no thread panicked");
                    points[index] = [as_white, as_black];
                    let done: Vec<[f64; 2]> = points.iter().copied().filter(|pair| !pair[0].is_nan()).collect();
                    if done.len().is_multiple_of(20) {
                        eprintln!("{}", Standing::of(&done));
                    }
                }
            });
        }
    });
    points.into_inner().expect("no thread panicked")
}

/// One game; points of the first program, which has White.
fn game(programs: &mut [Program; 2], opening: &str, go: &str) -> f64 {
    let start: Fen = opening.parse().expect("openings are FENs");
    let mut game = Game::new(&start.into_position::<Chess>(CastlingMode::Standard).expect("openings are legal"));
    for program in programs.iter_mut() {
        program.begin_game();
    }
    let mut moves = String::new();
    let mut scores: Vec<i32> = Vec::new();
    loop {
        let position = game.position();
        let turn = position.turn();
        if position.is_checkmate() {
            return if turn.is_white() { 0.0 } else { 1.0 };
        }
        let drawn = position.is_stalemate() || position.is_insufficient_material();
        if drawn || game.board().halfmoves() >= 100 || game.times_seen() >= 3 || scores.len() >= MOST_PLIES {
            return 0.5;
        }
        if scores.len() >= WIN_PLIES {
            let last = &scores[scores.len() - WIN_PLIES..];
            if last.iter().all(|&score| score >= WIN) {
                return 1.0;
            }
            if last.iter().all(|&score| score <= -WIN) {
                return 0.0;
            }
        }
        let answer = programs[usize::from(turn.is_black())].ask(&format!("fen {opening} moves{moves}"), go);
        let read = answer.best.parse::<UciMove>().ok().and_then(|read| read.to_move(position).ok());
        let m = read.unwrap_or_else(|| panic!("illegal move {} after {opening}{moves}", answer.best));
        game.play(m.into()).expect("the rules library found the move legal");
        moves.push(' ');
        moves.push_str(&answer.best);
        scores.push(if turn == Color::White { answer.score } else { -answer.score });
    }
}

/// Score of a match as it stands.
pub struct Standing {
    games: usize,
    wins: usize,
    draws: usize,
    score: f64,
    /// Standard error of the score.
    error: f64,
}

impl Standing {
    /// From points by opening. The error is that of the mean of the openings' averages: the two games of an opening are
    /// not independent, different openings are.
    pub fn of(pairs: &[[f64; 2]]) -> Standing {
        let all = || pairs.iter().flatten();
        let count = pairs.len() as f64;
        let score = all().sum::<f64>() / (2.0 * count);
        let squares: f64 = pairs.iter().map(|pair| ((pair[0] + pair[1]) / 2.0 - score).powi(2)).sum();
        let error = (squares / (count - 1.0).max(1.0) / count).sqrt();
        Standing {
            games: 2 * pairs.len(),
            wins: all().filter(|&&points| points == 1.0).count(),
            draws: all().filter(|&&points| points == 0.5).count(),
            score,
            error,
        }
    }
}

/// Difference of ratings that a score means: −400 log10(1/s − 1), the logistic form of Elo's model (Elo, "The Rating of
/// Chessplayers, Past and Present", 1978, section 8.4).
pub fn elo(score: f64) -> f64 {
    let score = score.clamp(0.001, 0.999);
    -400.0 * (1.0 / score - 1.0).log10()
}

impl std::fmt::Display for Standing {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Standing { games, wins, draws, score, error } = self;
        let (low, high) = (elo(score - 1.96 * error), elo(score + 1.96 * error));
        write!(
            f,
            "{games} games: +{wins} ={draws} -{}, score {:.1} %, Elo {:+.0}, 95 % interval {low:+.0} to {high:+.0}",
            games - wins - draws,
            100.0 * score,
            elo(*score)
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Elo's table (The Rating of Chessplayers, section 2.11; from memory): three quarters of the points are about 190 to 193 points of rating.
    #[test]
    fn three_quarters_are_a_known_difference() {
        assert!((elo(0.75) - 190.8).abs() < 0.1);
        assert!(elo(0.5).abs() < 1e-9 && (elo(0.25) + elo(0.75)).abs() < 1e-9);
    }

    #[test]
    fn a_standing_counts_games_and_its_error_by_openings() {
        let standing = Standing::of(&[[1.0, 0.5], [0.0, 0.5], [1.0, 1.0]]);
        assert_eq!((standing.games, standing.wins, standing.draws), (6, 3, 2));
        assert!((standing.score - 4.0 / 6.0).abs() < 1e-12);
        // Means of the openings: 0.75, 0.25, 1; by hand: variance 7/48, error its root over the root of 3.
        assert!((standing.error - (7.0f64 / 48.0 / 3.0).sqrt()).abs() < 1e-12);
    }
}
