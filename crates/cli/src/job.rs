//! `bushwright job`: a job worked through, from its file or from the ledger.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::{Subcommand, ValueEnum};
use job::sheet::{JobSheet, Stage};
use job::state::{State, Units};

use crate::crew::Hands;
use crate::papers;
use crate::print;
use crate::shop;
use crate::stop::Stop;
use crate::store::{self, Which};

/// Work a job through.
#[derive(clap::Args)]
#[command(args_conflicts_with_subcommands = true, subcommand_negates_reqs = true)]
pub struct Arguments {
    #[command(subcommand)]
    other: Option<Other>,
    /// The job file, or the number of a job in the ledger.
    #[arg(required = true, value_name = "FILE or NUMBER")]
    file: Option<PathBuf>,
    /// The whole sheet as JSON, with every request and answer.
    #[arg(long)]
    json: bool,
    /// Add the derivations: each step with its formula, inputs and source.
    #[arg(long)]
    working: bool,
    /// Only this seat.
    #[arg(long, value_name = "NAME")]
    pub seat: Option<String>,
    /// Only this stage: brief, measure, alloy, fit, stock, turn, seat, bore, release.
    #[arg(long, value_name = "STAGE")]
    stage: Option<String>,
    /// Write the job sheet as PDF.
    #[arg(long, value_name = "FILE.pdf")]
    pdf: Option<PathBuf>,
    /// Paper (A4; Letter in an inch job); a3 and tabloid are for shop drawings.
    #[arg(long, value_name = "PAPER")]
    pub paper: Option<Paper>,
    /// Write the shop drawings, bush and seat: as PDF, or as SVG into a folder.
    #[arg(long, value_name = "FILE.pdf|FOLDER")]
    pub drawing: Option<PathBuf>,
    /// Write the lathe sheet of each seat, a page each, as PDF.
    #[arg(long, value_name = "FILE.pdf")]
    pub lathe_sheet: Option<PathBuf>,
    /// Write the certificate as PDF; one that is not met yet says so.
    #[arg(long, value_name = "FILE.pdf")]
    pub certificate: Option<PathBuf>,
    /// Write the quote of each batch as PDF.
    #[arg(long, value_name = "FILE.pdf")]
    pub quote: Option<PathBuf>,
    /// Write the measured results: .json with every digit, .csv for a table of figures.
    #[arg(long, value_name = "FILE.json|FILE.csv")]
    pub results: Option<PathBuf>,
    /// Write the drawings as SVG into this folder.
    #[arg(long, value_name = "FOLDER")]
    svg: Option<PathBuf>,
    /// Hands to use (all cores); the sheet is the same with any number.
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
    #[command(flatten)]
    which: Which,
}

#[derive(Clone, Copy, ValueEnum)]
pub enum Paper {
    A4,
    A3,
    Letter,
    Tabloid,
}

#[derive(Subcommand)]
enum Other {
    /// Print a commented starting job file; with a name, write it there.
    New {
        /// Where to write it; an existing file is never written over.
        file: Option<PathBuf>,
        /// In inches, °F, lbf and psi.
        #[arg(long)]
        inch: bool,
    },
    /// Say what is missing before which stage.
    Check {
        /// The job file.
        file: PathBuf,
    },
    /// Read a job file, and its log of the lathe, into the ledger; what it holds already is not added again.
    Import {
        /// The job file.
        file: PathBuf,
        /// Who brings it; the writers are in the file.
        #[arg(long, value_name = "NAME", env = "USER", default_value = "this machine", hide_env_values = true)]
        by: String,
        #[command(flatten)]
        which: Which,
    },
}

pub fn run(arguments: &Arguments) -> Result<(), Stop> {
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    match (&arguments.other, &arguments.file) {
        (Some(Other::New { file, inch }), _) => new(file.as_deref(), *inch, &mut out)?,
        (Some(Other::Check { file }), _) => check(file, &mut out)?,
        (Some(Other::Import { file, by, which }), _) => import(file, by, which, &mut out)?,
        (None, Some(file)) => work_through(arguments, file, &mut out)?,
        (None, None) => {
            return Err(Stop::Refused("no job file; allowed: bushwright job FILE; start one with bushwright job new FILE".into()));
        }
    }
    Ok(out.flush()?)
}

fn new(file: Option<&Path>, inch: bool, out: &mut impl Write) -> Result<(), Stop> {
    let text = job::new::new_file(if inch { Units::Inch } else { Units::Mm });
    let Some(file) = file else {
        return Ok(out.write_all(text.as_bytes())?);
    };
    let mut place = std::fs::OpenOptions::new().write(true).create_new(true).open(file).map_err(|fault| match fault.kind() {
        std::io::ErrorKind::AlreadyExists => {
            Stop::Refused(format!("{} is there already; allowed: a new name; nothing was written over", file.display()))
        }
        _ => Stop::Failed(format!("{} could not be made: {fault}; see that the folder is there and can be written", file.display())),
    })?;
    place.write_all(text.as_bytes())?;
    Ok(writeln!(out, "{} is started: fill it in, then bushwright job check {}", file.display(), file.display())?)
}

