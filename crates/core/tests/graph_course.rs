//! Flow, orders, basins, components: laws, each against a slow way that follows the definition.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use variorum_core::graph::{Course, Edges, NO_NODE, components};

type Adjacency = Vec<Vec<u32>>;

fn columns(adjacency: &Adjacency) -> (Vec<u32>, Vec<u32>) {
    let mut offsets = vec![0u32];
    let mut targets = Vec::new();
    for to in adjacency {
        targets.extend(to);
        offsets.push(targets.len() as u32);
    }
    (offsets, targets)
}

/// A graph of up to `size` nodes, and one or two roots.
fn graphs(size: usize) -> impl Strategy<Value = (Adjacency, Vec<u32>)> {
    (2..=size).prop_flat_map(|count| {
        let targets = proptest::collection::btree_set(0..count as u32, 0..4);
        let roots = proptest::collection::btree_set(0..count as u32, 1..3);
        (proptest::collection::vec(targets, count), roots).prop_map(|(targets, roots)| {
            let others = |(node, to): (u32, BTreeSet<u32>)| to.into_iter().filter(|&to| to != node).collect();
            ((0u32..).zip(targets).map(others).collect(), roots.into_iter().collect())
        })
    })
}

fn reaches(adjacency: &Adjacency, from: u32) -> BTreeSet<u32> {
    let mut met = BTreeSet::from([from]);
    let mut open = vec![from];
    while let Some(node) = open.pop() {
        open.extend(adjacency[node as usize].iter().filter(|&&to| met.insert(to)));
    }
    met
}

