//! `bushwright ledger`: the record looked after: gone through, carried, copied, put back.

use std::io::{IsTerminal, Write};
use std::path::PathBuf;

use clap::Subcommand;
use indicatif::{ProgressBar, ProgressStyle};
use job::papers::record::{self, Coded};
use ledger::{Carried, Fault, Ledger, Progress};

use crate::stop::Stop;
use crate::store::Which;

/// Look after the record.
#[derive(clap::Args)]
pub struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Subcommand)]
enum What {
    /// Go through every entry of every shop: the first of a job that is not as it was kept is named.
    Verify {
        /// What a camera read from a paper's code: says too whether the record of its job ever had that head.
        #[arg(long, value_name = "TEXT")]
        code: Option<String>,
        #[command(flatten)]
        which: Which,
    },
    /// List the jobs: number, entries, when the last one arrived.
    List {
        #[command(flatten)]
        which: Which,
    },
    /// Write the entries of a shop, or of some of its jobs, as JSON Lines, hashes kept.
    Export {
        /// Where to write them; an existing file is never written over.
        file: PathBuf,
        /// Only this job; may be said several times.
        #[arg(long = "job", value_name = "NUMBER")]
        jobs: Vec<String>,
        #[command(flatten)]
        which: Which,
    },
    /// Add the entries of an export; every hash is checked before the first is written.
    Import {
        /// The export.
        file: PathBuf,
        #[command(flatten)]
        which: Which,
    },
    /// Copy everything of every shop to a file, while others write.
    Backup {
        /// Where to write it; an existing file is never written over.
        file: PathBuf,
        #[command(flatten)]
        which: Which,
    },
    /// Fill a new, empty store from a backup; every hash is checked before the first is written.
    Restore {
        /// The backup.
        file: PathBuf,
        #[command(flatten)]
        which: Which,
    },
}

pub fn run(arguments: &Arguments) -> Result<(), Stop> {
    let mut out = std::io::stdout().lock();
    match &arguments.what {
        What::Verify { code, which } => verify(which, code.as_deref(), &mut out),
        What::List { which } => list(which, &mut out),
        What::Export { file, jobs, which } => {
            let jobs = (!jobs.is_empty()).then_some(jobs.as_slice());
            let done = which.open(false)?.with(async |ledger| with_bar(async |step| ledger.export(file, jobs, step).await).await)?;
            Ok(writeln!(out, "{} in {}", told(&done), file.display())?)
        }
        What::Import { file, which } => {
            let done = which.open(true)?.with(async |ledger| with_bar(async |step| ledger.import(file, step).await).await)?;
            Ok(writeln!(out, "{} from {}, of them {} there before", told(&done), file.display(), done.there)?)
        }
        What::Backup { file, which } => {
            let done = which.open(false)?.with(async |ledger| with_bar(async |step| ledger.backup(file, step).await).await)?;
            Ok(writeln!(out, "{} of {} in {}", told(&done), count(done.shops, "shop"), file.display())?)
        }
        What::Restore { file, which } => {
            let done = which.open(true)?.with(async |ledger| with_bar(async |step| ledger.restore(file, step).await).await)?;
            Ok(writeln!(out, "{} of {} put back into {}", told(&done), count(done.shops, "shop"), which.store)?)
        }
    }
}

fn told(done: &Carried) -> String {
    format!("{} of {}", count(done.entries, "entry"), count(done.jobs, "job"))
}

pub fn count(n: u64, what: &str) -> String {
    match (n, what) {
        (1, _) => format!("1 {what}"),
        (_, "entry") => format!("{n} entries"),
        _ => format!("{n} {what}s"),
    }
}

