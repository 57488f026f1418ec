//! Every look is driven by hand, on clocks of the test's own: nobody waits.

use super::*;
use std::fs::{self, OpenOptions};
use std::io::Write;
use std::path::PathBuf;

mod orders;

/// A file, whoever writes it, and whoever looks at it.
struct Written {
    growing: Growing,
    path: PathBuf,
    clocks: Clocks,
    at: i64,
    _folder: tempfile::TempDir,
}

impl Written {
    fn with(text: impl Into<Option<&'static str>>) -> Written {
        let mut file = Written::opened_with(text.into());
        file.pass(1_100);
        file
    }

    /// One in its first second.
    fn opened_with(text: Option<&str>) -> Written {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("readings");
        let clocks = Clocks::now();
        let mut file = Written { growing: Growing::awaited(clocks), path, clocks, at: 0, _folder: folder };
        if let Some(text) = text {
            file.write(text);
        }
        file.pass_unseen(10);
        file.open();
        file
    }

    fn open(&mut self) {
        self.growing = match File::open(&self.path) {
            Ok(file) => Growing::of(file, self.clocks).unwrap(),
            Err(_) => Growing::awaited(self.clocks),
        };
    }

    fn pass_unseen(&mut self, millis: u64) {
        let passed = Duration::from_millis(millis);
        self.clocks = Clocks { passed: self.clocks.passed + passed, wall: self.clocks.wall + passed };
        self.at += millis as i64;
    }

    /// Looks as often as a session does, for so long; gives what came.
    fn pass(&mut self, millis: u64) -> Vec<String> {
        (0..millis / 20).flat_map(|_| self.come()).collect()
    }

    /// The next look.
    fn come(&mut self) -> Vec<String> {
        self.pass_unseen(20);
        self.seen().unwrap_or_default().into_iter().map(|(text, _)| text).collect()
    }

    fn seen(&mut self) -> io::Result<Vec<(String, At)>> {
        let lines = self.growing.look(&self.path, At(self.at), self.clocks)?;
        let text = |line| if let Line::Text(text) = line { text } else { "-".into() };
        Ok(lines.into_iter().map(|(line, at)| (text(line), at)).collect())
    }

    /// What comes once it is left alone.
    fn settled(&mut self) -> Vec<String> {
        self.pass(300)
    }

    fn dated(&self, path: &Path) {
        File::options().append(true).open(path).unwrap().set_modified(self.clocks.wall).unwrap();
    }

    fn add(&mut self, text: &str) {
        self.pass_unseen(5);
        OpenOptions::new().append(true).create(true).open(&self.path).unwrap().write_all(text.as_bytes()).unwrap();
        self.dated(&self.path);
    }

    /// Writes it anew.
    fn write(&mut self, text: &str) {
        self.pass_unseen(5);
        fs::write(&self.path, text).unwrap();
        self.dated(&self.path);
    }

    /// Writes another file, and puts it in its place.
    fn put(&mut self, text: &str) {
        self.pass_unseen(5);
        let other = self.beside(text);
        fs::rename(other, &self.path).unwrap();
    }

    fn beside(&self, text: &str) -> PathBuf {
        let other = self.path.with_extension("new");
        fs::write(&other, text).unwrap();
        self.dated(&other);
        other
    }

    fn away(&mut self) {
        fs::remove_file(&self.path).unwrap();
    }
}

const NONE: [&str; 0] = [];

#[test]
fn the_rest_of_a_line_that_was_begun_before_is_no_reading() {
    let mut file = Written::with("15 NM\n1");
    file.add("38.5 NM\n70 NM\n");
    assert_eq!(file.come(), ["70 NM"]);
    // Written anew, shorter, and ending within a line.
    file.write("15 NM\n2");
    assert_eq!(file.settled(), NONE);
    file.add("0 NM\n90 NM\n");
    assert_eq!(file.come(), ["90 NM"]);
}

#[test]
fn what_comes_in_the_first_second_is_of_another_day() {
    let mut file = Written::opened_with(Some("15 NM\n"));
    file.add("20 NM\n");
    assert_eq!(file.pass(900), NONE);
    file.add("30 NM\n");
    file.come();
    assert_eq!(file.pass(400), NONE);
    file.add("40 NM\n");
    assert_eq!(file.come(), ["40 NM"]);
}

