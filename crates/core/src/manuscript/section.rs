//! How a tag pair is read, and where a comment ends that nobody closed.

use memchr::{memchr, memchr2, memmem};

use crate::section::{is_name, starts_section};

use super::token::{Span, TagFlaw};

/// Whether the byte separates tokens: blanks, line breaks and control characters.
pub(super) const fn is_blank(byte: u8) -> bool {
    byte <= b' '
}

/// The end of the line that holds `at`, before its line break (LF, CR LF, or CR alone).
pub(super) fn line_end(text: &[u8], at: usize) -> usize {
    memchr2(b'\n', b'\r', &text[at..]).map_or(text.len(), |length| at + length)
}

/// The start of the line after the one that ends at `end`.
fn next_line(text: &[u8], end: usize) -> usize {
    match text[end..] {
        [b'\r', b'\n', ..] => end + 2,
        [_, ..] => end + 1,
        [] => end,
    }
}

fn skip_blanks(text: &[u8], mut at: usize) -> usize {
    while text.get(at).is_some_and(|byte| is_blank(*byte)) {
        at += 1;
    }
    at
}

fn name_length(text: &[u8]) -> usize {
    text.iter().take_while(|byte| is_name(**byte)).count()
}

/// A tag pair as found.
pub(super) struct ReadTag {
    pub(super) end: usize,
    pub(super) name: Span,
    pub(super) value: Span,
    pub(super) flaw: TagFlaw,
}

/// Reads the tag pair at the opening bracket `at`, in any layout; `None` when it is none.
pub(super) fn read_tag(text: &[u8], at: usize) -> Option<ReadTag> {
    let name_start = skip_blanks(text, at + 1);
    let name_end = name_start + name_length(&text[name_start..]);
    let quote = skip_blanks(text, name_end);
    if name_start == name_end || text.get(quote) != Some(&b'"') {
        return None;
    }
    let start = quote + 1;
    let line = line_end(text, start);
    let (value_end, end, flaw) = read_value(text, start, line);
    Some(ReadTag { end, name: Span::new(name_start, name_end), value: Span::new(start, value_end), flaw })
}

/// The end of the value, the end of the tag, and what is wrong. The value stays on its line.
fn read_value(text: &[u8], start: usize, line: usize) -> (usize, usize, TagFlaw) {
    let mut flaw = TagFlaw::None;
    let mut escaped_close = None; // `\"]`: a backslash that was not meant as an escape
    let mut last_quote = None;
    let mut at = start;
    while at < line {
        match text[at] {
            b'\\' if at + 1 < line && matches!(text[at + 1], b'"' | b'\\') => {
                if text[at + 1] == b'"' && escaped_close.is_none() {
                    escaped_close = closing_bracket(&text[..line], at + 2).map(|end| (at + 1, end));
                }
                at += 1;
            }
            b'"' => {
                if let Some(end) = closing_bracket(text, at + 1) {
                    return (at, end, flaw);
                }
                flaw = TagFlaw::Quote;
                last_quote = Some(at);
            }
            _ => {}
        }
        at += 1;
    }
    if let Some((value_end, end)) = escaped_close {
        return (value_end, end, TagFlaw::Quote);
    }
    let end = start + text[start..line].trim_ascii_end().len();
    let value_end = match last_quote {
        Some(quote) if quote + 1 == end => quote,
        _ => start + text[start..end].strip_suffix(b"]").map_or(end - start, <[u8]>::len),
    };
    (value_end, end, TagFlaw::Unclosed)
}

fn closing_bracket(text: &[u8], after_quote: usize) -> Option<usize> {
    let at = skip_blanks(text, after_quote);
    (text.get(at) == Some(&b']')).then_some(at + 1)
}

/// Finds the ends of brace comments. A comment that nobody closed ends where the next game evidently starts: at a line
/// that could open a tag section, whose name is Event and which follows a blank line or is followed by a second such
/// line. A closing brace behind that line counts only if no other comment was opened in between.
pub(super) struct CommentEnds<'a> {
    text: &'a [u8],
    event: memmem::Finder<'static>,
    next_close: usize, // offset of the first `}` at or behind the last place asked about
}

pub(super) enum CommentEnd {
    /// Closed; the offset behind the brace.
    Closed(usize),
    /// Not closed; the offset of the next game, or of the end.
    Torn(usize),
}

