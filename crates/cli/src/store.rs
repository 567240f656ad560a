//! A ledger for one command: which store, opened, and the jobs in it.

use std::path::Path;

use job::state::State;
use ledger::{Checked, Fault, Ledger, Options, Place, REGISTERS, Turned};
use tokio::runtime::Runtime;

use crate::stop::Stop;

/// Where the ledger is when nothing is said.
pub const HERE: &str = "bushwright.ledger";

/// Which store, and which shop in it.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct Which {
    /// The ledger: a file, or postgres://USER@HOST/DATABASE.
    #[arg(long, value_name = "STORE", env = "BUSHWRIGHT_STORE", default_value = HERE, hide_env_values = true)]
    pub store: String,
    /// The shop in it, where several share a store.
    #[arg(long, value_name = "SHOP", default_value = ledger::ONE_SHOP)]
    pub shop: String,
}

/// A ledger that is open, with what runs it.
pub struct Open {
    runtime: Runtime,
    pub ledger: Ledger,
}

impl Which {
    /// Opens it; with `create` it is made when it is not there.
    pub fn open(&self, create: bool) -> Result<Open, Stop> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(|fault| Stop::Failed(format!("the machine gave no room to work in: {fault}")))?;
        let options = Options { shop: self.shop.clone(), create, ..Options::default() };
        let ledger = runtime.block_on(Ledger::open(&Place::of(&self.store), options))?;
        Ok(Open { runtime, ledger })
    }
}

impl Open {
    /// Lets something be done with it, and closes it.
    pub fn with<T>(self, work: impl AsyncFnOnce(&Ledger) -> Result<T, Fault>) -> Result<T, Stop> {
        let done = self.runtime.block_on(async {
            let done = work(&self.ledger).await;
            // What was done is on disk; a closing that fails takes nothing back.
            let _ = self.ledger.close().await;
            done
        });
        Ok(done?)
    }
}

impl From<Fault> for Stop {
    fn from(fault: Fault) -> Self {
        match fault {
            Fault::Refused(_) => Self::Refused(fault.to_string()),
            _ => Self::Failed(fault.to_string()),
        }
    }
}

/// What a person typed where a job is wanted: a file, or the number of a job in the ledger.
pub fn job(given: &Path, which: &Which) -> Result<State, Stop> {
    // A name with an ending or a folder in it was meant as a file.
    let as_file = given.exists() || given.extension().is_some() || given.components().count() > 1;
    let number = given.to_str().filter(|_| !as_file);
    let kept = matches!(Place::of(&which.store), Place::Database(_)) || Path::new(&which.store).exists();
    match number {
        Some(number) if kept => which.open(false)?.with(async |ledger| of_ledger(ledger, number).await),
        _ => crate::shop::job(given),
    }
}

/// A job of the ledger, with what the registers and other jobs lend it.
async fn of_ledger(ledger: &Ledger, number: &str) -> Result<State, Fault> {
    let Some(entries) = ledger.job(number).await?.filter(|_| number != REGISTERS).map(Checked::into_entries) else {
        return Err(unknown(ledger, number).await?);
    };
    let mut state = job::fold(&entries);
    ledger.registers().await?.lend(&mut state);
    Turned::default().lend(ledger, &mut state).await?;
    Ok(state)
}

/// Says that there is no such job, with the nearest that is.
async fn unknown(ledger: &Ledger, number: &str) -> Result<Fault, Fault> {
    let heads = ledger.heads("\u{1}", 10_000).await?;
    let known: Vec<&str> = heads.iter().map(|head| head.job.as_str()).collect();
    let near = match calc::keys::nearest(number, known.iter().copied()) {
        Some(near) => format!("write {near}"),
        None => "see them with bushwright ledger list".to_owned(),
    };
    let some = known.iter().take(8).copied().collect::<Vec<_>>().join(", ");
    let allowed = match known.len() {
        0 => "none is in it".to_owned(),
        1..=8 => some,
        n => format!("{some} and {} more", n - 8),
    };
    Ok(Fault::Refused(format!("job {number:?} is neither a file nor in the ledger; allowed: {allowed}; {near}")))
}
