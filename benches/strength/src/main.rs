//! How strong the resident is. Programs are anything that speaks UCI, so that two builds can be compared:
//!
//! ```text
//! strength match FIRST SECOND OPENINGS.fen GO…      each opening with both colours; GO is e.g. `nodes 20000`
//! strength suite PROGRAM SUITE.epd GO…              positions solved, points by theme
//! strength nodes PROGRAM SUITE.epd DEPTH            nodes to a fixed depth over the positions of a suite
//! strength speed PROGRAM THREADS SUITE.epd MILLIS   nodes per second over the positions of a suite
//! strength openings COUNT SEED                      prints balanced openings, as FENs
//! ```
//!
//! The environment variable `AT_ONCE` sets the games played at the same time (1 unless set).

mod matches;
mod openings;
mod program;
mod suites;

use matches::{Standing, Terms};
use program::{Answer, Program};

const HASH_MB: usize = 64;
/// Matches have many small searches: a small table is cleared faster, and enough.
const MATCH_HASH_MB: usize = 16;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match arguments.as_slice() {
        ["match", first, second, list, go @ ..] if !go.is_empty() => {
            let openings: Vec<String> = read(list).lines().map(str::to_owned).collect();
            let at_once = std::env::var("AT_ONCE").ok().and_then(|text| text.parse().ok()).unwrap_or(1);
            let terms = Terms { go: go.join(" "), hash_mb: MATCH_HASH_MB, at_once };
            println!("{}", Standing::of(&matches::play(first, second, &openings, &terms)));
        }
        ["suite", path, suite, go @ ..] if !go.is_empty() => {
            let outcome = suites::run(&mut Program::start(path, HASH_MB, 1), &read(suite), &go.join(" "));
            println!("{suite} at {}: {} of {}", go.join(" "), outcome.solved, outcome.total);
            let points: Vec<String> =
                outcome.themes.iter().map(|(theme, points)| format!("{theme}: {points}")).collect();
            if !points.is_empty() {
                println!("by theme: {}; together {}", points.join(", "), outcome.themes.values().sum::<u32>());
            }
            if outcome.missed.len() <= 40 {
                println!("missed: {}", outcome.missed.join(", "));
            }
        }
        ["nodes", path, suite, depth] => {
            let mut program = Program::start(path, HASH_MB, 1);
            let nodes: u64 = ask_all(&mut program, &read(suite), &format!("depth {depth}")).map(|a| a.nodes).sum();
            println!("{nodes} nodes to depth {depth}");
        }
        ["speed", path, threads, suite, millis] => {
            let threads: usize = threads.parse().expect("a number of threads");
            let mut program = Program::start(path, HASH_MB, threads);
            let (mut nodes, mut time) = (0, 0);
            for answer in ask_all(&mut program, &read(suite), &format!("movetime {millis}")) {
                nodes += answer.nodes;
                time += answer.millis;
            }
            println!("{} nodes per second on {threads} threads", nodes * 1000 / time.max(1));
        }
        ["openings", count, seed] => {
            openings::print(count.parse().expect("a number"), seed.parse().expect("a number"));
        }
        _ => {
            eprintln!("usage: see the head of benches/strength/src/main.rs");
            std::process::exit(2);
        }
    }
}

/// Asks every position of a suite once, with an empty table each time.
fn ask_all<'a>(program: &'a mut Program, suite: &'a str, go: &'a str) -> impl Iterator<Item = Answer> + 'a {
    suite.lines().filter(|line| !line.trim().is_empty()).map(move |line| {
        let fields: Vec<&str> = line.splitn(5, ' ').collect();
        program.begin_game();
        program.ask(&format!("fen {} 0 1", fields[..4].join(" ")), go)
    })
}

fn read(path: &str) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{path}: {error}"))
}
