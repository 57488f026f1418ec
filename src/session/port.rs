//! Where the lines of a tool come from: a serial port, a pipe with a name, or a file.
//!
//! A thread of its own reads; what is not taken from it in time is dropped, never kept for later. What was sent before the
//! port was opened, half a line at its beginning, and half a line at its end are no readings. A port that is lost, or not
//! there yet, is told once, and looked for until it is back; a file that is away is read by the same rules when it is there
//! again. What can be read only once is read by nobody else meanwhile.
//!
//! `sending` reads ports and pipes, `growing` files.

mod device;
mod growing;
mod sending;

use self::device::{in_use, open};
use self::growing::{Clocks, Growing};
use self::sending::Sending;
use super::lines::Line;
use crate::instrument::Form;
use crate::job::At;
use crate::parting::panic_words;
use crate::quantity::Quantity;
use std::fs::FileType;
use std::io::{self, ErrorKind};
use std::os::unix::fs::FileTypeExt;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::Duration;
use tokio::sync::mpsc::{self, Receiver, Sender};

/// How often the port is looked at.
const LOOK: Duration = Duration::from_millis(20);
/// How often a lost one is looked for.
const AGAIN: Duration = Duration::from_secs(1);
/// As many readings wait to be taken. More is a flood, and nobody's reading.
const WAITING: usize = 8;
/// So much of a line that cannot be read is shown.
const SHOWN: usize = 60;

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
        let (stream, away) = match Stream::open(&tool) {
            Ok(stream) => (Some(stream), false),
            Err(error) => {
                let refused = PortError::new(&tool, &error);
                if !refused.off {
                    return Err(refused);
                }
                let _ = tell.try_send(lost(&tool, &error));
                // It may become a file, and the first one in it is a reading then.
                let none = error.kind() == ErrorKind::NotFound;
                (none.then(|| Stream::Grows(Box::new(Growing::awaited(Clocks::now())))), true)
            }
        };
        let closing = Arc::new(AtomicBool::new(false));
        let (name, for_thread) = (tool.name.clone(), closing.clone());
        let at = tool.clone();
        let thread = thread::Builder::new().name("tool".into()).spawn(move || {
            let work = AssertUnwindSafe(|| serve(&tool, (stream, away), &tell, &for_thread, now));
            if let Err(panic) = catch_unwind(work) {
                // Waits until there is room for it: it is the last that is told.
                let _ = tell.blocking_send(Said::Lost(panic_words(&*panic)));
            }
        });
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
            // The thread is gone, which was told, and nothing will come.
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

/// The life of the thread. `away`: it is told already that it is not there.
fn serve(
    tool: &Instrument,
    (mut stream, mut away): (Option<Stream>, bool),
    tell: &Sender<Said>,
    closing: &AtomicBool,
    now: fn() -> At,
) {
    let mut unreadable = false;
    while !closing.load(Ordering::Acquire) && !tell.is_closed() {
        let Some(open) = &mut stream else {
            thread::park_timeout(AGAIN);
            stream = Stream::open(tool).ok();
            continue;
        };
        match open.look(tool, now) {
            Ok(lines) => {
                away = away && tell.try_send(Said::Back).is_err();
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
                    // Nobody takes the readings of a tool that is told to be away.
                    if away || !good && unreadable {
                        continue;
                    }
                    unreadable = !good;
                    // Full: nobody takes them, so this one is nobody's.
                    let _ = tell.try_send(said);
                }
            }
            Err(error) => {
                // Kept until it is told, so that it is not taken for one that is silent.
                away = away || tell.try_send(lost(tool, &error)).is_ok();
                if away && !open.is_awaited(&error) {
                    stream = None;
                    continue;
                }
            }
        }
        thread::park_timeout(LOOK);
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

/// Where the bytes come from.
enum Stream {
    Sends(Sending),
    Grows(Box<Growing>),
}

impl Stream {
    fn open(tool: &Instrument) -> io::Result<Stream> {
        let found = kind(std::fs::metadata(&tool.device)?.file_type())?;
        let file = open(&tool.device)?;
        if found == Kind::Grows {
            return Ok(Stream::Grows(Box::new(Growing::of(file, Clocks::now())?)));
        }
        // Two that read the same line or pipe take the digits of each other's readings.
        if file.try_lock().is_err() {
            return Err(in_use());
        }
        Ok(Stream::Sends(Sending::of(file, (found == Kind::Serial).then_some(tool.baud))?))
    }

    /// The lines that have come, each with the moment of its first byte.
    fn look(&mut self, tool: &Instrument, now: fn() -> At) -> io::Result<Vec<(Line, At)>> {
        match self {
            Stream::Sends(sending) => sending.look(now),
            Stream::Grows(growing) => growing.look(&tool.device, now(), Clocks::now()),
        }
    }

    /// Is it a file that goes on by itself once there is one of its name again?
    fn is_awaited(&self, error: &io::Error) -> bool {
        matches!(self, Stream::Grows(_)) && error.kind() == ErrorKind::NotFound
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Serial,
    Pipe,
    Grows,
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_that_cannot_be_read_can_be_shown() {
        assert_eq!(shown("38.5\u{1b}[2J furlongs "), "\"38.5\\u{1b}[2J furlongs\"");
        assert_eq!(shown(&"7".repeat(200)), format!("\"{}\" ...", "7".repeat(SHOWN)));
    }

    #[test]
    fn a_fault_of_the_tools_thread_is_told_once() {
        let folder = tempfile::tempdir().unwrap();
        let device = folder.path().join("readings");
        std::fs::write(&device, "").unwrap();
        let form = Form::new("{number} {unit}", &Default::default(), None, None).unwrap();
        let tool = Instrument { name: "wrench".into(), device, baud: 9_600, form };
        let mut port = Port::open(tool, || panic!("no such moment")).unwrap();
        let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap();
        let mut next = |patience| {
            runtime.block_on(async { tokio::time::timeout(Duration::from_millis(patience), port.next()).await })
        };
        let told = next(20_000).expect("it is told");
        assert_eq!(told, Said::Lost("a fault of the program: no such moment".into()));
        assert!(next(200).is_err(), "and told once");
    }
}
