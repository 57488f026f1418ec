//! Where the lines of a tool come from: a serial port, a pipe with a name, or a file that grows.
//!
//! A thread of its own reads; what is not taken from it in time is dropped, never kept for later. What was sent before the
//! port was opened, half a line at its beginning, and half a line at its end are no readings. A port that is lost is told
//! once, and looked for until it is back.

use super::lines::{Framer, Line};
use crate::instrument::Form;
use crate::job::At;
use crate::quantity::Quantity;
use rustix::termios::{self, ControlModes, OptionalActions, QueueSelector};
use std::fs::{File, FileType, OpenOptions};
use std::io::{self, ErrorKind, Read, Seek, SeekFrom};
use std::os::unix::fs::{FileTypeExt, OpenOptionsExt};
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
    /// A line that is not of its form. Told once until a good one comes.
    Unreadable,
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
}

/// An open port.
pub struct Port {
    name: String,
    said: Receiver<Said>,
    closing: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Port {
    /// Opens it; it must be there now. `now` tells the moment.
    pub fn open(tool: Instrument, now: fn() -> At) -> Result<Port, PortError> {
        let refused = |reason: io::Error| PortError { device: tool.device.clone(), reason: reason.to_string() };
        let stream = Stream::open(&tool).map_err(refused)?;
        let (tell, said) = mpsc::channel(WAITING);
        let closing = Arc::new(AtomicBool::new(false));
        let (name, for_thread) = (tool.name.clone(), closing.clone());
        let device = tool.device.clone();
        let thread =
            thread::Builder::new().name("tool".into()).spawn(move || serve(&tool, stream, &tell, &for_thread, now));
        let thread = thread.map_err(|e| PortError { device, reason: e.to_string() })?;
        Ok(Port { name, said, closing, thread: Some(thread) })
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
fn serve(tool: &Instrument, first: Stream, tell: &Sender<Said>, closing: &AtomicBool, now: fn() -> At) {
    let mut stream = Some(first);
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
        match open.look(now) {
            Ok(lines) => {
                for (line, began) in lines {
                    let reading = match line {
                        Line::Text(text) if text.trim().is_empty() => continue,
                        Line::Text(text) => tool.form.read(&text),
                        Line::Unreadable => None,
                    };
                    let said = match reading {
                        Some(reading) => Said::Reading(reading, began),
                        None if unreadable => continue,
                        None => Said::Unreadable,
                    };
                    unreadable = said == Said::Unreadable;
                    // Full: nobody takes them, so this one is nobody's.
                    let _ = tell.try_send(said);
                }
                thread::park_timeout(LOOK);
            }
            // Kept until it is told, so that it is not taken for one that is silent.
            Err(error) if tell.try_send(Said::Lost(format!("{}: {error}", tool.device.display()))).is_err() => {
                thread::park_timeout(LOOK);
            }
            Err(_) => stream = None,
        }
    }
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
}

impl Stream {
    fn open(tool: &Instrument) -> io::Result<Stream> {
        let found = kind(std::fs::metadata(&tool.device)?.file_type())?;
        let mut options = OpenOptions::new();
        options.read(true).custom_flags(libc::O_NONBLOCK | libc::O_NOCTTY);
        let mut file = options.open(&tool.device)?;
        match found {
            Kind::Serial => set_up(&file, tool.baud)?,
            Kind::Pipe => {}
            // What stands in it already are the readings of another day.
            Kind::Grows => drop(file.seek(SeekFrom::End(0))?),
        }
        Ok(Stream { file, kind: found, framer: Framer::default(), opened: Instant::now(), half: false, spoke: false })
    }

    /// The lines that have come, each with the moment of its first byte.
    fn look(&mut self, now: fn() -> At) -> io::Result<Vec<(Line, At)>> {
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
            self.half = self.kind != Kind::Grows && self.opened.elapsed() < UNDER_WAY;
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
                // One that was emptied is read from its beginning again.
                let at = self.file.stream_position()?;
                if self.file.metadata()?.len() < at {
                    self.framer.clear();
                    self.file.seek(SeekFrom::Start(0))?;
                }
            }
        }
        Ok(())
    }
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
    let mut settings = termios::tcgetattr(file)?;
    settings.make_raw();
    settings.control_modes |= ControlModes::CREAD | ControlModes::CLOCAL;
    settings.set_speed(baud)?;
    termios::tcsetattr(file, OptionalActions::Now, &settings)?;
    // What came before was sent to somebody else.
    Ok(termios::tcflush(file, QueueSelector::IFlush)?)
}
