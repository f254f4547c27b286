//! Laws of the lenient move reader, of packed moves and of FEN, over random play.

use proptest::prelude::*;
use shakmaty::{
    CastlingMode, CastlingSide, Chess, Move, Position, Role,
    san::{San, SanPlus},
    uci::UciMove,
};
use variorum_core::fen::{fen_of, read_fen};
use variorum_core::key::key_of;
use variorum_core::moves::{PackedMove, pass};
use variorum_core::parse::{MoveFault, parse_move};

/// Starts from which random play meets every kind of move soon; the last two are Chess960.
const STARTS: [(&str, CastlingMode); 5] = [
    ("rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1", CastlingMode::Standard),
    ("r3k2r/1Ppp1pb1/bn2pnp1/3PN3/1p2P3/2N2Q1p/P1PBBPpP/R3K2R w KQkq - 0 1", CastlingMode::Standard),
    ("4k3/P1P3PP/8/pP2pP2/8/8/p1p3pp/4K3 w - - 0 1", CastlingMode::Standard),
    ("bqnb1rkr/pp3ppp/3ppn2/2p5/5P2/P2P4/NPP1P1PP/BQ1BNRKR w HFhf - 2 9", CastlingMode::Chess960),
    ("1rkr4/p6p/8/8/8/8/P6P/1RKR4 w DBdb - 0 1", CastlingMode::Chess960),
];

fn start(index: usize) -> Chess {
    let (fen, mode) = STARTS[index];
    read_fen(fen.as_bytes(), mode).expect("a position")
}

/// Every position of a random walk.
fn walk(index: usize, choices: &[u8]) -> Vec<Chess> {
    let mut positions = vec![start(index)];
    for &choice in choices {
        let mut position = positions[positions.len() - 1].clone();
        let legal = position.legal_moves();
        if legal.is_empty() {
            break;
        }
        position.play_unchecked(legal[usize::from(choice) % legal.len()]);
        positions.push(position);
    }
    positions
}

