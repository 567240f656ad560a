//! The hands that this machine lends to a calculation: its cores.

use std::sync::atomic::{AtomicUsize, Ordering};

use calc::crew::Crew;

/// So many threads, each taking the next block that nobody has.
#[derive(Clone, Copy, Debug)]
pub struct Hands {
    threads: usize,
}

impl Hands {
    /// As many as asked for, or as the machine has cores.
    pub fn new(threads: Option<usize>) -> Self {
        let cores = || std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        Self { threads: threads.unwrap_or_else(cores).clamp(1, 256) }
    }
}

impl Crew for Hands {
    fn each(&self, blocks: usize, work: &(dyn Fn(usize) + Sync)) {
        let threads = self.threads.min(blocks);
        if threads <= 1 {
            return (0..blocks).for_each(work);
        }
        let next = AtomicUsize::new(0);
        let take = || {
            loop {
                let block = next.fetch_add(1, Ordering::Relaxed);
                if block >= blocks {
                    return;
                }
                work(block);
            }
        };
        std::thread::scope(|scope| {
            for _ in 1..threads {
                scope.spawn(take);
            }
            take();
        });
    }
}
