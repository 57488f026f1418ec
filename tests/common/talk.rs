//! A conversation that has come to the first step of real work.

use std::path::Path;
use std::sync::Arc;
use wrenchside::dialogue::{Language, Manner};
use wrenchside::job::{At, Job};
use wrenchside::journal::Folder;
use wrenchside::procedure;
use wrenchside::session::Conversation;

/// The lower arm at step 3, with no question standing.
pub fn talk(jobs: &Path) -> Conversation {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures/tarnfell-front-lower-arm-left.toml");
    let whole = procedure::open(&path).unwrap();
    let book = Arc::new(whole.procedure().unwrap());
    let folder = Folder::create(jobs, whole.text(), &book, At(0)).unwrap();
    let mut talk = Conversation::new(Language::english(), Manner::default(), Job::new(book), folder);
    talk.begin(At(0)).unwrap();
    for line in ["next step", "yes please", "next step", "yes please"] {
        talk.read(line, At(1)).unwrap();
    }
    assert!(talk.job().question().is_none());
    talk
}