/// Opened while a program was about to write yesterday's reading once more.
#[test]
fn one_that_was_empty_half_or_away_when_it_was_opened_holds_nothing_new() {
    for (first, rest) in [(Some(""), "15 NM\n"), (Some("1"), "5 NM\n"), (Some("15 NM\n"), "20 NM\n"), (None, "15 NM\n")]
    {
        let mut file = Written::opened_with(first);
        file.pass(100);
        file.add(rest);
        assert_eq!(file.pass(2_000), NONE, "{first:?}");
        file.add("70 NM\n");
        assert_eq!(file.settled(), ["70 NM"], "{first:?}");
    }
    // The same, never left alone in the first second.
    let mut file = Written::opened_with(Some("1"));
    for _ in 0..30 {
        file.write("");
        file.come();
        file.write("15 NM\n");
        file.pass(100);
    }
    assert_eq!(file.pass(2_000), NONE);
    // There was nothing for long enough.
    for first in [Some(""), None] {
        let mut file = Written::with(first.map(|_| ""));
        file.add("15 NM\n");
        assert_eq!(file.settled(), ["15 NM"]);
    }
}

#[test]
fn one_that_is_taken_away_is_lost_and_read_to_its_end() {
    let mut file = Written::with("15 NM\n");
    let old = file.path.with_extension("old");
    fs::rename(&file.path, &old).unwrap();
    OpenOptions::new().append(true).open(&old).unwrap().write_all(b"70 NM\n").unwrap();
    file.dated(&old);
    assert_eq!(file.come(), ["70 NM"]);
    assert!(file.seen().is_ok_and(|lines| lines.is_empty()), "another one may come at once");
    file.pass(1_100);
    assert!(file.seen().is_err_and(|error| error.kind() == ErrorKind::NotFound));
    // Put back as it was, it holds nothing new; what is added does.
    fs::rename(&old, &file.path).unwrap();
    assert_eq!(file.settled(), NONE);
    file.add("80 NM\n");
    assert_eq!(file.come(), ["80 NM"]);
}

/// By a program that takes it away once it was fetched.
#[test]
fn one_that_was_away_for_long_is_read_when_it_is_there_again() {
    let mut file = Written::with("15 NM\n");
    for reading in ["15 NM", "15 NM", "20 NM"] {
        file.away();
        file.pass(5_000);
        file.add(&format!("{reading}\n"));
        assert_eq!(file.settled(), [reading]);
        assert_eq!(file.settled(), NONE, "once");
    }
    // One that holds more of it.
    file.away();
    file.pass(5_000);
    file.add("20 NM\n30 NM\n");
    assert_eq!(file.come(), ["30 NM"]);
}

/// The look falls between the parts of what it does: gone, empty, half a line.
#[test]
fn one_that_is_written_all_the_time_gives_nothing_twice() {
    let mut file = Written::with("15 NM\n");
    for (reading, is_new) in [("15 NM", false), ("20 NM", true), ("15 NM", true)] {
        for n in 0..40 {
            match n % 4 {
                0 => {
                    file.write("");
                    assert_eq!(file.pass(100), NONE);
                    file.write(&reading[..1]);
                    assert_eq!(file.pass(100), NONE);
                    file.write(&format!("{reading}\n"));
                }
                1 => {
                    file.away();
                    assert_eq!(file.pass(100), NONE);
                    file.add("");
                    assert_eq!(file.pass(100), NONE);
                    file.add(&reading[..1]);
                    assert_eq!(file.pass(100), NONE);
                    file.add(&format!("{}\n", &reading[1..]));
                }
                2 => file.put(&format!("{reading}\n")),
                _ => file.add(""),
            }
            assert_eq!(file.settled().len(), usize::from(is_new && n == 0), "{reading} {n}");
        }
    }
}

/// Otherwise one that stood there for long would count for what is pending when the writing stops.
#[test]
fn a_line_that_is_never_left_alone_is_of_the_moment_at_which_it_first_stood_there() {
    let mut file = Written::with("15 NM\n");
    let began = file.at;
    for n in 0..60 {
        match n % 3 {
            0 => file.put("20 NM\n"),
            1 => file.write("20 NM\n"),
            _ => {
                file.write("");
                file.come();
                file.write("20 NM\n");
            }
        }
        assert_eq!(file.pass(100), NONE);
    }
    let mut came = Vec::new();
    for _ in 0..20 {
        file.pass_unseen(20);
        came.extend(file.seen().unwrap());
    }
    assert!(matches!(&came[..], [(text, At(at))] if text == "20 NM" && *at <= began + 100), "{came:?} {began}");
}

