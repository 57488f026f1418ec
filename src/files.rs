//! Files that a user named, or a file named: opened only if they are files, read only up to a size, and written whole.
//!
//! Knows the file system and no content. Opening a pipe waits for ever, reading a device never ends, and opening some
//! devices already does something; so what is no regular file is refused before it is opened. A name that was read from a
//! file is followed only [within](inside) the folder that it belongs to.

use std::fs::{DirBuilder, File, FileType, Metadata};
use std::io::{self, Error, ErrorKind, Read, Seek};
use std::path::{Component, Path};

/// The most of a text that a person wrote: a procedure, settings, a list. The longest of our own are a hundredth of it.
pub const TEXT: u64 = 8 << 20;

/// The most of what a program wrote: a journal, a profile, counts, a part of a model.
pub const DATA: u64 = 1 << 30;

/// Opens a regular file for reading.
pub fn open(path: &Path) -> io::Result<File> {
    regular(&std::fs::metadata(path)?)?;
    let file = without_waiting().open(path)?;
    // What lay there may have been changed for something else meanwhile.
    regular(&file.metadata()?)?;
    Ok(file)
}

/// The bytes of a regular file of at most so many.
pub fn read(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open(path)?.take(most.saturating_add(1)).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most {
        return Err(Error::new(ErrorKind::FileTooLarge, format!("it is larger than {}", size(most))));
    }
    Ok(bytes)
}

/// The text of a regular file, of at most [`TEXT`].
pub fn text(path: &Path) -> io::Result<String> {
    let not_text = |_| Error::new(ErrorKind::InvalidData, "it is not text (UTF-8)");
    String::from_utf8(read(path, TEXT)?).map_err(not_text)
}

/// Makes sure that a regular file is there, for those who open it themselves.
pub fn look(path: &Path) -> io::Result<()> {
    regular(&std::fs::metadata(path)?)
}

/// The bytes of a regular file that lies in `folder`, under a name that was read from a file: neither the name nor a
/// symbolic link leads out of the folder.
pub fn inside(folder: &Path, name: &Path, most: u64) -> io::Result<Vec<u8>> {
    let outside = || Error::new(ErrorKind::PermissionDenied, "it does not lie in its folder");
    if name.as_os_str().is_empty() || !name.components().all(|part| matches!(part, Component::Normal(_))) {
        return Err(outside());
    }
    let (folder, path) = (folder.canonicalize()?, folder.join(name).canonicalize()?);
    if !path.starts_with(&folder) {
        return Err(outside());
    }
    read(&path, most)
}

/// Makes a folder, and those above it that are missing, for the user alone.
pub fn make_private_folders(path: &Path) -> io::Result<()> {
    private().recursive(true).create(path)
}

/// Makes a folder that is not there yet, for the user alone.
pub fn make_private_folder(path: &Path) -> io::Result<()> {
    private().create(path)
}

