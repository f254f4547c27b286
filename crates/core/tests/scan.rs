//! The scan as a whole: where games start, what is kept and why, and that cuts and threads change nothing.

use std::io::{self, Read};
use std::time::Duration;

use proptest::prelude::*;
use shakmaty::{CastlingMode, Chess, Position};
use variorum_core::fen::read_fen;
use variorum_core::scan::{Batch, Counts, Fault, Next, Remark, Scan, ScanOptions};

/// Everything a scan gives, in a form that does not depend on how it comes in batches.
#[derive(Debug, Default, PartialEq)]
struct Found {
    games: Vec<Game>,
    /// Game number, ply, key, move.
    occurrences: Vec<(u32, u16, u64, u16)>,
    /// Offset, length, game number, line, fault, ply, text.
    rejects: Vec<(u64, u64, u32, u64, Fault, u16, String)>,
    notes: Vec<(u64, u64, Remark)>,
    counts: Counts,
    broken: bool,
}

#[derive(Debug, PartialEq)]
struct Game {
    number: u32,
    offset: u64,
    length: u64,
    root: u16,
    root_ply: u16,
    result: u8,
    event: String,
    moves: Vec<u16>,
    fault: (u8, u16, u64),
    text: String,
}

impl Found {
    fn take(&mut self, batch: Batch) {
        let Batch { games, occurrences, rejects, notes, counts } = batch;
        for row in 0..games.root.len() {
            let moves = games.move_ends[row] as usize..games.move_ends[row + 1] as usize;
            self.games.push(Game {
                number: games.game_number[row],
                offset: games.file_offset[row],
                length: games.file_length[row],
                root: games.root[row],
                root_ply: games.root_ply[row],
                result: games.result[row],
                event: games.event.get(row).to_owned(),
                moves: games.moves[moves].to_vec(),
                fault: (games.fault[row], games.fault_ply[row], games.fault_line[row]),
                text: games.text.get(row).to_owned(),
            });
        }
        let rows: Vec<(u64, u32, u16, u16)> = (0..occurrences.key.len())
            .map(|row| {
                let at = (occurrences.key[row], occurrences.game_row[row], occurrences.ply[row]);
                (at.0, at.1, at.2, occurrences.played[row])
            })
            .collect();
        assert!(rows.is_sorted(), "occurrences of a batch are sorted");
        let number = |row: u32| games.game_number[row as usize];
        self.occurrences.extend(rows.into_iter().map(|(key, row, ply, played)| (number(row), ply, key, played)));
        let rejects = rejects.into_iter();
        self.rejects.extend(rejects.map(|r| (r.offset, r.length, r.game_number, r.line, r.fault, r.ply, r.text)));
        self.notes.extend(notes.iter().map(|note| (note.offset, note.length, note.remark)));
        self.counts.sections += counts.sections;
        self.counts.untagged += counts.untagged;
        self.counts.kept += counts.kept;
        self.counts.passed += counts.passed;
        self.counts.aside += counts.aside;
    }
}

fn scan(text: &[u8], options: ScanOptions) -> Found {
    let mut scan = Scan::of_stream(Box::new(io::Cursor::new(text.to_vec())), options);
    let mut found = Found::default();
    loop {
        match scan.next_batch(Duration::from_secs(1)) {
            Next::Batch(batch) => found.take(*batch),
            Next::Wait => {}
            Next::End => break,
            Next::Broken(..) => {
                found.broken = true;
                break;
            }
        }
    }
    found.occurrences.sort_unstable();
    found.notes.sort_unstable_by_key(|note| (note.0, note.1));
    let Counts { sections, untagged, kept, passed, aside } = found.counts;
    assert_eq!(kept + passed + aside, sections + untagged, "no game vanishes");
    assert_eq!(kept as usize, found.games.len());
    assert_eq!(aside as usize, found.rejects.len());
    found
}

fn from_start() -> ScanOptions {
    ScanOptions { roots: vec![Chess::default()], threads: 1, ..ScanOptions::default() }
}

fn scan_all(text: &[u8]) -> Found {
    scan(text, from_start())
}

fn events(text: &str) -> Vec<String> {
    scan_all(text.as_bytes()).games.into_iter().map(|game| game.event).collect()
}

