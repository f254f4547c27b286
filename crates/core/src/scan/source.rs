//! Files as streams of bytes: plain or compressed, told by their first bytes.

use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// How far a file was read, for progress; can be asked from another thread.
#[derive(Debug, Clone, Default)]
pub struct Position(Arc<AtomicU64>);

impl Position {
    /// Bytes of the file as it lies on disk.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.0.load(Ordering::Relaxed)
    }
}

struct Counted {
    file: File,
    position: Position,
}

impl Read for Counted {
    fn read(&mut self, room: &mut [u8]) -> io::Result<usize> {
        let count = self.file.read(room)?;
        self.position.0.fetch_add(count as u64, Ordering::Relaxed);
        Ok(count)
    }
}

/// Opens a file and unpacks gzip, Zstandard (RFC 8878) and bzip2 on the way, several members or frames in a row too.
/// Gives the stream, the size of the file on disk, and the place where it is being read.
///
/// # Errors
///
/// Those of opening, and [`io::ErrorKind::InvalidData`] for UTF-16 text.
pub fn open(path: &Path) -> io::Result<(Box<dyn Read + Send>, u64, Position)> {
    let mut file = File::open(path)?;
    let about = file.metadata()?;
    if about.is_dir() {
        return Err(io::Error::new(io::ErrorKind::IsADirectory, "this is a folder"));
    }
    let mut head = Vec::with_capacity(4);
    Read::by_ref(&mut file).take(4).read_to_end(&mut head)?;
    let position = Position::default();
    position.0.store(head.len() as u64, Ordering::Relaxed);
    let packed = match head[..] {
        [0x1f, 0x8b, ..] => Packing::Gzip,
        [0x28, 0xb5, 0x2f, 0xfd] | [0x50..=0x5f, 0x2a, 0x4d, 0x18] => Packing::Zstandard,
        [b'B', b'Z', b'h', b'1'..=b'9'] => Packing::Bzip2,
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => {
            return Err(io::Error::new(io::ErrorKind::InvalidData, "the text is UTF-16; save it as UTF-8"));
        }
        _ => Packing::None,
    };
    let bytes = io::Cursor::new(head).chain(Counted { file, position: position.clone() });
    let stream: Box<dyn Read + Send> = match packed {
        Packing::None => Box::new(bytes),
        Packing::Gzip => Box::new(Sips(flate2::bufread::MultiGzDecoder::new(buffered(bytes)))),
        Packing::Zstandard => Box::new(Sips(zstd::stream::read::Decoder::with_buffer(buffered(bytes))?)),
        Packing::Bzip2 => Box::new(Sips(bzip2::bufread::MultiBzDecoder::new(buffered(bytes)))),
    };
    Ok((stream, about.len(), position))
}

enum Packing {
    None,
    Gzip,
    Zstandard,
    Bzip2,
}

/// Asks for little at a time: what a decoder has unpacked when it meets damage is lost with the call that meets it.
struct Sips<R>(R);

impl<R: Read> Read for Sips<R> {
    fn read(&mut self, room: &mut [u8]) -> io::Result<usize> {
        let most = room.len().min(1 << 15);
        self.0.read(&mut room[..most])
    }
}

fn buffered<R: Read>(bytes: R) -> BufReader<R> {
    BufReader::with_capacity(1 << 18, bytes)
}
