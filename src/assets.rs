//! Where the files are that the program needs and does not carry in itself: the ONNX Runtime library, the voice, the
//! models and the phoneme data.
//!
//! Knows names and folders only; loads nothing. A path that somebody named is taken or refused, never replaced by
//! another; otherwise the first place that has the file wins, in this order:
//!
//! | | fetched by `scripts/setup` | part of the project (`models/`) |
//! | --- | --- | --- |
//! | 1 | beside the program: `../lib/wrenchside` | `../lib/wrenchside/models` |
//! | 2 | `WRENCHSIDE_CACHE` | |
//! | 3 | the user's cache folder | the source tree it was built from |
//! | 4 | the cache folder it was built with | `models` below the working folder |
//!
//! The last two are for whoever builds the program from its sources. One that `scripts/package` made has neither: it looks
//! into no folder of the machine that built it, and takes no library or model for its own that happens to lie where it
//! is started. Where the program is, its own file tells, not the link by which it was called.

use std::env;
use std::path::{Path, PathBuf};

/// What `build.rs` leaves out of a program that is passed on to others.
const BUILT_WITH_CACHE: Option<&str> = option_env!("WRENCHSIDE_BUILT_WITH_CACHE");
const BUILT_FROM: Option<&str> = option_env!("WRENCHSIDE_BUILT_FROM");

/// The way out where a fetched file is missing or too old.
pub const FETCH: &str = if BUILT_WITH_CACHE.is_some() {
    "run scripts/setup to fetch it"
} else {
    "it came with the program: install it again"
};
/// The way out where a fetched file is damaged.
pub const REPAIR: &str = if BUILT_WITH_CACHE.is_some() {
    "scripts/setup --verify fetches it again"
} else {
    "it came with the program: install it again"
};
const UNPACK: &str = if BUILT_FROM.is_some() {
    "it belongs to the project's models folder, which has to lie beside the program or be the working folder's"
} else {
    "it came with the program: install it again"
};

/// A file or folder that was looked for and not found.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AssetError {
    /// Somebody named a path, and what is there is not what is needed.
    #[error("{}: {what} is not here ({missing} is missing)", path.display())]
    NotThere {
        /// What was needed, in words.
        what: &'static str,
        /// The path that was named.
        path: PathBuf,
        /// The file that would have made it right.
        missing: String,
    },
    /// None of the usual places has it.
    #[error("{what} ({name}) was not found; {way_out}. Looked in: {}", list(looked_in))]
    Nowhere {
        /// What was needed, in words.
        what: &'static str,
        /// Its place below each of the folders.
        name: String,
        /// The folders, in the order in which they were tried.
        looked_in: Vec<PathBuf>,
        /// What to do about it.
        way_out: &'static str,
    },
}

fn list(folders: &[PathBuf]) -> String {
    if folders.is_empty() {
        return "nowhere: WRENCHSIDE_CACHE is not set, and where the program lies is not known".into();
    }
    let shown: Vec<String> = folders.iter().map(|f| f.display().to_string()).collect();
    shown.join(", ")
}

/// The folders to search. [`Places::here`] asks the environment once; tests and unusual installations make their own.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Places {
    /// Laid out as `scripts/setup` does it: `lib/`, `voices/`, `judge/`.
    pub fetched: Vec<PathBuf>,
    /// Laid out as `models/` of the project.
    pub models: Vec<PathBuf>,
}

/// What each thing is called, and the file in it that tells a whole one from an empty folder.
struct Asset {
    what: &'static str,
    /// Below the folder that is searched.
    name: &'static str,
    /// Below the thing itself; empty if it is a file.
    proof: &'static str,
}

const ONNX_RUNTIME: Asset = Asset { what: "the ONNX Runtime library", name: "lib/libonnxruntime.so", proof: "" };
const VOICE: Asset = Asset { what: "the voice", name: "voices/en_US-joe-medium", proof: "en_US-joe-medium.onnx" };
const JUDGE: Asset =
    Asset { what: "the second listener's model", name: "judge/moonshine-tiny-en", proof: "encoder_model.ort" };
const PHONES: Asset =
    Asset { what: "the second listener's network of phones", name: "phones-en", proof: "phones.onnx" };
const PHONEMES: Asset = Asset { what: "the English phoneme data", name: "espeak-en", proof: "espeak-ng-data/phontab" };
const LISTENER: Asset = Asset { what: "the recogniser's model", name: "listener-en", proof: "" };

/// What the usual places are worked out from.
#[derive(Debug, Clone, Default)]
struct Surroundings {
    /// The program's own file.
    program: Option<PathBuf>,
    /// The folder that the user names.
    named: Option<PathBuf>,
    /// What stands only in a program built from its sources.
    built: Option<Built>,
}

