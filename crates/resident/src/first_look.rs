//! What the resident thinks of each position of many games at first sight: its evaluation once captures have come to rest.
//! For comparing games with one another, where a search of each position would take too long.

use std::thread;

use shakmaty::{Chess, Color, Position};
use variorum_core::runs::Games;

use crate::{Board, Searcher};

/// Centipawns for White, of `horizon` + 1 positions a game: `place`, which each hit (a row and a ply) has reached, and those
/// after it. Where a game has ended its last position goes on. The same on any number of threads.
///
/// # Errors
///
/// A hit names a row that is not there, or the columns of hits differ in length.
pub fn first_looks(
    place: &Chess,
    games: &Games<'_>,
    rows: &[u32],
    plies: &[u16],
    horizon: usize,
    threads: usize,
) -> Result<Vec<i16>, &'static str> {
    games.check(rows, plies)?;
    let width = horizon + 1;
    let mut values = vec![0i16; rows.len() * width];
    let share = rows.len().div_ceil(threads.max(1)).max(1);
    thread::scope(|scope| {
        let parts = values.chunks_mut(share * width).zip(rows.chunks(share)).zip(plies.chunks(share));
        for ((values, rows), plies) in parts {
            scope.spawn(move || {
                let mut searcher = Searcher::new(1);
                for ((line, &row), &ply) in values.chunks_mut(width).zip(rows).zip(plies) {
                    look_along(&mut searcher, place, games, row as usize, usize::from(ply), line);
                }
            });
        }
    });
    Ok(values)
}

fn look_along(searcher: &mut Searcher, place: &Chess, games: &Games<'_>, row: usize, ply: usize, line: &mut [i16]) {
    let mut position = place.clone();
    let mut moves = games.moves(row).skip(ply);
    let mut last = None;
    for value in line {
        let look = *last.get_or_insert_with(|| white_value(searcher, &position));
        *value = look;
        if let Some(played) = moves.next().and_then(|packed| packed.unpack(&position)) {
            position.play_unchecked(played);
            last = None;
        } else {
            moves = games.moves(row).skip(usize::MAX); // nothing behind a fault is read
        }
    }
}

fn white_value(searcher: &mut Searcher, position: &Chess) -> i16 {
    let (value, _) = searcher.quiesce(&Board::from(position));
    let white = if position.turn() == Color::White { value } else { -value };
    white as i16 // a score of the search is within 31,000
}
