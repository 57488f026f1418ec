//! What is printed, without a wait for whoever reads it.
//!
//! A terminal that is held and a pipe that nobody empties take nothing for as long as they like. A session must not hang on
//! that: from [`apart`] on a thread for each stream does the writing, a piece that cannot be written soon is left to it, and what
//! finds no room is counted and told. Before, and in commands that only print, it is written at once and waited for, as
//! everywhere. Knows the two streams and nothing of what they carry.

use crate::hurry;
use std::fmt::Arguments;
use std::io::{self, Write};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

/// So much waits for a reader that is behind: hours of a session.
const ROOM: usize = 1 << 20;
/// A piece is written within this, or nobody waits for it. As long as that holds, both streams keep their order.
const PATIENCE: Duration = Duration::from_millis(100);
/// The same once somebody has asked for the end.
const HURRIED: Duration = Duration::from_millis(20);
/// At the end a reader that takes nothing for so long is given up; somebody may be reading page by page.
const GONE: Duration = Duration::from_secs(600);
/// The same once somebody has asked for the end.
const PARTING: Duration = Duration::from_millis(60);
/// Bytes that are written at a time: what of it was taken shows that there is still a reader.
const PIECE: usize = 4_096;
const LOOK: Duration = Duration::from_millis(5);

static APART: OnceLock<[Arc<Line>; 2]> = OnceLock::new();

/// A stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum To {
    /// Standard output.
    Output,
    /// Standard error.
    Errors,
}

/// From now on nobody waits for a reader. Panics are told the same way: whoever has one would hang on them otherwise.
pub(crate) fn apart() {
    if APART.get().is_some() {
        return;
    }
    let lines = [Arc::new(Line::default()), Arc::new(Line::default())];
    let (output, errors) = (lines[0].clone(), lines[1].clone());
    let begun = thread::Builder::new().name("output".into()).spawn(move || output.serve(&mut io::stdout()));
    let begun =
        begun.and_then(|_| thread::Builder::new().name("errors".into()).spawn(move || errors.serve(&mut io::stderr())));
    // Without threads it is written as before.
    if begun.is_ok() && APART.set(lines).is_ok() {
        std::panic::set_hook(Box::new(|panic| {
            let thread = thread::current();
            let trace = std::backtrace::Backtrace::capture();
            let trace = match trace.status() {
                std::backtrace::BacktraceStatus::Captured => format!("\n{trace}"),
                _ => String::new(),
            };
            print(To::Errors, format_args!("thread '{}' {panic}{trace}\n", thread.name().unwrap_or("?")));
        }));
    }
}

/// Prints. A reader that has gone away, as `head` does, ends what is shown and nothing else.
pub(crate) fn print(to: To, text: Arguments) {
    match APART.get() {
        Some(lines) => lines[to as usize].print(text.to_string().as_bytes()),
        None => drop(match to {
            To::Output => io::stdout().write_fmt(text),
            To::Errors => io::stderr().write_fmt(text),
        }),
    }
}

/// Shows what stands without a line end.
pub(crate) fn flush() {
    // Apart, every piece is.
    if APART.get().is_none() {
        let _ = io::stdout().flush();
    }
}

/// Waits at the end until all is read, as long as that makes sense. Was it?
pub(crate) fn finish() -> bool {
    APART.get().is_none_or(|lines| lines.iter().all(|line| line.finish(&hurry::is_hurried)))
}

/// Standard error for those who write by themselves.
pub(crate) struct Errors;

impl Write for Errors {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        print(To::Errors, format_args!("{}", String::from_utf8_lossy(bytes)));
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// What stands in line for a reader.
#[derive(Default)]
struct Line {
    state: Mutex<State>,
    /// There is something to write.
    more: Condvar,
    /// All is written.
    done: Condvar,
}

#[derive(Default)]
struct State {
    waits: Vec<u8>,
    /// The thread is at work on more.
    in_hand: bool,
    /// It took too long once, and is not waited for until all is written.
    behind: bool,
    /// Pieces that found no room.
    dropped: u64,
    /// How often some was taken.
    taken: u64,
}

impl State {
    fn is_done(&self) -> bool {
        self.waits.is_empty() && !self.in_hand
    }
}

impl Line {
    fn state(&self) -> MutexGuard<'_, State> {
        // Nothing that holds it can leave it half done.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn print(&self, text: &[u8]) {
        let mut state = self.state();
        if state.waits.len() + text.len() > ROOM {
            state.dropped += 1;
            return;
        }
        state.waits.extend_from_slice(text);
        self.more.notify_one();
        if state.behind {
            return;
        }
        let patience = if hurry::is_hurried() { HURRIED } else { PATIENCE };
        let waited = self.done.wait_timeout_while(state, patience, |state| !state.is_done());
        let (mut state, _) = waited.unwrap_or_else(PoisonError::into_inner);
        state.behind = !state.is_done();
    }

