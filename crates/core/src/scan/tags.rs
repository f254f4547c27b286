//! The tag section of one game: lenient about layout, quotes and backslashes; what a filter needs from it.

use crate::section::is_name;
use std::borrow::Cow;

use super::text::{is_blank, line_end};

/// One tag pair as it stands in the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pair<'a> {
    /// Name of the tag.
    pub name: &'a [u8],
    /// The value between the quotes, not yet unescaped.
    pub value: &'a [u8],
    /// Whether quote and bracket close it.
    pub closed: bool,
}

/// The tag pairs of a text, in order; ends at the first thing that is none. `rest` is where that is.
#[derive(Debug, Clone)]
pub struct Pairs<'a> {
    text: &'a [u8],
    /// Everything before this index was read.
    pub rest: usize,
}

impl<'a> Pairs<'a> {
    /// Reads from the start of `text`.
    #[must_use]
    pub fn of(text: &'a [u8]) -> Pairs<'a> {
        Pairs { text, rest: 0 }
    }

    /// The index of the first byte from `at` on that is not blank.
    fn past_blank(&self, at: usize) -> usize {
        self.text[at..].iter().position(|&byte| !is_blank(byte)).map_or(self.text.len(), |step| at + step)
    }

    /// Skips what may stand between two tag pairs: blank space, a byte order mark, escape lines, line comments.
    fn past_gap(&self, mut at: usize) -> usize {
        loop {
            at = self.past_blank(at);
            match self.text[at..] {
                [b'%' | b';', ..] => at = line_end(self.text, at),
                [0xef, 0xbb, 0xbf, ..] => at += 3,
                _ => return at,
            }
        }
    }

    fn read(&mut self) -> Option<Pair<'a>> {
        let open = self.past_gap(self.rest);
        if self.text.get(open) != Some(&b'[') {
            self.rest = open;
            return None;
        }
        let name_start = self.past_blank(open + 1);
        let name_length = self.text[name_start..].iter().position(|&byte| !is_name(byte)).unwrap_or(0);
        let name = &self.text[name_start..name_start + name_length];
        let quote = self.past_blank(name_start + name_length);
        if name.is_empty() || self.text.get(quote) != Some(&b'"') {
            self.rest = open;
            return None;
        }
        let start = quote + 1;
        let (length, closed) = value_length(&self.text[start..line_end(self.text, start)]);
        let value = &self.text[start..start + length];
        self.rest = line_end(self.text, start);
        if closed {
            // The bracket may stand on a later line.
            let bracket = self.past_blank(start + length + 1);
            if self.text.get(bracket) == Some(&b']') {
                self.rest = bracket + 1;
                return Some(Pair { name, value, closed: true });
            }
            self.rest = start + length + 1;
        }
        Some(Pair { name, value, closed: false })
    }
}

impl<'a> Iterator for Pairs<'a> {
    type Item = Pair<'a>;

    fn next(&mut self) -> Option<Pair<'a>> {
        self.read()
    }
}

/// How long the value is in `line`, the rest of a line behind the opening quote, and whether a quote closes it.
///
/// Quotes inside a value should be escaped and often are not, and a backslash at its end is often meant as one: the
/// value ends at the first quote that a bracket follows, unless that quote is escaped and text goes on behind.
fn value_length(line: &[u8]) -> (usize, bool) {
    let mut last_quote = None;
    for at in memchr::memchr_iter(b'"', line) {
        let escaped = line[..at].iter().rev().take_while(|&&byte| byte == b'\\').count() % 2 == 1;
        let behind = line[at + 1..].trim_ascii_start();
        match behind {
            [b']', after @ ..] if !escaped || matches!(after.trim_ascii_start(), [] | [b'[', ..]) => {
                return (at, true);
            }
            [] if !escaped => last_quote = Some(at), // the bracket may be on the next line
            _ => {}
        }
    }
    match last_quote {
        Some(at) => (at, true),
        None => (line.trim_ascii_end().strip_suffix(b"]").unwrap_or(line.trim_ascii_end()).len(), false),
    }
}

/// A value with its escapes (`\"` and `\\`) undone; other backslashes stand for themselves. NUL bytes are left out.
#[must_use]
pub fn unescaped(value: &[u8]) -> Cow<'_, [u8]> {
    if memchr::memchr2(b'\\', 0, value).is_none() {
        return Cow::Borrowed(value);
    }
    let mut plain = Vec::with_capacity(value.len());
    let mut rest = value.iter().copied().peekable();
    while let Some(byte) = rest.next() {
        match byte {
            0 => {}
            b'\\' => plain.push(rest.next_if(|next| matches!(next, b'"' | b'\\')).unwrap_or(b'\\')),
            _ => plain.push(byte),
        }
    }
    Cow::Owned(plain)
}

