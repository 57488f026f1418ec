//! How this process speaks to a PulseAudio server: through its socket, never through memory that both share.
//!
//! Knows where that server's library looks for its settings, and one fault of it: sound that comes in shared memory and is
//! read in part is held by the reader, ALSA's plug-in. When the server dies the library waits for that piece to be given
//! back, for ever and with the lock in hand that giving it back needs, so that the library's thread, the one that reads and the one that
//! closes the stream stay for good. Sound that came through the socket is nobody's but its own.
//!
//! The library can be told so only by its file of settings. It gets one that holds the user's own and this one more.

use std::env;
use std::ffi::OsStr;
use std::fmt::Write as _;
use std::fs::File;
use std::io::{self, Write as _};
use std::os::fd::AsRawFd;
use std::path::{Path, PathBuf, absolute};

/// Names the file of settings to the library.
const NAMES_IT: &str = "PULSE_CLIENTCONFIG";
const NAME: &str = "client.conf";
const SYSTEM: &str = "/etc/pulse";

/// Sees to it for this process, from now on. Where it cannot be done all is as it was.
///
/// # Safety
///
/// No other thread of the process may read or change the environment meanwhile.
#[allow(unsafe_code)]
pub unsafe fn settle() {
    let Some(text) = settings(&places(|name| env::var_os(name).map(PathBuf::from))) else { return };
    if let Ok(path) = kept(&text) {
        // SAFETY: the caller sees to it.
        unsafe { env::set_var(NAMES_IT, path) };
    }
}

/// Where the library looks for its settings: the first file that is there is the one.
fn places(named: impl Fn(&str) -> Option<PathBuf>) -> Vec<PathBuf> {
    if let Some(file) = named(NAMES_IT) {
        return vec![file];
    }
    let own = match (named("PULSE_CONFIG_PATH"), named("HOME")) {
        (Some(folder), _) => vec![folder],
        (None, Some(home)) => vec![home.join(".pulse"), home.join(".config/pulse")],
        (None, None) => Vec::new(),
    };
    own.into_iter().chain([PathBuf::from(SYSTEM)]).map(|folder| folder.join(NAME)).collect()
}

/// What the library is to read: the settings that it would have read, then that no memory is shared. `None` where one of
/// them has a name that cannot stand in such a file.
fn settings(places: &[PathBuf]) -> Option<String> {
    let mut text = String::new();
    if let Some(file) = places.iter().find(|file| File::open(file).is_ok()) {
        for file in [file.clone()].into_iter().chain(beside(file)) {
            let path = absolute(file).ok()?;
            let path = path.to_str().filter(|path| !path.contains(['#', ';', '\n']))?;
            writeln!(text, ".include {path}").ok()?;
        }
    }
    text.push_str("enable-shm = no\n");
    Some(text)
}

/// The files of the folder beside it that add to it, in the order in which they do.
fn beside(file: &Path) -> Vec<PathBuf> {
    let mut folder = file.as_os_str().to_owned();
    folder.push(".d");
    let entries = Path::new(&folder).read_dir().into_iter().flatten().flatten();
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.path()).collect();
    files.retain(|file| file.extension() == Some(OsStr::new("conf")) && file.is_file());
    files.sort();
    files
}

/// A file without a name that is there for as long as this process, and the path by which it can be read.
fn kept(text: &str) -> io::Result<String> {
    let mut file = tempfile::tempfile()?;
    file.write_all(text.as_bytes())?;
    // By the number of the process, so that it is found by those that this one starts too.
    let path = format!("/proc/{}/fd/{}", std::process::id(), file.as_raw_fd());
    File::open(&path)?;
    // The library reads it whenever a device is opened.
    std::mem::forget(file);
    Ok(path)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn the_users_own_settings_are_kept_and_the_last_word_is_that_no_memory_is_shared() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir(at("client.conf.d")).unwrap();
        for name in ["system", "client.conf", "client.conf.d/20.conf", "client.conf.d/10.conf", "client.conf.d/old"] {
            fs::write(at(name), "").unwrap();
        }
        let text = settings(&[at("missing"), at("client.conf"), at("system")]).unwrap();
        let include = |name: &str| format!(".include {}\n", at(name).display());
        let files = ["client.conf", "client.conf.d/10.conf", "client.conf.d/20.conf"].map(include).concat();
        assert_eq!(text, format!("{files}enable-shm = no\n"));
        assert_eq!(settings(&[at("missing")]).unwrap(), "enable-shm = no\n");
        // Such a name would be cut off, and the settings lost.
        fs::write(at("a;b"), "").unwrap();
        assert_eq!(settings(&[at("a;b")]), None);
    }

    #[test]
    fn they_are_looked_for_where_the_library_looks() {
        let set = |names: &'static [(&str, &str)]| {
            let named = |name: &str| names.iter().find(|(set, _)| *set == name).map(|(_, value)| PathBuf::from(value));
            places(named).iter().map(|path| path.display().to_string()).collect::<Vec<_>>()
        };
        assert_eq!(
            set(&[("HOME", "/home/a")]),
            ["/home/a/.pulse/client.conf", "/home/a/.config/pulse/client.conf", "/etc/pulse/client.conf"]
        );
        assert_eq!(
            set(&[("HOME", "/home/a"), ("PULSE_CONFIG_PATH", "/b")]),
            ["/b/client.conf", "/etc/pulse/client.conf"]
        );
        assert_eq!(set(&[("HOME", "/home/a"), ("PULSE_CLIENTCONFIG", "/c")]), ["/c"]);
    }

    #[test]
    fn a_file_without_a_name_can_be_read_again_and_again() {
        let path = kept("enable-shm = no\n").unwrap();
        for _ in 0..2 {
            assert_eq!(fs::read_to_string(&path).unwrap(), "enable-shm = no\n");
        }
    }
}
