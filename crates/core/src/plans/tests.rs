use proptest::prelude::*;
use shakmaty::{CastlingMode, CastlingSide, Chess, Color, Position, Role, Square};

use super::events::Unit;
use super::*;
use crate::fen::read_fen;
use crate::moves::PackedMove;
use crate::parse::parse_move;
use crate::runs::{Games, Strings};
use crate::structures::{Catalogue, Entry, Skeleton};

const TABIYA: &str = "r1bq1rk1/pp2bppp/2n1pn2/8/3P4/2NB1N2/PP3PPP/R1BQR1K1 w - - 0 11";
const CASTLING: &str = "r3k2r/8/8/8/8/8/8/R3K2R w KQkq - 0 1";

fn pack_line(place: &Chess, line: &str) -> Vec<PackedMove> {
    let mut position = place.clone();
    line.split_whitespace()
        .map(|token| {
            let played = parse_move(&position, token.as_bytes()).unwrap();
            position.play_unchecked(played);
            PackedMove::pack(played)
        })
        .collect()
}

fn place(fen: &str) -> Chess {
    read_fen(fen.as_bytes(), CastlingMode::Chess960).unwrap()
}

/// One skeleton: White's pawn on d4 without neighbours.
fn catalogue() -> Catalogue {
    let skeleton = Skeleton::parse("d4 -c -e", "-d").unwrap();
    Catalogue::new(vec![Entry { skeleton, side: Color::White }])
}

fn read(place: &Chess, moves: &[PackedMove], horizon: usize, out: &mut Vec<Event>) -> usize {
    read_events(place, moves.iter().copied(), horizon, &catalogue(), out)
}

fn events(fen: &str, line: &str) -> Vec<(u8, What)> {
    let mut found = Vec::new();
    let moves = pack_line(&place(fen), line);
    assert_eq!(read(&place(fen), &moves, 30, &mut found), moves.len());
    found.into_iter().map(|event| (event.ply, event.what)).collect()
}

fn but_steps(fen: &str, line: &str) -> Vec<(u8, What)> {
    events(fen, line)
        .into_iter()
        .filter(|(_, what)| !matches!(what, What::Step { .. } | What::Pressure { .. }))
        .collect()
}

#[test]
fn a_break_and_what_is_exchanged_for_what() {
    use Role::{Bishop, Knight, Pawn, Queen};
    let exchange = |side, own, other| What::Exchange { side, own, other };
    let found = but_steps(TABIYA, "d5 exd5 Nxd5 Nxd5 Bf5 Bxf5");
    let expected = [
        (1, What::Break { side: Color::White, from: Square::D4, to: Square::D5 }),
        (2, What::Structure { code: 1 }), // it is Black's pawn that is isolated now
        // Black's knight took a second unit in a row, and nothing was taken for it.
        (4, exchange(Color::Black, Pawn, Pawn)),
    ];
    assert_eq!(found, expected);
    // Knights and a pawn in between: like for like, and the queen for what is left.
    let found = but_steps(TABIYA, "Bg5 Nxd4 Nxd4 Qxd4 Bxh7+ Nxh7 Qxd4");
    let pairs = [(Knight, Knight), (Pawn, Pawn), (Queen, Bishop)];
    assert_eq!(found, pairs.map(|(own, other)| (7, exchange(Color::Black, own, other))));
}

#[test]
fn structures_and_pressure_are_told_when_they_come_about() {
    let fen = "r1bq1rk1/pp2bppp/2n1pn2/2p5/3P4/2NBPN2/PP3PPP/R1BQR1K1 b - - 0 11";
    let found: Vec<_> = events(fen, "cxd4 exd4 Qb6 h3 Rd8")
        .into_iter()
        .filter(|(_, what)| matches!(what, What::Structure { .. } | What::Pressure { .. }))
        .collect();
    let pressure = |units| What::Pressure { side: Color::Black, pawn: Square::D4, units };
    let structure = What::Structure { code: 0 };
    // The knight from c6 alone is no pressure; with the queen from b6 it is.
    assert_eq!(found, [(2, structure), (3, pressure(2)), (5, pressure(2)), (5, pressure(3))]);
}

#[test]
fn castling_gives_king_and_rook_new_homes() {
    let found = events(CASTLING, "O-O Ra8a1 Rf1a1");
    let rook = Unit { side: Color::White, role: Role::Rook, home: Square::F1, castled: true };
    let step = |unit, to, capture| What::Step { unit, to, capture, promotion: None };
    assert_eq!(found[0], (1, What::Castle { side: Color::White, towards: CastlingSide::KingSide }));
    let black = Unit { side: Color::Black, role: Role::Rook, home: Square::A8, castled: false };
    assert_eq!(found[1], (2, step(black, Square::A1, true)));
    assert_eq!(found[2], (3, step(rook, Square::A1, true)));
    assert_eq!(found[3], (3, What::Exchange { side: Color::Black, own: Role::Rook, other: Role::Rook }));
}

