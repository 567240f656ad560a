//! The widest vectors that the machine has, for work that is written without thinking of vectors.
//!
//! The same Rust code is compiled once for every width and the machine's own is chosen when it runs. Each element goes through
//! the same IEEE operations at every width (Rust never fuses a multiplication with an addition), so the bits are the same too.
//! Elsewhere than on x86-64 there is one width: the compiler's own.

/// Work that gains from wide vectors. Its `run`, and all that `run` calls in its loops, must be `#[inline(always)]`: what is
/// not inlined is compiled for the narrowest vectors.
pub trait Work {
    /// What the work gives.
    type Done;
    /// Does the work.
    fn run(self) -> Self::Done;
}

/// A width of vectors that the code is compiled for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Width {
    /// 512 bits (AVX-512 with its double and quad word part).
    Eight,
    /// 256 bits (AVX2).
    Four,
    /// What every machine of this kind has.
    Own,
}

/// Does `work` at the widest width of this machine.
pub fn widest<W: Work>(work: W) -> W::Done {
    let has = |width: &Width| machine_has(*width);
    at_width([Width::Eight, Width::Four].into_iter().find(has).unwrap_or(Width::Own), work)
}

/// What `of` gives at each width that this machine has, the widest first: for tests that they agree.
pub fn each_width<T>(of: impl FnMut(Width) -> T) -> Vec<T> {
    [Width::Eight, Width::Four, Width::Own].into_iter().filter(|width| machine_has(*width)).map(of).collect()
}

/// Does `work` at that width, or at the machine's own where it does not have it.
#[cfg(target_arch = "x86_64")]
#[allow(unsafe_code, reason = "a call of a function that is compiled for more than the least machine is unsafe by the language")]
pub fn at_width<W: Work>(width: Width, work: W) -> W::Done {
    match width {
        // SAFETY: the processor was asked whether it has these instructions, and has them.
        Width::Eight if machine_has(width) => unsafe { at_eight(work) },
        // SAFETY: as above.
        Width::Four if machine_has(width) => unsafe { at_four(work) },
        _ => work.run(),
    }
}

/// Does `work` at the one width of this machine.
#[cfg(not(target_arch = "x86_64"))]
pub fn at_width<W: Work>(_: Width, work: W) -> W::Done {
    work.run()
}

#[cfg(target_arch = "x86_64")]
fn machine_has(width: Width) -> bool {
    match width {
        Width::Eight => is_x86_feature_detected!("avx512f") && is_x86_feature_detected!("avx512dq") && is_x86_feature_detected!("avx512vl"),
        Width::Four => is_x86_feature_detected!("avx2"),
        Width::Own => true,
    }
}

#[cfg(not(target_arch = "x86_64"))]
fn machine_has(width: Width) -> bool {
    width == Width::Own
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx512f,avx512dq,avx512vl")]
fn at_eight<W: Work>(work: W) -> W::Done {
    work.run()
}

#[cfg(target_arch = "x86_64")]
#[target_feature(enable = "avx2")]
fn at_four<W: Work>(work: W) -> W::Done {
    work.run()
}
