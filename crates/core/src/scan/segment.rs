//! Where games start: cuts a stream of bytes into tag sections with their movetext, and text without tags.
//!
//! The rules, in the order in which they are asked:
//!
//! 1. A *tag line* matches `^\[[A-Za-z0-9_]+[ \t]+"` (at most 255 letters of name and of blanks). Lines end with LF,
//!    CR or both; NUL bytes and byte order marks before the bracket do not count.
//! 2. Outside a comment, a tag line that does not stand in a tag section starts one. A section goes on with lines that
//!    start with a bracket, `%` or `;`. It ends at a blank line, at movetext, and before a second `Event` line.
//! 3. `{` opens a comment, outside tags, `;` comments and `%` lines; the next `}` closes it. Inside a comment an *Event
//!    line* is a tag line whose name is Event and which follows a blank line or is followed by a second tag line. At
//!    the first Event line in a comment it is decided whether the comment was never closed: it was not when, from
//!    there on, a `{` comes before any `}` (that `}` then closes a comment of a later game), or when neither comes
//!    within [`UNCLOSED_AFTER`] bytes, or before the end. Then a section starts at the Event line and what the comment
//!    swallowed is reported. Otherwise the comment is what it says, tag-like lines in it are text, and this too is
//!    reported. So text that quotes a game in a closed comment stays a comment; and a comment left open does not
//!    swallow the games behind it, unless a stray `}` stands in them before any `{`.
//! 4. Text before the first section, if it consists of tag pairs in some other layout (`[ Site "x" ]`, `[Date"x"]`),
//!    belongs to that section. Other text outside sections is a segment without tags: games without tags are looked
//!    for in it, and behind the termination marker of each game (see [`super::movetext::behind_game`]).
//!
//! No rule looks at how the bytes arrive: the same stream gives the same segments, whatever the cuts.

use memchr::{memchr, memchr2, memchr3, memmem};

use super::movetext::{Untagged, behind_game, untagged};
use super::tags::{Pairs, pairs_end};
use super::text::{at_line_start, is_blank, is_line_end, line_end};
use crate::section::{SECTION_START_REACH, starts_section};

/// A comment that goes on for longer than this behind an Event line was never closed.
pub const UNCLOSED_AFTER: usize = 1 << 20;

/// Bytes before the place of reading that the rules may look back at.
pub const LOOK_BACK: usize = 512;

/// Text without an end in sight is searched for games without tags from this length on.
const SPLIT_FROM: usize = 1 << 20;

/// A piece of the stream that holds one tag section with its movetext, or text without tags. Indices into the buffer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Segment {
    /// First byte.
    pub start: usize,
    /// Where the movetext starts.
    pub moves: usize,
    /// Behind the last byte.
    pub end: usize,
    /// Whether it starts with a tag section.
    pub tagged: bool,
}

/// What was passed over, or looked as if it had been.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum Remark {
    /// A comment that was never closed; its text up to the next section is lost to the game.
    UnclosedComment = 0,
    /// A closed comment in which lines look like a tag section.
    TagsInComment = 1,
    /// Text between moves that is no move.
    StrayText = 2,
    /// Text outside any game.
    NoGame = 3,
    /// Text in angle brackets, which the standard reserves.
    ReservedToken = 4,
}

impl Remark {
    /// All of them, by their numbers.
    pub const NAMES: [&str; 5] = ["unclosed-comment", "tags-in-comment", "stray-text", "no-game", "reserved-token"];
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mode {
    /// At the start of a line of a tag section.
    Tags { event_seen: bool },
    /// In movetext, or before anything.
    Moves,
    /// In a comment that opened at this index (which may have left the buffer).
    Comment { open: isize },
    /// In a line to pass over, in a section (`Some`) or in movetext.
    Line { section_event_seen: Option<bool> },
}

/// Why [`Segmenter::scan`] came back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pause {
    /// All of the buffer was looked at as far as can be; the rest needs more bytes, or there are none.
    NeedsMore,
    /// The overlong segment whose text is being dropped ends at this index.
    DropEnds(usize),
}

/// Cuts a growing buffer into segments. All indices count from the start of the buffer; [`Segmenter::drop_before`]
/// says that bytes were taken off its start.
#[derive(Debug)]
pub struct Segmenter {
    mode: Mode,
    at: usize,
    start: usize,
    moves: usize,
    tagged: bool,
    dropping: bool,
    split_tried: usize,
    event: memmem::Finder<'static>,
    /// Finished segments, in order.
    pub segments: Vec<Segment>,
    /// Remarks of rule 3: from, to (from may have left the buffer), what.
    pub remarks: Vec<(isize, usize, Remark)>,
}

