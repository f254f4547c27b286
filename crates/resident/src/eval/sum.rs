//! Adding up terms for one side.

use super::{
    record::Record,
    tapered::Tapered,
    terms::Term,
    weights::{DANGER, WEIGHTS},
};
use shakmaty::Color;

/// The terms of one side so far.
pub struct Sum<'r, R> {
    /// For that side.
    pub total: Tapered,
    sign: i32,
    record: &'r mut R,
}

impl<'r, R: Record> Sum<'r, R> {
    /// Nothing yet.
    pub fn new(color: Color, record: &'r mut R) -> Sum<'r, R> {
        Sum { total: Tapered::ZERO, sign: color.fold_wb(1, -1), record }
    }

    /// Weight number `index` of a term, once.
    #[inline]
    pub fn add(&mut self, term: Term, index: usize) {
        self.add_times(term, index, 1);
    }

    /// The same so many times.
    #[inline]
    pub fn add_times(&mut self, term: Term, index: usize, count: i32) {
        let at = term.at(index);
        self.total += WEIGHTS[at] * count;
        self.record.linear(at, self.sign * count);
    }
}

/// What endangers one king.
pub struct Danger<'r, R> {
    /// In units of its own.
    pub total: i32,
    side: usize,
    record: &'r mut R,
}

impl<'r, R: Record> Danger<'r, R> {
    /// Nothing yet.
    pub fn new(color: Color, record: &'r mut R) -> Danger<'r, R> {
        Danger { total: 0, side: color.is_white() as usize, record }
    }

    /// Weight number `index` of a term so many times.
    #[inline]
    pub fn add(&mut self, term: Term, index: usize, count: i32) {
        let at = term.at(index);
        self.total += DANGER[at] * count;
        self.record.danger(self.side, at, count);
    }
}
