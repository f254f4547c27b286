//! From a stream of bytes to blocks of whole games: what one worker takes at a time.
//!
//! Reading is done by one worker at a time, so little is done here: a block is cut at the last place of the buffer where
//! a section starts beyond doubt, and its segments are found by the worker who takes it. There is no doubt at an Event
//! line behind a blank line when the last brace before it is a closing one, or when there is none: whatever was open
//! is closed by then. Where no such place is in the buffer, the segmenter looks for the end of a game here.

use std::io::{self, Read};

use memchr::{memmem, memrchr2};

use super::segment::{Pause, Remark, Segment, Segmenter, follows_blank_line};
use super::text::{at_line_start, count_lines};
use crate::section::starts_section;

/// How much is read at a time.
pub const READ_SIZE: usize = 2 << 20;

/// A game whose text is longer than this is set aside.
pub const LONGEST_GAME: usize = 32 << 20;

/// How much of such a game is kept.
pub const KEPT_OF_OVERLONG: usize = 4096;

/// Bytes of the stream that were passed over, and why.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Note {
    /// Where they start in the (decompressed) stream.
    pub offset: u64,
    /// How many.
    pub length: u64,
    /// What they are.
    pub remark: Remark,
}

/// Whole segments that follow each other, with their bytes.
#[derive(Debug)]
pub struct Block {
    /// Where the bytes stand in the stream.
    pub offset: u64,
    bytes: Vec<u8>,
    length: usize,
    /// The segments, if they are known; indices into [`Block::text`]. Otherwise the block starts with a section and
    /// ends where one starts, or with the stream.
    pub segments: Option<Vec<Segment>>,
    /// What the segmenter had to say.
    pub notes: Vec<Note>,
    /// Of an overlong game, alone in its block and cut: its length and its number of lines.
    pub overlong: Option<(u64, u64)>,
}

impl Block {
    /// The bytes.
    #[must_use]
    pub fn text(&self) -> &[u8] {
        &self.bytes[..self.length]
    }

    /// The memory of the block, to be used for another one.
    #[must_use]
    pub fn into_room(self) -> Vec<u8> {
        self.bytes
    }
}

const EVENT: &[u8] = b"[Event \"";

/// Reads a stream block by block.
pub struct Feed {
    source: Box<dyn Read + Send>,
    segmenter: Segmenter,
    /// Whether the buffer starts with a section, and the segmenter has seen nothing of it yet.
    clean: bool,
    event: memmem::FinderRev<'static>,
    /// All of it is initialised; `filled` bytes mean something.
    buffer: Vec<u8>,
    filled: usize,
    offset: u64,
    read_size: usize,
    /// See [`LONGEST_GAME`].
    pub longest_game: usize,
    last: bool,
    fault: Option<io::Error>,
    dropped: Option<Dropped>,
}

/// An overlong game of which only the start is kept.
struct Dropped {
    offset: u64,
    head: Vec<u8>,
    segment: Segment,
    lines: u64,
    after_cr: bool,
}

impl Feed {
    /// Reads `source`, `read_size` bytes at a time (see [`READ_SIZE`]; the result does not depend on it).
    #[must_use]
    pub fn new(source: Box<dyn Read + Send>, read_size: usize) -> Feed {
        Feed {
            source,
            segmenter: Segmenter::default(),
            clean: false,
            event: memmem::FinderRev::new(EVENT),
            buffer: Vec::new(),
            filled: 0,
            offset: 0,
            read_size: read_size.max(1),
            longest_game: LONGEST_GAME,
            last: false,
            fault: None,
            dropped: None,
        }
    }

    /// What stopped the reading before the end of the stream, once `next_block` has given everything before it.
    pub fn take_fault(&mut self) -> Option<io::Error> {
        self.fault.take()
    }

    /// How many bytes the stream has given.
    #[must_use]
    pub fn bytes_read(&self) -> u64 {
        self.offset + self.filled as u64
    }

    /// The next block; `room` is memory to use for what follows it (see [`Block::into_room`]).
    pub fn next_block(&mut self, mut room: Vec<u8>) -> Option<Block> {
        loop {
            if self.clean {
                self.read(&mut room);
                if let Some(cut) = self.sure_cut() {
                    return Some(self.take_block(cut, None, room));
                }
                self.clean = false;
            }
            let pause = self.segmenter.scan(&self.buffer[..self.filled], self.last);
            if let Pause::DropEnds(end) = pause {
                return Some(self.end_of_overlong(end));
            }
            if !self.segmenter.segments.is_empty() {
                let segments = std::mem::take(&mut self.segmenter.segments);
                return Some(self.take_block(self.segmenter.open_start(), Some(segments), room));
            }
            if self.last {
                return self.take_remarks();
            }
            if self.dropped.is_some() || self.filled - self.segmenter.open_start() > self.longest_game {
                self.drop_text();
            }
            let at_start = self.bytes_read() == 0;
            self.read(&mut room);
            self.clean = at_start && !self.last && starts_section(&self.buffer[..self.filled]).is_some();
        }
    }

