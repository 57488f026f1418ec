//! Ways in beside the sound, from outside: a tool on a serial line, a pipe or a file, with a peer that misbehaves; single keys.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{LocalModes, tcgetattr};
use std::fs::{self, File, OpenOptions};
use std::io::{BufRead, BufReader, Write};
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

const BOOK: &str = "tests/data/bench-bracket.toml";
/// To the first bolt, which is to get 15 N·m.
const TO_THE_BOLT: &str = "done\nyes\ndone\ndone\n";
const PATIENCE: Duration = Duration::from_secs(60);
/// Until what was printed can have been read.
const READ: Duration = Duration::from_secs(14);

/// The far end of a serial line, and the name of the near one.
fn line() -> (File, PathBuf) {
    let far = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&far).unwrap();
    unlockpt(&far).unwrap();
    let near = PathBuf::from(ptsname(&far, Vec::new()).unwrap().into_string().unwrap());
    (File::from(far), near)
}

struct Session {
    child: Child,
    keys: Option<ChildStdin>,
    said: Receiver<String>,
    /// All that was said.
    all: String,
    _folder: tempfile::TempDir,
    jobs: PathBuf,
}

impl Session {
    /// A typed session with these settings.
    fn start(settings: &str) -> Session {
        let folder = tempfile::tempdir().unwrap();
        let (config, jobs) = (folder.path().join("config.toml"), folder.path().join("jobs"));
        fs::write(&config, settings).unwrap();
        let mut command = Command::new(env!("CARGO_BIN_EXE_wrenchside"));
        command.current_dir(env!("CARGO_MANIFEST_DIR")).env("NO_COLOR", "1").arg("--config").arg(config);
        command.arg("--jobs").arg(&jobs).args(["start", BOOK, "--typed"]);
        let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let (tell, said) = channel();
        let out = child.stdout.take().unwrap();
        std::thread::spawn(move || {
            for line in BufReader::new(out).lines().map_while(Result::ok) {
                let _ = tell.send(line);
            }
        });
        let keys = child.stdin.take();
        Session { child, keys, said, all: String::new(), _folder: folder, jobs }
    }

    fn typed(&mut self, text: &str) {
        let keys = self.keys.as_mut().unwrap();
        keys.write_all(text.as_bytes()).and_then(|()| keys.flush()).unwrap();
    }

    /// Waits until a line with this is said, and gives it.
    fn until(&mut self, words: &str) -> String {
        let end = Instant::now() + PATIENCE;
        while let Ok(line) = self.said.recv_timeout(end.saturating_duration_since(Instant::now())) {
            self.all += &format!("{line}\n");
            if line.contains(words) {
                return line;
            }
        }
        panic!("nobody said \"{words}\":\n{}", self.all);
    }

