//! Movetext of one game, for a reader of main lines: comments, variations, numbers and glyphs are stepped over.

use super::text::{is_blank, is_line_end, line_end};

/// How a game ended, as the store writes it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[repr(u8)]
pub enum GameResult {
    /// `*`, or nothing said.
    #[default]
    Open = 0,
    /// `1-0`
    White = 1,
    /// `0-1`
    Black = 2,
    /// `1/2-1/2`
    Draw = 3,
}

impl GameResult {
    /// The result that `text` starts with and its length.
    fn at_start(text: &[u8]) -> Option<(GameResult, usize)> {
        const MARKERS: [(&[u8], GameResult); 8] = [
            (b"*", GameResult::Open),
            (b"1-0", GameResult::White),
            (b"0-1", GameResult::Black),
            (b"1/2-1/2", GameResult::Draw),
            (b"1/2", GameResult::Draw),
            ("½-½".as_bytes(), GameResult::Draw),
            (b"\xbd-\xbd", GameResult::Draw), // the same in CP1252
            ("½".as_bytes(), GameResult::Draw),
        ];
        let (marker, result) = MARKERS.iter().find(|(marker, _)| text.starts_with(marker))?;
        let goes_on = *marker != b"*"
            && matches!(text.get(marker.len()), Some(byte) if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'/'));
        (!goes_on).then_some((*result, marker.len()))
    }

    /// From the value of a `Result` tag.
    #[must_use]
    pub fn of_tag(value: &[u8]) -> GameResult {
        GameResult::at_start(value.trim_ascii()).map_or(GameResult::Open, |(result, _)| result)
    }
}

/// What a reader of main lines meets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Token {
    /// Text that should be a move: from, to.
    Word(usize, usize),
    /// The termination marker.
    Result(GameResult),
    /// Text that means nothing here: from, to.
    Stray(usize, usize),
    /// A comment opens at this index and never closes.
    UnclosedComment(usize),
    /// A variation opens at this index and never closes.
    UnclosedVariation(usize),
    /// The text is over.
    End,
}

/// Goes through movetext on the level of the main line. The text before the first byte read must be there too (a
/// whole block of a file, cut at the end of the game), since `%` means something at the start of a line only.
#[derive(Debug, Clone)]
pub struct Lexer<'a> {
    text: &'a [u8],
    /// The next byte to read.
    pub at: usize,
    /// Where a move number stands since the last word, if one does.
    number: Option<usize>,
}

