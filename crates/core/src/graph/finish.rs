//! From positions and what is played in them to the columns of the graph.

use rayon::prelude::*;
use shakmaty::{Chess, Color, KnownOutcome, Outcome, Position};

use super::NO_NODE;
use super::build::{BuildFault, ELSEWHERE, GAMES, Mark, Played, ROOT};
use super::positions::{KeyMap, Packed, PositionTable, pack, unpack};
use crate::key::{PositionKey, key_of};
use crate::moves::PackedMove;

/// Counts of one channel at one place, by result: unknown, White won, Black won, drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Count<P> {
    /// A node, an edge, or a node and a move.
    pub at: P,
    /// The channel.
    pub channel: u16,
    /// By result.
    pub games: [u32; 4],
}

/// A graph as columns. Nodes are sorted by depth (least plies from a root or from where a text starts), then by key.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub struct Built {
    /// Key of each node.
    pub keys: Vec<u64>,
    /// Packed position of each node.
    pub positions: Vec<Packed>,
    /// Why each node is here: the bits of `build`.
    pub flags: Vec<u8>,
    /// Legal moves of each node.
    pub legal: Vec<u16>,
    /// Whether White is to move.
    pub white: Vec<bool>,
    /// How the rules end the game: 0 not, 1 White has won, 2 Black, 3 drawn.
    pub outcome: Vec<u8>,
    /// Edges of each node.
    pub offsets: Vec<u32>,
    /// Node that each edge leads to.
    pub targets: Vec<u32>,
    /// Packed move of each edge, ascending within a node.
    pub moves: Vec<u16>,
    /// Games and lines that pass a node, each once.
    pub node_counts: Vec<Count<u32>>,
    /// Games and lines that take an edge, each once.
    pub edge_counts: Vec<Count<u32>>,
    /// Games and lines that leave the graph, by node and move.
    pub off_counts: Vec<Count<(u32, u16)>>,
    /// The roots, in the order given.
    pub roots: Vec<u32>,
    /// Where texts start that pass no root.
    pub elsewhere: Vec<u32>,
    /// Positions met often enough that no order on the graph leads to.
    pub unreached_games: u64,
    /// Positions with a verdict that no order on the graph leads to.
    pub unreached_verdicts: u64,
}

struct Place {
    key: u64,
    packed: Packed,
    flags: u8,
    legal: u16,
    white: bool,
    outcome: u8,
    /// Move and place it leads to, by move.
    moves: Vec<(u16, u32)>,
}

pub(super) fn finish(
    played: &[Played],
    table: &PositionTable,
    mut flags: KeyMap<u8>,
    roots: &[u64],
    elsewhere: &[u64],
    min_games: u32,
) -> Result<Built, BuildFault> {
    for rows in played.chunk_by(|one, next| one.key == next.key) {
        let games: u32 = rows.iter().filter(|row| !row.mark.is_text() && !row.mark.again()).map(|row| row.count).sum();
        if games > 0 && games >= min_games {
            *flags.entry(rows[0].key).or_default() |= GAMES;
        }
    }
    let mut places = places(&flags, table)?;
    let number = renumber(&mut places);
    let node = |key: &u64| number.get(key).copied().unwrap_or(NO_NODE);
    let mut built = Built {
        roots: roots.iter().map(node).collect(),
        elsewhere: elsewhere.iter().map(node).collect(),
        ..Built::default()
    };
    for (key, flags) in &flags {
        if !number.contains_key(key) {
            built.unreached_games += u64::from(flags & GAMES != 0);
            built.unreached_verdicts += u64::from(flags & GAMES == 0);
        }
    }
    built.offsets.push(0);
    for place in &places {
        built.keys.push(place.key);
        built.positions.push(place.packed);
        built.flags.push(place.flags);
        built.legal.push(place.legal);
        built.white.push(place.white);
        built.outcome.push(place.outcome);
        for &(played, target) in &place.moves {
            built.moves.push(played);
            built.targets.push(target);
        }
        built.offsets.push(built.targets.len() as u32);
    }
    // By node, not by key: counts are columns in the order of what they count.
    let mut order: Vec<(u32, &[Played])> = played
        .chunk_by(|one, next| one.key == next.key)
        .map(|rows| (node(&rows[0].key), rows))
        .filter(|&(node, _)| node != NO_NODE)
        .collect();
    order.sort_unstable_by_key(|&(node, _)| node);
    for (node, rows) in order {
        count(&mut built, node, rows);
    }
    Ok(built)
}

