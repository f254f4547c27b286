//! A predicate on pawns, and the few words in which it is written.

use std::fmt;

/// What must hold of the pawns of both sides.
///
/// Each side is written as words: `d4` a pawn on d4, `e2/e3` a pawn on one of these squares, `e` a pawn somewhere on the
/// e-file; with `-` in front no pawn there. So `"d4 -c -e"` is a pawn on d4 without neighbours, and a file is open where
/// both sides say `-e`, half-open where one does and the other says `e`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Skeleton {
    white: Pawns,
    black: Pawns,
    /// How many words it has: the pawns that are required or forbidden, as a reader counts them.
    pub words: usize,
}

/// What must hold of the pawns of one side.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
struct Pawns {
    required: u64,
    forbidden: u64,
    /// Of each of these sets one square at least has a pawn.
    one_of: Vec<u64>,
}

/// A word that is none, or words that cannot all be true.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SkeletonFault(pub String);

impl fmt::Display for SkeletonFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for SkeletonFault {}

const FILE_A: u64 = 0x0101_0101_0101_0101;

impl Skeleton {
    /// Reads the words of both sides.
    ///
    /// # Errors
    ///
    /// A word is not understood, a square can have no pawn, or no position satisfies the words.
    pub fn parse(white: &str, black: &str) -> Result<Skeleton, SkeletonFault> {
        let words = white.split_whitespace().count() + black.split_whitespace().count();
        let skeleton = Skeleton { white: Pawns::parse(white)?, black: Pawns::parse(black)?, words };
        if skeleton.white.required & skeleton.black.required != 0 {
            return Err(SkeletonFault("both sides have a pawn on one square".to_owned()));
        }
        Ok(skeleton)
    }

    /// Whether pawns satisfy the skeleton in the colours that it is written in.
    #[inline]
    #[must_use]
    pub fn holds(&self, white: u64, black: u64) -> bool {
        self.white.holds(white) && self.black.holds(black)
    }

    /// The skeleton with colours reversed.
    #[must_use]
    pub fn mirrored(&self) -> Skeleton {
        Skeleton { white: self.black.mirrored(), black: self.white.mirrored(), words: self.words }
    }

    /// Whether every position that satisfies this one satisfies `other` too.
    #[must_use]
    pub fn implies(&self, other: &Skeleton) -> bool {
        self.white.implies(&other.white) && self.black.implies(&other.black)
    }
}

impl Pawns {
    fn parse(text: &str) -> Result<Pawns, SkeletonFault> {
        let mut pawns = Pawns::default();
        for word in text.split_whitespace() {
            let (squares, absent) = match word.strip_prefix('-') {
                Some(rest) => (rest, true),
                None => (word, false),
            };
            let mask = squares.split('/').try_fold(0, |mask, part| Ok(mask | squares_of(part, word)?))?;
            if absent {
                pawns.forbidden |= mask;
            } else if mask.is_power_of_two() {
                pawns.required |= mask;
            } else {
                pawns.one_of.push(mask);
            }
        }
        let possible = pawns.one_of.iter().all(|set| set & !pawns.forbidden != 0);
        if pawns.required & pawns.forbidden != 0 || !possible {
            return Err(SkeletonFault(format!("'{text}' asks for a pawn that it forbids")));
        }
        Ok(pawns)
    }

    #[inline]
    fn holds(&self, pawns: u64) -> bool {
        pawns & self.required == self.required
            && pawns & self.forbidden == 0
            && self.one_of.iter().all(|set| pawns & set != 0)
    }

    fn mirrored(&self) -> Pawns {
        Pawns {
            required: self.required.swap_bytes(),
            forbidden: self.forbidden.swap_bytes(),
            one_of: self.one_of.iter().map(|set| set.swap_bytes()).collect(),
        }
    }

    fn implies(&self, other: &Pawns) -> bool {
        let forced =
            |set: &u64| self.required & set != 0 || self.one_of.iter().any(|own| own & !self.forbidden & !set == 0);
        other.required & !self.required == 0
            && other.forbidden & !self.forbidden == 0
            && other.one_of.iter().all(forced)
    }
}

/// The squares of `d4` or of `d`.
fn squares_of(part: &str, word: &str) -> Result<u64, SkeletonFault> {
    let fault = || SkeletonFault(format!("'{word}' says no pawn: write d4, e2/e3, e, -d4 or -e"));
    match *part.as_bytes() {
        [file @ b'a'..=b'h'] => Ok((FILE_A << (file - b'a')) & 0x00ff_ffff_ffff_ff00),
        [file @ b'a'..=b'h', rank @ b'2'..=b'7'] => Ok(1 << (u32::from(file - b'a') + 8 * u32::from(rank - b'1'))),
        _ => Err(fault()),
    }
}