/// Ways in which people write a move: each must be read as this move.
fn spellings(position: &Chess, played: Move) -> Vec<String> {
    let mode = position.castles().mode();
    let san = SanPlus::from_move(position.clone(), played).to_string();
    let bare = San::from_move(position, played).to_string();
    let mut found = vec![
        san.clone(),
        format!("{bare}+"),
        format!("{bare}#"),
        format!("{san}!?"),
        format!("{bare}++"),
        UciMove::from_move(played, mode).to_string(),
        UciMove::from_move(played, CastlingMode::Chess960).to_string(),
    ];
    let letter = |role: Role| if role == Role::Pawn { String::new() } else { role.upper_char().to_string() };
    match played {
        Move::Castle { king, rook } => {
            for sign in ["0", "o", "O"] {
                let count = if CastlingSide::from_king_side(rook > king) == CastlingSide::KingSide { 2 } else { 3 };
                found.push(vec![sign; count].join("-"));
                found.push(vec![sign; count].join("–"));
            }
        }
        Move::Normal { role, from, to, promotion, capture } => {
            let sign = if capture.is_some() { "x" } else { "-" };
            let end = promotion.map(|role| role.upper_char().to_string());
            let ends = end.map_or(vec![String::new()], |end| {
                vec![format!("={end}"), end.clone(), format!("({end})"), format!("/{end}"), end.to_lowercase()]
            });
            for end in ends {
                found.push(format!("{}{from}{sign}{to}{end}", letter(role)));
                found.push(format!("{}{from}{to}{end}", letter(role)));
                found.push(format!("{from}–{to}{end}"));
            }
            found.push(bare.replace('x', ""));
            found.push(bare.replace('x', ":"));
            found.push(bare.replace('=', ""));
            let figurine = |letter: char| "KQRBN".find(letter).map_or(letter, |at| ['♔', '♛', '♖', '♝', '♘'][at]);
            found.push(bare.chars().map(figurine).collect());
        }
        Move::EnPassant { from, to } => {
            found.push(format!("{}{to}", from.file()));
            found.push(format!("{}x{to}e.p.", from.file()));
            found.push(format!("{from}x{to}ep"));
        }
        Move::Put { .. } => unreachable!("no such move in chess"),
    }
    found
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_spelling_is_read(index in 0..STARTS.len(), choices in prop::collection::vec(any::<u8>(), 0..60)) {
        for position in walk(index, &choices) {
            for played in position.legal_moves() {
                for spelling in spellings(&position, played) {
                    prop_assert_eq!(parse_move(&position, spelling.as_bytes()), Ok(played),
                        "{} in {}", spelling, fen_of(&position));
                }
                // Two files may stand for several captures, never for none.
                if let (Some(from), Role::Pawn, true) = (played.from(), played.role(), played.is_capture()) {
                    let files = format!("{}{}", from.file(), played.to().file());
                    match parse_move(&position, files.as_bytes()) {
                        Ok(read) => prop_assert_eq!(read, played),
                        Err(MoveFault::Ambiguous(read)) => prop_assert!(read.contains(&played)),
                        Err(fault) => prop_assert!(false, "{} is {}", files, fault),
                    }
                }
            }
        }
    }

    #[test]
    fn packed_moves_and_fen_come_back(index in 0..STARTS.len(), choices in prop::collection::vec(any::<u8>(), 0..80)) {
        for position in walk(index, &choices) {
            for played in position.legal_moves() {
                let packed = PackedMove::pack(played);
                prop_assert!(!packed.is_null());
                prop_assert_eq!(packed.unpack(&position), Some(played));
            }
            let read = read_fen(fen_of(&position).as_bytes(), position.castles().mode());
            prop_assert_eq!(read.as_ref().map(key_of), Ok(key_of(&position)));
            prop_assert_eq!(read.as_ref().map(fen_of), Ok(fen_of(&position)));
            prop_assert_eq!(read, Ok(position));
        }
    }

    #[test]
    fn any_packed_number_is_a_legal_move_or_none(number: u16, index in 0..STARTS.len(), choices in prop::collection::vec(any::<u8>(), 0..20)) {
        for position in walk(index, &choices) {
            if let Some(played) = PackedMove(number).unpack(&position) {
                prop_assert!(position.legal_moves().contains(&played));
                prop_assert_eq!(PackedMove::pack(played), PackedMove(number));
            }
        }
    }

    #[test]
    fn any_bytes_are_a_legal_move_or_a_fault(token in prop::collection::vec(any::<u8>(), 0..50), index in 0..STARTS.len()) {
        let position = start(index);
        if let Ok(played) = parse_move(&position, &token) {
            prop_assert!(position.is_legal(played));
        }
    }

    #[test]
    fn anything_like_a_move_is_a_legal_move_or_a_fault(
        token in "[KQRBNPkqrbnp]?[a-h]?[1-8]?[-x:–×]?[a-h]?[1-8]?[=/(]?[QRBNqrbnk]?\\)?(e\\.p\\.|[+#!?]){0,2}",
        index in 0..STARTS.len(), choices in prop::collection::vec(any::<u8>(), 0..30),
    ) {
        for position in walk(index, &choices) {
            match parse_move(&position, token.as_bytes()) {
                Ok(played) => prop_assert!(position.is_legal(played)),
                Err(MoveFault::Ambiguous(found)) => {
                    prop_assert!(found.len() > 1);
                    prop_assert!(found.iter().all(|played| position.is_legal(*played)));
                }
                Err(_) => {}
            }
        }
    }

    #[test]
    fn any_text_is_a_position_or_a_fault(
        text in "([pnbrqkPNBRQK1-8~]{1,9}/){6,8}[pnbrqkPNBRQK1-8]{1,9} [wb] [KQkqA-Ha-h-]{1,5} ([a-h][36]|-)( [0-9]{1,12}){0,2}|[ -~é]{0,90}",
    ) {
        if let Ok(position) = read_fen(text.as_bytes(), CastlingMode::Standard) {
            prop_assert_eq!(read_fen(fen_of(&position).as_bytes(), position.castles().mode()), Ok(position));
        }
    }
}

fn at(fen: &str) -> Chess {
    read_fen(fen.as_bytes(), CastlingMode::Standard).expect("a position")
}

fn uci(position: &Chess, token: &str) -> String {
    match parse_move(position, token.as_bytes()) {
        Ok(played) => UciMove::from_move(played, position.castles().mode()).to_string(),
        Err(fault) => fault.to_string(),
    }
}

#[test]
fn a_small_b_is_a_pawn_first_and_a_bishop_second() {
    let both = at("4k3/8/8/2p5/1P6/8/3B4/4K3 w - - 0 1");
    assert_eq!(uci(&both, "bxc5"), "b4c5");
    assert_eq!(uci(&both, "bc5"), "b4c5");
    assert_eq!(uci(&both, "b5"), "b4b5");
    assert_eq!(uci(&both, "bc3"), "d2c3");
    assert_eq!(uci(&both, "bc1"), "d2c1");
    assert_eq!(uci(&both, "bh6"), "d2h6");
    assert_eq!(uci(&both, "Bc5"), "illegal");
}

#[test]
fn promotions() {
    let position = at("n6k/1P6/8/8/8/8/8/K7 w - - 0 1");
    for (token, read) in [
        ("b8=B", "b7b8b"),
        ("b8b", "b7b8b"),
        ("b8B", "b7b8b"),
        ("bxa8(N)", "b7a8n"),
        ("ba8/r", "b7a8r"),
        ("ba=Q", "b7a8q"),
        ("b8", "ambiguous"),
        ("ba", "ambiguous"),
        ("b8=K", "not a move"),
        ("b8=", "not a move"),
        ("b8(Q", "not a move"),
        ("b8Q)", "not a move"),
        ("Ka2=Q", "illegal"),
    ] {
        assert_eq!(uci(&position, token), read, "{token}");
    }
}

