//! The resident as a program that speaks UCI (the protocol's text by Stefan Meyer-Kahlen, 2006).
//!
//! Commands are read on one thread while the search runs on another, so that `stop`, `isready` and `quit` are answered
//! at once.

mod go;

use std::{
    io::{BufRead, Write},
    ops::ControlFlow,
    str::SplitWhitespace,
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicBool, Ordering::Relaxed},
    },
    thread::{self, JoinHandle},
    time::{Duration, Instant},
};

use shakmaty::{CastlingMode, Chess, Position, fen::Fen, uci::UciMove};

use crate::{Game, Iteration, Line, Move, Score, Searcher, VERSION};
use go::Go;

const DEFAULT_HASH_MB: usize = 64;
const MOST_HASH_MB: usize = 65_536;
const MOST_THREADS: usize = 256;
const MOST_LINES: usize = 218;

/// Reads commands until `quit` or the end of the input.
///
/// # Errors
///
/// When the output can no longer be written to.
pub fn run<W: Write + Send + 'static>(input: impl BufRead, output: W) -> std::io::Result<()> {
    let mut session = Session::new(output);
    for line in input.lines() {
        if session.obey(&line?)?.is_break() {
            break;
        }
    }
    session.finish_search();
    Ok(())
}

/// What the program was told so far.
struct Session<W> {
    output: Arc<Mutex<W>>,
    hash_mb: usize,
    threads: usize,
    lines: usize,
    castling: CastlingMode,
    game: Game,
    searcher: Option<Searcher>,
    running: Option<Running>,
}

/// A search under way; it hands the searcher back when it ends.
struct Running {
    stop: Arc<AtomicBool>,
    thread: JoinHandle<Searcher>,
}

