//! A file that a tool's program writes its readings into: one that grows by a line for each, or one that is written anew for
//! each and holds only that. Both may be a new file each time, put in the place of the last one.
//!
//! What stood in it already is of another day. One that is written anew is read once it is left alone and holds one whole line;
//! with more than one it holds old readings, and only what is added to them is new. What is half written is no reading. Neither
//! is what stood there already: a file that was only touched, or cut down to an old line, is passed over; the same reading twice
//! counts where the file is seen emptied in between. A new file in its place is read as the old one would be, if it was written
//! since: one of before is another day's, and told as a tool that is gone and back.

use super::{AGAIN, AT_ONCE, open};
use crate::job::At;
use crate::session::lines::{Framer, Line};
use std::fs::{File, Metadata};
use std::io::{self, ErrorKind};
use std::os::unix::fs::{FileExt, MetadataExt};
use std::path::Path;
use std::time::{Duration, Instant, SystemTime};

/// One that is written anew is whole once nobody has written into it for so long.
const LEFT_ALONE: Duration = Duration::from_millis(200);
/// So many bytes tell whether what was read is still what stands there.
const TAIL: usize = 256;
/// The moments of files are no finer than this, everywhere.
const COARSE: Duration = Duration::from_secs(2);

pub(super) struct Growing {
    file: File,
    framer: Framer,
    /// The rest of a line that was begun before is none.
    half: bool,
    /// How far it was read, and the last bytes of that.
    read: u64,
    tail: Vec<u8>,
    /// As it was when it was read.
    seen: Shape,
    anew: Option<Anew>,
    /// Since when there has been no file of its name.
    gone: Option<Instant>,
    /// What was written before this is of another day.
    opened: SystemTime,
}

/// What changes when a file is written into.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Shape {
    length: u64,
    modified: (i64, i64),
}

/// It is being written anew.
struct Anew {
    /// Not before this its first byte was written.
    began: At,
    /// It was seen with less in it than before, and with more after that: what it holds is new, be it the same.
    filled: bool,
    shape: Shape,
    /// Since when it has been of that shape.
    since: Instant,
}

impl Growing {
    pub fn of(file: File) -> io::Result<Growing> {
        let seen = Shape { length: 0, modified: (0, 0) };
        let mut growing = Growing {
            file,
            framer: Framer::default(),
            half: false,
            read: 0,
            tail: Vec::new(),
            seen,
            anew: None,
            gone: None,
            opened: SystemTime::now(),
        };
        // What is written into it while it is looked at for the first time is of before, too.
        loop {
            let seen = shape(&growing.file)?;
            growing.skip_to_the_end(seen)?;
            if growing.seen == seen && growing.read == seen.length {
                return Ok(growing);
            }
        }
    }

    /// The lines that have come, each with the moment of its first byte.
    pub fn look(&mut self, path: &Path, now: fn() -> At) -> io::Result<Vec<(Line, At)>> {
        let lines = self.read_on(now)?;
        if lines.is_empty() { self.follow(path, now) } else { Ok(lines) }
    }

    fn read_on(&mut self, now: fn() -> At) -> io::Result<Vec<(Line, At)>> {
        let shape = shape(&self.file)?;
        if self.anew.is_some() {
            return self.written_anew(shape, now);
        }
        if shape == self.seen {
            return Ok(Vec::new());
        }
        if shape.length > self.read && self.stands()? {
            return self.grown(shape, now());
        }
        self.anew = Some(Anew { began: now(), filled: shape.length == 0, shape, since: Instant::now() });
        self.written_anew(shape, now)
    }

    /// Goes over to a new file that was put in its place; gives what is added in it to what was read.
    fn follow(&mut self, path: &Path, now: fn() -> At) -> io::Result<Vec<(Line, At)>> {
        let same = |one: &Metadata, other: &Metadata| (one.dev(), one.ino()) == (other.dev(), other.ino());
        let file = match std::fs::metadata(path).and_then(|there| match there.is_file() {
            true if same(&self.file.metadata()?, &there) => Ok(None),
            true => open(path).map(Some),
            false => Err(another()),
        }) {
            Ok(file) => file,
            // Some take the old one away before they put the new one there.
            Err(error) if error.kind() == ErrorKind::NotFound => {
                let gone = self.gone.get_or_insert_with(Instant::now);
                return if gone.elapsed() < AGAIN { Ok(Vec::new()) } else { Err(error) };
            }
            Err(error) => return Err(error),
        };
        self.gone = None;
        let Some(file) = file else { return Ok(Vec::new()) };
        let (written, shape) = (file.metadata()?.modified()?, shape(&file)?);
        if written + COARSE < self.opened || shape.modified < self.seen.modified {
            return Err(another());
        }
        self.file = file;
        // It was written before it was put there.
        let age = SystemTime::now().duration_since(written).unwrap_or_default();
        let at = At(now().0 - age.as_millis() as i64);
        if self.read > 0 && shape.length >= self.read && self.stands()? {
            return self.grown(shape, at);
        }
        self.anew = Some(Anew { began: at, filled: shape.length == 0, shape, since: Instant::now() });
        self.written_anew(shape, now)
    }