impl<'a> Lexer<'a> {
    /// Reads `text` from `at` on.
    #[must_use]
    pub fn new(text: &'a [u8], at: usize) -> Lexer<'a> {
        Lexer { text, at, number: None }
    }

    /// The next token. At `End` and at the unclosed ones the lexer stands at the end of the text.
    pub fn next_token(&mut self) -> Token {
        let text = self.text;
        loop {
            let Some(&byte) = text.get(self.at) else { return Token::End };
            match byte {
                _ if is_blank(byte) => self.at += 1,
                b'{' => match memchr::memchr(b'}', &text[self.at..]) {
                    Some(length) => self.at += length + 1,
                    None => return Token::UnclosedComment(std::mem::replace(&mut self.at, text.len())),
                },
                b'(' => {
                    let open = self.at;
                    match self.variation_end() {
                        Ok(end) => self.at = end,
                        Err(unclosed) => {
                            self.at = text.len();
                            return unclosed.map_or(Token::UnclosedVariation(open), Token::UnclosedComment);
                        }
                    }
                }
                b';' => self.at = line_end(text, self.at),
                b'%' if self.at == 0 || is_line_end(text[self.at - 1]) => self.at = line_end(text, self.at),
                b'$' => {
                    self.at += 1;
                    self.skip_while(|byte| byte.is_ascii_digit());
                }
                b'0'..=b'9' => {
                    if let Some(token) = self.digits() {
                        return token;
                    }
                }
                b'*' => {
                    self.at += 1;
                    return Token::Result(GameResult::Open);
                }
                // A byte order mark, and spaces that do not break lines (in UTF-8 and in CP1252).
                0xef if text[self.at..].starts_with(b"\xef\xbb\xbf") => self.at += 3,
                0xc2 if text.get(self.at + 1) == Some(&NO_BREAK_SPACE) => self.at += 2,
                NO_BREAK_SPACE => self.at += 1,
                b'[' | b'<' => return self.bracketed(if byte == b'[' { b']' } else { b'>' }),
                b'.' | b'!' | b'?' | b')' | b',' => self.at += 1,
                b'}' | b']' | b'>' => {
                    self.at += 1;
                    return Token::Stray(self.at - 1, self.at);
                }
                _ => {
                    if let Some(token) = self.word() {
                        return token;
                    }
                }
            }
        }
    }

    fn skip_while(&mut self, goes_on: impl Fn(u8) -> bool) {
        let rest = &self.text[self.at..];
        self.at += rest.iter().position(|&byte| !goes_on(byte)).unwrap_or(rest.len());
    }

    /// A move number, a result, castling with zeros, or the null move of UCI.
    fn digits(&mut self) -> Option<Token> {
        let start = self.at;
        if let Some((result, length)) = GameResult::at_start(&self.text[start..]) {
            self.at += length;
            return Some(Token::Result(result));
        }
        self.skip_while(|byte| byte.is_ascii_digit());
        let digits = &self.text[start..self.at];
        if digits == b"0000" || (digits == b"0" && self.text[self.at..].starts_with(b"-0")) {
            self.at = start;
            return Some(self.word_from(start));
        }
        self.number.get_or_insert(start);
        None
    }

    fn word(&mut self) -> Option<Token> {
        let start = self.at;
        if !self.text[start].is_ascii()
            && let Some((result, length)) = GameResult::at_start(&self.text[start..])
        {
            self.at += length;
            return Some(Token::Result(result));
        }
        let token = self.word_from(start);
        let word = &self.text[start..self.at];
        if word.iter().any(u8::is_ascii_alphanumeric) {
            // The suffix of an en-passant capture, set apart.
            return (!matches!(word, b"e.p." | b"e.p" | b"ep")).then_some(token);
        }
        // Signs such as `+-` or `=`; but two dashes are a null move.
        matches!(word, b"--" | b"\x96\x96" | b"\xe2\x80\x93\xe2\x80\x93" | b"\xe2\x80\x94\xe2\x80\x94").then_some(token)
    }

    /// Takes everything up to the next blank or delimiter as one word.
    fn word_from(&mut self, start: usize) -> Token {
        let text = self.text;
        self.at += 1;
        self.skip_while(|byte| !ends_word(byte));
        if text.get(self.at) == Some(&NO_BREAK_SPACE) && self.at > start + 1 && text[self.at - 1] == 0xc2 {
            self.at -= 1;
        }
        // A full stop behind a move is none of it; those of `exd6e.p.` are.
        while self.at > start + 1 && text[self.at - 1] == b'.' && !text[start..self.at].ends_with(b"p.") {
            self.at -= 1;
        }
        // `c1(N)`, `c1=(N)`: the parentheses of a promotion, not of a variation.
        if let [b'(', b'Q' | b'R' | b'B' | b'N', b')', ..] = text[self.at..]
            && matches!(text[..self.at].strip_suffix(b"=").unwrap_or(&text[..self.at]), [.., b'1' | b'8'])
        {
            self.at += 3;
            self.skip_while(|byte| !ends_word(byte));
        }
        Token::Word(start, self.at)
    }

    /// `[…]` and `<…>` in movetext are no moves: to the closing bracket if it is near and on the same line.
    fn bracketed(&mut self, close: u8) -> Token {
        const NEAR: usize = 1024;
        let start = self.at;
        let window = &self.text[start..self.text.len().min(start + NEAR)];
        let length = window
            .iter()
            .position(|&byte| byte == close || is_line_end(byte) || matches!(byte, b'{' | b'}'))
            .filter(|&at| window[at] == close)
            .map_or(1, |at| at + 1);
        self.at += length;
        Token::Stray(start, self.at)
    }

    /// The index behind the variation that opens here; otherwise where an unclosed comment in it starts, if any.
    /// Counts parentheses, so that no depth of nesting can exhaust the stack.
    fn variation_end(&self) -> Result<usize, Option<usize>> {
        let text = self.text;
        let (mut at, mut depth) = (self.at, 0usize);
        loop {
            match text.get(at) {
                None => return Err(None),
                Some(b'(') => depth += 1,
                Some(b')') => {
                    depth -= 1;
                    if depth == 0 {
                        return Ok(at + 1);
                    }
                }
                Some(b'{') => match memchr::memchr(b'}', &text[at..]) {
                    Some(length) => at += length,
                    None => return Err(Some(at)),
                },
                Some(b';') => at = line_end(text, at) - 1,
                Some(b'%') if is_line_end(text[at - 1]) => at = line_end(text, at) - 1,
                Some(_) => {}
            }
            at += 1;
        }
    }
}

/// In CP1252, and as the last byte of its two in UTF-8.
const NO_BREAK_SPACE: u8 = 0xa0;

fn ends_word(byte: u8) -> bool {
    is_blank(byte)
        || byte == NO_BREAK_SPACE
        || matches!(
            byte,
            b'{' | b'}' | b'(' | b')' | b'[' | b']' | b'<' | b'>' | b';' | b'$' | b'!' | b'?' | b'*' | b','
        )
}

/// Whether a word that is no move was meant as one: then the main line cannot be read on. Other words ("tail",
/// "resigns") are stray text between moves.
#[must_use]
pub fn looks_like_move(word: &[u8]) -> bool {
    let letter_and_digit = word.windows(2).any(|pair| pair[0].is_ascii_alphabetic() && pair[1].is_ascii_digit());
    // Captures that name files only: `exd`, `ed`.
    let files = |byte: &u8| matches!(byte, b'a'..=b'h');
    let capture = match word {
        [from, b'x' | b':', to] | [from, to] => files(from) && files(to),
        _ => false,
    };
    let castling = word.len() >= 3 && word.iter().all(|byte| matches!(byte, b'O' | b'o' | b'0' | b'-' | b'+' | b'#'));
    letter_and_digit || capture || castling || matches!(word, b"--")
}

/// What stands in text outside tag sections.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Untagged {
    /// Nothing that says anything: blanks, comments, lines to pass over.
    Nothing,
    /// A game without tags starts here: at its first move, or at the number before it.
    Game(usize),
    /// No game; from here on the text means nothing.
    Prose(usize),
}

