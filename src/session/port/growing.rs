//! A file that a tool's program writes its readings into: one that grows by a line for each, or one that is written anew for
//! each and holds only that. Both may be a new file each time, put in the place of the last one.
//!
//! The rule is that a reading is rather lost than given twice. What stood in the file already, and what comes in the first second,
//! is of another day. What is added to what was read is new; else a file counts once it holds one whole line and is left alone,
//! if that line is not among those read last. The same line again counts only where there was nothing for a second in between,
//! an empty file or none: a program that writes its file all the time is seen in the middle of that.
//!
//! A program that stops for longer than that within one writing is taken at what it left.

use super::device::{AT_ONCE, open};
use crate::job::At;
use crate::session::lines::{Framer, Line};
use std::fs::{File, Metadata};
use std::io::{self, ErrorKind};
use std::os::unix::fs::{FileExt, MetadataExt};
use std::path::Path;
use std::time::{Duration, Instant, SystemTime};

/// One that is written anew is whole once nobody has written into it for so long.
const LEFT_ALONE: Duration = Duration::from_millis(200);
/// There has been nothing once there was nothing at every look for so long. The same reading within three seconds is one that was
/// sent twice, so that a longer wait costs little.
const NOTHING: Duration = Duration::from_secs(1);
/// What comes sooner may have been under way when the file was opened.
const FIRST: Duration = Duration::from_secs(1);
/// So many bytes tell whether what was read is still what stands there; a line that is written anew is no longer.
const TAIL: usize = AT_ONCE;

/// The two clocks that a look is judged by: one that only goes on, and that of the files.
#[derive(Debug, Clone, Copy)]
pub(super) struct Clocks {
    pub passed: Instant,
    pub wall: SystemTime,
}

impl Clocks {
    pub fn now() -> Clocks {
        Clocks { passed: Instant::now(), wall: SystemTime::now() }
    }

    fn since(self, earlier: Instant) -> Duration {
        self.passed.saturating_duration_since(earlier)
    }
}

pub(super) struct Growing {
    /// None while there is none of its name.
    file: Option<File>,
    framer: Framer,
    /// The rest of a line that was begun before is none.
    half: bool,
    /// How far it was read, and the last bytes of that.
    read: u64,
    tail: Vec<u8>,
    /// What had been read when it was cut down to a part of that: nothing, if it was not.
    cut: Vec<u8>,
    /// As it was when it was read.
    seen: Shape,
    anew: Option<Anew>,
    /// The one whole line in it that does not count yet, and its moment: it may be written over and over meanwhile.
    line: Option<(Vec<u8>, At)>,
    /// Since when there has been nothing to read: an empty file, always that one, or none.
    nothing: Option<(Option<Shape>, Instant)>,
    /// There was nothing for long enough, and nothing has been read since: what comes is new, be it the same.
    fresh: bool,
    /// What was written before this is of another day.
    opened: Clocks,
    /// No look yet has been later than the first second.
    first: bool,
    /// The moment of this look, and its clocks.
    at: At,
    clocks: Clocks,
}

/// What changes when a file is written into.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Shape {
    length: u64,
    modified: SystemTime,
}

/// It is being written anew.
struct Anew {
    /// Not before this its first byte was seen.
    began: At,
    shape: Shape,
    /// Since when it has been of that shape.
    since: Instant,
}

impl Growing {
    /// This one, from its end on.
    pub fn of(file: File, opened: Clocks) -> io::Result<Growing> {
        let mut growing = Growing::awaited(opened);
        growing.file = Some(file);
        // What is written into it while it is looked at for the first time is of before, too.
        loop {
            let seen = growing.shape()?;
            growing.skip_to_the_end(seen)?;
            if growing.seen == seen && growing.read == seen.length {
                break;
            }
        }
        if growing.read == 0 {
            growing.anew = Some(Anew { began: growing.at, shape: growing.seen, since: opened.passed });
        }
        Ok(growing)
    }

    /// One that is not there yet.
    pub fn awaited(opened: Clocks) -> Growing {
        Growing {
            file: None,
            framer: Framer::default(),
            half: false,
            read: 0,
            tail: Vec::new(),
            cut: Vec::new(),
            seen: Shape { length: 0, modified: SystemTime::UNIX_EPOCH },
            anew: None,
            line: None,
            nothing: None,
            fresh: false,
            opened,
            first: true,
            at: At(0),
            clocks: opened,
        }
    }

    /// The lines that have come, each with the moment of its first byte. While it is not there it is looked for.
    pub fn look(&mut self, path: &Path, at: At, clocks: Clocks) -> io::Result<Vec<(Line, At)>> {
        // Nobody knows what was there while nobody looked.
        if clocks.since(self.clocks.passed) > LEFT_ALONE {
            self.nothing = None;
        }
        (self.at, self.clocks) = (at, clocks);
        // A look that comes late shows what came in that second, too.
        let first = self.first;
        self.first = self.is_first();
        let mut lines = self.read_on()?;
        if lines.is_empty() {
            lines = self.follow(path)?;
        }
        if first {
            lines.clear();
        }
        Ok(lines)
    }

