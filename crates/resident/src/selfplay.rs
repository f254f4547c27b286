//! Games of the resident against itself: playouts, and made-up practice by players of less strength.
//!
//! A game depends on its plan, its opening and the rules alone; so the result of a run is the same for any number of
//! threads.

use std::{
    ops::ControlFlow,
    sync::{
        atomic::{AtomicBool, AtomicUsize, Ordering::Relaxed},
        mpsc::{RecvTimeoutError, Sender, channel},
    },
    thread,
    time::Duration,
};

use shakmaty::{Chess, Color, KnownOutcome, Outcome, Position};

use crate::{
    game::Game,
    moves::Move,
    random::Random,
    report::{Limits, Line, Question},
    score::Score,
    search::Searcher,
};

/// How long nothing has to happen before the caller is asked whether to go on.
const QUIET_TIME: Duration = Duration::from_millis(100);

/// How a side plays.
#[derive(Clone, Copy, Debug)]
pub struct Strength {
    /// Positions visited for each move.
    pub nodes: u64,
    /// Centipawns by which a move may be worse and still be played half as often as the best; 0 plays the best.
    pub temperature: i32,
}

/// How the first moves of a game are made to differ from those of other games.
#[derive(Clone, Copy, Debug)]
pub struct Variety {
    /// So many plies after the opening.
    pub plies: usize,
    /// See [`Strength::temperature`].
    pub temperature: i32,
    /// No move is chosen that is worse than the best by more centipawns.
    pub margin: i32,
}

/// Scores on which both sides agree end a game before its last move.
#[derive(Clone, Copy, Debug)]
pub struct Agreement {
    /// A win when the score is at least this many centipawns, or a draw when it is at most this, in size.
    pub centipawns: i32,
    /// For so many plies in a row.
    pub plies: usize,
    /// Not before so many plies of the game.
    pub from_ply: usize,
}

/// What is common to all games of a run.
#[derive(Clone, Copy, Debug)]
pub struct Rules {
    /// Variety in the first plies.
    pub variety: Variety,
    /// How many moves are weighed where one is sampled.
    pub choices: usize,
    /// When a win is agreed.
    pub win: Option<Agreement>,
    /// When a draw is agreed.
    pub draw: Option<Agreement>,
    /// A game that reaches this many plies is left unfinished.
    pub max_plies: usize,
    /// Size of each thread's table in MiB.
    pub hash_mb: usize,
}

impl Default for Rules {
    fn default() -> Rules {
        Rules {
            variety: Variety { plies: 0, temperature: 0, margin: 0 },
            choices: 5,
            win: Some(Agreement { centipawns: 900, plies: 6, from_ply: 20 }),
            draw: Some(Agreement { centipawns: 8, plies: 16, from_ply: 80 }),
            max_plies: 400,
            hash_mb: 2,
        }
    }
}

/// Where games start.
#[derive(Clone, Debug)]
pub struct Opening {
    start: Chess,
    moves: Vec<Move>,
}

impl Opening {
    /// A position and moves from it.
    ///
    /// # Errors
    ///
    /// Gives the index of the first move that is not legal.
    pub fn new(start: Chess, moves: Vec<Move>) -> Result<Opening, usize> {
        let mut game = Game::new(&start);
        for (ply, &m) in moves.iter().enumerate() {
            game.play(m).map_err(|_| ply)?;
        }
        Ok(Opening { start, moves })
    }

    /// Where the game begins.
    #[must_use]
    pub fn start(&self) -> &Chess {
        &self.start
    }
}

/// One game to be played.
#[derive(Clone, Copy, Debug)]
pub struct Plan {
    /// Index of the opening.
    pub opening: usize,
    /// How White plays.
    pub white: Strength,
    /// How Black plays.
    pub black: Strength,
    /// What chance depends on.
    pub seed: u64,
}

/// How a game ended.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Ending {
    /// By mate.
    Mate,
    /// No legal move.
    Stalemate,
    /// The position stood on the board for the third time.
    Repetition,
    /// Fifty moves without capture or pawn move.
    FiftyMoves,
    /// Neither side can mate.
    DeadPosition,
    /// The scores agreed on a win or a draw.
    Agreed,
    /// Too long: no result.
    Length,
}

