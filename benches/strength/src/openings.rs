//! Balanced openings: a few plies drawn from the resident's best moves, kept if the resident finds them level.

use std::{collections::HashSet, ops::ControlFlow, sync::atomic::AtomicBool};

use shakmaty::{Chess, Color, EnPassantMode, Move, Position, Role, Square, fen::Fen};
use variorum_resident::{Game, Limits, Question, Random, Searcher};

const PLIES: usize = 8;
/// Moves drawn from, each by chance alike.
const CHOICES: usize = 6;
/// How much worse than the best a drawn move may be, in centipawns.
const MARGIN: i32 = 45;
const LEVEL: i32 = 35;

/// Prints so many different openings.
pub fn print(count: usize, seed: u64) {
    let mut random = Random::new(seed);
    let mut searcher = Searcher::new(16);
    let mut seen = HashSet::new();
    while seen.len() < count {
        if let Some(game) = draw(&mut random, &mut searcher)
            && seen.insert(game.board().key())
        {
            println!("{}", Fen::from_position(game.position(), EnPassantMode::Legal));
        }
    }
}

fn draw(random: &mut Random, searcher: &mut Searcher) -> Option<Game> {
    let mut game = Game::new(&Chess::default());
    let mut kings_pawn = false;
    for _ in 0..PLIES {
        let report = ask(searcher, &game, 20_000, CHOICES);
        let best = report.lines[0].score.value();
        let good: Vec<_> = report.lines.iter().filter(|line| best - line.score.value() <= MARGIN).collect();
        let m = random.pick(&good).moves[0];
        let legal = m.to_shakmaty(game.position())?;
        // A set-up that this project leaves alone.
        kings_pawn |= is_pawn_to(&legal, Color::White, game.position().turn(), Square::E4);
        if kings_pawn && is_pawn_to(&legal, Color::Black, game.position().turn(), Square::G6) {
            return None;
        }
        game.play(m).ok()?;
    }
    let report = ask(searcher, &game, 200_000, 1);
    (report.lines[0].score.value().abs() <= LEVEL).then_some(game)
}

fn is_pawn_to(m: &Move, color: Color, turn: Color, square: Square) -> bool {
    turn == color && m.role() == Role::Pawn && m.to() == square
}

fn ask(searcher: &mut Searcher, game: &Game, nodes: u64, lines: usize) -> variorum_resident::Report {
    searcher.forget();
    let question = Question { limits: Limits::nodes(nodes), lines, only: Vec::new() };
    searcher.search(game, &question, &AtomicBool::new(false), &mut |_| ControlFlow::Continue(()))
}
