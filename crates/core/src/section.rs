//! Where a tag section starts: the one rule by which the bulk scan and the manuscript's reader count games.

/// Whether `text` starts a tag section: `^\[[A-Za-z0-9_]+[ \t]+"` at a line's start. `None`: the text is too short to
/// tell.
#[must_use]
pub fn starts_section(text: &[u8]) -> Option<&[u8]> {
    let name_length = text.get(1..)?.iter().take(LONGEST_NAME).position(|&byte| !is_name(byte))?;
    let behind = &text[1 + name_length..];
    let blank = behind.iter().take(LONGEST_NAME).position(|byte| !matches!(byte, b' ' | b'\t'))?;
    (text[0] == b'[' && name_length > 0 && blank > 0 && behind[blank] == b'"').then_some(&text[1..=name_length])
}

/// Tag names are shorter; a bracket and letters without end are not worth holding a whole file for.
const LONGEST_NAME: usize = 255;

/// How much text behind its start [`starts_section`] may need to tell.
pub const SECTION_START_REACH: usize = 2 * LONGEST_NAME + 3;

/// Whether the byte may stand in the name of a tag.
pub(crate) const fn is_name(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || byte == b'_'
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn where_sections_start() {
        assert_eq!(starts_section(b"[Event \"x"), Some(&b"Event"[..]));
        assert_eq!(starts_section(b"[A_1 \t\""), Some(&b"A_1"[..]));
        for text in [
            &b"[Event\"x"[..],
            b"[ Event \"x",
            b"[%clk 1:00]",
            b"[] \"",
            b"[Event x",
            b"[Even",
            b" [Event \"x\"]",
            b"[Ev-ent \"x\"]",
            b"",
        ] {
            assert_eq!(starts_section(text), None);
        }
    }
}
