//! Bytes of collections as text.

/// Appends `bytes` as UTF-8: valid sequences as they are, every other byte as CP1252 has it (which holds Latin-1).
pub fn push_decoded(out: &mut Vec<u8>, bytes: &[u8]) {
    if std::str::from_utf8(bytes).is_ok() {
        out.extend_from_slice(bytes);
        return;
    }
    for chunk in bytes.utf8_chunks() {
        out.extend_from_slice(chunk.valid().as_bytes());
        for &byte in chunk.invalid() {
            let mut room = [0; 4];
            out.extend_from_slice(cp1252(byte).encode_utf8(&mut room).as_bytes());
        }
    }
}

/// `bytes` as text, decoded as by [`push_decoded`].
#[must_use]
pub fn decoded(bytes: &[u8]) -> String {
    let mut out = Vec::with_capacity(bytes.len());
    push_decoded(&mut out, bytes);
    String::from_utf8(out).expect("decoding gives UTF-8")
}

/// Codes 80 to 9F of Windows code page 1252 (Unicode Consortium, CP1252.TXT); the five unused ones are C1 controls.
const CP1252_HIGH: [char; 32] = [
    '€', '\u{81}', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\u{8d}', 'Ž', '\u{8f}', '\u{90}', '‘', '’',
    '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\u{9d}', 'ž', 'Ÿ',
];

fn cp1252(byte: u8) -> char {
    match byte {
        0x80..=0x9f => CP1252_HIGH[usize::from(byte - 0x80)],
        _ => char::from(byte),
    }
}

/// Whether the byte ends a line. Old files end lines with CR alone.
#[inline]
#[must_use]
pub const fn is_line_end(byte: u8) -> bool {
    matches!(byte, b'\n' | b'\r')
}

/// Where the line that holds `from` ends: the index of its LF or CR, or the length of the text.
#[inline]
#[must_use]
pub fn line_end(text: &[u8], from: usize) -> usize {
    memchr::memchr2(b'\n', b'\r', &text[from..]).map_or(text.len(), |at| from + at)
}

/// Number of line ends, CR LF counted once. `after_cr` says whether a CR stands just before the text.
#[must_use]
pub fn count_lines(text: &[u8], after_cr: bool) -> u64 {
    let line_feeds = memchr::memchr_iter(b'\n', text).count();
    if memchr::memchr(b'\r', text).is_none() && !after_cr {
        return line_feeds as u64;
    }
    let mut lines = line_feeds;
    for at in memchr::memchr_iter(b'\r', text) {
        lines += usize::from(text.get(at + 1) != Some(&b'\n'));
    }
    // A pair cut in two was counted with its CR already.
    (lines - usize::from(after_cr && text.first() == Some(&b'\n'))) as u64
}

/// Whether the byte stands for nothing: white space, and the NUL bytes that damaged disks leave.
#[inline]
#[must_use]
pub const fn is_blank(byte: u8) -> bool {
    byte <= b' '
}

/// Whether a line starts at `at`. NUL bytes and byte order marks before it do not count.
#[must_use]
pub fn at_line_start(text: &[u8], mut at: usize) -> bool {
    loop {
        match text[..at] {
            [] => return true,
            [.., b'\n' | b'\r'] => return true,
            [.., 0] => at -= 1,
            [.., 0xef, 0xbb, 0xbf] => at -= 3,
            _ => return false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_that_are_no_utf8_are_cp1252() {
        assert_eq!(decoded(b"J\xf6rg \x96 \x80 Zo\xc3\xab"), "Jörg – € Zoë");
        assert_eq!(decoded(b"plain"), "plain");
    }

    #[test]
    fn lines_are_counted_whatever_ends_them() {
        assert_eq!(count_lines(b"a\nb\r\nc\rd", false), 3);
        assert_eq!(count_lines(b"\nb", true), 0);
        assert_eq!(count_lines(b"\r\r\n", false), 2);
        assert_eq!(count_lines(b"", true), 0);
    }

    #[test]
    fn a_line_starts_behind_nul_bytes_and_marks() {
        assert!(at_line_start(b"\xef\xbb\xbf[", 3));
        assert!(at_line_start(b"x\n\0\0[", 4));
        assert!(!at_line_start(b"x\n\0 [", 4));
    }
}
