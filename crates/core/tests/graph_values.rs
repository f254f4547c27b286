//! Backing up against plain iteration, and the laws of methods.md 3.

use std::cell::Cell;

use proptest::prelude::*;
use proptest::test_runner::TestRunner;
use variorum_core::graph::{Basis, Certainty, Edges, NO_NODE, Positions, Value, Verdicts, back_up};

/// A verdict: effort, and (move, score).
type Said = Option<(u64, Vec<(u16, f64)>)>;

/// A graph with the verdicts of one voice.
#[derive(Debug, Clone)]
struct Case {
    edges: Vec<Vec<u32>>,
    /// Legal moves that are no edge.
    missing: Vec<u16>,
    white: Vec<bool>,
    /// How the rules end the game at nodes without a legal move.
    ends: Vec<u8>,
    verdicts: Vec<Said>,
}

struct Flat {
    offsets: Vec<u32>,
    targets: Vec<u32>,
    moves: Vec<u16>,
    legal: Vec<u16>,
    outcome: Vec<u8>,
}

/// The move along the `at`-th edge of a node.
fn edge_move(at: usize) -> u16 {
    at as u16 + 1
}

impl Case {
    fn outcome(&self, node: usize) -> u8 {
        if self.edges[node].is_empty() && self.missing[node] == 0 { self.ends[node] } else { 0 }
    }

    fn flat(&self) -> Flat {
        let mut flat = Flat { offsets: vec![0], targets: vec![], moves: vec![], legal: vec![], outcome: vec![] };
        for (node, targets) in self.edges.iter().enumerate() {
            flat.targets.extend(targets);
            flat.moves.extend((0..targets.len()).map(edge_move));
            flat.offsets.push(flat.targets.len() as u32);
            flat.legal.push(targets.len() as u16 + self.missing[node]);
            flat.outcome.push(self.outcome(node));
        }
        flat
    }

    fn values(&self) -> Vec<Value> {
        let flat = self.flat();
        let edges = Edges::new(&flat.offsets, &flat.targets).expect("edges");
        let positions = Positions::new(edges, &flat.moves, &flat.legal, &self.white, &flat.outcome).expect("positions");
        let (mut nodes, mut efforts, mut offsets) = (vec![], vec![], vec![0u32]);
        let (mut moves, mut scores) = (vec![], vec![]);
        for (node, verdict) in self.verdicts.iter().enumerate() {
            if let Some((effort, lines)) = verdict {
                nodes.push(node as u32);
                efforts.push(*effort);
                moves.extend(lines.iter().map(|line| line.0));
                scores.extend(lines.iter().map(|line| line.1));
                offsets.push(moves.len() as u32);
            }
        }
        let verdicts = Verdicts::new(&nodes, &efforts, &offsets, &moves, &scores).expect("verdicts");
        back_up(&positions, &edges.incoming(), &verdicts).expect("values")
    }
}

/// Graphs of up to `size` nodes, with cycles or without; few different scores and efforts, so that ties are common.
fn cases(size: usize, cycles: bool) -> impl Strategy<Value = Case> {
    let verdict = || {
        let lines = proptest::collection::btree_map(1u16..7, (0u8..11).prop_map(|tenth| f64::from(tenth) * 10.0), 1..3);
        proptest::option::of((0u64..4, lines))
    };
    (2..=size).prop_flat_map(move |count| {
        (
            proptest::collection::vec(proptest::collection::btree_set(0..count, 0..4), count),
            proptest::collection::vec(prop_oneof![2 => Just(0u16), 1 => 0u16..3], count),
            proptest::collection::vec(any::<bool>(), count),
            proptest::collection::vec(1u8..4, count),
            proptest::collection::vec(verdict(), count),
        )
            .prop_map(move |(targets, missing, white, ends, verdicts)| {
                let edges = (0..count)
                    .map(|node| {
                        let may = |&&to: &&usize| if cycles { to != node } else { to > node };
                        targets[node].iter().filter(may).map(|&to| to as u32).collect()
                    })
                    .collect();
                let mut case = Case { edges, missing, white, ends, verdicts: vec![None; count] };
                for (node, verdict) in verdicts.into_iter().enumerate() {
                    if case.outcome(node) == 0 {
                        case.verdicts[node] = verdict.map(|(effort, lines)| (effort, lines.into_iter().collect()));
                    }
                }
                case
            })
    })
}

