//! The device or file that a tool's lines are read from: how it is opened, and how much is read of it at once.

use std::fs::{File, OpenOptions};
use std::io::{self, ErrorKind};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

/// Bytes that are taken from one look at the port.
pub(super) const AT_ONCE: usize = 4_096;

/// Opens it to be read, and waits for nobody.
pub(super) fn open(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true).custom_flags(libc::O_NONBLOCK | libc::O_NOCTTY);
    options.open(path).map_err(|error| match error.kind() {
        ErrorKind::ResourceBusy => in_use(),
        _ => error,
    })
}

pub(super) fn in_use() -> io::Error {
    io::Error::new(ErrorKind::ResourceBusy, "it is in use already, perhaps by another session")
}
