//! Who can sign in: accounts, sessions and the one-time code of the first owner, beside the record in the store.
//!
//! 1. What somebody is (their roles) stands in the registers, as entries; what they sign in with is an account beside it.
//! 2. A session holds while its account is the one that it was opened on: a new password or a taken account ends every session.
//! 3. Tokens and codes are kept as their hash, passwords as argon2id.
//! 4. The shop is never left without an owner who can sign in; where it has none, the start of the server makes a code that makes one.

use ledger::{Aside, Fault, Ledger};
use serde::{Deserialize, Serialize};

use crate::refusal::Refusal;
use crate::secrets;
use crate::shop::People;

const ACCOUNT: &str = "account";
const SESSION: &str = "session";
const CODE: &str = "code";
/// The name of the one code.
const OWNER: &str = "owner";
/// How long a session holds without being used, s: thirty days, so that a tablet at a machine is not asked every morning.
const SESSION_S: i64 = 30 * 86_400;
/// A session is written again when it was used a day after it was last written.
const RENEWED_S: i64 = 86_400;
/// How long a code holds, s.
const CODE_S: i64 = 24 * 3600;

/// What somebody signs in with.
#[derive(Debug, Serialize, Deserialize)]
struct Account {
    /// The password as argon2id.
    password: String,
    /// Another whenever the password is: sessions name it.
    stamp: String,
}

/// A session as it is kept.
#[derive(Debug, Serialize, Deserialize)]
struct Session {
    who: String,
    stamp: String,
}

fn written(what: &impl Serialize) -> Result<String, Refusal> {
    serde_json::to_string(what).map_err(|_| Refusal::fault("an account could not be written"))
}

async fn account(ledger: &Ledger, who: &str) -> Result<Option<Account>, Fault> {
    Ok(ledger.aside(ACCOUNT, who).await?.and_then(|aside| serde_json::from_str(&aside.value).ok()))
}

/// Gives somebody a password, over an older one.
pub(crate) async fn give(ledger: &Ledger, who: &str, password: String) -> Result<(), Refusal> {
    let account = Account { password: secrets::kept(password).await?, stamp: secrets::drawn(8)? };
    let aside = Aside { kind: ACCOUNT.into(), name: who.into(), value: written(&account)?, until_s: i64::MAX };
    Ok(ledger.put(aside).await?)
}

/// Takes an account back; whether there was one.
pub(crate) async fn take(ledger: &Ledger, who: &str) -> Result<bool, Fault> {
    ledger.drop_aside(ACCOUNT, who).await
}

/// Names of those who can sign in.
pub(crate) async fn names(ledger: &Ledger) -> Result<Vec<String>, Fault> {
    Ok(ledger.asides(ACCOUNT).await?.into_iter().map(|aside| aside.name).collect())
}

/// Whether it is their password. Who has no account takes as long as who has.
pub(crate) async fn is_password(ledger: &Ledger, who: &str, password: String) -> Result<bool, Refusal> {
    let kept = account(ledger, who).await?.map(|account| account.password);
    secrets::is(password, kept).await
}

/// Opens a session; gives the token, which is kept nowhere.
pub(crate) async fn open(ledger: &Ledger, who: &str) -> Result<String, Refusal> {
    let Some(account) = account(ledger, who).await? else { return Err(Refusal::not_signed_in()) };
    let token = secrets::drawn(32)?;
    let value = written(&Session { who: who.to_owned(), stamp: account.stamp })?;
    let aside = Aside { kind: SESSION.into(), name: secrets::name_of(&token), value, until_s: ledger.now().saturating_add(SESSION_S) };
    ledger.put(aside).await?;
    Ok(token)
}

/// Whose session a token is, and the session's name in the store.
pub(crate) async fn of_token(ledger: &Ledger, token: &str) -> Result<Option<(String, String)>, Fault> {
    let name = secrets::name_of(token);
    let Some(aside) = ledger.aside(SESSION, &name).await? else { return Ok(None) };
    let now = ledger.now();
    let Ok(session) = serde_json::from_str::<Session>(&aside.value) else { return Ok(None) };
    let same = account(ledger, &session.who).await?.is_some_and(|account| account.stamp == session.stamp);
    if aside.until_s < now || !same {
        return Ok(None);
    }
    if aside.until_s < now.saturating_add(SESSION_S - RENEWED_S) {
        // On a full disk the session still holds until its time: looking goes on.
        let _ = ledger.put(Aside { until_s: now.saturating_add(SESSION_S), ..aside }).await;
    }
    Ok(Some((session.who, name)))
}

/// Ends a session.
pub(crate) async fn end(ledger: &Ledger, session: &str) -> Result<bool, Fault> {
    ledger.drop_aside(SESSION, session).await
}

/// Those of the registers who are owners and can sign in.
pub(crate) async fn owners(ledger: &Ledger, people: &People) -> Result<Vec<String>, Fault> {
    let mut names = names(ledger).await?;
    names.retain(|name| people.registers.roles(name).iter().any(|role| role == "owner"));
    Ok(names)
}

/// A new code that makes an owner, in place of any before it.
pub(crate) async fn new_code(ledger: &Ledger) -> Result<String, Refusal> {
    let code = secrets::code()?;
    let until_s = ledger.now().saturating_add(CODE_S);
    ledger.put(Aside { kind: CODE.into(), name: OWNER.into(), value: secrets::name_of(&code), until_s }).await?;
    Ok(code)
}

/// Uses the code up. Of two who give it at once one has it.
pub(crate) async fn use_code(ledger: &Ledger, code: &str) -> Result<bool, Fault> {
    let Some(aside) = ledger.aside(CODE, OWNER).await? else { return Ok(false) };
    let fits = aside.until_s >= ledger.now() && aside.value == secrets::name_of(&code.trim().to_lowercase());
    Ok(fits && ledger.drop_aside(CODE, OWNER).await?)
}

/// Drops what is past its time.
pub(crate) async fn sweep(ledger: &Ledger) -> Result<(), Fault> {
    let now = ledger.now();
    for kind in [SESSION, CODE, crate::tries::TRY, crate::links::LINK] {
        for aside in ledger.asides(kind).await? {
            if aside.until_s < now {
                ledger.drop_aside(kind, &aside.name).await?;
            }
        }
    }
    Ok(())
}
