//! Building the graph: positions that games meet often enough, every position of a text, of a verdict and of a root, and all
//! legal moves between them.
//!
//! Games come in batches, twice: `count` fills a sketch of how many games meet each position (never too low), `collect` takes
//! down what is played in those that may be met often enough; exact counts then decide. Memory grows with the graph, not
//! with the games. Neither the order of the games nor the number of threads changes the result.

use std::fmt;
use std::sync::atomic::{AtomicU8, Ordering};

use rayon::prelude::*;
use shakmaty::{Chess, Position};

use super::finish::{Built, finish};
use super::positions::{Collision, KeyMap, Packed, PositionTable, pack};
use crate::key::{PositionKey, key_of};
use crate::moves::PackedMove;

/// A root of the edition.
pub const ROOT: u8 = 1;
/// A position of a text.
pub const TEXT: u8 = 2;
/// A position with a verdict.
pub const VERDICT: u8 = 4;
/// A position that enough games meet.
pub const GAMES: u8 = 8;
/// The first position of a text line that passes no root.
pub const ELSEWHERE: u8 = 16;

/// Where a count belongs: who said or played it (a channel), the result (0 unknown, 1 White, 2 Black, 3 draw), whether it is
/// text, and whether the game had met the position before.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Mark(u16);

impl Mark {
    fn new(channel: u16, result: u8, is_text: bool, again: bool) -> Mark {
        Mark(channel << 4 | u16::from(is_text) << 3 | u16::from(again) << 2 | u16::from(result & 3))
    }
    pub fn channel(self) -> u16 {
        self.0 >> 4
    }
    pub fn is_text(self) -> bool {
        self.0 & 8 != 0
    }
    pub fn again(self) -> bool {
        self.0 & 4 != 0
    }
    pub fn result(self) -> usize {
        usize::from(self.0 & 3)
    }
}

/// How many channels there can be.
pub const MAX_CHANNELS: u16 = 1 << 12;

/// `count` games or lines that play `played` (0: they end) in the position `key`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Played {
    pub key: u64,
    pub played: u16,
    pub mark: Mark,
    pub count: u32,
}

/// What stops the building of a graph.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BuildFault {
    /// Two positions share a key.
    Collision(Box<Collision>),
    /// A game's move is not legal: game (within its batch) and half-move, both from 0.
    Illegal {
        /// The game within its batch, from 0.
        game: usize,
        /// The half-move, from 0.
        ply: usize,
    },
    /// Columns that do not fit together.
    Columns(String),
}

impl fmt::Display for BuildFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            BuildFault::Collision(found) => {
                write!(f, "two positions share the key {:016x}: {} and {}", found.key.0, found.first, found.second)
            }
            BuildFault::Illegal { game, ply } => {
                write!(f, "game {} of the batch has no legal move at half-move {}", game + 1, ply + 1)
            }
            BuildFault::Columns(what) => f.write_str(what),
        }
    }
}

impl std::error::Error for BuildFault {}

impl From<Collision> for BuildFault {
    fn from(found: Collision) -> Self {
        BuildFault::Collision(Box::new(found))
    }
}

/// What one game has played where, so that one that comes back counts once.
#[derive(Default)]
struct Met(Vec<(u64, u16)>);

impl Met {
    /// Takes down a move; `None` when it has been played in that position before, else whether the position was met before.
    fn note(&mut self, key: u64, played: u16) -> Option<bool> {
        if self.0.contains(&(key, played)) {
            return None;
        }
        let again = self.0.iter().any(|&(met, _)| met == key);
        self.0.push((key, played));
        Some(again)
    }
}

/// Games as columns: the moves of game `i` are `moves[offsets[i]..offsets[i + 1]]`.
#[derive(Debug, Clone, Copy)]
pub struct Games<'a> {
    /// One more than there are games.
    pub offsets: &'a [u64],
    /// Packed moves; a null move ends what is read of a game.
    pub moves: &'a [u16],
    /// Plies played before the game's first root.
    pub root_ply: &'a [u16],
    /// 0 unknown, 1 White won, 2 Black won, 3 drawn.
    pub result: &'a [u8],
    /// The channel of each game.
    pub channel: &'a [u16],
    /// Positions of the games that do not start from the normal one.
    pub starts: &'a KeyMap<Chess>,
}

