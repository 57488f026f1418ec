//! The scripts that set a machine up and choose the tests: what they do where another apt is at work or fails, where a file is not
//! the one that is pinned, and when the long tests are due. Nothing is installed or fetched: apt, pip and cargo are stand-ins, and
//! only they and the system's own small tools can be found.

use std::collections::BTreeSet;
use std::fs;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::Command;

/// What the scripts may find of the system.
const TOOLS: [&str; 22] = [
    "awk",
    "bash",
    "basename",
    "cat",
    "dirname",
    "env",
    "find",
    "flock",
    "git",
    "grep",
    "head",
    "mkdir",
    "mktemp",
    "mv",
    "od",
    "rm",
    "sha256sum",
    "sort",
    "stat",
    "tail",
    "touch",
    "tr",
];

/// An apt that finds the lock held so many times, and then installs or fails.
const APT: &str = r#"echo "$*" >>"$BAY/apt"
case "$*" in
  *update*)
    tried=$(grep -c update "$BAY/apt")
    [ "$tried" -gt "${HELD:-0}" ] || { echo "E: Could not get lock /var/lib/apt/lists/lock" >&2; exit 100; }
    ;;
  *) [ -z "${BROKEN:-}" ] || { echo "E: Unable to locate what was asked for" >&2; exit 100; } ; touch "$BAY/installed" ;;
esac"#;

/// A folder with stand-ins, in which scripts run.
struct Bay(tempfile::TempDir);

/// How a script ended, and all it said.
struct Ran {
    ok: bool,
    said: String,
}

impl Bay {
    fn new() -> Bay {
        let bay = Bay(tempfile::tempdir().unwrap());
        fs::create_dir_all(bay.at("bin")).unwrap();
        let path = std::env::var_os("PATH").unwrap();
        for tool in TOOLS {
            let found = std::env::split_paths(&path).map(|folder| folder.join(tool)).find(|file| file.is_file());
            symlink(found.unwrap_or_else(|| panic!("there is no {tool}")), bay.at("bin").join(tool)).unwrap();
        }
        bay.stand_in("apt-get", APT);
        bay.stand_in("apt-cache", "exit 1");
        bay.stand_in("sleep", r#"echo "$*" >>"$BAY/slept""#);
        bay.stand_in("id", "echo 0");
        bay
    }

    fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn stand_in(&self, name: &str, does: &str) {
        self.script(&format!("bin/{name}"), &format!("#!/bin/bash\n{does}\n"));
    }

    fn script(&self, name: &str, text: &str) {
        fs::create_dir_all(self.at(name).parent().unwrap()).unwrap();
        fs::write(self.at(name), text).unwrap();
        fs::set_permissions(self.at(name), fs::Permissions::from_mode(0o755)).unwrap();
    }

    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.at(name)).unwrap_or_default()
    }

    /// A script of this repository, as it is.
    fn ours(&self, name: &str) {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
        self.script(name, &fs::read_to_string(path).unwrap());
    }

    fn run(&self, script: &str, set: &[(&str, &str)]) -> Ran {
        let mut bash = Command::new(self.at("bin/bash"));
        bash.arg(self.at(script)).current_dir(self.0.path()).env_clear();
        bash.env("PATH", self.at("bin")).env("BAY", self.0.path()).env("HOME", self.0.path());
        bash.env("CARGO_HOME", self.at("cargo")).env("WRENCHSIDE_CACHE", self.at("cache"));
        bash.env("GIT_CONFIG_NOSYSTEM", "1").envs(set.iter().copied());
        let ended = bash.output().unwrap();
        let said = [ended.stdout, ended.stderr].concat();
        Ran { ok: ended.status.success(), said: String::from_utf8_lossy(&said).into_owned() }
    }
}

