//! The file of a page that grows: written whole or not at all, and never over what somebody else has written meanwhile.

use crate::files;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// A page on disk.
#[derive(Debug)]
pub struct PageFile {
    path: PathBuf,
    /// What was read or written last; nothing while there is no file.
    known: Option<String>,
}

impl PageFile {
    /// The page in this file, whether or not there is one. A link is followed, and stays a link.
    pub fn open(path: &Path) -> io::Result<PageFile> {
        let path = match path.symlink_metadata() {
            Ok(_) => path.canonicalize()?,
            Err(_) => path.to_owned(),
        };
        let known = read(&path)?;
        Ok(PageFile { path, known })
    }

    /// What is in it.
    pub fn text(&self) -> Option<&str> {
        self.known.as_deref()
    }

    /// Puts this text in its place; on disk when this returns.
    pub fn write(&mut self, text: &str) -> io::Result<()> {
        if read(&self.path)? != self.known {
            let why =
                "it was changed meanwhile by somebody else, and nothing is written over that; end this and begin again";
            return Err(io::Error::other(format!("{}: {why}", self.path.display())));
        }
        let told = |e: io::Error| io::Error::new(e.kind(), format!("{}: cannot be written: {e}", self.path.display()));
        let mut file = files::unfinished(&self.path).map_err(told)?;
        if let Ok(about) = fs::metadata(&self.path) {
            file.as_file().set_permissions(about.permissions()).map_err(told)?;
        }
        file.write_all(text.as_bytes()).and_then(|()| file.as_file().sync_all()).map_err(told)?;
        file.persist(&self.path).map_err(|e| told(e.error))?;
        let folder = self.path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(told)?;
        self.known = Some(text.to_owned());
        Ok(())
    }
}

fn read(path: &Path) -> io::Result<Option<String>> {
    match files::text(path) {
        Ok(text) => Ok(Some(text)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(io::Error::new(error.kind(), format!("{}: cannot be read: {error}", path.display()))),
    }
}
