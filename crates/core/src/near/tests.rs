use proptest::prelude::*;
use shakmaty::{Chess, Position};

use super::placement::{NONE, mirrored};
use super::*;

/// Placements after random moves from the start.
fn placements() -> impl Strategy<Value = Placement> {
    prop::collection::vec(any::<prop::sample::Index>(), 0..12).prop_map(|choices| {
        let mut position = Chess::default();
        for choice in choices {
            let moves = position.legal_moves();
            position.play_unchecked(moves[choice.index(moves.len())]);
        }
        Placement::new(position.board())
    })
}

proptest! {
    #[test]
    fn a_difference_is_what_one_has_and_the_other_has_not(one in placements(), other in placements()) {
        let (mine, theirs): (Vec<_>, Vec<_>) = (one.units().collect(), other.units().collect());
        let lacking = |from: &[u16], whom: &[u16]| from.iter().copied().filter(|unit| !whom.contains(unit)).collect::<Vec<_>>();
        let (here, there) = (lacking(&mine, &theirs), lacking(&theirs, &mine));
        match difference(&one, &other) {
            Some(found) => {
                prop_assert_eq!(found.here.into_iter().filter(|&unit| unit != NONE).collect::<Vec<_>>(), here.clone());
                prop_assert_eq!(found.there.into_iter().filter(|&unit| unit != NONE).collect::<Vec<_>>(), there.clone());
                prop_assert!(usize::from(found.units) >= here.len().max(there.len()));
                let back = difference(&other, &one).unwrap();
                prop_assert_eq!((back.here, back.there, back.units), (found.there, found.here, found.units));
            }
            None => prop_assert!(here.len() + there.len() > 2),
        }
    }

    #[test]
    fn colours_reversed_twice_are_as_they_were(one in placements()) {
        prop_assert_eq!(one.mirrored().mirrored(), one);
        let mut units: Vec<_> = one.units().map(mirrored).collect();
        units.sort_unstable();
        prop_assert_eq!(units, one.mirrored().units().collect::<Vec<_>>());
    }
}
