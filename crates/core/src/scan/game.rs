//! One game: whether it passes the filters, whether and where it reaches a root, and what it holds.

use memchr::memmem;
use shakmaty::{CastlingMode, Chess, Move, Position};

use super::book::{Book, MoveText, Node, NodeIndex};
use super::movetext::{GameResult, Lexer, Token, Untagged, behind_game, looks_like_move, termination, untagged};
use super::reach::{Alive, Roots};
use super::san::plain_san;
use super::segment::Segment;
use super::tags::{Pace, Tags, unescaped};
use super::text::is_blank;
use crate::fen::read_fen;
use crate::key::{PositionKey, key_of, play_keyed};
use crate::moves::{PackedMove, pass};
use crate::parse::{MoveFault, parse_move};

/// Which games are wanted, apart from the roots. A game is passed over when its tags do not say that it fits.
#[derive(Debug, Clone, Default)]
pub struct Filter {
    /// Both players' ratings are known and at least this. 0: not asked.
    pub min_rating: u16,
    /// Not before this day (`yyyymmdd`). 0: not asked. A date known in part counts as every day it may be.
    pub since: u32,
    /// Not after this day. 0: not asked.
    pub until: u32,
    /// Of this pace. `None`: any, also unknown.
    pub pace: Option<Pace>,
}

impl Filter {
    fn asks(&self) -> bool {
        self.min_rating > 0 || self.since > 0 || self.until > 0 || self.pace.is_some()
    }

    fn passes(&self, tags: &Tags<'_>) -> bool {
        if self.min_rating > 0 && tags.ratings().iter().any(|&rating| rating < self.min_rating) {
            return false;
        }
        if self.since > 0 || self.until > 0 {
            let day = tags.day();
            let latest = match (day % 10_000 / 100, day % 100) {
                (0, _) => day + 1231,
                (_, 0) => day + 31,
                _ => day,
            };
            if day == 0 || latest < self.since || (self.until > 0 && day > self.until) {
                return false;
            }
        }
        self.pace.is_none_or(|pace| tags.pace() == pace)
    }
}

/// Why a game cannot be read to its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Fault {
    /// A move that is not legal.
    IllegalMove = 1,
    /// A move that several units can make.
    AmbiguousMove = 2,
    /// Text that is meant as a move and is none.
    UnreadableMove = 3,
    /// A comment that is never closed.
    UnclosedComment = 4,
    /// A variation that is never closed.
    UnclosedVariation = 5,
    /// The text ends within the tags.
    UnclosedTag = 6,
    /// The FEN tag holds no legal position.
    BadFen = 7,
    /// The Variant tag names other rules.
    UnknownVariant = 8,
    /// The text is too long to be a game.
    Overlong = 9,
    /// More moves than can be numbered.
    TooManyMoves = 10,
}

impl Fault {
    /// All of them, by their numbers; 0 is no fault.
    pub const NAMES: [&str; 11] = [
        "",
        "illegal-move",
        "ambiguous-move",
        "unreadable-move",
        "unclosed-comment",
        "unclosed-variation",
        "unclosed-tag",
        "bad-fen",
        "unknown-variant",
        "overlong",
        "too-many-moves",
    ];
}

/// A fault and its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FaultAt {
    /// What it is.
    pub fault: Fault,
    /// Index into the text.
    pub at: usize,
    /// The ply that could not be read, counted from 1: one more than the plies before it.
    pub ply: u16,
}

/// What became of a game.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// It reaches a root: number of the root, plies before it.
    Kept {
        /// Index of the first root reached.
        root: u16,
        /// Plies played before it.
        root_ply: u16,
        /// The fault that cuts it, if any.
        fault: Option<FaultAt>,
        /// By the marker, else by the tag.
        result: GameResult,
    },
    /// It does not, or a filter excludes it.
    Passed,
    /// It has a fault before any root.
    Aside(FaultAt),
}

/// Reads games one after another; holds what they share.
pub struct GameReader<'r> {
    roots: &'r Roots,
    filter: &'r Filter,
    book: Book,
    path: Vec<NodeIndex>,
    start_key: PositionKey,
    fen: memmem::Finder<'static>,
    variant: memmem::Finder<'static>,
    /// Of the last game that was kept: its moves.
    pub moves: Vec<PackedMove>,
    /// Of the last game that was kept: the keys of its positions from the start on, one more than moves.
    pub keys: Vec<PositionKey>,
    /// Of the last game that was kept: stray text between its moves (from, to).
    pub stray: Vec<(usize, usize)>,
}

