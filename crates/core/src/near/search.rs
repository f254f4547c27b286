//! The search over all pairs, and among the pairs of one node.

use std::collections::HashMap;
use std::ops::ControlFlow;

use rayon::prelude::*;

use super::placement::{NONE, Unit, mirrored};
use super::{Difference, Setting, difference};

/// Entries of the file held at once, 12 bytes each.
const ENTRIES: usize = 24 << 20;
/// Drawers of one part of the file: what is in one of them is sorted within the processor's own memory.
const DRAWERS: usize = 1024;
/// Pairs kept of each group.
const SHOWN: usize = 3;

/// Two nodes and what is between them. In a twin the second has its colours reversed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// The first node, of the lesser number.
    pub here: u32,
    /// The other.
    pub there: u32,
    /// How interesting it is.
    pub interest: f64,
}

/// Pairs that differ in the same units on the same squares; those that differ in none have their pawns in common.
#[derive(Debug, Clone)]
pub struct Group {
    /// Whether the second of each pair has its colours reversed.
    pub twin: bool,
    /// In what they differ, one way round.
    pub difference: Difference,
    /// How many pairs.
    pub count: u64,
    /// The most interesting ones, three at most.
    pub pairs: Vec<Pair>,
}

/// What was found: the groups, the most interesting first, and how many pairs and groups there are in all.
#[derive(Debug, Default)]
pub struct Pairs {
    /// The groups asked for.
    pub groups: Vec<Group>,
    /// All near pairs that count.
    pub near: u64,
    /// All reversed twins that count.
    pub twins: u64,
    /// All groups.
    pub all_groups: u64,
}

/// The search was told to stop.
#[derive(Debug, PartialEq, Eq)]
pub struct NearFault;

/// One position under one of its remainders. `key` is a part of the remainder's hash, of which the drawer is another: where
/// two remainders have both in common, what the positions differ in tells. `taken` holds the units taken off, and which
/// way round the remainder is filed: 0 as it stands, 1 with colours reversed, 2 where both are one.
#[derive(Debug, Clone, Copy)]
struct Entry {
    key: u32,
    node: u32,
    taken: [Unit; 2],
}

const TURNED: u32 = 10;

impl Entry {
    fn units(&self) -> [Unit; 2] {
        [self.taken[0] & NONE, self.taken[1]]
    }

    fn turned(&self) -> u16 {
        self.taken[0] >> TURNED
    }
}

/// Finds all pairs that count and gives the `limit` most interesting groups. `tell` hears the parts done and how many
/// there are, and may stop the search.
///
/// # Errors
///
/// `tell` stopped it.
pub fn find_pairs(
    setting: &Setting<'_>,
    limit: usize,
    tell: &mut dyn FnMut(usize, usize) -> ControlFlow<()>,
) -> Result<Pairs, NearFault> {
    let entries: usize = setting.placements.iter().map(|placement| remainders(placement.units().count())).sum();
    let parts = entries.div_ceil(ENTRIES).max(1);
    let mut groups = Groups::new();
    for part in 0..parts {
        if tell(part, parts).is_break() {
            return Err(NearFault);
        }
        for (key, group) in pairs_in(setting, &filed(setting, part, parts)) {
            merge(&mut groups, key, group);
        }
    }
    let _ = tell(parts, parts);
    Ok(ranked(groups.into_values().collect(), limit))
}

fn remainders(units: usize) -> usize {
    1 + units + units * units.saturating_sub(1) / 2
}

/// Group, pairs and groups by how interesting their best pair is; equals by number.
fn ranked(mut groups: Vec<Group>, limit: usize) -> Pairs {
    let count = |twin| groups.iter().filter(|group| group.twin == twin).map(|group| group.count).sum();
    let (near, twins, all_groups) = (count(false), count(true), groups.len() as u64);
    groups.sort_unstable_by(|one, other| {
        order(&one.pairs[0], &other.pairs[0])
            .then(one.twin.cmp(&other.twin))
            .then(one.difference.cmp(&other.difference))
    });
    groups.truncate(limit);
    Pairs { groups, near, twins, all_groups }
}