    fn is_first(&self) -> bool {
        self.clocks.since(self.opened.passed) < FIRST
    }

    fn read_on(&mut self) -> io::Result<Vec<(Line, At)>> {
        if self.file.is_none() {
            return Ok(Vec::new());
        }
        let shape = self.shape()?;
        if self.anew.is_some() {
            return self.written_anew(shape);
        }
        if shape == self.seen {
            return Ok(Vec::new());
        }
        if shape.length > self.read && self.stands()? {
            return self.grown(shape, self.at);
        }
        self.begins_anew(shape, self.at)
    }

    /// Goes over to a new file that was put in its place; gives what is added in it to what was read.
    fn follow(&mut self, path: &Path) -> io::Result<Vec<(Line, At)>> {
        let there = match std::fs::metadata(path) {
            Ok(there) if there.is_file() => there,
            Ok(_) => return Err(another()),
            // Some take the old one away before they put the new one there.
            Err(error) if error.kind() == ErrorKind::NotFound => {
                self.is_nothing(None);
                let gone = self.nothing.map_or(self.clocks.passed, |(_, since)| since);
                if self.file.is_some() && self.clocks.since(gone) < NOTHING {
                    return Ok(Vec::new());
                }
                self.file = None;
                return Err(error);
            }
            Err(error) => return Err(error),
        };
        let shape = Shape::of(&there)?;
        match shape.length {
            0 => self.is_nothing(Some(shape)),
            _ => self.nothing = None,
        }
        let same = |one: &Metadata| (one.dev(), one.ino()) == (there.dev(), there.ino());
        if let Some(file) = &self.file
            && same(&file.metadata()?)
        {
            return Ok(Vec::new());
        }
        let file = match open(path) {
            // Taken away at this very moment.
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
            opened => opened?,
        };
        let shape = Shape::of(&file.metadata()?)?;
        if self.is_old(shape) {
            return Err(another());
        }
        self.file = Some(file);
        // It was written before it was put there.
        let age = self.clocks.wall.duration_since(shape.modified).unwrap_or_default();
        let at = At(self.at.0 - age.as_millis() as i64);
        let least = self.read + u64::from(self.fresh);
        if self.read > 0 && shape.length >= least && self.stands()? {
            self.anew = None;
            return self.grown(shape, at);
        }
        self.begins_anew(shape, at)
    }

    /// There is nothing to read: an empty file of this shape, or none.
    fn is_nothing(&mut self, what: Option<Shape>) {
        match self.nothing {
            Some((before, since)) if before == what => {
                if self.clocks.since(since) >= NOTHING {
                    (self.fresh, self.line) = (true, None);
                }
            }
            _ => self.nothing = Some((what, self.clocks.passed)),
        }
    }

    /// Is it of before the session, or older than what was read last?
    fn is_old(&self, shape: Shape) -> bool {
        !self.is_first() && (shape.modified < self.opened.wall || shape.modified < self.seen.modified)
    }

    /// Is what was read last still what stands there?
    fn stands(&self) -> io::Result<bool> {
        let from = self.read - self.tail.len() as u64;
        Ok(self.read > 0 && self.bytes(from, self.tail.len())?.is_some_and(|bytes| bytes == self.tail))
    }

    /// Something was added.
    fn grown(&mut self, shape: Shape, at: At) -> io::Result<Vec<(Line, At)>> {
        let length = (shape.length - self.read).min(AT_ONCE as u64);
        let bytes = self.bytes(self.read, length as usize)?;
        // One that was written anew meanwhile did not grow.
        let Some(bytes) = bytes.filter(|_| self.shape().is_ok_and(|now| now == shape)) else {
            return Ok(Vec::new());
        };
        let read = [self.tail.as_slice(), &bytes].concat();
        let before = self.read;
        self.has_read(self.read + length, shape, &read);
        let mut lines = self.framer.lines_behind(&bytes, &mut self.half, at);
        // One that was cut down is put back: only what stands behind all of that is new.
        if self.read <= TAIL as u64 {
            if stood(&self.cut, &self.tail) {
                return Ok(Vec::new());
            }
            if before < self.cut.len() as u64 && self.tail.starts_with(&self.cut) {
                self.framer.clear();
                self.half = self.cut.last().is_some_and(|last| !is_end(last));
                lines = self.framer.lines_behind(&self.tail[self.cut.len()..], &mut self.half, at);
            }
        }
        self.cut.clear();
        Ok(lines)
    }

    fn begins_anew(&mut self, shape: Shape, began: At) -> io::Result<Vec<(Line, At)>> {
        self.anew = Some(Anew { began, shape, since: self.clocks.passed });
        self.written_anew(shape)
    }

