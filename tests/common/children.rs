//! The process of the program's recogniser, signals to it and to the program, and how it ends.
#![allow(dead_code)] // Each test file uses a part of it.

use rustix::process::{Pid, Signal, kill_process};
use std::collections::HashMap;
use std::fs;
use std::process::{Child, ExitStatus};
use std::time::{Duration, Instant};

/// The process of the recogniser that this program has started.
pub fn recogniser(program: u32) -> u32 {
    let tasks = fs::read_dir(format!("/proc/{program}/task")).unwrap();
    let children = tasks.map(|task| fs::read_to_string(task.unwrap().path().join("children")).unwrap_or_default());
    let children: String = children.collect();
    children.split_whitespace().next().expect("it has one").parse().unwrap()
}

/// Stops a process, and whatever it is doing.
pub fn stop(process: u32) {
    signal(process, Signal::STOP);
}

/// As Ctrl-C does.
pub fn interrupt(process: u32) {
    signal(process, Signal::INT);
}

pub fn signal(process: u32, signal: Signal) {
    kill_process(Pid::from_raw(process.try_into().unwrap()).unwrap(), signal).unwrap();
}

/// How long the threads of processes were ready to go on and had no processor. On a machine that is busy with other work that is
/// no fault of theirs.
pub struct Waits {
    processes: Vec<u32>,
    /// Of each thread, when it was first seen and when it was last, in nanoseconds.
    threads: HashMap<u32, (u64, u64)>,
}

impl Waits {
    /// From now on.
    pub fn of(processes: &[u32]) -> Waits {
        let mut waits = Waits { processes: processes.to_vec(), threads: HashMap::new() };
        waits.look();
        waits
    }

    /// All together, up to now; of a thread that has ended, up to the look before.
    pub fn look(&mut self) -> Duration {
        for process in &self.processes {
            let threads = fs::read_dir(format!("/proc/{process}/task")).into_iter().flatten().flatten();
            for thread in threads {
                let times = fs::read_to_string(thread.path().join("schedstat")).unwrap_or_default();
                let waited = times.split_whitespace().nth(1).and_then(|waited| waited.parse().ok());
                let id = thread.file_name().to_str().and_then(|id| id.parse().ok());
                if let (Some(id), Some(waited)) = (id, waited) {
                    self.threads.entry(id).or_insert((waited, waited)).1 = waited;
                }
            }
        }
        Duration::from_nanos(self.threads.values().map(|(first, last)| last.saturating_sub(*first)).sum())
    }
}

/// How a process ended.
#[derive(Debug)]
pub struct Ended {
    pub status: ExitStatus,
    /// How long that took, without what its threads waited for a processor meanwhile.
    pub took: Duration,
    pub waited: Duration,
}

/// Waits until it ends; nothing if it does not.
pub fn ends(process: &mut Child, patience: Duration) -> Option<Ended> {
    ends_after(process, patience, |_| ())
}

/// The same for one that is interrupted now.
pub fn ends_interrupted(process: &mut Child, patience: Duration) -> Option<Ended> {
    ends_after(process, patience, interrupt)
}

fn ends_after(process: &mut Child, patience: Duration, begin: impl FnOnce(u32)) -> Option<Ended> {
    let mut waits = Waits::of(&[process.id()]);
    let began = Instant::now();
    begin(process.id());
    while began.elapsed() < patience {
        let waited = waits.look();
        if let Some(status) = process.try_wait().unwrap() {
            let took = began.elapsed();
            println!("ended within {took:?}, of which {waited:?} were spent waiting for a processor");
            return Some(Ended { status, took: took.saturating_sub(waited), waited });
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    None
}
