//! Runs the resident over a test suite in EPD and says how many positions it solves.
//!
//! `cargo run --release -p variorum-resident --example strength -- FILE [--seconds S | --nodes N | --depth D] [--hash MB]`
//!
//! A position is solved when the move at the end of the search is among `bm` (best moves), or not among `am` (moves to be
//! avoided). Each position starts with an empty memory.

use std::{
    env, error::Error, fs, ops::ControlFlow, process::ExitCode, sync::atomic::AtomicBool, time::Duration, time::Instant,
};

use shakmaty::{CastlingMode, Chess, fen::Epd, san::San};
use variorum_resident::{Game, Limits, Move, Question, Searcher};

struct Arguments {
    file: String,
    limits: Limits,
    hash: usize,
}

fn arguments() -> Result<Arguments, Box<dyn Error>> {
    let mut given = env::args().skip(1);
    let file = given.next().ok_or("no EPD file given")?;
    let (mut limits, mut hash) = (Limits::default(), 64);
    while let Some(option) = given.next() {
        let value = given.next().ok_or_else(|| format!("{option} needs a value"))?;
        match option.as_str() {
            "--seconds" => limits.time = Some(Duration::try_from_secs_f64(value.parse()?)?),
            "--nodes" => limits.nodes = Some(value.parse()?),
            "--depth" => limits.depth = Some(value.parse()?),
            "--hash" => hash = value.parse()?,
            _ => return Err(format!("unknown option {option}").into()),
        }
    }
    if limits.nodes.is_none() && limits.depth.is_none() && limits.time.is_none() {
        limits.time = Some(Duration::from_secs(1));
    }
    Ok(Arguments { file, limits, hash })
}

struct Problem {
    position: Chess,
    best: Vec<Move>,
    avoid: Vec<Move>,
    id: String,
}

fn problem(line: &str) -> Result<Problem, Box<dyn Error>> {
    let fields: Vec<&str> = line.splitn(5, ' ').collect();
    let [placement, turn, castling, en_passant, operations] = fields[..] else { return Err("no EPD line".into()) };
    let epd: Epd = format!("{placement} {turn} {castling} {en_passant}").parse()?;
    let position: Chess = epd.into_position(CastlingMode::Standard)?;
    let mut problem = Problem { position, best: Vec::new(), avoid: Vec::new(), id: String::new() };
    for operation in operations.split(';') {
        let Some((name, operand)) = operation.trim().split_once(' ') else { continue };
        let moves = || -> Result<Vec<Move>, Box<dyn Error>> {
            operand.split_whitespace().map(|san| Ok(san.parse::<San>()?.to_move(&problem.position)?.into())).collect()
        };
        match name {
            "bm" => problem.best = moves()?,
            "am" => problem.avoid = moves()?,
            "id" => problem.id = operand.trim_matches('"').to_owned(),
            _ => {}
        }
    }
    Ok(problem)
}

fn is_solved(problem: &Problem, m: Option<Move>) -> bool {
    m.is_some_and(|m| (problem.best.is_empty() || problem.best.contains(&m)) && !problem.avoid.contains(&m))
}

#[expect(clippy::print_stdout, reason = "a program that prints its result")]
fn run() -> Result<(), Box<dyn Error>> {
    let Arguments { file, limits, hash } = arguments()?;
    let text = fs::read_to_string(&file)?;
    let mut searcher = Searcher::new(hash);
    let (mut solved, mut total, mut nodes, mut depths) = (0, 0, 0, 0);
    let started = Instant::now();
    for (number, line) in text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
        let problem = problem(line).map_err(|error| format!("{file}:{}: {error}", number + 1))?;
        searcher.forget();
        let game = Game::new(&problem.position);
        let stop = AtomicBool::new(false);
        let report = searcher.search(&game, &Question::best(limits), &stop, &mut |_| ControlFlow::Continue(()));
        total += 1;
        nodes += report.nodes;
        depths += report.depth;
        if is_solved(&problem, report.best()) {
            solved += 1;
        } else {
            let played = report.best().and_then(|m| m.to_shakmaty(&problem.position));
            let played = played.map_or_else(String::new, |m| San::from_move(&problem.position, m).to_string());
            println!("not solved: {} (plays {played}, {}, depth {})", problem.id, report.lines[0].score, report.depth);
        }
    }
    let seconds = started.elapsed().as_secs_f64();
    println!(
        "{solved} of {total} solved, {nodes} nodes in {seconds:.1} s ({:.0} a second), mean depth {:.1}",
        nodes as f64 / seconds,
        f64::from(depths) / f64::from(total)
    );
    Ok(())
}

#[expect(clippy::print_stderr, reason = "a program that prints its errors")]
fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("strength: {error}");
            ExitCode::from(2)
        }
    }
}
