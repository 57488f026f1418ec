//! Which version of a part this is, for `doctor`: what set-up wrote down of the files it fetched, and whether they are
//! still those; for anything else, a few digits of its checksum, by which two machines can be compared.
//!
//! Knows the two lists that `scripts/setup` leaves in its folder. Opens no part.

use crate::assets::{Places, REPAIR};
use sha2::{Digest, Sha256};
use std::fs;
use std::path::{Path, PathBuf};

const VERSIONS: &str = "VERSIONS";
const SUMS: &str = "MANIFEST.sha256";

/// The version of a file that set-up fetched ("vosk 0.3.45"), checked to be that very file; or what makes it another.
/// An error if it ought to be that file and is damaged.
pub fn of_file(file: &Path) -> Result<String, String> {
    let digest = digest(file).map_err(|e| format!("{}: {e}", file.display()))?;
    let Some((place, version, sum)) = written_down(file) else {
        return Ok(format!("of unknown version (SHA-256 {}…)", short(&digest)));
    };
    if digest == sum {
        return Ok(version);
    }
    Err(format!("{}: {place} of {version} is damaged; {REPAIR}", file.display()))
}

/// A few digits that tell one file from another ("SHA-256 cd6878ce…").
pub fn fingerprint(file: &Path) -> String {
    digest(file).map_or_else(|e| format!("{}: {e}", file.display()), |d| format!("SHA-256 {}…", short(&d)))
}

/// The library of this name that this process runs with.
pub fn loaded(name: &str) -> Option<PathBuf> {
    let maps = fs::read_to_string("/proc/self/maps").ok()?;
    let paths = maps.lines().filter_map(|line| line.find('/').and_then(|at| line.get(at..)));
    paths.map(PathBuf::from).find(|path| path.file_name().is_some_and(|n| n == name))
}

/// Where set-up put the file, what it is and what its checksum has to be, if it is one that set-up fetched.
fn written_down(file: &Path) -> Option<(String, String, String)> {
    let file = file.canonicalize().ok()?;
    Places::here().fetched.iter().find_map(|folder| {
        let folder = folder.canonicalize().ok()?;
        let place = file.strip_prefix(&folder).ok()?.to_str()?;
        let version = line_of(&folder.join(VERSIONS), |line| line.strip_prefix(place)?.strip_prefix(' '))?;
        let sum = line_of(&folder.join(SUMS), |line| line.strip_suffix(place)?.strip_suffix("  "))?;
        Some((place.to_owned(), version, sum))
    })
}

fn line_of(list: &Path, wanted: impl Fn(&str) -> Option<&str>) -> Option<String> {
    fs::read_to_string(list).ok()?.lines().find_map(|line| wanted(line).map(str::to_owned))
}

fn digest(file: &Path) -> std::io::Result<String> {
    let bytes = crate::files::read(file, crate::files::DATA)?;
    Ok(Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect())
}

fn short(digest: &str) -> &str {
    digest.get(..8).unwrap_or(digest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_nobody_wrote_down_is_told_by_its_checksum() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("some.so");
        fs::write(&file, "abc").unwrap();
        // The test vector of FIPS 180-4.
        assert_eq!(of_file(&file).unwrap(), "of unknown version (SHA-256 ba7816bf…)");
        assert!(of_file(&folder.path().join("none")).unwrap_err().contains("none: "));
    }

    #[test]
    fn what_set_up_fetched_is_told_by_its_version() {
        let version = of_file(&Places::here().onnx_runtime(None).unwrap()).unwrap();
        assert!(version.starts_with("onnxruntime 1."), "{version}");
    }
}
