//! What is learnt about moves while searching: killer moves (Akl and Newborn, "The Principal Continuation and the Killer
//! Heuristic", 1977), the history heuristic (Schaeffer, "The History Heuristic and Alpha-Beta Search Enhancements in
//! Practice", 1989), counter moves (Uiterwijk, "The Countermove Heuristic", 1992), and histories by the moves before.

use shakmaty::Color;

use crate::{board::Board, moves::Move, score::MAX_PLY};

/// No lesson counts for more.
pub const HISTORY_LIMIT: i32 = 16_384;
/// A piece of a colour on a square.
const PLACES: usize = 2 * 6 * 64;
/// What a context may be: nothing, a piece that went to a square, a turn passed.
const CONTEXTS: usize = PLACES + 2;

/// What led to a node: nothing at the root, a move, or a turn passed.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Context(u16);

impl Context {
    /// Nothing is known.
    pub const NOTHING: Context = Context(0);

    /// The turn was passed.
    pub const PASS: Context = Context(CONTEXTS as u16 - 1);

    /// The move `m`, about to be made on `board`.
    #[inline]
    #[must_use]
    pub fn of(board: &Board, m: Move) -> Context {
        Context(1 + place(board, m) as u16)
    }

    /// Whether the turn was passed.
    #[inline]
    #[must_use]
    pub fn is_pass(self) -> bool {
        self == Context::PASS
    }

    const fn index(self) -> usize {
        self.0 as usize
    }
}

/// Piece of the mover and where it goes.
#[inline]
fn place(board: &Board, m: Move) -> usize {
    let role = board.role_on(m.from()).map_or(0, |role| role as usize - 1);
    (board.turn().is_white() as usize * 6 + role) * 64 + m.to().to_usize()
}

/// The moves one, two and four plies before the one that is judged.
#[derive(Clone, Copy, Debug, Default)]
pub struct Contexts {
    /// The opponent's last move.
    pub last: Context,
    /// The own move before it.
    pub own: Context,
    /// The own move before that.
    pub own_before: Context,
}

/// What earlier nodes taught.
pub struct Memory {
    killers: Vec<[Move; 2]>,
    /// By colour, origin and destination.
    quiet: Vec<i16>,
    /// By the opponent's last move, then piece and destination.
    answers: Vec<i16>,
    /// By an own earlier move, then piece and destination.
    plans: Vec<i16>,
    /// By piece and destination, then what is captured.
    captures: Vec<i16>,
    /// The quiet answer that last refuted a move.
    counters: Vec<Move>,
}

impl Default for Memory {
    fn default() -> Memory {
        Memory {
            killers: vec![[Move::NONE; 2]; MAX_PLY + 1],
            quiet: vec![0; 2 * 4096],
            answers: vec![0; CONTEXTS * PLACES],
            plans: vec![0; CONTEXTS * PLACES],
            captures: vec![0; PLACES * 8],
            counters: vec![Move::NONE; CONTEXTS],
        }
    }
}

fn quiet_index(color: Color, m: Move) -> usize {
    color.is_white() as usize * 4096 + m.from_to()
}

fn capture_index(board: &Board, m: Move) -> usize {
    place(board, m) * 8 + board.captured(m).map_or(0, |role| role as usize)
}

fn pair_index(context: Context, place: usize) -> usize {
    context.index() * PLACES + place
}

impl Memory {
    /// Forgets everything.
    pub fn clear(&mut self) {
        self.killers.fill([Move::NONE; 2]);
        self.quiet.fill(0);
        self.answers.fill(0);
        self.plans.fill(0);
        self.captures.fill(0);
        self.counters.fill(Move::NONE);
    }

    /// Keeps a fainter memory for the next search of a game.
    pub fn fade(&mut self) {
        self.killers.fill([Move::NONE; 2]);
        for value in &mut self.quiet {
            *value /= 2;
        }
    }

    /// Killers of the ply below belong to another subtree.
    pub fn forget_killers(&mut self, ply: usize) {
        if let Some(killers) = self.killers.get_mut(ply) {
            *killers = [Move::NONE; 2];
        }
    }

    /// Quiet moves that refuted something near here: two killers and the counter move.
    #[inline]
    #[must_use]
    pub fn refutations(&self, ply: usize, last: Context) -> [Move; 3] {
        let [first, second] = self.killers[ply];
        [first, second, self.counters[last.index()]]
    }

    /// What the histories say of a quiet move: the more it cut before, the greater; at most four limits in size.
    #[inline]
    #[must_use]
    pub fn of_quiet(&self, board: &Board, m: Move, contexts: &Contexts) -> i32 {
        let place = place(board, m);
        i32::from(self.quiet[quiet_index(board.turn(), m)])
            + i32::from(self.answers[pair_index(contexts.last, place)])
            + i32::from(self.plans[pair_index(contexts.own, place)])
            + i32::from(self.plans[pair_index(contexts.own_before, place)]) / 2
    }

    /// What the histories say of a capture or promotion; at most one limit in size.
    #[inline]
    #[must_use]
    pub fn of_noisy(&self, board: &Board, m: Move) -> i32 {
        i32::from(self.captures[capture_index(board, m)])
    }

    /// A quiet move cut after a search of `depth`; `tried` are the quiet moves before it.
    pub fn quiet_cut(&mut self, board: &Board, m: Move, tried: &[Move], contexts: &Contexts, ply: usize, depth: i32) {
        let killers = &mut self.killers[ply];
        if killers[0] != m {
            *killers = [m, killers[0]];
        }
        self.counters[contexts.last.index()] = m;
        let bonus = bonus(depth);
        self.learn_quiet(board, m, contexts, bonus);
        for &other in tried {
            self.learn_quiet(board, other, contexts, -bonus);
        }
    }

    /// A capture or promotion cut (if `cut` is one); the others in `tried` did not.
    pub fn noisy_cut(&mut self, board: &Board, cut: Option<Move>, tried: &[Move], depth: i32) {
        let bonus = bonus(depth);
        if let Some(m) = cut {
            learn(&mut self.captures[capture_index(board, m)], bonus);
        }
        for &other in tried {
            learn(&mut self.captures[capture_index(board, other)], -bonus);
        }
    }

    fn learn_quiet(&mut self, board: &Board, m: Move, contexts: &Contexts, bonus: i32) {
        let place = place(board, m);
        learn(&mut self.quiet[quiet_index(board.turn(), m)], bonus);
        learn(&mut self.answers[pair_index(contexts.last, place)], bonus);
        learn(&mut self.plans[pair_index(contexts.own, place)], bonus);
        learn(&mut self.plans[pair_index(contexts.own_before, place)], bonus / 2);
    }
}

fn bonus(depth: i32) -> i32 {
    (depth * 150 - 50).min(1500)
}

/// Moves towards the limit by a share of what is left, so that old lessons fade.
fn learn(slot: &mut i16, bonus: i32) {
    let value = i32::from(*slot);
    *slot = (value + bonus - value * bonus.abs() / HISTORY_LIMIT) as i16;
}