fn notes(text: &str) -> Vec<(String, Remark)> {
    let notes = scan_all(text.as_bytes()).notes.into_iter();
    notes.map(|(at, length, what)| (text[at as usize..(at + length) as usize].to_owned(), what)).collect()
}

const A: &str = "[Event \"A\"]\n[White \"x\"]\n\n1. e4 e5 1-0\n\n";
const B: &str = "[Event \"B\"]\n[White \"y\"]\n\n1. d4 {a comment} d5 0-1\n\n";

#[test]
fn sections_start_at_tag_lines_outside_comments() {
    assert_eq!(events(&[A, B, A].concat()), ["A", "B", "A"]);
    assert_eq!(events("[Event \"A\"]\n1. e4 1-0\n[Event \"B\"]\n1. d4 0-1"), ["A", "B"], "no blank lines");
    assert_eq!(events("[Event \"A\"]\n\n\n1. e4 1-0\n"), ["A"], "two blank lines behind the tags");
    assert_eq!(events("[Event \"A\"]\n\n[Event \"B\"]\n\n1. d4 0-1"), ["A", "B"], "no moves");
    assert_eq!(events("[Event \"A\"]\n[Event \"B\"]\n\n1. d4 0-1"), ["A", "B"], "no moves, no blank line");
    assert_eq!(events("[Event \"A\"]\n% [Event \"no\"]\n[White \"w\"]\n; [x \"\n1. e4 *"), ["A"]);
    assert_eq!(events("[Event \"A\"]\r[White \"w\"]\r\r1. e4 *\r\r[Event \"B\"]\r\r1. d4 *\r"), ["A", "B"]);
    assert_eq!(events("1. e4 ( [Event \"x\"] 1. d4\n[Event \"B\"]\n\n*"), ["", "B"], "in a variation too");
    assert_eq!(events("\u{feff}[Event \"A\"]\n\n*\n\n\u{feff}[Event \"B\"]\n\n*"), ["A", "B"], "files put together");
    assert_eq!(events("[Event \"A\"]\n\n1. e4 *\n\0\0\0[Event \"B\"]\n\n*"), ["A", "B"], "NUL bytes");
    assert_eq!(events("[Event \"A\"] 1. e4 {x\ny} e5 *\n[Event \"B\"]\n*"), ["A", "B"], "moves on the line of a tag");
}

#[test]
fn a_comment_left_open_does_not_swallow_games() {
    let open = "[Event \"O\"]\n[White \"x\"]\n\n1. e4 {never closed e5 1-0\n\n";
    let text = [A, open, A, B, A].concat();
    let found = scan_all(text.as_bytes());
    let names: Vec<&str> = found.games.iter().map(|game| game.event.as_str()).collect();
    assert_eq!(names, ["A", "O", "A", "B", "A"]);
    assert_eq!(found.games[1].fault, (Fault::UnclosedComment as u8, 2, 9));
    assert_eq!(notes(&text), [("{never closed e5 1-0\n\n".to_owned(), Remark::UnclosedComment)]);
    // Only games without comments follow, up to the end.
    assert_eq!(events(&[open, A, A].concat()), ["O", "A", "A"]);
    // A second tag line will do in place of the blank line.
    assert_eq!(events("[Event \"O\"]\n\n1. e4 {open\n[Event \"B\"]\n[White \"w\"]\n\n1. d4 *"), ["O", "B"]);
    // Neither: then it is text.
    assert_eq!(events("[Event \"O\"]\n\n1. e4 {open\n[Event \"B\"]\n1. d4 *"), ["O"]);
    // Other tags start nothing in a comment.
    assert_eq!(events("[Event \"O\"]\n\n1. e4 {open\n\n[Site \"B\"]\n[White \"w\"]\n\n1. d4 *"), ["O"]);
}

#[test]
fn a_closed_comment_is_text_whatever_it_quotes() {
    let text = "[Event \"A\"]\n\n1. e4 {quoted:\n\n[Event \"no\"]\n[Result \"1-0\"]\n\n1. d4 d5 1-0\n} e5 2. Nf3 *\n";
    let found = scan_all(text.as_bytes());
    assert_eq!(found.games.len(), 1);
    assert_eq!(found.games[0].moves.len(), 3);
    assert_eq!(found.notes.len(), 1);
    assert_eq!(found.notes[0].2, Remark::TagsInComment);
}

