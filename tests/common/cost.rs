//! What the program costs the machine while it runs: memory and time on a processor, of it and of the processes that it
//! has started, as the kernel counts them.

use std::fs;
use std::time::Duration;

/// The processes that the program of this number consists of, itself first.
pub fn processes(program: u32) -> Vec<u32> {
    // Each thread has its own children.
    let started = threads(program).into_iter().flat_map(|thread| {
        let list = fs::read_to_string(format!("/proc/{program}/task/{thread}/children")).unwrap_or_default();
        list.split_whitespace().map(|id| id.parse().unwrap()).collect::<Vec<u32>>()
    });
    std::iter::once(program).chain(started).collect()
}

fn threads(process: u32) -> Vec<u32> {
    let listed = fs::read_dir(format!("/proc/{process}/task")).unwrap();
    listed.map(|entry| entry.unwrap().file_name().to_str().unwrap().parse().unwrap()).collect()
}

/// Kilobytes under this name.
fn kilobytes(path: &str, name: &str) -> u64 {
    let text = fs::read_to_string(path).unwrap();
    let line =
        text.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(':')).unwrap_or_else(|| panic!("{name}"));
    line.trim().trim_end_matches(" kB").parse().unwrap()
}

/// Memory of a process, in MB (of 1,000,000 bytes).
#[derive(Debug, Clone, Copy)]
pub struct Memory {
    /// The most that it ever had at a time.
    pub peak: u64,
    /// What it has now; what it shares with others is counted in part.
    pub now: u64,
    /// As much of that as nobody else has and no file holds.
    pub own: u64,
}

/// Of each process of the program.
pub fn memory(program: u32) -> Vec<Memory> {
    let mb = |kilobytes: u64| kilobytes * 1_024 / 1_000_000;
    let of = |process| {
        let now = format!("/proc/{process}/smaps_rollup");
        Memory {
            peak: mb(kilobytes(&format!("/proc/{process}/status"), "VmHWM")),
            now: mb(kilobytes(&now, "Pss")),
            own: mb(kilobytes(&now, "Anonymous")),
        }
    };
    processes(program).into_iter().map(of).collect()
}

/// The most memory that the program can have had at a time: the sum of the peaks of its processes. What they share counts
/// twice, and they need not have been there at the same moment.
pub fn peak(program: u32) -> u64 {
    memory(program).iter().map(|one| one.peak).sum()
}

/// Time on a processor so far, of each thread that is there now: its process, its name, the time, and how often it was
/// given a processor.
pub fn computed(program: u32) -> Vec<((u32, u32, String), Duration, u64)> {
    let of = |process: u32, thread: u32| {
        let folder = format!("/proc/{process}/task/{thread}");
        // A thread may end while it is looked at.
        let name = fs::read_to_string(format!("{folder}/comm")).ok()?.trim().to_owned();
        let times = fs::read_to_string(format!("{folder}/schedstat")).ok()?;
        let mut fields = times.split_whitespace().map(|field| field.parse::<u64>().unwrap());
        let (nanoseconds, _waited, given) = (fields.next()?, fields.next()?, fields.next()?);
        Some(((process, thread, name), Duration::from_nanos(nanoseconds), given))
    };
    let all = processes(program).into_iter().flat_map(|process| {
        threads(process).into_iter().filter_map(move |thread| of(process, thread)).collect::<Vec<_>>()
    });
    all.collect()
}