/// A set-up of one small library, of which these bytes are in the wheel, in place of the large files that are really pinned. The rest of
/// the script is as it is.
fn set_up(machine: &str, library: &[u8], pinned: impl Fn(&Path) -> String) -> Bay {
    let bay = Bay::new();
    for tool in ["g++", "make", "cmake", "cargo"] {
        bay.stand_in(tool, "exit 0");
    }
    bay.stand_in("uname", &format!(r#"case "$1" in -s) echo Linux ;; *) echo {machine} ;; esac"#));
    bay.stand_in("dpkg-query", r#"printf 'ii libclang1-14\nii libclang-common-14-dev\n'"#);
    bay.stand_in("pkg-config", r#"[ "$2" != alsa ] || [ -e "$BAY/installed" ]"#);
    let python = Command::new("python3").args(["-c", "import sys; print(sys.executable)"]).output().unwrap();
    let python = String::from_utf8(python.stdout).unwrap();
    bay.stand_in(
        "python3",
        &format!(
            r#"case "$*" in
  *"pip download"* | *"pip --disable-pip-version-check download"*)
    while [ "$1" != --dest ]; do shift; done
    echo fetched >>"$BAY/pip"; cat "$BAY/part.whl" >"$2/part.whl" ;;
  *pip*) ;;
  *) exec {} "$@" ;;
esac"#,
            python.trim()
        ),
    );
    fs::write(bay.at("libpart.so"), library).unwrap();
    let zip = "import sys, zipfile; zipfile.ZipFile(sys.argv[1], 'w').write(sys.argv[2], 'part/libpart.so')";
    let packed =
        Command::new(python.trim()).args(["-c", zip]).args([bay.at("part.whl"), bay.at("libpart.so")]).status();
    assert!(packed.unwrap().success());
    let whole = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("scripts/setup")).unwrap();
    let (pins, rest) = whole.split_once("\nsay() {").unwrap();
    let none: Vec<&str> =
        pins.lines().filter(|line| !line.trim_start().starts_with('"') || line.contains(')')).collect();
    assert!(none.len() + 15 < pins.lines().count(), "the pins were not found");
    let ours = format!(
        "wheels=(\"part==1 {} any\")\nfiles=(\"part part/libpart.so lib/libpart.so {} {}\")",
        pinned(&bay.at("part.whl")),
        library.len(),
        pinned(&bay.at("libpart.so")),
    );
    bay.script("scripts/setup", &format!("{}\n{ours}\nsay() {{{rest}", none.join("\n")));
    bay
}

fn sha(path: &Path) -> String {
    let sum = Command::new("sha256sum").arg(path).output().unwrap();
    String::from_utf8(sum.stdout).unwrap().split(' ').next().unwrap().to_owned()
}

/// The header of a library for a machine, as far as it is looked at.
fn library(machine: u8) -> Vec<u8> {
    let mut bytes = vec![0; 64];
    bytes[..4].copy_from_slice(b"\x7fELF");
    bytes[18] = machine;
    bytes
}

const X86: u8 = 0x3e;
const ARM: u8 = 0xb7;

#[test]
fn setting_up_waits_for_another_apt_and_goes_on() {
    let bay = set_up("x86_64", &library(X86), sha);
    let ran = bay.run("scripts/setup", &[("HELD", "3")]);
    assert!(ran.ok && ran.said.contains("Set-up is complete"), "{}", ran.said);
    assert_eq!(ran.said.matches("another apt is at work; waiting for it").count(), 1, "{}", ran.said);
    assert_eq!(bay.read("slept").lines().count(), 3);
    assert!(bay.read("apt").lines().any(|line| line.ends_with("libasound2-dev")), "{}", bay.read("apt"));
    // All is there: nothing is done again.
    assert!(bay.run("scripts/setup", &[]).ok);
    assert_eq!((bay.read("apt").lines().count(), bay.read("pip").lines().count()), (5, 1));
}