#[derive(Debug, Clone, Default)]
struct Built {
    users_cache: Option<PathBuf>,
    with_cache: PathBuf,
    from: PathBuf,
    working_folder: Option<PathBuf>,
}

impl Surroundings {
    fn here() -> Self {
        let set = |name: &str| env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
        let built = BUILT_WITH_CACHE.zip(BUILT_FROM).map(|(cache, from)| Built {
            users_cache: set("XDG_CACHE_HOME").or_else(|| Some(set("HOME")?.join(".cache"))),
            with_cache: cache.into(),
            from: from.into(),
            working_folder: env::current_dir().ok(),
        });
        Self { program: env::current_exe().ok(), named: set("WRENCHSIDE_CACHE"), built }
    }

    fn places(self) -> Places {
        let prefix = self.program.as_deref().and_then(Path::parent).and_then(Path::parent);
        let beside = prefix.map(|prefix| prefix.join("lib/wrenchside"));
        let mut models: Vec<PathBuf> = beside.iter().map(|folder| folder.join("models")).collect();
        let mut fetched: Vec<PathBuf> = beside.into_iter().chain(self.named).collect();
        if let Some(built) = self.built {
            fetched.extend(built.users_cache.map(|caches| caches.join("wrenchside")));
            fetched.push(built.with_cache);
            models.push(built.from.join("models"));
            models.extend(built.working_folder.map(|folder| folder.join("models")));
        }
        Places { fetched: without_repeats(fetched), models: without_repeats(models) }
    }
}

impl Places {
    /// The places of this process: its environment, its executable and its working folder.
    pub fn here() -> Self {
        Surroundings::here().places()
    }

    /// The ONNX Runtime library: a file for [`crate::onnx::load`].
    pub fn onnx_runtime(&self, named: Option<&Path>) -> Result<PathBuf, AssetError> {
        find(&ONNX_RUNTIME, named, &self.fetched, FETCH)
    }

    /// A voice: a folder with one `*.onnx` and its `*.onnx.json`. A named one may hold any voice.
    pub fn voice(&self, named: Option<&Path>) -> Result<PathBuf, AssetError> {
        // Which file a named voice consists of is for the voice engine to find out.
        let any = Asset { proof: "", ..VOICE };
        find(if named.is_some() { &any } else { &VOICE }, named, &self.fetched, FETCH)
    }

    /// The second listener's model: a folder with `encoder_model.ort`, `decoder_model_merged.ort`, `tokenizer.bin`.
    pub fn judge(&self, named: Option<&Path>) -> Result<PathBuf, AssetError> {
        find(&JUDGE, named, &self.fetched, FETCH)
    }

    /// The network of phones that the second listener judges by: a folder with `phones.onnx`.
    pub fn phones(&self, named: Option<&Path>) -> Result<PathBuf, AssetError> {
        find(&PHONES, named, &self.models, UNPACK)
    }

    /// The phoneme data: the folder that holds `espeak-ng-data`.
    pub fn phonemes(&self, named: Option<&Path>) -> Result<PathBuf, AssetError> {
        find(&PHONEMES, named, &self.models, UNPACK)
    }

    /// The recogniser's model: a folder.
    pub fn listener(&self, named: Option<&Path>) -> Result<PathBuf, AssetError> {
        find(&LISTENER, named, &self.models, UNPACK)
    }
}

/// Keeps the first of each: with a cache folder set, the built-in one is often the same.
fn without_repeats(folders: Vec<PathBuf>) -> Vec<PathBuf> {
    let mut kept: Vec<PathBuf> = Vec::with_capacity(folders.len());
    for folder in folders {
        if !kept.contains(&folder) {
            kept.push(folder);
        }
    }
    kept
}

