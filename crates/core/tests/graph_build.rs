//! The builder: nothing merges that differs, every merge is found, and no order of work shows in the result.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use shakmaty::{Chess, Position, san::San};
use variorum_core::graph::{
    BuildFault, Built, ELSEWHERE, GAMES, Games, GraphBuilder, KeyMap, PositionTable, ROOT, TEXT, pack, unpack,
};
use variorum_core::key::{PositionKey, key_of};
use variorum_core::moves::PackedMove;

/// The packed moves of a line, and where it ends.
fn played(line: &str) -> (Vec<u16>, Chess) {
    let mut position = Chess::default();
    let mut moves = Vec::new();
    for word in line.split_whitespace() {
        let san: San = word.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.').parse().expect("SAN");
        let legal = san.to_move(&position).expect("legal");
        moves.push(PackedMove::pack(legal).0);
        position.play_unchecked(legal);
    }
    (moves, position)
}

/// Moves, plies before the root, result, channel.
type Game = (Vec<u16>, u16, u8, u16);

#[derive(Debug, Default)]
struct Batch {
    offsets: Vec<u64>,
    moves: Vec<u16>,
    root_ply: Vec<u16>,
    result: Vec<u8>,
    channel: Vec<u16>,
}

impl Batch {
    fn of(games: &[Game]) -> Batch {
        let mut batch = Batch { offsets: vec![0], ..Batch::default() };
        for (moves, root_ply, result, channel) in games {
            batch.moves.extend(moves);
            batch.offsets.push(batch.moves.len() as u64);
            batch.root_ply.push(*root_ply);
            batch.result.push(*result);
            batch.channel.push(*channel);
        }
        batch
    }

    fn games<'a>(&'a self, starts: &'a KeyMap<Chess>) -> Games<'a> {
        let Batch { offsets, moves, root_ply, result, channel } = self;
        Games { offsets, moves, root_ply, result, channel, starts }
    }
}

/// The graph from the normal start of the games in `batches`.
fn build(min_games: u32, batches: &[&[Game]]) -> Built {
    let mut builder = GraphBuilder::new(min_games, 60, 4096);
    builder.add_root(&Chess::default()).expect("root");
    let starts = KeyMap::default();
    let batches: Vec<Batch> = batches.iter().map(|games| Batch::of(games)).collect();
    if builder.counts_first() {
        batches.iter().for_each(|batch| builder.count(&batch.games(&starts)).expect("counted"));
    }
    batches.iter().for_each(|batch| builder.collect(&batch.games(&starts)).expect("collected"));
    builder.finish().expect("graph")
}

fn node(built: &Built, line: &str) -> Option<u32> {
    let key = key_of(&played(line).1).0;
    (0u32..).zip(&built.keys).find(|&(_, &found)| found == key).map(|(node, _)| node)
}

fn parents(built: &Built, node: u32) -> usize {
    built.targets.iter().filter(|&&target| target == node).count()
}

#[test]
fn two_orders_make_one_node_with_two_parents() {
    let panov = "1.e4 c6 2.d4 d5 3.exd5 cxd5 4.c4 Nf6 5.Nc3 e6 6.Nf3 Be7 7.cxd5 Nxd5 8.Bd3 Nc6 9.O-O";
    let semi_tarrasch = "1.d4 d5 2.c4 e6 3.Nc3 Nf6 4.Nf3 c5 5.cxd5 Nxd5 6.e3 Nc6 7.Bd3 Be7 8.O-O cxd4 9.exd4";
    let by = |line, result, channel| (played(line).0, 0, result, channel);
    let built = build(1, &[&[by(panov, 1, 0), by(semi_tarrasch, 3, 0), by(semi_tarrasch, 3, 1)]]);
    let merged = node(&built, panov).expect("on the graph");
    assert_eq!(node(&built, semi_tarrasch), Some(merged));
    assert_eq!(parents(&built, merged), 2);
    let counts = built.node_counts.iter().filter(|count| count.at == merged);
    let counts: Vec<_> = counts.map(|count| (count.channel, count.games)).collect();
    assert_eq!(counts, [(0, [0, 1, 0, 1]), (1, [0, 0, 0, 1])]);
}

