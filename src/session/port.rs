//! Where the lines of a tool come from: a serial port, a pipe with a name, or a file that grows.
//!
//! A thread of its own reads; what is not taken from it in time is dropped, never kept for later. What was sent before the
//! port was opened, half a line at its beginning, and half a line at its end are no readings. A port that is lost, or not
//! there yet, is told once, and looked for until it is back. What can be read only once is read by nobody else meanwhile.

use super::lines::{Framer, Line};
use crate::instrument::Form;
use crate::job::At;
use crate::quantity::Quantity;
use rustix::termios::{self, ControlModes, OptionalActions, QueueSelector};
use std::fs::{File, FileType, Metadata, OpenOptions};
use std::io::{self, ErrorKind, Read, Seek, SeekFrom};
use std::os::unix::fs::{FileExt, FileTypeExt, MetadataExt, OpenOptionsExt};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};
use tokio::sync::mpsc::{self, Receiver, Sender};

/// How often the port is looked at.
const LOOK: Duration = Duration::from_millis(20);
/// How often a lost one is looked for.
const AGAIN: Duration = Duration::from_secs(1);
/// What comes so soon after opening was being sent already, perhaps from the middle of a line.
const UNDER_WAY: Duration = Duration::from_millis(300);
/// As many readings wait to be taken. More is a flood, and nobody's reading.
const WAITING: usize = 8;
/// So much of a line that cannot be read is shown.
const SHOWN: usize = 60;
/// Readings that are taken from one look at the port.
const AT_ONCE: usize = 4_096;

/// A tool, as the settings describe it.
#[derive(Debug, Clone)]
pub struct Instrument {
    /// What the user calls it.
    pub name: String,
    /// Where it sends to.
    pub device: PathBuf,
    /// Bits a second of a serial port.
    pub baud: u32,
    /// What it sends.
    pub form: Form,
}

/// What came from a tool.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    /// A reading; the first byte of its line came at that moment.
    Reading(Quantity, At),
    /// A line that is not of its form, as it can be shown. Told once until a good one comes.
    Unreadable(String),
    /// It is gone, for this reason.
    Lost(String),
    /// It is there again.
    Back,
}

/// Why there is no port.
#[derive(Debug, thiserror::Error)]
#[error("{}: {reason}; see [tool] in the settings", device.display())]
pub struct PortError {
    device: PathBuf,
    reason: String,
    off: bool,
}

impl PortError {
    fn new(tool: &Instrument, error: &io::Error) -> PortError {
        // No such file, device or address: unplugged, or switched off.
        let off = error.kind() == ErrorKind::NotFound
            || matches!(error.raw_os_error(), Some(libc::ENXIO | libc::ENODEV | libc::EIO));
        PortError { device: tool.device.clone(), reason: error.to_string(), off }
    }

    /// Is it only not there yet?
    pub fn is_off(&self) -> bool {
        self.off
    }
}

/// An open port.
pub struct Port {
    name: String,
    said: Receiver<Said>,
    closing: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Port {
    /// Opens it. One that is off is told as lost, and taken once it is there. `now` tells the moment.
    pub fn open(tool: Instrument, now: fn() -> At) -> Result<Port, PortError> {
        let (tell, said) = mpsc::channel(WAITING);
        let stream = match Stream::open(&tool) {
            Ok(stream) => Some(stream),
            Err(error) => {
                let refused = PortError::new(&tool, &error);
                if !refused.off {
                    return Err(refused);
                }
                let _ = tell.try_send(lost(&tool, &error));
                None
            }
        };
        let closing = Arc::new(AtomicBool::new(false));
        let (name, for_thread) = (tool.name.clone(), closing.clone());
        let at = tool.clone();
        let thread =
            thread::Builder::new().name("tool".into()).spawn(move || serve(&tool, stream, &tell, &for_thread, now));
        let thread = thread.map_err(|error| PortError::new(&at, &error))?;
        Ok(Port { name, said, closing, thread: Some(thread) })
    }

    /// Is it there, and can it send? Takes nothing from whoever reads it now.
    pub fn try_out(tool: &Instrument) -> Result<(), PortError> {
        Stream::open(tool).map(drop).map_err(|error| PortError::new(tool, &error))
    }

    /// What the user calls the tool.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What came from it next. Waiting can be given up at any time.
    pub async fn next(&mut self) -> Said {
        match self.said.recv().await {
            Some(said) => said,
            // The thread is gone, and nothing will come.
            None => std::future::pending().await,
        }
    }
}

impl Drop for Port {
    fn drop(&mut self) {
        self.closing.store(true, Ordering::Release);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
        }
    }
}

