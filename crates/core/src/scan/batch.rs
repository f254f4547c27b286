//! What the scan gives: columns of kept games, sorted occurrences, rejects, notes and counts.

use super::feed::{Block, KEPT_OF_OVERLONG, LONGEST_GAME, Note};
use super::game::{Fate, Fault, FaultAt, GameReader};
use super::movetext::{Untagged, untagged};
use super::segment::{Remark, Segment, Segmenter};
use super::tags::{Tags, unescaped};
use super::text::{count_lines, decoded, push_decoded};

/// A batch holds at most so many kept games.
pub const MOST_GAMES: usize = 1 << 14;

/// A column of texts: text i goes from `ends[i]` to `ends[i + 1]` of `bytes`, which are UTF-8.
#[derive(Debug, PartialEq, Eq)]
pub struct Strings {
    /// One more than texts; the first is 0.
    pub ends: Vec<i32>,
    /// All texts, one behind the other.
    pub bytes: Vec<u8>,
}

impl Default for Strings {
    fn default() -> Strings {
        Strings { ends: vec![0], bytes: Vec::new() }
    }
}

impl Strings {
    fn push(&mut self, text: &[u8]) {
        push_decoded(&mut self.bytes, text);
        self.ends.push(i32::try_from(self.bytes.len()).expect("a batch holds less than 2 GiB of text"));
    }

    /// Text number `index`.
    #[must_use]
    pub fn get(&self, index: usize) -> &str {
        let bytes = &self.bytes[self.ends[index] as usize..self.ends[index + 1] as usize];
        std::str::from_utf8(bytes).expect("only decoded text is pushed")
    }
}

/// Kept games, one row each, in file order.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Games {
    /// Where the text starts in the (decompressed) file.
    pub file_offset: Vec<u64>,
    /// How many bytes of the file it takes.
    pub file_length: Vec<u64>,
    /// Number of the game in the file, from 1.
    pub game_number: Vec<u32>,
    /// Index of the first root it reaches.
    pub root: Vec<u16>,
    /// Plies played before that.
    pub root_ply: Vec<u16>,
    /// See [`super::movetext::GameResult`].
    pub result: Vec<u8>,
    /// `yyyymmdd`, 0 for what is not known.
    pub date: Vec<u32>,
    /// 0 when not known.
    pub white_elo: Vec<u16>,
    /// 0 when not known.
    pub black_elo: Vec<u16>,
    /// See [`super::tags::Pace`].
    pub pace: Vec<u8>,
    /// Tag White.
    pub white: Strings,
    /// Tag Black.
    pub black: Strings,
    /// Tag Event.
    pub event: Strings,
    /// Tag Site.
    pub site: Strings,
    /// Tag FEN; empty for the normal start position.
    pub start_fen: Strings,
    /// The text of the game as it stands in the file, decoded.
    pub text: Strings,
    /// Moves of game i: from `move_ends[i]` to `move_ends[i + 1]` of `moves`.
    pub move_ends: Vec<i32>,
    /// Packed moves of the main lines, up to a fault.
    pub moves: Vec<u16>,
    /// See [`Fault`]; 0 for none.
    pub fault: Vec<u8>,
    /// The ply that could not be read, from 1; 0 without a fault.
    pub fault_ply: Vec<u16>,
    /// The line of the file, from 1; 0 without a fault.
    pub fault_line: Vec<u64>,
}

/// Positions of kept games, from the first root of each on, sorted by key, then game, then ply. One row each.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Occurrences {
    /// Keys of the positions.
    pub key: Vec<u64>,
    /// Row of the game in the batch.
    pub game_row: Vec<u32>,
    /// Plies played before the position.
    pub ply: Vec<u16>,
    /// The packed move played there; 0 at the end.
    pub played: Vec<u16>,
}

/// A row of [`Occurrences`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Occurrence {
    key: u64,
    game_row: u32,
    ply: u16,
    played: u16,
}