#[test]
fn a_cut_off_leaves_out_what_few_games_meet_and_counts_where_they_leave() {
    let games =
        ["1.e4 c6 2.d4 d5", "1.e4 c6 2.d4 d6", "1.e4 c6 2.Nc3 d5", "1.d4 d5"].map(|line| (played(line).0, 0, 2, 5));
    let built = build(2, &[&games]);
    let on = |line| node(&built, line);
    assert!(on("1.d4").is_none() && on("1.e4 c6 2.d4 d5").is_none() && on("1.e4 c6 2.Nc3").is_none());
    let (before, last) = (on("1.e4 c6").expect("kept"), on("1.e4 c6 2.d4").expect("kept"));
    let left: Vec<_> = built.off_counts.iter().map(|count| (count.at.0, count.channel, count.games)).collect();
    assert_eq!(left, [0, before, last, last].map(|node| (node, 5, [0, 0, 1, 0])));
    assert_eq!(built.keys.len(), 4);
    assert_eq!(build(1, &[&games]).keys.len(), 10);
}

#[test]
fn edges_are_all_legal_moves_between_the_positions() {
    // After 2.Nc3 d5 the move 3.d4 meets the first line again, though nobody plays it.
    let lines = ["1.e4 c6 2.d4 d5 3.Nc3", "1.e4 c6 2.Nc3 d5"];
    let built = build(1, &[&lines.map(|line| (played(line).0, 0, 0, 0))]);
    assert_eq!(parents(&built, node(&built, lines[0]).expect("on the graph")), 2);
    for node in 0..built.keys.len() {
        let position = unpack(&built.positions[node]).expect("a position");
        assert_eq!(key_of(&position).0, built.keys[node]);
        for edge in built.offsets[node] as usize..built.offsets[node + 1] as usize {
            let mut after = position.clone();
            after.play_unchecked(PackedMove(built.moves[edge]).unpack(&position).expect("legal"));
            assert_eq!(key_of(&after).0, built.keys[built.targets[edge] as usize]);
        }
    }
}

#[test]
fn a_game_that_comes_back_counts_once() {
    let built = build(1, &[&[(played("1.Nf3 Nf6 2.Ng1 Ng8 3.Nf3 Nf6 4.Ng1 Ng8").0, 0, 3, 0)]]);
    assert_eq!(built.keys.len(), 4, "the start and three more, then round");
    assert!(built.node_counts.iter().all(|count| count.games == [0, 0, 0, 1]));
    assert!(built.edge_counts.iter().all(|count| count.games == [0, 0, 0, 1]));
    assert_eq!(built.edge_counts.len(), 4);
}

#[test]
fn texts_begin_at_their_root_or_elsewhere_and_end_at_a_null_move() {
    let mut builder = GraphBuilder::new(1, 40, 0);
    builder.add_root(&played("1.e4 c6 2.d4 d5").1).expect("root");
    let (mut moves, _) = played("1.e4 c6 2.d4 d5 3.exd5 cxd5");
    moves.push(0);
    moves.extend(played("1.Nf3").0);
    assert_eq!(builder.add_text(&Chess::default(), &moves, 0), Ok(true));
    assert_eq!(builder.add_text(&Chess::default(), &played("1.c4 e5").0, 0), Ok(false));
    let illegal = builder.add_text(&Chess::default(), &played("1.c4 e5").0[1..], 0);
    assert_eq!(illegal, Err(BuildFault::Illegal { game: 0, ply: 0 }));
    let built = builder.finish().expect("graph");
    assert_eq!(built.keys.len(), 3 + 3);
    assert_eq!(built.flags[built.roots[0] as usize], ROOT | TEXT);
    assert_eq!(built.flags[built.elsewhere[0] as usize], TEXT | ELSEWHERE);
    assert!(node(&built, "1.e4 c6 2.d4").is_none(), "what comes before the root is not the edition's");
}

#[test]
fn positions_nothing_leads_to_are_left_out_and_counted() {
    let mut builder = GraphBuilder::new(1, 40, 0);
    builder.add_root(&played("1.e4 c6 2.d4 d5").1).expect("root");
    builder.add_verdict(&played("1.e4 c6 2.d4 d5 3.Nc3").1).expect("verdict");
    builder.add_verdict(&played("1.f4").1).expect("verdict");
    let built = builder.finish().expect("graph");
    assert_eq!((built.keys.len(), built.targets.len()), (2, 1));
    assert_eq!((built.unreached_verdicts, built.unreached_games), (1, 0));
}

