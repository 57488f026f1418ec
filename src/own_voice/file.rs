//! The file of a profile: written whole beside its place and moved there, readable by its owner alone; read, checked against what is
//! in use, and removed.
//!
//! Knows disks; what stands in the file is [`super::envelope`]'s.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use super::envelope::{Refusal, Wanted};
use super::profile::Profile;

/// No file is larger: ten times what a profile has.
const MOST: u64 = 128 << 20;

/// Why a profile cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ProfileError {
    /// The file cannot be read.
    #[error("{}: the profile cannot be read: {reason}", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        reason: std::io::Error,
    },
    /// The file cannot be written or removed.
    #[error("{}: the profile cannot be written: {reason}", path.display())]
    Unwritable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        reason: std::io::Error,
    },
    /// What is in it cannot be used.
    #[error("{}: {reason}", path.display())]
    Refused {
        /// The file.
        path: PathBuf,
        /// What is wrong with it, and what to do.
        reason: Refusal,
    },
}

impl Profile {
    /// Reads a profile that fits what is in use.
    pub fn read(path: &Path, wanted: Wanted) -> Result<Self, ProfileError> {
        let unreadable = |reason| ProfileError::Unreadable { path: path.to_owned(), reason };
        let mut bytes = Vec::new();
        let file = crate::files::open(path).map_err(unreadable)?;
        file.take(MOST).read_to_end(&mut bytes).map_err(unreadable)?;
        let refused = |reason| ProfileError::Refused { path: path.to_owned(), reason };
        let profile = Self::parse(&bytes).map_err(refused)?;
        profile.fits(wanted).map_err(refused)?;
        Ok(profile)
    }

    /// Writes it: the old file stays until the new one is whole. Its folder is made if need be.
    pub fn write(&self, path: &Path) -> Result<(), ProfileError> {
        let unwritable = |reason| ProfileError::Unwritable { path: path.to_owned(), reason };
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        crate::files::make_private_folders(folder).map_err(unwritable)?;
        // For its owner alone: that is how the crate makes them.
        let mut file = tempfile::NamedTempFile::new_in(folder).map_err(unwritable)?;
        file.write_all(&self.to_bytes()).map_err(unwritable)?;
        file.as_file().sync_all().map_err(unwritable)?;
        file.persist(path).map_err(|error| unwritable(error.error))?;
        Ok(())
    }

    /// Removes a profile's file, and with it everything that was learnt.
    pub fn delete(path: &Path) -> Result<(), ProfileError> {
        std::fs::remove_file(path).map_err(|reason| ProfileError::Unwritable { path: path.to_owned(), reason })
    }
}

#[cfg(test)]
mod tests {
    use super::super::profile::tests::{learnt, profile};
    use super::*;

    const WANTED: Wanted = Wanted { features: "abc", language: "en" };

    fn told(path: &Path, wanted: Wanted) -> String {
        Profile::read(path, wanted).unwrap_err().to_string()
    }

    #[test]
    fn what_is_written_is_read_and_what_is_deleted_is_gone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("voices/ann.voice");
        learnt().write(&path).unwrap();
        profile().write(&path).unwrap();
        learnt().write(&path).unwrap();
        assert_eq!(Profile::read(&path, WANTED).unwrap(), learnt());
        assert_eq!(std::fs::read_dir(path.parent().unwrap()).unwrap().count(), 1, "nothing is left beside it");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            assert_eq!(std::fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
        }
        Profile::delete(&path).unwrap();
        assert!(!path.exists() && told(&path, WANTED).contains("cannot be read"));
        assert!(Profile::delete(&path).is_err());
    }

    #[test]
    fn what_does_not_fit_is_refused_with_what_to_do() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("ann.voice");
        let bytes = learnt().to_bytes();
        std::fs::write(&path, &bytes).unwrap();
        let other = told(&path, Wanted { features: "abd", ..WANTED });
        assert!(other.starts_with(&path.display().to_string()) && other.contains("(abc, now abd)"), "{other}");
        assert!(told(&path, Wanted { language: "de", ..WANTED }).contains("\"en\""));
        std::fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
        assert!(told(&path, WANTED).contains("cut off"));
        std::fs::write(&path, "kind = 1").unwrap();
        assert!(told(&path, WANTED).contains("no profile"));
    }
}
