//! Sorted runs of occurrences, and the packed games behind them: merging runs, checking a hit by replay, counting the
//! orders that reach a position, and the fingerprint by which doubles are found.

use std::collections::HashMap;

use rayon::prelude::*;
use shakmaty::{CastlingMode, Chess, Position};

use crate::fen::read_fen;
use crate::moves::{PackedMove, pass};

/// How many plies at the start of a game its fingerprint covers: a game of at least so many plies can be the beginning
/// of a longer double.
pub const FINGERPRINT_PLIES: usize = 30;

/// A part of one run, sorted by (key, game, ply, move); all four slices have one length.
#[derive(Debug, Clone, Copy)]
pub struct Chunk<'a> {
    /// Key of the position.
    pub keys: &'a [u64],
    /// Number of the game in the store.
    pub games: &'a [u32],
    /// Plies played before the position.
    pub plies: &'a [u16],
    /// The move played there, packed; 0 at the end of the game.
    pub moves: &'a [u16],
    /// Whether the run goes on behind this part.
    pub more: bool,
}

impl Chunk<'_> {
    fn len(&self) -> usize {
        self.keys.len()
    }

    fn row(&self, index: usize) -> (u64, u64) {
        let tail =
            u64::from(self.games[index]) << 32 | u64::from(self.plies[index]) << 16 | u64::from(self.moves[index]);
        (self.keys[index], tail)
    }

    /// How many rows are not behind `bound`.
    fn rows_up_to(&self, bound: (u64, u64)) -> usize {
        let (mut low, mut high) = (0, self.len());
        while low < high {
            let middle = low + (high - low) / 2;
            if self.row(middle) <= bound {
                low = middle + 1;
            } else {
                high = middle;
            }
        }
        low
    }
}

/// Merged occurrences in columns, sorted by (key, game, ply, move).
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Occurrences {
    /// Key of the position.
    pub keys: Vec<u64>,
    /// Number of the game in the store.
    pub games: Vec<u32>,
    /// Plies played before the position.
    pub plies: Vec<u16>,
    /// The move played there.
    pub moves: Vec<u16>,
}

/// Ranges of game numbers, ascending and apart: `starts[i] <= game < ends[i]`.
#[derive(Debug, Clone, Copy)]
pub struct Ranges<'a> {
    /// First numbers.
    pub starts: &'a [u32],
    /// One past the last numbers.
    pub ends: &'a [u32],
}

impl Ranges<'_> {
    fn contain(&self, game: u32) -> bool {
        let behind = self.starts.partition_point(|&start| start <= game);
        behind > 0 && game < self.ends[behind - 1]
    }
}

/// Merges what the chunks have in common: every row up to the least last row of a run that goes on. Rows of games that
/// are not `live` are dropped. Gives how many rows of each chunk were used up, and the merged rows; at least one chunk
/// that goes on is used up whole, so that repeating with the rests and the next chunks comes to an end.
#[must_use]
pub fn merge(chunks: &[Chunk<'_>], live: Ranges<'_>) -> (Vec<usize>, Occurrences) {
    let bound =
        chunks.iter().filter(|chunk| chunk.more && chunk.len() > 0).map(|chunk| chunk.row(chunk.len() - 1)).min();
    let taken: Vec<usize> =
        chunks.iter().map(|chunk| bound.map_or(chunk.len(), |bound| chunk.rows_up_to(bound))).collect();
    let mut rows: Vec<(u64, u64)> = Vec::with_capacity(taken.iter().sum());
    for (chunk, &count) in chunks.iter().zip(&taken) {
        rows.extend((0..count).filter(|&index| live.contain(chunk.games[index])).map(|index| chunk.row(index)));
    }
    // The stable sort finds the runs and merges them.
    rows.par_sort();
    let mut merged = Occurrences {
        keys: Vec::with_capacity(rows.len()),
        games: Vec::with_capacity(rows.len()),
        plies: Vec::with_capacity(rows.len()),
        moves: Vec::with_capacity(rows.len()),
    };
    for (key, tail) in rows {
        merged.keys.push(key);
        merged.games.push((tail >> 32) as u32);
        merged.plies.push((tail >> 16) as u16);
        merged.moves.push(tail as u16);
    }
    (taken, merged)
}

/// Byte strings in two columns: string `i` is `data[offsets[i]..offsets[i + 1]]`.
#[derive(Debug, Clone, Copy)]
pub struct Strings<'a> {
    offsets: &'a [i32],
    data: &'a [u8],
}