fn import(file: &Path, by: &str, which: &Which, out: &mut impl Write) -> Result<(), Stop> {
    let (entries, state) = shop::entries(file)?;
    let number = state.number;
    if number.is_empty() {
        return Err(Stop::Refused(format!(
            "{} has no number; allowed: number = \"..\" under [job]; give the job its number",
            file.display()
        )));
    }
    let author = ledger::Author::at_the_machine(by);
    let (added, outcome, notes) = which.open(true)?.with(async |ledger| {
        let record = ledger.job(&number).await?.map(ledger::Checked::into_entries).unwrap_or_default();
        let new = job::file::added(&record, &entries);
        let added = new.entries.len();
        Ok((added, ledger.offer(&author, new.entries).await?, new.notes))
    })?;
    for note in state.notes.iter().chain(&notes) {
        writeln!(out, "note: {note}")?;
    }
    if let Some(refused) = outcome.refused.first() {
        return Err(Stop::Refused(format!(
            "{}: {} of {added} entries are not taken: {}",
            file.display(),
            outcome.refused.len(),
            refused.why
        )));
    }
    let there = entries.len().saturating_sub(added);
    Ok(writeln!(
        out,
        "{} of job {number} are kept in {}, {there} were there before",
        crate::ledger::count(added as u64, "entry"),
        which.store
    )?)
}

fn check(file: &Path, out: &mut impl Write) -> Result<(), Stop> {
    let state = shop::job(file)?;
    for note in state.notes.iter().chain(state.seats.iter().flat_map(|seat| &seat.notes)) {
        writeln!(out, "note: {note}")?;
    }
    let mut complete = true;
    for seat in job::check::missing(&state) {
        for (stage, lacks) in &seat.stages {
            for lack in lacks {
                complete = false;
                writeln!(out, "{}: before {}: {lack}", seat.seat, stage.title())?;
            }
        }
    }
    if complete {
        writeln!(out, "Nothing is missing: bushwright job {}", file.display())?;
    }
    Ok(())
}

fn work_through(arguments: &Arguments, file: &Path, out: &mut impl Write) -> Result<(), Stop> {
    let stage = arguments.stage.as_deref().map(stage_named).transpose()?;
    let state = store::job(file, &arguments.which)?;
    if let Some(name) = &arguments.seat
        && !state.seats.iter().any(|seat| &seat.name == name)
    {
        let known = state.seats.iter().map(|seat| seat.name.as_str()).collect::<Vec<_>>().join(", ");
        return Err(Stop::Refused(format!("seat {name:?} is not in {}; allowed: {known}; write one of them", file.display())));
    }
    let hands = Hands::new(arguments.threads);
    let sheet = job::stages::sheet(&state, job::stages::Wanted { with_working: arguments.working }, &hands);
    if let Some(folder) = &arguments.svg {
        drawings(&sheet, folder)?;
    }
    if let Some(pdf) = &arguments.pdf {
        write_pdf(arguments, &sheet, &state, pdf)?;
    }
    papers::write(&papers::Wanted::of(arguments), &state, &sheet, &hands)?;
    if arguments.json {
        let text = serde_json::to_string_pretty(&sheet).map_err(|fault| Stop::Failed(fault.to_string()))?;
        return Ok(writeln!(out, "{text}")?);
    }
    let part = print::Part { seat: arguments.seat.as_deref(), stage, working: arguments.working };
    Ok(print::sheet(&sheet, &part, out)?)
}

fn stage_named(word: &str) -> Result<Stage, Stop> {
    Stage::ALL.into_iter().find(|stage| stage.word() == word.to_lowercase()).ok_or_else(|| {
        let known = Stage::ALL.map(Stage::word).join(", ");
        let near =
            calc::keys::nearest(word, Stage::ALL.iter().map(|stage| stage.word())).map_or("one of them".to_owned(), |near| near.to_owned());
        Stop::Refused(format!("stage {word:?} is unknown; allowed: {known}; write {near}"))
    })
}

fn write_pdf(arguments: &Arguments, sheet: &JobSheet, state: &State, pdf: &Path) -> Result<(), Stop> {
    let options = paper::Options { size: papers::size(arguments.paper, state.units), working: arguments.working };
    let bytes = paper::job_sheet(sheet, &options).map_err(|fault| Stop::Failed(fault.to_string()))?;
    written(pdf, &bytes)
}

fn drawings(sheet: &JobSheet, folder: &Path) -> Result<(), Stop> {
    std::fs::create_dir_all(folder)
        .map_err(|fault| Stop::Failed(format!("{} could not be made: {fault}; name a folder that can be written", folder.display())))?;
    for seat in &sheet.seats {
        for (name, svg) in draw::drawings(seat, sheet) {
            written(&folder.join(format!("{}_{name}.svg", papers::safe(&seat.name))), svg.as_bytes())?;
        }
    }
    Ok(())
}

/// Writes a whole file or none: first beside its place, then over it.
pub fn written(place: &Path, bytes: &[u8]) -> Result<(), Stop> {
    let failed = |fault: std::io::Error| {
        Stop::Failed(format!("{} could not be written: {fault}; see that the folder is there and has room", place.display()))
    };
    let mut beside = place.as_os_str().to_owned();
    beside.push(".part");
    std::fs::write(&beside, bytes).map_err(failed)?;
    std::fs::rename(&beside, place).map_err(failed)
}