#[test]
fn a_new_file_put_in_its_place_is_read_as_the_old_one_would_be() {
    let mut file = Written::with("15 NM\n");
    // One that holds the reading and no other.
    for reading in ["138.5 NM", "20 NM", "138.5 NM"] {
        file.put(&format!("{reading}\n"));
        assert_eq!(file.settled(), [reading]);
        file.put(&format!("{reading}\n"));
        assert_eq!(file.settled(), NONE, "the same again, as those write it who write all the time");
    }
    // One that holds what was there and more, be it the same, and grows from then on.
    file.put("138.5 NM\n138.5 NM\n70 NM\n");
    assert_eq!(file.come(), ["138.5 NM", "70 NM"]);
    file.add("80 NM\n");
    assert_eq!(file.come(), ["80 NM"]);
    // Begun anew, with nothing in it yet.
    file.put("");
    assert_eq!(file.settled(), NONE);
    file.add("90 NM\n");
    assert_eq!(file.settled(), ["90 NM"]);
    // Old readings, written out anew.
    file.put("15 NM\n16 NM\n");
    assert_eq!(file.settled(), NONE);
    file.add("17 NM\n");
    assert_eq!(file.come(), ["17 NM"]);
}

/// The old one was being written anew when it was replaced.
#[test]
fn what_was_begun_in_the_old_file_is_forgotten_with_it() {
    let mut file = Written::with("15 NM\n");
    file.write("2");
    assert_eq!(file.come(), NONE);
    file.put("15 NM\n70 NM\n");
    assert_eq!(file.come(), ["70 NM"]);
    file.add("80 NM\n");
    assert_eq!(file.come(), ["80 NM"]);
    assert_eq!(file.settled(), NONE);
}

#[test]
fn a_new_file_that_is_half_written_does_not_count() {
    let mut file = Written::with("15 NM\n");
    file.away();
    assert_eq!(file.come(), NONE);
    file.add("7");
    assert_eq!(file.settled(), NONE);
    file.add("0 NM\n");
    assert_eq!(file.settled(), ["70 NM"]);
}

#[test]
fn what_was_written_before_is_not_read_wherever_it_is_put() {
    for age in [Duration::from_secs(86_400), Duration::from_millis(1_200)] {
        for text in ["70 NM\n", "15 NM\n70 NM\n"] {
            let mut file = Written::with("15 NM\n");
            let now = file.clocks.wall;
            file.clocks.wall -= age;
            let other = file.beside(text);
            file.clocks.wall = now;
            fs::rename(other, &file.path).unwrap();
            assert!(file.seen().is_err(), "{age:?}");
        }
    }
}

/// It may be put there long after it was written.
#[test]
fn a_reading_in_a_new_file_is_of_the_moment_at_which_it_was_written() {
    let mut file = Written::with("15 NM\n");
    let (other, written) = (file.beside("70 NM\n"), file.at);
    file.pass(600);
    fs::rename(other, &file.path).unwrap();
    assert_eq!(file.come(), NONE);
    file.pass_unseen(200);
    assert_eq!(file.seen().unwrap(), [("70 NM".to_owned(), At(written))]);
}

