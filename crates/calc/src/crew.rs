//! The hands that a calculation may use: `calc` makes no threads of its own, it is lent some.
//!
//! Work is cut into numbered blocks whose results do not depend on who does them or when, so any crew gives the same bytes.

/// Someone who can do numbered blocks of work, in any order, perhaps side by side.
pub trait Crew: Sync {
    /// Calls `work(0)` .. `work(blocks - 1)`, each exactly once, and returns when all are done.
    fn each(&self, blocks: usize, work: &(dyn Fn(usize) + Sync));
}

/// Does every block in turn on the calling thread.
#[derive(Clone, Copy, Debug, Default)]
pub struct Alone;

impl Crew for Alone {
    fn each(&self, blocks: usize, work: &(dyn Fn(usize) + Sync)) {
        (0..blocks).for_each(work);
    }
}
