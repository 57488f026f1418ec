//! Any bytes in place of a journal: opening the job is an answer, never a panic, and a job that opened opens again as
//! the same one.
#![no_main]

use libfuzzer_sys::fuzz_target;
use std::sync::LazyLock;
use wrenchside::journal::Folder;

static JOB: LazyLock<tempfile::TempDir> = LazyLock::new(|| {
    let job = tempfile::tempdir().expect("a folder for the job");
    std::fs::write(job.path().join("procedure.toml"), include_str!("../small.toml")).expect("the procedure");
    job
});

fuzz_target!(|bytes: &[u8]| {
    let path = JOB.path();
    std::fs::write(path.join("journal.jsonl"), bytes).expect("the journal");
    let Ok(first) = Folder::open(path, false) else { return };
    let (ledger, position) = (first.job.ledger().clone(), first.job.position());
    drop(first);
    let again = Folder::open(path, false).expect("what opened opens again");
    assert!(again.notices.is_empty(), "a torn end is cut off once");
    assert_eq!((again.job.ledger(), again.job.position()), (&ledger, position));
});