#[test]
fn a_comment_that_goes_on_for_a_mebibyte_behind_an_event_line_was_left_open() {
    let mut text = b"[Event \"O\"]\n\n1. e4 {open\n\n".to_vec();
    let before = text.len();
    while text.len() < before + (1 << 20) + 1000 {
        text.extend(A.as_bytes());
    }
    let games = (text.len() - before) / A.len() + 1;
    text.extend(b"} stray\n\n");
    for read_size in [1000, 1 << 16, 1 << 23] {
        assert_eq!(scan(&text, ScanOptions { read_size, ..from_start() }).games.len(), games);
    }
}

#[test]
fn games_without_tags_are_found_and_counted() {
    let found = scan_all(b"1. e4 e5 1-0\n1. d4 d5 0-1\n\n[Event \"A\"]\n\n1. c4 * 1. b3 {x} * done here\n");
    assert_eq!(found.counts, Counts { sections: 1, untagged: 3, kept: 4, passed: 0, aside: 0 });
    let texts: Vec<&str> = found.games.iter().map(|game| game.text.as_str()).collect();
    assert_eq!(texts, ["1. e4 e5 1-0", "1. d4 d5 0-1", "[Event \"A\"]\n\n1. c4 *", "1. b3 {x} * done here"]);
    assert_eq!(found.notes, [(60, 9, Remark::NoGame)]);
    assert_eq!(notes("Games of the club\n\n[Event \"A\"]\n*")[0], ("Games of the club".into(), Remark::NoGame));
    for nothing in ["", "\n\n% only this\n\n", "{a comment}", "\u{feff}", "1-0"] {
        assert_eq!(scan_all(nothing.as_bytes()), Found::default(), "{nothing:?}");
    }
}

#[test]
fn a_long_file_without_any_tags_is_cut_at_its_results() {
    let one = "1. e4 e5 2. Nf3 Nc6 {1-0?} 3. Bb5 a6 1-0\n";
    let text = one.repeat(3_000_000 / one.len());
    for read_size in [1 << 15, 1 << 23] {
        let found = scan(text.as_bytes(), ScanOptions { read_size, ..from_start() });
        assert_eq!(found.counts.untagged as usize, text.len() / one.len());
        assert_eq!(found.counts.kept, found.counts.untagged);
        assert!(found.notes.is_empty());
    }
}

#[test]
fn a_game_without_end_is_set_aside_by_its_first_bytes() {
    let long = format!("[Event \"long\"]\n\n1. e4 {{{}}} e5 1-0\n\n", "word ".repeat((34 << 20) / 5));
    let line = "\n".repeat(10) + &"x".repeat(33 << 20);
    let text = [A, &long, B, &line, "\n\n", A].concat();
    let mut all = Vec::new();
    for read_size in [3 << 20, 8 << 20, 100 << 20] {
        let found = scan(text.as_bytes(), ScanOptions { read_size, ..from_start() });
        assert_eq!(found.games.iter().map(|game| game.number).collect::<Vec<_>>(), [1, 4]);
        let [(offset, length, number, at_line, fault, _, start), (.., second)] = &found.rejects[..] else {
            panic!("{:?}", found.rejects.len());
        };
        assert_eq!((*offset, *length, *number, *at_line), (A.len() as u64, long.len() as u64, 2, 6));
        assert_eq!((*fault, start.len()), (Fault::Overlong, 4096));
        assert!(second.starts_with(&B[..20]), "the line is part of the game before it");
        all.push(found);
    }
    assert_eq!(all[0], all[1]);
    assert_eq!(all[1], all[2]);
}

#[test]
fn a_line_without_end_is_passed_over_by_all_its_bytes() {
    let line = "x".repeat(40 << 20);
    for read_size in [3 << 20, 100 << 20] {
        let found = scan(line.as_bytes(), ScanOptions { read_size, ..from_start() });
        assert_eq!(found.notes, [(0, line.len() as u64, Remark::NoGame)]);
        assert_eq!(found.counts, Counts::default());
    }
}

