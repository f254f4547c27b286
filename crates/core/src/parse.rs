//! One move as people write it. Exact SAN takes the short way; everything else is read leniently: missing or wrong
//! check signs and capture signs, castling with zeros, promotions without `=`, squares in full, UCI.

use std::borrow::Cow;
use std::fmt;

use shakmaty::{CastlingSide, Chess, File, Move, Position, Rank, Role, Square, san::San};

/// Why a token is not a move in a position.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MoveFault {
    /// The token does not have the form of a move.
    NotAMove,
    /// It has the form of a move, but no legal move answers to it.
    Illegal,
    /// More than one legal move answers to it: these.
    Ambiguous(Vec<Move>),
    /// It is a null move (`--`, `Z0`, `0000`), which is never legal; see [`crate::moves::pass`].
    Null,
}

impl fmt::Display for MoveFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            MoveFault::NotAMove => "not a move",
            MoveFault::Illegal => "illegal",
            MoveFault::Ambiguous(_) => "ambiguous",
            MoveFault::Null => "null move",
        })
    }
}

/// Reads one move, SAN or UCI, as leniently as can be done without guessing. Signs of check, mate and judgement
/// (`+ # ! ?`) and `e.p.` at the end are passed over. A small `b` is a pawn where that is legal, else a bishop.
///
/// # Errors
///
/// See [`MoveFault`].
pub fn parse_move(position: &Chess, token: &[u8]) -> Result<Move, MoveFault> {
    let mut exact = token;
    while let [rest @ .., b'+' | b'#'] = exact {
        exact = rest;
    }
    match San::from_ascii(exact) {
        Ok(San::Null) => return Err(MoveFault::Null),
        Ok(San::Put { .. }) => return Err(MoveFault::NotAMove),
        Ok(san) => {
            if let Ok(played) = san.to_move(position) {
                return Ok(played);
            }
        }
        Err(_) => {}
    }
    parse_leniently(position, token)
}

/// Longer tokens are no moves; the longest honest ones have figurines of three bytes and signs behind.
const LONGEST: usize = 40;

#[cold]
fn parse_leniently(position: &Chess, token: &[u8]) -> Result<Move, MoveFault> {
    if token.len() > LONGEST {
        return Err(MoveFault::NotAMove);
    }
    let plain = plain_letters(token).ok_or(MoveFault::NotAMove)?;
    let text = without_signs(&plain);
    if matches!(text, b"--" | b"Z0" | b"0000") {
        return Err(MoveFault::Null);
    }
    if let Some(side) = castling_side(text) {
        return position.castling_moves(side).first().copied().ok_or(MoveFault::Illegal);
    }
    let readings = [Wish::read(text), Wish::read_small_bishop(text)];
    let mut fault = MoveFault::NotAMove;
    for wish in readings.into_iter().flatten() {
        match wish.resolve(position) {
            Err(MoveFault::Illegal) => fault = MoveFault::Illegal,
            answer => return answer,
        }
    }
    Err(fault)
}

/// Figurines, dashes and crosses of print as the ASCII they stand for; `None` where something else is met.
fn plain_letters(token: &[u8]) -> Option<Cow<'_, [u8]>> {
    if token.is_ascii() {
        return Some(Cow::Borrowed(token));
    }
    let mut plain = Vec::with_capacity(token.len());
    if let Ok(text) = std::str::from_utf8(token) {
        for letter in text.chars() {
            match letter {
                '\u{2010}'..='\u{2015}' | '\u{2212}' => plain.push(b'-'),
                '×' => plain.push(b'x'),
                '†' | '‡' => plain.push(b'+'),
                '♔' | '♚' => plain.push(b'K'),
                '♕' | '♛' => plain.push(b'Q'),
                '♖' | '♜' => plain.push(b'R'),
                '♗' | '♝' => plain.push(b'B'),
                '♘' | '♞' => plain.push(b'N'),
                '♙' | '♟' => plain.push(b'P'),
                '\u{fe0e}' | '\u{fe0f}' => {} // "text style" behind a figurine
                _ => plain.push(u8::try_from(letter).ok().filter(u8::is_ascii)?),
            }
        }
    } else {
        for &byte in token {
            match byte {
                0x96 | 0x97 => plain.push(b'-'), // CP1252 dashes
                0xd7 => plain.push(b'x'),
                0x86 | 0x87 => plain.push(b'+'),
                _ => plain.push(Some(byte).filter(u8::is_ascii)?),
            }
        }
    }
    Some(Cow::Owned(plain))
}

fn without_signs(mut text: &[u8]) -> &[u8] {
    loop {
        text = match text {
            [rest @ .., b'+' | b'#' | b'!' | b'?' | b':'] => rest,
            [rest @ .., b'e', b'.', b'p', b'.'] | [rest @ .., b'e', b'.', b'p'] | [rest @ .., b'e', b'p'] => rest,
            _ => return text,
        }
    }
}

fn castling_side(text: &[u8]) -> Option<CastlingSide> {
    let mut signs = 0;
    for byte in text {
        match byte {
            b'O' | b'o' | b'0' => signs += 1,
            b'-' => {}
            _ => return None,
        }
    }
    match (signs, text.len()) {
        (2, 2 | 3) => Some(CastlingSide::KingSide),
        (3, 3 | 5) => Some(CastlingSide::QueenSide),
        _ => None,
    }
}

