//! Checks a model folder before libvosk sees it: libvosk ends the whole process on a file that is cut short, and says
//! nothing a person could use about one that is missing.
//!
//! Knows the two layouts that published models come in. Leaves their contents to libvosk.

use std::collections::HashSet;
use std::fmt::Write as _;
use std::fs;
use std::path::{Component, Path};

use sha2::{Digest, Sha256};

use super::ListenError;
use crate::files;

/// The list of checksums that may lie in a model folder.
const SUMS: &str = "SHA256SUMS";

/// A way of laying out a model: where each file lies that must be there.
struct Layout {
    network: &'static str,
    /// Where a ready-made graph would lie, which takes no phrases at run time.
    fixed: &'static str,
    needed: &'static [&'static str],
}

const LAYOUTS: [Layout; 2] = [
    Layout {
        network: "am/final.mdl",
        fixed: "graph/HCLG.fst",
        needed: &[
            "am/final.mdl",
            "conf/mfcc.conf",
            "conf/model.conf",
            "graph/HCLr.fst",
            "graph/Gr.fst",
            "graph/disambig_tid.int",
            "graph/phones/word_boundary.int",
        ],
    },
    Layout {
        network: "final.mdl",
        fixed: "HCLG.fst",
        needed: &["final.mdl", "mfcc.conf", "HCLr.fst", "Gr.fst", "disambig_tid.int", "word_boundary.int"],
    },
];

/// What an `ivector` folder must hold, if there is one; the same in both layouts.
const IVECTOR: [&str; 6] =
    ["final.dubm", "final.ie", "final.mat", "global_cmvn.stats", "online_cmvn.conf", "splice.conf"];

/// The words that the model in a folder knows; nothing if it does not list them.
pub fn vocabulary(folder: &Path) -> Option<HashSet<String>> {
    let list = ["graph/words.txt", "words.txt"].iter().find_map(|name| fs::read_to_string(folder.join(name)).ok())?;
    let word = |line: &str| line.split_once(' ').map_or(line, |(word, _)| word).to_owned();
    Some(list.lines().map(word).collect())
}

/// Makes sure that `folder` holds a whole model that takes phrases at run time.
pub(super) fn check(folder: &Path) -> Result<(), ListenError> {
    if !folder.is_dir() {
        return Err(ListenError::model(folder, "there is no such folder"));
    }
    let Some(layout) = LAYOUTS.iter().find(|layout| folder.join(layout.network).is_file()) else {
        let reason =
            format!("this is not a vosk model: neither {} nor {} is in it", LAYOUTS[0].network, LAYOUTS[1].network);
        return Err(ListenError::model(folder, reason));
    };
    if folder.join(layout.fixed).exists() {
        return Err(ListenError::model(
            &folder.join(layout.fixed),
            "a model with a ready-made graph cannot be given phrases to listen for (a small one, with HCLr.fst and Gr.fst, can)",
        ));
    }
    let ivector = if folder.join("ivector").is_dir() { &IVECTOR[..] } else { &[] };
    let needed = layout.needed.iter().map(|name| folder.join(name));
    for file in needed.chain(ivector.iter().map(|name| folder.join("ivector").join(name))) {
        match files::look(&file).and_then(|()| fs::metadata(&file)) {
            Ok(about) if about.len() == 0 => return Err(ListenError::model(&file, "the file is empty")),
            Ok(_) => {}
            Err(e) => return Err(ListenError::model(&file, e.to_string())),
        }
    }
    check_sums(folder)
}

