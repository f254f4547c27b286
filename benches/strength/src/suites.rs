//! Suites of positions with known best moves, in EPD.

use std::collections::BTreeMap;

use shakmaty::{CastlingMode, Chess, EnPassantMode, fen::Epd, fen::Fen, san::San, uci::UciMove};

use crate::program::Program;

/// What came out of one suite.
pub struct Outcome {
    /// Positions solved.
    pub solved: usize,
    /// Positions in the suite.
    pub total: usize,
    /// Points by theme where the suite gives points for moves.
    pub themes: BTreeMap<String, u32>,
    /// Ids of the positions not solved.
    pub missed: Vec<String>,
}

/// Asks every position of a suite once, with an empty table each time.
pub fn run(program: &mut Program, epd: &str, go: &str) -> Outcome {
    let mut outcome = Outcome { solved: 0, total: 0, themes: BTreeMap::new(), missed: Vec::new() };
    for line in epd.lines().filter(|line| !line.trim().is_empty()) {
        let fields: Vec<&str> = line.splitn(5, ' ').collect();
        let epd: Epd = fields[..4].join(" ").parse().expect("four fields of an EPD");
        let position: Chess = epd.into_position(CastlingMode::Standard).expect("a legal position");
        let operations: BTreeMap<&str, &str> =
            fields[4].split(';').filter_map(|operation| operation.trim().split_once(' ')).collect();
        program.begin_game();
        let fen = Fen::from_position(&position, EnPassantMode::Legal);
        let answer = program.ask(&format!("fen {fen}"), go);
        let played = answer.best.parse::<UciMove>().ok().and_then(|read| read.to_move(&position).ok());
        let played = played.expect("a legal move");
        let is_among = |operand: &str| {
            let mut named =
                operand.split_whitespace().filter_map(|san| san.parse::<San>().ok()?.to_move(&position).ok());
            named.any(|m| m == played)
        };
        let good = operations.get("bm").is_none_or(|moves| is_among(moves));
        let bad = operations.get("am").is_some_and(|moves| is_among(moves));
        outcome.total += 1;
        let id = operations.get("id").unwrap_or(&"?").trim_matches('"').to_owned();
        if good && !bad {
            outcome.solved += 1;
        } else {
            outcome.missed.push(id.clone());
        }
        if let Some(points) = operations.get("c0") {
            let theme = theme_of(&id);
            let worth = points.trim_matches('"').split(',').find_map(|pair| {
                let (san, points) = pair.trim().split_once('=')?;
                is_among(san).then(|| points.trim().parse::<u32>().ok()).flatten()
            });
            *outcome.themes.entry(theme).or_default() += worth.unwrap_or(0);
        } else if let Some((_, theme)) = id.split_once(" - ") {
            *outcome.themes.entry(theme.to_owned()).or_default() += u32::from(good && !bad);
        }
    }
    outcome
}

/// The theme in an id such as `STS(v1.0) Undermine.001`: its version number, since one name is written in two ways.
fn theme_of(id: &str) -> String {
    let inside = id.split_once('(').and_then(|(_, rest)| rest.split_once(')'));
    let version = inside.map_or(id, |(version, _)| version);
    let number = version.trim_start_matches('v').split('.').next().unwrap_or(version);
    format!("{number:0>2}")
}

#[cfg(test)]
mod tests {
    use super::theme_of;

    #[test]
    fn themes_are_told_apart_by_their_number() {
        assert_eq!(theme_of("STS(v1.0) Undermine.001"), "01");
        assert_eq!(theme_of("STS(v2.2) Open Files and Diagonals.003"), "02");
        assert_eq!(theme_of("STS(v15.0) AvoidPointlessExchange.100"), "15");
    }
}
