//! A file that a tool's program writes its readings into: one that grows by a line for each, or one that is written anew for
//! each and holds only that.
//!
//! What stood in it already is of another day. One that is written anew is read once it is left alone and holds one whole line;
//! with more than one it holds old readings, and only what is added to them is new. What is half written is no reading.

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
const TAIL: usize = 64;

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
    /// When that was noticed.
    began: At,
    shape: Shape,
    /// Since when it has been of that shape.
    since: Instant,
}

impl Growing {
    pub fn of(file: File) -> io::Result<Growing> {
        let seen = shape(&file)?;
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
        growing.skip_to_the_end(seen)?;
        Ok(growing)
    }

    /// The lines that have come, each with the moment of its first byte.
    pub fn look(&mut self, path: &Path, now: fn() -> At) -> io::Result<Vec<(Line, At)>> {
        self.compare(path)?;
        let shape = shape(&self.file)?;
        if self.anew.is_some() {
            return self.written_anew(shape);
        }
        if shape == self.seen {
            return Ok(Vec::new());
        }
        if shape.length > self.read && self.stands()? {
            return self.grown(shape, now());
        }
        self.anew = Some(Anew { began: now(), shape, since: Instant::now() });
        self.written_anew(shape)
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
        self.has_read(self.read + length, shape)?;
        Ok(self.framer.lines_behind(&bytes, &mut self.half, at))
    }

    /// It is read once it is whole; says what it holds then.
    fn written_anew(&mut self, shape: Shape) -> io::Result<Vec<(Line, At)>> {
        let Some(anew) = &mut self.anew else { return Ok(Vec::new()) };
        if anew.shape != shape {
            (anew.shape, anew.since) = (shape, Instant::now());
        }
        let (began, whole) = (anew.began, anew.since.elapsed() >= LEFT_ALONE);
        let Some(bytes) = self.bytes(0, shape.length.min(AT_ONCE as u64) as usize)? else { return Ok(Vec::new()) };
        let ends = |byte: &u8| matches!(byte, b'\n' | b'\r');
        let Some(end) = bytes.iter().position(ends) else {
            if shape.length > AT_ONCE as u64 {
                self.skip_to_the_end(shape)?;
            }
            return Ok(Vec::new());
        };
        if shape.length > AT_ONCE as u64 || !bytes[end..].iter().all(|byte| ends(byte)) {
            self.skip_to_the_end(shape)?;
            return Ok(Vec::new());
        }
        if !whole || self::shape(&self.file)? != shape {
            return Ok(Vec::new());
        }
        self.begin_anew();
        self.has_read(shape.length, shape)?;
        Ok(self.framer.lines_behind(&bytes, &mut self.half, began))
    }

    /// Passes over what stands there already, and over the rest of a line that is begun.
    fn skip_to_the_end(&mut self, shape: Shape) -> io::Result<()> {
        self.begin_anew();
        self.has_read(shape.length, shape)?;
        self.half = self.tail.last().is_some_and(|last| !matches!(last, b'\n' | b'\r'));
        Ok(())
    }

    fn begin_anew(&mut self) {
        (self.anew, self.half) = (None, false);
        self.framer.clear();
    }

    fn has_read(&mut self, to: u64, shape: Shape) -> io::Result<()> {
        let length = to.min(TAIL as u64);
        // One that is shorter by now is found to be written anew.
        self.tail = self.bytes(to - length, length as usize)?.unwrap_or_default();
        (self.read, self.seen) = (to, Shape { length: to, ..shape });
        Ok(())
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
        for reading in ["138.5 NM", "138.6 NM", "20 NM", "20 NM", "20 NM\r"] {
            file.write(&format!("{reading}\n"));
            assert_eq!(file.settled(), [reading.trim()]);
            assert_eq!(file.settled(), NOTHING, "once");
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
}