impl Default for Segmenter {
    fn default() -> Segmenter {
        Segmenter {
            mode: Mode::Moves,
            at: 0,
            start: 0,
            moves: 0,
            tagged: false,
            dropping: false,
            split_tried: 0,
            event: memmem::Finder::new(b"[Event"),
            segments: Vec::new(),
            remarks: Vec::new(),
        }
    }
}

impl Segmenter {
    /// Start of the segment that is not finished.
    #[must_use]
    pub fn open_start(&self) -> usize {
        self.start
    }

    /// The unfinished segment, cut at `end`.
    #[must_use]
    pub fn open_segment(&self, end: usize) -> Segment {
        let moves = if matches!(self.mode, Mode::Tags { .. } | Mode::Line { section_event_seen: Some(_) }) {
            end
        } else {
            self.moves.min(end)
        };
        Segment { start: self.start, moves, end, tagged: self.tagged }
    }

    /// From now on the text of the unfinished segment is not kept: gives the index up to which the buffer may go.
    /// The end of that segment is told by [`Pause::DropEnds`].
    pub fn drop_open(&mut self) -> usize {
        self.dropping = true;
        self.at.saturating_sub(LOOK_BACK).max(self.start)
    }

    /// The first `count` bytes of the buffer are gone.
    pub fn drop_before(&mut self, count: usize) {
        self.at -= count;
        self.start = self.start.saturating_sub(count);
        self.moves = self.moves.saturating_sub(count);
        if let Mode::Comment { open } = &mut self.mode {
            *open -= count as isize;
        }
    }

    /// Goes on through `buffer`, which holds what it held before and perhaps more; `last` when no more will come.
    pub fn scan(&mut self, buffer: &[u8], last: bool) -> Pause {
        loop {
            let step = match self.mode {
                Mode::Tags { event_seen } => self.tag_line(buffer, last, event_seen),
                Mode::Moves => self.movetext(buffer, last),
                Mode::Comment { open } => self.comment(buffer, last, open),
                Mode::Line { section_event_seen } => self.rest_of_line(buffer, section_event_seen),
            };
            match step {
                Step::On => {}
                Step::Ended(at) => return Pause::DropEnds(at),
                Step::Short if last => return self.finish(buffer),
                Step::Short => {
                    if !self.split_untagged(buffer) {
                        return Pause::NeedsMore;
                    }
                }
            }
        }
    }

    fn finish(&mut self, buffer: &[u8]) -> Pause {
        if let Mode::Comment { open } = self.mode {
            self.remarks.push((open, buffer.len(), Remark::UnclosedComment));
        }
        if self.mode != Mode::Moves
            && !matches!(self.mode, Mode::Comment { .. } | Mode::Line { section_event_seen: None })
        {
            self.moves = buffer.len();
        }
        self.mode = Mode::Moves;
        self.at = buffer.len();
        if self.dropping {
            self.dropping = false;
            self.start = buffer.len();
            return Pause::DropEnds(buffer.len());
        }
        if self.start < buffer.len() {
            self.segments.push(Segment {
                start: self.start,
                moves: self.moves,
                end: buffer.len(),
                tagged: self.tagged,
            });
            self.start = buffer.len();
        }
        Pause::NeedsMore
    }

    /// Ends the open segment at `end`, where a section starts.
    fn cut(&mut self, buffer: &[u8], end: usize) -> Step {
        let only_tags = |text: &[u8]| {
            let mut pairs = Pairs::of(text);
            let some = pairs.by_ref().fold(false, |_, pair| pair.closed);
            some && text[pairs.rest..].iter().all(|&byte| is_blank(byte))
        };
        self.mode = Mode::Tags { event_seen: false };
        self.at = end;
        self.split_tried = 0;
        if self.dropping {
            self.dropping = false;
            (self.start, self.moves, self.tagged) = (end, end, true);
            return Step::Ended(end);
        }
        if !self.tagged && only_tags(&buffer[self.start..end]) {
            self.tagged = true;
            return Step::On;
        }
        if self.start < end {
            self.segments.push(Segment { start: self.start, moves: self.moves, end, tagged: self.tagged });
        }
        (self.start, self.moves, self.tagged) = (end, end, true);
        Step::On
    }

