//! Pawns around a king.

use shakmaty::{Bitboard, Color, File, Rank, Role};

use super::{record::Record, sum::Sum, terms as w};
use crate::board::Board;

/// Adds the worth of the pawns around the king of `color`: own pawns before it, enemy pawns that come near.
pub fn add<R: Record>(board: &Board, color: Color, sum: &mut Sum<'_, R>) {
    let king = board.king(color);
    // A king that has left its first ranks has no shelter to speak of.
    if color.relative_rank(king.rank()) > Rank::Third {
        return;
    }
    let own = board.of(color, Role::Pawn);
    let enemy = board.of(color.other(), Role::Pawn);
    let king_rank = color.relative_rank(king.rank()).to_usize();
    let before = |pawns: Bitboard| {
        // The pawn nearest to the king on this file, as steps ahead of the king's rank; 0 for none.
        let ranks = pawns.into_iter().map(|pawn| color.relative_rank(pawn.rank()).to_usize());
        ranks.filter(|&rank| rank > king_rank).min().map_or(0, |rank| rank - king_rank)
    };
    let middle = king.file().to_usize().clamp(1, 6);
    for number in middle - 1..=middle + 1 {
        let file = Bitboard::from_file(File::new(number as u32));
        let edge = number.min(7 - number);
        let (cover, attack) = (before(own & file), before(enemy & file));
        sum.add(w::SHELTER, edge * 8 + cover);
        if attack != 0 && cover != 0 && attack == cover + 1 {
            sum.add(w::STORM_STOPPED, attack);
        } else {
            sum.add(w::STORM, edge * 8 + attack);
        }
        if (own & file).is_empty() {
            sum.add(w::KING_FILE, usize::from((enemy & file).any()));
        }
    }
}