impl<W: Write + Send + 'static> Session<W> {
    fn new(output: W) -> Session<W> {
        Session {
            output: Arc::new(Mutex::new(output)),
            hash_mb: DEFAULT_HASH_MB,
            threads: 1,
            lines: 1,
            castling: CastlingMode::Standard,
            game: Game::new(&Chess::default()),
            searcher: None,
            running: None,
        }
    }

    fn obey(&mut self, command: &str) -> std::io::Result<ControlFlow<()>> {
        let mut words = command.split_whitespace();
        let fault = match words.next() {
            Some("uci") => {
                self.introduce()?;
                None
            }
            Some("isready") => {
                self.say("readyok")?;
                None
            }
            Some("stop") => {
                self.finish_search();
                None
            }
            Some("quit") => return Ok(ControlFlow::Break(())),
            Some("ucinewgame") => {
                self.finish_search();
                if let Some(searcher) = &mut self.searcher {
                    searcher.begin_game();
                }
                None
            }
            Some("setoption") => {
                self.finish_search();
                self.set_option(words).err()
            }
            Some("position") => {
                self.finish_search();
                self.set_position(words).err()
            }
            Some("go") => {
                self.finish_search();
                match Go::parse(words, &self.game) {
                    Ok(go) => {
                        self.start(go);
                        None
                    }
                    Err(fault) => Some(fault),
                }
            }
            // Unknown words are passed over, as the protocol asks.
            _ => None,
        };
        if let Some(fault) = fault {
            self.say(&format!("info string {fault}"))?;
        }
        Ok(ControlFlow::Continue(()))
    }

    fn say(&self, line: &str) -> std::io::Result<()> {
        say(&self.output, line)
    }

    fn introduce(&self) -> std::io::Result<()> {
        self.say(&format!("id name Variorum resident {VERSION}"))?;
        self.say("id author the authors of Variorum")?;
        self.say(&format!("option name Hash type spin default {DEFAULT_HASH_MB} min 1 max {MOST_HASH_MB}"))?;
        self.say(&format!("option name Threads type spin default 1 min 1 max {MOST_THREADS}"))?;
        self.say(&format!("option name MultiPV type spin default 1 min 1 max {MOST_LINES}"))?;
        self.say("option name UCI_Chess960 type check default false")?;
        self.say("uciok")
    }

    fn set_option(&mut self, words: SplitWhitespace<'_>) -> Result<(), String> {
        let words: Vec<&str> = words.collect();
        let value_at = words.iter().position(|&word| word == "value").unwrap_or(words.len());
        let name = words.get(1..value_at).unwrap_or_default().join(" ");
        let value = words.get(value_at + 1..).unwrap_or_default().join(" ");
        let number = |most: usize| {
            let read = value.parse::<usize>().ok().filter(|number| (1..=most).contains(number));
            read.ok_or_else(|| format!("{name} takes a number from 1 to {most}, not '{value}'"))
        };
        match name.to_lowercase().as_str() {
            "hash" => {
                self.hash_mb = number(MOST_HASH_MB)?;
                self.searcher = None;
            }
            "threads" => {
                self.threads = number(MOST_THREADS)?;
                self.searcher = None;
            }
            "multipv" => self.lines = number(MOST_LINES)?,
            "uci_chess960" => self.castling = CastlingMode::from_chess960(value == "true"),
            _ => return Err(format!("no option '{name}'")),
        }
        Ok(())
    }

    fn set_position(&mut self, mut words: SplitWhitespace<'_>) -> Result<(), String> {
        let start = match words.next() {
            Some("startpos") => Chess::default(),
            Some("fen") => {
                let fen: Vec<&str> = words.clone().take_while(|&word| word != "moves").collect();
                let read = fen.join(" ").parse::<Fen>().map_err(|error| format!("no FEN: {error}"))?;
                let position = read.into_position(self.castling);
                position.map_err(|error| format!("no legal position: {error}"))?
            }
            _ => return Err("position takes 'startpos' or 'fen'".to_owned()),
        };
        let mut game = Game::new(&start);
        for word in words.skip_while(|&word| word != "moves").skip(1) {
            let read = word.parse::<UciMove>().ok().and_then(|read| read.to_move(game.position()).ok());
            let m = read.ok_or_else(|| format!("'{word}' is no legal move there"))?;
            game.play(m.into()).map_err(|_| format!("'{word}' is no legal move there"))?;
        }
        self.game = game;
        Ok(())
    }

    fn start(&mut self, mut go: Go) {
        go.question.lines = self.lines;
        let stop = Arc::new(AtomicBool::new(false));
        let searcher = self.searcher.take();
        let (hash_mb, threads, game, castling) = (self.hash_mb, self.threads, self.game.clone(), self.castling);
        let (flag, output) = (Arc::clone(&stop), Arc::clone(&self.output));
        let thread = thread::spawn(move || {
            let mut searcher = searcher.unwrap_or_else(|| {
                let mut made = Searcher::new(hash_mb);
                made.set_threads(threads);
                made
            });
            let started = Instant::now();
            let report = searcher.search(&game, &go.question, &flag, &mut |iteration| {
                let elapsed = started.elapsed();
                // An output that is closed ends the search: nobody listens.
                if tell(&output, game.position(), castling, iteration, elapsed).is_err() {
                    return ControlFlow::Break(());
                }
                if go.is_enough(iteration, elapsed) { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
            });
            // "infinite: search until the stop command": the answer has to wait even if there is nothing left to search.
            while go.infinite && !flag.load(Relaxed) {
                thread::sleep(Duration::from_millis(5));
            }
            let moves = in_uci(game.position(), castling, &report.lines[0].moves);
            let best = moves.first().map_or("0000", String::as_str);
            let answer = moves.get(1).map_or(String::new(), |m| format!(" ponder {m}"));
            // See above: a closed output is noticed by the next command.
            let _ = say(&output, &format!("bestmove {best}{answer}"));
            searcher
        });
        self.running = Some(Running { stop, thread });
    }

    /// Stops a search that is under way and waits for its answer.
    fn finish_search(&mut self) {
        if let Some(running) = self.running.take() {
            running.stop.store(true, Relaxed);
            self.searcher = running.thread.join().ok();
        }
    }
}

fn say<W: Write>(output: &Mutex<W>, line: &str) -> std::io::Result<()> {
    let mut output = output.lock().unwrap_or_else(PoisonError::into_inner);
    writeln!(output, "{line}")?;
    output.flush()
}

fn tell<W: Write>(
    output: &Mutex<W>,
    root: &Chess,
    castling: CastlingMode,
    iteration: &Iteration,
    elapsed: Duration,
) -> std::io::Result<()> {
    let millis = elapsed.as_millis();
    let rate = u128::from(iteration.nodes) * 1000 / millis.max(1);
    for (index, line) in iteration.lines.iter().enumerate() {
        let Line { score, moves, depth } = line;
        let score = match score {
            Score::Centipawns(value) => format!("cp {value}"),
            Score::Mate(moves) => format!("mate {moves}"),
        };
        let pv = in_uci(root, castling, moves).join(" ");
        let nodes = iteration.nodes;
        let number = index + 1;
        say(
            output,
            &format!(
                "info depth {depth} multipv {number} score {score} nodes {nodes} nps {rate} time {millis} pv {pv}"
            ),
        )?;
    }
    Ok(())
}

/// The moves of a line as the protocol writes them.
fn in_uci(root: &Chess, castling: CastlingMode, moves: &[Move]) -> Vec<String> {
    let mut position = root.clone();
    let mut words = Vec::with_capacity(moves.len());
    for m in moves {
        let Some(legal) = m.to_shakmaty(&position) else { break };
        words.push(legal.to_uci(castling).to_string());
        position.play_unchecked(legal);
    }
    words
}