/// What the text from `at` on is, at a place where no game is going on. The first word decides: it is a move, or
/// everything is prose.
#[must_use]
pub fn untagged(text: &[u8], at: usize) -> Untagged {
    if text[at..].iter().all(|&byte| is_blank(byte)) {
        return Untagged::Nothing;
    }
    let mut lexer = Lexer::new(text, at);
    let mut stray = None;
    loop {
        match lexer.next_token() {
            Token::Word(start, end) if looks_like_move(&text[start..end]) => {
                return Untagged::Game(lexer.number.unwrap_or(start));
            }
            Token::Word(start, _) => return Untagged::Prose(stray.unwrap_or(start)),
            Token::Result(_) => lexer.number = None,
            Token::Stray(start, _) => stray = stray.or(Some(start)),
            Token::UnclosedComment(_) | Token::UnclosedVariation(_) | Token::End => {
                return stray.map_or(Untagged::Nothing, Untagged::Prose);
            }
        }
    }
}

/// The termination marker of the game whose movetext is read from `at` on, and the index behind it.
#[must_use]
pub fn termination(text: &[u8], at: usize) -> Option<(GameResult, usize)> {
    let mut lexer = Lexer::new(text, at);
    loop {
        match lexer.next_token() {
            Token::Result(result) => return Some((result, lexer.at)),
            Token::UnclosedComment(_) | Token::UnclosedVariation(_) | Token::End => return None,
            Token::Word(..) | Token::Stray(..) => {}
        }
    }
}