/// What the mover thought when it chose a move.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Thought {
    /// Score of the chosen move, for the mover.
    pub score: Score,
    /// Iteration that gave it.
    pub depth: u32,
    /// Positions visited.
    pub nodes: u64,
}

/// A game that was played.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Played {
    /// All moves, those of the opening included.
    pub moves: Vec<Move>,
    /// One for each move after the opening.
    pub thoughts: Vec<Thought>,
    /// Who won; `None` inside for a draw, outside for a game without result.
    pub winner: Option<Option<Color>>,
    /// How it ended.
    pub ending: Ending,
}

/// What happens while games are played.
#[derive(Clone, Copy, Debug)]
pub enum Event<'a> {
    /// The game of this index is finished.
    Finished(usize, &'a Played),
    /// Nothing happened for a tenth of a second.
    Waiting,
}

/// Plays one game, with a searcher whose memory is emptied first; `None` when it was stopped.
pub fn play_game(
    searcher: &mut Searcher,
    opening: &Opening,
    plan: &Plan,
    rules: &Rules,
    stop: &AtomicBool,
) -> Option<Played> {
    searcher.begin_game();
    let mut random = Random::new(plan.seed);
    let mut game = Game::new(&opening.start);
    let mut moves = opening.moves.clone();
    for &m in &moves {
        game.play(m).expect("an opening holds legal moves");
    }
    let mut thoughts: Vec<Thought> = Vec::new();
    loop {
        if let Some((winner, ending)) = verdict_on(&game, &moves, &thoughts, rules) {
            return Some(Played { moves, thoughts, winner, ending });
        }
        let strength = if game.position().turn().is_white() { plan.white } else { plan.black };
        let (chosen, thought) = choose(searcher, &game, strength, thoughts.len(), rules, &mut random, stop);
        if stop.load(Relaxed) {
            return None;
        }
        game.play(chosen).expect("the search gives legal moves");
        moves.push(chosen);
        thoughts.push(thought);
    }
}

/// Winner and ending, if the game is over.
fn verdict_on(
    game: &Game,
    moves: &[Move],
    thoughts: &[Thought],
    rules: &Rules,
) -> Option<(Option<Option<Color>>, Ending)> {
    let position = game.position();
    if position.is_insufficient_material() {
        return Some((Some(None), Ending::DeadPosition));
    }
    match position.outcome() {
        Outcome::Known(KnownOutcome::Decisive { winner }) => return Some((Some(Some(winner)), Ending::Mate)),
        Outcome::Known(KnownOutcome::Draw) => return Some((Some(None), Ending::Stalemate)),
        Outcome::Unknown => {}
    }
    if game.board().halfmoves() >= 100 {
        return Some((Some(None), Ending::FiftyMoves));
    }
    if game.times_seen() >= 3 {
        return Some((Some(None), Ending::Repetition));
    }
    if moves.len() >= rules.max_plies {
        return Some((None, Ending::Length));
    }
    let agreed = agreed_winner(position.turn(), moves.len(), thoughts, rules)?;
    Some((Some(agreed), Ending::Agreed))
}

/// The result on which the last scores of both sides agree.
fn agreed_winner(turn: Color, plies: usize, thoughts: &[Thought], rules: &Rules) -> Option<Option<Color>> {
    // The last thought is that of the side that is not to move.
    let last = |count: usize| {
        let movers = [turn.other(), turn].into_iter().cycle();
        (thoughts.len() >= count && count > 0).then(|| {
            thoughts.iter().rev().take(count).zip(movers).map(|(thought, mover)| {
                let value = thought.score.value();
                if mover.is_white() { value } else { -value }
            })
        })
    };
    if let Some(win) = rules.win.filter(|win| plies >= win.from_ply) {
        for color in Color::ALL {
            let sign = color.fold_wb(1, -1);
            if last(win.plies).is_some_and(|mut values| values.all(|value| value * sign >= win.centipawns)) {
                return Some(Some(color));
            }
        }
    }
    let draw = rules.draw.filter(|draw| plies >= draw.from_ply)?;
    last(draw.plies)?.all(|value| value.abs() <= draw.centipawns).then_some(None)
}