    /// Is what was read last still what stands there?
    fn stands(&self) -> io::Result<bool> {
        let from = self.read - self.tail.len() as u64;
        Ok(self.bytes(from, self.tail.len())?.is_some_and(|bytes| bytes == self.tail))
    }

    /// Something was added.
    fn grown(&mut self, shape: Shape, at: At) -> io::Result<Vec<(Line, At)>> {
        let length = (shape.length - self.read).min(AT_ONCE as u64);
        let bytes = self.bytes(self.read, length as usize)?;
        // One that was written anew meanwhile did not grow.
        let Some(bytes) = bytes.filter(|_| self::shape(&self.file).is_ok_and(|now| now == shape)) else {
            return Ok(Vec::new());
        };
        let read = [self.tail.as_slice(), &bytes].concat();
        self.has_read(self.read + length, shape, &read);
        Ok(self.framer.lines_behind(&bytes, &mut self.half, at))
    }

    /// It is read once it is whole; says what it holds then.
    fn written_anew(&mut self, shape: Shape, now: fn() -> At) -> io::Result<Vec<(Line, At)>> {
        let Some(anew) = &mut self.anew else { return Ok(Vec::new()) };
        if shape.length == 0 || shape.length < anew.shape.length {
            anew.began = now();
        }
        anew.filled |= shape.length == 0 || (anew.shape.length < self.read && anew.shape.length < shape.length);
        if anew.shape != shape {
            (anew.shape, anew.since) = (shape, Instant::now());
        }
        let (began, filled, whole) = (anew.began, anew.filled, anew.since.elapsed() >= LEFT_ALONE);
        let Some(bytes) = self.bytes(0, shape.length.min(AT_ONCE as u64) as usize)? else { return Ok(Vec::new()) };
        let ends = |byte: &u8| matches!(byte, b'\n' | b'\r');
        let Some(end) = bytes.iter().position(ends) else {
            if shape.length > AT_ONCE as u64 {
                self.skip_to_the_end(shape)?;
            }
            return Ok(Vec::new());
        };
        if shape.length > AT_ONCE as u64 || !bytes[end..].iter().all(ends) {
            self.skip_to_the_end(shape)?;
            return Ok(Vec::new());
        }
        if !whole || self::shape(&self.file)? != shape {
            return Ok(Vec::new());
        }
        let stood = !filled && self.stood(&bytes);
        self.begin_anew();
        self.has_read(shape.length, shape, &bytes);
        if stood {
            return Ok(Vec::new());
        }
        Ok(self.framer.lines_behind(&bytes, &mut self.half, began))
    }

    /// Are these lines among those that were read last?
    fn stood(&self, lines: &[u8]) -> bool {
        let begins = |at: usize| match at.checked_sub(1) {
            Some(before) => matches!(self.tail[before], b'\n' | b'\r'),
            None => true,
        };
        self.tail.windows(lines.len()).enumerate().any(|(at, there)| there == lines && begins(at))
    }

    /// Passes over what stands there already, and over the rest of a line that is begun.
    fn skip_to_the_end(&mut self, shape: Shape) -> io::Result<()> {
        let length = shape.length.min(TAIL as u64);
        // One that changed meanwhile is looked at again.
        let Some(tail) = self.bytes(shape.length - length, length as usize)? else { return Ok(()) };
        if self::shape(&self.file)? != shape {
            return Ok(());
        }
        self.begin_anew();
        self.has_read(shape.length, shape, &tail);
        self.half = self.tail.last().is_some_and(|last| !matches!(last, b'\n' | b'\r'));
        Ok(())
    }

    fn begin_anew(&mut self) {
        (self.anew, self.half) = (None, false);
        self.framer.clear();
    }

    /// It was read up to there, and these bytes were the last.
    fn has_read(&mut self, to: u64, shape: Shape, bytes: &[u8]) {
        self.tail = bytes[bytes.len().saturating_sub(TAIL)..].to_vec();
        (self.read, self.seen) = (to, Shape { length: to, ..shape });
    }

    /// A part of it; nothing if it is shorter by now.
    fn bytes(&self, from: u64, length: usize) -> io::Result<Option<Vec<u8>>> {
        let mut bytes = vec![0; length];
        match self.file.read_exact_at(&mut bytes, from) {
            Ok(()) => Ok(Some(bytes)),
            Err(error) if error.kind() == ErrorKind::UnexpectedEof => Ok(None),
            Err(error) => Err(error),
        }
    }
}

fn another() -> io::Error {
    io::Error::other("another file has taken its place")
}

fn shape(file: &File) -> io::Result<Shape> {
    let found = file.metadata()?;
    Ok(Shape { length: found.len(), modified: (found.mtime(), found.mtime_nsec()) })
}

#[cfg(test)]
mod tests;