#[test]
fn castling_and_the_king_of_chess960() {
    let position = at("r3k2r/8/8/8/8/8/8/R3K2R w KQkq - 0 1");
    for token in ["O-O", "0-0", "o-o", "O–O", "OO", "e1g1", "e1h1", "Ke1g1", "O-O+!"] {
        assert_eq!(uci(&position, token), "e1g1", "{token}");
    }
    for token in ["O-O-O", "0-0-0", "o-o-o", "e1c1", "e1a1"] {
        assert_eq!(uci(&position, token), "e1c1", "{token}");
    }
    assert_eq!(uci(&position, "O-O-O-O"), "not a move");
    assert_eq!(uci(&position, "Kg1"), "illegal");

    // King f1, rook h1: f1g1 is the step, f1h1 castles.
    let shuffled = read_fen(b"5k1r/8/8/8/8/8/8/5K1R w Hh - 0 1", CastlingMode::Chess960).expect("a position");
    assert_eq!(uci(&shuffled, "f1g1"), "f1g1");
    assert_eq!(uci(&shuffled, "Kg1"), "f1g1");
    assert_eq!(uci(&shuffled, "f1h1"), "f1h1");
    assert_eq!(uci(&shuffled, "0-0"), "f1h1");
}

#[test]
fn overspecified_and_underspecified() {
    let position = at("4k3/8/8/8/8/2N5/8/4K1N1 w - - 0 1");
    assert_eq!(uci(&position, "Ng1e2"), "g1e2");
    assert_eq!(uci(&position, "Nc3-e2"), "c3e2");
    assert_eq!(uci(&position, "Ncxe2"), "c3e2"); // the sign of capture may be wrong
    assert_eq!(uci(&position, "N3e2"), "c3e2");
    assert_eq!(uci(&position, "Ngf3"), "g1f3");
    assert_eq!(uci(&position, "Ncf3"), "illegal");
    match parse_move(&position, b"Ne2") {
        Err(MoveFault::Ambiguous(found)) => assert_eq!(found.len(), 2),
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_is_no_move() {
    let position = Chess::default();
    for token in ["", "Sf3", "e9", "i4", "e", "N", "xd5", "-e4", "1-0", "*", "hello", "e2e4e5", "P@e4", "\u{2003}", "½"]
    {
        assert_eq!(uci(&position, token), "not a move", "{token:?}");
    }
    assert_eq!(parse_move(&position, &[b'e', 0xff]), Err(MoveFault::NotAMove));
    for token in ["--", "––", "Z0", "0000", "--!"] {
        assert_eq!(parse_move(&position, token.as_bytes()), Err(MoveFault::Null), "{token}");
    }
    assert_eq!(parse_move(&position, b"e2\x96e4").map(|m| m.to().to_string()), Ok("e4".to_owned())); // CP1252
}

#[test]
fn passing() {
    let position = at("rnbqkbnr/ppp1pppp/8/8/3pP3/8/PPPP1PPP/RNBQKBNR b KQkq e3 0 3");
    let passed = pass(&position).expect("no check");
    assert_eq!(fen_of(&passed), "rnbqkbnr/ppp1pppp/8/8/3pP3/8/PPPP1PPP/RNBQKBNR w KQkq - 1 4");
    assert!(pass(&at("4k3/8/8/8/8/8/8/4K2r w - - 0 1")).is_none());
}

#[test]
fn why_a_fen_is_refused() {
    for (fen, reason) in [
        ("8/8/8/8/8/8/8/K7 w - - 0 1", "a king is missing"),
        ("k7/8/8/8/8/8/8/K6P w - - 0 1", "a pawn stands on the first or eighth rank"),
        ("k6R/8/8/8/8/8/8/K7 w - - 0 1", "the side that has just moved is in check"),
        ("k7/8/8/8/8/8/8/K7 w KQ - 0 1", "castling rights without king and rook in their places"),
        ("k7/8/8/8/8/8/8/K7 w - e6 0 1", "no pawn has just passed over the en-passant square"),
        ("k7/8/8/8/8/8/8/K7 x - - 0 1", "the side to move is w or b"),
        ("k7/8/8/8/8/8/8 w - - 0 1", "the placement needs eight ranks of eight squares"),
        ("k7/8/8/8/8/8/8/K7 w X - 0 1", "castling rights are written with KQkq, file letters, or -"),
        ("k7/8/8/8/8/8/8/K7 w - j9 0 1", "the en-passant field is a square or -"),
        ("k7/8/8/8/8/8/8/K7 w - - x 1", "the half-move clock is not a number"),
        ("k7/8/8/8/8/8/8/K7 w - - 0 x", "the move number is not a number"),
    ] {
        let refusal = read_fen(fen.as_bytes(), CastlingMode::Standard).expect_err(fen);
        assert_eq!(refusal.to_string(), reason, "{fen}");
    }
}
