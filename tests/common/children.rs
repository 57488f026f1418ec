//! The process of the program's recogniser, and signals to it and to the program.

use std::fs;
use std::process::Command;

/// The process of the recogniser that this program has started.
pub fn recogniser(program: u32) -> u32 {
    let tasks = fs::read_dir(format!("/proc/{program}/task")).unwrap();
    let children = tasks.map(|task| fs::read_to_string(task.unwrap().path().join("children")).unwrap_or_default());
    let children: String = children.collect();
    children.split_whitespace().next().expect("it has one").parse().unwrap()
}

/// Sends a signal to a process.
pub fn signal(process: u32, name: &str) {
    // The shell's own: not every machine has a program of this name.
    let done = Command::new("sh").args(["-c", &format!("kill -{name} {process}")]).status().unwrap();
    assert!(done.success());
}

/// As Ctrl-C does.
pub fn interrupt(process: u32) {
    signal(process, "INT");
}
