//! The keyboard beside the microphone: lines, and single keys for a foot switch or a button that types one.
//!
//! A key counts where a line would begin, and only one that begins no line can have a meaning: no letter, no digit. Where keys are named, the terminal gives each
//! one as it is pressed, so this shows what is typed and takes back what is deleted. Leaves to others what a line or a key
//! means.

use super::lines::{Framer, Line};
use crate::job::At;
use crate::printing;
use rustix::termios::{self, LocalModes, OptionalActions, Termios};
use std::io::{self, IsTerminal};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;
use tokio::io::{AsyncBufReadExt, BufReader, Stdin};

/// What the keys send that can have a meaning. No typed line begins with one of them.
const NAMED: [(&str, &str); 23] = [
    ("tab", "\t"),
    ("up", "\x1b[A"),
    ("down", "\x1b[B"),
    ("right", "\x1b[C"),
    ("left", "\x1b[D"),
    ("home", "\x1b[H"),
    ("end", "\x1b[F"),
    ("insert", "\x1b[2~"),
    ("delete", "\x1b[3~"),
    ("page-up", "\x1b[5~"),
    ("page-down", "\x1b[6~"),
    ("f1", "\x1bOP"),
    ("f2", "\x1bOQ"),
    ("f3", "\x1bOR"),
    ("f4", "\x1bOS"),
    ("f5", "\x1b[15~"),
    ("f6", "\x1b[17~"),
    ("f7", "\x1b[18~"),
    ("f8", "\x1b[19~"),
    ("f9", "\x1b[20~"),
    ("f10", "\x1b[21~"),
    ("f11", "\x1b[23~"),
    ("f12", "\x1b[24~"),
];

const ESCAPE: u8 = 0x1b;

/// How often it is looked whether the session is in front again.
const AGAIN: Duration = Duration::from_millis(500);

/// What a key sends, by its name; nothing if there is no such key.
pub fn key(name: &str) -> Option<Vec<u8>> {
    NAMED.iter().find(|(known, _)| *known == name).map(|(_, sent)| sent.as_bytes().to_vec())
}

/// The names that keys have.
pub fn names() -> String {
    NAMED.iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", ")
}

/// What was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Typed {
    /// A line.
    Line(Line),
    /// A key that is named, by its index.
    Key(usize),
    /// Nothing can be, for as long as the session is in the background of a shell. Told once each time.
    Away,
}

/// Tells keys and lines apart.
#[derive(Debug, Default)]
pub struct Decoder {
    /// What the keys send.
    keys: Vec<Vec<u8>>,
    /// Perhaps the beginning of a key.
    begun: Vec<u8>,
    line: Vec<u8>,
    framer: Framer,
    /// Within what a key sends that has no name.
    escaped: bool,
    /// The last byte ended a line as a carriage return; a line feed behind it is part of the same end.
    returned: bool,
}

impl Decoder {
    /// With keys that send this.
    pub fn new(keys: Vec<Vec<u8>>) -> Decoder {
        Decoder { keys, ..Decoder::default() }
    }

    /// Takes a byte; gives what it completes, and puts what is to be shown of it behind `shown`.
    pub fn push(&mut self, byte: u8, shown: &mut Vec<u8>) -> Option<Typed> {
        if self.keys.is_empty() {
            return self.framer.push(&[byte], At(0)).1.map(|(line, _)| Typed::Line(line));
        }
        let returned = std::mem::replace(&mut self.returned, byte == b'\r');
        if returned && byte == b'\n' {
            return None;
        }
        if !self.line.is_empty() || self.escaped {
            return self.typed(byte, shown);
        }
        self.begun.push(byte);
        if let Some(key) = self.keys.iter().position(|key| *key == self.begun) {
            self.begun.clear();
            return Some(Typed::Key(key));
        }
        if self.keys.iter().any(|key| key.starts_with(&self.begun)) {
            return None;
        }
        let begun = std::mem::take(&mut self.begun);
        begun.into_iter().filter_map(|byte| self.typed(byte, shown)).last()
    }