/// The move to play: the best, or one drawn from the best few.
fn choose(
    searcher: &mut Searcher,
    game: &Game,
    strength: Strength,
    ply: usize,
    rules: &Rules,
    random: &mut Random,
    stop: &AtomicBool,
) -> (Move, Thought) {
    let varied = ply < rules.variety.plies;
    let temperature = if varied { strength.temperature.max(rules.variety.temperature) } else { strength.temperature };
    let margin = if strength.temperature > 0 { i32::MAX } else { rules.variety.margin };
    let lines = if temperature > 0 { rules.choices } else { 1 };
    let question = Question { limits: Limits::nodes(strength.nodes), lines, only: Vec::new() };
    let report = searcher.search(game, &question, stop, &mut |_| ControlFlow::Continue(()));
    let index = if temperature > 0 { sample(&report.lines, temperature, margin, random) } else { 0 };
    let line = &report.lines[index];
    (line.moves[0], Thought { score: line.score, depth: line.depth, nodes: report.nodes })
}

/// Index of a line, its chance halved for each `temperature` by which it is worse than the first.
fn sample(lines: &[Line], temperature: i32, margin: i32, random: &mut Random) -> usize {
    let best = lines[0].score.value();
    let weights: Vec<u64> = lines
        .iter()
        .map(|line| {
            let worse = best.saturating_sub(line.score.value()).max(0);
            if worse > margin { 0 } else { halvings(worse, temperature) }
        })
        .collect();
    random.weighted(&weights)
}

/// 2^40 · 2^(−worse/temperature), the fraction of a halving by linear interpolation; integers, so the same everywhere.
fn halvings(worse: i32, temperature: i32) -> u64 {
    let steps = i64::from(worse) * 256 / i64::from(temperature);
    let (whole, part) = ((steps / 256) as u32, (steps % 256) as u64);
    if whole >= 40 { 0 } else { ((512 - part) << 31) >> whole }
}

