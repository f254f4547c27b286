//! Writes a large PGN collection of made-up games, clean or dirty, the same for the same seed.
//!
//! `cargo run --release -p variorum-resident --example make_collection -- OUT.pgn --games N [--seed S] [--dirt PER_MILLE]
//! [--nodes N] [--threads T]`
//!
//! All games are invented: the resident plays itself at a few positions a move after random opening moves; half of the
//! games first follow a part of a line of isolated-pawn openings, so that there is something to find. `OUT.json` says how
//! many games there are and how many have which dirt (each dirty game has one kind).

use std::{
    collections::{BTreeMap, HashSet},
    env,
    error::Error,
    fs::{self, File},
    io::{BufWriter, Write},
    ops::ControlFlow,
    process::ExitCode,
};

use shakmaty::{Chess, Position, san::San};
use variorum_resident::{
    Move, Random,
    selfplay::{Agreement, Opening, Plan, Rules, Strength, Variety, play_all},
};

mod text;

use text::{Dirt, GameText, Header};

/// Games that are played before they are written: bounds the memory.
const PORTION: u64 = 2048;

/// Orders of moves towards isolated queen's pawns.
const LINES: [&str; 6] = [
    "e4 c6 d4 d5 exd5 cxd5 c4 Nf6 Nc3 e6 Nf3 Be7 cxd5 Nxd5 Bd3 Nc6 O-O O-O Re1",
    "e4 c6 d4 d5 exd5 cxd5 c4 Nf6 Nc3 e6 Nf3 Bb4 cxd5 Nxd5 Bd2 Nc6 Bd3 O-O O-O",
    "d4 d5 c4 e6 Nc3 Nf6 Nf3 c5 cxd5 Nxd5 e3 Nc6 Bd3 cxd4 exd4 Be7 O-O O-O Re1",
    "d4 d5 c4 e6 Nf3 Nf6 Nc3 c5 cxd5 Nxd5 e3 Nc6 Bd3 Be7 O-O O-O a3 cxd4 exd4",
    "d4 Nf6 c4 e6 Nc3 Bb4 e3 O-O Bd3 d5 Nf3 c5 O-O cxd4 exd4 dxc4 Bxc4 b6",
    "e4 c6 c4 d5 exd5 cxd5 d4 Nf6 Nc3 Nc6 Bg5 e6 Nf3 Be7 c5 h6 Bf4 Ne4",
];

struct Arguments {
    out: String,
    games: u64,
    seed: u64,
    dirt_per_mille: u32,
    nodes: u64,
    threads: usize,
}

fn arguments() -> Result<Arguments, Box<dyn Error>> {
    let mut given = env::args().skip(1);
    let out = given.next().ok_or("no output file given")?;
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let mut arguments = Arguments { out, games: 1000, seed: 1, dirt_per_mille: 0, nodes: 60, threads };
    while let Some(option) = given.next() {
        let value = given.next().ok_or_else(|| format!("{option} needs a value"))?;
        match option.as_str() {
            "--games" => arguments.games = value.parse()?,
            "--seed" => arguments.seed = value.parse()?,
            "--dirt" => arguments.dirt_per_mille = value.parse()?,
            "--nodes" => arguments.nodes = value.parse()?,
            "--threads" => arguments.threads = value.parse()?,
            _ => return Err(format!("unknown option {option}").into()),
        }
    }
    if arguments.nodes == 0 || arguments.dirt_per_mille > 1000 {
        return Err("nodes are positive and dirt is at most 1000 per mille".into());
    }
    Ok(arguments)
}

/// A part of a known line in half of the games, then two to seven random moves.
fn opening(random: &mut Random) -> Opening {
    let mut position = Chess::default();
    let mut moves: Vec<Move> = Vec::new();
    if random.happens(500_000) {
        let line: Vec<&str> = random.pick(&LINES).split(' ').collect();
        for san in &line[..2 + random.below(line.len() as u64 - 1) as usize] {
            let san: San = san.parse().expect("the lines are SAN");
            let played = san.to_move(&position).expect("the lines are legal");
            moves.push(played.into());
            position.play_unchecked(played);
        }
    }
    for _ in 0..2 + random.below(6) {
        let legal = position.legal_moves();
        if legal.is_empty() {
            break;
        }
        let played = *random.pick(&legal);
        moves.push(played.into());
        position.play_unchecked(played);
    }
    Opening::new(Chess::default(), moves).expect("the moves are legal")
}

