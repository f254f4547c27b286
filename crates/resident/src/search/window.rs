//! Bounds of a search.

use crate::table::{Bound, Entry};

/// Values at or below alpha and at or above beta need not be exact.
#[derive(Clone, Copy, Debug)]
pub struct Window {
    pub alpha: i32,
    pub beta: i32,
}

impl Window {
    pub fn new(alpha: i32, beta: i32) -> Window {
        Window { alpha, beta }
    }

    /// The window that only asks whether a value is at least `beta`.
    pub fn null(beta: i32) -> Window {
        Window { alpha: beta - 1, beta }
    }

    /// Whether there is room for an exact value.
    pub fn is_open(self) -> bool {
        self.beta - self.alpha > 1
    }

    /// Whether a stored value answers the question.
    pub fn is_answered_by(self, entry: &Entry) -> bool {
        match entry.bound {
            Bound::Exact => true,
            Bound::Lower => entry.value >= self.beta,
            Bound::Upper => entry.value <= self.alpha,
        }
    }

    /// What a value found in this window says.
    pub fn bound_of(self, value: i32) -> Bound {
        if value >= self.beta {
            Bound::Lower
        } else if value > self.alpha {
            Bound::Exact
        } else {
            Bound::Upper
        }
    }
}
