//! How much room is left where a file stands.

use std::path::Path;

/// Free bytes of the disk that `place` is on, for a program without special rights; none where the system does not say.
#[cfg(unix)]
pub(crate) fn free(place: &Path) -> Option<u64> {
    let folder = place.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let said = rustix::fs::statvfs(folder).ok()?;
    Some(said.f_bavail.saturating_mul(said.f_frsize))
}

/// Free bytes of the disk that `place` is on; this system is not asked.
#[cfg(not(unix))]
pub(crate) fn free(_: &Path) -> Option<u64> {
    None
}
