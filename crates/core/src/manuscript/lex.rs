//! Bytes to tokens. Knows nothing of chess; every byte that is not blank ends up in exactly one token.

use memchr::memchr;

use crate::section::starts_section;

use super::section::{CommentEnd, CommentEnds, is_blank, line_end, read_tag};
use super::sign::{nag_of_marks, split_sign};
use super::token::{GameResult, TagFlaw, TagParts, TokenKind, Tokens};

/// Splits a text into tokens. Runs in time linear in the text, whatever stands in it.
#[must_use]
pub fn tokenize(text: &[u8]) -> Tokens {
    let mut lexer = Lexer {
        text,
        at: 0,
        tokens: Tokens::default(),
        comments: CommentEnds::new(text),
        line: 0,
        next: [0; 2],
        torn_line: 0,
    };
    while lexer.skip_gap() {
        lexer.token();
    }
    lexer.tokens
}

const BYTE_ORDER_MARK: &[u8] = b"\xef\xbb\xbf";
const NO_BREAK_SPACE: &[u8] = b"\xc2\xa0";
/// No character of UTF-8 starts with it.
const NO_BREAK_SPACE_CP1252: u8 = 0xa0;
const ELLIPSIS: &[u8] = b"\xe2\x80\xa6";

struct Lexer<'a> {
    text: &'a [u8],
    at: usize,
    tokens: Tokens,
    comments: CommentEnds<'a>,
    line: usize,      // end of the line last asked for
    next: [usize; 2], // the first `]` and `>` of that line behind the place last asked about, or its end
    torn_line: usize, // up to here no tag is closed
}

/// What closes a part of a line.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Close {
    Bracket = 0,
    Angle = 1,
}

