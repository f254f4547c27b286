//! A middle-game and an endgame value in one integer, so that both are added at once.

use std::ops::{Add, AddAssign, Mul, Neg, Sub, SubAssign};

/// Middle-game value in the low sixteen bits, endgame value above.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Tapered(i32);

/// A pair of values.
#[must_use]
pub const fn t(middle: i32, end: i32) -> Tapered {
    Tapered((end << 16) + middle)
}

impl Tapered {
    /// Nothing.
    pub const ZERO: Tapered = Tapered(0);

    /// The middle-game value.
    #[inline]
    #[must_use]
    pub const fn middle(self) -> i32 {
        self.0 as i16 as i32
    }

    /// The endgame value.
    #[inline]
    #[must_use]
    pub const fn end(self) -> i32 {
        // A negative low half has borrowed one from the high half.
        (self.0 + 0x8000) >> 16
    }
}

impl Add for Tapered {
    type Output = Tapered;
    #[inline]
    fn add(self, other: Tapered) -> Tapered {
        Tapered(self.0 + other.0)
    }
}

impl AddAssign for Tapered {
    #[inline]
    fn add_assign(&mut self, other: Tapered) {
        self.0 += other.0;
    }
}

impl Sub for Tapered {
    type Output = Tapered;
    #[inline]
    fn sub(self, other: Tapered) -> Tapered {
        Tapered(self.0 - other.0)
    }
}

impl SubAssign for Tapered {
    #[inline]
    fn sub_assign(&mut self, other: Tapered) {
        self.0 -= other.0;
    }
}

impl Neg for Tapered {
    type Output = Tapered;
    #[inline]
    fn neg(self) -> Tapered {
        Tapered(-self.0)
    }
}

impl Mul<i32> for Tapered {
    type Output = Tapered;
    #[inline]
    fn mul(self, factor: i32) -> Tapered {
        Tapered(self.0 * factor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_are_kept_apart() {
        for (middle, end) in [(0, 0), (-1, 1), (1, -1), (-300, -500), (900, -900), (-32_000, 3000)] {
            let value = t(middle, end);
            assert_eq!((value.middle(), value.end()), (middle, end));
            assert_eq!(((-value).middle(), (-value).end()), (-middle, -end));
        }
        let sum = t(-5, 7) * 3 - t(10, -10) + t(-1, -1);
        assert_eq!((sum.middle(), sum.end()), (-26, 30));
    }
}