    /// Ends it, and gives all that was said.
    fn end(mut self) -> (String, String) {
        drop(self.keys.take());
        while let Ok(line) = self.said.recv_timeout(PATIENCE) {
            self.all += &format!("{line}\n");
        }
        assert!(self.child.wait().unwrap().success(), "{}", self.all);
        let job = fs::read_dir(&self.jobs).unwrap().next().unwrap().unwrap().path();
        let journal = fs::read_to_string(job.join("journal.jsonl")).unwrap();
        let record = wrenchside().args(["record", "--markdown", "/dev/stdout"]).arg(&job).output().unwrap();
        (std::mem::take(&mut self.all) + &String::from_utf8_lossy(&record.stdout), journal)
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn tool(device: &Path) -> String {
    format!("[tool]\ndevice = \"{}\"\nunits = {{ NM = \"N·m\" }}\n", device.display())
}

#[test]
fn a_wrench_on_a_serial_line_is_taken_at_its_word_and_no_sooner() {
    let folder = tempfile::tempdir().unwrap();
    let device = folder.path().join("wrench");
    let (mut far, near) = line();
    symlink(near, &device).unwrap();
    let mut session = Session::start(&tool(&device));
    session.until("Job ");
    session.typed(TO_THE_BOLT);
    session.until("15 N·m");
    // Nobody can have read that yet: a claim of another bolt, or of nothing.
    far.write_all(b"\r\n15.0 NM\r\n").unwrap();
    session.until("15.0 N·m came too soon");
    std::thread::sleep(READ);
    // What is no line of it, and half a line with a pause in it.
    far.write_all(b"\xff\x00?!\r\n15.0 furlongs\r\n15.0\r\n").unwrap();
    session.until("Can't read what the tool sends");
    far.write_all(b"60 deg\r\n").unwrap();
    session.until("60°");
    far.write_all(b"0.0 NM\r\n-15.0 NM\r\n15.").unwrap();
    std::thread::sleep(Duration::from_millis(300));
    far.write_all(b"0 NM\r\n").unwrap();
    assert!(session.until("Logged").contains("15.0 N·m from the wrench"), "{}", session.all);
    // The same one over and over is no reading of the next bolt, however often it comes; another one is, too soon.
    for _ in 0..3_000 {
        far.write_all(b"15.0 NM\r\n").unwrap();
    }
    std::thread::sleep(Duration::from_millis(500));
    far.write_all(b"14.9 NM\r\n").unwrap();
    assert!(session.until("came too soon").contains("14.9 N·m"), "{}", session.all);
    // Unplugged in the middle of a line, and plugged in again.
    far.write_all(b"15.0 N").unwrap();
    drop(far);
    session.until("No more readings from the tool");
    let (mut far, near) = line();
    fs::remove_file(&device).unwrap();
    symlink(near, &device).unwrap();
    session.until("The tool is back");
    std::thread::sleep(READ);
    far.write_all(b"15.0 NM\r\n").unwrap();
    session.until("Logged");
    session.typed("pause job\n");
    let (said, journal) = session.end();
    assert_eq!(journal.matches("\"from_tool\"").count(), 2, "{journal}");
    assert_eq!(said.matches("Logged").count(), 2, "{said}");
    assert_eq!(said.matches("Can't read").count(), 1, "{said}");
    assert!(said.contains("15.0 N·m (wrench)"), "{said}");
}

#[test]
fn a_file_that_grows_and_a_pipe_are_read_from_now_on() {
    let folder = tempfile::tempdir().unwrap();
    let (grows, pipe) = (folder.path().join("readings.txt"), folder.path().join("pipe"));
    fs::write(&grows, "15 NM\n15 NM\n").unwrap();
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    for device in [&grows, &pipe] {
        let mut session = Session::start(&tool(device));
        session.until("Job ");
        session.typed(TO_THE_BOLT);
        session.until("15 N·m");
        std::thread::sleep(READ);
        let mut end = OpenOptions::new().append(true).open(device).unwrap();
        end.write_all(b"15 NM\n").unwrap();
        session.until("from the wrench");
        drop(end);
        let (said, journal) = session.end();
        assert_eq!(journal.matches("\"from_tool\"").count(), 1, "{said}");
    }
}

#[test]
fn a_tool_that_is_not_there_or_cannot_send_is_refused_and_leaves_no_job() {
    let folder = tempfile::tempdir().unwrap();
    let config = folder.path().join("config.toml");
    let jobs = folder.path().join("jobs");
    for (settings, told) in [
        ("[tool]\ndevice = \"/dev/zero\"\n", "/dev/zero: it is a device, but no serial port"),
        ("[tool]\ndevice = \"/tmp\"\n", "/tmp: it is a folder"),
        ("[tool]\ndevice = \"/tmp\"\npattern = \"{unit}\"\n", "[tool] pattern: it needs {number} once"),
        ("[keys]\ndone = \"foot\"\n", "[keys] done: \"foot\" is no key that can have a meaning"),
        ("[keys]\nnext = \"n\"\n", "[keys] next: \"n\" is no key that can have a meaning; these can: tab, up,"),
        ("[keys]\ndone = \"f5\"\nnext = \"f5\"\n", "[keys] next: the key \"f5\" has another meaning already"),
    ] {
        fs::write(&config, settings).unwrap();
        let mut start = wrenchside();
        start.arg("--config").arg(&config).arg("--jobs").arg(&jobs).args(["start", BOOK, "--typed"]);
        let output = start.write_stdin("").output().unwrap();
        let error = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.code() == Some(2) && error.contains(told), "{settings}: {error}");
    }
    assert!(!jobs.exists());
}

#[test]
fn a_tool_that_is_off_is_told_and_taken_once_it_is_there_and_by_one_session_only() {
    let folder = tempfile::tempdir().unwrap();
    let device = folder.path().join("wrench");
    let mut session = Session::start(&tool(&device));
    session.until("No more readings from the tool");
    let (mut far, near) = line();
    symlink(near, &device).unwrap();
    session.until("The tool is back");
    let config = folder.path().join("config.toml");
    fs::write(&config, tool(&device)).unwrap();
    let mut second = wrenchside();
    second.arg("--config").arg(&config).arg("--jobs").arg(folder.path().join("jobs")).args(["start", BOOK, "--typed"]);
    let output = second.write_stdin("").output().unwrap();
    let error = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.code() == Some(2) && error.contains("in use already"), "{error}");
    session.typed(TO_THE_BOLT);
    session.until("15 N·m");
    std::thread::sleep(READ);
    far.write_all(b"15.0 NM\r\n").unwrap();
    session.until("15.0 N·m from the wrench");
    session.typed("pause job\n");
    session.end();
}

