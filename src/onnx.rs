//! The ONNX Runtime: loaded from a file at run time, once, and sessions made the way this program wants them.
//!
//! Knows the library and model files; not what a model is for. The voice (`speak`) and the second listener (`listen`)
//! both come here, and nothing else may make a session.
//!
//! The `ort` crate can load the library itself, but brings the process down when it is missing or too old. So it is
//! opened here, asked for the version of its interface that `ort` was made for, and only then handed over.
#![allow(unsafe_code)]

use std::ffi::{CStr, c_int};
use std::fs::File;
use std::ops::{Deref, DerefMut};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use libloading::Library;
use memmap2::Mmap;
use ort::AsPointer;
use ort::environment::Environment;
use ort::memory::{AllocationDevice, AllocatorType, MemoryInfo, MemoryType};
use ort::session::Session;
use ort::session::builder::SessionBuilder;
use ort::sys::{ORT_API_VERSION, OrtApi, OrtApiBase};
use tracing::debug;

use crate::files;

/// Why there is no session.
#[derive(Debug, thiserror::Error)]
pub enum OnnxError {
    /// The file is missing, or is no library for this machine.
    #[error("{}: the ONNX Runtime library cannot be loaded: {reason}", path.display())]
    Library {
        /// The library file.
        path: PathBuf,
        /// What the system said.
        reason: String,
    },
    /// A library, but another one.
    #[error("{}: this is not an ONNX Runtime library (it has no OrtGetApiBase)", path.display())]
    NotOnnx {
        /// The library file.
        path: PathBuf,
    },
    /// An ONNX Runtime without the interface that is needed.
    #[error("{}: ONNX Runtime {found} is too old, 1.{needed} or newer is needed; {way_out}", path.display(), way_out = crate::assets::FETCH)]
    TooOld {
        /// The library file.
        path: PathBuf,
        /// The version it gives itself.
        found: String,
        /// The minor version that is needed.
        needed: u32,
    },
    /// A session was asked for before [`load`] had succeeded.
    #[error("no ONNX Runtime library is loaded yet")]
    NotLoaded,
    /// The library is fine; the model is not.
    #[error("{}: the model cannot be loaded: {reason}", path.display())]
    Model {
        /// The model file.
        path: PathBuf,
        /// What the runtime said.
        reason: String,
    },
}

/// The library in use. It is never closed again: `ort` keeps pointers into it until the process ends.
static LOADED: Mutex<Option<Library>> = Mutex::new(None);

/// Loads the library at `path`, unless one is loaded already; after a failure another try is welcome.
pub fn load(path: &Path) -> Result<(), OnnxError> {
    // A panic while the lock was held cannot have left it half set.
    let mut loaded = LOADED.lock().unwrap_or_else(PoisonError::into_inner);
    if loaded.is_none() {
        return_large_pieces();
        let (library, api, _) = open(path)?;
        ort::set_api(api);
        *loaded = Some(library);
        if let Err(reason) = share_room() {
            // Each session then takes its own, which is more.
            debug!("{reason}");
        }
    }
    Ok(())
}

/// The room that runs take their memory in, in bytes: addresses, of which only those cost memory that were in use once.
/// More than the longest clause needs, and what a room is without would come in pieces of twice the size of the last, of
/// which hardly half is ever filled.
const ROOM: c_int = 160 << 20;

/// Makes one room for the runs of all sessions to come. They are seldom at work at the same time, and a run that is given
/// new memory by the system each time takes half as long again.
fn share_room() -> ort::Result<()> {
    let environment = Environment::current()?;
    let info = MemoryInfo::new(AllocationDevice::CPU, 0, AllocatorType::Arena, MemoryType::Default)?;
    let api = ort::api();
    let mut settings = std::ptr::null_mut();
    // SAFETY: 0 and -1 stand for the runtime's own choice. It puts a pointer into `settings`, copies what that points to
    // when it makes the room, and frees it after; environment and info are there until the end of this function.
    unsafe {
        ort::Error::result_from_status((api.CreateArenaCfg)(0, -1, ROOM, -1, &mut settings))?;
        let made = (api.CreateAndRegisterAllocator)(environment.ptr().cast_mut(), info.ptr(), settings);
        (api.ReleaseArenaCfg)(settings);
        ort::Error::result_from_status(made)
    }
}

/// Has large pieces of memory given back to the system when they are freed. By itself glibc stops doing so for any that are
/// no larger than one that was freed before; after a model of 30 MB has been read, nearly all stay with the process.
fn return_large_pieces() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    // SAFETY: sets two numbers of the allocator's, under its own lock. If it refuses, all stays as it was.
    unsafe {
        libc::mallopt(libc::M_MMAP_THRESHOLD, 1 << 20);
        libc::mallopt(libc::M_TRIM_THRESHOLD, 4 << 20);
    }
}

/// Whether [`load`] would take the library at `path`, had none been loaded yet; if so, the version it gives itself.
pub fn check(path: &Path) -> Result<String, OnnxError> {
    open(path).map(|(_, _, version)| version)
}