/// A game that was set aside.
#[derive(Debug, PartialEq, Eq)]
pub struct Reject {
    /// Where its text starts in the (decompressed) file.
    pub offset: u64,
    /// Bytes of its text.
    pub length: u64,
    /// Number of the game in the file, from 1.
    pub game_number: u32,
    /// The line of the file at fault, from 1.
    pub line: u64,
    /// Why.
    pub fault: Fault,
    /// The ply that could not be read, from 1.
    pub ply: u16,
    /// The text, decoded; of an overlong game its start.
    pub text: String,
}

/// How many games there were. `kept + passed + aside == sections + untagged`, always.
#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
pub struct Counts {
    /// Tag sections.
    pub sections: u64,
    /// Games without tags.
    pub untagged: u64,
    /// Games that reach a root.
    pub kept: u64,
    /// Games that do not, or that a filter excludes.
    pub passed: u64,
    /// Games with a fault before any root.
    pub aside: u64,
}

/// A piece of the result.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Batch {
    /// Kept games.
    pub games: Games,
    /// Their positions.
    pub occurrences: Occurrences,
    /// Games set aside, in file order.
    pub rejects: Vec<Reject>,
    /// Bytes passed over, in file order.
    pub notes: Vec<Note>,
    /// Of the games of this batch.
    pub counts: Counts,
}

impl Batch {
    /// Turns numbers that count from the start of a block into numbers that count from the start of the file.
    pub fn shift(&mut self, games_before: u32, lines_before: u64) {
        for number in &mut self.games.game_number {
            *number += games_before;
        }
        for line in self.games.fault_line.iter_mut().filter(|line| **line > 0) {
            *line += lines_before;
        }
        for reject in &mut self.rejects {
            reject.game_number += games_before;
            reject.line += lines_before;
        }
    }
}

/// The batches of one block. Their numbers count from the start of the block.
#[derive(Debug, Default)]
pub struct BlockResult {
    /// In file order; one at least.
    pub batches: Vec<Batch>,
    /// Games in the block.
    pub games: u32,
    /// Line ends in the block.
    pub lines: u64,
}

/// Reads the games of a block.
pub fn read_block(block: &Block, reader: &mut GameReader<'_>) -> BlockResult {
    let mut work = Work {
        block,
        text: block.text(),
        batch: Batch { notes: block.notes.clone(), ..Batch::default() },
        occurrences: Vec::new(),
        result: BlockResult::default(),
        lines: Lines::default(),
    };
    work.batch.games.move_ends.push(0);
    match &block.segments {
        Some(segments) => segments.iter().for_each(|&segment| work.segment(segment, reader)),
        None => work.find_segments(reader),
    }
    work.finish()
}

/// Counts lines up to a place that only goes forward.
#[derive(Default)]
struct Lines {
    at: usize,
    count: u64,
}

impl Lines {
    fn up_to(&mut self, text: &[u8], at: usize) -> u64 {
        let from = self.at.min(at);
        let after_cr = from > 0 && text[from - 1] == b'\r';
        let here = self.count + count_lines(&text[from..at], after_cr);
        if at >= self.at {
            (self.at, self.count) = (at, here);
        }
        here
    }
}

struct Work<'b> {
    block: &'b Block,
    text: &'b [u8],
    batch: Batch,
    /// Of the batch, in the order of games and plies.
    occurrences: Vec<Occurrence>,
    result: BlockResult,
    lines: Lines,
}

