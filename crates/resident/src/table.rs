//! The transposition table (Greenblatt, Eastlake and Crocker, "The Greenblatt Chess Program", 1967), without locks: a
//! slot is two words, the key combined with the data, so that a torn write is not recognised (Hyatt and Mann, "A
//! Lockless Transposition-Table Implementation for Parallel Search", 2002).

use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

use crate::{
    keys,
    moves::Move,
    pages::{on_large_pages, prefetch},
    score::{MATE_BOUND, MAX_PLY},
};

/// What a stored score says about the true one.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Bound {
    /// The true score is at most this.
    Upper,
    /// The true score is at least this.
    Lower,
    /// This is the score.
    Exact,
}

/// What is remembered of a position.
#[derive(Clone, Copy, Debug)]
pub struct Entry {
    /// Best move found, or none.
    pub best: Move,
    /// Score, mates counted from this position.
    pub value: i32,
    /// Static evaluation, `NO_EVALUATION` in check.
    pub evaluation: i32,
    /// Plies searched below the position.
    pub depth: i32,
    /// What `value` says.
    pub bound: Bound,
}

impl Entry {
    /// Whether the stored value is certainly nearer to the true one than `estimate`.
    #[inline]
    #[must_use]
    pub fn is_nearer_than(&self, estimate: i32) -> bool {
        match self.bound {
            Bound::Exact => true,
            Bound::Lower => self.value > estimate,
            Bound::Upper => self.value < estimate,
        }
    }
}

/// Static evaluation of a position in check: there is none.
pub const NO_EVALUATION: i32 = i16::MIN as i32;

/// Slots that share an index; one cache line.
const WAYS: usize = 4;

#[derive(Default)]
#[repr(align(64))]
struct Bucket([(AtomicU64, AtomicU64); WAYS]);

/// The table. Shared by reference between threads.
pub struct Table {
    buckets: Vec<Bucket>,
    /// Changes with every search, 1 to 255; slots of another generation are free to take. An empty slot has none (0).
    generation: u8,
    /// Generations since the memory was wiped: at 255 of them old slots would look new.
    since_wiped: u32,
    /// Makes slots of forgotten searches unrecognisable, so that forgetting needs no pass over the memory.
    salt: u64,
}

impl Table {
    /// A table of about `megabytes` MiB, at least one bucket.
    #[must_use]
    pub fn new(megabytes: usize) -> Table {
        let count = (megabytes << 20) / size_of::<Bucket>();
        let mut buckets = on_large_pages(count.max(1));
        buckets.resize_with(count.max(1), Bucket::default);
        Table { buckets, generation: 1, since_wiped: 1, salt: 0 }
    }

    /// A new search begins; what was found before can still be read but is replaced first.
    pub fn next_search(&mut self) {
        self.generation = self.generation % u8::MAX + 1;
        self.since_wiped = self.since_wiped.saturating_add(1);
    }

    /// Forgets everything: afterwards the table behaves like a new one, whatever was in it.
    pub fn forget(&mut self) {
        self.salt = self.salt.wrapping_add(keys::GOLDEN);
        self.next_search();
        // One generation is left for the search that follows.
        if self.since_wiped >= u32::from(u8::MAX) {
            self.clear();
        }
    }

    /// Forgets everything and wipes the memory, so that any number of searches may follow.
    pub fn clear(&mut self) {
        for bucket in &mut self.buckets {
            *bucket = Bucket::default();
        }
        self.generation = 1;
        self.since_wiped = 1;
    }

    #[inline]
    fn bucket(&self, key: u64) -> &Bucket {
        // The high half of a product spreads keys over any number of buckets without a division.
        &self.buckets[((u128::from(key) * self.buckets.len() as u128) >> 64) as usize]
    }

    /// Prepares for a look at a position.
    #[inline]
    pub fn prefetch(&self, key: u64) {
        prefetch(self.bucket(key));
    }