#[test]
fn a_key_pressed_twice_counts_once_and_lines_are_still_lines() {
    let mut session = Session::start("[keys]\ndone = \"tab\"\nrepeat = \"f5\"\nsilence = \"end\"\n");
    session.until("Job ");
    session.typed(TO_THE_BOLT);
    session.until("15 N·m");
    std::thread::sleep(READ);
    session.typed("\t\t");
    session.until("2 of 2");
    session.typed("\t");
    session.until("2 of 2");
    session.typed("\x1b[15~");
    session.until("2 of 2");
    // Who wants no more of it has heard enough.
    session.typed("\x1b[F\t");
    session.until("fully tightened");
    session.typed("where am i\n");
    session.until("Step ");
    let (said, journal) = session.end();
    assert_eq!(journal.matches("\"command\":\"done\"").count(), 3 + 2, "{said}\n{journal}");
}

/// As many as a foot switch of several pedals types.
#[test]
fn every_key_that_has_a_name_in_the_settings_does_what_it_is_named_for() {
    let keys = "[keys]\nnext = \"f1\"\nyes = \"f2\"\nno = \"f3\"\nsilence = \"end\"\nrepeat = \"f4\"\n";
    let mut session = Session::start(keys);
    session.until("Look at the bracket.");
    std::thread::sleep(READ);
    let (next, yes, no, repeat, silence) = ("\x1bOP", "\x1bOQ", "\x1bOR", "\x1bOS", "\x1b[F");
    session.typed(next);
    session.until("Is the bench switched off?");
    session.typed(silence);
    session.until("(quiet)");
    session.typed(repeat);
    session.until("Is the bench switched off?");
    std::thread::sleep(READ);
    session.typed(no);
    session.until("Nothing changed.");
    std::thread::sleep(READ);
    session.typed(next);
    session.until("Is the bench switched off?");
    std::thread::sleep(READ);
    session.typed(yes);
    session.until("Take both bolts out.");
    session.typed("pause job\n");
    let (said, journal) = session.end();
    for command in ["next", "no", "yes"] {
        assert!(journal.contains(&format!("\"command\":\"{command}\"")), "{command}: {said}\n{journal}");
    }
}

