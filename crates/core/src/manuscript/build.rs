//! Tokens to tree. No recursion: open variations stand on a stack of our own.

use std::collections::HashMap;

use shakmaty::{CastlingMode, Chess, Position};

use crate::fen::read_fen;
use crate::key::key_of;
use crate::moves::PackedMove;
use crate::parse::parse_move;

use super::fault::{Fault, FaultKind};
use super::token::{GameResult, Span, TagFlaw, TagParts, TokenKind, Tokens};
use super::tree::{Manuscript, NONE, Start};
use line::looks_like_move;

mod line;

/// Builds the tree over the tokens of `text`.
#[must_use]
pub fn build(text: &[u8], tokens: Tokens) -> Manuscript {
    let count = tokens.len();
    let out = Manuscript {
        tokens,
        token_node: vec![NONE; count],
        token_variation: vec![NONE; count],
        ..Manuscript::default()
    };
    let mut builder = Builder { text, out, stage: Stage::Outside, open: OpenGame::default(), tag: 0, unclosed: 0 };
    for token in 0..count {
        builder.token(token);
    }
    builder.finish_game(None);
    builder.report_nul_bytes();
    let mut out = builder.out;
    out.faults.sort_by_key(|fault| fault.span.start);
    out
}

/// Where in the text the builder is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Stage {
    /// Before the first game.
    Outside,
    /// In the tag section of a game.
    Tags,
    /// In its moves.
    Moves,
    /// Behind its termination marker.
    After,
}

/// What of a line could be followed so far.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Reach {
    /// All of it.
    Whole,
    /// All but the last move. A variation that stands for that move can be followed.
    BeforeLast,
    /// Not the last move, nor what comes.
    Lost,
}

/// The main line or a variation that is not closed yet.
struct OpenLine {
    variation: i32,
    node: u32,
    before: Chess, // the position before the last move
    now: Chess,
    reach: Reach,
}

/// The game that is being read.
#[derive(Default)]
struct OpenGame<'a> {
    /// The first tag of each name.
    tags: HashMap<&'a [u8], TagParts>,
    lines: Vec<OpenLine>,
    /// Parentheses open inside a part that cannot be followed, or behind the termination marker.
    unread_depth: u32,
    /// The first of them.
    unread_open: u32,
    number_shift: i64,
    separated: bool,
    torn: bool,
    told_after_result: bool,
}

struct Builder<'a> {
    text: &'a [u8],
    out: Manuscript,
    stage: Stage,
    open: OpenGame<'a>,
    tag: usize,      // next row of tokens.tags
    unclosed: usize, // next row of tokens.unclosed
}

impl<'a> Builder<'a> {
    fn kind(&self, token: usize) -> TokenKind {
        self.out.tokens.kind[token]
    }