/// The life of the thread.
fn serve(tool: &Instrument, first: Option<Stream>, tell: &Sender<Said>, closing: &AtomicBool, now: fn() -> At) {
    let mut stream = first;
    let mut unreadable = false;
    while !closing.load(Ordering::Acquire) && !tell.is_closed() {
        let Some(open) = &mut stream else {
            thread::park_timeout(AGAIN);
            if let Ok(again) = Stream::open(tool)
                && tell.try_send(Said::Back).is_ok()
            {
                stream = Some(again);
            }
            continue;
        };
        match open.look(tool, now) {
            Ok(lines) => {
                for (line, began) in lines {
                    let said = match line {
                        Line::Text(text) if text.trim().is_empty() => continue,
                        Line::Text(text) => match tool.form.read(&text) {
                            Some(reading) => Said::Reading(reading, began),
                            None => Said::Unreadable(shown(&text)),
                        },
                        Line::Unreadable => Said::Unreadable("no text, or no end of a line".into()),
                    };
                    let good = matches!(said, Said::Reading(..));
                    if !good && unreadable {
                        continue;
                    }
                    unreadable = !good;
                    // Full: nobody takes them, so this one is nobody's.
                    let _ = tell.try_send(said);
                }
                thread::park_timeout(LOOK);
            }
            // Kept until it is told, so that it is not taken for one that is silent.
            Err(error) if tell.try_send(lost(tool, &error)).is_err() => {
                thread::park_timeout(LOOK);
            }
            Err(_) => stream = None,
        }
    }
}

fn lost(tool: &Instrument, error: &io::Error) -> Said {
    Said::Lost(format!("{}: {error}", tool.device.display()))
}

/// A line as it can stand on a screen, whatever is in it.
fn shown(line: &str) -> String {
    let short: String = line.trim().chars().take(SHOWN).collect();
    let more = if short.len() < line.trim().len() { " ..." } else { "" };
    format!("\"{}\"{more}", short.escape_debug())
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Serial,
    Pipe,
    Grows,
}

struct Stream {
    file: File,
    kind: Kind,
    framer: Framer,
    opened: Instant,
    /// The line that is being sent began before the port was opened.
    half: bool,
    /// Something has come.
    spoke: bool,
    /// When it was last looked whether a file still is the one of that name.
    compared: Instant,
}

impl Stream {
    fn open(tool: &Instrument) -> io::Result<Stream> {
        let found = kind(std::fs::metadata(&tool.device)?.file_type())?;
        let mut options = OpenOptions::new();
        options.read(true).custom_flags(libc::O_NONBLOCK | libc::O_NOCTTY);
        let file = options.open(&tool.device).map_err(|error| match error.kind() {
            ErrorKind::ResourceBusy => in_use(),
            _ => error,
        })?;
        // Two that read the same line or pipe take the digits of each other's readings.
        if found != Kind::Grows && file.try_lock().is_err() {
            return Err(in_use());
        }
        let now = Instant::now();
        let mut stream = Stream {
            file,
            kind: found,
            framer: Framer::default(),
            opened: now,
            half: false,
            spoke: false,
            compared: now,
        };
        match found {
            Kind::Serial => set_up(&stream.file, tool.baud)?,
            Kind::Pipe => {}
            Kind::Grows => stream.skip_to_the_end()?,
        }
        Ok(stream)
    }

    /// Passes over what stands in a file already: these are the readings of another day, and the rest of a line that was
    /// begun then is none.
    fn skip_to_the_end(&mut self) -> io::Result<()> {
        self.framer.clear();
        let end = self.file.seek(SeekFrom::End(0))?;
        let mut before = [b'\n'];
        if let Some(last) = end.checked_sub(1) {
            self.file.read_exact_at(&mut before, last)?;
        }
        self.half = !matches!(before, [b'\n' | b'\r']);
        Ok(())
    }

    /// A file that was replaced grows no more.
    fn compare(&mut self, tool: &Instrument) -> io::Result<()> {
        if self.kind != Kind::Grows || self.compared.elapsed() < AGAIN {
            return Ok(());
        }
        self.compared = Instant::now();
        let same = |one: &Metadata, other: &Metadata| (one.dev(), one.ino()) == (other.dev(), other.ino());
        match same(&self.file.metadata()?, &std::fs::metadata(&tool.device)?) {
            true => Ok(()),
            false => Err(io::Error::other("another file has taken its place")),
        }
    }

    /// The lines that have come, each with the moment of its first byte.
    fn look(&mut self, tool: &Instrument, now: fn() -> At) -> io::Result<Vec<(Line, At)>> {
        self.compare(tool)?;
        let mut bytes = [0; AT_ONCE];
        let length = match self.file.read(&mut bytes) {
            Ok(length) => length,
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::Interrupted) => {
                return Ok(Vec::new());
            }
            Err(error) => return Err(error),
        };
        if length == 0 {
            self.at_end()?;
            return Ok(Vec::new());
        }
        if !self.spoke {
            self.spoke = true;
            self.half |= self.kind != Kind::Grows && self.opened.elapsed() < UNDER_WAY;
        }
        let (mut rest, at) = (&bytes[..length], now());
        if self.half {
            let Some(end) = rest.iter().position(|byte| matches!(byte, b'\n' | b'\r')) else { return Ok(Vec::new()) };
            rest = &rest[end..];
            self.half = false;
        }
        let mut lines = Vec::new();
        while !rest.is_empty() {
            let (taken, line) = self.framer.push(rest, at);
            rest = &rest[taken..];
            lines.extend(line);
        }
        Ok(lines)
    }

    /// Nothing more is there now.
    fn at_end(&mut self) -> io::Result<()> {
        match self.kind {
            Kind::Serial => {
                return Err(io::Error::new(ErrorKind::UnexpectedEof, "it was unplugged, or its sender is gone"));
            }
            // Whoever wrote is gone; who comes next begins a line.
            Kind::Pipe => self.framer.clear(),
            Kind::Grows => {
                // One that was emptied or written anew may hold old lines again.
                let at = self.file.stream_position()?;
                if self.file.metadata()?.len() < at {
                    self.skip_to_the_end()?;
                }
            }
        }
        Ok(())
    }
}

