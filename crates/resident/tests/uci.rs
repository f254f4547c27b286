//! The program `variorum-resident` as the text of the UCI protocol (Meyer-Kahlen, 2006) wants it.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::{
    io::{BufRead, BufReader, Write},
    process::{Child, ChildStdin, Command, Stdio},
    sync::mpsc::{Receiver, channel},
    thread,
    time::{Duration, Instant},
};

/// Nothing here takes nearly as long.
const PATIENCE: Duration = Duration::from_secs(60);

struct Program {
    child: Child,
    input: ChildStdin,
    lines: Receiver<String>,
}

impl Program {
    fn start() -> Program {
        let mut child = Command::new(env!("CARGO_BIN_EXE_variorum-resident"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let (input, output) = (child.stdin.take().unwrap(), child.stdout.take().unwrap());
        let (sender, lines) = channel();
        thread::spawn(move || {
            for line in BufReader::new(output).lines() {
                if sender.send(line.unwrap()).is_err() {
                    break;
                }
            }
        });
        Program { child, input, lines }
    }

    fn say(&mut self, line: &str) {
        writeln!(self.input, "{line}").unwrap();
        self.input.flush().unwrap();
    }

    /// All lines up to the one that begins with `word`, that one included.
    fn until(&mut self, word: &str) -> Vec<String> {
        let mut seen = Vec::new();
        loop {
            seen.push(self.lines.recv_timeout(PATIENCE).unwrap());
            if seen.last().unwrap().starts_with(word) {
                return seen;
            }
        }
    }

    fn best(&mut self, position: &str, go: &str) -> String {
        self.say(&format!("position {position}"));
        self.say(&format!("go {go}"));
        self.until("bestmove").pop().unwrap()
    }

    fn quit(mut self) {
        self.say("quit");
        let begun = Instant::now();
        while self.child.try_wait().unwrap().is_none() {
            assert!(begun.elapsed() < PATIENCE);
            thread::sleep(Duration::from_millis(5));
        }
        assert!(self.child.wait().unwrap().success());
    }
}

#[test]
fn it_introduces_itself_and_names_its_options() {
    let mut program = Program::start();
    program.say("uci");
    let seen = program.until("uciok").join("\n");
    for word in ["id name ", "id author ", "name Hash type spin", "name Threads type spin", "name MultiPV type spin"] {
        assert!(seen.contains(word), "{word}: {seen}");
    }
    assert!(seen.contains("option name UCI_Chess960 type check default false"));
    program.quit();
}

#[test]
fn it_finds_a_mate_and_says_so() {
    let mut program = Program::start();
    let mate = "fen 6k1/5ppp/8/8/8/8/5PPP/3R2K1 w - - 0 1";
    for go in ["depth 4", "nodes 5000", "movetime 200", "mate 1", "wtime 1000 btime 1000 winc 10 binc 10 movestogo 5"] {
        assert!(program.best(mate, go).starts_with("bestmove d1d8"), "{go}");
    }
    program.say("go depth 3");
    assert!(program.until("bestmove").iter().any(|line| line.contains("score mate 1")));
    assert_eq!(program.best("fen R5k1/5ppp/8/8/8/8/6PP/6K1 b - - 0 1", "depth 2"), "bestmove 0000");
    program.quit();
}

/// "infinite: search until the stop command. Do not exit the search without being told so in this mode."
#[test]
fn infinite_waits_for_stop_and_readiness_is_answered_meanwhile() {
    let mut program = Program::start();
    program.say("position fen 6k1/5ppp/8/8/8/8/5PPP/3R2K1 w - - 0 1");
    program.say("go infinite");
    thread::sleep(Duration::from_millis(200));
    program.say("isready");
    assert!(!program.until("readyok").iter().any(|line| line.starts_with("bestmove")));
    program.say("stop");
    assert!(program.until("bestmove").pop().unwrap().starts_with("bestmove d1d8"));
    program.quit();
}

#[test]
fn only_the_moves_named_are_searched_and_several_lines_are_told() {
    let mut program = Program::start();
    let best = program.best("startpos moves e2e4 e7e6", "depth 4 searchmoves a2a3 h2h3");
    assert!(best.starts_with("bestmove a2a3") || best.starts_with("bestmove h2h3"), "{best}");
    program.say("setoption name MultiPV value 3");
    program.say("setoption name Threads value 2");
    program.say("setoption name Hash value 8");
    program.say("position startpos");
    program.say("go depth 5");
    let seen = program.until("bestmove");
    for number in 1..=3 {
        assert!(seen.iter().any(|line| line.contains(&format!("depth 5 multipv {number} score"))), "{number}");
    }
    program.quit();
}

#[test]
fn castling_is_written_as_the_mode_wants_it() {
    let castles = "fen 4k3/8/8/8/8/8/3PPP2/3QK2R w K - 0 1";
    let mut program = Program::start();
    assert_eq!(program.best(castles, "depth 1 searchmoves e1g1").split(' ').nth(1), Some("e1g1"));
    program.say("setoption name UCI_Chess960 value true");
    assert_eq!(program.best(castles, "depth 1 searchmoves e1h1").split(' ').nth(1), Some("e1h1"));
    program.quit();
}

#[test]
fn nonsense_is_told_and_passed_over() {
    let mut program = Program::start();
    for line in [
        "hello",
        "",
        "position fen nonsense",
        "position startpos moves e2e5",
        "position",
        "go depth none",
        "go nodes 0",
        "setoption name Hash value 0",
        "setoption name Colour value red",
        "setoption",
        "stop",
    ] {
        program.say(line);
    }
    assert!(program.best("startpos", "nodes 500").starts_with("bestmove "));
    program.quit();
}

#[test]
fn the_end_of_the_input_ends_the_program() {
    let Program { mut child, mut input, lines } = Program::start();
    writeln!(input, "go infinite").unwrap();
    drop(input);
    assert!(lines.iter().last().unwrap().starts_with("bestmove "));
    assert!(child.wait().unwrap().success());
}
