//! Tokens of a PGN text: what each run of bytes is, and where it stands.

/// What a token is. The numbers cross to Python.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum TokenKind {
    /// A tag pair, `[Name "value"]`.
    Tag = 0,
    /// A line that opens like a tag pair and is none.
    BadTag = 1,
    /// `{ ... }`, braces included.
    Comment = 2,
    /// `;` to the end of the line, line break excluded.
    LineComment = 3,
    /// A line whose first character is `%`, line break excluded.
    EscapeLine = 4,
    /// `(`.
    Open = 5,
    /// `)`.
    Close = 6,
    /// A move number, or dots alone; the value is the number, or 0.
    Number = 7,
    /// `$n`; the value is n.
    Nag = 8,
    /// A typed sign (`!?`, `±`, `+-`); the value is its NAG.
    Sign = 9,
    /// Anything that may be a move; after the tree is built, only a move that was played in it.
    Move = 10,
    /// A termination marker; the value is a [`GameResult`].
    Result = 11,
    /// `<...>`, reserved by the standard.
    Reserved = 12,
    /// Text that has no meaning where it stands.
    Stray = 13,
    /// A move that was not played, because the line before it cannot be followed.
    Unread = 14,
}

/// A result. The numbers cross to Python.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum GameResult {
    /// `*`
    Open = 0,
    /// `1-0`
    White = 1,
    /// `0-1`
    Black = 2,
    /// `1/2-1/2`
    Draw = 3,
}

impl GameResult {
    /// Reads a termination marker: one of the four of the standard, or `None`.
    #[must_use]
    pub fn exact(text: &[u8]) -> Option<GameResult> {
        match text {
            b"*" => Some(GameResult::Open),
            b"1-0" => Some(GameResult::White),
            b"0-1" => Some(GameResult::Black),
            b"1/2-1/2" => Some(GameResult::Draw),
            _ => None,
        }
    }

    /// Reads a termination marker as people write it: also `1/2`, `½-½`, and dashes of print.
    #[must_use]
    pub fn lenient(text: &[u8]) -> Option<GameResult> {
        if text.len() > 16 {
            return None;
        }
        let mut plain = Vec::with_capacity(text.len());
        let mut rest = text;
        loop {
            rest = match rest {
                [] => break,
                [0xe2, 0x80, 0x90..=0x95, rest @ ..] | [0xe2, 0x88, 0x92, rest @ ..] | [0x96 | 0x97, rest @ ..] => {
                    plain.push(b'-');
                    rest
                }
                [0xc2, 0xbd, rest @ ..] | [0xbd, rest @ ..] => {
                    plain.extend(b"1/2");
                    rest
                }
                [byte, rest @ ..] => {
                    plain.push(*byte);
                    rest
                }
            };
        }
        if plain == b"1/2" { Some(GameResult::Draw) } else { GameResult::exact(&plain) }
    }
}

/// A half-open range of bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Span {
    /// First byte.
    pub start: u32,
    /// Byte after the last.
    pub end: u32,
}

impl Span {
    /// The bytes of the span.
    #[must_use]
    pub fn of<'a>(&self, text: &'a [u8]) -> &'a [u8] {
        &text[self.start as usize..self.end as usize]
    }

    pub(super) fn new(start: usize, end: usize) -> Span {
        // `read` refuses texts beyond u32, so offsets fit.
        Span { start: start as u32, end: end as u32 }
    }
}

/// What is wrong with the writing of a tag pair that could be read all the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TagFlaw {
    /// Nothing.
    None,
    /// A quote or backslash in the value is not escaped.
    Quote,
    /// The closing quote or bracket is missing.
    Unclosed,
}

/// The parts of a tag token.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TagParts {
    /// Index of the token.
    pub token: u32,
    /// The name.
    pub name: Span,
    /// The value as written, without its quotes.
    pub value: Span,
    /// What is wrong with it.
    pub flaw: TagFlaw,
    /// Whether it stands at the start of a line in the form that may open a tag section anywhere.
    pub opens_section: bool,
}

/// The tokens of a text as columns, in the order of the text. Between them stand only blanks, line breaks, control
/// characters and byte order marks.
#[derive(Debug, Default)]
pub struct Tokens {
    /// What each token is.
    pub kind: Vec<TokenKind>,
    /// Where it stands.
    pub span: Vec<Span>,
    /// NAG, move number or result; see [`TokenKind`].
    pub value: Vec<u16>,
    /// The parts of each tag token.
    pub tags: Vec<TagParts>,
    /// Tokens of comments that are never closed.
    pub unclosed: Vec<u32>,
}

impl Tokens {
    /// How many.
    #[must_use]
    pub fn len(&self) -> usize {
        self.kind.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.kind.is_empty()
    }

    pub(super) fn push(&mut self, kind: TokenKind, start: usize, end: usize, value: u16) {
        self.kind.push(kind);
        self.span.push(Span::new(start, end));
        self.value.push(value);
    }
}