/// Where the tag pairs of a line that starts with a bracket end, as an index into the line.
///
/// The usual line is one pair and nothing else; that is seen without reading it.
#[must_use]
pub fn pairs_end(line: &[u8]) -> usize {
    let trimmed = line.trim_ascii_end();
    if trimmed.ends_with(b"\"]") && memchr::memchr(b'{', trimmed).is_none() {
        return line.len();
    }
    let mut pairs = Pairs::of(line);
    while pairs.next().is_some() {}
    pairs.rest
}

/// What the scan wants to know from the tags. The first value of a tag given twice stands; unescape before use.
#[derive(Debug, Clone, Copy, Default)]
#[allow(missing_docs, reason = "each field is the tag of its name")]
pub struct Tags<'a> {
    pub event: &'a [u8],
    pub site: &'a [u8],
    pub date: &'a [u8],
    pub white: &'a [u8],
    pub black: &'a [u8],
    pub result: &'a [u8],
    pub white_elo: &'a [u8],
    pub black_elo: &'a [u8],
    pub time_control: &'a [u8],
    pub variant: &'a [u8],
    pub fen: Option<&'a [u8]>,
    /// The last pair has no end: the text was cut.
    pub torn: bool,
}

impl<'a> Tags<'a> {
    /// Reads a tag section.
    #[must_use]
    pub fn read(section: &'a [u8]) -> Tags<'a> {
        let mut tags = Tags::default();
        let mut seen = 0u32;
        for Pair { name, value, closed } in Pairs::of(section) {
            tags.torn = !closed;
            let (bit, place) = match name {
                b"Event" => (0, &mut tags.event),
                b"Site" => (1, &mut tags.site),
                b"Date" => (2, &mut tags.date),
                b"White" => (3, &mut tags.white),
                b"Black" => (4, &mut tags.black),
                b"Result" => (5, &mut tags.result),
                b"WhiteElo" => (6, &mut tags.white_elo),
                b"BlackElo" => (7, &mut tags.black_elo),
                b"TimeControl" => (8, &mut tags.time_control),
                b"Variant" => (9, &mut tags.variant),
                b"FEN" => (10, tags.fen.get_or_insert(value)),
                _ => continue,
            };
            if seen & 1 << bit == 0 {
                seen |= 1 << bit;
                *place = value;
            }
        }
        tags
    }

    /// The date as `yyyymmdd` with 0 for each part that is not known; 0 when the year is not.
    #[must_use]
    pub fn day(&self) -> u32 {
        let mut parts = self.date.split(|byte| matches!(byte, b'.' | b'-' | b'/')).map(number);
        let mut part = |most: u32| parts.next().flatten().filter(|&value| value <= most).unwrap_or(0);
        let (year, month, day) = (part(9999), part(12), part(31));
        match (year, month) {
            (0, _) => 0,
            (_, 0) => year * 10_000,
            _ => year * 10_000 + month * 100 + day,
        }
    }

    /// Ratings of White and Black, 0 where not known.
    #[must_use]
    pub fn ratings(&self) -> [u16; 2] {
        [self.white_elo, self.black_elo].map(|text| {
            let digits = text.trim_ascii();
            let digits = &digits[..digits.iter().position(|byte| !byte.is_ascii_digit()).unwrap_or(digits.len())];
            number(digits).filter(|&value| value <= 9999).map_or(0, |value| value as u16)
        })
    }

    /// The pace of the game, by its time control.
    #[must_use]
    pub fn pace(&self) -> Pace {
        Pace::of(self.time_control)
    }
}

fn number(text: &[u8]) -> Option<u32> {
    std::str::from_utf8(text.trim_ascii()).ok()?.parse().ok()
}

/// Pace of play: thinking time for 60 moves, by the FIDE Laws of Chess (2023), appendices A.1 and B.1: blitz up to
/// 10 minutes, rapid more than that and less than 60, classical from 60 minutes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[repr(u8)]
pub enum Pace {
    /// No time control is given, or none that can be read.
    #[default]
    Unknown = 0,
    /// From 60 minutes on.
    Classical = 1,
    /// Between 10 and 60 minutes.
    Rapid = 2,
    /// Up to 10 minutes.
    Blitz = 3,
}

impl Pace {
    /// From the value of a `TimeControl` tag (PGN standard, 9.6.1): periods `moves/seconds` or `seconds`, each with
    /// an optional `+increment`, joined by colons; `*seconds` is a sandclock.
    #[must_use]
    pub fn of(time_control: &[u8]) -> Pace {
        match seconds_for_sixty_moves(time_control.trim_ascii()) {
            None | Some(0) => Pace::Unknown,
            Some(..=600) => Pace::Blitz,
            Some(..3600) => Pace::Rapid,
            Some(_) => Pace::Classical,
        }
    }
}

fn seconds_for_sixty_moves(control: &[u8]) -> Option<u64> {
    let (mut left, mut total) = (60, 0);
    let mut periods = control.split(|&byte| byte == b':').peekable();
    while let Some(period) = periods.next() {
        let period = period.strip_prefix(b"*").unwrap_or(period);
        let (period, increment) = match period.iter().position(|&byte| byte == b'+') {
            Some(at) => (&period[..at], u64::from(number(&period[at + 1..])?)),
            None => (period, 0),
        };
        let (moves, base) = match period.iter().position(|&byte| byte == b'/') {
            Some(at) => (u64::from(number(&period[..at])?).max(1), u64::from(number(&period[at + 1..])?)),
            None => (left, u64::from(number(period)?)),
        };
        // The last period is played again as often as needed.
        let times = if periods.peek().is_none() { u64::div_ceil(left, moves.max(1)) } else { 1 };
        total += base * times + increment * left.min(moves * times);
        left = left.saturating_sub(moves * times);
        if left == 0 {
            break;
        }
    }
    Some(total)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn values(text: &[u8]) -> Vec<(String, String, bool)> {
        let show = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        Pairs::of(text).map(|pair| (show(pair.name), show(&unescaped(pair.value)), pair.closed)).collect()
    }

    fn one(text: &[u8]) -> (String, bool) {
        let all = values(text);
        assert_eq!(all.len(), 1, "{all:?}");
        (all[0].1.clone(), all[0].2)
    }

    #[test]
    fn quotes_and_backslashes() {
        assert_eq!(one(br#"[Event "The "Big" Open"]"#), (r#"The "Big" Open"#.into(), true));
        assert_eq!(one(br#"[Event "Club \"A\" \\ Cup"]"#), (r#"Club "A" \ Cup"#.into(), true));
        assert_eq!(one(br#"[Site "C:\games\"]"#), (r"C:\games\".into(), true));
        assert_eq!(one(br#"[Site "]"]"#), ("]".into(), true));
        assert_eq!(one(br#"[Event "Cut o"#), ("Cut o".into(), false));
        assert_eq!(one(br#"[Event "no quote]"#), ("no quote".into(), false));
        assert_eq!(one(br#"[Event ""]"#), (String::new(), true));
    }

    #[test]
    fn layout_is_free() {
        let text = b"[\nEvent\n\"A\"\n] [ Site \"B\" ]\n[Date\"C\"][Round   \"1\"]\n% [X \"y\"]\n[White \"D\"] 1. e4";
        let names: Vec<String> = values(text).into_iter().map(|(name, value, _)| name + "=" + &value).collect();
        assert_eq!(names, ["Event=A", "Site=B", "Date=C", "Round=1", "White=D"]);
    }

    #[test]
    fn the_end_of_the_pairs_in_a_line() {
        for (line, tags) in [
            (&b"[A \"x\"]"[..], &b"[A \"x\"]"[..]),
            (b"[A \"x\"] [B \"y\"]  ", b"[A \"x\"] [B \"y\"]  "),
            (b"[A \"x\"] 1. e4 {[%clk 1]}", b"[A \"x\"] "),
            (b"[A \"{x} 1.5\"]", b"[A \"{x} 1.5\"]"),
            (b"[A \"cut", b"[A \"cut"),
        ] {
            assert_eq!(&line[..pairs_end(line)], tags, "{}", String::from_utf8_lossy(line));
        }
    }

    #[test]
    fn days_and_ratings() {
        let day = |date: &str| Tags { date: date.as_bytes(), ..Tags::default() }.day();
        assert_eq!(day("2024.03.05"), 20_240_305);
        assert_eq!(day("2024.??.??"), 20_240_000);
        assert_eq!(day("2024.03.??"), 20_240_300);
        assert_eq!(day("????.03.05"), 0);
        assert_eq!(day("2024-03-05"), 20_240_305);
        assert_eq!(day(""), 0);
        let tags = Tags { white_elo: b"2450", black_elo: b"?", ..Tags::default() };
        assert_eq!(tags.ratings(), [2450, 0]);
    }

    #[test]
    fn paces_of_the_fide_laws() {
        // FIDE Laws of Chess in force from 2023, appendices A.1 and B.1: base time plus 60 times the increment.
        for (control, pace) in [
            ("600", Pace::Blitz),
            ("180+2", Pace::Blitz),
            ("300+5", Pace::Blitz),
            ("601", Pace::Rapid),
            ("900+10", Pace::Rapid),
            ("3599", Pace::Rapid),
            ("3600", Pace::Classical),
            ("5400+30", Pace::Classical),
            ("40/7200:3600", Pace::Classical),
            ("40/1200", Pace::Rapid),
            ("*180", Pace::Blitz),
            ("-", Pace::Unknown),
            ("?", Pace::Unknown),
            ("", Pace::Unknown),
            ("1/86400", Pace::Classical),
        ] {
            assert_eq!(Pace::of(control.as_bytes()), pace, "{control}");
        }
    }
}
