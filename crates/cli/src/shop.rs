//! A job file with what lies beside it: its log of the lathe, and the logs of other jobs of the shop in the same folder.
//!
//! Reading only; a log is written by `turn` alone. A log that can't be used for its own job is refused; of another job it is noted.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use job::entry::Entry;
use job::lathe::log::{self, Log};
use job::lathe::part;
use job::state::State;

use crate::stop::Stop;

/// A job file is a page or two: one over this is something else.
const LARGEST_FILE: u64 = 5 * 1024 * 1024;
/// What the name of a log ends in, behind the stem of its job file.
const LOG_ENDS_IN: &str = ".log.jsonl";
/// Most logs of a folder that are looked into.
const MOST_LOGS: usize = 1000;

/// The job of a file, with its log folded in.
pub fn job(file: &Path) -> Result<State, Stop> {
    let shown = file.display().to_string();
    let bytes = bytes_of(file)?;
    let (_, state) = job::file::open(&shown, &bytes).map_err(|fault| Stop::Refused(fault.to_string()))?;
    let place = log_place(file);
    let Some(log) = read_log(&place, Some(&state.number))? else {
        return Ok(with_others(state, &place));
    };
    folded(file, &bytes, &log).map(|state| with_others(state, &place))
}

/// The same with a log that was read already.
pub fn folded(file: &Path, bytes: &[u8], log: &Log) -> Result<State, Stop> {
    let (_, mut state) =
        job::file::open_with(&file.display().to_string(), bytes, &log.entries).map_err(|fault| Stop::Refused(fault.to_string()))?;
    if !log.torn.is_empty() {
        let name = log_place(file).display().to_string();
        state.notes.push(format!("The last line of {name} was written half; it is not used. The next bushwright turn keeps it aside."));
    }
    Ok(state)
}

/// The entries of a job file and of its log, in order, and what they amount to.
pub fn entries(file: &Path) -> Result<(Vec<Entry>, State), Stop> {
    let bytes = bytes_of(file)?;
    let shown = file.display().to_string();
    let refused = |fault: job::file::BadFile| Stop::Refused(fault.to_string());
    let (_, state) = job::file::open(&shown, &bytes).map_err(refused)?;
    let log = read_log(&log_place(file), Some(&state.number))?.unwrap_or_default();
    job::file::open_with(&shown, &bytes, &log.entries).map_err(refused)
}

/// The bytes of a job file.
pub fn bytes_of(file: &Path) -> Result<Vec<u8>, Stop> {
    let shown = file.display().to_string();
    let refused = |what: &str| Stop::Refused(format!("{shown}: {what}"));
    let about = std::fs::metadata(file).map_err(|fault| {
        refused(&format!("can't be opened ({fault}); allowed: a job file in TOML; start one with bushwright job new {shown}"))
    })?;
    if about.is_dir() {
        return Err(refused("is a folder; allowed: a job file in TOML; name the file in it"));
    }
    if about.len() > LARGEST_FILE {
        return Err(refused(&format!(
            "holds {} bytes; allowed: 5 MB at most; a job file is a page or two, this is another file",
            about.len()
        )));
    }
    std::fs::read(file).map_err(|fault| refused(&format!("can't be read ({fault}); allowed: a readable file; mend its rights")))
}

/// Where the log of a job file is: beside it, `winch.toml` has `winch.log.jsonl`.
pub fn log_place(file: &Path) -> PathBuf {
    let mut name = file.file_stem().unwrap_or(OsStr::new("job")).to_owned();
    name.push(LOG_ENDS_IN);
    file.with_file_name(name)
}

/// The name of a file, as it is said.
pub fn name_of(place: &Path) -> String {
    place.file_name().unwrap_or(place.as_os_str()).to_string_lossy().into_owned()
}

/// The log at `place`; none where there is none.
fn read_log(place: &Path, number: Option<&str>) -> Result<Option<Log>, Stop> {
    match std::fs::read(place) {
        Ok(bytes) => Ok(Some(log::read(&place.display().to_string(), &bytes, number)?)),
        Err(fault) if fault.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(fault) => {
            Err(Stop::Refused(format!("{}: can't be read ({fault}); allowed: a readable file; mend its rights", place.display())))
        }
    }
}

/// Adds what other jobs of the folder finished, where a seat of this one names its lathe.
pub fn with_others(mut state: State, own: &Path) -> State {
    if !state.names_a_lathe() {
        return state;
    }
    let folder = own.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let files = std::fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path());
    let mut logs: Vec<PathBuf> = files.filter(|place| name_of(place).ends_with(LOG_ENDS_IN) && name_of(place) != name_of(own)).collect();
    logs.sort();
    for place in logs.iter().take(MOST_LOGS) {
        match read_log(place, None) {
            Ok(log) => state.finished.extend(log.iter().flat_map(|log| part::finished(&log.entries))),
            Err(Stop::Refused(sentence) | Stop::Failed(sentence)) => {
                state.notes.push(format!("What {} teaches of the lathe is not used: {sentence}.", name_of(place)));
            }
            Err(Stop::Unread) => {}
        }
    }
    part::sort(&mut state.finished);
    state
}
