//! scratch
#![allow(missing_docs, clippy::print_stdout)]
#[path = "support/games.rs"]
mod games;
use pgn_reader::{Reader, SanPlus, Visitor};
use shakmaty::{CastlingMode, Chess};
use std::ops::ControlFlow::{self, Continue};
use std::time::{Duration, Instant};
use variorum_core::fen::read_fen;
use variorum_core::scan::{Next, Scan, ScanOptions};

struct Count;
impl Visitor for Count {
    type Tags = ();
    type Movetext = u64;
    type Output = u64;
    fn begin_tags(&mut self) -> ControlFlow<u64, ()> {
        Continue(())
    }
    fn begin_movetext(&mut self, (): ()) -> ControlFlow<u64, u64> {
        Continue(0)
    }
    fn san(&mut self, n: &mut u64, _: SanPlus) -> ControlFlow<u64> {
        *n += 1;
        Continue(())
    }
    fn end_game(&mut self, n: u64) -> u64 {
        n
    }
}

/// CPU seconds of this process so far.
fn cpu() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    let f: Vec<&str> = stat.rsplit(')').next().unwrap().split_whitespace().collect();
    (f[11].parse::<f64>().unwrap() + f[12].parse::<f64>().unwrap()) / 100.0
}

fn scan(roots: &[Chess], threads: usize) -> (f64, variorum_core::scan::Counts) {
    let t = cpu();
    let mut s = Scan::of_file(
        "/tmp/scan_bench.pgn".as_ref(),
        ScanOptions { roots: roots.to_vec(), threads, ..Default::default() },
    )
    .unwrap();
    let mut c = variorum_core::scan::Counts::default();
    loop {
        match s.next_batch(Duration::from_millis(100)) {
            Next::Batch(b) => {
                c.sections += b.counts.sections;
                c.kept += b.counts.kept;
                c.passed += b.counts.passed;
                c.aside += b.counts.aside;
                c.untagged += b.counts.untagged;
            }
            Next::Wait => {}
            Next::End => break,
            Next::Broken(e, _) => panic!("{e}"),
        }
    }
    (cpu() - t, c)
}

fn main() {
    let t = Instant::now();
    let (text, fens) = if std::path::Path::new("/tmp/scan_bench.fens").exists() {
        (
            std::fs::read("/tmp/scan_bench.pgn").unwrap(),
            std::fs::read_to_string("/tmp/scan_bench.fens")
                .unwrap()
                .split("\n\n")
                .map(|p| p.lines().map(String::from).collect())
                .collect(),
        )
    } else {
        games::collection(7, 100_000_000)
    };
    std::fs::write(
        "/tmp/scan_bench.fens",
        fens.iter().map(|f: &Vec<String>| f.join("\n")).collect::<Vec<_>>().join("\n\n"),
    )
    .unwrap();
    println!("made {} MB in {:?}", text.len() / 1_000_000, t.elapsed());
    std::fs::write("/tmp/scan_bench.pgn", &text).unwrap();
    for _ in 0..std::env::var("SCAN_TIMES").map_or(2, |t| t.parse().unwrap()) {
        let t = cpu();
        let (mut g, mut m) = (0u64, 0u64);
        let f = std::fs::File::open("/tmp/scan_bench.pgn").unwrap();
        for game in Reader::new(f).read_games(&mut Count) {
            g += 1;
            m += game.unwrap();
        }
        let base = cpu() - t;
        println!(
            "pgn-reader {g} games {m} moves {base:.3}s {:.0} MB/s {:.2} us/game",
            text.len() as f64 / 1e6 / base,
            base * 1e6 / g as f64
        );
        let only = std::env::var("SCAN_ONLY").unwrap_or_default();
        for (name, ply, n) in [
            ("start", 0, 1),
            ("ply4", 4, 1),
            ("ply10", 10, 1),
            ("ply10x5", 10, 5),
            ("ply20", 20, 1),
            ("ply20x5", 20, 5),
            ("ply30", 30, 1),
        ] {
            if !only.is_empty() && only != name {
                continue;
            }
            let roots: Vec<Chess> = fens[ply]
                .iter()
                .skip(3)
                .take(n)
                .map(|f| read_fen(f.as_bytes(), CastlingMode::Standard).unwrap())
                .collect();
            let (one, c) = scan(&roots, 1);
            let (two, _) = scan(&roots, 2);
            println!(
                "{name:8} 1: {:.2}x {:.2} us/game  2: {:.2}x  scale {:.2} {c:?}",
                base / one,
                one * 1e6 / g as f64,
                base / two,
                one / two
            );
        }
    }
}