#[test]
fn one_that_is_written_anew_for_each_reading_is_read() {
    let mut file = Written::with("15 NM\n");
    assert_eq!(file.settled(), NONE, "it is of another day");
    // Longer, as long, shorter, the same again.
    for reading in ["138.5 NM", "138.6 NM", "20 NM", "0 NM", "20 NM", "20 NM\r"] {
        file.write("");
        assert_eq!(file.pass(1_100), NONE);
        file.write(&format!("{reading}\n"));
        assert_eq!(file.settled(), [reading.trim()]);
        assert_eq!(file.settled(), NONE, "once");
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

/// A look that comes late does not know what was there meanwhile.
#[test]
fn nothing_has_to_be_seen_at_every_look() {
    let mut file = Written::with("15 NM\n");
    file.write("");
    file.come();
    file.pass_unseen(2_000);
    file.come();
    file.write("15 NM\n");
    assert_eq!(file.settled(), NONE);
}

/// Read on from where the old line ended, the new ones end in "5 NM".
#[test]
fn the_end_of_a_longer_line_is_no_line() {
    let mut file = Written::with("");
    file.add("7 NM\n");
    assert_eq!(file.settled(), ["7 NM"]);
    file.write("170.15 NM\n");
    assert_eq!(file.come(), NONE);
    assert_eq!(file.settled(), ["170.15 NM"]);
    file.write("170.25 NM\n170.15 NM\n");
    assert_eq!(file.settled(), NONE, "old readings, written out anew");
}

#[test]
fn what_is_half_written_does_not_count() {
    let mut file = Written::with("15 NM\n");
    file.write("");
    assert_eq!(file.settled(), NONE);
    file.add("7");
    assert_eq!(file.settled(), NONE);
    file.add("0 NM");
    assert_eq!(file.settled(), NONE, "it may go on");
    file.add("\n");
    assert_eq!(file.come(), NONE, "so may this");
    assert_eq!(file.settled(), ["70 NM"]);
}

/// Line by line, as old readings are written out anew.
#[test]
fn many_lines_are_passed_over_only_when_they_are_all_there() {
    let mut file = Written::with("15 NM\n");
    file.write("20 NM\n21 NM\n");
    assert_eq!(file.pass(100), NONE);
    file.add("22 NM\n");
    assert_eq!(file.settled(), NONE);
    file.add("23 NM\n");
    assert_eq!(file.come(), ["23 NM"]);
}

#[test]
fn what_is_only_touched_or_cut_down_is_no_reading() {
    let mut file = Written::with("15 NM\n");
    file.write("15 NM\n");
    assert_eq!(file.settled(), NONE, "saved again");
    file.add("70 NM\n80 NM\n");
    assert_eq!(file.come(), ["70 NM", "80 NM"]);
    file.write("80 NM\n");
    assert_eq!(file.settled(), NONE, "cut down to the last line");
    file.add("90 NM\n");
    assert_eq!(file.come(), ["90 NM"]);
    // Cut down to the first, and put back.
    file.write("80 NM\n");
    assert_eq!(file.settled(), NONE);
    file.add("9");
    assert_eq!(file.settled(), NONE);
    file.add("0 NM\n");
    assert_eq!(file.settled(), NONE);
    file.add("90 NM\n");
    assert_eq!(file.come(), ["90 NM"]);
    // A long line is remembered whole.
    let long = format!("{} 15 NM\n", "x".repeat(1_000));
    file.write(&long);
    assert_eq!(file.settled(), [long.trim_end()]);
    file.write(&long);
    assert_eq!(file.settled(), NONE);
}

/// A program may empty the file long before it writes, when the tool is made ready or the last reading was fetched.
#[test]
fn a_reading_is_of_the_moment_of_its_first_byte_and_not_of_when_the_file_was_emptied() {
    let mut file = Written::with("15 NM\n");
    file.write("");
    file.pass(60_000);
    let last = file.at;
    file.write("70 NM\n");
    file.come();
    file.pass_unseen(200);
    assert_eq!(file.seen().unwrap(), [("70 NM".to_owned(), At(last))]);
}

/// The orders that were found by chance, with readings that are all alike.
#[test]
fn of_one_that_is_put_back_and_added_to_only_what_was_added_counts() {
    let mut file = Written::with("15 NM\n");
    file.add("15 NM\n");
    assert_eq!(file.come(), ["15 NM"]);
    file.add("15 NM\n");
    assert_eq!(file.come(), ["15 NM"]);
    file.write("15 NM\n");
    assert_eq!(file.settled(), NONE, "cut down to the last line");
    file.add("15 NM\n15 NM\n");
    file.add("15 NM\n");
    assert_eq!(file.come(), ["15 NM"], "put back, and one more");
}

/// A look that comes late: the whole first second was not looked at.
#[test]
fn what_came_in_the_first_second_is_of_another_day_however_late_it_is_seen() {
    let mut file = Written::opened_with(Some("15 NM\n"));
    file.add("70 NM\n");
    file.pass_unseen(1_500);
    assert_eq!(file.come(), NONE);
    file.add("80 NM\n");
    assert_eq!(file.come(), ["80 NM"]);
}
