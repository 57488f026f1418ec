//! A serial port or a pipe: what is read from it is gone, and nobody else may read it.

use super::device::AT_ONCE;
use crate::job::At;
use crate::session::lines::{Framer, Line};
use rustix::termios::{self, ControlModes, OptionalActions, QueueSelector};
use std::fs::File;
use std::io::{self, ErrorKind, Read};
use std::time::{Duration, Instant};

/// What comes so soon after opening was being sent already, perhaps from the middle of a line.
const UNDER_WAY: Duration = Duration::from_millis(300);

pub(super) struct Sending {
    file: File,
    serial: bool,
    framer: Framer,
    opened: Instant,
    /// The line that is being sent began before it was opened.
    half: bool,
    /// Something has come.
    spoke: bool,
}

impl Sending {
    /// `baud`: bits a second, of a serial port.
    pub fn of(file: File, baud: Option<u32>) -> io::Result<Sending> {
        let sending = Sending {
            file,
            serial: baud.is_some(),
            framer: Framer::default(),
            opened: Instant::now(),
            half: false,
            spoke: false,
        };
        if let Some(baud) = baud {
            set_up(&sending.file, baud)?;
        }
        Ok(sending)
    }

    /// The lines that have come, each with the moment of its first byte.
    pub fn look(&mut self, now: fn() -> At) -> io::Result<Vec<(Line, At)>> {
        let mut bytes = [0; AT_ONCE];
        let length = match self.file.read(&mut bytes) {
            Ok(length) => length,
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::Interrupted) => {
                return Ok(Vec::new());
            }
            Err(error) => return Err(error),
        };
        if length == 0 {
            if self.serial {
                return Err(io::Error::new(ErrorKind::UnexpectedEof, "it was unplugged, or its sender is gone"));
            }
            // Whoever wrote is gone; who comes next begins a line.
            self.framer.clear();
            return Ok(Vec::new());
        }
        if !self.spoke {
            self.spoke = true;
            self.half |= self.opened.elapsed() < UNDER_WAY;
        }
        let (rest, at) = (&bytes[..length], now());
        Ok(self.framer.lines_behind(rest, &mut self.half, at))
    }
}

impl Drop for Sending {
    fn drop(&mut self) {
        if self.serial {
            // A line that is gone needs no giving back.
            let _ = termios::ioctl_tiocnxcl(&self.file);
        }
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