/// A pseudo-terminal takes any, and keeps which.
#[test]
fn a_serial_line_is_set_to_the_speed_of_the_settings() {
    let (_far, near) = line();
    let kept = File::open(&near).unwrap();
    for (baud, said) in [(9_600, ""), (38_400, "baud = 38400\n")] {
        let mut session = Session::start(&format!("{}{said}", tool(&near)));
        session.until("Job ");
        let set = tcgetattr(&kept).unwrap();
        assert_eq!((set.input_speed(), set.output_speed()), (baud, baud));
        assert!(!set.local_modes.intersects(LocalModes::ICANON | LocalModes::ECHO), "and sends nothing back");
        session.end();
    }
}

#[test]
fn a_terminal_gives_key_by_key_and_gets_its_ways_back() {
    let (mut far, near) = line();
    let folder = tempfile::tempdir().unwrap();
    let config = folder.path().join("config.toml");
    fs::write(&config, "[keys]\ndone = \"tab\"\n").unwrap();
    let near = OpenOptions::new().read(true).write(true).open(near).unwrap();
    let lines = || tcgetattr(&near).unwrap().local_modes.contains(LocalModes::ICANON | LocalModes::ECHO);
    assert!(lines());
    let mut command = Command::new(env!("CARGO_BIN_EXE_wrenchside"));
    command.current_dir(env!("CARGO_MANIFEST_DIR")).arg("--config").arg(config);
    command.arg("--jobs").arg(folder.path().join("jobs")).args(["start", BOOK, "--typed"]);
    let stdin = near.try_clone().unwrap();
    let mut child = command.stdin(stdin).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let end = Instant::now() + PATIENCE;
    while lines() {
        assert!(Instant::now() < end, "the terminal still waits for lines");
        std::thread::sleep(Duration::from_millis(20));
    }
    far.write_all(b"pause jox\x7fb\nyes\n").unwrap();
    assert!(child.wait().unwrap().success());
    assert!(lines(), "as it was");
}

/// By a program that opens it anew for each reading, empties it and writes.
#[test]
fn a_file_that_is_written_anew_for_each_reading_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let device = folder.path().join("reading.txt");
    fs::write(&device, "15 NM\n").unwrap();
    let mut session = Session::start(&tool(&device));
    session.until("Job ");
    session.typed(TO_THE_BOLT);
    session.until("15 N·m");
    std::thread::sleep(READ);
    // Half of it first: nobody's reading. Nothing after that, for long enough that the same line is another one.
    fs::write(&device, "1").unwrap();
    std::thread::sleep(Duration::from_millis(700));
    fs::write(&device, "").unwrap();
    std::thread::sleep(Duration::from_millis(1_500));
    fs::write(&device, "15 NM\n").unwrap();
    session.until("15 N·m from the wrench");
    std::thread::sleep(READ);
    fs::write(&device, "15.1 NM\n").unwrap();
    session.until("15.1 N·m from the wrench");
    let (said, journal) = session.end();
    assert_eq!(journal.matches("\"from_tool\"").count(), 2, "{said}");
}

/// By a program that deletes it once it has fetched a reading, and makes it anew for the next one.
#[test]
fn a_file_that_is_not_there_between_two_readings_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let device = folder.path().join("reading.txt");
    let mut session = Session::start(&tool(&device));
    session.until("Job ");
    session.typed(TO_THE_BOLT);
    session.until("15 N·m");
    for _ in 0..2 {
        std::thread::sleep(READ);
        fs::write(&device, "15 NM\n").unwrap();
        session.until("15 N·m from the wrench");
        fs::remove_file(&device).unwrap();
        session.until("No more readings from the tool");
    }
    let (said, journal) = session.end();
    assert_eq!(journal.matches("\"from_tool\"").count(), 2, "{said}");
}