fn count(built: &mut Built, node: u32, rows: &[Played]) {
    let mut here: Vec<(Mark, u32)> =
        rows.iter().filter(|row| !row.mark.again()).map(|row| (row.mark, row.count)).collect();
    here.sort_unstable_by_key(|&(mark, _)| mark);
    for by_channel in here.chunk_by(|one, next| one.0.channel() == next.0.channel()) {
        let mut games = [0; 4];
        for &(mark, count) in by_channel {
            games[mark.result()] += count;
        }
        built.node_counts.push(Count { at: node, channel: by_channel[0].0.channel(), games });
    }
    let first = built.offsets[node as usize] as usize;
    let own = first..built.offsets[node as usize + 1] as usize;
    for by_move in rows.chunk_by(|one, next| one.played == next.played && one.mark.channel() == next.mark.channel()) {
        let Played { played, mark, .. } = by_move[0];
        if played == PackedMove::NULL.0 {
            continue;
        }
        let mut games = [0; 4];
        for row in by_move {
            games[row.mark.result()] += row.count;
        }
        let channel = mark.channel();
        match built.moves[own.clone()].binary_search(&played) {
            Ok(at) => built.edge_counts.push(Count { at: (first + at) as u32, channel, games }),
            Err(_) => built.off_counts.push(Count { at: (node, played), channel, games }),
        }
    }
}

/// The kept positions by key, with their legal moves to one another.
fn places(flags: &KeyMap<u8>, table: &PositionTable) -> Result<Vec<Place>, BuildFault> {
    let mut kept: Vec<(u64, u8)> = flags.iter().map(|(&key, &flags)| (key, flags)).collect();
    kept.par_sort_unstable();
    let index: KeyMap<u32> = kept.iter().map(|&(key, _)| key).zip(0..).collect();
    kept.into_par_iter()
        .with_min_len(64)
        .map(|(key, flags)| {
            let packed = *table.get(PositionKey(key)).expect("a kept position is in the table");
            let position = unpack(&packed).expect("a packed position can be unpacked");
            let legal = position.legal_moves();
            let outcome = outcome(&position);
            let mut moves = Vec::new();
            for &played in legal.iter().filter(|_| outcome == 0) {
                let mut after = position.clone();
                after.play_unchecked(played);
                let after_key = key_of(&after);
                if let Some(&target) = index.get(&after_key.0) {
                    table.holds(after_key, &pack(&after))?;
                    moves.push((PackedMove::pack(played).0, target));
                }
            }
            moves.sort_unstable();
            let (legal, white) = (legal.len() as u16, position.turn() == Color::White);
            Ok(Place { key, packed, flags, legal, white, outcome, moves })
        })
        .collect()
}

fn outcome(position: &Chess) -> u8 {
    match position.outcome() {
        Outcome::Unknown => 0,
        Outcome::Known(KnownOutcome::Decisive { winner: Color::White }) => 1,
        Outcome::Known(KnownOutcome::Decisive { winner: Color::Black }) => 2,
        Outcome::Known(KnownOutcome::Draw) => 3,
    }
}

/// Sorts places by depth and key and leaves out those that nothing leads to; gives each key its number.
fn renumber(places: &mut Vec<Place>) -> KeyMap<u32> {
    let mut depth = vec![NO_NODE; places.len()];
    let mut queue: Vec<usize> = (0..places.len()).filter(|&at| places[at].flags & (ROOT | ELSEWHERE) != 0).collect();
    for &at in &queue {
        depth[at] = 0;
    }
    let mut next = 0;
    while next < queue.len() {
        let at = queue[next];
        for &(_, target) in &places[at].moves {
            if depth[target as usize] == NO_NODE {
                depth[target as usize] = depth[at] + 1;
                queue.push(target as usize);
            }
        }
        next += 1;
    }
    queue.sort_unstable_by_key(|&at| (depth[at], places[at].key));
    let mut number = vec![NO_NODE; places.len()];
    for (new, &old) in (0u32..).zip(&queue) {
        number[old] = new;
    }
    let mut old: Vec<Option<Place>> = std::mem::take(places).into_iter().map(Some).collect();
    for &at in &queue {
        let mut place = old[at].take().expect("each place is taken once");
        for (_, target) in &mut place.moves {
            *target = number[*target as usize];
        }
        places.push(place);
    }
    places.iter().map(|place| place.key).zip(0..).collect()
}