impl<'a> CommentEnds<'a> {
    pub(super) fn new(text: &'a [u8]) -> CommentEnds<'a> {
        CommentEnds { text, event: memmem::Finder::new(b"[Event"), next_close: 0 }
    }

    /// The end of the comment that opens at `open`. Calls must come in rising order: each part of the text is then
    /// searched a constant number of times.
    pub(super) fn find(&mut self, open: usize) -> CommentEnd {
        let start = open + 1;
        if self.next_close < start {
            self.next_close = memchr(b'}', &self.text[start..]).map_or(self.text.len(), |length| start + length);
        }
        let close = self.next_close;
        if let Some(game) = self.next_game(start, close)
            && (close == self.text.len() || memchr(b'{', &self.text[game..close]).is_some())
        {
            return CommentEnd::Torn(game);
        }
        if close == self.text.len() { CommentEnd::Torn(close) } else { CommentEnd::Closed(close + 1) }
    }

    fn next_game(&self, start: usize, end: usize) -> Option<usize> {
        self.event.find_iter(&self.text[start..end]).map(|at| start + at).find(|at| self.opens_game(*at))
    }

    fn opens_game(&self, at: usize) -> bool {
        let before = &self.text[..at];
        if !matches!(before.last(), Some(b'\n' | b'\r')) {
            return false;
        }
        let end = line_end(self.text, at);
        if starts_section(&self.text[at..end]) != Some(b"Event") {
            return false;
        }
        let line_break = if before.ends_with(b"\r\n") { 2 } else { 1 };
        let blanks_before = before[..at - line_break].iter().rev().find(|byte| !matches!(byte, b' ' | b'\t'));
        let second = next_line(self.text, end);
        matches!(blanks_before, Some(b'\n' | b'\r')) || starts_section(&self.text[second..]).is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tag(text: &[u8]) -> Option<(&[u8], &[u8], TagFlaw)> {
        read_tag(text, 0).map(|tag| (tag.name.of(text), tag.value.of(text), tag.flaw))
    }

    #[test]
    fn tag_pairs_in_every_writing() {
        use TagFlaw::{None as Fine, Quote, Unclosed};
        type Case = (&'static [u8], &'static [u8], &'static [u8], TagFlaw);
        let cases: [Case; 12] = [
            (b"[Event \"x\"]", b"Event", b"x", Fine),
            (b"[\nEvent\n\"x y\"\n]", b"Event", b"x y", Fine),
            (b"[Date\"2024\"]", b"Date", b"2024", Fine),
            (br#"[Event "a \"b\" \\ c"]"#, b"Event", br#"a \"b\" \\ c"#, Fine),
            (br#"[Event "The "Big" Open"]"#, b"Event", br#"The "Big" Open"#, Quote),
            (br#"[Event "a "b""]"#, b"Event", br#"a "b""#, Quote),
            (br#"[Site "C:\games\"]"#, b"Site", br"C:\games\", Quote),
            (b"[Event \"cut o", b"Event", b"cut o", Unclosed),
            (b"[Event \"x\"", b"Event", b"x", Unclosed),
            (b"[Event \"x]  \n", b"Event", b"x", Unclosed),
            (b"[Event \"\"]", b"Event", b"", Fine),
            (b"[Event \"", b"Event", b"", Unclosed),
        ];
        for (text, name, value, flaw) in cases {
            let found = tag(text).expect("a tag");
            assert_eq!(found, (name, value, flaw), "{:?}", String::from_utf8_lossy(text));
        }
        for text in [&b"[%clk 1:30]"[..], b"[White Elo \"2\"]", b"[]", b"[", b"[Event]"] {
            assert!(tag(text).is_none(), "{:?}", String::from_utf8_lossy(text));
        }
    }

    #[test]
    fn torn_comments_end_at_the_next_game() {
        // (text, where the comment at 0 ends, whether it is closed)
        let quoted = b"{x\n\n[Event \"a\"]\n[Site \"b\"]\n} e5 {y}";
        let cases: [(&[u8], usize, bool); 9] = [
            (b"{a} b}", 3, true),
            (b"{a", 2, false),
            (quoted, 28, true),
            (b"{x\n\n[Event \"a\"]\n1. e4 {y}", 4, false),
            (b"{x\n\n[Event \"a\"]\n1. e4", 4, false),
            (b"{x\r\n[Event \"a\"]\r\n[Site \"b\"] {y}", 4, false),
            (b"{x\n[Event \"a\"]\n\n1. e4", 22, false), // neither a blank line before nor a tag line after
            (b"{x\n\n[Site \"a\"]\n[Round \"b\"]\n", 29, false),
            (b"{x\n\n [Event \"a\"]\n[Round \"b\"]\n", 31, false),
        ];
        for (text, end, closed) in cases {
            let found = match CommentEnds::new(text).find(0) {
                CommentEnd::Closed(end) => (end, true),
                CommentEnd::Torn(end) => (end, false),
            };
            assert_eq!(found, (end.min(text.len()), closed), "{:?}", String::from_utf8_lossy(text));
        }
    }
}