impl Games<'_> {
    fn check(&self) -> Result<usize, BuildFault> {
        let games = self.root_ply.len();
        let fits = self.offsets.len() == games + 1
            && self.result.len() == games
            && self.channel.len() == games
            && self.offsets.is_sorted()
            && self.offsets[0] == 0
            && self.offsets[games] as usize == self.moves.len()
            && self.channel.iter().all(|&channel| channel < MAX_CHANNELS);
        if fits { Ok(games) } else { Err(BuildFault::Columns("the columns of the games do not fit together".into())) }
    }

    fn moves(&self, game: usize) -> &[u16] {
        &self.moves[self.offsets[game] as usize..self.offsets[game + 1] as usize]
    }

    /// Calls `see` with each position of a game from its root on, up to `horizon` plies after it, with the move played in it
    /// (0 at the end) and whether the game has met it before; not again with the same move.
    fn replay(
        &self,
        game: usize,
        horizon: u16,
        mut see: impl FnMut(&Chess, u64, u16, bool) -> Result<(), BuildFault>,
    ) -> Result<(), BuildFault> {
        let mut position = self.starts.get(&(game as u64)).cloned().unwrap_or_default();
        let first = usize::from(self.root_ply[game]);
        let mut met = Met::default();
        for (ply, played) in self.moves(game).iter().copied().chain([0]).enumerate() {
            let last = played == 0 || ply >= first + usize::from(horizon);
            if ply >= first {
                let (key, next) = (key_of(&position).0, if last { 0 } else { played });
                if let Some(again) = met.note(key, next) {
                    see(&position, key, next, again)?;
                }
            }
            if last {
                break;
            }
            let legal = PackedMove(played).unpack(&position).ok_or(BuildFault::Illegal { game, ply })?;
            position.play_unchecked(legal);
        }
        Ok(())
    }
}

/// Takes in roots, texts, verdicts and games, and makes the graph.
#[derive(Debug)]
pub struct GraphBuilder {
    min_games: u32,
    horizon: u16,
    sketch: Sketch,
    table: PositionTable,
    flags: KeyMap<u8>,
    roots: Vec<u64>,
    elsewhere: Vec<u64>,
    played: Vec<Played>,
    tidy: usize,
}

/// Rows that are put in order whenever so many new ones have come.
const TIDY_ROWS: usize = 4_000_000;

impl GraphBuilder {
    /// A graph of the positions that at least `min_games` games meet within `horizon` plies of their root. `expected` is
    /// about how many positions the games have, all told; it sizes the sketch.
    #[must_use]
    pub fn new(min_games: u32, horizon: u16, expected: u64) -> Self {
        GraphBuilder {
            min_games,
            horizon,
            sketch: Sketch::new(min_games, expected),
            table: PositionTable::default(),
            flags: KeyMap::default(),
            roots: Vec::new(),
            elsewhere: Vec::new(),
            played: Vec::new(),
            tidy: TIDY_ROWS,
        }
    }

    fn keep(&mut self, position: &Chess, flag: u8) -> Result<u64, BuildFault> {
        let key = key_of(position);
        self.table.insert(key, pack(position))?;
        *self.flags.entry(key.0).or_default() |= flag;
        Ok(key.0)
    }

    /// Adds a root. Roots come before texts.
    ///
    /// # Errors
    ///
    /// A key is shared.
    pub fn add_root(&mut self, position: &Chess) -> Result<(), BuildFault> {
        let key = self.keep(position, ROOT)?;
        if !self.roots.contains(&key) {
            self.roots.push(key);
        }
        Ok(())
    }

    /// Adds the position of a verdict. It comes into the graph where a legal move leads to it.
    ///
    /// # Errors
    ///
    /// A key is shared.
    pub fn add_verdict(&mut self, position: &Chess) -> Result<(), BuildFault> {
        self.keep(position, VERDICT).map(drop)
    }

    /// Adds a line of a text, from the first root it passes, else the whole of it; what follows a null move is left out,
    /// since no play leads there. Tells whether it passes a root.
    ///
    /// # Errors
    ///
    /// A move is not legal, or a key is shared.
    pub fn add_text(&mut self, start: &Chess, moves: &[u16], channel: u16) -> Result<bool, BuildFault> {
        if channel >= MAX_CHANNELS {
            return Err(BuildFault::Columns(format!("there are {MAX_CHANNELS} channels at most")));
        }
        let mut line = vec![(start.clone(), 0u16)];
        for (ply, &played) in moves.iter().enumerate().take_while(|&(_, &played)| played != 0) {
            let (position, next) = line.last_mut().expect("a line has a start");
            let legal = PackedMove(played).unpack(position).ok_or(BuildFault::Illegal { game: 0, ply })?;
            *next = played;
            let mut after = position.clone();
            after.play_unchecked(legal);
            line.push((after, 0));
        }
        let root = line.iter().position(|(position, _)| self.roots.contains(&key_of(position).0));
        let mut met = Met::default();
        for (position, played) in &line[root.unwrap_or(0)..] {
            let key = self.keep(position, TEXT)?;
            if let Some(again) = met.note(key, *played) {
                self.played.push(Played { key, played: *played, mark: Mark::new(channel, 0, true, again), count: 1 });
            }
        }
        if root.is_none() {
            let key = self.keep(start, ELSEWHERE)?;
            if !self.elsewhere.contains(&key) {
                self.elsewhere.push(key);
            }
        }
        Ok(root.is_some())
    }