    /// One line of a tag section.
    fn tag_line(&mut self, buffer: &[u8], last: bool, event_seen: bool) -> Step {
        let end = line_end(buffer, self.at);
        if end == buffer.len() && !last {
            // Lines that are passed over need not be held, nor what is dropped anyway.
            if self.dropping || matches!(buffer[self.at..], [b'%' | b';', ..]) {
                self.mode = Mode::Line { section_event_seen: Some(event_seen) };
                return Step::On;
            }
            return Step::Short;
        }
        if self.at == buffer.len() {
            return Step::Short;
        }
        let next = match buffer[end..] {
            [b'\r', b'\n', ..] => end + 2,
            [b'\r'] if !last => return Step::Short,
            [_, ..] => end + 1,
            [] => end,
        };
        // NUL bytes at its start do not hide a tag line.
        self.at += buffer[self.at..end].iter().take_while(|&&byte| byte == 0).count();
        let line = &buffer[self.at..end];
        match line.trim_ascii_start() {
            text if text.iter().all(|&byte| is_blank(byte)) => {
                self.mode = Mode::Moves;
                self.at = next;
                self.moves = next;
            }
            [b'[', ..] => {
                let name_is_event = line.starts_with(b"[Event") && starts_section(line) == Some(b"Event");
                if name_is_event && event_seen {
                    self.moves = self.at;
                    return self.cut(buffer, self.at);
                }
                let tags = pairs_end(line);
                if tags == line.len() || line[tags..].iter().all(|&byte| is_blank(byte)) {
                    self.mode = Mode::Tags { event_seen: event_seen || name_is_event };
                    self.at = next;
                } else {
                    self.mode = Mode::Moves;
                    // A bracket that opens no pair must be stepped over, or it would be met here again.
                    self.moves = self.at + tags;
                    self.at += tags.max(1);
                }
            }
            [b';', ..] => self.at = next,
            [b'%', ..] if line[0] == b'%' => self.at = next,
            _ => {
                self.mode = Mode::Moves;
                self.moves = self.at;
            }
        }
        Step::On
    }

    fn movetext(&mut self, buffer: &[u8], last: bool) -> Step {
        loop {
            let hit = memchr3(b'{', b'[', b';', &buffer[self.at..]).map_or(buffer.len(), |step| self.at + step);
            if let Some(escape) = escape_line(buffer, self.at, hit) {
                self.at = escape;
                self.mode = Mode::Line { section_event_seen: None };
                return Step::On;
            }
            self.at = hit;
            match buffer.get(hit) {
                None => return Step::Short,
                Some(b'{') => {
                    // The usual comment is short and on one line.
                    let near = &buffer[hit..buffer.len().min(hit + 64)];
                    match memchr3(b'}', b'\n', b'\r', near) {
                        Some(length) if near[length] == b'}' => self.at = hit + length + 1,
                        _ => {
                            self.mode = Mode::Comment { open: hit as isize };
                            self.at = hit + 1;
                            return Step::On;
                        }
                    }
                }
                Some(b'[') => {
                    if at_line_start(buffer, hit) {
                        if hit + SECTION_START_REACH > buffer.len() && !last {
                            return Step::Short;
                        }
                        if starts_section(&buffer[hit..]).is_some() {
                            return self.cut(buffer, hit);
                        }
                    }
                    self.at = hit + 1;
                }
                Some(_) => {
                    self.mode = Mode::Line { section_event_seen: None };
                    return Step::On;
                }
            }
        }
    }

    fn rest_of_line(&mut self, buffer: &[u8], section_event_seen: Option<bool>) -> Step {
        self.at = line_end(buffer, self.at);
        match buffer[self.at..] {
            [] | [b'\r'] => return Step::Short,
            [b'\r', b'\n', ..] => self.at += 2,
            _ => self.at += 1,
        }
        self.mode = match section_event_seen {
            Some(event_seen) => Mode::Tags { event_seen },
            None => Mode::Moves,
        };
        Step::On
    }