#[test]
fn pawns_taken_in_passing_and_promoted() {
    let found = events("4k3/1p6/8/P7/8/8/8/4K3 b - - 0 1", "b5 axb6 Kd7 b7 Kc7 b8=Q+");
    let pawn = Unit { side: Color::White, role: Role::Pawn, home: Square::A5, castled: false };
    let step = |to, capture, promotion| What::Step { unit: pawn, to, capture, promotion };
    assert_eq!(found[1], (2, step(Square::B6, true, None)));
    assert_eq!(found[3], (4, step(Square::B7, false, None)));
    assert_eq!(found[5], (6, step(Square::B8, false, Some(Role::Queen))));
    assert_eq!(found.len(), 6);
}

#[test]
fn reading_ends_at_the_horizon_a_pass_and_an_illegal_move() {
    let start = Chess::default();
    let mut moves = pack_line(&start, "e4 e5 Nf3");
    let mut out = Vec::new();
    assert_eq!(read(&start, &moves, 2, &mut out), 2);
    moves[1] = PackedMove::NULL;
    assert_eq!(read(&start, &moves, 30, &mut out), 1);
    moves[1] = moves[0];
    assert_eq!(read(&start, &moves, 30, &mut out), 1);
}

fn view<'a>(place: &'a Chess, horizon: usize, catalogue: &'a Catalogue) -> View<'a> {
    View { place, horizon, catalogue }
}

/// Games as the store has them, from the moves of each.
struct Collection {
    starts: Vec<i32>,
    offsets: Vec<i32>,
    moves: Vec<u8>,
}

impl Collection {
    fn of(games: &[Vec<PackedMove>]) -> Collection {
        let mut made = Collection { starts: vec![0; games.len() + 1], offsets: vec![0], moves: vec![] };
        for game in games {
            made.moves.extend(game.iter().flat_map(|packed| packed.0.to_le_bytes()));
            made.offsets.push(made.moves.len() as i32);
        }
        made
    }

    fn games(&self) -> Games<'_> {
        let starts = Strings::new(&self.starts, &[]).unwrap();
        Games::new(starts, Strings::new(&self.offsets, &self.moves).unwrap()).unwrap()
    }
}

fn wander(place: &Chess, choices: &[prop::sample::Index]) -> Vec<PackedMove> {
    let mut position = place.clone();
    let mut line = Vec::new();
    for choice in choices {
        let legal = position.legal_moves();
        if legal.is_empty() {
            break;
        }
        let played = legal[choice.index(legal.len().min(5))];
        line.push(PackedMove::pack(played));
        position.play_unchecked(played);
    }
    line
}

proptest! {
    #[test]
    fn what_was_collected_is_what_is_traced(
        games in prop::collection::vec(prop::collection::vec(any::<prop::sample::Index>(), 0..30), 1..30),
        horizon in 1usize..25,
    ) {
        let start = Chess::default();
        let games: Vec<_> = games.iter().map(|choices| wander(&start, choices)).collect();
        let collection = Collection::of(&games);
        let rows: Vec<u32> = (0..games.len() as u32).collect();
        let plies = vec![0; rows.len()];
        let mut table = PlanTable::default();
        table.collect(&collection.games(), &rows, &plies, view(&start, horizon, &catalogue())).unwrap();
        let columns = table.columns();
        let again = PlanTable::of(&columns.parents, &columns.codes).unwrap();
        let traced = again.trace(&collection.games(), &rows, &plies, view(&start, horizon, &catalogue())).unwrap();
        let width = columns.codes.len();
        for (row, &count) in columns.counts.iter().enumerate() {
            let shown = (0..rows.len()).filter(|game| traced.first[game * width + row] > 0).count();
            prop_assert_eq!(shown, count as usize);
            let parent = columns.parents[row];
            if parent != NO_PLAN && columns.codes[parent as usize] >> 16 != 0 {
                prop_assert!(columns.counts[parent as usize] >= count);
            }
        }
        for (&length, game) in traced.lengths.iter().zip(&games) {
            prop_assert_eq!(usize::from(length), game.len().min(horizon));
        }
    }
}

#[test]
fn the_rarest_rows_are_dropped_and_the_others_keep_their_counts() {
    let start = Chess::default();
    let games: Vec<_> = ["e4 e5 Nf3", "e4 c5 Nf3", "e4 e5 Nc3", "d4"].map(|line| pack_line(&start, line)).into();
    let collection = Collection::of(&games);
    let mut table = PlanTable::default();
    table.collect(&collection.games(), &[0, 1, 2, 3], &[0; 4], view(&start, 30, &catalogue())).unwrap();
    table.drop_rarest(2);
    let columns = table.columns();
    let kept: Vec<u32> = columns.counts.iter().copied().filter(|&count| count > 0).collect();
    assert_eq!(kept, [3]);
    table.collect(&collection.games(), &[0], &[0], view(&start, 30, &catalogue())).unwrap();
    assert_eq!(table.columns().counts.iter().max(), Some(&4));
}

#[test]
fn columns_are_checked() {
    assert!(PlanTable::of(&[NO_PLAN], &[]).is_err());
    assert!(PlanTable::of(&[0], &[1]).is_err());
    assert!(PlanTable::of(&[NO_PLAN, NO_PLAN], &[1, 1]).is_err());
    let collection = Collection::of(&[vec![]]);
    assert!(
        PlanTable::default().trace(&collection.games(), &[1], &[0], view(&Chess::default(), 9, &catalogue())).is_err()
    );
    assert!(prints(&collection.games(), &[0], &[], 9).is_err());
}
