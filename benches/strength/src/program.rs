//! A UCI program as a child process.

use std::{
    io::{BufRead, BufReader, Write},
    process::{Child, ChildStdin, ChildStdout, Command, Stdio},
};

/// A program that was started and answers.
pub struct Program {
    child: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
}

/// What it said of a position.
#[derive(Clone, Debug, Default)]
pub struct Answer {
    /// The move in UCI.
    pub best: String,
    /// Score of the last line, centipawns for the side to move; mates as 30,000 less the moves.
    pub score: i32,
    /// Positions visited.
    pub nodes: u64,
    /// Milliseconds, as the program counts them.
    pub millis: u64,
    /// Depth of the last finished iteration.
    pub depth: u64,
}

impl Program {
    /// Starts a program with a table of `hash_mb` MiB on so many threads.
    pub fn start(path: &str, hash_mb: usize, threads: usize) -> Program {
        let mut child = Command::new(path)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap_or_else(|error| panic!("{path} cannot be started: {error}"));
        let input = child.stdin.take().expect("its input is a pipe");
        let output = BufReader::new(child.stdout.take().expect("its output is a pipe"));
        let mut program = Program { child, input, output };
        program.say("uci");
        program.wait_for("uciok");
        program.say(&format!("setoption name Hash value {hash_mb}"));
        program.say(&format!("setoption name Threads value {threads}"));
        program.begin_game();
        program
    }

    /// Forgets what was searched before.
    pub fn begin_game(&mut self) {
        self.say("ucinewgame");
        self.say("isready");
        self.wait_for("readyok");
    }

    /// Asks for the best move; `position` and `go` are the words after these commands.
    pub fn ask(&mut self, position: &str, go: &str) -> Answer {
        self.say(&format!("position {position}"));
        self.say(&format!("go {go}"));
        let mut answer = Answer::default();
        loop {
            let line = self.line();
            let words: Vec<&str> = line.split_whitespace().collect();
            match words.as_slice() {
                ["bestmove", best, ..] => {
                    answer.best = (*best).to_owned();
                    return answer;
                }
                ["info", rest @ ..] => read_info(rest, &mut answer),
                _ => {}
            }
        }
    }

    fn say(&mut self, line: &str) {
        writeln!(self.input, "{line}").expect("the program reads");
        self.input.flush().expect("the program reads");
    }

    fn line(&mut self) -> String {
        let mut line = String::new();
        let read = self.output.read_line(&mut line).expect("the program writes text");
        assert!(read > 0, "the program has ended");
        line
    }

    fn wait_for(&mut self, word: &str) {
        while self.line().trim() != word {}
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        // The child is gone or goes now; nothing is left to be done about it.
        let _ = writeln!(self.input, "quit");
        let _ = self.child.wait();
    }
}

fn read_info(words: &[&str], answer: &mut Answer) {
    let mut words = words.iter().copied();
    while let Some(word) = words.next() {
        let mut number = || words.next().and_then(|text| text.parse::<i64>().ok()).unwrap_or(0);
        match word {
            "nodes" => answer.nodes = number() as u64,
            "time" => answer.millis = number() as u64,
            "depth" => answer.depth = number() as u64,
            "cp" => answer.score = number() as i32,
            "mate" => {
                let moves = number() as i32;
                answer.score = if moves > 0 { 30_000 - moves } else { -30_000 - moves };
            }
            "pv" | "string" => return,
            _ => {}
        }
    }
}
