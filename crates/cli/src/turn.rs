//! `bushwright turn`: the dialogue at the lathe, in a terminal or through a pipe.

use std::io::{BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use job::lathe::log::{self, Writer};
use job::lathe::step::{Step, Surface};
use job::lathe::{Dialogue, Kept, Now, Reply};
use job::moment;
use job::stages::{Wish, setup};

use crate::crew::Hands;
use crate::keeper::Keeper;
use crate::shop;
use crate::stop::Stop;

/// Turn a bush at the lathe: say what was read, get the next command, its chance, and when to stop.
#[derive(clap::Args)]
pub struct Arguments {
    /// The job file.
    file: PathBuf,
    /// The seat.
    seat: String,
    /// The bore after fitting, instead of the outside.
    #[arg(long)]
    inside: bool,
    /// Go through this log again and print the dialogue; nothing is written.
    #[arg(long, value_name = "LOG")]
    replay: Option<PathBuf>,
    /// Who is at the lathe (job.by).
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    /// The gauge, by its name in the job (that of the last readings of this part).
    #[arg(long, value_name = "NAME")]
    gauge: Option<String>,
    /// Equal cuts of the plan (3).
    #[arg(long, value_name = "N")]
    cuts: Option<u32>,
    /// The moment at which it starts, instead of the clock's; goes on by the times that are said.
    #[arg(long, value_name = "MOMENT", hide = true)]
    clock: Option<String>,
}

/// Longest line that is read.
const LONGEST_LINE: u64 = 64 * 1024;

pub fn run(arguments: &Arguments) -> Result<(), Stop> {
    let surface = if arguments.inside { Surface::Bore } else { Surface::Outside };
    let place = shop::log_place(&arguments.file);
    let state = shop::job(&arguments.file)?;
    let wish = Wish { gauge: arguments.gauge.as_deref(), cuts: arguments.cuts };
    let setup = setup(&state, &arguments.seat, surface, wish, &Hands::new(None))?;
    let device = if setup.lathe.is_empty() { "lathe".to_owned() } else { setup.lathe.clone() };
    let who = arguments.by.clone().or_else(|| state.by.first().cloned()).unwrap_or_default();
    let writer = |place: &Path| Writer {
        job: state.number.clone(),
        seat: arguments.seat.clone(),
        who: who.clone(),
        device: device.clone(),
        log: shop::name_of(place),
    };
    let mut out = std::io::stdout().lock();
    if let Some(place) = &arguments.replay {
        let bytes = std::fs::read(place)
            .map_err(|fault| Stop::Refused(format!("{}: can't be read ({fault}); allowed: a log of the lathe", place.display())))?;
        let log = log::read(&place.display().to_string(), &bytes, Some(&state.number))?;
        say(&job::lathe::replay(writer(place), surface, setup, &log), &mut out)?;
        return Ok(out.flush()?);
    }
    let (mut keeper, log, said) = Keeper::open(&place, &state.number)?;
    let mut clock = Clock::new(arguments.clock.as_deref())?;
    let mut dialogue = Dialogue::open(writer(&place), surface, setup, &log);
    say(&dialogue.opening(), &mut out)?;
    say(&said, &mut out)?;
    match dialogue.moved_band(&clock.now()) {
        Some(Ok(moved)) => keep(&mut dialogue, &mut keeper, &moved, &mut out)?,
        Some(Err(sentence)) => say(&[format!("  note: {sentence}")], &mut out)?,
        None => {}
    }
    if dialogue.is_under_way() {
        say(&dialogue.standing(), &mut out)?;
    }
    talk(&mut dialogue, &mut keeper, &mut clock, &mut out)?;
    say(&dialogue.leaving(), &mut out)?;
    Ok(out.flush()?)
}

/// Asks, reads, keeps and says until there is no more to read.
fn talk(dialogue: &mut Dialogue, keeper: &mut Keeper, clock: &mut Clock, out: &mut impl Write) -> Result<(), Stop> {
    let mut input = std::io::stdin().lock();
    loop {
        write!(out, "{}", dialogue.prompt())?;
        out.flush()?;
        let Some(text) = line(&mut input)? else {
            return Ok(writeln!(out)?);
        };
        // Through a pipe nobody sees what was typed.
        if !clock.runs() {
            writeln!(out, "{}", text.trim())?;
        }
        match dialogue.answer(&text, &clock.now()) {
            Reply::Stop => return Ok(()),
            Reply::Say(lines) => say(&lines.iter().map(|line| format!("  {}", line.trim_start())).collect::<Vec<_>>(), out)?,
            Reply::Keep(kept) => {
                keep(dialogue, keeper, &kept, out)?;
                clock.goes_on(&kept);
            }
        }
    }
}

fn keep(dialogue: &mut Dialogue, keeper: &mut Keeper, kept: &Kept, out: &mut impl Write) -> Result<(), Stop> {
    keeper.keep(&kept.line())?;
    say(&dialogue.accept(kept), out)
}

/// The next line of the input; none at its end.
fn line(input: &mut impl BufRead) -> Result<Option<String>, Stop> {
    let mut bytes = Vec::new();
    let count = std::io::Read::take(&mut *input, LONGEST_LINE)
        .read_until(b'\n', &mut bytes)
        .map_err(|fault| Stop::Failed(format!("could not read: {fault}")))?;
    Ok((count > 0).then(|| String::from_utf8_lossy(&bytes).into_owned()))
}

fn say(lines: &[String], out: &mut impl Write) -> Result<(), Stop> {
    for line in lines {
        writeln!(out, "{line}")?;
    }
    Ok(())
}

/// The clock of the dialogue.
struct Clock {
    /// Seconds since 1970 where they were given; else the machine is asked.
    given: Option<i64>,
    runs: bool,
}

impl Clock {
    fn new(given: Option<&str>) -> Result<Self, Stop> {
        let given = match given {
            None => None,
            Some(text) => Some(moment::seconds(text).ok_or_else(|| {
                Stop::Refused(format!("--clock is {text:?}; allowed: a moment in UTC; write it like 2026-03-02T14:05:00Z"))
            })?),
        };
        Ok(Self { given, runs: given.is_none() && std::io::stdin().is_terminal() })
    }

    /// Whether time between the answers is that of the person.
    fn runs(&self) -> bool {
        self.runs
    }

    fn now(&self) -> Now {
        let seconds = self.given.unwrap_or_else(|| {
            let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
            i64::try_from(since.as_secs()).unwrap_or_default()
        });
        Now { when: moment::written(seconds), clocked: self.runs }
    }

    /// A given clock goes on by what was said.
    fn goes_on(&mut self, kept: &Kept) {
        let job::entry::What::Lathe { after_s, does, .. } = &kept.entry.what else { return };
        let cutting = if matches!(does, Step::Cut { .. }) { 540 } else { 0 };
        if let Some(given) = &mut self.given {
            *given += after_s.round() as i64 + cutting;
        }
    }
}