fn order(one: &Pair, other: &Pair) -> std::cmp::Ordering {
    other.interest.total_cmp(&one.interest).then(one.here.cmp(&other.here)).then(one.there.cmp(&other.there))
}

/// Every remainder of every position whose hash belongs to this part, in drawers; some drawers for each of several
/// shares of the nodes.
fn filed(setting: &Setting<'_>, part: usize, parts: usize) -> Vec<Vec<Vec<Entry>>> {
    let numbers = Numbers::new();
    let (nodes, shares) = (setting.placements.len(), rayon::current_num_threads());
    (0..shares)
        .into_par_iter()
        .map(|share| {
            let mut file = File::new(part, parts);
            for node in nodes * share / shares..nodes * (share + 1) / shares {
                file.add(setting, &numbers, node as u32);
            }
            file.drawers
        })
        .collect()
}

/// The drawers of one part of all.
struct File {
    first: u64,
    all: u64,
    drawers: Vec<Vec<Entry>>,
}

impl File {
    fn new(part: usize, parts: usize) -> File {
        File { first: (part * DRAWERS) as u64, all: (parts * DRAWERS) as u64, drawers: vec![Vec::new(); DRAWERS] }
    }

    /// Files a node under those of its remainders that have a drawer here.
    fn add(&mut self, setting: &Setting<'_>, numbers: &Numbers, node: u32) {
        let mut units = [(0, 0, 0); 64];
        let mut count = 0;
        let (mut whole, mut turned) = (0, 0);
        for unit in setting.placements[node as usize].units() {
            units[count] = (unit, numbers.of(unit), numbers.of(mirrored(unit)));
            whole ^= units[count].1;
            turned ^= units[count].2;
            count += 1;
        }
        self.add_remainder(node, whole, turned, [NONE, NONE]);
        for (index, &(first, own, reversed)) in units[..count].iter().enumerate() {
            let (own, reversed) = (whole ^ own, turned ^ reversed);
            self.add_remainder(node, own, reversed, [first, NONE]);
            for &(second, further, back) in &units[index + 1..count] {
                self.add_remainder(node, own ^ further, reversed ^ back, [first, second]);
            }
        }
    }

    /// `own` is the remainder's hash as it stands, `reversed` with colours reversed.
    #[inline]
    fn add_remainder(&mut self, node: u32, own: u64, reversed: u64, taken: [Unit; 2]) {
        let key = own.min(reversed).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        let drawer = ((key >> 32) * self.all) >> 32;
        if let Some(drawer) = self.drawers.get_mut(drawer.wrapping_sub(self.first) as usize) {
            let side = match own.cmp(&reversed) {
                std::cmp::Ordering::Less => 0,
                std::cmp::Ordering::Greater => 1,
                std::cmp::Ordering::Equal => 2,
            };
            drawer.push(Entry { key: key as u32, node, taken: [taken[0] | side << TURNED, taken[1]] });
        }
    }
}

/// A random number for each unit on each square: of no meaning outside one search.
struct Numbers([u64; 1024]);

impl Numbers {
    fn new() -> Numbers {
        let mut state = 0u64;
        Numbers(std::array::from_fn(|_| {
            // splitmix64 (Steele, Lea and Flood 2014)
            state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut mixed = state;
            mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            mixed ^ (mixed >> 31)
        }))
    }

    fn of(&self, unit: Unit) -> u64 {
        self.0[usize::from(unit & NONE)]
    }
}

/// What the pairs of a group have in common: twins or not, in what they differ, and where nothing does, the pawns.
type Common = (bool, Difference, (u64, u64));
type Groups = HashMap<Common, Group>;