impl Lexer<'_> {
    fn rest(&self) -> &[u8] {
        &self.text[self.at..]
    }

    fn push(&mut self, kind: TokenKind, end: usize, value: u16) {
        self.tokens.push(kind, self.at, end, value);
        self.at = end;
    }

    /// Moves to the next token; `false` at the end of the text.
    fn skip_gap(&mut self) -> bool {
        loop {
            match self.rest() {
                [] => return false,
                [byte, ..] if is_blank(*byte) => self.at += 1,
                rest if rest.starts_with(BYTE_ORDER_MARK) => self.at += BYTE_ORDER_MARK.len(),
                rest if rest.starts_with(NO_BREAK_SPACE) => self.at += NO_BREAK_SPACE.len(),
                [NO_BREAK_SPACE_CP1252, ..] => self.at += 1,
                _ => return true,
            }
        }
    }

    fn at_line_start(&self) -> bool {
        let before = &self.text[..self.at];
        let before = before.strip_suffix(BYTE_ORDER_MARK).unwrap_or(before);
        matches!(before.last(), None | Some(b'\n' | b'\r'))
    }

    fn token(&mut self) {
        let next = self.at + 1;
        match self.text[self.at] {
            b'{' => match self.comments.find(self.at) {
                CommentEnd::Closed(end) => self.push(TokenKind::Comment, end, 0),
                CommentEnd::Torn(end) => {
                    let end = self.at + self.text[self.at..end].trim_ascii_end().len();
                    self.tokens.unclosed.push(self.tokens.len() as u32);
                    self.push(TokenKind::Comment, end, 0);
                }
            },
            b';' => self.push(TokenKind::LineComment, line_end(self.text, next), 0),
            b'%' if self.at_line_start() => self.push(TokenKind::EscapeLine, line_end(self.text, next), 0),
            b'(' => self.push(TokenKind::Open, next, 0),
            b')' => self.push(TokenKind::Close, next, 0),
            b'*' => self.push(TokenKind::Result, next, GameResult::Open as u16),
            b'[' => self.bracket(),
            b'<' => self.reserved(),
            b'$' => self.nag(),
            b'!' | b'?' => self.marks(),
            b'}' | b']' | b'>' => self.push(TokenKind::Stray, next, 0),
            _ => self.word(),
        }
    }

    /// The end of the line and the first `close` in it. Lines may be as long as the text: what is found is kept.
    fn line_and(&mut self, close: Close) -> (usize, Option<usize>) {
        if self.line <= self.at {
            self.line = line_end(self.text, self.at);
        }
        let next = &mut self.next[close as usize];
        if *next <= self.at {
            let byte = if close == Close::Bracket { b']' } else { b'>' };
            *next = memchr(byte, &self.text[self.at..self.line]).map_or(self.line, |length| self.at + length);
        }
        (self.line, Some(*next).filter(|next| *next < self.line))
    }

    fn bracket(&mut self) {
        let (line, close) = self.line_and(Close::Bracket);
        let line_start = self.at_line_start();
        let opens_section = line_start && starts_section(&self.text[self.at..line]).is_some();
        if self.at >= self.torn_line
            && let Some(tag) = read_tag(self.text, self.at)
        {
            if opens_section || tag.flaw != TagFlaw::Unclosed {
                let token = self.tokens.len() as u32;
                self.tokens.tags.push(TagParts {
                    token,
                    name: tag.name,
                    value: tag.value,
                    flaw: tag.flaw,
                    opens_section,
                });
                return self.push(TokenKind::Tag, tag.end, 0);
            }
            self.torn_line = tag.end; // no tag up to there has an end
        }
        let close = close.map(|close| close + 1);
        if line_start {
            let trimmed = self.at + self.text[self.at..line].trim_ascii_end().len();
            self.push(TokenKind::BadTag, close.unwrap_or(trimmed), 0);
        } else {
            self.push(TokenKind::Stray, close.unwrap_or(self.at + 1), 0);
        }
    }

    fn reserved(&mut self) {
        match self.line_and(Close::Angle).1 {
            Some(close) => self.push(TokenKind::Reserved, close + 1, 0),
            None => self.push(TokenKind::Stray, self.at + 1, 0),
        }
    }

    fn nag(&mut self) {
        let digits = self.rest()[1..].iter().take_while(|byte| byte.is_ascii_digit()).count();
        let end = self.at + 1 + digits;
        if digits == 0 {
            self.push(TokenKind::Stray, end, 0);
        } else {
            self.push(TokenKind::Nag, end, number(&self.text[self.at + 1..end]));
        }
    }

    fn marks(&mut self) {
        let length = self.rest().iter().take_while(|byte| matches!(byte, b'!' | b'?')).count();
        match nag_of_marks(&self.rest()[..length]) {
            Some(nag) => self.push(TokenKind::Sign, self.at + length, nag),
            None => self.push(TokenKind::Stray, self.at + length, 0),
        }
    }

    /// A number, a move, a result, a sign, or anything else up to the next separator.
    fn word(&mut self) {
        let end = self.word_end();
        let word = &self.text[self.at..end];
        if let Some(result) = result_of(word) {
            return self.push(TokenKind::Result, end, result as u16);
        }
        if let Some(length) = number_length(word) {
            let digits = word.iter().take_while(|byte| byte.is_ascii_digit()).count();
            return self.push(TokenKind::Number, self.at + length, number(&word[..digits]));
        }
        let sign = split_sign(word);
        let length = sign.map_or(word.len(), |(length, _)| length);
        if length > 0 {
            self.push(TokenKind::Move, self.at + length, 0);
        }
        if let Some((_, nag)) = sign {
            self.push(TokenKind::Sign, end, nag);
        }
    }

    fn word_end(&self) -> usize {
        let mut end = self.at;
        while let Some(&byte) = self.text.get(end) {
            match byte {
                b')' | b'{' | b'}' | b';' | b'[' | b']' | b'<' | b'>' | b'$' | b'!' | b'?' | b'*' => break,
                b'(' => match self.text[end..] {
                    // `c1(N)` is a promotion.
                    [_, b'N' | b'B' | b'R' | b'Q' | b'n' | b'b' | b'r' | b'q', b')', ..]
                        if matches!(self.text[self.at..end], [.., b'1' | b'8'] | [.., b'1' | b'8', b'=']) =>
                    {
                        end += 2;
                    }
                    _ => break,
                },
                0xc2 if self.text[end..].starts_with(NO_BREAK_SPACE) => break,
                NO_BREAK_SPACE_CP1252 if self.text[self.at..end].is_ascii() => break,
                _ if is_blank(byte) => break,
                _ => {}
            }
            end += 1;
        }
        end
    }
}

fn result_of(word: &[u8]) -> Option<GameResult> {
    match word[0] {
        b'0' | b'1' | 0xc2 | 0xbd => GameResult::lenient(word),
        _ => None,
    }
}

/// How much of a word is a move number with its dots, or dots alone; `None` if it does not start with one.
fn number_length(word: &[u8]) -> Option<usize> {
    let digits = word.iter().take_while(|byte| byte.is_ascii_digit()).count();
    if word[0] == b'0' && word.iter().filter(|byte| **byte == b'0').count() > 1 {
        return None; // castling with zeros, or the null move of UCI
    }
    let mut length = digits;
    loop {
        if word[length..].starts_with(b".") {
            length += 1;
        } else if word[length..].starts_with(ELLIPSIS) {
            length += ELLIPSIS.len();
        } else {
            return (length > 0).then_some(length);
        }
    }
}