#[test]
fn a_set_up_that_apt_fails_fails() {
    let bay = set_up("x86_64", &library(X86), sha);
    let ran = bay.run("scripts/setup", &[("BROKEN", "yes")]);
    assert!(!ran.ok && ran.said.contains("could not install: libasound2-dev"), "{}", ran.said);
    assert!(ran.said.contains("Unable to locate"), "{}", ran.said);
}

#[test]
fn a_library_is_taken_only_if_it_is_for_this_machine() {
    for (machine, is) in [("x86_64", X86), ("aarch64", ARM)] {
        for of in [X86, ARM] {
            let bay = set_up(machine, &library(of), sha);
            let ran = bay.run("scripts/setup", &[]);
            assert_eq!((ran.ok, bay.at("cache/lib/libpart.so").exists()), (of == is, of == is), "{}", ran.said);
            let refused = format!("lib/libpart.so of part is no library for Linux {machine}");
            assert_eq!(ran.said.contains(&refused), of != is, "{}", ran.said);
        }
    }
    let bay = set_up("riscv64", &library(X86), sha);
    let ran = bay.run("scripts/setup", &[]);
    assert!(!ran.ok && ran.said.contains("this is Linux riscv64") && bay.read("apt").is_empty(), "{}", ran.said);
}

#[test]
fn what_is_not_what_is_pinned_is_refused() {
    let other = "0".repeat(64);
    for wrong in ["whl", "so"] {
        let pinned = |path: &Path| if path.extension().is_some_and(|e| e == wrong) { other.clone() } else { sha(path) };
        let bay = set_up("x86_64", &library(X86), pinned);
        let ran = bay.run("scripts/setup", &[]);
        assert!(!ran.ok && ran.said.contains("could not fetch part==1"), "{}", ran.said);
        assert_eq!(ran.said.matches("wrong SHA-256").count(), 3, "{}", ran.said);
        assert!(!bay.at("cache/lib/libpart.so").exists() && bay.read("pip").lines().count() == 3);
    }
    // One that was damaged since is fetched again.
    let bay = set_up("x86_64", &library(X86), sha);
    assert!(bay.run("scripts/setup", &[]).ok);
    fs::write(bay.at("cache/lib/libpart.so"), "short").unwrap();
    let ran = bay.run("scripts/setup", &[]);
    assert!(ran.ok && ran.said.contains("damaged"), "{}", ran.said);
    assert_eq!(fs::read(bay.at("cache/lib/libpart.so")).unwrap(), library(X86));
}