/// Every way from one of `starts` to `target` along edges that do not return, as edges.
fn every_order(edges: Edges<'_>, course: &Course, starts: &[u32], target: u32) -> Vec<Vec<u32>> {
    let mut found = Vec::new();
    let mut open: Vec<(u32, Vec<u32>)> = starts.iter().map(|&start| (start, Vec::new())).collect();
    while let Some((node, way)) = open.pop() {
        if node == target {
            found.push(way.clone());
        }
        for edge in edges.of(node).filter(|&edge| !course.returns[edge]) {
            let longer = way.iter().copied().chain([edge as u32]).collect();
            open.push((edges.target(edge), longer));
        }
    }
    found.sort();
    found
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_comes_in_goes_out((adjacency, roots) in graphs(18), weights in proptest::collection::vec(0.0f64..1.0, 80)) {
        let (offsets, targets) = columns(&adjacency);
        let edges = Edges::new(&offsets, &targets).unwrap();
        let course = Course::new(edges, &roots).unwrap();
        let mut starts = vec![0.0; adjacency.len()];
        for &root in &roots {
            starts[root as usize] = 1.0 / roots.len() as f64;
        }
        // The shares of a node and what ends there make one.
        let mut shares = vec![0.0; targets.len()];
        for node in 0..adjacency.len() as u32 {
            let weight = |edge: usize| weights[edge % 80] + 0.01;
            let total = edges.of(node).map(weight).sum::<f64>() + weights[node as usize * 7 % 80];
            for edge in edges.of(node) {
                shares[edge] = weight(edge) / total;
            }
        }
        let flow = course.flow(edges, &starts, &shares).unwrap();
        let mut ended = 0.0;
        for node in 0..adjacency.len() as u32 {
            let arrives = |&edge: &usize| targets[edge] == node && !course.returns[edge];
            let arrived: f64 = (0..targets.len()).filter(arrives).map(|edge| flow.edges[edge]).sum();
            let passes = flow.nodes[node as usize];
            prop_assert!((passes - arrived - starts[node as usize]).abs() < 1e-12);
            prop_assert!((0.0..=1.0 + 1e-12).contains(&passes));
            ended += passes - edges.of(node).map(|edge| flow.edges[edge]).sum::<f64>();
        }
        let returned: f64 = (0..targets.len()).filter(|&edge| course.returns[edge]).map(|edge| flow.edges[edge]).sum();
        prop_assert!((ended + returned - 1.0).abs() < 1e-9, "all that starts ends: {}", ended + returned);
    }

    #[test]
    fn only_moves_on_cycles_return((adjacency, roots) in graphs(18)) {
        let (offsets, targets) = columns(&adjacency);
        let edges = Edges::new(&offsets, &targets).unwrap();
        let course = Course::new(edges, &roots).unwrap();
        let place: BTreeMap<u32, usize> = course.order.iter().copied().zip(0..).collect();
        for node in 0..adjacency.len() as u32 {
            let met = roots.iter().any(|&root| reaches(&adjacency, root).contains(&node));
            prop_assert_eq!(met, course.depth[node as usize] != NO_NODE);
            for edge in edges.of(node) {
                let to = edges.target(edge);
                if course.returns[edge] {
                    prop_assert!(reaches(&adjacency, to).contains(&node));
                } else if met {
                    prop_assert!(place[&node] < place[&to], "what is left has no cycle");
                }
            }
        }
    }

    #[test]
    fn components_and_basins_are_what_can_be_reached((adjacency, _) in graphs(14)) {
        let (offsets, targets) = columns(&adjacency);
        let edges = Edges::new(&offsets, &targets).unwrap();
        let found = components(edges, |_| true);
        let incoming = edges.incoming();
        for node in 0..adjacency.len() as u32 {
            let ahead = reaches(&adjacency, node);
            for other in 0..adjacency.len() as u32 {
                let together = ahead.contains(&other) && reaches(&adjacency, other).contains(&node);
                prop_assert_eq!(found.of[node as usize] == found.of[other as usize], together);
                prop_assert!(!ahead.contains(&other) || found.of[other as usize] <= found.of[node as usize]);
                prop_assert_eq!(incoming.basin(other).binary_search(&node).is_ok(), ahead.contains(&other));
            }
        }
    }

    #[test]
    fn orders_are_all_orders((adjacency, roots) in graphs(9), weights in proptest::collection::vec(1u8..9, 40)) {
        let (offsets, targets) = columns(&adjacency);
        let edges = Edges::new(&offsets, &targets).unwrap();
        let course = Course::new(edges, &roots).unwrap();
        let start = |node: usize| if roots.contains(&(node as u32)) { 0.5 } else { 0.0 };
        let starts: Vec<f64> = (0..adjacency.len()).map(start).collect();
        let shares: Vec<f64> = (0..targets.len()).map(|edge| f64::from(weights[edge % 40]) / 10.0).collect();
        let source = |edge: u32| (0..adjacency.len() as u32).find(|&node| edges.of(node).contains(&(edge as usize))).unwrap();
        let (counts, shared) = (course.order_counts(), course.last_shared());
        for target in 0..adjacency.len() as u32 {
            let all = every_order(edges, &course, &roots, target);
            let (found, count) = course.orders_to(target, NO_NODE, &starts, &shares, usize::MAX).unwrap();
            prop_assert_eq!(counts[target as usize], all.len() as u64);
            prop_assert_eq!(count, all.len() as u64);
            prop_assert!(found.is_sorted_by(|one, next| one.weight >= next.weight));
            for order in &found {
                let weight = order.edges.iter().map(|&edge| shares[edge as usize]).product::<f64>() * 0.5;
                prop_assert!((order.weight - weight).abs() < 1e-12);
                prop_assert_eq!(order.start, order.edges.first().map_or(target, |&edge| source(edge)));
            }
            let listed: BTreeSet<&Vec<u32>> = found.iter().map(|order| &order.edges).collect();
            prop_assert_eq!(listed, all.iter().collect());
            let (few, _) = course.orders_to(target, NO_NODE, &starts, &shares, 2).unwrap();
            prop_assert_eq!(few.as_slice(), &found[..found.len().min(2)]);

            // What all orders share, and the last of it.
            let passed = |order: &Vec<u32>| order.iter().map(|&edge| source(edge)).collect::<BTreeSet<u32>>();
            let common = all.iter().map(passed).reduce(|one, next| &one & &next).unwrap_or_default();
            let since = shared[target as usize];
            if since == NO_NODE {
                prop_assert!(common.is_empty());
                continue;
            }
            let place = |node: u32| course.order.iter().position(|&other| other == node);
            prop_assert_eq!(common.iter().copied().max_by_key(|&node| place(node)), Some(since));
            let (parts, count) = course.orders_to(target, since, &starts, &shares, usize::MAX).unwrap();
            prop_assert_eq!(count * counts[since as usize], all.len() as u64);
            let listed: BTreeSet<Vec<u32>> = parts.into_iter().map(|order| order.edges).collect();
            prop_assert_eq!(listed, every_order(edges, &course, &[since], target).into_iter().collect());
        }
    }
}

#[test]
fn orders_beyond_all_counting_are_a_full_counter() {
    // 70 diamonds, one after the other: 2^70 orders.
    let mut adjacency: Adjacency = Vec::new();
    for top in (0u32..).step_by(3).take(70) {
        adjacency.extend([vec![top + 1, top + 2], vec![top + 3], vec![top + 3]]);
    }
    adjacency.push(vec![]);
    let (offsets, targets) = columns(&adjacency);
    let edges = Edges::new(&offsets, &targets).unwrap();
    let course = Course::new(edges, &[0]).unwrap();
    assert_eq!(course.order_counts()[210], u64::MAX);
    assert_eq!(course.order_counts()[9], 8);
    assert_eq!(course.last_shared()[210], 207);
    let shares = vec![0.5; targets.len()];
    let mut starts = vec![0.0; adjacency.len()];
    starts[0] = 1.0;
    let (orders, count) = course.orders_to(210, NO_NODE, &starts, &shares, 3).unwrap();
    assert_eq!((orders.len(), count), (3, u64::MAX));
    assert!(orders.iter().all(|order| order.edges.len() == 140));
}