impl<'a> Strings<'a> {
    /// Checks the columns once, so that no later access can fail.
    ///
    /// # Errors
    ///
    /// The offsets are empty, fall, or point outside the data.
    pub fn new(offsets: &'a [i32], data: &'a [u8]) -> Result<Strings<'a>, &'static str> {
        let (Some(&first), Some(&last)) = (offsets.first(), offsets.last()) else {
            return Err("a string column needs one offset more than strings");
        };
        if first < 0 || !offsets.is_sorted() || last as usize > data.len() {
            return Err("the offsets of a string column must rise and stay within its data");
        }
        Ok(Strings { offsets, data })
    }

    /// How many strings there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.offsets.len() - 1
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// String `index`; panics when there is none.
    #[must_use]
    pub fn get(&self, index: usize) -> &'a [u8] {
        &self.data[self.offsets[index] as usize..self.offsets[index + 1] as usize]
    }
}

/// Games as the store keeps them: start positions (empty: the normal one) and moves (packed, little-endian).
#[derive(Debug, Clone, Copy)]
pub struct Games<'a> {
    starts: Strings<'a>,
    moves: Strings<'a>,
}

impl<'a> Games<'a> {
    /// Both columns must have one length.
    ///
    /// # Errors
    ///
    /// They have not.
    pub fn new(starts: Strings<'a>, moves: Strings<'a>) -> Result<Games<'a>, &'static str> {
        if starts.len() == moves.len() {
            Ok(Games { starts, moves })
        } else {
            Err("start positions and moves differ in number")
        }
    }

    /// How many games there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.moves.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The moves of game `row`; panics when there is none.
    pub fn moves(&self, row: usize) -> impl Iterator<Item = PackedMove> + use<'a> {
        self.moves.get(row).chunks_exact(2).map(|pair| PackedMove(u16::from_le_bytes([pair[0], pair[1]])))
    }

    /// The position of game `row` after `ply` plies; `None` where its start or its moves cannot be played so far.
    #[must_use]
    pub fn position_after(&self, row: usize, ply: usize) -> Option<Chess> {
        let fen = self.starts.get(row);
        let mut position =
            if fen.is_empty() { Chess::default() } else { read_fen(fen, CastlingMode::Standard).ok()? };
        let mut played = 0;
        for packed in self.moves(row).take(ply) {
            if packed.is_null() {
                position = pass(&position)?;
            } else {
                let legal = packed.unpack(&position)?;
                position.play_unchecked(legal);
            }
            played += 1;
        }
        (played == ply).then_some(position)
    }

    /// Whether each hit (a row and a ply) is `target` by the repetition rule, found by replay.
    ///
    /// # Errors
    ///
    /// A hit names a row that is not there, or the columns of hits differ in length.
    pub fn verify(&self, target: &Chess, rows: &[u32], plies: &[u16]) -> Result<Vec<bool>, &'static str> {
        self.check(rows, plies)?;
        let is_target = |(&row, &ply): (&u32, &u16)| {
            self.position_after(row as usize, usize::from(ply)).is_some_and(|position| position == *target)
        };
        Ok(rows.par_iter().zip(plies).with_min_len(64).map(is_target).collect())
    }

    /// One fingerprint a game: start position and first `FINGERPRINT_PLIES` moves, of shorter games all moves and the
    /// fact that they are shorter. 0 for a game without moves. Equal for games that can be doubles; equal values are no
    /// proof. Values stand in stores: a change needs a new schema version.
    #[must_use]
    pub fn fingerprints(&self) -> Vec<u64> {
        (0..self.len()).into_par_iter().with_min_len(256).map(|row| self.fingerprint(row)).collect()
    }

    fn fingerprint(&self, row: usize) -> u64 {
        let mut print = self.starts.get(row).iter().fold(1, |print, &byte| stir(print, u64::from(byte)));
        let mut count = 0;
        for packed in self.moves(row).take(FINGERPRINT_PLIES) {
            print = stir(print, u64::from(packed.0));
            count += 1;
        }
        match count {
            0 => 0,
            FINGERPRINT_PLIES => print.max(1),
            shorter => stir(print, shorter as u64 | 1 << 32).max(1),
        }
    }

    /// Checks hits: a row and a ply each.
    ///
    /// # Errors
    ///
    /// A hit names a row that is not there, or the columns of hits differ in length.
    pub fn check(&self, rows: &[u32], plies: &[u16]) -> Result<(), &'static str> {
        if rows.len() != plies.len() {
            return Err("rows and plies of hits differ in number");
        }
        if rows.iter().any(|&row| row as usize >= self.len()) {
            return Err("a hit names a game that is not there");
        }
        Ok(())
    }
}

/// One round of a multiply-xor mix; any odd constant with well spread bits serves.
pub(crate) fn stir(print: u64, value: u64) -> u64 {
    let mixed = (print ^ value).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    mixed ^ mixed >> 29
}

/// How many games reached a position by each order of moves, by result.
#[derive(Debug, Default)]
pub struct OrderCounts {
    counts: HashMap<Order, [u32; RESULTS]>,
}