#[test]
fn what_tests_need_is_waited_for_and_its_want_fails_only_ci() {
    let bay = || {
        let bay = Bay::new();
        bay.ours("scripts/test");
        bay.script("scripts/setup", "#!/bin/bash\n");
        bay.stand_in("cargo", r#"echo "$*" >>"$BAY/cargo-calls""#);
        bay
    };
    let tested = |bay: &Bay| bay.read("cargo-calls").lines().any(|line| line.starts_with("nextest run"));

    let ci = bay();
    let ran = ci.run("scripts/test", &[("CI", "true"), ("HELD", "2")]);
    assert!(ran.ok && tested(&ci), "{}", ran.said);
    assert_eq!(ci.read("slept").lines().count(), 2);
    for wanted in ["pulseaudio", "chromium", "strace"] {
        assert!(ci.read("apt").contains(wanted), "{}", ci.read("apt"));
    }

    let ci = bay();
    let ran = ci.run("scripts/test", &[("CI", "true"), ("BROKEN", "yes")]);
    assert!(!ran.ok && ran.said.contains("could not install: pulseaudio") && !tested(&ci), "{}", ran.said);

    let container = bay();
    let ran = container.run("scripts/test", &[("container", "yes"), ("BROKEN", "yes")]);
    assert!(ran.ok && ran.said.contains("the tests that need it will say so") && tested(&container), "{}", ran.said);

    // On somebody's own machine nothing is installed unasked.
    let own = bay();
    own.stand_in("id", "echo 1000");
    let ran = own.run("scripts/test", &[]);
    assert!(ran.ok && tested(&own) && own.read("apt").is_empty(), "{}", ran.said);
}

/// Rooms of which no long test knows: what they write is looked at by the short ones, all of which run for every change.
const WITHOUT_LONG_TESTS: [&str; 4] = ["src/drawing", "src/glance", "src/manuscript", "src/record"];

#[test]
fn the_long_tests_are_due_when_what_they_guard_has_changed() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut guarded: BTreeSet<String> =
        ["Cargo.toml", "src/main.rs", "models/x", "procedures/x", "tests/common/x", "tests/strip.rs"]
            .map(Into::into)
            .into();
    let mut others: BTreeSet<String> =
        ["README.md", "docs/x.md", "tests/record.rs", "tests/pages/main.rs"].map(Into::into).into();
    for room in fs::read_dir(here.join("src")).unwrap().map(|entry| entry.unwrap()) {
        let name = format!("src/{}", room.file_name().to_string_lossy());
        match room.path().is_dir() {
            true if WITHOUT_LONG_TESTS.contains(&name.as_str()) => others.insert(format!("{name}/x.rs")),
            true => guarded.insert(format!("{name}/x.rs")),
            false => guarded.insert(name),
        };
    }
    // The long tests themselves, as the list of them names their files.
    let list = fs::read_to_string(here.join(".config/nextest.toml")).unwrap();
    let (_, list) = list.split_once("[profile.quick]").unwrap();
    let long: BTreeSet<&str> = list.split("binary(").skip(1).map(|rest| rest.split(')').next().unwrap()).collect();
    assert!(long.len() > 9, "{long:?}");
    for name in long {
        let folder = here.join("tests").join(name).is_dir();
        guarded.insert(if folder { format!("tests/{name}/main.rs") } else { format!("tests/{name}.rs") });
    }

    let bay = Bay::new();
    bay.ours(".ci/run");
    bay.script("scripts/test", r#"echo "[$*] CI=$CI" >"$BAY/.called""#);
    fs::write(bay.at(".gitignore"), "/bin\n/.called\n/.ci/all-passed\n").unwrap();
    for name in guarded.iter().chain(&others) {
        fs::create_dir_all(bay.at(name).parent().unwrap()).unwrap();
        fs::write(bay.at(name), "as it was").unwrap();
    }
    let git = |args: &[&str]| {
        let mut git = Command::new("git");
        git.args(["-c", "user.name=x", "-c", "user.email=x@x", "-c", "commit.gpgsign=false", "-C"])
            .arg(bay.0.path())
            .args(args);
        let ended = git.env("GIT_CONFIG_GLOBAL", "/dev/null").output().unwrap();
        assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
        String::from_utf8(ended.stdout).unwrap()
    };
    git(&["init", "--quiet"]);
    git(&["add", "--all"]);
    git(&["commit", "--quiet", "--message", "all of it"]);
    let due = || {
        let ran = bay.run(".ci/run", &[]);
        assert!(ran.ok, "{}", ran.said);
        let called = bay.read(".called");
        assert!(called.contains("CI=true"), "{called}");
        called.starts_with("[--all]")
    };
    assert!(due(), "nobody has written down when all passed");
    fs::write(bay.at(".ci/all-passed"), git(&["rev-parse", "HEAD"])).unwrap();
    assert!(!due(), "nothing has changed");
    for name in guarded.iter().chain(&others) {
        fs::write(bay.at(name), "changed").unwrap();
        assert_eq!(due(), guarded.contains(name), "{name}");
        fs::write(bay.at(name), "as it was").unwrap();
    }
    fs::write(bay.at("src/main.rs"), "changed").unwrap();
    git(&["commit", "--quiet", "--all", "--message", "a change"]);
    assert!(due(), "a change that is committed");
    fs::write(bay.at(".ci/all-passed"), "0123456789012345678901234567890123456789\n").unwrap();
    assert!(due(), "a commit that is not in the history");
}