/// The pairs that share a remainder in one of the drawers.
fn pairs_in(setting: &Setting<'_>, shares: &[Vec<Vec<Entry>>]) -> Groups {
    (0..DRAWERS)
        .into_par_iter()
        .fold(Groups::new, |mut groups, number| {
            let mut drawer: Vec<Entry> = shares.iter().flat_map(|drawers| &drawers[number]).copied().collect();
            drawer.sort_unstable_by_key(|entry| entry.key);
            for same in drawer.chunk_by_mut(|one, other| one.key == other.key) {
                same.sort_unstable_by_key(|entry| entry.node);
                for (index, one) in same.iter().enumerate() {
                    for other in &same[index + 1..] {
                        candidate(setting, one, other, &mut groups);
                    }
                }
            }
            groups
        })
        .reduce(Groups::new, |mut one, other| {
            for (key, group) in other {
                merge(&mut one, key, group);
            }
            one
        })
}

/// Takes a pair that shares a remainder, once: where what was taken off is just what differs.
fn candidate(setting: &Setting<'_>, one: &Entry, other: &Entry, groups: &mut Groups) {
    let (first, second) = (one.units(), other.units());
    if one.node == other.node {
        return;
    }
    for twin in [false, true] {
        let alike = one.turned() == other.turned();
        if (one.turned() != 2 || other.turned() != 2) && alike == twin {
            continue;
        }
        let theirs = if twin { sorted(second.map(mirrored)) } else { second };
        if first.iter().any(|unit| *unit != NONE && theirs.contains(unit)) {
            continue;
        }
        let Some(found) = between(setting, one.node, other.node, twin) else { continue };
        if found.here == first && found.there == theirs {
            take(setting, one.node, other.node, twin, found, groups);
        }
    }
}

fn sorted(mut units: [Unit; 2]) -> [Unit; 2] {
    units.sort_unstable();
    units
}

/// How two nodes differ, the second with colours reversed for a twin.
fn between(setting: &Setting<'_>, one: u32, other: u32, twin: bool) -> Option<Difference> {
    let (here, there) = (&setting.placements[one as usize], &setting.placements[other as usize]);
    if twin { difference(here, &there.mirrored()) } else { difference(here, there) }
}

/// Whether a pair counts. Twins that are wholly alike always do: they are no siblings.
fn counts(setting: &Setting<'_>, one: u32, other: u32, twin: bool, found: &Difference) -> bool {
    (twin && found.units == 0) || setting.apart(one, other)
}

fn take(setting: &Setting<'_>, one: u32, other: u32, twin: bool, found: Difference, groups: &mut Groups) {
    if !counts(setting, one, other, twin, &found) {
        return;
    }
    let interest = setting.interest(one, other, found.units, twin);
    let pair = Pair { here: one.min(other), there: one.max(other), interest };
    let pawns = if found.units == 0 { setting.placements[one as usize].pawns(twin) } else { (0, 0) };
    let key = (twin, one_way(found, twin), pawns);
    let group = Group { twin, difference: key.1, count: 1, pairs: vec![pair] };
    merge(groups, key, group);
}

/// The same difference seen from either of the pair.
fn one_way(found: Difference, twin: bool) -> Difference {
    let turn = |units: [Unit; 2]| if twin { sorted(units.map(mirrored)) } else { units };
    let other = Difference { here: turn(found.there), there: turn(found.here), units: found.units };
    found.min(other)
}

fn merge(groups: &mut Groups, key: Common, group: Group) {
    let known = groups.entry(key).or_insert_with(|| Group { count: 0, pairs: Vec::new(), ..group });
    known.count += group.count;
    known.pairs.extend_from_slice(&group.pairs);
    known.pairs.sort_unstable_by(order);
    known.pairs.truncate(SHOWN);
}

/// The pairs of one node, each in a group of its own, the most interesting first.
#[must_use]
pub fn pairs_of(setting: &Setting<'_>, node: u32, limit: usize) -> Pairs {
    let found = (0..setting.placements.len() as u32)
        .into_par_iter()
        .filter(|&other| other != node)
        .flat_map_iter(|other| {
            [false, true].into_iter().filter_map(move |twin| {
                let found = between(setting, node, other, twin)?;
                counts(setting, node, other, twin, &found).then(|| {
                    let interest = setting.interest(node, other, found.units, twin);
                    let pairs = vec![Pair { here: node, there: other, interest }];
                    Group { twin, difference: found, count: 1, pairs }
                })
            })
        })
        .collect();
    ranked(found, limit)
}
