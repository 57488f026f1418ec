//! The book of a strip-down as a file of the user's own: beside the copy that the job goes by, and never over what they have changed.
//!
//! The job's folder has two: `procedure.toml`, which the journal is bound to, and `book.toml`, which is to be edited. That one is
//! written at the turning point, and again when the job is closed, with what was told since. Knows no job; the text is made elsewhere.

use super::JournalError;
use super::disk::{PROCEDURE, put, put_new, sync_folder};
use crate::files;
use std::path::{Path, PathBuf};

/// Its name.
const BOOK: &str = "book";

/// More books of one job than anybody has edited.
const MOST: u32 = 100;

/// Where a book was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BookFile {
    /// In its place.
    Written(PathBuf),
    /// Beside the one that the user has changed.
    Beside(PathBuf),
    /// It is there already, as it would be written.
    There(PathBuf),
}

/// Writes the book whole, or not at all.
pub fn write_book(folder: &Path, text: &str) -> Result<BookFile, JournalError> {
    let first = folder.join(PROCEDURE);
    let first = files::text(&first).map_err(JournalError::io(&first, "cannot read the job's procedure"))?;
    for n in 1..=MOST {
        let path = folder.join(if n == 1 { format!("{BOOK}.toml") } else { format!("{BOOK}-{n}.toml") });
        if !path.exists() {
            put_new(&path, text.as_bytes())?;
            sync_folder(folder)?;
            return Ok(if n == 1 { BookFile::Written(path) } else { BookFile::Beside(path) });
        }
        // One that cannot be read is somebody's, whatever is in it.
        match files::text(&path) {
            Ok(there) if there == text => return Ok(BookFile::There(path)),
            Ok(there) if there == first => {
                put(&path, text.as_bytes())?;
                sync_folder(folder)?;
                return Ok(BookFile::Written(path));
            }
            _ => {}
        }
    }
    let full = std::io::Error::other("there are too many already");
    Err(JournalError::io(folder.join(format!("{BOOK}.toml")), "cannot write the book")(full))
}
