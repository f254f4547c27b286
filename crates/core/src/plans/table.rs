//! Plans of many games, merged where they are alike.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use rayon::prelude::*;
use shakmaty::{CastlingSide, Chess, Color, Role};

use super::events::{Event, MOST_PLIES, Unit, What, read_events};
use crate::runs::{Games, stir};
use crate::structures::Catalogue;

/// "No plan": the parent of what stands for itself.
pub const NO_PLAN: u32 = u32::MAX;

/// So many rows are kept before those of fewest games are dropped. What is dropped is looked for no more, so counts of
/// what comes after are too low by that few; [`PlanTable::trace`] counts anew.
const MOST_ROWS: usize = 1 << 21;

/// Games read at once, and the least part of them for one thread.
const BATCH: usize = 4096;
const LEAST: usize = 64;

const UNIT: u32 = 0;
const STEP: u32 = 1;
const BREAK: u32 = 2;
const CASTLE: u32 = 3;
const EXCHANGE: u32 = 4;
const STRUCTURE: u32 = 5;
const PRESSURE: u32 = 6;

/// Rows of a table. A row is a code, and for steps the row that comes before it on its itinerary:
///
/// | kind (code >> 16) | code, from the lowest bit | parent |
/// | --- | --- | --- |
/// | 0 unit | home 6, role 3, Black 1, put there by castling 1 | none |
/// | 1 step | square 6, takes 1, promotion (a role or 0) 3 | unit or step |
/// | 2 break | from 6, to 6, Black 1 | none |
/// | 3 castling | short 1, Black 1 | none |
/// | 4 exchange | own role 3, other role 3, Black 1 | none |
/// | 5 structure | code in the catalogue 16 | none |
/// | 6 pressure | pawn 6, units 3, Black 1 | none |
///
/// Roles are 1 pawn, 2 knight, 3 bishop, 4 rook, 5 queen, 6 king.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PlanColumns {
    /// The row before, or [`NO_PLAN`]; always a smaller number.
    pub parents: Vec<u32>,
    /// What.
    pub codes: Vec<u32>,
    /// How many games show it.
    pub counts: Vec<u32>,
}

/// From where games are read, how far, and by which structures.
#[derive(Debug, Clone, Copy)]
pub struct View<'a> {
    /// The position that the games reach.
    pub place: &'a Chess,
    /// So many plies after it.
    pub horizon: usize,
    /// The named structures.
    pub catalogue: &'a Catalogue,
}

impl View<'_> {
    fn read(&self, games: &Games<'_>, row: u32, ply: u16, events: &mut Vec<Event>) -> usize {
        let moves = games.moves(row as usize).skip(usize::from(ply));
        read_events(self.place, moves, self.horizon, self.catalogue, events)
    }
}

/// When each game first showed each plan of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Traced {
    /// Games × rows of the table: ply after the position, from 1; 0 for never.
    pub first: Vec<u8>,
    /// How many plies of each game were read.
    pub lengths: Vec<u8>,
}

/// The plans that games show from one position on.
#[derive(Debug, Clone, Default)]
pub struct PlanTable {
    columns: PlanColumns,
    rows: HashMap<u64, u32, BuildHasherDefault<Spread>>,
    /// The last game that showed a row, so that a game counts once.
    shown: Vec<u32>,
    games: u32,
}

