//! Tells the linker where libvosk is, so that `cargo build`, `cargo test` and `cargo run` need no environment set by
//! hand. Fetches nothing: `scripts/setup` does that.

use std::env;
use std::path::{Path, PathBuf};

fn main() {
    for variable in ["WRENCHSIDE_CACHE", "XDG_CACHE_HOME", "HOME", "WRENCHSIDE_PACKED"] {
        println!("cargo::rerun-if-env-changed={variable}");
    }
    println!("cargo::rerun-if-changed=build.rs");

    let Some(cache) = cache_folder() else {
        println!(
            "cargo::error=neither WRENCHSIDE_CACHE nor HOME is set, so libvosk cannot be found; run scripts/setup"
        );
        return;
    };
    let lib = cache.join("lib");
    let vosk = lib.join("libvosk.so");
    // Named even when it is not there: cargo then looks again once it is.
    println!("cargo::rerun-if-changed={}", vosk.display());
    if !vosk.is_file() {
        println!("cargo::error={} is missing; run scripts/setup, then build again", vosk.display());
        return;
    }

    println!("cargo::rustc-link-search=native={}", lib.display());
    // Beside the program, as it is installed (`bin/` and `lib/wrenchside/`). As an old-style tag, so that no library of
    // that name in LD_LIBRARY_PATH goes first.
    let mut places = "$ORIGIN/../lib/wrenchside/lib".to_owned();
    // `scripts/package` sets this: what is passed on to others looks into no folder of the machine that built it.
    if env::var_os("WRENCHSIDE_PACKED").is_none_or(|value| value.is_empty()) {
        places = format!("{places}:{}", lib.display());
        println!("cargo::rustc-env=WRENCHSIDE_BUILT_WITH_CACHE={}", cache.display());
        println!("cargo::rustc-env=WRENCHSIDE_BUILT_FROM={}", env!("CARGO_MANIFEST_DIR"));
    }
    println!("cargo::rustc-link-arg=-Wl,--disable-new-dtags,-rpath,{places}");
}

/// The same rule as in `scripts/setup`; empty means not set.
fn cache_folder() -> Option<PathBuf> {
    let set = |name: &str| env::var_os(name).filter(|value| !value.is_empty());
    if let Some(cache) = set("WRENCHSIDE_CACHE") {
        return Some(absolute(Path::new(&cache)));
    }
    let caches = set("XDG_CACHE_HOME").map(PathBuf::from).or_else(|| Some(Path::new(&set("HOME")?).join(".cache")))?;
    Some(absolute(&caches.join("wrenchside")))
}

/// The linker and the finished program run in other folders than this script.
fn absolute(path: &Path) -> PathBuf {
    std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf())
}
