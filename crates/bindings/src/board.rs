//! Positions and moves for Python. A move crosses as its UCI text or as a packed 16-bit number.

use std::collections::hash_map::DefaultHasher;
use std::hash::{Hash, Hasher};

use numpy::{IntoPyArray, PyArray1, PyReadonlyArray1};
use pyo3::create_exception;
use pyo3::exceptions::{PyException, PyValueError};
use pyo3::prelude::*;
use shakmaty::{CastlingMode, Chess, Color, KnownOutcome, Move, Outcome, Position, Square, san::SanPlus, uci::UciMove};
use variorum_core::fen::{epd_of, fen_of, read_fen};
use variorum_core::key::key_of;
use variorum_core::moves::{PackedMove, pass};
use variorum_core::parse::{MoveFault, parse_move};

create_exception!(
    _core,
    MoveFaultError,
    PyException,
    "A token that is no legal move: args are the reason and the candidates in SAN."
);

const NULL_UCI: &str = "0000";

/// A legal position. Equality and hash follow the repetition rule: move counters do not count.
#[pyclass(frozen, module = "variorum._core")]
pub struct Board {
    position: Chess,
}

impl From<Chess> for Board {
    fn from(position: Chess) -> Board {
        Board { position }
    }
}

impl Board {
    /// The position itself, for the other files of this crate.
    pub fn position(&self) -> &Chess {
        &self.position
    }

    fn uci_text(&self, played: Move) -> String {
        UciMove::from_move(played, self.position.castles().mode()).to_string()
    }

    fn san_text(&self, played: Move) -> String {
        SanPlus::from_move(self.position.clone(), played).to_string()
    }

    fn fault(&self, fault: &MoveFault) -> PyErr {
        let candidates: Vec<String> = match fault {
            MoveFault::Ambiguous(found) => found.iter().map(|&played| self.san_text(played)).collect(),
            _ => Vec::new(),
        };
        MoveFaultError::new_err((fault.to_string(), candidates))
    }

    /// The move of a UCI text; `None` for the null move.
    fn move_of(&self, uci: &str) -> PyResult<Option<Move>> {
        if uci == NULL_UCI {
            return Ok(None);
        }
        let fault = match uci.parse::<UciMove>() {
            Ok(read) => match read.to_move(&self.position) {
                Ok(played) => return Ok(Some(played)),
                Err(_) => MoveFault::Illegal,
            },
            Err(_) => MoveFault::NotAMove,
        };
        Err(self.fault(&fault))
    }

    fn after(&self, played: Option<Move>) -> PyResult<Board> {
        let position = match played {
            Some(played) => {
                let mut position = self.position.clone();
                position.play_unchecked(played);
                position
            }
            None => pass(&self.position).ok_or_else(|| self.fault(&MoveFault::Illegal))?,
        };
        Ok(Board { position })
    }
}

#[pymethods]
impl Board {
    #[staticmethod]
    fn start() -> Board {
        Board { position: Chess::default() }
    }

    #[staticmethod]
    #[pyo3(signature = (fen, *, chess960))]
    fn from_fen(fen: &str, chess960: bool) -> PyResult<Board> {
        let mode = if chess960 { CastlingMode::Chess960 } else { CastlingMode::Standard };
        match read_fen(fen.as_bytes(), mode) {
            Ok(position) => Ok(Board { position }),
            Err(fault) => Err(PyValueError::new_err(fault.to_string())),
        }
    }

    #[getter]
    fn fen(&self) -> String {
        fen_of(&self.position)
    }

    #[getter]
    fn epd(&self) -> String {
        epd_of(&self.position)
    }

    #[getter]
    fn key(&self) -> u64 {
        key_of(&self.position).0
    }

    #[getter]
    fn white_to_move(&self) -> bool {
        self.position.turn() == Color::White
    }

    #[getter]
    fn chess960(&self) -> bool {
        self.position.castles().mode() == CastlingMode::Chess960
    }

    #[getter]
    fn is_check(&self) -> bool {
        self.position.is_check()
    }