    /// It is read once it is whole; says what it holds then.
    fn written_anew(&mut self, shape: Shape) -> io::Result<Vec<(Line, At)>> {
        let Some(anew) = &mut self.anew else { return Ok(Vec::new()) };
        if shape.length == 0 || shape.length < anew.shape.length {
            anew.began = self.at;
        }
        if anew.shape != shape {
            (anew.shape, anew.since) = (shape, self.clocks.passed);
        }
        let (mut began, whole) = (anew.began, self.clocks.since(anew.since) >= LEFT_ALONE);
        let Some(bytes) = self.bytes(0, shape.length.min(AT_ONCE as u64) as usize)? else { return Ok(Vec::new()) };
        let long = shape.length > AT_ONCE as u64;
        let end = bytes.iter().position(is_end);
        let one = !long && end.is_some_and(|end| bytes[end..].iter().all(is_end));
        if one {
            match &self.line {
                Some((line, at)) if *line == bytes => began = *at,
                _ => self.line = Some((bytes.clone(), began)),
            }
        }
        if !whole || !long && end.is_none() || self.shape()? != shape {
            return Ok(Vec::new());
        }
        if self.is_old(shape) {
            return Err(another());
        }
        let again = self.fresh && shape.modified > self.seen.modified;
        if !long && self.holds_nothing_new(&bytes) && !(one && again) {
            if self.cut.is_empty() {
                self.cut = std::mem::take(&mut self.tail);
            }
            self.passes_over(shape, &bytes);
            return Ok(Vec::new());
        }
        if !one {
            // With more than one it holds old ones, but for what is added to what was read.
            if shape.length > self.read && self.stands()? {
                self.anew = None;
                return self.grown(shape, began);
            }
            self.skip_to_the_end(shape)?;
            return Ok(Vec::new());
        }
        self.passes_over(shape, &bytes);
        self.cut.clear();
        Ok(self.framer.lines_behind(&bytes, &mut self.half, began))
    }

    /// Are these lines among those that were read last? Where nothing was read yet, nobody knows what stood there.
    fn holds_nothing_new(&self, lines: &[u8]) -> bool {
        let begun = self.tail.rsplit(is_end).next().unwrap_or_default();
        match self.tail.is_empty() {
            true => !self.fresh,
            false => {
                let rest_of_one = !begun.is_empty() && lines.starts_with(begun);
                rest_of_one || stood(&self.tail, lines) || stood(&self.cut, lines)
            }
        }
    }

    /// Passes over what stands there already, and over the rest of a line that is begun.
    fn skip_to_the_end(&mut self, shape: Shape) -> io::Result<()> {
        let length = shape.length.min(TAIL as u64);
        // One that changed meanwhile is looked at again.
        let Some(tail) = self.bytes(shape.length - length, length as usize)? else { return Ok(()) };
        if self.shape()? != shape {
            return Ok(());
        }
        self.passes_over(shape, &tail);
        self.cut.clear();
        Ok(())
    }

    fn passes_over(&mut self, shape: Shape, tail: &[u8]) {
        self.anew = None;
        self.framer.clear();
        self.has_read(shape.length, shape, tail);
        self.half = self.tail.last().is_some_and(|last| !is_end(last));
    }

    /// It was read up to there, and these bytes were the last.
    fn has_read(&mut self, to: u64, shape: Shape, bytes: &[u8]) {
        self.tail = bytes[bytes.len().saturating_sub(TAIL)..].to_vec();
        (self.read, self.seen) = (to, Shape { length: to, ..shape });
        (self.line, self.nothing, self.fresh) = (None, None, false);
    }

    fn shape(&self) -> io::Result<Shape> {
        self.file.as_ref().map_or_else(|| Err(another()), |file| Shape::of(&file.metadata()?))
    }

    /// A part of it; nothing if it is shorter by now.
    fn bytes(&self, from: u64, length: usize) -> io::Result<Option<Vec<u8>>> {
        let Some(file) = &self.file else { return Ok(None) };
        let mut bytes = vec![0; length];
        match file.read_exact_at(&mut bytes, from) {
            Ok(()) => Ok(Some(bytes)),
            Err(error) if error.kind() == ErrorKind::UnexpectedEof => Ok(None),
            Err(error) => Err(error),
        }
    }
}

impl Shape {
    fn of(found: &Metadata) -> io::Result<Shape> {
        Ok(Shape { length: found.len(), modified: found.modified()? })
    }
}

/// Do these bytes stand in those, from the beginning of a line on?
fn stood(those: &[u8], bytes: &[u8]) -> bool {
    let begins = |at: usize| at.checked_sub(1).is_none_or(|before| is_end(&those[before]));
    !bytes.is_empty() && those.windows(bytes.len()).enumerate().any(|(at, there)| there == bytes && begins(at))
}

fn is_end(byte: &u8) -> bool {
    matches!(byte, b'\n' | b'\r')
}

fn another() -> io::Error {
    io::Error::other("another file has taken its place")
}

#[cfg(test)]
mod tests;