/// Results are counted apart: 0 unknown, 1 White won, 2 Black won, 3 drawn.
pub const RESULTS: usize = 4;

/// A start position (FEN, empty for the normal one) and the moves played from it.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Order {
    /// FEN of the start position; empty for the normal one.
    pub start: Box<[u8]>,
    /// The moves, packed.
    pub moves: Box<[u16]>,
}

impl OrderCounts {
    /// Counts hits: game `rows[i]` of `games` reached the position after `plies[i]` plies and ended in `results[i]`.
    ///
    /// # Errors
    ///
    /// The hits do not fit the games.
    pub fn add(&mut self, games: &Games<'_>, rows: &[u32], plies: &[u16], results: &[u8]) -> Result<(), &'static str> {
        games.check(rows, plies)?;
        if results.len() != rows.len() || results.iter().any(|&result| usize::from(result) >= RESULTS) {
            return Err("results of hits are missing or out of range");
        }
        for ((&row, &ply), &result) in rows.iter().zip(plies).zip(results) {
            let row = row as usize;
            let order = Order {
                start: games.starts.get(row).into(),
                moves: games.moves(row).take(usize::from(ply)).map(|packed| packed.0).collect(),
            };
            self.counts.entry(order).or_default()[usize::from(result)] += 1;
        }
        Ok(())
    }

    /// How many different orders there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.counts.len()
    }