/// Games in which only leaves have worth: no own verdict scores a move that is an edge.
fn leaf_games() -> impl Strategy<Value = Case> {
    cases(24, true).prop_map(|mut case| {
        for verdict in case.verdicts.iter_mut().flatten() {
            for (at, line) in verdict.1.iter_mut().enumerate() {
                line.0 = 100 + at as u16;
            }
        }
        case
    })
}

/// Plain iteration: start level, let each node take the best of its moves, until nothing changes. What White forces in
/// finitely many moves comes from below (nothing counts as less than level), what Black forces from above.
fn plain_iteration(case: &Case, valued: &[bool]) -> Vec<f64> {
    let sweep = |clamp: fn(f64) -> f64| {
        let mut worth = vec![50.0f64; case.edges.len()];
        loop {
            let mut next = worth.clone();
            for node in 0..case.edges.len() {
                let own = case.verdicts[node].iter().flat_map(|(_, lines)| lines.iter().map(|line| line.1));
                let children = case.edges[node].iter().filter(|&&to| valued[to as usize]).map(|&to| worth[to as usize]);
                let ended = [None, Some(100.0), Some(0.0), Some(50.0)][usize::from(case.outcome(node))];
                let offers = own.chain(children).chain(ended);
                let best = if case.white[node] { offers.reduce(f64::max) } else { offers.reduce(f64::min) };
                next[node] = best.map_or(50.0, clamp);
            }
            if next == worth {
                return worth;
            }
            worth = next;
        }
    };
    let (above, below) = (sweep(|score| score.max(50.0)), sweep(|score| score.min(50.0)));
    above.into_iter().zip(below).map(|(up, down)| if up > 50.0 { up } else { down }).collect()
}

#[test]
fn cycles_agree_with_plain_iteration_on_ten_thousand_graphs() {
    let config = ProptestConfig { cases: 10_000, failure_persistence: None, ..ProptestConfig::default() };
    let with_repetition = Cell::new(0u32);
    TestRunner::new(config)
        .run(&leaf_games(), |case| {
            let values = case.values();
            let valued: Vec<bool> = values.iter().map(|value| value.certainty == Certainty::Value).collect();
            let plain = plain_iteration(&case, &valued);
            for (node, value) in values.iter().enumerate().filter(|&(node, _)| valued[node]) {
                prop_assert_eq!(value.score, plain[node], "node {}", node);
            }
            let repeats = values.iter().any(|value| value.basis == Basis::Repetition);
            with_repetition.set(with_repetition.get() + u32::from(repeats));
            Ok(())
        })
        .unwrap();
    assert!(with_repetition.get() > 300, "too few repetitions to mean anything: {}", with_repetition.get());
}

/// Follows the deciding moves from a node; they end at its leaf, with its score and effort on the way.
fn follow(case: &Case, values: &[Value], start: usize) -> Result<(), String> {
    let mut node = start;
    for _ in 0..=case.edges.len() {
        let value = values[node];
        if value.basis == Basis::Repetition {
            return if value.leaf == NO_NODE { Ok(()) } else { Err("a repetition names a leaf".into()) };
        }
        if value.leaf as usize == node {
            return Ok(());
        }
        let child = case.edges[node][usize::from(value.via) - 1] as usize;
        let known = values[child];
        if (known.score, known.effort, known.leaf) != (value.score, value.effort, value.leaf) {
            return Err(format!("node {node} and its deciding child {child} differ: {value:?} {known:?}"));
        }
        node = child;
    }
    Err(format!("the deciding moves of {start} go round"))
}

