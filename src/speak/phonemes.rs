//! English text to phonemes, by espeak-ng with the project's own data.
//!
//! Knows the espeak-ng library and its data folder; not what a voice does with phonemes. The library is one per
//! process and not made for threads: everything here goes through one lock.
//!
//! Left to itself espeak-ng looks for its data in half a dozen places, and data of another version is taken without a
//! word and gives other phonemes. So the folder is checked before, file by file, and the library is asked afterwards
//! which one it took.
#![allow(unsafe_code)]

use std::ffi::{CStr, CString, c_char, c_void};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::{fs, ptr};

use espeak_rs_sys as espeak;
use sha2::{Digest, Sha256};

use super::SpeakError;
use crate::files;

/// The library keeps the name of its data folder in 160 bytes, end mark included, and cuts what is longer.
const LONGEST_PATH: usize = 159;

/// The data folder that the library was started with.
static STARTED: Mutex<Option<PathBuf>> = Mutex::new(None);

/// The phonemiser for one language. There may be several; they take turns.
#[derive(Debug, Clone)]
pub struct Phonemiser {
    language: CString,
}

impl Phonemiser {
    /// Starts the library with the data in `folder` (which holds `espeak-ng-data` and `SHA256SUMS`), or goes on with
    /// it if it is already started; `language` is an espeak-ng name as in "en-us".
    pub fn new(folder: &Path, language: &str) -> Result<Self, SpeakError> {
        let refuse = |reason: String| SpeakError::PhonemeData { path: folder.into(), reason };
        let language = CString::new(language).map_err(|_| refuse("the language's name holds a zero byte".into()))?;
        let mut started = STARTED.lock().unwrap_or_else(PoisonError::into_inner);
        let data =
            fs::canonicalize(folder.join("espeak-ng-data")).map_err(|e| refuse(format!("espeak-ng-data: {e}")))?;
        match &*started {
            Some(other) if *other == data => {}
            Some(other) => {
                return Err(refuse(format!("espeak-ng already runs with the data in {}", other.display())));
            }
            None => {
                verify(folder)?;
                start(&data)?;
                *started = Some(data);
            }
        }
        let phonemiser = Self { language };
        phonemiser.choose_language().map_err(refuse)?;
        Ok(phonemiser)
    }

    /// The phonemes of `text` in IPA, without punctuation and on one line.
    pub fn phonemes(&self, text: &str) -> Result<String, SpeakError> {
        let refuse = |reason: &str| SpeakError::Phonemes { text: text.into(), reason: reason.into() };
        let text = CString::new(text).map_err(|_| refuse("it holds a zero byte"))?;
        let _turn = STARTED.lock().unwrap_or_else(PoisonError::into_inner);
        self.choose_language().map_err(|reason| refuse(&reason))?;
        let mut phonemes = String::new();
        let mut rest: *const c_void = text.as_ptr().cast();
        // The library takes a clause at a time and moves the pointer on; it is null when all is done.
        while !rest.is_null() {
            let before = rest;
            // SAFETY: started (there is no other way to a `Phonemiser`) and locked; `rest` points into `text`, which
            // is zero-terminated UTF-8 and outlives the loop. The result is a static buffer, copied before the lock
            // is released.
            let clause = unsafe {
                let clause: *const c_char = espeak::espeak_TextToPhonemes(
                    &mut rest,
                    espeak::espeakCHARS_UTF8 as i32,
                    espeak::espeakINITIALIZE_PHONEME_IPA as i32,
                );
                if clause.is_null() { None } else { Some(CStr::from_ptr(clause).to_string_lossy()) }
            };
            if let Some(clause) = clause {
                if !phonemes.is_empty() {
                    phonemes.push(' ');
                }
                phonemes.push_str(without_language_marks(&clause).trim());
            }
            if rest == before {
                return Err(refuse("espeak-ng does not get on with it"));
            }
        }
        Ok(phonemes)
    }

