//! The tree over the tokens. The reference cases are checked from Python, where their expected results are read.

use proptest::prelude::*;
use shakmaty::{Chess, Position};

use super::*;
use crate::key::key_of;
use crate::moves::pass;

fn codes(text: &str) -> Vec<&'static str> {
    read(text.as_bytes()).expect("short").faults.iter().map(|fault| fault.kind.code()).collect()
}

/// The moves of the main line (`-1`) or of a variation of the first game, as written.
fn line<'a>(text: &'a str, manuscript: &Manuscript, variation: i32) -> Vec<&'a str> {
    let nodes = &manuscript.nodes;
    (0..nodes.parent.len())
        .filter(|node| nodes.variation[*node] == variation && nodes.token[*node] != NONE)
        .map(|node| manuscript.tokens.span[nodes.token[node] as usize])
        .map(|span| &text[span.start as usize..span.end as usize])
        .collect()
}

#[test]
fn a_variation_of_an_illegal_move_is_read() {
    let text = "1. e4 e5 2. Qh6 (2. Nf3 Nc6 (2... d6) 3. Bb5) 2... Nc6 (2... d6) 3. Bb5 (3. d4 *) *";
    let manuscript = read(text.as_bytes()).expect("short");
    assert_eq!(line(text, &manuscript, NONE), ["e4", "e5"]);
    assert_eq!(line(text, &manuscript, 0), ["Nf3", "Nc6", "Bb5"]);
    assert_eq!(line(text, &manuscript, 1), ["d6"]);
    assert_eq!(manuscript.variations.game.len(), 2); // those of unread moves are not followed
    assert_eq!(manuscript.games.result_token.len(), 1);
    assert_ne!(manuscript.games.result_token[0], NONE);
    assert_eq!(codes(text), ["missing-tags", "illegal-move", "result-inside-variation"]);
}

#[test]
fn parentheses_without_sense() {
    assert_eq!(codes("1. e4 ((1. d4)) *"), ["missing-tags", "variation-without-move", "empty-variation"]);
    assert_eq!(codes("1. e4 () e5) 2. Nf3 *"), ["missing-tags", "empty-variation", "unopened-variation"]);
    assert_eq!(codes("1. e4 (1. d4 (1. c4 d5 *"), ["missing-tags", "unclosed-variation", "result-inside-variation"]);
}

#[test]
fn games_without_tags_follow_each_other() {
    let count = |text: &str| read(text.as_bytes()).expect("short").games.root.len();
    assert_eq!(count("1. e4 e5 1-0 1. d4 d5 0-1\n1. c4 *"), 3);
    assert_eq!(count("e4 e5 1-0\nd4 d5 *\n"), 2);
    assert_eq!(count("1. e4 e5 1-0 2. Nf3 {no game} *\n"), 1);
    assert_eq!(count("1. e4 1-0\n(1... e5\n2. d4)\n{no game}\n*\n"), 1);
    assert_eq!(count("{a text without any game; see below}\nSome words.\n"), 0);
}

#[test]
fn tag_sections() {
    let games = |text: &str| {
        let manuscript = read(text.as_bytes()).expect("short");
        let games = &manuscript.games;
        (0..games.root.len()).map(|i| games.tags_end[i] - games.tags_start[i]).collect::<Vec<_>>()
    };
    let section = "[Event \"a\"]\n[Site \"b\"]\n";
    assert_eq!(games(&format!("{section}\n{section}\n1. e4 *")), [2, 2]); // a game of tags only
    assert_eq!(games(&format!("{section}{section}\n1. e4 *")), [4]); // tags given twice
    assert_eq!(games("[Event \"a\"]\n\n[Site \"b\"]\n\n1. e4 *"), [2]); // a blank line in a section
    assert_eq!(games(&format!("{section}1. e4 {{c\n\n{section}1. d4 *")), [2, 2]);
    assert_eq!(games(&format!("{section}1. e4\n [Event \"a\"]\n 1... e5 *")), [2]); // not the form of a section's start
    assert_eq!(games(&format!("{section}1. e4 *\n [Event \"a\"]\n 1. d4 *")), [2, 1]);
    assert_eq!(games("[FEN \"x\"]\n1. e4 e5 *"), [1]);
    assert_eq!(codes("[FEN \"x\"]\n1. e4 e5 *"), ["fen-without-setup", "bad-start"]);
}