impl Work<'_> {
    /// Finds the segments, a bit of the block at a time, so that a game is read while it is at hand.
    fn find_segments(&mut self, reader: &mut GameReader<'_>) {
        const BIT: usize = 1 << 17;
        let mut segmenter = Segmenter::default();
        let mut seen = 0;
        while seen < self.text.len() {
            seen = self.text.len().min(seen + BIT);
            segmenter.scan(&self.text[..seen], seen == self.text.len());
            for segment in segmenter.segments.drain(..) {
                self.segment(segment, reader);
            }
        }
        for (from, to, remark) in segmenter.remarks.drain(..) {
            self.note(from.unsigned_abs(), to, remark);
        }
    }

    /// All games of a segment: the one with its tags, and those without tags behind.
    fn segment(&mut self, mut segment: Segment, reader: &mut GameReader<'_>) {
        let text = &self.text[..segment.end];
        let whole = self.block.overlong.map_or((segment.end - segment.start) as u64, |(length, _)| length);
        if !segment.tagged {
            match untagged(text, segment.moves) {
                Untagged::Nothing => return,
                Untagged::Prose(from) if self.block.overlong.is_some() => {
                    // Only its start is at hand; what is passed over is all of it.
                    let offset = self.block.offset + from as u64;
                    let length = whole - (from - segment.start) as u64;
                    return self.batch.notes.push(Note { offset, length, remark: Remark::NoGame });
                }
                Untagged::Prose(from) => return self.note_prose(from, segment.end),
                // What stands before the first move belongs to the game all the same.
                Untagged::Game(_) => {}
            }
        }
        if whole > LONGEST_GAME as u64 || self.block.overlong.is_some() {
            return self.overlong(segment, whole);
        }
        loop {
            let (fate, behind) = reader.read(text, segment);
            let end = if let Untagged::Game(next) = behind { next } else { segment.end };
            let trimmed = segment.start + self.text[segment.start..end].trim_ascii_end().len();
            self.count(segment.tagged);
            match fate {
                Fate::Passed => self.batch.counts.passed += 1,
                Fate::Aside(fault) => self.aside(segment.start, trimmed, fault),
                Fate::Kept { .. } => self.keep(Segment { end: trimmed, ..segment }, fate, reader),
            }
            match behind {
                Untagged::Nothing => return,
                Untagged::Prose(from) => return self.note_prose(from, segment.end),
                Untagged::Game(next) => segment = Segment { start: next, moves: next, tagged: false, ..segment },
            }
        }
    }

    fn count(&mut self, tagged: bool) {
        self.result.games += 1;
        if tagged {
            self.batch.counts.sections += 1;
        } else {
            self.batch.counts.untagged += 1;
        }
    }

    fn note(&mut self, from: usize, to: usize, remark: Remark) {
        let offset = self.block.offset + from as u64;
        self.batch.notes.push(Note { offset, length: (to - from) as u64, remark });
    }

    fn note_prose(&mut self, from: usize, end: usize) {
        let end = from + self.text[from..end].trim_ascii_end().len();
        self.note(from, end, Remark::NoGame);
    }

    fn overlong(&mut self, segment: Segment, length: u64) {
        self.count(segment.tagged);
        let line = self.lines.up_to(self.text, segment.start) + 1;
        let kept = segment.end.min(segment.start + KEPT_OF_OVERLONG);
        self.batch.counts.aside += 1;
        self.batch.rejects.push(Reject {
            offset: self.block.offset + segment.start as u64,
            length,
            game_number: self.result.games,
            line,
            fault: Fault::Overlong,
            ply: 1,
            text: decoded(&self.text[segment.start..kept]),
        });
    }

    fn aside(&mut self, start: usize, end: usize, fault: FaultAt) {
        let line = self.lines.up_to(self.text, fault.at) + 1;
        self.batch.counts.aside += 1;
        self.batch.rejects.push(Reject {
            offset: self.block.offset + start as u64,
            length: (end - start) as u64,
            game_number: self.result.games,
            line,
            fault: fault.fault,
            ply: fault.ply,
            text: decoded(&self.text[start..end]),
        });
    }

    fn keep(&mut self, segment: Segment, fate: Fate, reader: &GameReader<'_>) {
        let Fate::Kept { root, root_ply, fault, result } = fate else { return };
        let Segment { start, moves, end, tagged } = segment;
        let line = fault.map_or(0, |fault| self.lines.up_to(self.text, fault.at) + 1);
        for &(from, to) in &reader.stray {
            let reserved = self.text[from] == b'<' && self.text[to - 1] == b'>';
            self.note(from, to, if reserved { Remark::ReservedToken } else { Remark::StrayText });
        }
        let tags = if tagged { Tags::read(&self.text[start..moves]) } else { Tags::default() };
        self.batch.counts.kept += 1;
        let games = &mut self.batch.games;
        let row = games.root.len() as u32;
        games.file_offset.push(self.block.offset + start as u64);
        games.file_length.push((end - start) as u64);
        games.game_number.push(self.result.games);
        games.root.push(root);
        games.root_ply.push(root_ply);
        games.result.push(result as u8);
        games.date.push(tags.day());
        let [white_elo, black_elo] = tags.ratings();
        games.white_elo.push(white_elo);
        games.black_elo.push(black_elo);
        games.pace.push(tags.pace() as u8);
        games.white.push(&unescaped(tags.white));
        games.black.push(&unescaped(tags.black));
        games.event.push(&unescaped(tags.event));
        games.site.push(&unescaped(tags.site));
        games.start_fen.push(&unescaped(tags.fen.unwrap_or_default().trim_ascii()));
        games.text.push(&self.text[start..end]);
        games.moves.extend(reader.moves.iter().map(|played| played.0));
        games.move_ends.push(i32::try_from(games.moves.len()).expect("a batch holds fewer moves than bytes"));
        games.fault.push(fault.map_or(0, |fault| fault.fault as u8));
        games.fault_ply.push(fault.map_or(0, |fault| fault.ply));
        games.fault_line.push(line);
        let played = reader.moves.iter().map(|played| played.0).chain([0]);
        self.occurrences.extend(
            reader
                .keys
                .iter()
                .zip(played)
                .enumerate()
                .skip(usize::from(root_ply))
                .map(|(ply, (key, played))| Occurrence { key: key.0, game_row: row, ply: ply as u16, played }),
        );
        if self.batch.games.root.len() == MOST_GAMES {
            self.end_batch();
        }
    }

    fn end_batch(&mut self) {
        let next = Batch { games: Games { move_ends: vec![0], ..Games::default() }, ..Batch::default() };
        let mut batch = std::mem::replace(&mut self.batch, next);
        batch.occurrences = sorted(std::mem::take(&mut self.occurrences));
        batch.notes.sort_by_key(|note| note.offset);
        self.result.batches.push(batch);
    }

    fn finish(mut self) -> BlockResult {
        if self.result.batches.is_empty() || self.batch != Batch::default() {
            self.end_batch();
        }
        self.result.lines = match self.block.overlong {
            Some((_, lines)) => lines,
            None => self.lines.up_to(self.text, self.text.len()),
        };
        self.result
    }
}