#[test]
fn a_shared_key_is_an_error_that_names_both() {
    let (one, two) = (pack(&played("1.e4").1), pack(&played("1.d4").1));
    let mut table = PositionTable::default();
    table.insert(PositionKey(7), one).expect("first");
    let found = table.insert(PositionKey(7), two).expect_err("collision");
    assert_eq!(found, table.holds(PositionKey(7), &two).expect_err("collision"));
    assert!(found.first.contains("4P3") && found.second.contains("3P4"));
    assert_eq!(table.holds(PositionKey(7), &one), Ok(true));
    assert_eq!(table.holds(PositionKey(8), &one), Ok(false));
}

#[test]
fn an_illegal_move_in_a_game_is_named() {
    let mut moves = played("1.e4 c6").0;
    moves.push(moves[0]);
    let batch = Batch::of(&[(played("1.e4").0, 0, 0, 0), (moves, 0, 0, 0)]);
    let mut builder = GraphBuilder::new(1, 40, 0);
    let fault = builder.collect(&batch.games(&KeyMap::default())).expect_err("illegal");
    assert_eq!(fault.to_string(), "game 2 of the batch has no legal move at half-move 3");
}

/// Games of random legal moves from the start, few enough choices that they meet.
fn random_games() -> impl Strategy<Value = Vec<Game>> {
    let game = (proptest::collection::vec(0usize..6, 0..14), 0u8..4, 0u16..3);
    proptest::collection::vec(game, 1..40).prop_map(|games| {
        let play = |choices: Vec<usize>| {
            let mut position = Chess::default();
            let mut moves = Vec::new();
            for choice in choices {
                let legal = position.legal_moves();
                let next = legal[choice * 3 % legal.len()];
                moves.push(PackedMove::pack(next).0);
                position.play_unchecked(next);
            }
            moves
        };
        games.into_iter().map(|(choices, result, channel)| (play(choices), 0, result, channel)).collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn order_batches_and_threads_do_not_show(games in random_games(), min_games in 1u32..4, cut in 0usize..40) {
        let whole = build(min_games, &[&games]);
        let (one, two) = games.split_at(cut.min(games.len()));
        let turned: Vec<Game> = two.iter().chain(one).cloned().collect();
        prop_assert_eq!(&whole, &build(min_games, &[&turned]));
        prop_assert_eq!(&whole, &build(min_games, &[two, one]));
        let alone = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        prop_assert_eq!(&whole, &alone.install(|| build(min_games, &[&games])));
    }

    #[test]
    fn kept_is_what_enough_games_meet(games in random_games(), min_games in 1u32..4) {
        let built = build(min_games, &[&games]);
        let mut met: BTreeMap<u64, BTreeSet<usize>> = BTreeMap::new();
        for (number, (moves, ..)) in games.iter().enumerate() {
            let mut position = Chess::default();
            met.entry(key_of(&position).0).or_default().insert(number);
            for &next in moves {
                position.play_unchecked(PackedMove(next).unpack(&position).unwrap());
                met.entry(key_of(&position).0).or_default().insert(number);
            }
        }
        let enough: BTreeSet<u64> = met.iter().filter(|(_, by)| by.len() >= min_games as usize).map(|(&key, _)| key).collect();
        let marked = built.keys.iter().zip(&built.flags).filter(|&(_, flags)| flags & GAMES != 0);
        let kept: BTreeSet<u64> = marked.map(|(&key, _)| key).collect();
        prop_assert!(kept.is_subset(&enough));
        prop_assert_eq!(enough.len() as u64, kept.len() as u64 + built.unreached_games);
        for count in &built.node_counts {
            let here = &met[&built.keys[count.at as usize]];
            let by_channel = here.iter().filter(|&&game| games[game].3 == count.channel).count();
            prop_assert_eq!(count.games.iter().sum::<u32>() as usize, by_channel);
        }
    }
}
