//! Hands for a calculation: threads that each take the next block when they are done with one.
//!
//! It knows nothing of the work. Which hand did which block never shows in an answer: `calc` merges blocks in their order.

use std::sync::atomic::{AtomicUsize, Ordering};

use calc::crew::Crew;

/// A number of threads, started for each call and gone when it returns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hands {
    /// Threads that work at the same time, the calling one included; 0 counts as 1.
    pub threads: usize,
}

impl Hands {
    /// As many as the machine offers.
    pub fn of_this_machine() -> Self {
        Self { threads: std::thread::available_parallelism().map_or(1, usize::from) }
    }
}

impl Crew for Hands {
    fn each(&self, blocks: usize, work: &(dyn Fn(usize) + Sync)) {
        let next = AtomicUsize::new(0);
        let hand = || {
            loop {
                let block = next.fetch_add(1, Ordering::Relaxed);
                if block >= blocks {
                    break;
                }
                work(block);
            }
        };
        std::thread::scope(|scope| {
            for _ in 1..self.threads.min(blocks) {
                scope.spawn(hand);
            }
            hand();
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_block_is_done_once_by_any_number_of_hands() {
        for threads in [0, 1, 2, 5] {
            for blocks in [0, 1, 3, 100] {
                let done: Vec<AtomicUsize> = (0..blocks).map(|_| AtomicUsize::new(0)).collect();
                Hands { threads }.each(blocks, &|block| {
                    done[block].fetch_add(1, Ordering::Relaxed);
                });
                assert!(done.iter().all(|times| times.load(Ordering::Relaxed) == 1), "{threads} hands, {blocks} blocks");
            }
        }
    }
}
