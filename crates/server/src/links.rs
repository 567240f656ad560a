//! Links that show one job's certificate to who holds them, and nothing else: for a customer, until a day or until they are taken back.
//!
//! The link itself is shown once, when it is made; the store keeps its hash, which is also the name that it is taken back by.

use ledger::{Aside, Fault, Ledger};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::refusal::Refusal;
use crate::secrets;

/// The kind of a link in the store.
pub(crate) const LINK: &str = "link";
/// Days that a link holds where nothing is said.
const DAYS: i64 = 90;
/// Most days that a link can be given for.
const MOST_DAYS: i64 = 3660;

/// A link as it is kept.
#[derive(Debug, Serialize, Deserialize)]
struct Kept {
    job: String,
    by: String,
    whom: String,
}

/// A link to be made.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Wanted {
    /// For whom it is, in words.
    pub whom: String,
    /// Days that it holds (90, at most 3660).
    pub days: Option<i64>,
}

/// A link that was made. Its path is shown this once.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Made {
    /// The path on this server.
    pub path: String,
    /// Its name, to take it back by.
    pub name: String,
    /// Until when it holds.
    pub until: String,
}

/// A link that was given out.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Given {
    /// Its name, to take it back by.
    pub name: String,
    /// For whom it is.
    pub whom: String,
    /// Who gave it.
    pub by: String,
    /// Until when it holds.
    pub until: String,
}

/// Makes a link to a job.
pub(crate) async fn make(ledger: &Ledger, job: &str, by: &str, wanted: Wanted) -> Result<Made, Refusal> {
    let days = wanted.days.unwrap_or(DAYS);
    if !(1..=MOST_DAYS).contains(&days) {
        return Err(calc::Refused::new("days", days, format!("1 to {MOST_DAYS}"), "say for how many days it is to hold").into());
    }
    crate::body::named("whom", &wanted.whom)?;
    let token = secrets::drawn(32)?;
    let name = secrets::name_of(&token);
    let kept = Kept { job: job.to_owned(), by: by.to_owned(), whom: wanted.whom };
    let value = serde_json::to_string(&kept).map_err(|_| Refusal::fault("a link could not be written"))?;
    let until_s = ledger.now().saturating_add(days * 86_400);
    ledger.put(Aside { kind: LINK.into(), name: name.clone(), value, until_s }).await?;
    let path = format!("/certificate/{}", crate::guard::with_shop(&token, ledger));
    Ok(Made { path, name, until: job::moment::written(until_s) })
}

/// The links of a job that still hold.
pub(crate) async fn of_job(ledger: &Ledger, job: &str) -> Result<Vec<Given>, Fault> {
    let now = ledger.now();
    let holding = ledger.asides(LINK).await?.into_iter().filter(|aside| aside.until_s >= now);
    let read = holding.filter_map(|aside| Some((serde_json::from_str::<Kept>(&aside.value).ok()?, aside)));
    let of_it = read.filter(|(kept, _)| kept.job == job);
    let given =
        of_it.map(|(Kept { by, whom, .. }, aside)| Given { name: aside.name, whom, by, until: job::moment::written(aside.until_s) });
    Ok(given.collect())
}

/// Takes a link back; whether there was one.
pub(crate) async fn take_back(ledger: &Ledger, name: &str) -> Result<bool, Fault> {
    ledger.drop_aside(LINK, name).await
}

/// The job that a token shows.
pub(crate) async fn job_of(ledger: &Ledger, token: &str) -> Result<Option<String>, Fault> {
    let Some(aside) = ledger.aside(LINK, &secrets::name_of(token)).await? else { return Ok(None) };
    let kept = serde_json::from_str::<Kept>(&aside.value).ok();
    Ok(kept.filter(|_| aside.until_s >= ledger.now()).map(|kept| kept.job))
}