impl Drop for Stream {
    fn drop(&mut self) {
        if self.kind == Kind::Serial {
            // A line that is gone needs no giving back.
            let _ = termios::ioctl_tiocnxcl(&self.file);
        }
    }
}

fn in_use() -> io::Error {
    io::Error::new(ErrorKind::ResourceBusy, "it is in use already, perhaps by another session")
}

fn kind(found: FileType) -> io::Result<Kind> {
    let refused = |what: &str| {
        Err(io::Error::new(
            ErrorKind::InvalidInput,
            format!("it is {what}; a serial port, a pipe or a file can send readings"),
        ))
    };
    match () {
        () if found.is_char_device() => Ok(Kind::Serial),
        () if found.is_fifo() => Ok(Kind::Pipe),
        () if found.is_file() => Ok(Kind::Grows),
        () if found.is_dir() => refused("a folder"),
        () => refused("none of what can send readings"),
    }
}

/// A serial port that gives what comes as it comes.
fn set_up(file: &File, baud: u32) -> io::Result<()> {
    if !termios::isatty(file) {
        return Err(io::Error::new(ErrorKind::InvalidInput, "it is a device, but no serial port"));
    }
    // From here on other programs are refused as well.
    termios::ioctl_tiocexcl(file)?;
    let mut settings = termios::tcgetattr(file)?;
    settings.make_raw();
    settings.control_modes |= ControlModes::CREAD | ControlModes::CLOCAL;
    settings.set_speed(baud)?;
    termios::tcsetattr(file, OptionalActions::Now, &settings)?;
    // What came before was sent to somebody else.
    Ok(termios::tcflush(file, QueueSelector::IFlush)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;
    use std::fs;
    use std::io::Write;
    use std::path::Path;

    fn tool(device: &Path) -> Instrument {
        let units = BTreeMap::from([("NM".to_owned(), "N·m".to_owned())]);
        let form = Form::new("{number} {unit}", &units, None, None).unwrap();
        Instrument { name: "wrench".into(), device: device.to_owned(), baud: 9_600, form }
    }

    fn add(path: &Path, text: &str) {
        OpenOptions::new().append(true).create(true).open(path).unwrap().write_all(text.as_bytes()).unwrap();
    }

    fn come(stream: &mut Stream, tool: &Instrument) -> Vec<String> {
        let lines = stream.look(tool, || At(0)).unwrap();
        lines.into_iter().map(|(line, _)| format!("{line:?}")).collect()
    }

    #[test]
    fn the_rest_of_a_line_that_was_begun_before_is_no_reading() {
        let folder = tempfile::tempdir().unwrap();
        let (path, empty) = (folder.path().join("grows"), folder.path().join("empty"));
        fs::write(&path, "15 NM\n1").unwrap();
        fs::write(&empty, "").unwrap();
        let tool_at = tool(&path);
        let mut stream = Stream::open(&tool_at).unwrap();
        add(&path, "38.5 NM\n70 NM\n");
        assert_eq!(come(&mut stream, &tool_at), ["Text(\"70 NM\")"]);
        // Written anew, shorter, and ending within a line.
        fs::write(&path, "15 NM\n2").unwrap();
        assert_eq!(come(&mut stream, &tool_at), [""; 0]);
        add(&path, "0 NM\n90 NM\n");
        assert_eq!(come(&mut stream, &tool_at), ["Text(\"90 NM\")"]);
        let tool_at = tool(&empty);
        let mut stream = Stream::open(&tool_at).unwrap();
        add(&empty, "38.5 NM\n");
        assert_eq!(come(&mut stream, &tool_at), ["Text(\"38.5 NM\")"]);
    }

    #[test]
    fn a_file_that_was_replaced_is_lost() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("grows");
        add(&path, "15 NM\n");
        let tool = tool(&path);
        let mut stream = Stream::open(&tool).unwrap();
        fs::rename(&path, folder.path().join("old")).unwrap();
        stream.compared -= AGAIN;
        assert!(stream.look(&tool, || At(0)).is_err());
        add(&path, "15 NM\n15 NM\n");
        stream.compared -= AGAIN;
        assert!(stream.look(&tool, || At(0)).is_err());
    }

    #[test]
    fn a_line_that_cannot_be_read_can_be_shown() {
        assert_eq!(shown("38.5\u{1b}[2J furlongs "), "\"38.5\\u{1b}[2J furlongs\"");
        assert_eq!(shown(&"7".repeat(200)), format!("\"{}\" ...", "7".repeat(SHOWN)));
    }
}
