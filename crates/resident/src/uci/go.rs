//! The words after `go`: what is to be searched and when it is enough.

use std::{str::SplitWhitespace, time::Duration};

use shakmaty::{Position, uci::UciMove};

use crate::{Game, Iteration, Limits, Move, Question, Score};

/// Kept back of every clock, for the way to the other side.
const OVERHEAD: Duration = Duration::from_millis(15);
/// Moves a game is expected to last on, where the clock does not say.
const MOVES_LEFT: u32 = 25;

/// What `go` asks for.
pub struct Go {
    /// Limits and moves to consider.
    pub question: Question,
    /// Search until `stop`.
    pub infinite: bool,
    /// No iteration begins after this much time.
    soft: Option<Duration>,
    /// Enough when a mate in so many moves is found.
    mate: Option<i32>,
}

/// One side's clock as `go` gives it.
#[derive(Default)]
struct Clock {
    left: Option<Duration>,
    increment: Duration,
}

impl Go {
    /// Reads the words; the moves are those of the present position.
    pub fn parse(words: SplitWhitespace<'_>, game: &Game) -> Result<Go, String> {
        let mut limits = Limits::default();
        let (mut only, mut infinite, mut mate, mut moves_to_go) = (Vec::new(), false, None, None);
        let mut clocks = [Clock::default(), Clock::default()];
        let mut words = words.peekable();
        while let Some(word) = words.next() {
            match word {
                "infinite" => infinite = true,
                "searchmoves" => {
                    while let Some(m) = words.peek().and_then(|word| legal_move(game, word)) {
                        only.push(m);
                        words.next();
                    }
                }
                "depth" => limits.depth = Some(number(word, words.next())? as u32),
                "nodes" => limits.nodes = Some(number(word, words.next())?),
                "movetime" => limits.time = Some(Duration::from_millis(number(word, words.next())?)),
                "mate" => mate = Some(number(word, words.next())?.min(1000) as i32),
                "movestogo" => moves_to_go = Some(number(word, words.next())?.min(1000) as u32),
                // A clock that has run out is told with a minus sign.
                "wtime" => clocks[0].left = Some(millis(words.next())?),
                "btime" => clocks[1].left = Some(millis(words.next())?),
                "winc" => clocks[0].increment = millis(words.next())?,
                "binc" => clocks[1].increment = millis(words.next())?,
                _ => {}
            }
        }
        let clock = &clocks[usize::from(game.position().turn().is_black())];
        let mut soft = None;
        if let Some(left) = clock.left {
            let (plan, most) = share(left, clock.increment, moves_to_go);
            soft = Some(plan);
            limits.time = Some(limits.time.map_or(most, |time| time.min(most)));
        }
        Ok(Go { question: Question { limits, lines: 1, only }, infinite, soft, mate })
    }

    /// Whether the search need not go deeper.
    pub fn is_enough(&self, iteration: &Iteration, elapsed: Duration) -> bool {
        let mated = |moves: i32| match iteration.lines[0].score {
            Score::Mate(found) => found > 0 && found <= moves,
            Score::Centipawns(_) => false,
        };
        self.soft.is_some_and(|soft| elapsed >= soft) || self.mate.is_some_and(mated)
    }
}

/// When to begin no further iteration, and when to stop, on a clock with so much left.
fn share(left: Duration, increment: Duration, moves_to_go: Option<u32>) -> (Duration, Duration) {
    let usable = left.saturating_sub(OVERHEAD).max(Duration::from_millis(1));
    let moves = moves_to_go.unwrap_or(MOVES_LEFT).clamp(1, 40);
    let fair = usable / moves + increment * 3 / 4;
    ((fair * 6 / 10).min(usable / 2), (fair * 2).min(usable * 8 / 10))
}

fn number(word: &str, value: Option<&str>) -> Result<u64, String> {
    let read = value.and_then(|value| value.parse::<u64>().ok()).filter(|&number| number > 0);
    read.ok_or_else(|| format!("'{word}' takes a positive number"))
}

fn millis(value: Option<&str>) -> Result<Duration, String> {
    let read = value.and_then(|value| value.parse::<i64>().ok());
    read.map(|number| Duration::from_millis(number.max(0) as u64))
        .ok_or_else(|| "a clock takes milliseconds".to_owned())
}

fn legal_move(game: &Game, word: &str) -> Option<Move> {
    let read = word.parse::<UciMove>().ok()?;
    read.to_move(game.position()).ok().map(Into::into)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_is_never_overrun() {
        for left in [1, 20, 100, 1000, 600_000] {
            for increment in [0, 50, 10_000] {
                for moves in [None, Some(1), Some(40)] {
                    let left = Duration::from_millis(left);
                    let (soft, hard) = share(left, Duration::from_millis(increment), moves);
                    assert!(soft <= hard.max(soft) && hard <= left.max(Duration::from_millis(1)), "{left:?} {hard:?}");
                }
            }
        }
    }
}
