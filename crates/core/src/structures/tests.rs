use proptest::prelude::*;
use shakmaty::{Chess, Color, Position, fen::Fen};

use super::*;
use crate::graph::pack;

fn entry(white: &str, black: &str, side: Color) -> Entry {
    Entry { skeleton: Skeleton::parse(white, black).expect("words"), side }
}

/// An isolated queen's pawn, the same in general, hanging pawns of Black, a symmetrical skeleton.
fn catalogue() -> Catalogue {
    Catalogue::new(vec![
        entry("d4 -c -e", "-d", Color::White),
        entry("d4 -c -e", "-d e6 -c", Color::White),
        entry("-c -d", "c5 d5 -b -e", Color::Black),
        entry("d4 -e c", "d5 -e c", Color::White),
    ])
}

fn seen(fen: &str) -> Option<(StructureIndex, Holder)> {
    let position: Chess =
        fen.parse::<Fen>().expect("fen").into_position(shakmaty::CastlingMode::Standard).expect("legal");
    let (white, black) = pawns_of(position.board());
    let found = catalogue().recognise(white, black);
    assert_eq!(catalogue().codes(&[pack(&position)]), Some(vec![code_of(found)]));
    found.map(|found| (found.structure, found.holder))
}

#[test]
fn the_narrower_skeleton_comes_first_in_either_colour() {
    assert_eq!(seen("4k3/pp2pppp/8/8/3P4/8/PP3PPP/4K3 w - - 0 1"), Some((0, Holder::White)));
    assert_eq!(seen("4k3/pp3ppp/4p3/8/3P4/8/PP3PPP/4K3 w - - 0 1"), Some((1, Holder::White)));
    assert_eq!(seen("4k3/pp3ppp/8/3p4/8/4P3/PP3PPP/4K3 b - - 0 1"), Some((1, Holder::Black)));
    assert_eq!(seen("4k3/p4ppp/8/2pp4/8/4P3/PP3PPP/4K3 b - - 0 1"), Some((2, Holder::Black)));
    assert_eq!(seen("4k3/pp2pppp/8/8/2PP4/8/P4PPP/4K3 b - - 0 1"), Some((2, Holder::White)));
    assert_eq!(seen("4k3/ppp2ppp/8/3p4/3P4/8/PPP2PPP/4K3 w - - 0 1"), Some((3, Holder::Both)));
    assert_eq!(seen("4k3/pppppppp/8/8/8/8/PPPPPPPP/4K3 w - - 0 1"), None);
}

#[test]
fn words_that_say_nothing_or_too_much_are_refused() {
    for (white, black) in [("d9", ""), ("-", ""), ("e1", ""), ("e2/", ""), ("D4", ""), ("d4 -d", ""), ("e2/e3 -e", "")]
    {
        assert!(Skeleton::parse(white, black).is_err(), "{white}");
    }
    assert!(Skeleton::parse("d4", "d4").is_err());
}

#[test]
fn what_is_required_forbidden_and_one_of_many_is_implied() {
    let skeleton = |white, black| Skeleton::parse(white, black).expect("words");
    assert!(skeleton("d4 -c -e", "e6").implies(&skeleton("d4 -c", "e")));
    assert!(skeleton("d4/d5 -d5", "").implies(&skeleton("d4/d3", "")));
    assert!(skeleton("d4", "").implies(&skeleton("d3/d4", "")));
    assert!(!skeleton("d3/d4", "").implies(&skeleton("d4", "")));
    assert!(!skeleton("d4 -c", "e6").implies(&skeleton("d4 -c -e", "e6")));
}

proptest! {
    #[test]
    fn colours_reversed_give_the_same_structure_of_the_other_side(white: u64, black: u64) {
        let pawns = 0x00ff_ffff_ffff_ff00;
        let (white, black) = (white & black & pawns, !white & black & pawns);
        let found = catalogue().recognise(white, black);
        let turned = catalogue().recognise(black.swap_bytes(), white.swap_bytes());
        let other = |holder| match holder {
            Holder::White => Holder::Black,
            Holder::Black => Holder::White,
            Holder::Both => Holder::Both,
        };
        prop_assert_eq!(turned, found.map(|found| Recognised { holder: other(found.holder), ..found }));
    }
}