/// By a program that writes a new file for each reading and puts it in the place of the last one.
#[test]
fn a_file_that_is_replaced_for_each_reading_is_read_and_is_no_trouble() {
    let folder = tempfile::tempdir().unwrap();
    let device = folder.path().join("reading.txt");
    fs::write(&device, "14.8 NM\n").unwrap();
    let put = |text: &str| {
        let new = folder.path().join("reading.new");
        fs::write(&new, text).unwrap();
        fs::rename(new, &device).unwrap();
    };
    let mut session = Session::start(&tool(&device));
    session.until("Job ");
    session.typed(TO_THE_BOLT);
    session.until("15 N·m");
    std::thread::sleep(READ);
    put("15 NM\n");
    session.until("15 N·m from the wrench");
    std::thread::sleep(READ);
    put("15 NM\n15 NM\n");
    session.until("15 N·m from the wrench");
    let (said, journal) = session.end();
    assert_eq!(journal.matches("\"from_tool\"").count(), 2, "{said}");
    assert!(!said.contains("from the tool") && !said.contains("tool is back"), "{said}");
}

/// In the background of a shell nothing can be typed; whoever reads there is stopped, and with it all else it does.
#[test]
fn a_session_in_the_background_goes_on_without_the_keyboard_and_has_it_again_in_front() {
    let folder = tempfile::tempdir().unwrap();
    let jobs = folder.path().join("jobs");
    let (mut far, mut shell, until) =
        sent_away(folder.path(), &format!("--jobs '{}' start {BOOK} --typed", jobs.display()));
    far.write_all(b"where am i\n").unwrap();
    until("Step 1 of");
    far.write_all(b"pause job\nyes\n").unwrap();
    assert!(shell.wait().unwrap().success());
    until("To go on: ");
}

#[test]
fn a_strip_down_goes_on_without_the_keyboard_and_has_it_again_in_front_too() {
    let folder = tempfile::tempdir().unwrap();
    let jobs = folder.path().join("jobs");
    let (mut far, mut shell, until) =
        sent_away(folder.path(), &format!("--jobs '{}' strip 'Water pump' --typed", jobs.display()));
    far.write_all(b"took out two bolts 13 mm\n\xff\n").unwrap();
    until("First say what holds the vehicle.");
    until("Couldn't read that line.");
    far.write_all(b"pause job\nyes\n").unwrap();
    assert!(shell.wait().unwrap().success());
    until("To go on: ");
}

#[test]
fn questions_for_values_have_the_keyboard_again_in_front_too() {
    let folder = tempfile::tempdir().unwrap();
    let (mut far, mut shell, until) = sent_away(folder.path(), "values docs/values.toml --typed");
    far.write_all(b"torque for the gearbox mount\n\xff\n").unwrap();
    until("Gearbox mount, front, or gearbox mount, rear?");
    until("Couldn't read that line.");
    far.write_all(b"rear\npause\n").unwrap();
    assert!(shell.wait().unwrap().success());
    until("80 N·m");
    until("That is all.");
}

/// The program, begun in the background of a shell with a terminal of its own, and in front by now; with the far end of the
/// terminal, the shell, and a wait for what is said.
fn sent_away(folder: &Path, arguments: &str) -> (File, Child, impl Fn(&str) + use<>) {
    let (mut far, near) = line();
    let out = folder.join("out.txt");
    let near = OpenOptions::new().read(true).write(true).open(near).unwrap();
    let program = format!("'{}' {arguments} > '{}' 2>&1", env!("CARGO_BIN_EXE_wrenchside"), out.display());
    let script = format!("set -m; {program} & read line; fg > /dev/null; exit $?");
    let mut command = Command::new("setsid");
    command.current_dir(env!("CARGO_MANIFEST_DIR")).env("NO_COLOR", "1").env("XDG_CONFIG_HOME", "/nonexistent");
    command.args(["--ctty", "--wait", "sh", "-c", &script]).stdin(near);
    let shell = command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let until = move |words: &str| {
        let end = Instant::now() + PATIENCE;
        while !fs::read_to_string(&out).unwrap_or_default().contains(words) {
            assert!(Instant::now() < end, "{words:?}: {:?}", fs::read_to_string(&out));
            std::thread::sleep(Duration::from_millis(50));
        }
    };
    until("Nothing can be typed in the background.");
    far.write_all(b"\n").unwrap();
    // The shell puts it in front.
    std::thread::sleep(Duration::from_millis(1_500));
    (far, shell, until)
}