const MOST_PLIES: usize = u16::MAX as usize - 1;

/// What a walk along the main line came to.
struct Walk {
    reached: Option<(u16, u16)>,
    end: WalkEnd,
}

enum WalkEnd {
    /// The text is over.
    Text,
    /// A termination marker; the text goes on at the index.
    Marker(GameResult, usize),
    /// No root can be reached any more; the rest of the movetext starts at the index.
    GivenUp(usize),
    /// A fault; what stands behind it, if anything can be told there.
    Fault(FaultAt, Option<usize>),
}

impl<'r> GameReader<'r> {
    /// A reader for these roots and this filter.
    #[must_use]
    pub fn new(roots: &'r Roots, filter: &'r Filter) -> GameReader<'r> {
        let book = Book::new(roots);
        GameReader {
            start_key: book.node(0).key,
            roots,
            filter,
            book,
            path: Vec::new(),
            fen: memmem::Finder::new("FEN"),
            variant: memmem::Finder::new("Variant"),
            moves: Vec::new(),
            keys: Vec::new(),
            stray: Vec::new(),
        }
    }

    /// Reads the game whose text starts the segment; `text` ends with it. Gives its fate and what stands behind it.
    pub fn read(&mut self, text: &[u8], segment: Segment) -> (Fate, Untagged) {
        let Segment { start, moves, tagged, .. } = segment;
        let section = &text[start..moves];
        let mut position = None;
        if tagged {
            let special = || self.fen.find(section).is_some() || self.variant.find(section).is_some();
            if moves == text.len() || self.filter.asks() || special() {
                let tags = Tags::read(section);
                if !self.filter.passes(&tags) {
                    return (Fate::Passed, behind_game(text, moves));
                }
                let aside = |fault, at| (Fate::Aside(FaultAt { fault, at, ply: 1 }), behind_game(text, moves));
                if tags.torn && moves == text.len() {
                    return aside(Fault::UnclosedTag, last_line(text, start));
                }
                match start_position(&tags) {
                    Ok(found) => position = found,
                    Err((fault, value)) => return aside(fault, start + offset_in(section, value)),
                }
            }
        } else if self.filter.asks() && !self.filter.passes(&Tags::default()) {
            return (Fate::Passed, behind_game(text, moves));
        }
        self.stray.clear();
        let walk = match position {
            None => self.walk_from_start(text, moves),
            Some(position) => self.walk_from(text, moves, &position),
        };
        self.settle(text, segment, walk)
    }

    /// The fate that a walk along the main line leads to.
    fn settle(&self, text: &[u8], segment: Segment, walk: Walk) -> (Fate, Untagged) {
        let (fault, marker, behind) = match walk.end {
            WalkEnd::Text => (None, None, Untagged::Nothing),
            WalkEnd::Marker(result, at) => (None, Some(result), untagged(text, at)),
            WalkEnd::GivenUp(at) => return (Fate::Passed, behind_game(text, at)),
            WalkEnd::Fault(fault, None) => (Some(fault), None, Untagged::Nothing),
            WalkEnd::Fault(fault, Some(at)) => match termination(text, at) {
                Some((result, behind)) => (Some(fault), Some(result), untagged(text, behind)),
                None => (Some(fault), None, Untagged::Nothing),
            },
        };
        let fate = match (walk.reached, fault) {
            (Some((root, root_ply)), fault) => {
                let by_tag = || GameResult::of_tag(Tags::read(&text[segment.start..segment.moves]).result);
                Fate::Kept { root, root_ply, fault, result: marker.unwrap_or_else(by_tag) }
            }
            (None, Some(fault)) => Fate::Aside(fault),
            (None, None) => Fate::Passed,
        };
        (fate, behind)
    }

    /// Along the main line from the normal start position, by the book as long as it knows the moves.
    fn walk_from_start(&mut self, text: &[u8], moves: usize) -> Walk {
        let (mut at, mut node) = (moves, 0);
        let mut reached = self.book.node(0).root.map(|root| (root, 0));
        self.path.clear();
        let unknown = loop {
            if reached.is_none() && self.book.node(node).alive == 0 {
                return Walk { reached, end: WalkEnd::GivenUp(at) };
            }
            let Some((word, end)) = plain_move(text, &mut at) else { break None };
            let Some(child) = self.book.child(node, word) else { break Some((word, end)) };
            (node, at) = (child, end);
            self.path.push(node);
            if reached.is_none()
                && let Some(root) = self.book.node(node).root
            {
                reached = Some((root, self.path.len() as u16));
            }
        };
        self.moves.clear();
        self.keys.clear();
        self.keys.push(self.start_key);
        for &step in &self.path {
            let step = self.book.node(step);
            self.moves.push(step.played);
            self.keys.push(step.key);
        }
        let Node { position, alive, .. } = self.book.node(node);
        let (position, alive) = (position.clone(), *alive);
        let grow = unknown.filter(|_| !self.book.is_full()).map(|(word, end)| (node, word, end));
        self.walk(text, at, position, alive, reached, grow)
    }

    /// Along the main line from another start position.
    fn walk_from(&mut self, text: &[u8], moves: usize, position: &Chess) -> Walk {
        let key = key_of(position);
        self.moves.clear();
        self.keys.clear();
        self.keys.push(key);
        let reached = self.roots.found(position, key).map(|root| (root, 0));
        let alive = self.roots.reachable(position, self.roots.all());
        if reached.is_none() && alive == 0 {
            return Walk { reached, end: WalkEnd::GivenUp(moves) };
        }
        self.walk(text, moves, position.clone(), alive, reached, None)
    }

    /// Along the main line move by move. `grow`: the node, text and end of the first move, to be put in the book.
    fn walk(
        &mut self,
        text: &[u8],
        at: usize,
        mut position: Chess,
        mut alive: Alive,
        mut reached: Option<(u16, u16)>,
        mut grow: Option<(NodeIndex, MoveText, usize)>,
    ) -> Walk {
        let mut lexer = Lexer::new(text, at);
        let mut key = *self.keys.last().expect("the start position has a key");
        let end = loop {
            let ply = (self.moves.len() + 1) as u16;
            let fault_at = |fault, at| FaultAt { fault, at, ply };
            let plain = plain_move(text, &mut lexer.at)
                .and_then(|(_, end)| plain_san(&position, &text[lexer.at..end]).map(|played| (played, end)));
            let (played, to) = match plain {
                Some((played, end)) => {
                    lexer.at = end;
                    (played_on(&mut position, &mut key, played), end)
                }
                None => match lexer.next_token() {
                    Token::Word(from, to) => match step(&mut position, &mut key, &text[from..to]) {
                        Ok(played) => (played, to),
                        Err(Fault::UnreadableMove) if !looks_like_move(&text[from..to]) => {
                            self.note_stray(from, to);
                            continue;
                        }
                        Err(fault) => break WalkEnd::Fault(fault_at(fault, from), Some(to)),
                    },
                    Token::Result(result) => break WalkEnd::Marker(result, lexer.at),
                    Token::Stray(from, to) => {
                        self.note_stray(from, to);
                        continue;
                    }
                    Token::UnclosedComment(at) => break WalkEnd::Fault(fault_at(Fault::UnclosedComment, at), None),
                    Token::UnclosedVariation(at) => break WalkEnd::Fault(fault_at(Fault::UnclosedVariation, at), None),
                    Token::End => break WalkEnd::Text,
                },
            };
            if self.moves.len() >= MOST_PLIES {
                break WalkEnd::Fault(fault_at(Fault::TooManyMoves, to), Some(to));
            }
            self.moves.push(played.packed);
            self.keys.push(key);
            let root = self.roots.found(&position, key);
            if reached.is_none() && (played.lasting || grow.is_some()) {
                alive = self.roots.reachable(&position, alive);
            }
            if let Some((node, move_text, end)) = grow.take()
                && end == to
            {
                let position = position.clone();
                self.book.add(node, move_text, Node { position, key, played: played.packed, alive, root });
            }
            if reached.is_none() {
                reached = root.map(|root| (root, ply));
                if reached.is_none() && alive == 0 {
                    break WalkEnd::GivenUp(to);
                }
            }
        };
        Walk { reached, end }
    }

    fn note_stray(&mut self, from: usize, to: usize) {
        match self.stray.last_mut() {
            Some(last) if last.1 == from => last.1 = to,
            _ => self.stray.push((from, to)),
        }
    }
}