    /// Whether games must go through `count` before `collect`.
    #[must_use]
    pub fn counts_first(&self) -> bool {
        self.min_games > 1
    }

    /// First pass over a batch of games.
    ///
    /// # Errors
    ///
    /// A game has an illegal move, or columns do not fit.
    pub fn count(&mut self, games: &Games<'_>) -> Result<(), BuildFault> {
        let number = games.check()?;
        let sketch = &self.sketch;
        (0..number).into_par_iter().with_min_len(64).try_for_each(|game| {
            games.replay(game, self.horizon, |_, key, _, again| {
                if !again {
                    sketch.count(key);
                }
                Ok(())
            })
        })
    }

    /// Second (or only) pass over a batch of games.
    ///
    /// # Errors
    ///
    /// A game has an illegal move, columns do not fit, or a key is shared.
    pub fn collect(&mut self, games: &Games<'_>) -> Result<(), BuildFault> {
        let number = games.check()?;
        let (sketch, table, flags) = (&self.sketch, &self.table, &self.flags);
        let all = self.min_games <= 1;
        type Found = (Vec<Played>, Vec<(PositionKey, Packed)>);
        let found: Vec<Result<Found, BuildFault>> = (0..number.div_ceil(256))
            .into_par_iter()
            .map(|part| {
                let (mut played, mut fresh): Found = (Vec::new(), Vec::new());
                for game in part * 256..number.min((part + 1) * 256) {
                    games.replay(game, self.horizon, |position, key, next, again| {
                        if all || sketch.may_pass(key) || flags.contains_key(&key) {
                            let packed = pack(position);
                            if !table.holds(PositionKey(key), &packed)? {
                                fresh.push((PositionKey(key), packed));
                            }
                            let mark = Mark::new(games.channel[game], games.result[game], false, again);
                            played.push(Played { key, played: next, mark, count: 1 });
                        }
                        Ok(())
                    })?;
                }
                Ok((played, fresh))
            })
            .collect();
        for part in found {
            let (played, fresh) = part?;
            self.played.extend(played);
            for (key, packed) in fresh {
                self.table.insert(key, packed)?;
            }
        }
        if self.played.len() >= self.tidy {
            add_up(&mut self.played);
            self.tidy = 2 * self.played.len() + TIDY_ROWS;
        }
        Ok(())
    }

    /// Makes the graph.
    ///
    /// # Errors
    ///
    /// A key is shared.
    pub fn finish(mut self) -> Result<Built, BuildFault> {
        add_up(&mut self.played);
        finish(&self.played, &self.table, self.flags, &self.roots, &self.elsewhere, self.min_games)
    }
}

/// Sorts rows and makes one of those that differ in nothing but the count.
fn add_up(rows: &mut Vec<Played>) {
    rows.par_sort_unstable();
    rows.dedup_by(|next, kept| {
        let same = (next.key, next.played, next.mark) == (kept.key, kept.played, kept.mark);
        if same {
            kept.count += next.count;
        }
        same
    });
}

/// How many games meet each position, never too low: two rows of counters (G. Cormode, S. Muthukrishnan, "An improved data
/// stream summary: the count-min sketch", J. Algorithms 55, 2005).
#[derive(Debug)]
struct Sketch {
    rows: [Vec<AtomicU8>; 2],
    mask: u64,
    enough: u8,
}

impl Sketch {
    fn new(min_games: u32, expected: u64) -> Sketch {
        let size = if min_games <= 1 { 1 } else { expected.next_power_of_two().clamp(1 << 12, 1 << 26) };
        let row = || (0..size).map(|_| AtomicU8::new(0)).collect();
        // Counters stop at "enough", far enough below 255 that threads which count at once cannot wrap them.
        Sketch { rows: [row(), row()], mask: size - 1, enough: min_games.min(150) as u8 }
    }

    fn cells(&self, key: u64) -> [&AtomicU8; 2] {
        [&self.rows[0][(key & self.mask) as usize], &self.rows[1][(key >> 32 & self.mask) as usize]]
    }

    fn count(&self, key: u64) {
        for cell in self.cells(key) {
            if cell.load(Ordering::Relaxed) < self.enough {
                cell.fetch_add(1, Ordering::Relaxed);
            }
        }
    }

    fn may_pass(&self, key: u64) -> bool {
        self.cells(key).into_iter().all(|cell| cell.load(Ordering::Relaxed) >= self.enough)
    }
}