    /// The life of the thread.
    fn serve(&self, to: &mut dyn Write) -> ! {
        loop {
            let waiting = self.more.wait_while(self.state(), |state| state.waits.is_empty());
            let mut state = waiting.unwrap_or_else(PoisonError::into_inner);
            state.in_hand = true;
            let text = std::mem::take(&mut state.waits);
            drop(state);
            for piece in text.chunks(PIECE) {
                // A reader that has gone away takes nothing more, and at once.
                let _ = to.write_all(piece).and_then(|()| to.flush());
                self.state().taken += 1;
            }
            let mut state = self.state();
            state.in_hand = false;
            if !state.waits.is_empty() {
                continue;
            }
            match std::mem::take(&mut state.dropped) {
                0 => {
                    state.behind = false;
                    self.done.notify_all();
                }
                dropped => {
                    let told = format!("wrenchside: {dropped} lines were not shown, because nobody read them\n");
                    state.waits.extend_from_slice(told.as_bytes());
                }
            }
        }
    }

    /// Waits until all is written; says whether it was.
    fn finish(&self, hurried: &dyn Fn() -> bool) -> bool {
        let (mut taken, mut since) = (0, Instant::now());
        loop {
            let state = self.state();
            if state.is_done() {
                return true;
            }
            if state.taken != taken {
                (taken, since) = (state.taken, Instant::now());
            }
            drop(state);
            if since.elapsed() > if hurried() { PARTING } else { GONE } {
                return false;
            }
            thread::sleep(LOOK);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::{Receiver, Sender, channel};

    /// A reader that takes a piece at each word, and all of it once nobody gives words any more.
    struct Reader(Receiver<()>, Sender<Vec<u8>>);

    impl Write for Reader {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            let _ = (self.0.recv(), self.1.send(bytes.to_vec()));
            Ok(bytes.len())
        }
        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    fn line() -> (Arc<Line>, Sender<()>, Receiver<Vec<u8>>) {
        let ((word, words), (took, taken)) = (channel(), channel());
        let line = Arc::new(Line::default());
        let served = line.clone();
        thread::spawn(move || served.serve(&mut Reader(words, took)));
        (line, word, taken)
    }

    #[test]
    fn a_reader_that_takes_nothing_is_waited_for_once_and_gets_what_there_is_room_for_and_the_count_of_the_rest() {
        let (line, words, taken) = line();
        let began = Instant::now();
        for _ in 0..10 {
            line.print(b"a line\n");
        }
        assert!(began.elapsed() < PATIENCE * 3, "{:?}", began.elapsed());
        let long = vec![b'x'; ROOM - 200];
        line.print(&long);
        line.print(&long);
        line.print(&long);
        line.print(b"behind it\n");
        assert!(began.elapsed() < PATIENCE * 5, "{:?}", began.elapsed());
        assert!(!line.finish(&|| true), "it is given up");
        drop(words);
        assert!(line.finish(&|| false));
        let all = String::from_utf8(taken.try_iter().flatten().collect()).unwrap();
        assert!(all.starts_with(&"a line\n".repeat(10)), "{}", &all[..100]);
        assert_eq!(all.matches('x').count(), long.len());
        assert!(all.contains("behind it\nwrenchside: 2 lines were not shown"), "{}", &all[all.len() - 200..]);
    }

    #[test]
    fn a_reader_that_reads_has_each_line_before_the_next_one_is_printed() {
        let (line, words, taken) = line();
        drop(words);
        for count in 0..100 {
            line.print(format!("{count}\n").as_bytes());
            assert_eq!(taken.try_recv().unwrap(), format!("{count}\n").into_bytes());
        }
    }
}
