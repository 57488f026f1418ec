//! Opens a procedure file, with what it includes, and looks for the pictures that it names.
//!
//! Knows the folder of the file. Leaves to `include` how it becomes one text, and to `load` what that says.

use super::load::{LoadError, read_text};
use super::model::Procedure;
use super::whole::Whole;
use super::{include, picture};
use crate::files;
use std::path::Path;

/// Reads a procedure file.
pub fn load(path: &Path) -> Result<Procedure, LoadError> {
    open(path)?.procedure().map_err(LoadError::Rejected)
}

/// The text of a procedure file, with what it includes in its place; the pictures it names are looked for.
pub fn open(path: &Path) -> Result<Whole, LoadError> {
    // Behind a link stand the folder and the name of the file itself: the same includes, whichever way it is opened.
    let real = path.canonicalize().ok().filter(|_| path.is_symlink());
    let path = real.as_deref().unwrap_or(path);
    let text = read_text(path)?;
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut left = files::TEXT.saturating_sub(text.len() as u64);
    let mut fetch = |file: &str| {
        let bytes = files::inside(folder, Path::new(file), left).map_err(|error| match error.kind() {
            std::io::ErrorKind::FileTooLarge => "with it the procedure is larger than 8 MiB".to_owned(),
            std::io::ErrorKind::PermissionDenied => format!("{error}, {}", folder.display()),
            _ => error.to_string(),
        })?;
        left -= bytes.len() as u64;
        let text = String::from_utf8(bytes).map_err(|_| "it is not text (UTF-8)".to_owned())?;
        Ok((folder.join(file).display().to_string(), text))
    };
    let whole = include::together(&path.display().to_string(), &text, &mut fetch).map_err(LoadError::Rejected)?;
    let missing = picture::missing(whole.text(), folder);
    Ok(whole.with_beside(missing))
}