    #[getter]
    fn fullmove(&self) -> u32 {
        self.position.fullmoves().get()
    }

    #[getter]
    fn halfmove_clock(&self) -> u32 {
        self.position.halfmoves()
    }

    #[getter]
    fn outcome(&self) -> Option<&'static str> {
        match self.position.outcome() {
            Outcome::Known(KnownOutcome::Draw) => Some("1/2-1/2"),
            Outcome::Known(known) => Some(known.as_str()),
            Outcome::Unknown => None,
        }
    }

    fn pieces(&self) -> Vec<(String, char)> {
        self.position.board().iter().map(|(square, piece)| (square.to_string(), piece.char())).collect()
    }

    fn attackers(&self, square: &str, white: bool) -> PyResult<Vec<String>> {
        let square: Square = square.parse().map_err(|_| PyValueError::new_err(format!("'{square}' is no square")))?;
        let board = self.position.board();
        let found = board.attacks_to(square, Color::from_white(white), board.occupied());
        Ok(found.into_iter().map(|from| from.to_string()).collect())
    }

    fn legal_moves(&self) -> Vec<String> {
        self.position.legal_moves().iter().map(|&played| self.uci_text(played)).collect()
    }

    fn play(&self, uci: &str) -> PyResult<Board> {
        self.after(self.move_of(uci)?)
    }

    fn parse(&self, token: &str) -> PyResult<String> {
        match parse_move(&self.position, token.as_bytes()) {
            Ok(played) => Ok(self.uci_text(played)),
            Err(MoveFault::Null) if !self.position.is_check() => Ok(NULL_UCI.to_owned()),
            Err(MoveFault::Null) => Err(self.fault(&MoveFault::Illegal)),
            Err(fault) => Err(self.fault(&fault)),
        }
    }

    fn san(&self, uci: &str) -> PyResult<String> {
        Ok(match self.move_of(uci)? {
            Some(played) => self.san_text(played),
            None => "--".to_owned(),
        })
    }

    fn uci(&self, uci: &str) -> PyResult<String> {
        Ok(self.move_of(uci)?.map_or_else(|| NULL_UCI.to_owned(), |played| self.uci_text(played)))
    }

    fn pack_line<'py>(&self, py: Python<'py>, ucis: Vec<String>) -> PyResult<Bound<'py, PyArray1<u16>>> {
        let mut board = Board { position: self.position.clone() };
        let mut packed = Vec::with_capacity(ucis.len());
        for uci in &ucis {
            let played = board.move_of(uci)?;
            packed.push(played.map_or(PackedMove::NULL, PackedMove::pack).0);
            board = board.after(played)?;
        }
        Ok(packed.into_pyarray(py))
    }

    fn unpack_line(&self, packed: PyReadonlyArray1<'_, u16>) -> PyResult<Vec<String>> {
        let mut board = Board { position: self.position.clone() };
        let mut ucis = Vec::new();
        for &number in packed.as_slice()? {
            let played = board.unpacked(PackedMove(number))?;
            ucis.push(played.map_or_else(|| NULL_UCI.to_owned(), |played| board.uci_text(played)));
            board = board.after(played)?;
        }
        Ok(ucis)
    }

    fn replay(&self, packed: PyReadonlyArray1<'_, u16>) -> PyResult<Board> {
        let mut board = Board { position: self.position.clone() };
        for &number in packed.as_slice()? {
            let played = board.unpacked(PackedMove(number))?;
            board = board.after(played)?;
        }
        Ok(board)
    }

    fn __eq__(&self, other: &Board) -> bool {
        self.position == other.position
    }

    fn __hash__(&self) -> u64 {
        let mut hasher = DefaultHasher::new();
        self.position.hash(&mut hasher);
        hasher.finish()
    }
}

impl Board {
    fn unpacked(&self, packed: PackedMove) -> PyResult<Option<Move>> {
        if packed.is_null() {
            return Ok(None);
        }
        match packed.unpack(&self.position) {
            Some(played) => Ok(Some(played)),
            None => Err(self.fault(&MoveFault::Illegal)),
        }
    }
}