/// Does something long with a bar on the terminal; none where nobody looks.
async fn with_bar<T>(work: impl AsyncFnOnce(ledger::Step<'_>) -> Result<T, Fault>) -> Result<T, Fault> {
    let bar = if std::io::stderr().is_terminal() { ProgressBar::new(0) } else { ProgressBar::hidden() };
    if let Ok(style) = ProgressStyle::with_template("{wide_bar} {percent:>3} %  {eta} left") {
        bar.set_style(style);
    }
    let done = work(&mut |Progress { done, of }| {
        bar.set_length(of);
        bar.set_position(done);
    })
    .await;
    bar.finish_and_clear();
    done
}

fn list(which: &Which, out: &mut impl Write) -> Result<(), Stop> {
    let heads = which.open(false)?.with(async |ledger| ledger.heads("", usize::MAX >> 1).await)?;
    for head in heads {
        let name = if head.job.is_empty() { "(registers)" } else { &head.job };
        writeln!(out, "{name:<24} {:>8}  {}", head.number, head.arrived)?;
    }
    Ok(())
}

fn verify(which: &Which, code: Option<&str>, out: &mut impl Write) -> Result<(), Stop> {
    let code = code.map(record::coded).transpose().map_err(|refused| Stop::Refused(refused.to_string()))?;
    let (found, paper) = which.open(false)?.with(async |ledger| {
        let mut found = Vec::new();
        for shop in ledger.shops().await? {
            let ledger = ledger.of_shop(&shop)?;
            found.push((shop, of_shop(&ledger).await?));
        }
        let paper = match &code {
            Some(code) => Some(held_against(ledger, code).await?),
            None => None,
        };
        Ok((found, paper))
    })?;
    let mut faults = 0;
    for (shop, verified) in found {
        if verified.faults.is_empty() {
            writeln!(out, "{shop}: {} in {}: every hash holds", count(verified.entries, "entry"), count(verified.jobs, "job"))?;
        }
        for fault in &verified.faults {
            writeln!(out, "{shop}: {fault}")?;
            faults += 1;
        }
    }
    if let Some(paper) = &paper {
        writeln!(out, "{}", paper.says)?;
    }
    match (faults, paper.is_none_or(|paper| paper.holds)) {
        (0, true) => Ok(()),
        (0, false) => Err(Stop::Failed("the paper is not of this record".into())),
        _ => Err(Stop::Failed(format!("the record is not as it was kept in {}", count(faults, "place")))),
    }
}

/// What the record says of a paper's code.
struct OfPaper {
    says: String,
    holds: bool,
}

/// Holds a code against the record of its job: the state that had this head, and what arrived since.
async fn held_against(ledger: &Ledger, code: &Coded) -> Result<OfPaper, Fault> {
    let no = |says: String| OfPaper { says, holds: false };
    let job = &code.job;
    let checked = match ledger.job(job).await {
        Ok(Some(checked)) => checked,
        Ok(None) => {
            return Ok(no(format!(
                "the paper is of job {job}, which is not in this ledger; look in the ledger of the shop that issued it"
            )));
        }
        Err(Fault::Altered(_)) => return Ok(no(format!("the paper can't be held against job {job}: its record is not as it was kept"))),
        Err(fault) => return Err(fault),
    };
    let kept = &checked.kept;
    let entries = checked.entries();
    let Some(state) = record::state_with(&entries, &code.head) else {
        let head = code.head.get(..12).unwrap_or(&code.head);
        return Ok(no(format!("the record of job {job} never had the head {head}..: the paper is not of it, or was altered")));
    };
    let arrived = state.checked_sub(1).and_then(|last| kept.get(last)).map(|last| last.arrived.as_str()).unwrap_or("nothing");
    let since = match kept.len().saturating_sub(state) {
        0 => "nothing was added since".to_owned(),
        more => format!("{} added since: ask for a new one", count(more as u64, "entry")),
    };
    Ok(OfPaper {
        says: format!("the paper is of job {job} as it stood with {}, the last of {arrived}; {since}", count(state as u64, "entry")),
        holds: true,
    })
}

async fn of_shop(ledger: &Ledger) -> Result<ledger::Verified, Fault> {
    let of: u64 = ledger.heads("", usize::MAX >> 1).await?.iter().map(|head| head.number).sum();
    with_bar(async |step| ledger.verify(&mut |done| step(Progress { done, of })).await).await
}