/// The value of a run of digits; what is too large becomes the largest.
fn number(digits: &[u8]) -> u16 {
    digits.iter().fold(0, |value: u16, digit| value.saturating_mul(10).saturating_add(u16::from(digit - b'0')))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn words(text: &str) -> Vec<(TokenKind, &str, u16)> {
        let tokens = tokenize(text.as_bytes());
        (0..tokens.len())
            .map(|i| {
                let span = tokens.span[i];
                (tokens.kind[i], &text[span.start as usize..span.end as usize], tokens.value[i])
            })
            .collect()
    }

    #[test]
    fn glued_and_spaced_writings() {
        use TokenKind::{Comment, LineComment, Move, Nag, Number, Result, Sign, Stray};
        assert_eq!(
            words("1.e4!?$14 1...e5 2 Nf3 2. ... exd6e.p.+{a}b8(Q)+;c\n0-0 O-O-O½-½"),
            [
                (Number, "1.", 1),
                (Move, "e4", 0),
                (Sign, "!?", 5),
                (Nag, "$14", 14),
                (Number, "1...", 1),
                (Move, "e5", 0),
                (Number, "2", 2),
                (Move, "Nf3", 0),
                (Number, "2.", 2),
                (Number, "...", 0),
                (Move, "exd6e.p.+", 0),
                (Comment, "{a}", 0),
                (Move, "b8(Q)+", 0),
                (LineComment, ";c", 0),
                (Move, "0-0", 0),
                (Move, "O-O-O½-½", 0),
            ]
        );
        assert_eq!(
            words("1-0 0-1 1/2 ½–½ * 0-0-0 1… Nf3+- 0000 -- Z0 $ !!! 70000."),
            [
                (Result, "1-0", 1),
                (Result, "0-1", 2),
                (Result, "1/2", 3),
                (Result, "½–½", 3),
                (Result, "*", 0),
                (Move, "0-0-0", 0),
                (Number, "1…", 1),
                (Move, "Nf3", 0),
                (Sign, "+-", 18),
                (Move, "0000", 0),
                (Move, "--", 0),
                (Move, "Z0", 0),
                (Stray, "$", 0),
                (Stray, "!!!", 0),
                (Number, "70000.", u16::MAX),
            ]
        );
    }

    #[test]
    fn escape_lines_start_a_line() {
        use TokenKind::{EscapeLine, Move};
        assert_eq!(
            words("% a\re4 %\n%b"),
            [(EscapeLine, "% a", 0), (Move, "e4", 0), (Move, "%", 0), (EscapeLine, "%b", 0)]
        );
    }

    /// Pieces of PGN, ugly ones included, in any order.
    fn ugly() -> impl Strategy<Value = Vec<u8>> {
        let piece = prop_oneof![
            proptest::sample::select(vec![
                "{",
                "}",
                "(",
                ")",
                "[",
                "]",
                "<",
                ">",
                ";",
                "%",
                "$",
                "$1",
                "!",
                "?",
                "\"",
                "\\",
                "\n",
                "\r",
                "\r\n",
                " ",
                ".",
                "1.",
                "e4",
                "e5",
                "Nf3",
                "O-O",
                "0-0",
                "--",
                "*",
                "1-0",
                "1/2",
                "½",
                "…",
                "\u{feff}",
                "\u{a0}",
                "\0",
                "c1(N)",
                "\n[Event \"x\"]\n",
                "\n\n[Event \"y\"]\n[Site \"z\"]\n",
                "[Date\"",
                "+-",
                "±",
                "=",
                "x",
                "é",
            ])
            .prop_map(|text| text.as_bytes().to_vec()),
            proptest::collection::vec(any::<u8>(), 1..4),
        ];
        proptest::collection::vec(piece, 0..60).prop_map(|pieces| pieces.concat())
    }

    fn is_gap(mut bytes: &[u8]) -> bool {
        loop {
            bytes = match bytes {
                [] => return true,
                [0xef, 0xbb, 0xbf, rest @ ..] | [0xc2, 0xa0, rest @ ..] | [0xa0 | 0..=0x20, rest @ ..] => rest,
                _ => return false,
            }
        }
    }

    proptest! {
        #[test]
        fn tokens_and_gaps_are_the_text(text in ugly()) {
            let tokens = tokenize(&text);
            let mut written: Vec<u8> = Vec::new();
            let mut at = 0;
            for span in &tokens.span {
                let (start, end) = (span.start as usize, span.end as usize);
                prop_assert!(at <= start && start < end, "tokens overlap or are empty");
                prop_assert!(is_gap(&text[at..start]), "text between tokens: {:?}", &text[at..start]);
                written.extend(&text[at..start]);
                written.extend(span.of(&text));
                at = end;
            }
            prop_assert!(is_gap(&text[at..]), "text behind the last token: {:?}", &text[at..]);
            written.extend(&text[at..]);
            prop_assert_eq!(written, text);
        }
    }
}
