//! Scores that an engine game tells in the comments of its moves, read by a pattern that the author sets.
//!
//! The pattern comes from an edition, which may be somebody else's, so it runs on `regex`: time grows with the length of
//! the comment only, whatever the pattern; look-around and back references do not exist there.

use std::fmt;

use regex::{Regex, RegexBuilder};

/// What a comment tells: a score, and where told the depth in plies and the time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScoreNote {
    /// The score as it is written: whose view it is, the comment does not say.
    pub score: NotedScore,
    /// Depth in plies.
    pub depth: Option<u32>,
    /// Seconds.
    pub seconds: Option<f64>,
}

/// A score as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotedScore {
    /// Centipawns; written in pawns.
    Cp(i32),
    /// Mate in so many moves, negative for being mated; never 0.
    Mate(i32),
}

/// Why a pattern cannot be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PatternError {
    /// It is no regular expression; the reason, in one line.
    Syntax(String),
    /// It has no group `score`.
    NoScore,
    /// It has a group with an unknown name.
    UnknownGroup(String),
    /// Compiled, it would take too much memory.
    TooLarge,
}

impl fmt::Display for PatternError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Syntax(reason) => write!(f, "is no regular expression: {reason}"),
            Self::NoScore => write!(f, "has no group (?P<score>…)"),
            Self::UnknownGroup(name) => write!(f, "has a group '{name}'; known are score, depth and time"),
            Self::TooLarge => write!(f, "is too large"),
        }
    }
}

impl std::error::Error for PatternError {}

/// A compiled pattern with the groups `score` and, if wanted, `depth` and `time`.
#[derive(Clone, Debug)]
pub struct ScorePattern {
    regex: Regex,
}

/// Memory of one compiled pattern; ordinary ones take a few kilobytes.
const LARGEST_PATTERN: usize = 1 << 20;
/// Pawns; a greater number is no score.
const MOST_PAWNS: f64 = 1000.0;

impl ScorePattern {
    /// Compile a pattern.
    ///
    /// # Errors
    /// See [`PatternError`].
    pub fn new(pattern: &str) -> Result<Self, PatternError> {
        let regex = RegexBuilder::new(pattern).size_limit(LARGEST_PATTERN).build().map_err(|error| match error {
            regex::Error::CompiledTooBig(_) => PatternError::TooLarge,
            other => PatternError::Syntax(last_line(&other.to_string())),
        })?;
        let names: Vec<&str> = regex.capture_names().flatten().collect();
        if let Some(name) = names.iter().find(|name| !matches!(**name, "score" | "depth" | "time")) {
            return Err(PatternError::UnknownGroup((*name).to_owned()));
        }
        if !names.contains(&"score") {
            return Err(PatternError::NoScore);
        }
        Ok(Self { regex })
    }

    /// What the comment tells at its start (white space apart), `None` if the pattern does not stand there or what it
    /// found is no score.
    #[must_use]
    pub fn read(&self, comment: &str) -> Option<ScoreNote> {
        let found = self.regex.captures(comment.trim_start())?;
        if found.get_match().start() != 0 {
            return None;
        }
        let group = |name| found.name(name).map(|text| text.as_str().trim());
        Some(ScoreNote {
            score: read_score(group("score")?)?,
            depth: group("depth").and_then(|text| text.parse().ok()),
            seconds: group("time").and_then(read_seconds),
        })
    }
}

/// Pawns (`+0.36`, `-1`, `.5`) or a mate (`M5`, `-M5`, `#-5`).
fn read_score(text: &str) -> Option<NotedScore> {
    if let Some(at) = text.find(['M', 'm', '#']) {
        let sign = if text[..at].contains('-') { -1 } else { 1 };
        let moves = sign * text[at + 1..].parse::<i32>().ok()?;
        return (moves != 0).then_some(NotedScore::Mate(moves));
    }
    let pawns: f64 = text.replace(['−', '–'], "-").parse().ok()?;
    // Rounded once, half away from zero; the range keeps the cast exact.
    (pawns.abs() <= MOST_PAWNS).then(|| NotedScore::Cp((pawns * 100.0).round() as i32))
}

/// Seconds (`1.2`), minutes and seconds (`2:05`), or hours too (`1:02:05`).
fn read_seconds(text: &str) -> Option<f64> {
    text.split(':').try_fold(0.0, |sum, part| {
        let value: f64 = part.parse().ok()?;
        (value >= 0.0 && value.is_finite()).then_some(sum * 60.0 + value)
    })
}

fn last_line(text: &str) -> String {
    let line = text.lines().last().unwrap_or_default();
    line.trim().trim_start_matches("error: ").to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The default of `edition.toml`.
    const USUAL: &str =
        r"(?P<score>[+-]?(?:\d+\.\d+|[M#][+-]?\d+))\s*/\s*(?P<depth>\d+)(?:\s+(?P<time>\d[\d:.]*)\s*s?)?";

    fn note(comment: &str) -> Option<ScoreNote> {
        ScorePattern::new(USUAL).expect("the usual pattern").read(comment)
    }

    #[test]
    fn usual_comments() {
        let cases = [
            ("+0.36/18 1.2s", NotedScore::Cp(36), Some(18), Some(1.2)),
            (" -1.05/7 0:02:03, a word", NotedScore::Cp(-105), Some(7), Some(123.0)),
            ("0.00/30", NotedScore::Cp(0), Some(30), None),
            ("+M5/20 3s", NotedScore::Mate(5), Some(20), Some(3.0)),
            ("-M5/20", NotedScore::Mate(-5), Some(20), None),
            ("#-5/20", NotedScore::Mate(-5), Some(20), None),
        ];
        for (comment, score, depth, seconds) in cases {
            assert_eq!(note(comment), Some(ScoreNote { score, depth, seconds }), "{comment}");
        }
    }

    #[test]
    fn what_is_no_score() {
        for comment in ["", "book", "better is +0.36/18", "99999.0/3", "M0/3", "1/2-1/2", "+/18"] {
            assert_eq!(note(comment).map(|found| found.score), None, "{comment}");
        }
    }

    #[test]
    fn patterns_that_are_refused() {
        let reason = |pattern: &str| ScorePattern::new(pattern).expect_err(pattern).to_string();
        assert_eq!(reason("(?P<score>a"), "is no regular expression: unclosed group");
        assert!(reason(r"(?P<score>a)(?=b)").starts_with("is no regular expression: look-around"));
        assert_eq!(reason("a"), "has no group (?P<score>…)");
        assert_eq!(reason("(?P<score>a)(?P<dept>b)"), "has a group 'dept'; known are score, depth and time");
        assert_eq!(reason(r"(?P<score>(?:\w{500}){500})"), "is too large");
    }

    /// A pattern that takes other engines for regular expressions exponential time; here it answers at once.
    #[test]
    fn no_pattern_is_slow() {
        let pattern = ScorePattern::new(r"(?P<score>(?:a+)+)$").expect("valid");
        assert_eq!(pattern.read(&format!("{}b", "a".repeat(10_000))), None);
    }

    proptest! {
        #[test]
        fn any_pattern_and_any_comment_are_answered(pattern in ".{0,40}", comment in ".{0,80}") {
            if let Ok(pattern) = ScorePattern::new(&pattern) {
                let _ = pattern.read(&comment);
            }
            let _ = note(&comment);
        }
    }
}