fn same(one: &Value, other: &Value) -> bool {
    one == other || one.score.is_nan() && other.score.is_nan() && one.certainty == other.certainty
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn deciding_moves_lead_to_the_deciding_leaf(case in cases(20, true)) {
        let values = case.values();
        for (node, value) in values.iter().enumerate() {
            if value.certainty != Certainty::Unknown {
                prop_assert_eq!(follow(&case, &values, node), Ok(()));
            }
        }
    }

    #[test]
    fn bounds_decide_no_parent(case in cases(20, true)) {
        let values = case.values();
        for (node, value) in values.iter().enumerate() {
            let children = case.edges[node].iter().map(|&to| values[to as usize]);
            let known = children.filter(|child| child.certainty == Certainty::Value).map(|child| child.score);
            let best = if case.white[node] { known.reduce(f64::max) } else { known.reduce(f64::min) };
            match value.certainty {
                Certainty::Unknown => prop_assert!(best.is_none() && value.leaf == NO_NODE),
                Certainty::Bound => prop_assert_eq!(Some(value.score), best),
                Certainty::Value if value.leaf != NO_NODE => {
                    prop_assert_eq!(values[value.leaf as usize].certainty, Certainty::Value);
                }
                Certainty::Value => {}
            }
        }
        // Without the nodes that have only bounds, nothing that has a value changes.
        let mut without = case.clone();
        for (node, value) in values.iter().enumerate() {
            if value.certainty == Certainty::Bound {
                without.missing[node] += without.edges[node].len() as u16;
                without.edges[node].clear();
            }
        }
        for (before, after) in values.iter().zip(without.values()) {
            prop_assert!(before.certainty != Certainty::Value || *before == after);
        }
    }

    #[test]
    fn numbering_does_not_matter(case in cases(16, true), seed in any::<u64>()) {
        let count = case.edges.len();
        let mut to_new: Vec<usize> = (0..count).collect();
        to_new.sort_by_key(|&node| (node as u64 + 1).wrapping_mul(seed | 1).rotate_left(23));
        let mut moved = case.clone();
        for node in 0..count {
            let new = to_new[node];
            moved.edges[new] = case.edges[node].iter().map(|&to| to_new[to as usize] as u32).collect();
            moved.missing[new] = case.missing[node];
            moved.white[new] = case.white[node];
            moved.ends[new] = case.ends[node];
            moved.verdicts[new] = case.verdicts[node].clone();
        }
        let (before, after) = (case.values(), moved.values());
        for node in 0..count {
            let mut expected = before[node];
            if expected.leaf != NO_NODE {
                expected.leaf = to_new[expected.leaf as usize] as u32;
            }
            let found = after[to_new[node]];
            prop_assert!(same(&expected, &found), "{:?} {:?}", expected, found);
        }
    }

    #[test]
    fn a_change_of_colours_mirrors_every_value(case in cases(16, true)) {
        let mut swapped = case.clone();
        swapped.white.iter_mut().for_each(|white| *white = !*white);
        swapped.ends.iter_mut().for_each(|end| *end = [0, 2, 1, 3][usize::from(*end)]);
        for verdict in swapped.verdicts.iter_mut().flatten() {
            verdict.1.iter_mut().for_each(|line| line.1 = 100.0 - line.1);
        }
        for (value, mut mirrored) in case.values().into_iter().zip(swapped.values()) {
            mirrored.score = 100.0 - mirrored.score;
            prop_assert!(same(&value, &mirrored), "{:?} {:?}", value, mirrored);
        }
    }
}

/// Backing up without cycles, straight from the definition: score, effort and leaf.
fn by_definition(case: &Case, node: usize) -> Option<(f64, u64, u32)> {
    let ended = [None, Some(100.0), Some(0.0), Some(50.0)][usize::from(case.outcome(node))];
    if let Some(score) = ended {
        return Some((score, u64::MAX, node as u32));
    }
    let (own_effort, own_lines) = case.verdicts[node].clone().unwrap_or_default();
    let own_score = |played: u16| own_lines.iter().find(|line| line.0 == played).map(|line| line.1);
    let mut offers: Vec<(f64, u64, u16, u32)> = Vec::new();
    let mut complete = case.missing[node] == 0;
    for (at, &child) in case.edges[node].iter().enumerate() {
        let played = edge_move(at);
        match (by_definition(case, child as usize), own_score(played)) {
            (Some((_, effort, _)), Some(score)) if own_effort > effort => {
                offers.push((score, own_effort, played, node as u32));
            }
            (Some((score, effort, leaf)), _) => offers.push((score, effort, played, leaf)),
            (None, Some(score)) => offers.push((score, own_effort, played, node as u32)),
            (None, None) => complete = false,
        }
    }
    let off_graph = own_lines.iter().filter(|line| usize::from(line.0) > case.edges[node].len());
    offers.extend(off_graph.map(|&(played, score)| (score, own_effort, played, node as u32)));
    if case.verdicts[node].is_none() && !complete {
        return None;
    }
    let sign = if case.white[node] { 1.0 } else { -1.0 };
    offers.sort_by(|a, b| (sign * b.0).total_cmp(&(sign * a.0)).then(b.1.cmp(&a.1)).then(a.2.cmp(&b.2)));
    offers.first().map(|&(score, effort, _, leaf)| (score, effort, leaf))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn without_cycles_the_definition_is_met(case in cases(12, false)) {
        for (node, value) in case.values().into_iter().enumerate() {
            let found = (value.certainty == Certainty::Value).then_some((value.score, value.effort, value.leaf));
            prop_assert_eq!(found, by_definition(&case, node), "node {}", node);
        }
    }
}

