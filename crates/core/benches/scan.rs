//! Throughput of the scan, in ratios to a bare pass of `pgn-reader` that only counts moves, in one run.
//!
//! ```text
//! cargo bench -p variorum-core --bench scan [-- COLLECTION.pgn]
//! ```
//!
//! Without a file, 100 MB of made-up games are scanned. Roots are positions that games of the collection come through.
//! Times are processor time of the whole process for one thread, and elapsed time for two; on a machine that does
//! other work only the former mean something. How all this stands to `chess.pgn` is in `benches/bench_sift.py`.

#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "a bench")]

#[path = "support/games.rs"]
mod games;

use std::fs::File;
use std::ops::ControlFlow::{self, Continue};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use pgn_reader::{Reader, SanPlus, Visitor};
use shakmaty::{CastlingMode, Chess, Position};
use variorum_core::fen::read_fen;
use variorum_core::moves::PackedMove;
use variorum_core::scan::{Counts, Next, Scan, ScanOptions};

/// Counts moves.
struct CountMoves;

impl Visitor for CountMoves {
    type Tags = ();
    type Movetext = u64;
    type Output = u64;

    fn begin_tags(&mut self) -> ControlFlow<u64, ()> {
        Continue(())
    }

    fn begin_movetext(&mut self, (): ()) -> ControlFlow<u64, u64> {
        Continue(0)
    }

    fn san(&mut self, moves: &mut u64, _: SanPlus) -> ControlFlow<u64> {
        *moves += 1;
        Continue(())
    }

    fn end_game(&mut self, moves: u64) -> u64 {
        moves
    }
}

/// Processor seconds of this process; elapsed seconds where the system does not tell them.
struct Stopwatch {
    since: Instant,
    processor: Option<f64>,
}

impl Stopwatch {
    fn start() -> Stopwatch {
        Stopwatch { since: Instant::now(), processor: processor_seconds() }
    }

    /// Processor time, elapsed time.
    fn read(&self) -> (f64, f64) {
        let elapsed = self.since.elapsed().as_secs_f64();
        let processor = self.processor.zip(processor_seconds()).map(|(from, to)| to - from);
        (processor.unwrap_or(elapsed), elapsed)
    }
}

fn processor_seconds() -> Option<f64> {
    // The 14th and 15th field, in hundredths (Linux, proc(5)); the name before them may hold blanks.
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    let fields: Vec<&str> = stat.rsplit(')').next()?.split_whitespace().collect();
    Some((fields.get(11)?.parse::<f64>().ok()? + fields.get(12)?.parse::<f64>().ok()?) / 100.0)
}

fn scan(path: &Path, roots: &[Chess], threads: usize) -> (Counts, f64, f64, Vec<Vec<u16>>) {
    let watch = Stopwatch::start();
    let options = ScanOptions { roots: roots.to_vec(), threads, ..ScanOptions::default() };
    let mut scan = Scan::of_file(path, options).unwrap();
    let mut counts = Counts::default();
    let mut lines = Vec::new();
    loop {
        match scan.next_batch(Duration::from_secs(1)) {
            Next::Batch(batch) => {
                counts.sections += batch.counts.sections;
                counts.kept += batch.counts.kept;
                let games = &batch.games;
                for ends in games.move_ends.windows(2).step_by(512) {
                    lines.push(games.moves[ends[0] as usize..ends[1] as usize].to_vec());
                }
            }
            Next::Wait => {}
            Next::End => break,
            Next::Broken(error, _) => panic!("{error}"),
        }
    }
    let (processor, elapsed) = watch.read();
    (counts, processor, elapsed, lines)
}

/// The positions at `ply` of lines that get there.
fn roots_at(ply: usize, lines: &[Vec<u16>]) -> Vec<Chess> {
    let long_enough = lines.iter().filter(|line| line.len() > ply);
    long_enough
        .map(|line| {
            let mut position = Chess::default();
            for &packed in &line[..ply] {
                position.play_unchecked(PackedMove(packed).unpack(&position).unwrap());
            }
            position
        })
        .collect()
}

fn main() {
    let given = std::env::args().nth(1).filter(|argument| !argument.starts_with('-')).map(PathBuf::from);
    let made = std::env::temp_dir().join("variorum-bench-scan.pgn");
    let path = given.unwrap_or_else(|| {
        std::fs::write(&made, games::collection(7, 100_000_000)).unwrap();
        made.clone()
    });
    let megabytes = std::fs::metadata(&path).unwrap().len() as f64 / 1e6;
    let start = Chess::default();
    let (.., lines) = scan(&path, std::slice::from_ref(&start), 2);

    let mut reader = Reader::new(File::open(&path).unwrap());
    let watch = Stopwatch::start();
    let (mut games, mut moves) = (0u64, 0u64);
    for game in reader.read_games(&mut CountMoves) {
        games += 1;
        moves += game.unwrap_or(0);
    }
    let (bare, bare_elapsed) = watch.read();
    let watch = Stopwatch::start();
    std::io::copy(&mut File::open(&path).unwrap(), &mut std::io::sink()).unwrap();
    let (_, reading) = watch.read();
    println!("{megabytes:.0} MB, {games} games, {moves} moves; pgn-reader: {:.0} MB/s", megabytes / bare);
    println!("{:24} {:>10.2}", "plain reading (cat)", bare_elapsed / reading);
    println!("{:24} {:>10} {:>10} {:>10} {:>8}", "", "1 thread", "2 threads", "2 over 1", "kept");
    let standard = read_fen(b"rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1", CastlingMode::Standard);
    for (name, ply, count) in [
        ("start position", 0, 1),
        ("one root at ply 4", 4, 1),
        ("one root at ply 10", 10, 1),
        ("five roots at ply 10", 10, 5),
        ("one root at ply 20", 20, 1),
        ("five roots at ply 20", 20, 5),
        ("one root at ply 30", 30, 1),
    ] {
        let roots = if ply == 0 { vec![standard.clone().unwrap()] } else { roots_at(ply, &lines) };
        let roots = &roots[..count.min(roots.len())];
        let (counts, one, one_elapsed, _) = scan(&path, roots, 1);
        let (_, _, two_elapsed, _) = scan(&path, roots, 2);
        println!(
            "{name:24} {:>10.2} {:>10.2} {:>10.2} {:>8}",
            bare / one,
            bare_elapsed / two_elapsed,
            one_elapsed / two_elapsed,
            counts.kept
        );
        assert!(counts.kept >= roots.len().min(1) as u64, "the game a root is from reaches it");
    }
    let _ = std::fs::remove_file(made);
}
