//! Made-up games for benches: legal, distinct, from a seed; tags and movetext as collections have them.

use std::fmt::Write;

use shakmaty::san::SanPlus;
use shakmaty::{Chess, Move, Position, Role};

/// A small generator of pseudo-random numbers (xorshift64*), so that a seed means the same games everywhere.
struct Dice(u64);

impl Dice {
    fn new(seed: u64) -> Dice {
        Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33) as usize % n
    }
}

/// How sensible a move looks, so that games look like games: captures of greater units, development, centre.
fn appeal(position: &Chess, played: Move) -> i32 {
    let worth = |role: Role| [0, 100, 300, 310, 500, 900, 0][role as usize];
    let mut points = 0;
    if let Some(captured) = played.capture() {
        points += 40 + worth(captured) - worth(played.role()) / 10;
    }
    let to = played.to();
    let centre = 6 - (2 * i32::from(to.file()) - 7).abs().max((2 * i32::from(to.rank()) - 7).abs());
    points += match played.role() {
        Role::Pawn if position.fullmoves().get() < 8 => 6 * centre,
        Role::Pawn => 2 * centre,
        Role::Knight | Role::Bishop => 20 + 5 * centre,
        Role::King if played.is_castle() => 70,
        Role::King => -30,
        _ => 0,
    };
    if played.is_promotion() { points + 300 } else { points }
}

/// Plays one game of about `plies` half-moves and gives its moves in SAN.
fn play(dice: &mut Dice, plies: usize) -> Vec<String> {
    let mut position = Chess::default();
    let mut sans = Vec::new();
    for _ in 0..plies {
        let moves = position.legal_moves();
        if moves.is_empty() {
            break;
        }
        let mut best = (i32::MIN, moves[0]);
        for _ in 0..8 {
            let candidate = moves[dice.below(moves.len())];
            let points = appeal(&position, candidate) + dice.below(40) as i32;
            if points > best.0 {
                best = (points, candidate);
            }
        }
        sans.push(SanPlus::from_move_and_play_unchecked(&mut position, best.1).to_string());
    }
    sans
}

/// A collection of at least `bytes` bytes: one game in three has a clock comment after each move.
pub fn collection(seed: u64, bytes: usize) -> Vec<u8> {
    let mut dice = Dice::new(seed);
    let mut text = String::with_capacity(bytes + 4096);
    let mut number = 0usize;
    while text.len() < bytes {
        number += 1;
        let plies = 50 + dice.below(60);
        let sans = play(&mut dice, plies);
        let result = ["1-0", "0-1", "1/2-1/2"][dice.below(3)];
        let clocks = dice.below(3) == 0;
        write_game(&mut text, &mut dice, number, &sans, result, clocks);
    }
    text.into_bytes()
}

fn write_game(text: &mut String, dice: &mut Dice, number: usize, sans: &[String], result: &str, clocks: bool) {
    const FAMILY: [&str; 8] = ["Arvane", "Belmork", "Castrin", "Dovell", "Ermis", "Fallgren", "Gorvath", "Hallinec"];
    let mut name = || format!("{}, {}", FAMILY[dice.below(8)], (b'A' + dice.below(26) as u8) as char);
    let (white, black) = (name(), name());
    let date = format!("20{:02}.{:02}.{:02}", 10 + dice.below(15), 1 + dice.below(12), 1 + dice.below(28));
    let _ = write!(
        text,
        "[Event \"Made-up Open {}\"]\n[Site \"Nowhere\"]\n[Date \"{date}\"]\n[Round \"{}.{}\"]\n[White \"{white}\"]\n\
         [Black \"{black}\"]\n[Result \"{result}\"]\n[WhiteElo \"{}\"]\n[BlackElo \"{}\"]\n[TimeControl \"5400+30\"]\n\n",
        number / 40,
        1 + number % 9,
        1 + number % 30,
        1900 + dice.below(800),
        1900 + dice.below(800),
    );
    let mut column = 0;
    let mut put = |text: &mut String, token: &str| {
        if column > 0 && column + 1 + token.len() > 79 {
            text.push('\n');
            column = 0;
        } else if column > 0 {
            text.push(' ');
            column += 1;
        }
        text.push_str(token);
        column += token.len();
    };
    for (ply, san) in sans.iter().enumerate() {
        if ply % 2 == 0 {
            put(text, &format!("{}.", ply / 2 + 1));
        } else if clocks {
            put(text, &format!("{}...", ply / 2 + 1));
        }
        put(text, san);
        if clocks {
            put(text, &format!("{{[%clk 1:{:02}:{:02}]}}", dice.below(60), dice.below(60)));
        }
    }
    put(text, result);
    text.push_str("\n\n");
}