/// Sorts by key, game and ply. Keys are spread evenly, so the rows are first dealt into small heaps by leading bits.
fn sorted(mut rows: Vec<Occurrence>) -> Occurrences {
    const HEAP: usize = 256;
    let bits = (rows.len() / HEAP).max(1).ilog2();
    if bits == 0 {
        rows.sort_unstable();
    } else {
        let heap = |row: &Occurrence| (row.key >> (64 - bits)) as usize;
        let mut places = vec![0; (1 << bits) + 1];
        for row in &rows {
            places[heap(row) + 1] += 1;
        }
        for index in 1..places.len() {
            places[index] += places[index - 1];
        }
        let starts = places.clone();
        let mut dealt = vec![Occurrence { key: 0, game_row: 0, ply: 0, played: 0 }; rows.len()];
        for row in &rows {
            let place = &mut places[heap(row)];
            dealt[*place] = *row;
            *place += 1;
        }
        for bounds in starts.windows(2) {
            dealt[bounds[0]..bounds[1]].sort_unstable();
        }
        rows = dealt;
    }
    Occurrences {
        key: rows.iter().map(|row| row.key).collect(),
        game_row: rows.iter().map(|row| row.game_row).collect(),
        ply: rows.iter().map(|row| row.ply).collect(),
        played: rows.iter().map(|row| row.played).collect(),
    }
}
