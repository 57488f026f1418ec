//! The program in a folder laid out as `scripts/package` does it, away from where it was built: it finds its parts beside
//! itself, by whatever link it is called, and takes no library that lies in its way. That a packed program has no other
//! places at all, `scripts/check-package` shows in a root where there are none.

use assert_cmd::Command;
use std::fs;
use std::path::{Path, PathBuf};
use wrenchside::assets::Places;

/// The same file once more, or a copy where that cannot be.
fn link(from: &Path, to: &Path) {
    fs::create_dir_all(to.parent().unwrap()).unwrap();
    if fs::hard_link(from, to).is_err() {
        fs::copy(from, to).unwrap();
    }
}

fn link_folder(from: &Path, to: &Path) {
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let goal = to.join(path.file_name().unwrap());
        if path.is_dir() { link_folder(&path, &goal) } else { link(&path, &goal) }
    }
}

/// The program and its parts under `prefix`, and the program's own path.
fn install(prefix: &Path) -> PathBuf {
    let places = Places::here();
    let (program, parts) = (prefix.join("bin/wrenchside"), prefix.join("lib/wrenchside"));
    link(Path::new(env!("CARGO_BIN_EXE_wrenchside")), &program);
    let runtime = places.onnx_runtime(None).unwrap();
    link(&runtime, &parts.join("lib/libonnxruntime.so"));
    link(&runtime.with_file_name("libvosk.so"), &parts.join("lib/libvosk.so"));
    link_folder(&places.voice(None).unwrap(), &parts.join("voices/en_US-joe-medium"));
    link_folder(&places.judge(None).unwrap(), &parts.join("judge/moonshine-tiny-en"));
    link_folder(&places.listener(None).unwrap(), &parts.join("models/listener-en"));
    if let Ok(phones) = places.phones(None) {
        link_folder(&phones, &parts.join("models/phones-en"));
    }
    link_folder(&places.phonemes(None).unwrap(), &parts.join("models/espeak-en"));
    program
}

#[test]
fn an_installed_program_takes_its_parts_from_beside_itself() {
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    let prefix = folder.path().canonicalize().unwrap();
    let program = install(&prefix);

    // What must not be taken: a library in the search path, one that the user's cache folder holds, models where it is
    // started.
    let home = prefix.join("home");
    let astray = home.join(".cache/wrenchside/lib");
    fs::create_dir_all(&astray).unwrap();
    fs::create_dir_all(home.join("models/listener-en")).unwrap();
    for name in ["libvosk.so", "libonnxruntime.so"] {
        fs::write(astray.join(name), "not a library").unwrap();
    }
    let called = home.join("wrenchside");
    std::os::unix::fs::symlink(&program, &called).unwrap();

    let mut doctor = Command::new(&called);
    doctor.current_dir(&home).env_clear().env("HOME", &home).env("PATH", "/usr/bin:/bin");
    let output = doctor.env("LD_LIBRARY_PATH", &astray).arg("doctor").output().unwrap();
    let told = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success(), "{told}{}", String::from_utf8_lossy(&output.stderr));
    let beside = prefix.join("lib/wrenchside");
    for part in [
        "lib/libvosk.so",
        "lib/libonnxruntime.so",
        "voices/en_US-joe-medium",
        "judge/moonshine-tiny-en",
        "models/listener-en",
    ]
    .into_iter()
    .chain(Places::here().phones(None).is_ok().then_some("models/phones-en"))
    {
        assert!(told.contains(&beside.join(part).display().to_string()), "{part} is not beside the program:\n{told}");
    }
    assert!(!told.contains("FAIL"), "{told}");
}