#[test]
fn wrong_numbers_are_told_once() {
    let wrong = |text: &str| codes(text).into_iter().filter(|code| *code == "wrong-move-number").count();
    assert_eq!(wrong("1. e4 e5 7. Nf3 Nc6 8. Bb5 a6 9. Ba4 *"), 1);
    assert_eq!(wrong("1. e4 e5 7. Nf3 Nc6 3. Bb5 a6 9. Ba4 *"), 2);
    assert_eq!(wrong("1. e4 1... e5 1. e4 *"), 1);
}

#[test]
fn ten_thousand_variations_deep() {
    let mut text = String::from("1. e4 e5 2. Bc4 ");
    text.push_str(&"(2. Nf3 (2. Nc3 ".repeat(5_000));
    let open = read(text.as_bytes()).expect("short");
    assert_eq!(open.variations.depth.last(), Some(&10_000));
    assert_eq!(open.faults.iter().filter(|fault| fault.kind == FaultKind::UnclosedVariation).count(), 1);
    text.push_str(&")".repeat(10_000));
    text.push_str(" 2... Nf6 *");
    let closed = read(text.as_bytes()).expect("short");
    assert_eq!(closed.faults.len(), 1); // no tags
    assert_eq!(closed.nodes.ply.last(), Some(&4));
}

/// Text with much chess in it, well-formed or nearly.
fn chess_text() -> impl Strategy<Value = String> {
    let word = proptest::sample::select(vec![
        "1.",
        "1...",
        "2.",
        "e4",
        "e5",
        "d4",
        "d5",
        "Nf3",
        "Nc6",
        "Nd2",
        "exd5",
        "ed",
        "O-O",
        "--",
        "(",
        "(",
        ")",
        ")",
        "{c}",
        "{",
        "}",
        ";c\n",
        "$1",
        "!?",
        "=",
        "*",
        "1-0",
        "\n",
        "\n\n",
        "<x>",
        "junk",
        "\n[Event \"a\"]\n",
        "[FEN \"bad\"]\n",
        "[SetUp \"1\"]\n",
        "[Variant \"other\"]\n",
        "\n\n[Event \"b\"]\n[Result \"0-1\"]\n\n",
        "\0",
        "%x\n",
        "Sf3",
        "e.p.",
    ]);
    proptest::collection::vec(word, 0..80).prop_map(|words| words.join(" ").replace("\n ", "\n"))
}

proptest! {
    #[test]
    fn columns_agree_with_each_other(text in chess_text()) {
        let manuscript = read(text.as_bytes()).expect("short");
        let Manuscript { tokens, token_node, token_variation, games, nodes, variations, faults } = &manuscript;
        prop_assert!(token_node.len() == tokens.len() && token_variation.len() == tokens.len());
        let mut positions: Vec<Chess> = Vec::new();
        for node in 0..nodes.parent.len() {
            let parent = nodes.parent[node];
            prop_assert!(parent < node as i32, "a node comes before its parent");
            let position = if parent == NONE {
                prop_assert!(games.root.contains(&(node as u32)) && nodes.ply[node] == 0);
                Chess::default()
            } else {
                let token = nodes.token[node] as usize;
                prop_assert_eq!(tokens.kind[token], TokenKind::Move);
                prop_assert_eq!(token_node[token], node as i32);
                prop_assert_eq!(nodes.ply[node], nodes.ply[parent as usize] + 1);
                let before = &positions[parent as usize];
                match nodes.played[node].unpack(before) {
                    Some(played) => before.clone().play(played).expect("legal"),
                    None => { prop_assert!(nodes.played[node].is_null()); pass(before).expect("legal") }
                }
            };
            prop_assert_eq!(nodes.key[node], key_of(&position).0);
            positions.push(position);
        }
        for (kind, node) in tokens.kind.iter().zip(token_node) {
            prop_assert!(*kind != TokenKind::Move || *node != NONE, "a move that is in no tree");
        }
        for variation in 0..variations.game.len() {
            prop_assert!(variations.outer[variation] < variation as i32);
            prop_assert_eq!(tokens.kind[variations.open[variation] as usize], TokenKind::Open);
            if variations.close[variation] != NONE {
                prop_assert_eq!(tokens.kind[variations.close[variation] as usize], TokenKind::Close);
            }
        }
        prop_assert!(games.first_token.is_sorted_by(|a, b| a < b));
        prop_assert!(faults.is_sorted_by_key(|fault| fault.span.start));
        // What is unread or stray is told of: a text without errors has every word in its tree.
        let hidden = tokens.kind.iter().any(|kind| matches!(kind, TokenKind::Unread | TokenKind::BadTag));
        prop_assert!(!hidden || faults.iter().any(|fault| fault.kind.weight() == Weight::Error));
    }
}