fn find(
    asset: &Asset,
    named: Option<&Path>,
    folders: &[PathBuf],
    way_out: &'static str,
) -> Result<PathBuf, AssetError> {
    let whole = |path: &Path| {
        // Joined with nothing, a path ends in a slash, and no file is found by that.
        if asset.proof.is_empty() { path.exists() } else { path.join(asset.proof).exists() }
    };
    if let Some(path) = named {
        return if whole(path) {
            Ok(path.to_path_buf())
        } else {
            Err(AssetError::NotThere {
                what: asset.what,
                path: path.to_path_buf(),
                missing: if asset.proof.is_empty() { "the path itself" } else { asset.proof }.into(),
            })
        };
    }
    folders.iter().map(|folder| folder.join(asset.name)).find(|path| whole(path)).ok_or_else(|| AssetError::Nowhere {
        what: asset.what,
        name: asset.name.into(),
        looked_in: folders.to_vec(),
        way_out,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn with_voice(folder: &Path) {
        let voice = folder.join(VOICE.name);
        fs::create_dir_all(&voice).unwrap();
        fs::write(voice.join(VOICE.proof), "x").unwrap();
    }

    fn paths(names: &[&str]) -> Vec<PathBuf> {
        names.iter().map(PathBuf::from).collect()
    }

    #[test]
    fn beside_the_program_goes_first_then_what_the_user_names_and_where_it_was_built_comes_last() {
        let built = Built {
            users_cache: Some("/home/ann/.cache".into()),
            with_cache: "/built/cache".into(),
            from: "/built/from".into(),
            working_folder: Some("/here".into()),
        };
        let places = Surroundings {
            program: Some("/opt/w/bin/wrenchside".into()),
            named: Some("/named".into()),
            built: Some(built),
        }
        .places();
        assert_eq!(
            places.fetched,
            paths(&["/opt/w/lib/wrenchside", "/named", "/home/ann/.cache/wrenchside", "/built/cache"])
        );
        assert_eq!(places.models, paths(&["/opt/w/lib/wrenchside/models", "/built/from/models", "/here/models"]));
    }

    #[test]
    fn a_packed_program_looks_beside_itself_and_where_the_user_names_and_nowhere_else() {
        let program = Some(PathBuf::from("/usr/bin/wrenchside"));
        let places = Surroundings { program: program.clone(), ..Surroundings::default() }.places();
        assert_eq!(places.fetched, paths(&["/usr/lib/wrenchside"]));
        assert_eq!(places.models, paths(&["/usr/lib/wrenchside/models"]));
        let places = Surroundings { program, named: Some("/named".into()), built: None }.places();
        assert_eq!(places.fetched, paths(&["/usr/lib/wrenchside", "/named"]));
    }

    #[test]
    fn a_folder_that_is_named_twice_is_searched_once() {
        let built = Built { with_cache: "/cache".into(), from: "/from".into(), ..Built::default() };
        let places = Surroundings { program: None, named: Some("/cache".into()), built: Some(built) }.places();
        assert_eq!(places.fetched, paths(&["/cache"]));
    }

    #[test]
    fn the_first_place_that_has_it_wins() {
        let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let places = Places { fetched: vec![one.path().into(), two.path().into()], models: vec![] };
        with_voice(two.path());
        assert_eq!(places.voice(None).unwrap(), two.path().join(VOICE.name));
        with_voice(one.path());
        assert_eq!(places.voice(None).unwrap(), one.path().join(VOICE.name));
    }

    #[test]
    fn a_single_file_is_found_too() {
        let one = tempfile::tempdir().unwrap();
        fs::create_dir(one.path().join("lib")).unwrap();
        let library = one.path().join("lib/libonnxruntime.so");
        fs::write(&library, "x").unwrap();
        let places = Places { fetched: vec![one.path().into()], models: vec![] };
        assert_eq!(places.onnx_runtime(None).unwrap(), library);
        assert_eq!(places.onnx_runtime(Some(&library)).unwrap(), library);
    }

    #[test]
    fn the_network_of_phones_is_one_of_the_projects_models() {
        let one = tempfile::tempdir().unwrap();
        let places = Places { fetched: vec![], models: vec!["/no/such/place".into(), one.path().into()] };
        let folder = one.path().join("phones-en");
        fs::create_dir(&folder).unwrap();
        let told = places.phones(None).unwrap_err().to_string();
        assert!(told.contains("network of phones (phones-en)") && told.contains("/no/such/place"), "{told}");
        fs::write(folder.join("phones.onnx"), "x").unwrap();
        assert_eq!(places.phones(None).unwrap(), folder);
    }

    #[test]
    fn an_empty_folder_is_not_a_voice() {
        let one = tempfile::tempdir().unwrap();
        fs::create_dir_all(one.path().join(VOICE.name)).unwrap();
        let places = Places { fetched: vec![one.path().into()], models: vec![] };
        assert!(matches!(places.voice(None), Err(AssetError::Nowhere { .. })));
    }

    #[test]
    fn the_error_says_what_where_and_the_way_out() {
        let places = Places { fetched: vec!["/no/such/place".into()], models: vec![] };
        let told = places.onnx_runtime(None).unwrap_err().to_string();
        for part in ["ONNX Runtime", "lib/libonnxruntime.so", "/no/such/place", "scripts/setup"] {
            assert!(told.contains(part), "{part} is not in: {told}");
        }
    }

    #[test]
    fn a_named_path_is_never_replaced_by_another() {
        let one = tempfile::tempdir().unwrap();
        with_voice(one.path());
        let places = Places { fetched: vec![one.path().into()], models: vec![] };
        let named = one.path().join("not-here");
        let told = places.judge(Some(&named)).unwrap_err().to_string();
        assert!(told.starts_with(&named.display().to_string()), "{told}");
        assert!(places.voice(Some(&named)).is_err());
    }
}
