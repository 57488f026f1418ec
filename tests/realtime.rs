//! The audio callback's own work must never allocate: an allocator that counts, and the callback's part called as a
//! device would call it.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;
use std::time::Duration;

use wrenchside::speak::queue::queue;

struct Counting;

thread_local! {
    static CALLS: Cell<u64> = const { Cell::new(0) };
}

fn count() {
    // Not there any more while the thread ends; nobody counts then.
    let _ = CALLS.try_with(|calls| calls.set(calls.get() + 1));
}

// SAFETY: everything is handed on to the system's allocator unchanged.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count();
        unsafe { System.alloc(layout) }
    }
    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        count();
        unsafe { System.dealloc(pointer, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

fn calls() -> u64 {
    CALLS.with(Cell::get)
}

#[test]
fn filling_a_buffer_allocates_nothing() {
    let (mut queue, mut feed) = queue(Duration::from_secs(2), 48_000);
    let stop = queue.stop_handle();
    let mut floats = vec![0.0f32; 2 * 1_200];
    let mut integers = vec![0i16; 2 * 1_200];

    let before = calls();
    drop(std::hint::black_box(Box::new(1)));
    assert_eq!(calls(), before + 2, "the counter does not count");

    queue.put(&vec![0.5; 48_000]);
    let before = calls();
    for _ in 0..5 {
        feed.note_latency(Duration::from_millis(20));
        feed.fill(&mut floats, 2);
        feed.fill(&mut integers, 2);
    }
    // In the middle of a sound, and then with nothing left.
    stop.stop();
    for _ in 0..5 {
        feed.fill(&mut floats, 2);
        feed.fill(&mut integers, 1);
    }
    assert_eq!(calls(), before);
    assert!(!queue.is_playing());
}