#[derive(Default)]
struct Summary {
    distinct: u64,
    written: u64,
    bytes: u64,
    plies: u64,
    clean: u64,
    dirt: BTreeMap<Dirt, u64>,
}

impl Summary {
    fn json(&self, arguments: &Arguments) -> String {
        let dirt = Dirt::ALL.map(|dirt| format!("    \"{}\": {}", dirt.word(), self.dirt.get(&dirt).unwrap_or(&0)));
        format!(
            "{{\n  \"seed\": {},\n  \"distinct_games\": {},\n  \"written_games\": {},\n  \"bytes\": {},\n  \"plies\": {},\n  \
             \"clean_games\": {},\n  \"dirt\": {{\n{}\n  }}\n}}\n",
            arguments.seed,
            self.distinct,
            self.written,
            self.bytes,
            self.plies,
            self.clean,
            dirt.join(",\n")
        )
    }
}

fn run() -> Result<(), Box<dyn Error>> {
    let arguments = arguments()?;
    let rules = Rules {
        variety: Variety { plies: 10, temperature: 30, margin: 100 },
        choices: 4,
        win: Some(Agreement { centipawns: 700, plies: 4, from_ply: 20 }),
        draw: Some(Agreement { centipawns: 15, plies: 8, from_ply: 60 }),
        max_plies: 240,
        hash_mb: 1,
    };
    let mut out = BufWriter::with_capacity(1 << 20, File::create(&arguments.out)?);
    let mut summary = Summary::default();
    let mut seen: HashSet<Vec<Move>> = HashSet::new();
    let mut first = 0;
    while summary.distinct < arguments.games {
        let indices = first..first + PORTION.min(arguments.games - summary.distinct);
        first = indices.end;
        let mut randoms: Vec<Random> = indices.map(|index| Random::stream(arguments.seed, index)).collect();
        let headers: Vec<Header> = randoms.iter_mut().map(Header::invent).collect();
        let openings: Vec<Opening> = randoms.iter_mut().map(opening).collect();
        let plans: Vec<Plan> = (headers.iter().zip(&mut randoms).enumerate())
            .map(|(opening, (header, random))| {
                let [white, black] = header
                    .ratings
                    .map(|rating| Strength { nodes: arguments.nodes, temperature: (2700 - rating as i32) / 20 });
                Plan { opening, white, black, seed: random.bits() }
            })
            .collect();
        let games = play_all(&openings, &plans, &rules, arguments.threads, &mut |_| ControlFlow::Continue(()));
        for ((game, header), random) in games.iter().flatten().zip(&headers).zip(&mut randoms) {
            if !seen.insert(game.moves.clone()) {
                continue;
            }
            summary.distinct += 1;
            summary.plies += game.moves.len() as u64;
            write_game(&mut out, &mut summary, &GameText::new(game), header, &arguments, random)?;
        }
        progress(summary.distinct, arguments.games);
    }
    out.flush()?;
    let json = std::path::Path::new(&arguments.out).with_extension("json");
    fs::write(json, summary.json(&arguments))?;
    Ok(())
}

fn write_game(
    out: &mut impl Write,
    summary: &mut Summary,
    text: &GameText,
    header: &Header,
    arguments: &Arguments,
    random: &mut Random,
) -> Result<(), Box<dyn Error>> {
    let is_dirty = random.happens(arguments.dirt_per_mille * 1000);
    let dirt = is_dirty.then(|| text.possible(*random.pick(&Dirt::ALL)));
    let mut versions = vec![dirt];
    if dirt == Some(Dirt::Double) {
        versions.insert(0, None);
    }
    for version in versions {
        let bytes = text.write(header, version, random);
        out.write_all(&bytes)?;
        summary.written += 1;
        summary.bytes += bytes.len() as u64;
        match version {
            Some(dirt) => *summary.dirt.entry(dirt).or_default() += 1,
            None => summary.clean += 1,
        }
    }
    Ok(())
}

#[expect(clippy::print_stderr, reason = "progress of a program")]
fn progress(done: u64, of: u64) {
    eprint!("\r{done} of {of} games");
    if done >= of {
        eprintln!();
    }
}

#[expect(clippy::print_stderr, reason = "a program that prints its errors")]
fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("make_collection: {error}");
            ExitCode::from(2)
        }
    }
}