    /// The last place in the buffer where a section starts beyond doubt.
    fn sure_cut(&self) -> Option<usize> {
        const TRIES: usize = 64;
        let mut text = &self.buffer[..self.filled];
        for _ in 0..TRIES {
            let cut = self.event.rfind(text).filter(|&cut| cut > 0)?;
            text = &text[..cut];
            if !at_line_start(text, cut) || !follows_blank_line(text, cut) {
                continue;
            }
            match memrchr2(b'{', b'}', text) {
                Some(brace) if text[brace] == b'{' => text = &text[..brace],
                _ => return Some(cut),
            }
        }
        None
    }

    fn read(&mut self, room: &mut Vec<u8>) {
        if self.last {
            return;
        }
        let wanted = self.filled + self.read_size;
        if self.buffer.len() < wanted {
            if self.filled == 0 && room.len() >= wanted {
                std::mem::swap(&mut self.buffer, room);
            } else {
                self.buffer.reserve_exact(wanted - self.buffer.len());
                self.buffer.resize(wanted, 0);
            }
        }
        while self.filled < wanted {
            match self.source.read(&mut self.buffer[self.filled..wanted]) {
                Ok(0) => {
                    self.last = true;
                    return;
                }
                Ok(count) => self.filled += count,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => {
                    self.last = true;
                    self.fault = Some(error);
                    return;
                }
            }
        }
    }

    fn notes(&mut self) -> Vec<Note> {
        let base = self.offset;
        let remarks = self.segmenter.remarks.drain(..);
        remarks
            .map(|(from, to, remark)| {
                let offset = base.wrapping_add_signed(from as i64);
                Note { offset, length: base + to as u64 - offset, remark }
            })
            .collect()
    }

    /// The first `length` bytes of the buffer become a block; the rest moves to other memory.
    fn take_block(&mut self, length: usize, segments: Option<Vec<Segment>>, mut room: Vec<u8>) -> Block {
        let rest = self.filled - length;
        if room.len() < rest {
            room.resize((rest + self.read_size).max(self.buffer.len().min(2 * self.read_size)), 0);
        }
        room[..rest].copy_from_slice(&self.buffer[length..self.filled]);
        let notes = self.notes();
        let block = Block {
            offset: self.offset,
            bytes: std::mem::replace(&mut self.buffer, room),
            length,
            segments,
            notes,
            overlong: None,
        };
        self.filled = rest;
        self.offset += length as u64;
        // What the segmenter has seen of a started section is little; it can look again.
        self.clean = starts_section(&self.buffer[..rest]).is_some() || block.segments.is_none();
        if self.clean {
            self.segmenter = Segmenter::default();
        } else {
            self.segmenter.drop_before(length);
        }
        block
    }

    /// Remarks that no segment came with: only an overlong game can leave them.
    fn take_remarks(&mut self) -> Option<Block> {
        let notes = self.notes();
        (!notes.is_empty()).then(|| Block {
            offset: self.offset,
            bytes: Vec::new(),
            length: 0,
            segments: Some(Vec::new()),
            notes,
            overlong: None,
        })
    }

    fn drop_text(&mut self) {
        let until = self.segmenter.drop_open();
        if self.dropped.is_none() {
            let start = self.segmenter.open_start();
            let kept = KEPT_OF_OVERLONG.min(self.filled - start);
            let head = self.buffer[start..start + kept].to_vec();
            let mut segment = self.segmenter.open_segment(start + kept);
            segment.end -= start;
            segment.moves -= start;
            segment.start = 0;
            let offset = self.offset + start as u64;
            self.dropped = Some(Dropped { offset, head, segment, lines: 0, after_cr: false });
        }
        self.count_dropped(until);
        self.buffer.copy_within(until..self.filled, 0);
        self.filled -= until;
        self.offset += until as u64;
        self.segmenter.drop_before(until);
    }

    fn count_dropped(&mut self, until: usize) {
        let Some(dropped) = &mut self.dropped else { return };
        let text = &self.buffer[..until];
        dropped.lines += count_lines(text, dropped.after_cr);
        if let Some(&end) = text.last() {
            dropped.after_cr = end == b'\r';
        }
    }

    fn end_of_overlong(&mut self, end: usize) -> Block {
        self.count_dropped(end);
        let notes = self.notes();
        self.buffer.copy_within(end..self.filled, 0);
        self.filled -= end;
        self.offset += end as u64;
        self.segmenter.drop_before(end);
        let dropped = self.dropped.take().expect("only an overlong game ends so");
        Block {
            offset: dropped.offset,
            length: dropped.head.len(),
            bytes: dropped.head,
            segments: Some(vec![dropped.segment]),
            notes,
            overlong: Some((self.offset - dropped.offset, dropped.lines)),
        }
    }
}
