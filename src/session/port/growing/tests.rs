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

    /// Writes another file, and puts it in its place.
    fn put(&self, text: &str) {
        fs::rename(self.beside(text), &self.path).unwrap();
    }

    fn beside(&self, text: &str) -> PathBuf {
        let other = self.path.with_extension("new");
        fs::write(&other, text).unwrap();
        other
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
fn one_that_is_taken_away_is_lost_and_read_to_its_end() {
    let mut file = Written::with("15 NM\n");
    let old = file.path.with_extension("old");
    fs::rename(&file.path, &old).unwrap();
    OpenOptions::new().append(true).open(&old).unwrap().write_all(b"70 NM\n").unwrap();
    assert_eq!(file.come(), ["70 NM"]);
    assert_eq!(file.come(), NOTHING, "another one may come at once");
    file.growing.gone = file.growing.gone.map(|gone| gone - AGAIN);
    assert!(file.growing.look(&file.path, || At(0)).is_err());
}

#[test]
fn a_new_file_put_in_its_place_is_read_as_the_old_one_would_be() {
    let mut file = Written::with("15 NM\n");
    // One that holds the reading and no other.
    for reading in ["138.5 NM", "20 NM", "138.5 NM"] {
        file.put(&format!("{reading}\n"));
        assert_eq!(file.settled(), [reading]);
        file.put(&format!("{reading}\n"));
        assert_eq!(file.settled(), NOTHING, "the same again, as those write it who write all the time");
    }
    // One that holds what was there and more, be it the same, and grows from then on.
    file.put("138.5 NM\n138.5 NM\n70 NM\n");
    assert_eq!(file.come(), ["138.5 NM", "70 NM"]);
    file.add("80 NM\n");
    assert_eq!(file.come(), ["80 NM"]);
    // Begun anew, with nothing in it yet.
    file.put("");
    assert_eq!(file.settled(), NOTHING);
    file.add("90 NM\n");
    assert_eq!(file.settled(), ["90 NM"]);
    // Old readings, written out anew.
    file.put("15 NM\n16 NM\n");
    assert_eq!(file.settled(), NOTHING);
    file.add("17 NM\n");
    assert_eq!(file.come(), ["17 NM"]);
}

#[test]
fn a_new_file_that_is_half_written_does_not_count() {
    let mut file = Written::with("15 NM\n");
    fs::remove_file(&file.path).unwrap();
    assert_eq!(file.come(), NOTHING);
    file.add("7");
    assert_eq!(file.settled(), NOTHING);
    file.add("0 NM\n");
    assert_eq!(file.settled(), ["70 NM"]);
}

#[test]
fn what_was_written_before_is_not_read_wherever_it_is_put() {
    let yesterday = SystemTime::now() - Duration::from_secs(86_400);
    for text in ["70 NM\n", "15 NM\n70 NM\n"] {
        let mut file = Written::with("15 NM\n");
        let other = file.beside(text);
        File::options().append(true).open(&other).unwrap().set_modified(yesterday).unwrap();
        fs::rename(other, &file.path).unwrap();
        assert!(file.growing.look(&file.path, || At(0)).is_err());
    }
}

/// It may be put there long after it was written.
#[test]
fn a_reading_in_a_new_file_is_of_the_moment_at_which_it_was_written() {
    let mut file = Written::with("15 NM\n");
    let other = file.beside("70 NM\n");
    sleep(Duration::from_millis(300));
    fs::rename(other, &file.path).unwrap();
    assert!(file.growing.look(&file.path, || At(1_000)).unwrap().is_empty());
    sleep(LEFT_ALONE);
    let came = file.growing.look(&file.path, || At(1_200)).unwrap();
    assert!(matches!(came[..], [(_, At(..=700))]), "{came:?}");
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