struct Played {
    packed: PackedMove,
    /// Whether it may have put roots out of reach: nothing else changes what the rules of reach look at.
    lasting: bool,
}

/// Plays the move that `word` is.
fn step(position: &mut Chess, key: &mut PositionKey, word: &[u8]) -> Result<Played, Fault> {
    match parse_move(position, word) {
        Ok(played) => Ok(played_on(position, key, played)),
        Err(MoveFault::Null) => {
            *position = pass(position).ok_or(Fault::IllegalMove)?;
            *key = key_of(position);
            Ok(Played { packed: PackedMove::NULL, lasting: false })
        }
        Err(MoveFault::Illegal) => Err(Fault::IllegalMove),
        Err(MoveFault::Ambiguous(_)) => Err(Fault::AmbiguousMove),
        Err(MoveFault::NotAMove) => Err(Fault::UnreadableMove),
    }
}

fn played_on(position: &mut Chess, key: &mut PositionKey, played: Move) -> Played {
    let rights = position.castles().castling_rights();
    *key = play_keyed(position, *key, played);
    let lasting = played.is_zeroing() || rights != position.castles().castling_rights();
    Played { packed: PackedMove::pack(played), lasting }
}

/// The position that the tags say the game starts from; `None` is the normal one. On failure, the value at fault.
fn start_position<'a>(tags: &Tags<'a>) -> Result<Option<Chess>, (Fault, &'a [u8])> {
    let mode = castling_mode(tags.variant).ok_or((Fault::UnknownVariant, tags.variant))?;
    let Some(fen) = tags.fen.filter(|fen| !fen.trim_ascii().is_empty()) else { return Ok(None) };
    let position = read_fen(&unescaped(fen), mode).map_err(|_| (Fault::BadFen, fen))?;
    // Not compared as positions: a game from the normal start with a FEN tag is read like any other.
    Ok(Some(position))
}