impl PlanTable {
    /// The table of some rows, to trace them.
    ///
    /// # Errors
    ///
    /// Columns differ in length, a parent does not come before its row, or a row is there twice.
    pub fn of(parents: &[u32], codes: &[u32]) -> Result<PlanTable, &'static str> {
        if parents.len() != codes.len() {
            return Err("the columns of plans differ in length");
        }
        let mut table = PlanTable::default();
        for (row, (&parent, &code)) in parents.iter().zip(codes).enumerate() {
            if parent != NO_PLAN && parent as usize >= row {
                return Err("a plan comes before what it goes on from");
            }
            if table.row_of(parent, code) as usize != row {
                return Err("a plan is there twice");
            }
        }
        Ok(table)
    }

    /// The rows.
    #[must_use]
    pub fn columns(&self) -> &PlanColumns {
        &self.columns
    }

    /// How many games were collected.
    #[must_use]
    pub fn games(&self) -> u32 {
        self.games
    }

    /// Adds what games show after the place, which each hit (a row and a ply) has reached. A hit at which the game ends
    /// shows nothing.
    ///
    /// # Errors
    ///
    /// A hit names a row that is not there, or the columns of hits differ in length.
    pub fn collect(
        &mut self,
        games: &Games<'_>,
        rows: &[u32],
        plies: &[u16],
        view: View<'_>,
    ) -> Result<(), &'static str> {
        games.check(rows, plies)?;
        for (rows, plies) in rows.chunks(BATCH).zip(plies.chunks(BATCH)) {
            let read: Vec<Vec<Event>> = rows
                .par_iter()
                .zip(plies)
                .with_min_len(LEAST)
                .map(|(&row, &ply)| {
                    let mut events = Vec::with_capacity(view.horizon.min(MOST_PLIES) + 8);
                    view.read(games, row, ply, &mut events);
                    events
                })
                .collect();
            for events in &read {
                self.add(events);
            }
            if self.columns.codes.len() > MOST_ROWS {
                self.drop_rarest(MOST_ROWS / 2);
            }
        }
        Ok(())
    }

    fn add(&mut self, events: &[Event]) {
        self.games += 1;
        let mut trails = Trails::new();
        for event in events {
            let row = trails.follow(event.what, |parent, code| Some(self.row_of(parent, code)));
            self.count(row.expect("every plan finds or makes its row"));
        }
    }

    fn count(&mut self, row: u32) {
        if std::mem::replace(&mut self.shown[row as usize], self.games) != self.games {
            self.columns.counts[row as usize] += 1;
        }
    }

    fn row_of(&mut self, parent: u32, code: u32) -> u32 {
        let next = self.columns.codes.len() as u32;
        let row = *self.rows.entry(key(parent, code)).or_insert(next);
        if row == next {
            self.columns.parents.push(parent);
            self.columns.codes.push(code);
            self.columns.counts.push(0);
            self.shown.push(0);
        }
        row
    }

    /// Keeps at most `most` rows, those of most games. What comes before a row has as many games at least, so it stays.
    pub(super) fn drop_rarest(&mut self, most: usize) {
        let counts = &self.columns.counts;
        let mut ranked = counts.clone();
        ranked.sort_unstable_by(|one, other| other.cmp(one));
        let least = ranked[most];
        let old = std::mem::take(&mut self.columns);
        let shown = std::mem::take(&mut self.shown);
        self.rows.clear();
        let mut renamed = vec![NO_PLAN; old.codes.len()];
        for row in 0..old.codes.len() {
            let is_unit = old.codes[row] >> 16 == UNIT; // is counted by no game, but carries its steps
            if old.counts[row] > least || is_unit {
                let parent = if old.parents[row] == NO_PLAN { NO_PLAN } else { renamed[old.parents[row] as usize] };
                let new = self.row_of(parent, old.codes[row]) as usize;
                self.columns.counts[new] = old.counts[row];
                self.shown[new] = shown[row];
                renamed[row] = new as u32;
            }
        }
    }

    /// When each of the games of `rows`, which reach the place after `plies`, first showed each row of this table.
    ///
    /// # Errors
    ///
    /// As of [`PlanTable::collect`].
    pub fn trace(
        &self,
        games: &Games<'_>,
        rows: &[u32],
        plies: &[u16],
        view: View<'_>,
    ) -> Result<Traced, &'static str> {
        games.check(rows, plies)?;
        let width = self.columns.codes.len();
        let mut traced = Traced { first: vec![0; rows.len() * width], lengths: vec![0; rows.len()] };
        let look = |(line, length, row, ply): (&mut [u8], &mut u8, u32, u16), events: &mut Vec<Event>| {
            events.clear();
            *length = view.read(games, row, ply, events) as u8;
            let mut trails = Trails::new();
            for event in events.iter() {
                let row = trails.follow(event.what, |parent, code| self.rows.get(&key(parent, code)).copied());
                if let Some(row) = row
                    && line[row as usize] == 0
                {
                    line[row as usize] = event.ply;
                }
            }
        };
        if width == 0 {
            let each = traced.lengths.par_iter_mut().zip(rows).zip(plies).with_min_len(LEAST);
            each.for_each_init(Vec::new, |events, ((length, &row), &ply)| look((&mut [], length, row, ply), events));
        } else {
            let lines = traced.first.par_chunks_mut(width).zip(&mut traced.lengths);
            let each = lines.zip(rows).zip(plies).with_min_len(LEAST);
            each.for_each_init(Vec::new, |events, (((line, length), &row), &ply)| {
                look((line, length, row, ply), events);
            });
        }
        Ok(traced)
    }
}