    /// Whether nothing was counted.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.counts.is_empty()
    }

    /// The `limit` most frequent orders with their counts by result, ties in the order of their moves.
    #[must_use]
    pub fn most_frequent(&self, limit: usize) -> Vec<(&Order, [u32; RESULTS])> {
        let mut found: Vec<_> = self.counts.iter().map(|(order, &by_result)| (order, by_result)).collect();
        found.sort_by(|(order, by_result), (other, other_by_result)| {
            let (count, other_count): (u32, u32) = (by_result.iter().sum(), other_by_result.iter().sum());
            other_count.cmp(&count).then_with(|| order.cmp(other))
        });
        found.truncate(limit);
        found
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::parse::parse_move;

    type Row = (u64, u32, u16, u16);

    struct Columns {
        keys: Vec<u64>,
        games: Vec<u32>,
        plies: Vec<u16>,
        moves: Vec<u16>,
    }

    impl Columns {
        fn of(rows: &[Row]) -> Columns {
            Columns {
                keys: rows.iter().map(|row| row.0).collect(),
                games: rows.iter().map(|row| row.1).collect(),
                plies: rows.iter().map(|row| row.2).collect(),
                moves: rows.iter().map(|row| row.3).collect(),
            }
        }

        fn chunk(&self, from: usize, to: usize, more: bool) -> Chunk<'_> {
            Chunk {
                keys: &self.keys[from..to],
                games: &self.games[from..to],
                plies: &self.plies[from..to],
                moves: &self.moves[from..to],
                more,
            }
        }
    }

    /// Merges whole runs, `step` rows of each at a time, as the store does.
    fn merge_in_steps(runs: &[Columns], step: usize, live: Ranges<'_>) -> Vec<Row> {
        let mut at = vec![0; runs.len()];
        let mut out = Vec::new();
        while runs.iter().zip(&at).any(|(run, &from)| from < run.keys.len()) {
            let chunks: Vec<Chunk<'_>> = runs
                .iter()
                .zip(&at)
                .map(|(run, &from)| {
                    let to = run.keys.len().min(from + step);
                    run.chunk(from, to, to < run.keys.len())
                })
                .collect();
            let (taken, merged) = merge(&chunks, live);
            assert!(taken.iter().sum::<usize>() > 0);
            at.iter_mut().zip(taken).for_each(|(from, count)| *from += count);
            for index in 0..merged.keys.len() {
                out.push((merged.keys[index], merged.games[index], merged.plies[index], merged.moves[index]));
            }
        }
        out
    }

    proptest! {
        #[test]
        fn merging_in_steps_is_sorting_what_lives(
            mut runs in prop::collection::vec(prop::collection::vec((0u64..9, 0u32..12, 0u16..4, 0u16..3), 0..40), 0..6),
            step in 1usize..9,
            dead in 0u32..12,
        ) {
            runs.iter_mut().for_each(|run| run.sort_unstable());
            let columns: Vec<Columns> = runs.iter().map(|rows| Columns::of(rows)).collect();
            let live = Ranges { starts: &[0, dead + 1], ends: &[dead, u32::MAX] };
            let mut expected: Vec<Row> = runs.concat().into_iter().filter(|row| row.1 != dead).collect();
            expected.sort_unstable();
            prop_assert_eq!(merge_in_steps(&columns, step, live), expected);
        }
    }

    fn packed_line(start: &Chess, line: &str) -> Vec<u8> {
        let mut position = start.clone();
        let mut bytes = Vec::new();
        for token in line.split_whitespace() {
            let played = parse_move(&position, token.as_bytes()).unwrap();
            bytes.extend(PackedMove::pack(played).0.to_le_bytes());
            position.play_unchecked(played);
        }
        bytes
    }

    struct Collection {
        start_offsets: Vec<i32>,
        starts: Vec<u8>,
        move_offsets: Vec<i32>,
        moves: Vec<u8>,
    }

    impl Collection {
        fn of(games: &[(&str, &str)]) -> Collection {
            let mut made = Collection { start_offsets: vec![0], starts: vec![], move_offsets: vec![0], moves: vec![] };
            for (fen, line) in games {
                let start = if fen.is_empty() {
                    Chess::default()
                } else {
                    read_fen(fen.as_bytes(), CastlingMode::Standard).unwrap()
                };
                made.starts.extend(fen.as_bytes());
                made.moves.extend(packed_line(&start, line));
                made.start_offsets.push(made.starts.len() as i32);
                made.move_offsets.push(made.moves.len() as i32);
            }
            made
        }

        fn games(&self) -> Games<'_> {
            let starts = Strings::new(&self.start_offsets, &self.starts).unwrap();
            Games::new(starts, Strings::new(&self.move_offsets, &self.moves).unwrap()).unwrap()
        }
    }

    const AFTER_E4: &str = "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq - 0 1";

    #[test]
    fn hits_are_verified_by_replay() {
        let collection = Collection::of(&[
            ("", "e4 c6 d4 d5 exd5 cxd5"),
            ("", "d4 c6 e4 d5 exd5 cxd5"),
            ("", "e4 d5 exd5 c6"),
            (AFTER_E4, "c6 d4 d5 exd5 cxd5"),
        ]);
        let games = collection.games();
        let target = games.position_after(0, 6).unwrap();
        let found = games.verify(&target, &[0, 1, 2, 3, 0, 3], &[6, 6, 4, 5, 5, 6]).unwrap();
        assert_eq!(found, [true, true, false, true, false, false]);
        assert!(games.verify(&target, &[4], &[0]).is_err());
        assert!(games.verify(&target, &[0, 1], &[0]).is_err());
    }

    #[test]
    fn broken_games_are_no_hits() {
        let mut collection = Collection::of(&[("", "e4 c6"), (AFTER_E4, "c6")]);
        collection.moves[0] = 0xFF;
        collection.starts[0] = b'!';
        let games = collection.games();
        assert!(games.position_after(0, 2).is_none());
        assert!(games.position_after(1, 0).is_none());
    }

    #[test]
    fn columns_are_checked() {
        assert!(Strings::new(&[], b"").is_err());
        assert!(Strings::new(&[0, 2, 1], b"ab").is_err());
        assert!(Strings::new(&[0, 3], b"ab").is_err());
        assert!(Strings::new(&[-1, 2], b"ab").is_err());
        assert_eq!(Strings::new(&[1, 1, 2], b"ab").unwrap().get(1), b"b");
    }

    #[test]
    fn fingerprints_cover_thirty_plies() {
        let thirty = "e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6 O-O Be7 Re1 b5 Bb3 d6 c3 O-O h3 Na5 Bc2 c5 d4 Qc7 Nbd2 cxd4 cxd4 Nc6 \
                      Nb3 a5 Be3 a4";
        let longer = format!("{thirty} Nbd2 Bd7");
        let other_end = format!("{thirty} Nc1");
        let shorter = thirty.rsplit_once(' ').unwrap().0;
        let collection = Collection::of(&[("", thirty), ("", &longer), ("", &other_end), ("", shorter), ("", "")]);
        let prints = collection.games().fingerprints();
        assert_eq!(prints[0], prints[1]);
        assert_eq!(prints[0], prints[2]);
        assert_ne!(prints[0], prints[3]);
        assert_eq!(prints[4], 0);
    }

    #[test]
    fn orders_are_counted_by_whole_prefix_and_result() {
        let collection = Collection::of(&[
            ("", "e4 c6 d4 d5"),
            ("", "d4 c6 e4 d5"),
            ("", "e4 c6 d4 d5 exd5"),
            (AFTER_E4, "c6 d4 d5"),
        ]);
        let mut counts = OrderCounts::default();
        counts.add(&collection.games(), &[0, 1, 2, 3], &[4, 4, 4, 3], &[1, 2, 3, 0]).unwrap();
        assert_eq!(counts.len(), 3);
        let found = counts.most_frequent(2);
        assert_eq!(found.len(), 2);
        assert_eq!(found[0].1, [0, 1, 0, 1]);
        assert_eq!(found[0].0.moves.len(), 4);
        assert!(counts.add(&collection.games(), &[0], &[1], &[9]).is_err());
    }
}