    fn comment(&mut self, buffer: &[u8], last: bool, open: isize) -> Step {
        let close = memchr(b'}', &buffer[self.at..]).map(|step| self.at + step);
        let end = close.unwrap_or(buffer.len());
        let mut from = self.at;
        while let Some(step) = self.event.find(&buffer[from..end]) {
            let line = from + step;
            self.at = line;
            match self.is_event_line(buffer, line, last) {
                None => return Step::Short,
                Some(false) => from = line + 1,
                Some(true) => {
                    let window = &buffer[line..buffer.len().min(line + UNCLOSED_AFTER)];
                    let brace = memchr2(b'{', b'}', window).map(|at| window[at]);
                    if brace.is_none() && window.len() < UNCLOSED_AFTER && !last {
                        return Step::Short;
                    }
                    if brace != Some(b'}') {
                        self.remarks.push((open, line, Remark::UnclosedComment));
                        return self.cut(buffer, line);
                    }
                    let close = close.expect("a closing brace comes next");
                    self.remarks.push((open, close + 1, Remark::TagsInComment));
                    break;
                }
            }
        }
        match close {
            Some(close) => {
                self.at = close + 1;
                self.mode = Mode::Moves;
                Step::On
            }
            None => {
                // An Event line may be cut by the end of the buffer.
                self.at = self.at.max(buffer.len().saturating_sub(b"[Event".len() - 1));
                Step::Short
            }
        }
    }

    /// Whether the Event line of rule 3 stands at `line`; `None` when more bytes are needed to tell.
    fn is_event_line(&self, buffer: &[u8], line: usize, last: bool) -> Option<bool> {
        if !at_line_start(buffer, line) {
            return Some(false);
        }
        if line + SECTION_START_REACH > buffer.len() && !last {
            return None;
        }
        if starts_section(&buffer[line..]) != Some(b"Event") {
            return Some(false);
        }
        if follows_blank_line(buffer, line) {
            return Some(true);
        }
        // A tag line is short; what is longer than this is followed by nothing that matters.
        let window = &buffer[line..buffer.len().min(line + LONGEST_TAG_LINE)];
        let complete = last || window.len() == LONGEST_TAG_LINE;
        let end = line_end(window, 0);
        let next = match window[end..] {
            [b'\r', b'\n', ..] => end + 2,
            [_, ..] => end + 1,
            [] => end,
        };
        match starts_section(&window[next..]) {
            Some(_) => Some(true),
            None if window.len() >= next + SECTION_START_REACH || complete => Some(false),
            None => None,
        }
    }

    /// In a long text without an end in sight: cuts at the games without tags in it. Says whether there are any.
    fn split_untagged(&mut self, buffer: &[u8]) -> bool {
        let length = buffer.len() - self.start;
        if self.dropping || length < SPLIT_FROM.max(2 * self.split_tried) {
            return false;
        }
        self.split_tried = length;
        if matches!(self.mode, Mode::Tags { .. } | Mode::Line { section_event_seen: Some(_) }) {
            return false;
        }
        // The last word may be cut: leave the last bytes out.
        let text = &buffer[..buffer.len() - LOOK_BACK];
        let mut first = if self.tagged { Untagged::Game(self.moves) } else { untagged(text, self.moves) };
        let mut found = false;
        while let Untagged::Game(at) = first {
            let Untagged::Game(next) = behind_game(text, at) else { break };
            self.segments.push(Segment { start: self.start, moves: self.moves, end: next, tagged: self.tagged });
            (self.start, self.moves, self.tagged, self.at) = (next, next, false, next);
            self.mode = Mode::Moves;
            self.split_tried = 0;
            found = true;
            first = Untagged::Game(next);
        }
        found
    }
}

enum Step {
    /// Something was read; go on.
    On,
    /// The buffer ends before it can be told what comes.
    Short,
    /// The overlong segment ends here.
    Ended(usize),
}

const LONGEST_TAG_LINE: usize = 1 << 16;

/// The first `%` at the start of a line in the text from `from` to `to`.
fn escape_line(buffer: &[u8], from: usize, to: usize) -> Option<usize> {
    let mut at = from;
    while let Some(step) = memchr(b'%', &buffer[at..to]) {
        at += step;
        if at == 0 || is_line_end(buffer[at - 1]) {
            return Some(at);
        }
        at += 1;
    }
    None
}

/// Whether the line before the one that starts at `line` is blank.
pub(super) fn follows_blank_line(buffer: &[u8], line: usize) -> bool {
    let floor = line.saturating_sub(LOOK_BACK);
    let mut ends = 0;
    let mut at = line;
    while at > floor {
        at -= 1;
        match buffer[at] {
            b'\n' if at > floor && buffer[at - 1] == b'\r' => {
                at -= 1;
                ends += 1;
            }
            b'\n' | b'\r' => ends += 1,
            byte if is_blank(byte) => {}
            _ => return false,
        }
        if ends == 2 {
            return true;
        }
    }
    false
}
