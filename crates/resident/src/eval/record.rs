//! How an evaluation came about: counts of each term, for the fit of the weights.

/// Told of each term that is counted; while playing nobody listens.
pub trait Record {
    /// Weight `at` was counted so many times, White's less Black's.
    fn linear(&mut self, at: usize, count: i32);

    /// Weight `at` of the danger of a king was counted so many times; `side` is 0 for Black's king, 1 for White's.
    fn danger(&mut self, side: usize, at: usize, count: i32);
}

/// Nobody listens.
pub struct Silent;

impl Record for Silent {
    #[inline]
    fn linear(&mut self, _at: usize, _count: i32) {}

    #[inline]
    fn danger(&mut self, _side: usize, _at: usize, _count: i32) {}
}

/// Everything the weights are multiplied with in one position.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Trace {
    /// Weight and count, White's less Black's; a weight may occur more than once.
    pub linear: Vec<(u16, i16)>,
    /// Weight of danger and count, for Black's and White's king.
    pub danger: [Vec<(u8, i16)>; 2],
    /// Share of the middle game, of 24.
    pub phase: i32,
    /// Share of an endgame advantage that counts, of 64.
    pub scale: i32,
    /// Centipawns that no weight has to do with.
    pub rest: i32,
    /// The evaluation for White.
    pub value: i32,
}

impl Record for Trace {
    fn linear(&mut self, at: usize, count: i32) {
        if count != 0 {
            self.linear.push((at as u16, count as i16));
        }
    }

    fn danger(&mut self, side: usize, at: usize, count: i32) {
        if count != 0 {
            self.danger[side].push((at as u8, count as i16));
        }
    }
}