/// A file under a name that nobody can foresee, in the folder of the one that it will become: it is written whole, then
/// takes that one's place in one move. Left alone, it is removed again.
pub fn unfinished(path: &Path) -> io::Result<tempfile::NamedTempFile> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    // Its own words for a missing folder, before those about a name that says nothing.
    std::fs::metadata(folder)?;
    let mut builder = tempfile::Builder::new();
    builder.prefix(".unfinished-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any file is made; the user's mask takes off what it takes off.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

/// Writes what a user named as the place for it: whole or not at all, in the place of a file that was there. What is no file is
/// refused before it is touched: a pipe waits for ever, and in a device's place there would be a file. What the program was handed
/// as a stream, as a shell does, is written into.
pub fn write(path: &Path, write: impl FnOnce(&mut File) -> io::Result<()>) -> io::Result<()> {
    if is_handed(path) {
        // Not every stream can be gone back in.
        let mut whole = tempfile::tempfile()?;
        write(&mut whole)?;
        whole.rewind()?;
        let mut stream = File::options().write(true).open(path)?;
        return io::copy(&mut whole, &mut stream).map(drop);
    }
    // A link stays, and leads to what is written.
    let place = match place(path)? {
        true => {
            // One that may not be written is not replaced either.
            regular(&without_waiting().read(false).write(true).open(path)?.metadata()?)?;
            path.canonicalize()?
        }
        false => path.to_owned(),
    };
    let mut unfinished = unfinished(&place)?;
    if let Ok(before) = std::fs::metadata(&place) {
        unfinished.as_file().set_permissions(before.permissions())?;
    }
    write(unfinished.as_file_mut())?;
    unfinished.persist(&place).map(drop).map_err(|error| error.error)
}

/// Makes sure that a file may be written there, for those who have long to work until it is.
pub fn look_to_write(path: &Path) -> io::Result<()> {
    if is_handed(path) { Ok(()) } else { place(path).map(drop) }
}

/// Is there a file at this place for one? What is no file is refused.
fn place(path: &Path) -> io::Result<bool> {
    if path.file_name().is_none() {
        return Err(Error::new(ErrorKind::InvalidInput, "this is not the name of a file"));
    }
    match std::fs::metadata(path) {
        Ok(about) => regular(&about).map(|()| true),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(false),
        Err(error) => Err(error),
    }
}

/// Is it one of the streams that this process was started with?
fn is_handed(path: &Path) -> bool {
    matches!(path.to_str(), Some("/dev/stdout" | "/dev/stderr"))
        || path.parent() == Some(Path::new("/dev/fd"))
        || path.parent() == Some(Path::new("/proc/self/fd"))
}

fn private() -> DirBuilder {
    #[cfg_attr(not(unix), expect(unused_mut))]
    let mut builder = DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder
}

fn without_waiting() -> std::fs::OpenOptions {
    let mut options = std::fs::OpenOptions::new();
    options.read(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::custom_flags(&mut options, libc::O_NONBLOCK | libc::O_NOCTTY);
    options
}

fn regular(about: &Metadata) -> io::Result<()> {
    if about.is_file() {
        return Ok(());
    }
    let kind = if about.is_dir() { ErrorKind::IsADirectory } else { ErrorKind::InvalidInput };
    Err(Error::new(kind, format!("it is {}, not a file; name a file", what(about.file_type()))))
}

fn what(kind: FileType) -> &'static str {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        if kind.is_fifo() {
            return "a pipe";
        }
        if kind.is_socket() {
            return "a socket";
        }
        if kind.is_char_device() || kind.is_block_device() {
            return "a device";
        }
    }
    if kind.is_dir() { "a folder" } else { "something else" }
}