/// A number for the first `most` moves that each game plays after its ply: games that go on alike have the same one.
///
/// # Errors
///
/// As of [`PlanTable::collect`].
pub fn prints(games: &Games<'_>, rows: &[u32], plies: &[u16], most: usize) -> Result<Vec<u64>, &'static str> {
    games.check(rows, plies)?;
    let print = |(&row, &ply): (&u32, &u16)| {
        let moves = games.moves(row as usize).skip(usize::from(ply)).take(most);
        moves.fold(1, |print, packed| stir(print, u64::from(packed.0)))
    };
    Ok(rows.par_iter().zip(plies).with_min_len(LEAST).map(print).collect())
}

/// Where the units of one game are on their itineraries.
struct Trails(Vec<(Unit, u32)>);

impl Trails {
    fn new() -> Trails {
        Trails(Vec::with_capacity(16))
    }

    /// The row of what happens; `row_of` finds a row by what comes before it and its code.
    fn follow(&mut self, what: What, mut row_of: impl FnMut(u32, u32) -> Option<u32>) -> Option<u32> {
        let (unit, step) = match what {
            What::Step { unit, to, capture, promotion } => {
                (unit, STEP << 16 | u32::from(to) | u32::from(capture) << 6 | role_code(promotion) << 7)
            }
            other => return row_of(NO_PLAN, code_of(other)),
        };
        let place = match self.0.iter().position(|&(known, _)| known == unit) {
            Some(place) => place,
            None => {
                self.0.push((unit, row_of(NO_PLAN, unit_code(unit)).unwrap_or(NO_PLAN)));
                self.0.len() - 1
            }
        };
        let before = self.0[place].1;
        let row = if before == NO_PLAN { None } else { row_of(before, step) };
        self.0[place].1 = row.unwrap_or(NO_PLAN);
        row
    }
}

fn unit_code(unit: Unit) -> u32 {
    let Unit { side, role, home, castled } = unit;
    UNIT << 16 | u32::from(home) | role_code(Some(role)) << 6 | side_code(side) << 9 | u32::from(castled) << 10
}

fn code_of(what: What) -> u32 {
    match what {
        What::Break { side, from, to } => BREAK << 16 | u32::from(from) | u32::from(to) << 6 | side_code(side) << 12,
        What::Castle { side, towards } => {
            CASTLE << 16 | u32::from(towards == CastlingSide::KingSide) | side_code(side) << 1
        }
        What::Exchange { side, own, other } => {
            EXCHANGE << 16 | role_code(Some(own)) | role_code(Some(other)) << 3 | side_code(side) << 6
        }
        What::Structure { code } => STRUCTURE << 16 | u32::from(code),
        What::Pressure { side, pawn, units } => {
            PRESSURE << 16 | u32::from(pawn) | u32::from(units) << 6 | side_code(side) << 9
        }
        What::Step { .. } => unreachable!("a step goes on from another row"),
    }
}

fn role_code(role: Option<Role>) -> u32 {
    role.map_or(0, u32::from)
}

fn side_code(side: Color) -> u32 {
    u32::from(side == Color::Black)
}

fn key(parent: u32, code: u32) -> u64 {
    u64::from(parent) << 32 | u64::from(code)
}

/// Spreads keys that are small numbers side by side over all bits.
#[derive(Default)]
struct Spread(u64);

impl Hasher for Spread {
    fn finish(&self) -> u64 {
        self.0
    }

    fn write(&mut self, _: &[u8]) {
        unreachable!("keys are whole numbers");
    }

    fn write_u64(&mut self, key: u64) {
        self.0 = stir(stir(0, key), 0);
    }
}
