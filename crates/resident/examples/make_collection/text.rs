//! A game as PGN, with invented people, and the dirt that real collections have.

use shakmaty::{Chess, Color, san::SanPlus};
use variorum_resident::{Random, selfplay::Played};

/// What is wrong with a game's text.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Dirt {
    /// White's name in a one-byte encoding (Windows code page 1252), not UTF-8.
    Latin1Name,
    /// NUL bytes between two moves.
    Nul,
    /// No blank line after the tags, and none after the game.
    NoBlankLines,
    /// Carriage returns before all line feeds.
    Crlf,
    /// A comment that is opened and not closed before the next game.
    UnterminatedComment,
    /// A move that is not legal.
    IllegalMove,
    /// The text stops in the middle of the game, without a result.
    Truncated,
    /// The same game a second time: given name as an initial, no ratings, no clocks, event in capitals.
    Double,
    /// Castling with zeros.
    ZeroCastling,
    /// Captures without `x`.
    CaptureWithoutX,
}

impl Dirt {
    /// All kinds.
    pub const ALL: [Dirt; 10] = [
        Dirt::Latin1Name,
        Dirt::Nul,
        Dirt::NoBlankLines,
        Dirt::Crlf,
        Dirt::UnterminatedComment,
        Dirt::IllegalMove,
        Dirt::Truncated,
        Dirt::Double,
        Dirt::ZeroCastling,
        Dirt::CaptureWithoutX,
    ];

    /// The word for it in the summary.
    pub const fn word(self) -> &'static str {
        match self {
            Dirt::Latin1Name => "latin1_name",
            Dirt::Nul => "nul",
            Dirt::NoBlankLines => "no_blank_lines",
            Dirt::Crlf => "crlf",
            Dirt::UnterminatedComment => "unterminated_comment",
            Dirt::IllegalMove => "illegal_move",
            Dirt::Truncated => "truncated",
            Dirt::Double => "double",
            Dirt::ZeroCastling => "zero_castling",
            Dirt::CaptureWithoutX => "capture_without_x",
        }
    }
}

