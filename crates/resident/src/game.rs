//! The position to search with the positions that led to it, for draws by repetition.

use shakmaty::{Chess, Position};

use crate::{board::Board, moves::Move};

/// A position and the keys of the game before it.
#[derive(Clone, Debug)]
pub struct Game {
    position: Chess,
    board: Board,
    /// Keys of all positions from the start of the game, the present one last.
    keys: Vec<u64>,
}

impl Game {
    /// A game that begins here.
    #[must_use]
    pub fn new(start: &Chess) -> Game {
        let board = Board::from(start);
        Game { position: start.clone(), board, keys: vec![board.key()] }
    }

    /// Plays a move.
    ///
    /// # Errors
    ///
    /// Gives the move back when it is not legal; the game stays as it was.
    pub fn play(&mut self, m: Move) -> Result<(), Move> {
        let legal = m.to_shakmaty(&self.position).ok_or(m)?;
        self.position.play_unchecked(legal);
        self.board = Board::from(&self.position);
        self.keys.push(self.board.key());
        Ok(())
    }

    /// The present position in the vocabulary of the rules library.
    #[must_use]
    pub fn position(&self) -> &Chess {
        &self.position
    }

    /// The present position.
    #[must_use]
    pub fn board(&self) -> &Board {
        &self.board
    }

    /// Keys of all positions, the present one last.
    #[must_use]
    pub fn keys(&self) -> &[u64] {
        &self.keys
    }

    /// How often the present position has stood on the board, this time included.
    #[must_use]
    pub fn times_seen(&self) -> usize {
        self.keys.iter().filter(|&&key| key == self.board.key()).count()
    }
}