/// What a Variant tag says about castling; `None` when it names rules other than those of chess.
fn castling_mode(variant: &[u8]) -> Option<CastlingMode> {
    let name: Vec<u8> =
        variant.iter().filter(|byte| byte.is_ascii_alphanumeric()).map(u8::to_ascii_lowercase).collect();
    match name.as_slice() {
        b"" | b"standard" | b"normal" | b"chess" | b"classical" | b"orthodox" | b"regular" | b"fromposition" => {
            Some(CastlingMode::Standard)
        }
        b"fischerandom" | b"fischerrandom" | b"fischerandomchess" | b"fischerrandomchess" | b"freestyle" => {
            Some(CastlingMode::Chess960)
        }
        name => memmem::find(name, b"960").map(|_| CastlingMode::Chess960),
    }
}

/// The next token when it is a plain word such as most moves are, with its end; `at` moves to its start. Steps over
/// blanks, plain move numbers and comments. Otherwise `None`, and `at` stands where a token starts.
#[inline]
fn plain_move(text: &[u8], at: &mut usize) -> Option<(MoveText, usize)> {
    loop {
        let byte = *text.get(*at)?;
        match byte {
            _ if is_blank(byte) => *at += 1,
            b'1'..=b'9' => {
                let digits = text[*at..].iter().position(|byte| !byte.is_ascii_digit())?;
                let dots = text[*at + digits..].iter().position(|&byte| byte != b'.')?;
                if dots == 0 {
                    return None;
                }
                *at += digits + dots;
            }
            b'{' => *at += memchr::memchr(b'}', &text[*at..])? + 1,
            b'a'..=b'h' | b'N' | b'B' | b'R' | b'Q' | b'K' | b'O' => {
                let bytes: [u8; 8] = text.get(*at..*at + 8)?.try_into().ok()?;
                let word = u64::from_le_bytes(bytes);
                // The high bit of each byte up to the first that is 32 or less, that one included.
                let blanks = word.wrapping_sub(0x2121_2121_2121_2121) & !word & 0x8080_8080_8080_8080;
                let length = blanks.trailing_zeros() / 8;
                let mask = 1u64.checked_shl(8 * length)? - 1;
                return Some((word & mask, *at + length as usize));
            }
            _ => return None,
        }
    }
}

fn last_line(text: &[u8], start: usize) -> usize {
    let body = text[start..].trim_ascii_end();
    start + memchr::memrchr2(b'\n', b'\r', body).map_or(0, |end| end + 1)
}

/// Where `part`, a slice of `whole`, starts in it.
fn offset_in(whole: &[u8], part: &[u8]) -> usize {
    (part.as_ptr() as usize).wrapping_sub(whole.as_ptr() as usize).min(whole.len())
}