/// What stands behind the game whose movetext is read from `at` on.
///
/// Nearly every game is the last of its section, and that is seen by a byte search: nothing but white space stands
/// behind the first thing that could be a termination marker.
#[must_use]
pub fn behind_game(text: &[u8], at: usize) -> Untagged {
    let rest = &text[at..];
    let marker = memchr::memchr3_iter(b'-', b'*', b'/', rest).find_map(|hit| {
        let start = if rest[hit] == b'*' { hit } else { hit.saturating_sub(1) };
        GameResult::at_start(&rest[start..]).map(|(_, length)| start + length)
    });
    let blank_behind = |behind: usize| rest[behind..].iter().all(|&byte| is_blank(byte));
    if marker.is_none_or(blank_behind) && memchr::memchr(HALF, rest).is_none() {
        return Untagged::Nothing;
    }
    termination(text, at).map_or(Untagged::Nothing, |(_, behind)| untagged(text, behind))
}

/// The last byte of `½`, in UTF-8 and in CP1252: the one marker that need not hold a dash or a stroke.
const HALF: u8 = 0xbd;

#[cfg(test)]
mod tests {
    use super::*;

    fn words(text: &[u8]) -> Vec<String> {
        let mut lexer = Lexer::new(text, 0);
        let mut found = Vec::new();
        loop {
            let show = |from, to| String::from_utf8_lossy(&text[from..to]).into_owned();
            match lexer.next_token() {
                Token::Word(from, to) => found.push(show(from, to)),
                Token::Stray(from, to) => found.push(format!("stray {}", show(from, to))),
                Token::End => return found,
                other => found.push(format!("{other:?}")),
            }
        }
    }

    #[test]
    fn words_of_a_main_line() {
        let text = b"1.e4$1 e5!? (1... c5 ; )\n{)} (2. d4)) 2. Nf3 {x} Nc6 3.0-0 c1(N)+ exd6e.p. e8=(Q) 1-0";
        let expected = ["e4", "e5", "Nf3", "Nc6", "0-0", "c1(N)+", "exd6e.p.", "e8=(Q)", "Result(White)"];
        assert_eq!(words(text), expected);
        assert_eq!(
            words(b"e4 -- Z0 0000 +- = <a b> [D] }"),
            ["e4", "--", "Z0", "0000", "stray <a b>", "stray [D]", "stray }"]
        );
        assert_eq!(words(b"% e4\ne5 % 2"), ["e5"]);
        assert_eq!(words(b"e4 {a"), ["e4", "UnclosedComment(3)"]);
        assert_eq!(words(b"e4 (d4"), ["e4", "UnclosedVariation(3)"]);
        assert_eq!(words(b"e4 (d4 {"), ["e4", "UnclosedComment(7)"]);
        assert_eq!(words("1/2 ½-½ 0-1 * 1/2-1/2".as_bytes()).len(), 5);
    }

    #[test]
    fn nesting_without_end_is_only_counted() {
        let mut text = b"1. e4 ".to_vec();
        text.extend(std::iter::repeat_n(b'(', 100_000));
        text.extend(std::iter::repeat_n(b')', 100_000));
        text.extend(b" e5");
        assert_eq!(words(&text), ["e4", "e5"]);
    }

    #[test]
    fn games_without_tags_behind_a_result() {
        let find = |text: &str| match behind_game(text.as_bytes(), 0) {
            Untagged::Nothing => String::new(),
            Untagged::Game(at) => text[at..].to_owned(),
            Untagged::Prose(at) => format!("prose: {}", &text[at..]),
        };
        assert_eq!(find("1. e4 1-0\n\n"), "");
        assert_eq!(find("1. e4 1-0 {said afterwards}\n; more\n"), "");
        assert_eq!(find("1. e4 {1-0} e5 1-0 1. d4 d5"), "1. d4 d5");
        assert_eq!(find("1. e4 1/2\n\n1/2 e4 e5"), "e4 e5");
        assert_eq!(find("1. e4 * White won this. 1. d4"), "prose: White won this. 1. d4");
        assert_eq!(find("1. O-O O-O-O"), "");
        assert_eq!(find("1. e4 1-0 1."), "");
        assert_eq!(find("1. e4 ½-½ 1. d4 d5 1-0\n"), "1. d4 d5 1-0\n");
    }
}
