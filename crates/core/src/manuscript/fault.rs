//! What is wrong in a manuscript, as data.

use super::token::Span;

/// Whether a fault leaves something out of the tree.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weight {
    /// Something of the text is not in the tree.
    Error,
    /// Everything is there; the author may want to know.
    Warning,
}

macro_rules! fault_kinds {
    ($($(#[doc = $doc:literal])* $name:ident = $code:literal, $weight:ident;)*) => {
        /// Kinds of fault. The code is stable: it stands in messages, settings and the documentation.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        #[repr(u8)]
        pub enum FaultKind { $($(#[doc = $doc])* $name,)* }

        impl FaultKind {
            /// Every kind, in the order of the numbers that cross to Python.
            pub const ALL: &[FaultKind] = &[$(FaultKind::$name,)*];

            /// Its stable code.
            #[must_use]
            pub const fn code(self) -> &'static str {
                match self { $(FaultKind::$name => $code,)* }
            }

            /// Whether it leaves something out.
            #[must_use]
            pub const fn weight(self) -> Weight {
                match self { $(FaultKind::$name => Weight::$weight,)* }
            }
        }
    };
}

fault_kinds! {
    /// A move that is not legal; the rest of its line is not read.
    IllegalMove = "illegal-move", Error;
    /// A move that more than one unit can make; the rest of its line is not read. Detail: the moves.
    AmbiguousMove = "ambiguous-move", Error;
    /// Something like a move that cannot be read as one; the rest of its line is not read.
    UnreadableMove = "unreadable-move", Error;
    /// Text without meaning where it stands; passed over.
    StrayText = "stray-text", Error;
    /// A comment without its closing brace. Detail: how many bytes it takes in.
    UnclosedComment = "unclosed-comment", Error;
    /// Variations without their closing parenthesis. Detail: how many.
    UnclosedVariation = "unclosed-variation", Error;
    /// A closing parenthesis without an opening one.
    UnopenedVariation = "unopened-variation", Error;
    /// A variation where there is no move that it could replace; not read.
    VariationWithoutMove = "variation-without-move", Error;
    /// A tag pair without its closing quote or bracket.
    UnclosedTag = "unclosed-tag", Error;
    /// A line in square brackets that is no tag pair; passed over.
    MalformedTag = "malformed-tag", Error;
    /// A start position that cannot be used; the game's moves are not read. Detail: the reason.
    BadStart = "bad-start", Error;
    /// A variant of chess whose rules are not known here; read as chess.
    UnknownVariant = "unknown-variant", Warning;
    /// A start position without the tag `SetUp "1"`.
    FenWithoutSetup = "fen-without-setup", Warning;
    /// A tag `SetUp "1"` without a start position.
    SetupWithoutFen = "setup-without-fen", Warning;
    /// A tag given twice in one game; the first value stands.
    DuplicateTag = "duplicate-tag", Warning;
    /// A quote or backslash in a tag that should have a backslash before it.
    UnescapedQuote = "unescaped-quote", Warning;
    /// A game without tags.
    MissingTags = "missing-tags", Warning;
    /// A game without termination marker.
    MissingTermination = "missing-termination", Warning;
    /// A termination marker in another writing than the standard's.
    NonStandardTermination = "non-standard-termination", Warning;
    /// A termination marker that disagrees with the tag Result. Detail: the tag's value.
    ResultMismatch = "result-mismatch", Warning;
    /// A termination marker inside a variation; it ends nothing.
    ResultInsideVariation = "result-inside-variation", Warning;
    /// Text between the termination marker and the next game.
    TextAfterResult = "text-after-result", Warning;
    /// A move number that is not the move's. Detail: the right one.
    WrongMoveNumber = "wrong-move-number", Warning;
    /// A NAG above 255.
    NagOutOfRange = "nag-out-of-range", Warning;
    /// A variation without a move.
    EmptyVariation = "empty-variation", Warning;
    /// Text in angle brackets; passed over.
    ReservedToken = "reserved-token", Warning;
    /// NUL bytes. Detail: how many.
    NulBytes = "nul-bytes", Warning;
}

/// One fault, with its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// What is wrong.
    pub kind: FaultKind,
    /// Where.
    pub span: Span,
    /// The game, from 1; 0 outside of games.
    pub game: u32,
    /// The half-move of the line that the fault concerns, from 1; 0 if none.
    pub ply: u32,
    /// See [`FaultKind`]; often empty.
    pub detail: String,
}
