//! Positions from FEN, X-FEN and FEN with the rooks' files as castling rights, and why one is refused.

use std::fmt;

use shakmaty::{
    CastlingMode, Chess, FromSetup, PositionErrorKinds, Setup,
    fen::{Epd, Fen, ParseFenError},
};

use crate::key::EN_PASSANT;

/// Why a FEN is not a position.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FenFault {
    /// A field cannot be read.
    Syntax(ParseFenError),
    /// The fields can be read, but no legal position stands there.
    Position(PositionErrorKinds),
}

impl fmt::Display for FenFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let kinds = match self {
            FenFault::Syntax(ParseFenError::InvalidBoard) => {
                return f.write_str("the placement needs eight ranks of eight squares");
            }
            FenFault::Syntax(ParseFenError::InvalidTurn) => return f.write_str("the side to move is w or b"),
            FenFault::Syntax(ParseFenError::InvalidCastling) => {
                return f.write_str("castling rights are written with KQkq, file letters, or -");
            }
            FenFault::Syntax(ParseFenError::InvalidEpSquare) => {
                return f.write_str("the en-passant field is a square or -");
            }
            FenFault::Syntax(ParseFenError::InvalidHalfmoveClock) => {
                return f.write_str("the half-move clock is not a number");
            }
            FenFault::Syntax(ParseFenError::InvalidFullmoves) => {
                return f.write_str("the move number is not a number");
            }
            FenFault::Syntax(_) => return f.write_str("too many or too few fields"),
            FenFault::Position(kinds) => *kinds,
        };
        let reasons = [
            (PositionErrorKinds::EMPTY_BOARD, "the board is empty"),
            (PositionErrorKinds::MISSING_KING, "a king is missing"),
            (PositionErrorKinds::TOO_MANY_KINGS, "a side has more than one king"),
            (PositionErrorKinds::PAWNS_ON_BACKRANK, "a pawn stands on the first or eighth rank"),
            (PositionErrorKinds::INVALID_CASTLING_RIGHTS, "castling rights without king and rook in their places"),
            (PositionErrorKinds::INVALID_EP_SQUARE, "no pawn has just passed over the en-passant square"),
            (PositionErrorKinds::OPPOSITE_CHECK, "the side that has just moved is in check"),
            (PositionErrorKinds::TOO_MUCH_MATERIAL, "a side has more units than it can have"),
        ];
        let mut separator = "";
        for (_, reason) in reasons.iter().filter(|(kind, _)| kinds.contains(*kind)) {
            write!(f, "{separator}{reason}")?;
            separator = "; ";
        }
        Ok(())
    }
}

/// Reads a FEN of four to six fields. In `Standard` mode, castling rights that only Chess960 knows make a Chess960
/// position; in `Chess960` mode the position is one in any case (its castling is written king takes rook in UCI).
/// A check that no last move can have given is let pass: composed positions and published tests have such.
///
/// # Errors
///
/// What is wrong with the text or with the position in it.
pub fn read_fen(text: &[u8], mode: CastlingMode) -> Result<Chess, FenFault> {
    let setup = Fen::from_ascii(text.trim_ascii()).map_err(FenFault::Syntax)?.into_setup();
    match position_of(setup.clone(), mode) {
        Err(kinds) if mode == CastlingMode::Standard && kinds == PositionErrorKinds::INVALID_CASTLING_RIGHTS => {
            position_of(setup, CastlingMode::Chess960)
        }
        result => result,
    }
    .map_err(FenFault::Position)
}

fn position_of(setup: Setup, mode: CastlingMode) -> Result<Chess, PositionErrorKinds> {
    match Chess::from_setup(setup, mode) {
        Ok(position) => Ok(position),
        Err(error) => error.ignore_impossible_check().map_err(|error| error.kinds()),
    }
}

/// The FEN of a position: X-FEN castling rights, en-passant square only where such a capture is legal.
#[must_use]
pub fn fen_of(position: &Chess) -> String {
    Fen::from_position(position, EN_PASSANT).to_string()
}

/// The first four fields of the FEN: what makes two positions the same.
#[must_use]
pub fn epd_of(position: &Chess) -> String {
    Epd::from_position(position, EN_PASSANT).to_string()
}
