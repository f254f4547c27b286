//! Signs that authors type instead of a NAG. The 1994 standard (section 8.2.3.8) allows `! ? !! !? ?! ??`; the others
//! are common practice, with one meaning each whichever side has moved.

/// Signs that may stand alone or behind a move, longer ones before their own endings.
const SIGNS: [(&str, u16); 17] = [
    ("+/-", 16),
    ("-/+", 17),
    ("+−", 18),
    ("−+", 19),
    ("+-", 18),
    ("-+", 19),
    ("+=", 14),
    ("=+", 15),
    ("+/=", 14),
    ("=/+", 15),
    ("⩲", 14),
    ("⩱", 15),
    ("±", 16),
    ("∓", 17),
    ("∞", 13),
    ("□", 7),
    ("=", 10),
];

/// `±` in CP1252, where it is one byte.
const PLUS_MINUS: &[u8] = b"\xb1";

/// The NAG of a run of exclamation and question marks.
pub(super) fn nag_of_marks(marks: &[u8]) -> Option<u16> {
    match marks {
        b"!" => Some(1),
        b"?" => Some(2),
        b"!!" => Some(3),
        b"??" => Some(4),
        b"!?" => Some(5),
        b"?!" => Some(6),
        _ => None,
    }
}

/// Cuts a sign from the end of a word: the length of what stands before it, and its NAG.
pub(super) fn split_sign(word: &[u8]) -> Option<(usize, u16)> {
    let last = *word.last()?;
    if last.is_ascii_alphanumeric() || last == b'#' || word == b"--" {
        return None; // nearly every word
    }
    if word.ends_with(PLUS_MINUS) && !word.ends_with("±".as_bytes()) && std::str::from_utf8(word).is_err() {
        return Some((word.len() - 1, 16));
    }
    let (sign, nag) =
        SIGNS.iter().filter(|(sign, _)| word.ends_with(sign.as_bytes())).max_by_key(|(sign, _)| sign.len())?;
    Some((word.len() - sign.len(), *nag))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_are_cut_from_words() {
        type Cut = Option<(usize, u16)>;
        let cases: [(&[u8], Cut); 12] = [
            (b"Nf3", None),
            (b"Nf3+", None),
            (b"e8=Q", None),
            (b"--", None),
            (b"+-", Some((0, 18))),
            (b"Nf3+-", Some((3, 18))),
            (b"e4=", Some((2, 10))),
            (b"e4+/=", Some((2, 14))),
            ("Qd3±".as_bytes(), Some((3, 16))),
            (b"Qd3\xb1", Some((3, 16))),
            ("−+".as_bytes(), Some((0, 19))),
            ("d5∞".as_bytes(), Some((2, 13))),
        ];
        for (word, expected) in cases {
            assert_eq!(split_sign(word), expected, "{word:?}");
        }
    }
}