    fn typed(&mut self, byte: u8, shown: &mut Vec<u8>) -> Option<Typed> {
        match byte {
            // "[" and "O" begin what follows, and a letter or "~" ends it.
            _ if self.escaped => self.escaped = matches!(byte, b'[' | b'O') || !matches!(byte, b'@'..=b'~'),
            ESCAPE => self.escaped = true,
            b'\n' | b'\r' => {
                shown.push(b'\n');
                self.framer.push(&std::mem::take(&mut self.line), At(0));
                return self.framer.finish().map(|(line, _)| Typed::Line(line));
            }
            // Delete: the last character, all of its bytes.
            0x08 | 0x7f => {
                while self.line.pop().is_some_and(|byte| byte & 0xc0 == 0x80) {}
                shown.extend(b"\x08 \x08");
            }
            0..0x20 => {}
            _ => {
                self.line.push(byte);
                shown.push(byte);
            }
        }
        None
    }

    /// What stands unfinished at the end.
    fn finish(&mut self) -> Option<Typed> {
        self.framer.push(&std::mem::take(&mut self.line), At(0));
        self.framer.finish().map(|(line, _)| Typed::Line(line))
    }
}

/// Standard input.
pub struct Keyboard {
    input: BufReader<Stdin>,
    decoder: Decoder,
    terminal: Option<Terminal>,
    /// It was told that nothing can be typed.
    away: bool,
}

impl Keyboard {
    /// Standard input, with keys that send this.
    pub fn open(keys: Vec<Vec<u8>>) -> Keyboard {
        stay_when_away();
        let input = BufReader::new(tokio::io::stdin());
        Keyboard { input, decoder: Decoder::new(keys), terminal: None, away: false }
    }

    /// From now on a terminal gives each key as it is pressed, if keys have a meaning.
    pub fn begin(&mut self) -> io::Result<()> {
        let wanted = io::stdin().is_terminal() && !self.decoder.keys.is_empty() && self.terminal.is_none();
        if wanted && !in_the_background() {
            self.terminal = Some(Terminal::key_by_key()?);
        }
        Ok(())
    }

    /// What is typed next; nothing once there will be no more. Waiting can be given up at any time, and nothing is lost.
    pub async fn next(&mut self) -> io::Result<Option<Typed>> {
        loop {
            while in_the_background() {
                if !std::mem::replace(&mut self.away, true) {
                    return Ok(Some(Typed::Away));
                }
                tokio::time::sleep(AGAIN).await;
            }
            if std::mem::take(&mut self.away) {
                match &self.terminal {
                    // The shell has set it for lines meanwhile.
                    Some(terminal) => terminal.again()?,
                    None => self.begin()?,
                }
            }
            let bytes = match self.input.fill_buf().await {
                // It was waited for when the session went there.
                Err(_) if in_the_background() => continue,
                bytes => bytes?,
            };
            if bytes.is_empty() {
                return Ok(self.decoder.finish());
            }
            let (mut shown, mut typed, mut taken) = (Vec::new(), None, 0);
            for &byte in bytes {
                taken += 1;
                typed = self.decoder.push(byte, &mut shown);
                if typed.is_some() {
                    break;
                }
            }
            self.input.consume(taken);
            if self.terminal.is_some() {
                let shown = String::from_utf8_lossy(&shown);
                printing::print(printing::To::Output, format_args!("{shown}"));
                printing::flush();
            }
            if typed.is_some() {
                return Ok(typed);
            }
        }
    }
}

/// Is the session in the background of a shell, where the terminal is somebody else's?
fn in_the_background() -> bool {
    let stdin = io::stdin();
    stdin.is_terminal() && termios::tcgetpgrp(&stdin).is_ok_and(|front| front != rustix::process::getpgrp())
}

/// Who reads from a terminal in its background is stopped, unless it is wished otherwise: then reading fails there.
#[allow(unsafe_code)]
fn stay_when_away() {
    // SAFETY: it sets what becomes of one signal, and runs no code of this program.
    unsafe {
        libc::signal(libc::SIGTTIN, libc::SIG_IGN);
    }
}