/// White is to move at even nodes.
fn worked(edges: &[&[u32]], missing: &[u16], verdicts: Vec<Said>) -> Vec<Value> {
    let count = edges.len();
    Case {
        edges: edges.iter().map(|to| to.to_vec()).collect(),
        missing: missing.to_vec(),
        white: (0..count).map(|node| node % 2 == 0).collect(),
        ends: vec![3; count],
        verdicts,
    }
    .values()
}

#[test]
fn an_own_verdict_outranks_a_child_only_at_greater_effort() {
    // 0 (White) leads to 1, which has 40 at effort 5; the verdict on 0 scores that move at 60.
    let at =
        |effort| worked(&[&[1], &[]], &[3, 3], vec![Some((effort, vec![(1, 60.0)])), Some((5, vec![(9, 40.0)]))])[0];
    assert_eq!((at(6).score, at(6).leaf, at(6).effort), (60.0, 0, 6));
    assert_eq!((at(5).score, at(5).leaf, at(5).effort), (40.0, 1, 5));
}

#[test]
fn a_forced_repetition_is_level_and_rests_on_no_leaf() {
    // 0 and 1 have no moves but to each other; 2 may join them, or take 30 elsewhere.
    let values = worked(&[&[1], &[0], &[1]], &[0, 0, 2], vec![None, None, Some((3, vec![(8, 30.0)]))]);
    assert_eq!((values[0].score, values[0].basis, values[0].leaf), (50.0, Basis::Repetition, NO_NODE));
    assert_eq!((values[2].score, values[2].basis, values[2].via), (50.0, Basis::Repetition, 1));
}

#[test]
fn a_side_that_stands_better_leaves_the_cycle() {
    // White at 0 may leave for 70, Black at 1 for 60: each does.
    let verdicts = vec![Some((3, vec![(8, 70.0)])), Some((3, vec![(8, 60.0)]))];
    let values = worked(&[&[1], &[0]], &[2, 2], verdicts);
    assert_eq!((values[0].score, values[0].leaf), (70.0, 0));
    assert_eq!((values[1].score, values[1].leaf), (60.0, 1));
}

#[test]
fn on_a_cycle_own_scores_that_outrank_what_comes_out_are_put_in() {
    // Both lead only to each other; each has a verdict on that move. By children alone it is a repetition, which no leaf
    // supports, so both own scores outrank it.
    let verdicts = vec![Some((9, vec![(1, 60.0)])), Some((4, vec![(1, 58.0)]))];
    let values = worked(&[&[1], &[0]], &[2, 2], verdicts);
    assert_eq!((values[0].score, values[0].leaf, values[0].effort), (60.0, 0, 9));
    assert_eq!((values[1].score, values[1].leaf, values[1].effort), (58.0, 1, 4));
}

#[test]
fn columns_that_cannot_be_are_refused() {
    let edges = Edges::new(&[0, 1, 1], &[1]).expect("edges");
    let refusal = |moves: &[u16], legal: &[u16], outcome: &[u8]| {
        Positions::new(edges, moves, legal, &[true, false], outcome).err().map(|fault| fault.to_string())
    };
    assert_eq!(refusal(&[5], &[1, 3], &[0, 0]), None);
    assert!(refusal(&[], &[1, 3], &[0, 0]).expect("refused").contains("one move for each edge"));
    assert!(refusal(&[5], &[0, 3], &[0, 0]).expect("refused").contains("more edges than legal moves"));
    assert!(refusal(&[5], &[1, 0], &[0, 0]).expect("refused").contains("no legal move and no outcome"));
    assert!(refusal(&[5], &[1, 3], &[3, 0]).expect("refused").contains("ends the game"));
    assert!(
        Edges::new(&[0, 1], &[1]).is_err() && Edges::new(&[], &[]).is_err() && Edges::new(&[0, 2, 1], &[0]).is_err()
    );
    let refused = |score: f64| Verdicts::new(&[0], &[1], &[0, 1], &[5], &[score]).is_err();
    assert!(refused(f64::NAN) && refused(100.5) && refused(-1.0) && !refused(0.0) && !refused(100.0));
}
