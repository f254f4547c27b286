//! From games to positions at rest.

use std::sync::Mutex;

use shakmaty::{CastlingMode, Chess, fen::Fen};
use variorum_resident::{Board, Game, Move, Random, Searcher, eval::Trace, eval::trace};

/// Plies at the beginning of a game from which nothing is taken: the start was drawn by chance.
const SKIPPED: usize = 4;
/// One position of so many is taken: neighbours say nearly the same.
const ONE_OF: u64 = 2;
/// Positions as far from balance as this teach nothing.
const DECIDED: i32 = 1500;

/// A position at rest and how its game ended.
pub struct Sample {
    /// What the weights are multiplied with.
    pub trace: Trace,
    /// Points of White: 0, ½ or 1.
    pub result: f64,
    /// Which game it is from.
    pub game: usize,
}

/// Takes positions from games, one line each as `games` writes them.
///
/// # Panics
///
/// When a line is not one that `games` writes.
pub fn sample(games: &[&str], threads: usize) -> Vec<Sample> {
    let all = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for part in 0..threads {
            let all = &all;
            scope.spawn(move || {
                let mut searcher = Searcher::new(1);
                for index in (part..games.len()).step_by(threads) {
                    let mut taken = Vec::new();
                    sample_game(games[index], index, &mut searcher, &mut taken);
                    all.lock().expect("no thread panicked").append(&mut taken);
                }
            });
        }
    });
    let mut all = all.into_inner().expect("no thread panicked");
    all.sort_by_key(|sample: &Sample| sample.game);
    all
}

fn sample_game(line: &str, index: usize, searcher: &mut Searcher, taken: &mut Vec<Sample>) {
    let mut fields = line.split('\t');
    let mut next = || fields.next().expect("start, result and moves");
    let start: Fen = next().parse().expect("a start");
    let result: f64 = next().parse().expect("a result");
    let moves = next();
    let start: Chess = start.into_position(CastlingMode::Standard).expect("a legal start");
    let mut game = Game::new(&start);
    let mut random = Random::stream(1, index as u64);
    for (ply, digits) in moves.as_bytes().chunks(4).enumerate() {
        let digits = std::str::from_utf8(digits).expect("hexadecimal digits");
        let m = Move(u16::from_str_radix(digits, 16).expect("hexadecimal digits"));
        game.play(m).expect("a legal move");
        if ply < SKIPPED || random.below(ONE_OF) != 0 || game.board().is_check() {
            continue;
        }
        let (value, captures) = searcher.quiesce(game.board());
        let end = captures.into_iter().fold(*game.board(), |board: Board, m| board.play(m));
        if value.abs() < DECIDED && !end.is_check() && !end.is_dead() {
            taken.push(Sample { trace: trace(&end), result, game: index });
        }
    }
}