/// What stands above the moves.
pub struct Header {
    event: String,
    site: String,
    date: String,
    round: u64,
    names: [(String, &'static str); 2],
    pub ratings: [u32; 2],
    base: u64,
    increment: u64,
    clocks: bool,
}

const BEGIN: [&str; 20] = [
    "Bel", "Cor", "Dra", "Fen", "Gor", "Hul", "Jas", "Kel", "Lom", "Mir", "Nar", "Orv", "Pel", "Qui", "Ras", "Sol",
    "Tav", "Ulm", "Ves", "Zar",
];
const END: [&str; 16] = [
    "ombrik", "utarn", "ivesk", "adroun", "oltey", "ennick", "arquil", "uswen", "iborne", "avoll", "eshank", "ormeth",
    "ubbet", "indrow", "astock", "elquist",
];
const GIVEN: [&str; 16] = [
    "Avel", "Brin", "Cado", "Dorn", "Elva", "Fira", "Gesk", "Hona", "Ilmo", "Jora", "Kest", "Luma", "Marn", "Nila",
    "Oske", "Pira",
];
const PLACES: [&str; 12] = [
    "Altmoor",
    "Brackwell",
    "Cintra Vale",
    "Dunhaven",
    "Eskmouth",
    "Farrowdale",
    "Grenholm",
    "Harksund",
    "Isenford",
    "Jorvale",
    "Kestwick",
    "Lindmere",
];
const CONTESTS: [&str; 6] = ["Open", "Team Cup", "Masters", "League", "Memorial Night", "Rapid Days"];
/// Seconds for the game and for each move: classical, rapid and blitz by the definitions of the FIDE Laws of Chess.
const PACES: [(u64, u64); 6] = [(5400, 30), (7200, 0), (900, 10), (1500, 10), (180, 2), (300, 0)];

impl Header {
    /// Invents one.
    pub fn invent(random: &mut Random) -> Header {
        let mut name = || (format!("{}{}", random.pick(&BEGIN), random.pick(&END)), *random.pick(&GIVEN));
        let names = [name(), name()];
        let level = 1500 + random.below(1000) as u32;
        let ratings = [(); 2].map(|()| level - 100 + random.below(200) as u32);
        let &(base, increment) = random.pick(&PACES);
        let (year, month, day) = (2014 + random.below(11), 1 + random.below(12), 1 + random.below(28));
        let place = random.pick(&PLACES);
        Header {
            event: format!("{place} {}", random.pick(&CONTESTS)),
            site: (*place).to_owned(),
            date: format!("{year}.{month:02}.{day:02}"),
            round: 1 + random.below(9),
            names,
            ratings,
            base,
            increment,
            clocks: random.happens(300_000),
        }
    }

    fn tags(&self, result: &str, is_double: bool) -> String {
        let [white, black] = [0, 1].map(|side| {
            let (family, given) = &self.names[side];
            if is_double { format!("{family},{}", &given[..1]) } else { format!("{family}, {given}") }
        });
        let event = if is_double { self.event.to_uppercase() } else { self.event.clone() };
        let mut tags = format!(
            "[Event \"{event}\"]\n[Site \"{}\"]\n[Date \"{}\"]\n[Round \"{}\"]\n[White \"{white}\"]\n[Black \"{black}\"]\n\
             [Result \"{result}\"]\n",
            self.site, self.date, self.round
        );
        if !is_double {
            let [white, black] = self.ratings;
            tags += &format!("[WhiteElo \"{white}\"]\n[BlackElo \"{black}\"]\n");
        }
        tags + &format!("[TimeControl \"{}+{}\"]\n", self.base, self.increment)
    }
}

/// What the movetext of a game is made of.
pub struct GameText {
    /// Moves in SAN.
    sans: Vec<String>,
    result: &'static str,
}

impl GameText {
    /// From a game that began in the normal position.
    pub fn new(played: &Played) -> GameText {
        let mut position = Chess::default();
        let sans = played.moves.iter().map(|m| {
            let legal = m.to_shakmaty(&position).expect("played games are legal");
            SanPlus::from_move_and_play_unchecked(&mut position, legal).to_string()
        });
        let result = match played.winner {
            None => "*",
            Some(None) => "1/2-1/2",
            Some(Some(Color::White)) => "1-0",
            Some(Some(Color::Black)) => "0-1",
        };
        GameText { sans: sans.collect(), result }
    }

    /// The next kind of dirt, beginning with `wanted`, that this game can have.
    pub fn possible(&self, wanted: Dirt) -> Dirt {
        let fits = |dirt: &Dirt| match dirt {
            Dirt::ZeroCastling => self.sans.iter().any(|san| san.starts_with("O-O")),
            Dirt::CaptureWithoutX => self.sans.iter().any(|san| san.contains('x')),
            Dirt::Truncated | Dirt::IllegalMove | Dirt::Nul => self.sans.len() >= 20,
            _ => true,
        };
        let start = Dirt::ALL.iter().position(|&dirt| dirt == wanted).unwrap_or(0);
        Dirt::ALL.into_iter().cycle().skip(start).find(fits).unwrap_or(Dirt::Crlf)
    }

    /// The bytes of the game, blank line included.
    pub fn write(&self, header: &Header, dirt: Option<Dirt>, random: &mut Random) -> Vec<u8> {
        let mut sans = self.sans.clone();
        let half = sans.len() / 2;
        match dirt {
            Some(Dirt::ZeroCastling) => sans.iter_mut().for_each(|san| *san = san.replace('O', "0")),
            Some(Dirt::CaptureWithoutX) => sans.iter_mut().for_each(|san| *san = san.replace('x', "")),
            // No pawn ever stands on the first rank: this is legal nowhere.
            Some(Dirt::IllegalMove) => sans[half] = if half.is_multiple_of(2) { "e1" } else { "e8" }.to_owned(),
            Some(Dirt::Nul) => sans[half].insert_str(0, "\0\0"),
            Some(Dirt::UnterminatedComment) => sans[half] += " {to be looked at again",
            Some(Dirt::Truncated) => sans.truncate(half),
            _ => {}
        }
        let is_double = dirt == Some(Dirt::Double);
        // A clock's comment would close the unterminated one.
        let clocks = header.clocks && !is_double && dirt != Some(Dirt::UnterminatedComment);
        let movetext = self.movetext(&sans, header, clocks, random);
        let tags = header.tags(self.result, is_double);
        let text = match dirt {
            Some(Dirt::NoBlankLines) => format!("{tags}{movetext} {}\n", self.result),
            Some(Dirt::Truncated) => format!("{tags}\n{movetext}\n\n"),
            _ => format!("{tags}\n{movetext} {}\n\n", self.result),
        };
        match dirt {
            Some(Dirt::Crlf) => text.replace('\n', "\r\n").into_bytes(),
            Some(Dirt::Latin1Name) => with_latin1_name(&text),
            _ => text.into_bytes(),
        }
    }

    fn movetext(&self, sans: &[String], header: &Header, clocks: bool, random: &mut Random) -> String {
        let mut left = [header.base; 2];
        let mut text = String::with_capacity(sans.len() * 8);
        let mut column = 0;
        let mut add = |word: &str| {
            // Lines of at most 79 characters, as the standard asks.
            if column > 0 && column + 1 + word.len() > 79 {
                text.push('\n');
                column = 0;
            } else if column > 0 {
                text.push(' ');
                column += 1;
            }
            text.push_str(word);
            column += word.len();
        };
        for (ply, san) in sans.iter().enumerate() {
            if ply % 2 == 0 {
                add(&format!("{}.", ply / 2 + 1));
            } else if clocks {
                add(&format!("{}...", ply / 2 + 1));
            }
            add(san);
            if clocks {
                let clock = &mut left[ply % 2];
                let spent = random.below(2 * (header.base / 45 + header.increment) + 1).min(clock.saturating_sub(1));
                *clock = *clock - spent + header.increment;
                add(&format!("{{[%clk {}:{:02}:{:02}]}}", *clock / 3600, *clock / 60 % 60, *clock % 60));
            }
        }
        text
    }
}

/// The second letter of White's name as ö in code page 1252.
fn with_latin1_name(text: &str) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    if let Some(start) = text.find("[White \"") {
        bytes[start + "[White \"B".len()] = 0xf6;
    }
    bytes
}