    fn bytes(&self, token: usize) -> &'a [u8] {
        self.out.tokens.span[token].of(self.text)
    }

    fn top(&self) -> &OpenLine {
        self.open.lines.last().expect("a game in its moves has its main line open")
    }

    fn top_mut(&mut self) -> &mut OpenLine {
        self.open.lines.last_mut().expect("a game in its moves has its main line open")
    }

    fn fault(&mut self, kind: FaultKind, token: usize, ply: u32, detail: String) {
        let span = self.out.tokens.span[token];
        self.fault_at(kind, span, ply, detail);
    }

    fn fault_at(&mut self, kind: FaultKind, span: Span, ply: u32, detail: String) {
        let game = self.out.games.root.len() as u32;
        self.out.faults.push(Fault { kind, span, game, ply, detail });
    }

    fn token(&mut self, token: usize) {
        let kind = self.kind(token);
        if kind == TokenKind::Tag {
            let parts = self.out.tokens.tags[self.tag];
            self.tag += 1;
            return self.tag_pair(token, parts);
        }
        if kind == TokenKind::EscapeLine {
            return;
        }
        match self.stage {
            Stage::Outside => self.outside(token, kind),
            Stage::Tags => match kind {
                TokenKind::BadTag => self.fault(FaultKind::MalformedTag, token, 0, String::new()),
                TokenKind::Comment | TokenKind::LineComment => {
                    self.open.separated = true;
                    self.out.token_node[token] = self.root() as i32;
                    self.comment_faults(token);
                }
                _ => {
                    self.begin_moves();
                    self.moves(token, kind);
                }
            },
            Stage::Moves => self.moves(token, kind),
            Stage::After => self.after(token, kind),
        }
    }

    fn root(&self) -> u32 {
        *self.out.games.root.last().expect("a game is open")
    }

    // Games and tags

    fn tag_pair(&mut self, token: usize, parts: TagParts) {
        let name = parts.name.of(self.text);
        let known = self.open.tags.contains_key(name);
        let begins = match self.stage {
            Stage::Outside | Stage::After => true,
            Stage::Tags => (self.open.separated || self.line_breaks_before(token) > 1) && (name == b"Event" || known),
            Stage::Moves if parts.opens_section => true,
            Stage::Moves => return self.stray(token),
        };
        if begins {
            self.finish_game(Some(token));
            self.begin_game(token, self.tag - 1);
        } else if known {
            self.fault(FaultKind::DuplicateTag, token, 0, String::new());
        }
        self.open.tags.entry(name).or_insert(parts);
        *self.out.games.tags_end.last_mut().expect("a game is open") = self.tag as u32;
        match parts.flaw {
            TagFlaw::None => {}
            TagFlaw::Quote => self.fault(FaultKind::UnescapedQuote, token, 0, String::new()),
            TagFlaw::Unclosed => {
                self.open.torn = true;
                self.fault(FaultKind::UnclosedTag, token, 0, String::new());
            }
        }
    }

    /// A tag of the open game, and its value as written.
    fn tag_value(&self, name: &[u8]) -> Option<(TagParts, &'a [u8])> {
        self.open.tags.get(name).map(|tag| (*tag, tag.value.of(self.text)))
    }

    fn begin_game(&mut self, token: usize, first_tag: usize) {
        let games = &mut self.out.games;
        games.first_token.push(token as u32);
        games.tags_start.push(first_tag as u32);
        games.tags_end.push(first_tag as u32);
        games.root.push(self.out.nodes.parent.len() as u32);
        games.start.push(Start::Normal);
        games.result.push(GameResult::Open);
        games.result_token.push(NONE);
        games.complete.push(true);
        self.push_node(NONE, NONE, PackedMove::NULL, NONE, 0);
        self.open = OpenGame::default();
        self.stage = Stage::Tags;
    }

    fn begin_headless(&mut self, token: usize, kind: TokenKind) {
        self.finish_game(Some(token));
        self.begin_game(token, self.tag);
        self.fault(FaultKind::MissingTags, token, 0, String::new());
        self.begin_moves();
        self.moves(token, kind);
    }

    /// Leaves the tag section: sets up the start position.
    fn begin_moves(&mut self) {
        self.stage = Stage::Moves;
        let (start, position) = self.start_position();
        let root = self.root();
        let reach = if position.is_some() { Reach::Whole } else { Reach::Lost };
        let position = position.unwrap_or_default();
        self.out.nodes.key[root as usize] = key_of(&position).0;
        let game = self.out.games.root.len() - 1;
        self.out.games.start[game] = start;
        self.out.games.complete[game] = reach == Reach::Whole;
        self.open.lines.push(OpenLine { variation: NONE, node: root, before: position.clone(), now: position, reach });
    }

    fn start_position(&mut self) -> (Start, Option<Chess>) {
        let mode = match self.tag_value(b"Variant").map(|(tag, value)| (tag, variant_mode(value))) {
            None | Some((_, Some(CastlingMode::Standard))) => CastlingMode::Standard,
            Some((_, Some(CastlingMode::Chess960))) => CastlingMode::Chess960,
            Some((tag, None)) => {
                self.fault(FaultKind::UnknownVariant, tag.token as usize, 0, String::new());
                CastlingMode::Standard
            }
        };
        let setup = self.tag_value(b"SetUp").filter(|(_, value)| *value == b"1").map(|(tag, _)| tag);
        let Some((tag, fen)) = self.tag_value(b"FEN") else {
            if let Some(tag) = setup {
                self.fault(FaultKind::SetupWithoutFen, tag.token as usize, 0, String::new());
            }
            return match mode {
                CastlingMode::Standard => (Start::Normal, Some(Chess::default())),
                CastlingMode::Chess960 => (Start::Normal960, read_fen(NORMAL_START, mode).ok()),
            };
        };
        let position = read_fen(fen, mode);
        if setup.is_none() {
            self.fault(FaultKind::FenWithoutSetup, tag.token as usize, 0, String::new());
        }
        match position {
            Ok(position) if position.castles().mode() == CastlingMode::Chess960 => (Start::Fen960, Some(position)),
            Ok(position) => (Start::Fen, Some(position)),
            Err(fault) => {
                self.fault(FaultKind::BadStart, tag.token as usize, 0, fault.to_string());
                (Start::Bad, None)
            }
        }
    }

    /// Ends the open game, if any, before the token `next` or at the end of the text.
    fn finish_game(&mut self, next: Option<usize>) {
        match self.stage {
            Stage::Outside | Stage::After => return,
            Stage::Tags => self.begin_moves(), // so that every game has a start position
            Stage::Moves => {}
        }
        self.report_unclosed();
        let game = self.out.games.root.len() - 1;
        if self.out.games.result_token[game] == NONE {
            if let Some((_, value)) = self.tag_value(b"Result") {
                self.out.games.result[game] = GameResult::lenient(value.trim_ascii()).unwrap_or(GameResult::Open);
            }
            if self.open.torn {
                self.out.games.complete[game] = false;
            } else {
                let end = self.out.tokens.span.last().map_or(0, |span| span.end);
                let place = next.map_or(Span { start: end, end }, |token| self.out.tokens.span[token]);
                self.fault_at(FaultKind::MissingTermination, place, 0, String::new());
            }
        }
        self.open.lines.clear();
    }

    fn report_unclosed(&mut self) {
        let unread = self.open.unread_depth;
        let count = self.open.lines.len() as u32 - 1 + unread;
        if count == 0 {
            return;
        }
        self.open.torn = true;
        let token = match self.open.lines.get(1) {
            Some(line) => self.out.variations.open[line.variation as usize],
            None => self.open.unread_open,
        };
        self.fault(FaultKind::UnclosedVariation, token as usize, 0, count.to_string());
    }

    // Tokens outside of games

    fn outside(&mut self, token: usize, kind: TokenKind) {
        match kind {
            TokenKind::Comment | TokenKind::LineComment => self.comment_faults(token),
            TokenKind::BadTag => self.fault(FaultKind::MalformedTag, token, 0, String::new()),
            TokenKind::Result => self.begin_headless(token, kind),
            TokenKind::Number if self.out.tokens.value[token] == 1 || self.bytes(token).ends_with(b".") => {
                self.begin_headless(token, kind);
            }
            TokenKind::Move if looks_like_move(self.bytes(token)) || self.is_first_move(token) => {
                self.begin_headless(token, kind);
            }
            _ => self.stray(token),
        }
    }

    /// Behind the termination marker: comments, and perhaps the moves of a game without tags.
    fn after(&mut self, token: usize, kind: TokenKind) {
        let outermost = self.open.unread_depth == 0;
        match kind {
            TokenKind::Number if outermost && matches!(self.bytes(token), b"1" | b"1.") => {
                return self.begin_headless(token, kind);
            }
            TokenKind::Move if outermost && self.line_breaks_before(token) > 0 && self.is_first_move(token) => {
                return self.begin_headless(token, kind);
            }
            TokenKind::Comment | TokenKind::LineComment => self.comment_faults(token),
            TokenKind::Move => self.out.tokens.kind[token] = TokenKind::Stray,
            TokenKind::Open => self.open.unread_depth += 1,
            TokenKind::Close => self.open.unread_depth = self.open.unread_depth.saturating_sub(1),
            _ => {}
        }
        if !self.open.told_after_result {
            self.open.told_after_result = true;
            self.fault(FaultKind::TextAfterResult, token, 0, String::new());
        }
    }

    fn is_first_move(&self, token: usize) -> bool {
        parse_move(&Chess::default(), self.bytes(token)).is_ok()
    }

    fn line_breaks_before(&self, token: usize) -> usize {
        let start = token.checked_sub(1).map_or(0, |before| self.out.tokens.span[before].end);
        let (mut breaks, mut previous) = (0, 0);
        for &byte in (Span { start, end: self.out.tokens.span[token].start }).of(self.text) {
            breaks += usize::from(byte == b'\r' || byte == b'\n' && previous != b'\r');
            previous = byte;
        }
        breaks
    }

    fn report_nul_bytes(&mut self) {
        let Some(first) = memchr::memchr(0, self.text) else { return };
        let count = memchr::memchr_iter(0, self.text).count();
        let game = self
            .out
            .games
            .first_token
            .partition_point(|token| self.out.tokens.span[*token as usize].start as usize <= first);
        let span = Span { start: first as u32, end: first as u32 + 1 };
        let detail = count.to_string();
        self.out.faults.push(Fault { kind: FaultKind::NulBytes, span, game: game as u32, ply: 0, detail });
    }
}

const NORMAL_START: &[u8] = b"rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1";

/// How castling works in a variant; `None` for one whose rules are not known here.
fn variant_mode(value: &[u8]) -> Option<CastlingMode> {
    let letters: Vec<u8> =
        value.iter().filter(|byte| byte.is_ascii_alphanumeric()).map(u8::to_ascii_lowercase).collect();
    match letters.as_slice() {
        b"" | b"standard" | b"normal" | b"chess" | b"fromposition" => Some(CastlingMode::Standard),
        b"chess960" | b"fischerrandom" | b"fischerandom" => Some(CastlingMode::Chess960),
        _ => None,
    }
}
