//! The search's board against the rules library and against published move-path counts.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use shakmaty::{CastlingMode, Chess, EnPassantMode, Position, PositionError, fen::Fen};
use variorum_resident::{Board, Move, MoveList, all_moves, path_count};

fn position(fen: &str) -> Chess {
    // Some published positions have checks that no game could bring about; move generation does not care.
    let position = fen.parse::<Fen>().unwrap().into_position(CastlingMode::Chess960);
    position.or_else(PositionError::ignore_impossible_check).unwrap()
}

/// Move-path counts of tests/external/data (see the README there for where they come from), as far as they are small.
fn check_counts(text: &str, largest: u64) -> usize {
    let mut checked = 0;
    for line in text.lines().filter(|line| !line.is_empty()) {
        let (fen, counts) = line.split_once(';').unwrap();
        let board = Board::from(&position(fen.trim()));
        for count in counts.split(';') {
            let (depth, nodes) = count.trim().split_once(' ').unwrap();
            let (depth, nodes) = (depth[1..].parse().unwrap(), nodes.trim().parse().unwrap());
            if nodes <= largest {
                assert_eq!(path_count(&board, depth), nodes, "{fen} at depth {depth}");
                checked += 1;
            }
        }
    }
    checked
}

#[test]
fn published_path_counts() {
    let largest = 1_500_000;
    assert!(check_counts(include_str!("../../../tests/external/data/perft.epd"), largest) > 500);
    assert!(check_counts(include_str!("../../../tests/external/data/perft_tricky.epd"), largest) > 20);
    assert!(check_counts(include_str!("../../../tests/external/data/perft_chess960.epd"), largest) > 150);
}

struct Random(u64);

impl Random {
    fn below(&mut self, limit: usize) -> usize {
        // Marsaglia, "Xorshift RNGs", 2003.
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % limit as u64) as usize
    }
}

/// Random games: moves, legality of arbitrary moves, incremental against fresh boards, keys against equality.
#[test]
fn random_games() {
    let mut random = Random(20_240_229);
    let mut seen: std::collections::HashMap<u64, Chess> = std::collections::HashMap::new();
    for _ in 0..150 {
        let mut chess = Chess::default();
        let mut board = Board::from(&chess);
        for _ in 0..200 {
            let legal = chess.legal_moves();
            if legal.is_empty() {
                break;
            }
            let mut ours = MoveList::default();
            all_moves(&board, &mut ours);
            let mut ours = ours.as_slice().to_vec();
            let mut theirs: Vec<Move> = legal.iter().map(|&m| m.into()).collect();
            ours.sort();
            theirs.sort();
            assert_eq!(ours, theirs, "{}", Fen::from_position(&chess, EnPassantMode::Legal));
            for &m in &ours {
                assert!(board.is_legal(m), "{m:?}");
                assert_eq!(board.captured(m), m.to_shakmaty(&chess).unwrap().capture());
            }
            for _ in 0..50 {
                let m = Move(random.below(1 << 16) as u16);
                assert_eq!(
                    board.is_legal(m),
                    theirs.contains(&m),
                    "{m:?} {}",
                    Fen::from_position(&chess, EnPassantMode::Legal)
                );
            }
            let m = legal[random.below(legal.len())];
            board = board.play(m.into());
            chess.play_unchecked(m);
            assert_eq!(board, Board::from(&chess), "{}", Fen::from_position(&chess, EnPassantMode::Legal));
            assert_eq!(board.is_dead(), chess.is_insufficient_material());
            let first = seen.entry(board.key()).or_insert_with(|| chess.clone());
            assert_eq!(*first, chess, "one key for two positions");
        }
    }
}
