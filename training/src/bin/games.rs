//! Games of the resident against itself, from random but not yet decided starts: the data of the fit.
//!
//! `games OUT COUNT NODES SEED [THREADS]` appends one line a game: the start as FEN, the result for White (1, 0.5, 0) and
//! the moves, each as four hexadecimal digits. The same seed gives the same games.

use std::{
    fs::OpenOptions,
    io::{BufWriter, Write},
    ops::ControlFlow,
    sync::atomic::AtomicBool,
};

use shakmaty::{Chess, Color, EnPassantMode, Position, fen::Fen};
use variorum_resident::{
    Game, Limits, Question, Random, Searcher,
    selfplay::{Agreement, Event, Opening, Plan, Rules, Strength, Variety, play_all},
};

/// Random plies before a game begins: so many, or one more.
const RANDOM_PLIES: u64 = 7;
/// A start in which one side is ahead by more centipawns is not played.
const DECIDED: i32 = 250;
const GAMES_AT_ONCE: usize = 500;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [out, numbers @ ..] = arguments.as_slice() else {
        eprintln!("usage: games OUT COUNT NODES SEED [THREADS]");
        std::process::exit(2);
    };
    let numbers: Vec<u64> = numbers.iter().map(|text| text.parse().expect("a whole number")).collect();
    let &[count, nodes, seed, ref threads @ ..] = numbers.as_slice() else {
        eprintln!("COUNT, NODES and SEED are needed");
        std::process::exit(2);
    };
    let threads = threads.first().map_or(1, |&threads| threads as usize);
    let file = OpenOptions::new().create(true).append(true).open(out).expect("the file can be written");
    let mut file = BufWriter::new(file);
    let mut random = Random::new(seed);
    let mut searcher = Searcher::new(2);
    let mut done = 0;
    while done < count {
        let openings: Vec<Opening> = (0..GAMES_AT_ONCE.min((count - done) as usize))
            .map(|_| Opening::new(start(&mut random, &mut searcher), Vec::new()).expect("no moves, none illegal"))
            .collect();
        let strength = Strength { nodes, temperature: 0 };
        let plans: Vec<Plan> = (0..openings.len())
            .map(|opening| Plan { opening, white: strength, black: strength, seed: random.bits() })
            .collect();
        let rules = Rules {
            variety: Variety { plies: 0, temperature: 0, margin: 0 },
            win: Some(Agreement { centipawns: 700, plies: 6, from_ply: 20 }),
            draw: Some(Agreement { centipawns: 8, plies: 16, from_ply: 80 }),
            ..Rules::default()
        };
        let games = play_all(&openings, &plans, &rules, threads, &mut |_: Event<'_>| ControlFlow::Continue(()));
        for (opening, game) in openings.iter().zip(games) {
            let Some(game) = game else { continue };
            let Some(winner) = game.winner else { continue };
            let result = match winner {
                Some(Color::White) => "1",
                Some(Color::Black) => "0",
                None => "0.5",
            };
            let moves: String = game.moves.iter().map(|m| format!("{:04x}", m.0)).collect();
            let fen = Fen::from_position(opening.start(), EnPassantMode::Legal);
            writeln!(file, "{fen}\t{result}\t{moves}").expect("the file can be written");
        }
        file.flush().expect("the file can be written");
        done += openings.len() as u64;
        eprintln!("{done} of {count}");
    }
}

/// A position some random plies from the normal one, in which neither side is far ahead.
fn start(random: &mut Random, searcher: &mut Searcher) -> Chess {
    loop {
        let mut position = Chess::default();
        for _ in 0..RANDOM_PLIES + random.below(2) {
            let moves = position.legal_moves();
            if moves.is_empty() {
                break;
            }
            position.play_unchecked(*random.pick(&moves));
        }
        if position.legal_moves().is_empty() {
            continue;
        }
        searcher.begin_game();
        let question = Question::best(Limits::nodes(1000));
        let report = searcher
            .search(&Game::new(&position), &question, &AtomicBool::new(false), &mut |_| ControlFlow::Continue(()));
        if report.lines[0].score.value().abs() <= DECIDED {
            return position;
        }
    }
}
