//! Positions in 32 bytes, found by key; a key that two positions share is an error.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use shakmaty::{CastlingMode, Chess, EnPassantMode, FromSetup, Position, packed::PackedSetup};

use crate::fen::fen_of;
use crate::key::PositionKey;

/// Bytes of a packed position: occupied squares, a nibble for each unit, and the side to move. A legal position has at
/// most 32 units.
pub const PACKED_BYTES: usize = 32;

/// A position without its move counters: equal bytes, equal position.
pub type Packed = [u8; PACKED_BYTES];

/// Two positions with one key: in a store of any size the odds are against it, and merging them would be a lie.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Collision {
    /// The key.
    pub key: PositionKey,
    /// The FEN of the position met first.
    pub first: String,
    /// The FEN of the other.
    pub second: String,
}

/// Packs what makes a position the same (methods, section 1).
#[must_use]
pub fn pack(position: &Chess) -> Packed {
    let setup = PackedSetup::pack_standard_normalized(&position.to_setup(EnPassantMode::Legal))
        .expect("a legal position can be packed");
    let mut packed = [0; PACKED_BYTES];
    packed[..setup.as_bytes().len()].copy_from_slice(setup.as_bytes());
    packed
}

/// The position of `packed`; `None` where the bytes are not one.
#[must_use]
pub fn unpack(packed: &Packed) -> Option<Chess> {
    let setup = PackedSetup::try_from_bytes(packed).ok()?.unpack_standard().ok()?;
    let mode = CastlingMode::detect(&setup);
    Chess::from_setup(setup, mode).ok()
}

/// Hashes keys by themselves: they are random already.
#[derive(Debug, Default, Clone)]
pub struct KeyHasher(u64);

impl Hasher for KeyHasher {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, _: &[u8]) {
        unreachable!("keys are hashed as numbers");
    }

    fn write_u64(&mut self, key: u64) {
        self.0 = key;
    }
}

/// A map from position keys.
pub type KeyMap<V> = HashMap<u64, V, BuildHasherDefault<KeyHasher>>;

/// Packed positions by key.
#[derive(Debug, Default)]
pub struct PositionTable {
    positions: KeyMap<Packed>,
}

impl PositionTable {
    /// Whether `packed` is here; an error where its key belongs to another position.
    ///
    /// # Errors
    ///
    /// The key belongs to another position.
    pub fn holds(&self, key: PositionKey, packed: &Packed) -> Result<bool, Collision> {
        match self.positions.get(&key.0) {
            None => Ok(false),
            Some(known) if known == packed => Ok(true),
            Some(known) => Err(collision(key, known, packed)),
        }
    }

    /// Takes a position in; one that is here already changes nothing.
    ///
    /// # Errors
    ///
    /// The key belongs to another position.
    pub fn insert(&mut self, key: PositionKey, packed: Packed) -> Result<(), Collision> {
        let known = self.positions.entry(key.0).or_insert(packed);
        if *known == packed { Ok(()) } else { Err(collision(key, known, &packed)) }
    }

    /// The position with this key.
    #[must_use]
    pub fn get(&self, key: PositionKey) -> Option<&Packed> {
        self.positions.get(&key.0)
    }
}

fn collision(key: PositionKey, first: &Packed, second: &Packed) -> Collision {
    let text = |packed| unpack(packed).map_or_else(|| "unreadable".to_owned(), |position| fen_of(&position));
    Collision { key, first: text(first), second: text(second) }
}