    /// What is known of a position `ply` plies below the root.
    #[inline]
    #[must_use]
    pub fn probe(&self, key: u64, ply: usize) -> Option<Entry> {
        for (mark, data) in &self.bucket(key).0 {
            let word = data.load(Relaxed);
            if mark.load(Relaxed) ^ word == key ^ self.salt && word != 0 {
                let mut entry = unpack(word);
                entry.value = from_node(entry.value, ply);
                return Some(entry);
            }
        }
        None
    }

    /// Remembers a position: in its own slot, else in a free one, else in that of the shallowest search.
    #[inline]
    pub fn store(&self, key: u64, ply: usize, mut entry: Entry) {
        let bucket = self.bucket(key);
        let mark = key ^ self.salt;
        let mut chosen = 0;
        let mut least = i32::MAX;
        for (index, (stored, data)) in bucket.0.iter().enumerate() {
            let word = data.load(Relaxed);
            if stored.load(Relaxed) ^ word == mark && word != 0 {
                let old = unpack(word);
                let same_search = generation_of(word) == self.generation;
                if same_search && entry.bound != Bound::Exact && entry.depth + 3 < old.depth {
                    return;
                }
                if entry.best.is_none() {
                    entry.best = old.best;
                }
                chosen = index;
                break;
            }
            let worth = if generation_of(word) == self.generation { unpack(word).depth } else { -1 };
            if worth < least {
                (chosen, least) = (index, worth);
            }
        }
        entry.value = to_node(entry.value, ply);
        let word = pack(&entry, self.generation);
        let (stored, data) = &bucket.0[chosen];
        stored.store(mark ^ word, Relaxed);
        data.store(word, Relaxed);
    }
}

/// Mates are counted from the root in the search and from the position in the table.
fn to_node(value: i32, ply: usize) -> i32 {
    if value >= MATE_BOUND {
        value + ply as i32
    } else if value <= -MATE_BOUND {
        value - ply as i32
    } else {
        value
    }
}

fn from_node(value: i32, ply: usize) -> i32 {
    if value >= MATE_BOUND {
        value - ply as i32
    } else if value <= -MATE_BOUND {
        value + ply as i32
    } else {
        value
    }
}

fn pack(entry: &Entry, generation: u8) -> u64 {
    u64::from(entry.best.0)
        | u64::from(entry.value as i16 as u16) << 16
        | u64::from(entry.evaluation as i16 as u16) << 32
        | (entry.depth.clamp(0, 63) as u64) << 48
        | (entry.bound as u64 + 1) << 54
        | u64::from(generation) << 56
}

fn generation_of(word: u64) -> u8 {
    (word >> 56) as u8
}

fn unpack(word: u64) -> Entry {
    Entry {
        best: Move(word as u16),
        value: i32::from((word >> 16) as i16),
        evaluation: i32::from((word >> 32) as i16),
        depth: (word >> 48 & 63) as i32,
        bound: match word >> 54 & 3 {
            1 => Bound::Upper,
            2 => Bound::Lower,
            _ => Bound::Exact,
        },
    }
}

const _: () = assert!(size_of::<Bucket>() == 64 && MAX_PLY < 256);

#[cfg(test)]
mod tests {
    use std::collections::HashSet;

    use super::*;

    /// Otherwise slots of an old search would count as the present one's, and a verdict hang on what was asked before.
    #[test]
    fn a_generation_comes_back_only_after_the_memory_was_wiped() {
        for before in 0..3 {
            let mut table = Table::new(1);
            let mut seen = HashSet::from([0]);
            for _ in 0..before {
                table.next_search();
                seen.insert(table.generation);
            }
            for search in 0..1000 {
                table.forget();
                if table.since_wiped == 1 {
                    seen = HashSet::from([0]);
                }
                seen.insert(table.generation);
                table.next_search();
                assert!(seen.insert(table.generation), "search {search} after {before}");
            }
        }
    }
}