/// What a token says about a move; `None` is "not said".
struct Wish {
    role: Option<Role>,
    from_file: Option<File>,
    from_rank: Option<Rank>,
    to_file: File,
    to_rank: Option<Rank>,
    promotion: Option<Role>,
}

impl Wish {
    fn read(text: &[u8]) -> Option<Wish> {
        let role = match text.first()? {
            b'N' | b'n' => Some(Role::Knight),
            b'B' => Some(Role::Bishop),
            b'R' | b'r' => Some(Role::Rook),
            b'Q' | b'q' => Some(Role::Queen),
            b'K' | b'k' => Some(Role::King),
            b'P' | b'p' => Some(Role::Pawn),
            _ => None,
        };
        Wish::read_squares(role, if role.is_some() { &text[1..] } else { text })
    }

    fn read_small_bishop(text: &[u8]) -> Option<Wish> {
        Wish::read_squares(Some(Role::Bishop), text.strip_prefix(b"b")?)
    }

    /// Reads `[file][rank][-x:]file[rank][promotion]` behind a piece letter or without one.
    fn read_squares(role: Option<Role>, text: &[u8]) -> Option<Wish> {
        let (text, promotion) = split_promotion(text)?;
        let (left, right) = match text.iter().position(|byte| matches!(byte, b'-' | b'x' | b'X' | b':')) {
            Some(at) => (&text[..at], &text[at + 1..]),
            None => match text.len() {
                2 if rank(text[1]).is_none() => text.split_at(1),
                length @ 2..=4 => text.split_at(length - 2),
                _ => return None,
            },
        };
        let (from_file, from_rank) = match *left {
            [] => (None, None),
            [one] => (file(one), rank(one)),
            [one, two] => (Some(file(one)?), Some(rank(two)?)),
            _ => return None,
        };
        if left.len() == 1 && from_file.is_none() && from_rank.is_none() {
            return None;
        }
        let (to_file, to_rank) = match *right {
            [one] => (file(one)?, None),
            [one, two] => (file(one)?, Some(rank(two)?)),
            _ => return None,
        };
        let pawn = matches!(role, None | Some(Role::Pawn));
        if to_rank.is_none() && !(pawn && from_file.is_some() && from_rank.is_none()) {
            return None;
        }
        // Without a letter it is a pawn, unless the square of departure is given in full (UCI, `g1-f3`).
        let role = if from_file.is_some() && from_rank.is_some() { role } else { Some(role.unwrap_or(Role::Pawn)) };
        if left.is_empty() && pawn && right.len() < text.len() {
            return None; // `xd5` does not say which pawn
        }
        Some(Wish { role, from_file, from_rank, to_file, to_rank, promotion })
    }

    fn resolve(&self, position: &Chess) -> Result<Move, MoveFault> {
        let mut found = position.legal_moves();
        found.retain(|played| self.fits(*played));
        match found.as_slice() {
            [] => Err(MoveFault::Illegal),
            [played] => Ok(*played),
            _ => Err(MoveFault::Ambiguous(found.to_vec())),
        }
    }

    fn fits(&self, played: Move) -> bool {
        let Some(from) = played.from() else { return false };
        if self.role.is_some_and(|role| role != played.role())
            || self.from_file.is_some_and(|file| file != from.file())
            || self.from_rank.is_some_and(|rank| rank != from.rank())
            || self.promotion.is_some_and(|role| played.promotion() != Some(role))
        {
            return false;
        }
        match played {
            Move::Castle { king, rook } => {
                let side = CastlingSide::from_king_side(rook > king);
                let target = Square::from_coords(side.king_to_file(), king.rank());
                let ends_on = |square: Square| self.to_file == square.file() && self.to_rank == Some(square.rank());
                // In Chess960 the king's target may be one step away: then the two squares mean the step.
                self.from_file.is_some()
                    && self.from_rank.is_some()
                    && (ends_on(rook) || (king.distance(target) > 1 && ends_on(target)))
            }
            _ => {
                let to = played.to();
                self.to_file == to.file()
                    && self.to_rank.map_or_else(|| from.file() != to.file(), |rank| rank == to.rank())
            }
        }
    }
}

/// Cuts `=Q`, `/Q`, `(Q)`, `=(Q)` or a bare `Q` from the end. A small `b` is a promotion only behind a rank or a sign.
fn split_promotion(text: &[u8]) -> Option<(&[u8], Option<Role>)> {
    let (text, closed) = match text {
        [rest @ .., b')'] => (rest, true),
        _ => (text, false),
    };
    let (rest, role) = match text {
        [rest @ .., b'N' | b'n'] => (rest, Role::Knight),
        [rest @ .., b'R' | b'r'] => (rest, Role::Rook),
        [rest @ .., b'Q' | b'q'] => (rest, Role::Queen),
        [rest @ .., b'B'] => (rest, Role::Bishop),
        [rest @ .., b'b'] if matches!(rest.last(), Some(b'1'..=b'8' | b'=' | b'/' | b'(')) => (rest, Role::Bishop),
        _ => return (!closed).then_some((text, None)),
    };
    let rest = match (closed, rest) {
        (true, [rest @ .., b'(']) => rest.strip_suffix(b"=").unwrap_or(rest),
        (true, _) => return None,
        (false, [rest @ .., b'=' | b'/']) => rest,
        (false, rest) => rest,
    };
    Some((rest, Some(role)))
}

fn file(byte: u8) -> Option<File> {
    File::from_char(char::from(byte))
}

fn rank(byte: u8) -> Option<Rank> {
    Rank::from_char(char::from(byte))
}