    /// Only to be called with the lock held.
    fn choose_language(&self) -> Result<(), String> {
        // SAFETY: the library is started and locked, the name is zero-terminated.
        if unsafe { espeak::espeak_SetVoiceByName(self.language.as_ptr()) } == espeak::espeak_ERROR_EE_OK {
            Ok(())
        } else {
            Err(format!("it has no language {:?}", self.language))
        }
    }
}

/// Starts the library with `data` (the folder `espeak-ng-data` itself) and makes sure that it took it.
fn start(data: &Path) -> Result<(), SpeakError> {
    let refuse = |reason: String| SpeakError::PhonemeData { path: data.into(), reason };
    let text = data.to_str().ok_or_else(|| refuse("its path is not UTF-8".into()))?;
    if text.len() > LONGEST_PATH {
        return Err(refuse(format!(
            "its path is {} bytes long and espeak-ng takes {LONGEST_PATH}; move it to a shorter one",
            text.len()
        )));
    }
    let parent = text.strip_suffix("/espeak-ng-data").unwrap_or(text);
    let parent = CString::new(parent).map_err(|_| refuse("its path holds a zero byte".into()))?;
    // SAFETY: called under the lock; the path is zero-terminated and is copied by the library. Retrieval mode opens
    // no sound device, and DONT_EXIT makes it return instead of ending the process.
    let rate = unsafe {
        espeak::espeak_Initialize(
            espeak::espeak_AUDIO_OUTPUT_AUDIO_OUTPUT_RETRIEVAL,
            0,
            parent.as_ptr(),
            espeak::espeakINITIALIZE_DONT_EXIT as i32,
        )
    };
    if rate <= 0 {
        return Err(refuse(format!("espeak-ng does not start with it (code {rate})")));
    }
    let mut taken: *const c_char = ptr::null();
    // SAFETY: hands out a pointer to the library's own static copy of the path.
    let taken = unsafe {
        espeak::espeak_Info(&mut taken);
        if taken.is_null() { "" } else { CStr::from_ptr(taken).to_str().unwrap_or("") }
    };
    if Path::new(taken) != data {
        return Err(refuse(format!("espeak-ng took the data in \"{taken}\" instead")));
    }
    Ok(())
}

/// Compares every file with the list of check sums: a damaged one would bring the process down later.
fn verify(folder: &Path) -> Result<(), SpeakError> {
    let refuse = |path: PathBuf, reason: String| SpeakError::PhonemeData { path, reason };
    let sums = folder.join("SHA256SUMS");
    let list = files::text(&sums).map_err(|e| refuse(sums.clone(), e.to_string()))?;
    let mut checked = 0;
    for line in list.lines() {
        let Some((sum, name)) = line.split_once("  ") else {
            return Err(refuse(sums, format!("\"{line}\" is not a check sum and a name")));
        };
        let path = folder.join(name);
        let bytes = files::read(&path, files::DATA).map_err(|e| refuse(path.clone(), e.to_string()))?;
        let found: String = Sha256::digest(&bytes).iter().map(|b| format!("{b:02x}")).collect();
        if found != sum {
            return Err(refuse(path, "it is damaged (its SHA-256 is not the one in SHA256SUMS)".into()));
        }
        checked += 1;
    }
    if checked == 0 {
        return Err(refuse(sums, "it lists nothing".into()));
    }
    Ok(())
}

/// Takes out the marks such as "(fr)" that espeak-ng puts around words it reads in another language.
fn without_language_marks(phonemes: &str) -> String {
    let mut inside = false;
    phonemes
        .chars()
        .filter(|c| {
            match c {
                '(' => inside = true,
                ')' => {
                    inside = false;
                    return false;
                }
                _ => {}
            }
            !inside
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::without_language_marks;

    #[test]
    fn language_marks_go() {
        assert_eq!(without_language_marks("ə (fr)ʃik(en) kˈɑːɹ"), "ə ʃik kˈɑːɹ");
        assert_eq!(without_language_marks("tˈɛst"), "tˈɛst");
    }
}
