//! A file that a tool's program writes its readings into: one that grows by a line for each, or one that is written anew for
//! each and holds only that.
//!
//! What stood in it already is of another day. One that is written anew is read once it is left alone and holds one whole line;
//! with more than one it holds old readings, and only what is added to them is new. What is half written is no reading. Neither
//! is what stood there already: a file that was only touched, or cut down to an old line, is passed over; the same reading twice
//! counts where the file is seen emptied in between.

use super::{AGAIN, AT_ONCE};
use crate::job::At;
use crate::session::lines::{Framer, Line};
use std::fs::{File, Metadata};
use std::io::{self, ErrorKind};
use std::os::unix::fs::{FileExt, MetadataExt};
use std::path::Path;
use std::time::{Duration, Instant};

/// One that is written anew is whole once nobody has written into it for so long.
const LEFT_ALONE: Duration = Duration::from_millis(200);
/// So many bytes tell whether what was read is still what stands there.
const TAIL: usize = 256;

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
    /// When it was last looked whether it still is the file of that name.
    compared: Instant,
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
            compared: Instant::now(),
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
        self.compare(path)?;
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

    /// A file that was replaced grows no more.
    fn compare(&mut self, path: &Path) -> io::Result<()> {
        if self.compared.elapsed() < AGAIN {
            return Ok(());
        }
        self.compared = Instant::now();
        let same = |one: &Metadata, other: &Metadata| (one.dev(), one.ino()) == (other.dev(), other.ino());
        match same(&self.file.metadata()?, &std::fs::metadata(path)?) {
            true => Ok(()),
            false => Err(io::Error::other("another file has taken its place")),
        }
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

fn shape(file: &File) -> io::Result<Shape> {
    let found = file.metadata()?;
    Ok(Shape { length: found.len(), modified: (found.mtime(), found.mtime_nsec()) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs::{self, OpenOptions};
    use std::io::Write;
    use std::path::PathBuf;
    use std::sync::atomic::{AtomicI64, Ordering};
    use std::thread::sleep;

    struct Written {
        growing: Growing,
        path: PathBuf,
        _folder: tempfile::TempDir,
    }

    impl Written {
        fn with(text: &str) -> Written {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join("readings");
            fs::write(&path, text).unwrap();
            Written { growing: Growing::of(File::open(&path).unwrap()).unwrap(), path, _folder: folder }
        }

        fn add(&self, text: &str) {
            OpenOptions::new().append(true).create(true).open(&self.path).unwrap().write_all(text.as_bytes()).unwrap();
        }

        /// Writes it anew. The clock of a file is a coarse one.
        fn write(&self, text: &str) {
            sleep(Duration::from_millis(20));
            fs::write(&self.path, text).unwrap();
        }

        fn come(&mut self) -> Vec<String> {
            let lines = self.growing.look(&self.path, || At(0)).unwrap();
            lines.into_iter().map(|(line, _)| if let Line::Text(text) = line { text } else { "-".into() }).collect()
        }

        /// What comes once it is left alone.
        fn settled(&mut self) -> Vec<String> {
            let mut all = self.come();
            sleep(LEFT_ALONE + Duration::from_millis(20));
            all.extend(self.come());
            all
        }
    }

    const NOTHING: [&str; 0] = [];

    #[test]
    fn the_rest_of_a_line_that_was_begun_before_is_no_reading() {
        let mut file = Written::with("15 NM\n1");
        file.add("38.5 NM\n70 NM\n");
        assert_eq!(file.come(), ["70 NM"]);
        // Written anew, shorter, and ending within a line.
        file.write("15 NM\n2");
        assert_eq!(file.settled(), NOTHING);
        file.add("0 NM\n90 NM\n");
        assert_eq!(file.come(), ["90 NM"]);
        let mut file = Written::with("");
        file.add("38.5 NM\n");
        assert_eq!(file.come(), ["38.5 NM"]);
    }

    #[test]
    fn a_file_that_was_replaced_is_lost() {
        let mut file = Written::with("15 NM\n");
        fs::rename(&file.path, file.path.with_extension("old")).unwrap();
        file.growing.compared -= AGAIN;
        assert!(file.growing.look(&file.path, || At(0)).is_err());
        file.add("15 NM\n15 NM\n");
        file.growing.compared -= AGAIN;
        assert!(file.growing.look(&file.path, || At(0)).is_err());
    }

    #[test]
    fn one_that_is_written_anew_for_each_reading_is_read() {
        let mut file = Written::with("15 NM\n");
        assert_eq!(file.settled(), NOTHING, "it is of another day");
        // Longer, as long, shorter, the same again.
        for reading in ["138.5 NM", "138.6 NM", "20 NM", "0 NM", "20 NM", "20 NM\r"] {
            file.write("");
            assert_eq!(file.come(), NOTHING);
            file.write(&format!("{reading}\n"));
            assert_eq!(file.settled(), [reading.trim()]);
            assert_eq!(file.settled(), NOTHING, "once");
        }
        // Not seen empty, it is another one only if it is another value.
        for reading in ["70 NM", "138 NM", "8 NM"] {
            file.write(&format!("{reading}\n"));
            assert_eq!(file.settled(), [reading]);
        }
        // From then on it may grow as well.
        file.add("21 NM\n");
        assert_eq!(file.come(), ["21 NM"]);
    }

    /// Read on from where the old line ended, the new ones end in "5 NM".
    #[test]
    fn the_end_of_a_longer_line_is_no_line() {
        let mut file = Written::with("");
        file.add("7 NM\n");
        assert_eq!(file.come(), ["7 NM"]);
        file.write("170.15 NM\n");
        assert_eq!(file.come(), NOTHING);
        assert_eq!(file.settled(), ["170.15 NM"]);
        file.write("170.25 NM\n170.15 NM\n");
        assert_eq!(file.settled(), NOTHING, "old readings, written out anew");
    }

    #[test]
    fn what_is_half_written_does_not_count() {
        let mut file = Written::with("15 NM\n");
        file.write("");
        assert_eq!(file.settled(), NOTHING);
        file.add("7");
        assert_eq!(file.settled(), NOTHING);
        file.add("0 NM");
        assert_eq!(file.settled(), NOTHING, "it may go on");
        file.add("\n");
        assert_eq!(file.come(), NOTHING, "so may this");
        assert_eq!(file.settled(), ["70 NM"]);
    }
    #[test]
    fn what_is_only_touched_or_cut_down_is_no_reading() {
        let mut file = Written::with("15 NM\n");
        file.write("15 NM\n");
        assert_eq!(file.settled(), NOTHING, "saved again");
        file.add("70 NM\n80 NM\n");
        assert_eq!(file.come(), ["70 NM", "80 NM"]);
        file.write("80 NM\n");
        assert_eq!(file.settled(), NOTHING, "cut down to the last line");
        file.add("90 NM\n");
        assert_eq!(file.come(), ["90 NM"]);
    }

    /// A program may empty the file long before it writes, when the tool is made ready or the last reading was fetched.
    #[test]
    fn a_reading_is_of_the_moment_of_its_first_byte_and_not_of_when_the_file_was_emptied() {
        static CLOCK: AtomicI64 = AtomicI64::new(0);
        let now = || At(CLOCK.load(Ordering::SeqCst));
        let mut file = Written::with("15 NM\n");
        for (at, text) in [(1_000, ""), (60_000, ""), (60_100, "70 NM\n"), (60_400, "70 NM\n")] {
            CLOCK.store(at, Ordering::SeqCst);
            if at != 60_400 {
                file.write(text);
            } else {
                sleep(LEFT_ALONE);
            }
            let came = file.growing.look(&file.path, now).unwrap();
            assert_eq!(
                came.iter().map(|(_, at)| at.0).collect::<Vec<_>>(),
                if at == 60_400 { vec![60_000] } else { vec![] }
            );
        }
    }
}
