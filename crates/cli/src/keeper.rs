//! The log of the lathe while it is written: one writer at a time, each line on the disk before the dialogue goes on.
//!
//! 1. A line is written at the end in one piece and synced; only then it counts. Nothing that stands is ever written over.
//! 2. The file is locked as long as the dialogue runs; a second writer is refused. The lock ends with the process, however it ends.
//! 3. A half-written last line (the power went while it was written) is put into a file of its own, `NAME.torn`, and said; then the log
//!    goes on after the last whole line.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

use job::lathe::log::{self, Log};

use crate::shop::name_of;
use crate::stop::Stop;

/// A log that is open for writing.
pub struct Keeper {
    place: PathBuf,
    /// None until the first line: a dialogue that was only looked at leaves no file.
    file: Option<File>,
}

impl Keeper {
    /// Opens the log at `place` of the job `number`, with what it holds and what is to be said about it.
    pub fn open(place: &Path, number: &str) -> Result<(Self, Log, Vec<String>), Stop> {
        let mut keeper = Self { place: place.to_owned(), file: None };
        let mut file = match OpenOptions::new().read(true).append(true).open(place) {
            Ok(file) => file,
            Err(fault) if fault.kind() == ErrorKind::NotFound => return Ok((keeper, Log::default(), Vec::new())),
            Err(fault) => {
                return Err(Stop::Refused(format!(
                    "{}: can't be opened ({fault}); allowed: a log that can be read and written; mend its rights",
                    place.display()
                )));
            }
        };
        locked(&file, place)?;
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(|fault| Stop::Failed(format!("{}: could not read: {fault}", place.display())))?;
        let log = log::read(&place.display().to_string(), &bytes, Some(number))?;
        let said = mended(&mut file, place, &log).map_err(|fault| keeper.failed(&fault))?;
        keeper.file = Some(file);
        Ok((keeper, log, said))
    }

    /// Writes a line and syncs it.
    pub fn keep(&mut self, line: &str) -> Result<(), Stop> {
        if self.file.is_none() {
            self.file = Some(begun(&self.place)?);
        }
        let Some(file) = &mut self.file else { return Ok(()) };
        let done = file.write_all(line.as_bytes()).and_then(|()| file.sync_data());
        done.map_err(|fault| self.failed(&fault))
    }

    fn failed(&self, fault: &std::io::Error) -> Stop {
        Stop::Failed(format!(
            "{} could not be written: {fault}; the last answer is not kept; make room, and the same command goes on from before it",
            self.place.display()
        ))
    }
}

fn locked(file: &File, place: &Path) -> Result<(), Stop> {
    file.try_lock().map_err(|fault| match fault {
        TryLockError::WouldBlock => Stop::Refused(format!(
            "{}: is being written by another dialogue; allowed: one at a time; finish or leave the other first, nothing was written",
            place.display()
        )),
        TryLockError::Error(fault) => {
            Stop::Failed(format!("{}: can't be locked ({fault}); keep the job on a disk that can lock files", place.display()))
        }
    })
}

/// A new log. One that somebody began in the meantime is not touched.
fn begun(place: &Path) -> Result<File, Stop> {
    let file = OpenOptions::new().read(true).append(true).create_new(true).open(place).map_err(|fault| match fault.kind() {
        ErrorKind::AlreadyExists => Stop::Refused(format!(
            "{}: another dialogue began it meanwhile; allowed: one at a time; run the same command again, nothing was written",
            place.display()
        )),
        _ => Stop::Failed(format!("{} could not be made: {fault}; see that the folder can be written", place.display())),
    })?;
    locked(&file, place)?;
    // The name of a new file is on the disk only when its folder is; where a folder can't be synced (some systems), the file still is.
    if let Some(Ok(folder)) = place.parent().map(|folder| if folder.as_os_str().is_empty() { File::open(".") } else { File::open(folder) })
    {
        let _ = folder.sync_all();
    }
    Ok(file)
}

/// Puts a half-written last line aside and ends a whole one; says what was done.
fn mended(file: &mut File, place: &Path, log: &Log) -> std::io::Result<Vec<String>> {
    if log.lacks_end {
        file.write_all(b"\n")?;
        file.sync_data()?;
    }
    if log.torn.is_empty() {
        return Ok(Vec::new());
    }
    let mut aside = place.as_os_str().to_owned();
    aside.push(".torn");
    let mut kept = OpenOptions::new().append(true).create(true).open(&aside)?;
    kept.write_all(&log.torn)?;
    kept.write_all(b"\n")?;
    kept.sync_all()?;
    file.set_len(log.whole as u64)?;
    file.sync_all()?;
    Ok(vec![format!(
        "  note: the last line of {} was written half ({} bytes); it is kept in {} and does not count; give that answer again",
        name_of(place),
        log.torn.len(),
        name_of(Path::new(&aside))
    )])
}