/// Opens a library and takes its interface, which is good for as long as the library is open, and its version.
fn open(path: &Path) -> Result<(Library, OrtApi, String), OnnxError> {
    files::look(path).map_err(|e| OnnxError::Library { path: path.into(), reason: e.to_string() })?;
    // SAFETY: loading a library runs its initialisers. The file is the one that set-up checked, or one that the user
    // named; there is nothing more to be known about it.
    let library =
        unsafe { Library::new(path) }.map_err(|e| OnnxError::Library { path: path.into(), reason: e.to_string() })?;
    let not_onnx = || OnnxError::NotOnnx { path: path.into() };
    // SAFETY: the symbol has had this signature in every release of the runtime.
    let api_base = unsafe { library.get::<unsafe extern "C" fn() -> *const OrtApiBase>(b"OrtGetApiBase\0") }
        .map_err(|_| not_onnx())?;
    // SAFETY: takes nothing, returns a pointer to a table that lives as long as the library, or null.
    let base = unsafe { api_base().as_ref() }.ok_or_else(not_onnx)?;
    // SAFETY: both functions are part of the table; the version is a static string, the interface a static table or
    // null if this library does not have that version of it.
    let (version, api) = unsafe { ((base.GetVersionString)(), (base.GetApi)(ORT_API_VERSION)) };
    let version = if version.is_null() {
        "of unknown version".to_owned()
    } else {
        // SAFETY: not null, hence a zero-terminated static string.
        unsafe { CStr::from_ptr(version) }.to_string_lossy().into_owned()
    };
    if api.is_null() {
        return Err(OnnxError::TooOld { path: path.into(), found: version, needed: ORT_API_VERSION });
    }
    // SAFETY: the library has the interface of this version, so its table is at least as long as the one that `ort`
    // knows, and it holds nothing but function pointers.
    let api = unsafe { std::ptr::read(api) };
    Ok((library, api, version))
}

/// Whether there is a file of a model at `path`: what can be known of it before [`session`] takes its time.
pub fn look(path: &Path) -> Result<(), OnnxError> {
    files::look(path).map_err(|e| OnnxError::Model { path: path.into(), reason: e.to_string() })
}

/// Makes a session of the model at `path`, to run on so many threads, the caller's among them. They sleep when they have
/// nothing to do.
pub fn session(path: &Path, threads: usize) -> Result<Session, OnnxError> {
    make(path, || settings(threads)?.commit_from_file(path))
}

/// The same for a model in the runtime's own format (`.ort`): what it consists of stays in the file and is read as it is needed.
/// That takes half the memory.
pub fn mapped(path: &Path, threads: usize) -> Result<Mapped, OnnxError> {
    let refuse = |reason: std::io::Error| OnnxError::Model { path: path.into(), reason: reason.to_string() };
    look(path)?;
    // SAFETY: the files of models are put in place whole and never written to after; whoever changes one replaces it, which
    // leaves this one as it was.
    let bytes = unsafe { Mmap::map(&File::open(path).map_err(refuse)?) }.map_err(refuse)?;
    let session = make(path, || {
        settings(threads)?
            .with_config_entry("session.load_model_format", "ORT")?
            .with_config_entry("session.use_ort_model_bytes_directly", "1")?
            .with_config_entry("session.use_ort_model_bytes_for_initializers", "1")?
            .commit_from_memory(&bytes)
    })?;
    // Most of it has been packed for the processor meanwhile, and is not looked at again.
    #[cfg(unix)]
    // SAFETY: the mapping is never written to, so a page that is let go of is read from the file when it is needed.
    let _ = unsafe { bytes.unchecked_advise(memmap2::UncheckedAdvice::DontNeed) };
    Ok(Mapped { session, _bytes: bytes })
}

/// A session and the file that it reads; dropped in this order.
pub struct Mapped {
    session: Session,
    _bytes: Mmap,
}

impl Deref for Mapped {
    type Target = Session;
    fn deref(&self) -> &Session {
        &self.session
    }
}

impl DerefMut for Mapped {
    fn deref_mut(&mut self) -> &mut Session {
        &mut self.session
    }
}

fn settings(threads: usize) -> ort::Result<SessionBuilder> {
    Ok(Session::builder()?
        .with_intra_threads(threads)?
        .with_intra_op_spinning(false)?
        // Where the runs of all sessions take theirs; what a model consists of lies beside it.
        .with_env_allocators()?
        .with_device_allocated_initializers()?
        // Or it would keep a plan of the memory for each length of input that was ever seen, and hardly one comes twice.
        .with_memory_pattern(false)?)
}

fn make(path: &Path, session: impl FnOnce() -> ort::Result<Session>) -> Result<Session, OnnxError> {
    if LOADED.lock().unwrap_or_else(PoisonError::into_inner).is_none() {
        return Err(OnnxError::NotLoaded);
    }
    look(path)?;
    let session = session().map_err(|e| OnnxError::Model { path: path.into(), reason: e.to_string() })?;
    return_what_is_free();
    Ok(session)
}

/// Gives memory back to the system that reading a model has left behind, in pieces too small to go by themselves: a quarter
/// of what the models take.
fn return_what_is_free() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    // SAFETY: takes the allocator's own locks and touches nothing that is in use.
    unsafe {
        libc::malloc_trim(0);
    }
}
