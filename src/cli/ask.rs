//! Questions on the terminal before a session: one line at a time, and not a byte of the next, which the session may want.

use crate::printing;
use std::io::Read;
use std::os::fd::AsFd;

/// The longest answer that is read.
const LONGEST: usize = 4096;

/// The answer to a question; an empty one where there is none.
pub fn question(question: &str) -> String {
    out!("{question}: ");
    printing::flush();
    let answer = line();
    if answer.is_none() {
        outln!();
    }
    answer.unwrap_or_default()
}

/// One line of standard input, without its end and without the space around it. Nothing once the input ends.
pub fn line() -> Option<String> {
    // The standard handle would read ahead, and keep to itself what it read.
    let fd = std::io::stdin().as_fd().try_clone_to_owned().ok()?;
    let mut input = std::fs::File::from(fd);
    let mut bytes = Vec::new();
    let mut byte = [0];
    loop {
        match input.read(&mut byte) {
            Ok(0) | Err(_) if bytes.is_empty() => return None,
            Ok(0) | Err(_) => break,
            Ok(_) if byte[0] == b'\n' => break,
            Ok(_) if bytes.len() < LONGEST => bytes.push(byte[0]),
            Ok(_) => {}
        }
    }
    Some(String::from_utf8_lossy(&bytes).trim().to_owned())
}