/// The ways that a terminal had and gets back.
static BEFORE: Mutex<Option<Termios>> = Mutex::new(None);

/// Gives a terminal its ways back, if it has others.
pub(super) fn give_back() {
    let before = BEFORE.lock().unwrap_or_else(PoisonError::into_inner).take();
    // In its background it has the ways of whoever is in front, and who sets others is stopped.
    if let Some(before) = before.filter(|_| !in_the_background()) {
        // There is nothing to be done about a terminal that is gone.
        let _ = termios::tcsetattr(io::stdin(), OptionalActions::Now, &before);
    }
}

/// A terminal that gives each key as it is pressed, until this is dropped.
struct Terminal(Termios);

impl Terminal {
    fn key_by_key() -> io::Result<Terminal> {
        let terminal = Terminal(termios::tcgetattr(io::stdin())?);
        *BEFORE.lock().unwrap_or_else(PoisonError::into_inner) = Some(terminal.0.clone());
        terminal.again()?;
        Ok(terminal)
    }

    fn again(&self) -> io::Result<()> {
        let mut settings = self.0.clone();
        settings.local_modes.remove(LocalModes::ICANON | LocalModes::ECHO);
        Ok(termios::tcsetattr(io::stdin(), OptionalActions::Now, &settings)?)
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        give_back();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn typed(decoder: &mut Decoder, bytes: &[u8]) -> (Vec<Typed>, String) {
        let mut shown = Vec::new();
        let all = bytes.iter().filter_map(|&byte| decoder.push(byte, &mut shown)).collect();
        (all, String::from_utf8_lossy(&shown).into_owned())
    }

    fn keys() -> Decoder {
        Decoder::new(["tab", "page-up", "f5", "f11"].map(|name| key(name).unwrap()).to_vec())
    }

    fn line(text: &str) -> Typed {
        Typed::Line(Line::Text(text.into()))
    }

    #[test]
    fn a_key_counts_where_a_line_would_begin() {
        let (all, shown) = typed(&mut keys(), b"\t\x1b[5~\x1b[23~\x1b[15~what now\n\t");
        assert_eq!(all, [Typed::Key(0), Typed::Key(1), Typed::Key(3), Typed::Key(2), line("what now"), Typed::Key(0)]);
        assert_eq!(shown, "what now\n");
    }

    #[test]
    fn no_key_takes_the_beginning_of_a_line_and_a_line_ends_once() {
        let (all, shown) = typed(&mut keys(), b"not sure\r\n 70\r\n\r\n");
        assert_eq!(all, [line("not sure"), line(" 70")]);
        assert_eq!(shown, "not sure\n 70\n\n");
    }

    #[test]
    fn what_is_deleted_is_gone_and_keys_without_a_name_are_nothing() {
        let (all, _) = typed(&mut keys(), b"doze\x7f\x7f\x1b[Dne\n\x1b[6~\x1bOPdone\n");
        assert_eq!(all, [line("done"), line("done")]);
        let (all, _) = typed(&mut keys(), "é\x7fdone\n".as_bytes());
        assert_eq!(all, [line("done")]);
    }

    #[test]
    fn without_keys_all_are_lines() {
        let (all, shown) = typed(&mut Decoder::default(), b" n\n\xff\n");
        assert_eq!(all, [line(" n"), Typed::Line(Line::Unreadable)]);
        assert_eq!(shown, "");
    }

    #[test]
    fn names_are_unlike_each_other() {
        for (name, _) in NAMED {
            assert!(key(name).is_some());
        }
        for name in ["x", "ü", "7", "-", "\"", " ", "space", "enter", "foot", "", "\n"] {
            assert_eq!(key(name), None, "{name}");
        }
    }

    proptest! {
        /// Whatever comes, it is taken, and a line behind it is a line.
        #[test]
        fn any_bytes_are_taken(bytes in prop::collection::vec(any::<u8>(), 0..80)) {
            let mut decoder = keys();
            typed(&mut decoder, &bytes);
            typed(&mut decoder, b"~\n");
            prop_assert_eq!(typed(&mut decoder, b"what now\n").0, [line("what now")]);
        }
    }
}
