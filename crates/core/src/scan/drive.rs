//! All cores at work on one file: who is free takes the next block, reads its games, and puts the result in its place.

use std::collections::{BTreeMap, VecDeque};
use std::io::{self, Read};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use shakmaty::Chess;

use super::batch::{Batch, BlockResult, read_block};
use super::feed::{Feed, READ_SIZE};
use super::game::{Filter, GameReader};
use super::reach::Roots;
use super::source::{Position, open};

/// What to scan for, and how.
#[derive(Debug, Clone)]
pub struct ScanOptions {
    /// Positions to be reached by any move order.
    pub roots: Vec<Chess>,
    /// Which games are wanted.
    pub filter: Filter,
    /// Threads at work; at least one.
    pub threads: usize,
    /// Bytes read at a time. Neither this nor `threads` changes what is found.
    pub read_size: usize,
}

impl Default for ScanOptions {
    fn default() -> ScanOptions {
        let threads = thread::available_parallelism().map_or(1, usize::from);
        ScanOptions { roots: Vec::new(), filter: Filter::default(), threads, read_size: READ_SIZE }
    }
}

/// What [`Scan::next_batch`] has to give.
#[derive(Debug)]
pub enum Next {
    /// The next batch, in file order.
    Batch(Box<Batch>),
    /// None yet.
    Wait,
    /// There are no more, and the stream was read to its end.
    End,
    /// There are no more: the stream could not be read on behind so many (decompressed) bytes. Everything before that
    /// place was given.
    Broken(io::Error, u64),
}

/// A file being scanned. Dropping it stops the work.
pub struct Scan {
    shared: Arc<Shared>,
    workers: Vec<JoinHandle<()>>,
    ready: VecDeque<Batch>,
    games: u32,
    lines: u64,
    size: u64,
    position: Position,
}

struct Shared {
    source: Mutex<Source>,
    /// Memory of blocks that were read.
    room: Mutex<Vec<Vec<u8>>>,
    results: Mutex<Results>,
    changed: Condvar,
    stop: AtomicBool,
    roots: Roots,
    filter: Filter,
    /// So many blocks may be in work or waiting to be taken.
    most_blocks: u64,
}

struct Source {
    feed: Feed,
    next: u64,
    ended: bool,
}

#[derive(Default)]
struct Results {
    done: BTreeMap<u64, BlockResult>,
    taken: u64,
    at_work: usize,
    failed: bool,
}

/// A panic in a worker is told by `failed`, so a lock is never the worse for one.
fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Scan {
    /// Starts scanning a file.
    ///
    /// # Errors
    ///
    /// When the file cannot be opened.
    pub fn of_file(path: &Path, options: ScanOptions) -> io::Result<Scan> {
        let (stream, size, position) = open(path)?;
        Ok(Scan::start(stream, size, position, options))
    }

    /// Starts scanning a stream.
    #[must_use]
    pub fn of_stream(stream: Box<dyn Read + Send>, options: ScanOptions) -> Scan {
        Scan::start(stream, 0, Position::default(), options)
    }

    fn start(stream: Box<dyn Read + Send>, size: u64, position: Position, options: ScanOptions) -> Scan {
        let threads = options.threads.max(1);
        let feed = Feed::new(stream, options.read_size);
        let shared = Arc::new(Shared {
            source: Mutex::new(Source { feed, next: 0, ended: false }),
            room: Mutex::default(),
            results: Mutex::new(Results { at_work: threads, ..Results::default() }),
            changed: Condvar::new(),
            stop: AtomicBool::new(false),
            roots: Roots::new(&options.roots),
            filter: options.filter,
            most_blocks: threads as u64 + 1,
        });
        let workers = (0..threads)
            .map(|_| {
                let shared = Arc::clone(&shared);
                thread::spawn(move || shared.work())
            })
            .collect();
        Scan { shared, workers, ready: VecDeque::new(), games: 0, lines: 0, size, position }
    }

    /// The next batch; waits for it no longer than `patience`.
    pub fn next_batch(&mut self, patience: Duration) -> Next {
        if let Some(batch) = self.ready.pop_front() {
            return Next::Batch(Box::new(batch));
        }
        let mut results = locked(&self.shared.results);
        loop {
            let number = results.taken;
            if let Some(result) = results.done.remove(&number) {
                results.taken += 1;
                drop(results);
                self.shared.changed.notify_all();
                return Next::Batch(Box::new(self.placed(result)));
            }
            if results.failed {
                return Next::Broken(io::Error::other("the scan has failed; this is a defect of the program"), 0);
            }
            if results.at_work == 0 {
                drop(results);
                let feed = &mut locked(&self.shared.source).feed;
                return feed.take_fault().map_or(Next::End, |fault| Next::Broken(fault, feed.bytes_read()));
            }
            let (held, timeout) =
                self.shared.changed.wait_timeout(results, patience).unwrap_or_else(PoisonError::into_inner);
            results = held;
            if timeout.timed_out() && !results.done.contains_key(&results.taken) && results.at_work > 0 {
                return Next::Wait;
            }
        }
    }

    /// The first batch of a block, its numbers counted from the start of the file; the others are kept for later.
    fn placed(&mut self, result: BlockResult) -> Batch {
        let mut batches = result.batches;
        for batch in &mut batches {
            batch.shift(self.games, self.lines);
        }
        self.games = self.games.saturating_add(result.games);
        self.lines += result.lines;
        self.ready.extend(batches);
        self.ready.pop_front().unwrap_or_default()
    }

    /// Bytes of the file read so far, as it lies on disk (compressed, where it is).
    #[must_use]
    pub fn bytes_done(&self) -> u64 {
        self.position.bytes()
    }

    /// Bytes of the file on disk.
    #[must_use]
    pub fn bytes_total(&self) -> u64 {
        self.size
    }
}

impl Drop for Scan {
    fn drop(&mut self) {
        self.shared.stop.store(true, Ordering::Relaxed);
        // Taken so that no worker is between looking at the flag and going to sleep.
        drop(locked(&self.shared.results));
        self.shared.changed.notify_all();
        for worker in self.workers.drain(..) {
            // A panic was told already, by `failed`.
            let _ = worker.join();
        }
    }
}

impl Shared {
    fn work(&self) {
        let _leaving = Leaving(self);
        let mut reader = GameReader::new(&self.roots, &self.filter);
        while let Some((number, block)) = self.next_block() {
            let result = read_block(&block, &mut reader);
            locked(&self.room).push(block.into_room());
            locked(&self.results).done.insert(number, result);
            self.changed.notify_all();
        }
    }

    fn next_block(&self) -> Option<(u64, super::feed::Block)> {
        // Held while waiting for the taker, so that blocks are numbered in order.
        let mut source = locked(&self.source);
        let number = source.next;
        let mut results = locked(&self.results);
        while number >= results.taken + self.most_blocks && !self.stop.load(Ordering::Relaxed) {
            results = self.changed.wait(results).unwrap_or_else(PoisonError::into_inner);
        }
        drop(results);
        if source.ended || self.stop.load(Ordering::Relaxed) {
            return None;
        }
        let room = locked(&self.room).pop().unwrap_or_default();
        let block = source.feed.next_block(room);
        source.ended = block.is_none();
        source.next += 1;
        block.map(|block| (number, block))
    }
}

/// Tells that a worker has left, also when it panics.
struct Leaving<'s>(&'s Shared);

impl Drop for Leaving<'_> {
    fn drop(&mut self) {
        let mut results = locked(&self.0.results);
        results.at_work -= 1;
        results.failed |= thread::panicking();
        drop(results);
        self.0.changed.notify_all();
    }
}