#[test]
fn a_fault_cuts_a_game_or_sets_it_aside() {
    let after_e4 = read_fen(b"rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq - 0 1", CastlingMode::Standard);
    let options = || ScanOptions { roots: vec![after_e4.clone().unwrap()], threads: 1, ..ScanOptions::default() };
    let one = |moves: &str| scan(format!("[Event \"A\"]\n\n{moves}").as_bytes(), options());
    let kept = one("1. e4 e5 2. Nf6 Nc6 3. Bb5 0-1");
    assert_eq!((kept.games[0].moves.len(), kept.games[0].fault, kept.games[0].result), (2, (1, 3, 3), 2));
    for (moves, fault, ply, line) in [
        ("1. Nf3 Nf6\n2. Nf3 *", Fault::IllegalMove, 3, 4),
        ("1. Nf3 Nf6 2. Zz9 *", Fault::UnreadableMove, 3, 3),
        ("1. Nf3 {open", Fault::UnclosedComment, 2, 3),
        ("1. Nf3 (open", Fault::UnclosedVariation, 2, 3),
    ] {
        let found = one(moves);
        let (.., at_line, why, at_ply, text) = &found.rejects[0];
        assert_eq!((*why, *at_ply, *at_line), (fault, ply, line), "{moves}");
        assert!(text.ends_with(moves));
    }
    // Given up before the fault: it would not have come to the root.
    assert_eq!(one("1. d4 d5 2. Nf6 *").counts.passed, 1);
    // Words that are no moves are passed over.
    let found = one("1. e4 {x} tail} e5 White resigns 1-0");
    assert_eq!(found.games[0].moves.len(), 2);
    assert_eq!(found.notes.iter().map(|note| note.2).collect::<Vec<_>>(), [Remark::StrayText; 3]);
}

#[test]
fn start_positions_come_from_the_tags() {
    let with = |tags: &str| scan_all(format!("[Event \"A\"]\n{tags}\n\n*").as_bytes());
    assert_eq!(with("[FEN \"\"]").counts.kept, 1);
    assert_eq!(with("[FEN \"nonsense\"]").rejects[0].4, Fault::BadFen);
    assert_eq!(with("[FEN \"nonsense\"]").rejects[0].3, 2);
    assert_eq!(with("[Variant \"Atomic\"]").rejects[0].4, Fault::UnknownVariant);
    assert_eq!(with("[Variant \"From Position\"]").counts.kept, 1);
    assert_eq!(with("[FEN \"4k3/8/8/8/8/8/8/4K3 w - - 0 1\"]").counts.passed, 1);
}

#[test]
fn ten_thousand_nested_variations() {
    let text = format!("[Event \"A\"]\n\n1. e4 {}{} e5 *", "(1. d4 ".repeat(10_000), ")".repeat(10_000));
    assert_eq!(scan_all(text.as_bytes()).games[0].moves.len(), 2);
}

/// Gives its bytes and then an error.
struct Torn(io::Cursor<Vec<u8>>);

impl Read for Torn {
    fn read(&mut self, room: &mut [u8]) -> io::Result<usize> {
        match self.0.read(room)? {
            0 => Err(io::ErrorKind::UnexpectedEof.into()),
            count => Ok(count),
        }
    }
}

#[test]
fn what_was_readable_is_kept_when_the_stream_breaks() {
    let text = [A, B, "[Event \"C\"]\n\n1. e4"].concat();
    let mut scan = Scan::of_stream(Box::new(Torn(io::Cursor::new(text.clone().into_bytes()))), from_start());
    let mut found = Found::default();
    let offset = loop {
        match scan.next_batch(Duration::from_secs(1)) {
            Next::Batch(batch) => found.take(*batch),
            Next::Wait => {}
            Next::End => panic!("the stream breaks"),
            Next::Broken(error, offset) => {
                assert_eq!(error.kind(), io::ErrorKind::UnexpectedEof);
                break offset;
            }
        }
    };
    assert_eq!(found.counts.kept, 3);
    assert_eq!(offset, text.len() as u64);
}

