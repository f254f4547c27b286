use proptest::prelude::*;
use shakmaty::{Bitboard, Chess, Color, Position, Square, fen::Fen};

use super::*;
use crate::graph::pack;

fn position(fen: &str) -> Chess {
    fen.parse::<Fen>().expect("fen").into_position(shakmaty::CastlingMode::Standard).expect("legal")
}

fn names(squares: u64) -> String {
    Bitboard(squares).into_iter().map(|square| square.to_string()).collect::<Vec<_>>().join(" ")
}

#[test]
fn isolated_queens_pawn() {
    // After 1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3
    let position = position("rnbqk2r/pp2bppp/4p3/3n4/3P4/2NB1N2/PP3PPP/R1BQK2R b KQkq - 1 8");
    let [white, black] = language(position.board());
    assert_eq!(names(white.isolated), "d4");
    assert_eq!(names(white.holes), "d5");
    assert_eq!(names(black.outposts), "d5");
    assert_eq!(white.open, 1 << 2);
    assert_eq!((white.half_open, black.half_open), (1 << 4, 1 << 3));
    let there = routes(position.board(), Color::Black, black.outposts);
    assert_eq!((there[0].role, there[0].moves, there[0].from), (shakmaty::Role::Knight, 0, Square::D5));
}

#[test]
fn a_way_goes_round_guarded_squares_and_is_not_looked_for_without_end() {
    let moves = |fen| {
        let found = routes(position(fen).board(), Color::White, Bitboard::from(Square::D5).into());
        found.iter().map(|route| route.moves).collect::<Vec<_>>()
    };
    assert_eq!(moves("4k3/8/8/2p1p3/8/8/8/N3K3 w - - 0 1"), [3]); // c2, e3: both pawns guard d4
    assert_eq!(moves("4k3/8/8/2p1p3/5p2/8/8/N3K3 w - - 0 1"), [0u8; 0]); // e3 is guarded too: five moves
}

proptest! {
    #[test]
    fn many_are_as_each_and_colours_reversed_as_the_other_side(seed: u64, plies in 0usize..60) {
        let mut position = Chess::default();
        let mut state = seed | 1;
        for _ in 0..plies {
            let moves = position.legal_moves();
            if moves.is_empty() {
                break;
            }
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            position = position.clone().play(moves[(state >> 33) as usize % moves.len()]).expect("legal");
        }
        let [white, black] = language(position.board());
        prop_assert_eq!(languages(&[pack(&position)]), Some(vec![[white, black]]));
        let mut turned = position.board().clone();
        turned.flip_vertical();
        turned.swap_colors();
        let [other, own] = language(&turned);
        prop_assert_eq!(own.holes, white.holes.swap_bytes());
        prop_assert_eq!(other.outposts, black.outposts.swap_bytes());
        prop_assert_eq!((own.space, own.half_open, own.open), (white.space, white.half_open, white.open));
        prop_assert_eq!(other.bad_bishops, black.bad_bishops.swap_bytes());
        prop_assert_eq!(own.levers, white.levers.swap_bytes());
    }
}