/// Compares the files with the folder's own list of checksums, if it has one.
pub(super) fn check_sums(folder: &Path) -> Result<(), ListenError> {
    let list = folder.join(SUMS);
    if !list.exists() {
        return Ok(());
    }
    let text = files::text(&list).map_err(|e| ListenError::model(&list, e.to_string()))?;
    for (number, line) in text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
        let bad = || ListenError::model(&list, format!("line {} is not a checksum and a file name", number + 1));
        let (sum, name) = line.split_once(char::is_whitespace).ok_or_else(bad)?;
        // A star marks a binary file in such lists.
        let name = name.trim_start().trim_start_matches('*');
        let inside = Path::new(name).components().all(|part| matches!(part, Component::Normal(_)));
        if sum.len() != 64 || name.is_empty() || !inside {
            return Err(bad());
        }
        let file = folder.join(name);
        let bytes = files::read(&file, files::DATA).map_err(|e| ListenError::model(&file, e.to_string()))?;
        let mut found = String::with_capacity(64);
        for byte in Sha256::digest(&bytes) {
            // Writing to a string cannot fail.
            let _ = write!(found, "{byte:02x}");
        }
        if !found.eq_ignore_ascii_case(sum) {
            return Err(ListenError::model(
                &file,
                format!("the file is damaged or cut short: it does not match {SUMS}"),
            ));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lay(folder: &Path, names: &[&str]) {
        for name in names {
            let file = folder.join(name);
            fs::create_dir_all(file.parent().unwrap()).unwrap();
            fs::write(file, name).unwrap();
        }
    }

    #[test]
    fn both_layouts_are_taken() {
        for layout in &LAYOUTS {
            let folder = tempfile::tempdir().unwrap();
            lay(folder.path(), layout.needed);
            check(folder.path()).unwrap();
        }
    }

    #[test]
    fn the_file_at_fault_is_named() {
        for layout in &LAYOUTS {
            for missing in &layout.needed[1..] {
                let folder = tempfile::tempdir().unwrap();
                lay(folder.path(), layout.needed);
                let file = folder.path().join(missing);
                fs::remove_file(&file).unwrap();
                let told = check(folder.path()).unwrap_err().to_string();
                assert!(told.starts_with(&file.display().to_string()), "{told}");
                fs::write(&file, "").unwrap();
                assert!(check(folder.path()).unwrap_err().to_string().contains("empty"));
            }
        }
    }

    #[test]
    fn a_half_ivector_folder_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        lay(folder.path(), LAYOUTS[0].needed);
        lay(folder.path(), &["ivector/final.ie"]);
        assert!(check(folder.path()).unwrap_err().to_string().contains("final.dubm"));
    }

    #[test]
    fn a_fixed_graph_or_another_folder_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        assert!(check(folder.path()).unwrap_err().to_string().contains("not a vosk model"));
        lay(folder.path(), LAYOUTS[0].needed);
        lay(folder.path(), &["graph/HCLG.fst"]);
        assert!(check(folder.path()).unwrap_err().to_string().contains("cannot be given phrases"));
        assert!(check(&folder.path().join("none")).unwrap_err().to_string().contains("no such folder"));
    }

    #[test]
    fn a_changed_file_is_found_by_its_checksum() {
        let folder = tempfile::tempdir().unwrap();
        lay(folder.path(), LAYOUTS[1].needed);
        // The checksum of the nine bytes "final.mdl".
        let sum: String = Sha256::digest(b"final.mdl").iter().map(|byte| format!("{byte:02x}")).collect();
        fs::write(folder.path().join(SUMS), format!("{sum}  final.mdl\n\n")).unwrap();
        check(folder.path()).unwrap();
        fs::write(folder.path().join("final.mdl"), "final.md").unwrap();
        let told = check(folder.path()).unwrap_err().to_string();
        assert!(told.contains("final.mdl: the file is damaged or cut short"), "{told}");
    }

    #[test]
    fn a_list_of_checksums_must_make_sense() {
        for bad in ["nonsense", "abc  final.mdl", &format!("{}  ../final.mdl", "0".repeat(64))] {
            let folder = tempfile::tempdir().unwrap();
            lay(folder.path(), LAYOUTS[1].needed);
            fs::write(folder.path().join(SUMS), bad).unwrap();
            assert!(check(folder.path()).unwrap_err().to_string().contains("line 1"), "{bad}");
        }
    }
}
