//! Tokens in the moves of a game: what they do to the line that is open.

use shakmaty::{Chess, Position, san::SanPlus};

use crate::key::key_of;
use crate::moves::{PackedMove, pass};
use crate::parse::{MoveFault, parse_move};

use super::super::fault::FaultKind;
use super::super::token::{GameResult, TokenKind};
use super::super::tree::NONE;
use super::{Builder, OpenLine, Reach, Stage};

impl Builder<'_> {
    pub(super) fn moves(&mut self, token: usize, kind: TokenKind) {
        self.out.token_variation[token] = self.top().variation;
        match kind {
            TokenKind::Tag | TokenKind::EscapeLine => {}
            TokenKind::Comment | TokenKind::LineComment => {
                self.attach(token);
                self.comment_faults(token);
            }
            TokenKind::Number => {
                self.attach(token);
                self.number(token);
            }
            TokenKind::Nag | TokenKind::Sign => {
                self.attach(token);
                if self.out.tokens.value[token] > 255 {
                    self.fault(FaultKind::NagOutOfRange, token, 0, String::new());
                }
            }
            TokenKind::Move => self.word(token),
            TokenKind::Open => self.open_variation(token),
            TokenKind::Close => self.close_variation(token),
            TokenKind::Result => self.result(token),
            TokenKind::Reserved => self.fault(FaultKind::ReservedToken, token, 0, String::new()),
            TokenKind::BadTag | TokenKind::Stray | TokenKind::Unread => self.stray(token),
        }
    }

    /// Ties a comment, NAG or number to the position it follows, if that could be read.
    fn attach(&mut self, token: usize) {
        if self.open.unread_depth == 0 && self.top().reach == Reach::Whole {
            self.out.token_node[token] = self.top().node as i32;
        }
    }

    pub(super) fn comment_faults(&mut self, token: usize) {
        if self.out.tokens.unclosed.get(self.unclosed) == Some(&(token as u32)) {
            self.unclosed += 1;
            self.open.torn = true;
            let length = self.bytes(token).len();
            self.fault(FaultKind::UnclosedComment, token, 0, length.to_string());
        }
    }

    /// Reports text without meaning; a run of it is one fault.
    pub(super) fn stray(&mut self, token: usize) {
        self.out.tokens.kind[token] = TokenKind::Stray;
        if self.stage == Stage::Moves && (self.open.unread_depth > 0 || self.top().reach != Reach::Whole) {
            return; // in a part already reported
        }
        let span = self.out.tokens.span[token];
        let before = token.checked_sub(1).map(|before| self.out.tokens.span[before].end);
        match self.out.faults.last_mut() {
            Some(last) if last.kind == FaultKind::StrayText && Some(last.span.end) == before => {
                last.span.end = span.end
            }
            _ => self.fault(FaultKind::StrayText, token, 0, String::new()),
        }
    }

    /// A game may start at any number, and one wrong number often makes all that follow it wrong: only the first number
    /// off the moves is reported, and each that breaks the new count.
    fn number(&mut self, token: usize) {
        let value = i64::from(self.out.tokens.value[token]);
        let line = self.top();
        if value == 0 || self.open.unread_depth > 0 || line.reach != Reach::Whole {
            return;
        }
        let right = i64::from(line.now.fullmoves().get());
        let ply = self.out.nodes.ply[line.node as usize] + 1;
        if value == right {
            self.open.number_shift = 0;
        } else if value - right != self.open.number_shift {
            self.open.number_shift = value - right;
            self.fault(FaultKind::WrongMoveNumber, token, ply, right.to_string());
        }
    }

    fn word(&mut self, token: usize) {
        let word = self.out.tokens.span[token].of(self.text);
        if self.open.unread_depth > 0 || self.top().reach != Reach::Whole {
            self.out.tokens.kind[token] = TokenKind::Unread;
            if self.open.unread_depth == 0 && looks_like_move(word) {
                self.top_mut().reach = Reach::Lost;
            }
            return;
        }
        let line = self.top();
        let mut after = line.now.clone();
        let (fault, detail) = match parse_move(&line.now, word) {
            Ok(played) => {
                after.play_unchecked(played);
                return self.play(token, PackedMove::pack(played), after);
            }
            Err(MoveFault::Null) => match pass(&line.now) {
                Some(after) => return self.play(token, PackedMove::NULL, after),
                None => (FaultKind::IllegalMove, String::new()),
            },
            Err(MoveFault::Ambiguous(moves)) => {
                let moves: Vec<String> =
                    moves.into_iter().map(|played| SanPlus::from_move(line.now.clone(), played).to_string()).collect();
                (FaultKind::AmbiguousMove, moves.join(", "))
            }
            // `de` may be a pawn that takes, or a word of some language.
            Err(MoveFault::Illegal) if word.len() == 2 && word.iter().all(u8::is_ascii_alphabetic) => {
                return self.stray(token);
            }
            Err(MoveFault::Illegal) => (FaultKind::IllegalMove, String::new()),
            Err(MoveFault::NotAMove) if matches!(word, b"e.p." | b"e.p" | b"ep" | b"+" | b"++" | b"#") => {
                self.out.tokens.kind[token] = TokenKind::Stray; // the end of the move before it, set apart
                return;
            }
            Err(MoveFault::NotAMove) if looks_like_move(word) => (FaultKind::UnreadableMove, String::new()),
            Err(MoveFault::NotAMove) => return self.stray(token),
        };
        let ply = self.out.nodes.ply[line.node as usize] + 1;
        self.out.tokens.kind[token] = TokenKind::Unread;
        self.fault(fault, token, ply, detail);
        self.top_mut().reach = Reach::BeforeLast;
        if self.open.lines.len() == 1 {
            let game = self.out.games.root.len() - 1;
            self.out.games.complete[game] = false;
        }
    }

    fn play(&mut self, token: usize, played: PackedMove, after: Chess) {
        let node = self.out.nodes.parent.len() as u32;
        let (before, variation) = (self.top().node, self.top().variation);
        self.push_node(before as i32, token as i32, played, variation, key_of(&after).0);
        self.out.token_node[token] = node as i32;
        let line = self.top_mut();
        line.before = std::mem::replace(&mut line.now, after);
        line.node = node;
    }

    pub(super) fn push_node(&mut self, parent: i32, token: i32, played: PackedMove, variation: i32, key: u64) {
        let nodes = &mut self.out.nodes;
        nodes.ply.push(if parent == NONE { 0 } else { nodes.ply[parent as usize] + 1 });
        nodes.parent.push(parent);
        nodes.token.push(token);
        nodes.played.push(played);
        nodes.variation.push(variation);
        nodes.key.push(key);
    }

    /// Whether the line has a move of its own.
    fn has_move(&self, line: &OpenLine) -> bool {
        let node = line.node as usize;
        self.out.nodes.variation[node] == line.variation && self.out.nodes.parent[node] != NONE
    }

    fn open_variation(&mut self, token: usize) {
        let line = self.top();
        let departure = match line.reach {
            _ if self.open.unread_depth > 0 => None,
            Reach::Whole if self.has_move(line) => {
                Some((self.out.nodes.parent[line.node as usize] as u32, line.before.clone()))
            }
            Reach::BeforeLast => Some((line.node, line.now.clone())),
            Reach::Whole | Reach::Lost => None,
        };
        let Some((node, now)) = departure else {
            if self.open.unread_depth == 0 {
                let whole = line.reach == Reach::Whole;
                self.open.unread_open = token as u32;
                if whole {
                    self.fault(FaultKind::VariationWithoutMove, token, 0, String::new());
                }
            }
            self.open.unread_depth += 1;
            return;
        };
        let outer = line.variation;
        let variations = &mut self.out.variations;
        let variation = variations.game.len() as i32;
        variations.game.push(self.out.games.root.len() as u32 - 1);
        variations.open.push(token as u32);
        variations.close.push(NONE);
        variations.outer.push(outer);
        variations.depth.push(self.open.lines.len() as u32);
        variations.branch.push(node);
        self.out.token_variation[token] = variation;
        self.open.lines.push(OpenLine { variation, node, before: now.clone(), now, reach: Reach::Whole });
    }

    fn close_variation(&mut self, token: usize) {
        if self.open.unread_depth > 0 {
            self.open.unread_depth -= 1;
            return;
        }
        if self.open.lines.len() == 1 {
            self.out.tokens.kind[token] = TokenKind::Stray;
            return self.fault(FaultKind::UnopenedVariation, token, 0, String::new());
        }
        let line = self.open.lines.pop().expect("more than the main line is open");
        self.out.variations.close[line.variation as usize] = token as i32;
        if line.reach == Reach::Whole && !self.has_move(&line) {
            self.fault(FaultKind::EmptyVariation, token, 0, String::new());
        }
    }

    fn result(&mut self, token: usize) {
        if self.open.lines.len() > 1 || self.open.unread_depth > 0 {
            return self.fault(FaultKind::ResultInsideVariation, token, 0, String::new());
        }
        let word = self.out.tokens.span[token].of(self.text);
        if GameResult::exact(word).is_none() {
            self.fault(FaultKind::NonStandardTermination, token, 0, String::new());
        }
        let result = GameResult::lenient(word).expect("the lexer reads results so");
        if let Some((_, value)) = self.tag_value(b"Result")
            && GameResult::lenient(value.trim_ascii()) != Some(result)
        {
            let value = String::from_utf8_lossy(value).into_owned();
            self.fault(FaultKind::ResultMismatch, token, 0, value);
        }
        let game = self.out.games.root.len() - 1;
        self.out.games.result[game] = result;
        self.out.games.result_token[game] = token as i32;
        self.open.lines.clear();
        self.stage = Stage::After;
    }
}

/// Whether a word was evidently meant as a move: castling, or a square with what may stand around it. The first letter
/// may belong to any language (`Sf3`).
pub(super) fn looks_like_move(word: &[u8]) -> bool {
    let letters = word.iter().filter(|byte| !matches!(byte, 0x80..=0xbf)).count();
    let first = word.iter().skip(1).take_while(|byte| matches!(byte, 0x80..=0xbf)).count() + 1;
    let square = word.windows(2).any(|pair| matches!(pair, [b'a'..=b'h', b'1'..=b'8']));
    let castling = word.starts_with(b"O-O") || word.starts_with(b"0-0") || word.starts_with(b"o-o");
    letters <= 10 && (square || castling) && word[first.min(word.len())..].iter().all(|byte| {
        matches!(byte, b'a'..=b'h' | b'0'..=b'9' | b'x' | b'X' | b':' | b'-' | b'+' | b'#' | b'=' | b'/' | b'(' | b')')
            || matches!(byte, b'Q' | b'R' | b'B' | b'N' | b'K' | b'O' | b'o' | b'q' | b'r' | b'n' | b'k')
    })
}