/// Plays all games on `threads` threads.
///
/// `on_event` is called on the calling thread and may end the run; games in play are then abandoned.
/// Returns the games in the order of their plans, `None` where a game was not finished.
///
/// # Panics
///
/// When a plan names an opening that is not there.
pub fn play_all(
    openings: &[Opening],
    plans: &[Plan],
    rules: &Rules,
    threads: usize,
    on_event: &mut dyn FnMut(Event<'_>) -> ControlFlow<()>,
) -> Vec<Option<Played>> {
    let (next, stop) = (AtomicUsize::new(0), AtomicBool::new(false));
    let mut games: Vec<Option<Played>> = vec![None; plans.len()];
    let (sender, receiver) = channel();
    thread::scope(|scope| {
        for _ in 0..threads.clamp(1, plans.len().max(1)) {
            let sender: Sender<(usize, Played)> = sender.clone();
            let (next, stop) = (&next, &stop);
            scope.spawn(move || {
                let mut searcher = Searcher::new(rules.hash_mb);
                loop {
                    let index = next.fetch_add(1, Relaxed);
                    let Some(plan) = plans.get(index) else { break };
                    let Some(played) = play_game(&mut searcher, &openings[plan.opening], plan, rules, stop) else {
                        break;
                    };
                    if sender.send((index, played)).is_err() {
                        break;
                    }
                }
            });
        }
        drop(sender);
        loop {
            let flow = match receiver.recv_timeout(QUIET_TIME) {
                Ok((index, played)) => on_event(Event::Finished(index, games[index].insert(played))),
                Err(RecvTimeoutError::Timeout) => on_event(Event::Waiting),
                Err(RecvTimeoutError::Disconnected) => break,
            };
            if flow.is_break() {
                stop.store(true, Relaxed);
                break;
            }
        }
    });
    games
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plans(count: u64, strength: Strength) -> Vec<Plan> {
        (0..count).map(|seed| Plan { opening: 0, white: strength, black: strength, seed }).collect()
    }

    fn go_on(_: Event<'_>) -> ControlFlow<()> {
        ControlFlow::Continue(())
    }

    #[test]
    fn games_do_not_depend_on_threads_and_differ_by_seed() {
        let openings = [Opening::new(Chess::default(), Vec::new()).unwrap()];
        let plans = plans(12, Strength { nodes: 200, temperature: 30 });
        let rules = Rules::default();
        let one = play_all(&openings, &plans, &rules, 1, &mut go_on);
        let three = play_all(&openings, &plans, &rules, 3, &mut go_on);
        assert_eq!(one, three);
        let different: std::collections::HashSet<Vec<Move>> = one.into_iter().map(|game| game.unwrap().moves).collect();
        assert_eq!(different.len(), 12);
    }

    #[test]
    fn games_are_legal_and_end_as_they_say() {
        let openings = [Opening::new(Chess::default(), Vec::new()).unwrap()];
        let plans = plans(40, Strength { nodes: 60, temperature: 40 });
        let rules = Rules { win: None, draw: None, ..Rules::default() };
        let mut endings = std::collections::HashSet::new();
        for played in play_all(&openings, &plans, &rules, 2, &mut go_on) {
            let Played { moves, winner, ending, .. } = played.unwrap();
            let mut game = Game::new(&Chess::default());
            for m in moves {
                game.play(m).unwrap();
            }
            let position = game.position();
            match ending {
                Ending::Mate => assert!(position.is_checkmate() && winner == Some(Some(position.turn().other()))),
                Ending::Stalemate => assert!(position.is_stalemate() && winner == Some(None)),
                Ending::Repetition => assert!(game.times_seen() == 3 && winner == Some(None)),
                Ending::FiftyMoves => assert!(position.halfmoves() == 100 && winner == Some(None)),
                Ending::DeadPosition => assert!(position.is_insufficient_material() && winner == Some(None)),
                Ending::Length => assert!(game.keys().len() == 401 && winner.is_none()),
                Ending::Agreed => panic!("nothing was to be agreed"),
            }
            endings.insert(format!("{ending:?}"));
        }
        assert!(endings.len() >= 3, "{endings:?}");
    }

    #[test]
    fn both_sides_must_agree() {
        let thought = |value| Thought { score: Score::Centipawns(value), depth: 1, nodes: 1 };
        let rules = Rules {
            win: Some(Agreement { centipawns: 500, plies: 4, from_ply: 0 }),
            draw: Some(Agreement { centipawns: 10, plies: 4, from_ply: 10 }),
            ..Rules::default()
        };
        // White moved last in these; scores are the mover's.
        let black_to_move = |values: [i32; 4], plies| agreed_winner(Color::Black, plies, &values.map(thought), &rules);
        assert_eq!(black_to_move([-600, 600, -510, 500], 8), Some(Some(Color::White)));
        assert_eq!(black_to_move([600, -600, 510, -500], 8), Some(Some(Color::Black)));
        assert_eq!(black_to_move([600, 600, 510, 500], 8), None);
        assert_eq!(black_to_move([5, -5, 0, 10], 9), None);
        assert_eq!(black_to_move([5, -5, 0, 10], 10), Some(None));
        assert_eq!(black_to_move([5, -5, 0, 11], 10), None);
    }

    #[test]
    fn a_run_can_be_stopped() {
        let openings = [Opening::new(Chess::default(), Vec::new()).unwrap()];
        let plans = plans(50, Strength { nodes: 100, temperature: 30 });
        let mut seen = 0;
        let games = play_all(&openings, &plans, &Rules::default(), 2, &mut |event| {
            seen += usize::from(matches!(event, Event::Finished(..)));
            if seen == 3 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        });
        assert_eq!((seen, games.iter().flatten().count(), games.len()), (3, 3, 50));
    }

    #[test]
    fn chances_are_halved() {
        assert_eq!(halvings(0, 20), 1 << 40);
        assert_eq!(halvings(20, 20), 1 << 39);
        assert_eq!(halvings(60, 20), 1 << 37);
        assert!((0..2000).all(|worse| halvings(worse + 1, 30) <= halvings(worse, 30)));
        assert_eq!(halvings(i32::MAX, 1), 0);
    }
}