#[test]
fn a_scan_can_be_dropped_at_any_time() {
    let text = A.repeat(50_000).into_bytes();
    let options = ScanOptions { threads: 3, read_size: 1 << 16, ..from_start() };
    let mut scan = Scan::of_stream(Box::new(io::Cursor::new(text)), options);
    assert!(matches!(scan.next_batch(Duration::from_secs(60)), Next::Batch(_)));
    drop(scan);
}

/// Pieces of which clean and dirty collections are made.
fn piece() -> impl Strategy<Value = Vec<u8>> {
    let fixed = prop::sample::select(vec![
        A,
        B,
        "[Event \"C\"]\n",
        "[Site \"s\"]\n",
        "\n",
        "\r\n",
        "\r",
        "\n\n",
        "1. e4 ",
        "e5 ",
        "2. Nf3 ",
        "1-0\n",
        "* ",
        "1/2-1/2",
        "{",
        "}",
        "{x}",
        "(",
        ")",
        "(1. d4)",
        ";",
        "; {\n",
        "%",
        "\n% {\n",
        "[",
        "]",
        "[%clk 1:00]",
        "\0",
        " ",
        "\u{feff}",
        "\u{a0}",
        "½-½",
        "Zz9 ",
        "tail} ",
        "\"",
        "\\",
        "[Event \"",
        "[Event\"x\"]",
        "\n[Date\"2\"]",
        "--",
        "<",
        "[FEN \"4k3/8/8/8/8/8/8/4K3 w - - 0 1\"]\n",
        "{\n\n[Event \"Q\"]\n[Site \"s\"]\n",
        "c1(N)",
        "0-0",
        "1. d4 d5 0-1 ",
    ]);
    prop_oneof![
        20 => fixed.prop_map(|text| text.as_bytes().to_vec()),
        1 => prop::collection::vec(any::<u8>(), 0..12),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn cuts_and_threads_change_nothing(
        pieces in prop::collection::vec(piece(), 0..60),
        read_size in 1usize..200,
        threads in 1usize..4,
    ) {
        let text = pieces.concat();
        let whole = scan_all(&text);
        let cut = scan(&text, ScanOptions { read_size, threads, ..from_start() });
        prop_assert_eq!(&whole, &cut);
        // Every byte that was read as a game lies in the text, and games do not overlap.
        let mut spans: Vec<(u64, u64)> = whole.games.iter().map(|game| (game.offset, game.length)).collect();
        spans.extend(whole.rejects.iter().map(|reject| (reject.0, reject.1)));
        spans.sort_unstable();
        let mut end = 0;
        for (offset, length) in spans {
            prop_assert!(offset >= end);
            end = offset + length;
        }
        prop_assert!(end <= text.len() as u64);
    }

    #[test]
    fn what_can_still_be_reached_is_never_given_up(
        start in 0usize..4,
        choices in prop::collection::vec(any::<prop::sample::Index>(), 40..200),
        quiet in any::<bool>(),
    ) {
        let starts = [
            "rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 0 1",
            "rkbqnbrn/pppppppp/8/8/8/8/PPPPPPPP/RKBQNBRN w KQkq - 0 1",
            "r3k2r/p1ppqpb1/bn2pnp1/3PN3/1p2P3/2N2Q1p/PPPBBPPP/R3K2R w KQkq - 0 1",
            "7k/PPPPP3/8/8/8/8/ppppp3/7K w - - 0 1",
        ];
        let mut position = read_fen(starts[start].as_bytes(), CastlingMode::Chess960).unwrap();
        let mut line = vec![position.clone()];
        for choice in choices {
            let mut moves = position.legal_moves();
            // Captures and promotions often, or nearly never.
            let lively: Vec<_> = moves.iter().copied().filter(|m| m.is_capture() || m.is_promotion()).collect();
            if !lively.is_empty() && !quiet {
                moves = lively.into_iter().collect();
            }
            if moves.is_empty() {
                break;
            }
            position.play_unchecked(moves[choice.index(moves.len())]);
            line.push(position.clone());
        }
        for (ply, root) in line.iter().enumerate() {
            let roots = variorum_core::scan::reach::Roots::new(std::slice::from_ref(root));
            for before in &line[..=ply] {
                prop_assert_eq!(roots.reachable(before, 1), 1);
            }
        }
    }
}