fn size(bytes: u64) -> String {
    match bytes >> 20 {
        0 => format!("{bytes} bytes"),
        mega => format!("{mega} MiB"),
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::fs;
    use std::io::Write;
    use std::os::unix::fs::{FileTypeExt, PermissionsExt, symlink};

    /// A pipe that nobody writes into.
    fn pipe(path: &Path) {
        assert!(std::process::Command::new("mkfifo").arg(path).status().unwrap().success());
    }

    #[test]
    fn what_is_no_file_is_refused_at_once_and_named() {
        let folder = tempfile::tempdir().unwrap();
        let fifo = folder.path().join("fifo");
        pipe(&fifo);
        let link = folder.path().join("link");
        symlink(&fifo, &link).unwrap();
        for (path, kind) in [
            (fifo.as_path(), "a pipe"),
            (&link, "a pipe"),
            (Path::new("/dev/zero"), "a device"),
            (folder.path(), "a folder"),
        ] {
            for told in [text(path).unwrap_err(), look(path).unwrap_err(), open(path).unwrap_err()] {
                assert_eq!(told.to_string(), format!("it is {kind}, not a file; name a file"));
            }
        }
        assert_eq!(open(&folder.path().join("none")).unwrap_err().kind(), ErrorKind::NotFound);
    }

    #[test]
    fn what_is_too_large_or_no_text_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        fs::write(&path, "12345").unwrap();
        assert_eq!(read(&path, 5).unwrap(), b"12345");
        assert_eq!(read(&path, 4).unwrap_err().to_string(), "it is larger than 4 bytes");
        // Holes cost no disk.
        File::create(&path).and_then(|file| file.set_len(TEXT + 1)).unwrap();
        assert_eq!(text(&path).unwrap_err().to_string(), "it is larger than 8 MiB");
        fs::write(&path, [b'a', 0xff]).unwrap();
        assert_eq!(text(&path).unwrap_err().to_string(), "it is not text (UTF-8)");
    }

    #[test]
    fn a_name_leads_nowhere_else() {
        let (folder, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let secret = other.path().join("secret");
        fs::write(&secret, "x").unwrap();
        fs::create_dir(folder.path().join("notes")).unwrap();
        fs::write(folder.path().join("notes/a"), "a").unwrap();
        symlink(&secret, folder.path().join("notes/out")).unwrap();
        symlink(other.path(), folder.path().join("away")).unwrap();
        symlink("a", folder.path().join("notes/here")).unwrap();
        let read = |name: &str| inside(folder.path(), Path::new(name), 10);
        assert_eq!(read("notes/a").unwrap(), b"a");
        assert_eq!(read("notes/here").unwrap(), b"a");
        let up = format!("../{}/secret", other.path().file_name().unwrap().to_string_lossy());
        for name in [secret.to_str().unwrap(), &up, "notes/out", "away/secret", "notes/../notes/a", ""] {
            assert_eq!(read(name).unwrap_err().to_string(), "it does not lie in its folder", "{name}");
        }
        assert!(read("notes").is_err());
    }

    #[test]
    fn what_is_written_is_whole_and_stands_only_where_a_file_may() {
        let folder = tempfile::tempdir().unwrap();
        let put = |path: &Path, text: &str| {
            write(path, |file| {
                file.write_all(text.as_bytes())?;
                if text == "half" { Err(Error::other("and no more")) } else { Ok(()) }
            })
        };
        let (file, link) = (folder.path().join("file"), folder.path().join("link"));
        put(&file, "one").unwrap();
        fs::set_permissions(&file, fs::Permissions::from_mode(0o640)).unwrap();
        symlink("file", &link).unwrap();
        put(&link, "two").unwrap();
        assert_eq!(put(&file, "half").unwrap_err().to_string(), "and no more");
        assert_eq!(fs::read_to_string(&file).unwrap(), "two");
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o640);
        let fifo = folder.path().join("fifo");
        pipe(&fifo);
        let refused = [(fifo.as_path(), "a pipe"), (Path::new("/dev/zero"), "a device"), (folder.path(), "a folder")];
        for (path, kind) in refused {
            assert_eq!(put(path, "one").unwrap_err().to_string(), format!("it is {kind}, not a file; name a file"));
        }
        assert!(fs::metadata(&fifo).unwrap().file_type().is_fifo(), "nothing took its place");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 3, "nothing unfinished is left");
        // Nobody can foresee under which name it is written.
        let names: std::collections::HashSet<_> =
            (0..20).map(|_| unfinished(&file).unwrap().path().file_name().unwrap().to_owned()).collect();
        assert_eq!(names.len(), 20);
        let own = std::process::id().to_string();
        assert!(names.iter().all(|name| !name.to_string_lossy().contains(&own)), "{names:?}");
    }

    #[test]
    fn folders_are_for_the_user_alone_and_files_as_any() {
        let folder = tempfile::tempdir().unwrap();
        let deep = folder.path().join("a/b");
        make_private_folders(&deep).unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode() & 0o777;
        assert_eq!((mode(&deep), mode(deep.parent().unwrap())), (0o700, 0o700));
        assert_eq!(make_private_folder(&deep).unwrap_err().kind(), ErrorKind::AlreadyExists);
        let usual = folder.path().join("usual");
        fs::write(&usual, "").unwrap();
        let own = folder.path().join("own");
        unfinished(&own).unwrap().persist(&own).unwrap();
        assert_eq!(mode(&own), mode(&usual));
    }
}
