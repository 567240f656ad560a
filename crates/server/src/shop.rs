//! What every request finds: the shops with their ledgers, the hands, the paper, and how the server was started.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};

use calc::crew::Crew;
use job::chain::Hash;
use job::entry::Entry;
use job::registers::Registers;
use ledger::{Fault, Ledger, REGISTERS, Turned};

use crate::desk::Desk;
use crate::papers::Papers;
use crate::refusal::Refusal;
use crate::rights::Right;

/// What an app is made of. [`crate::app`] makes the routes over it.
#[derive(Clone)]
pub struct Parts {
    /// The ledger of each shop that is served.
    pub ledgers: Vec<Ledger>,
    /// Sets documents.
    pub papers: Arc<dyn Papers>,
    /// The hands that calculations are lent.
    pub crew: Arc<dyn Crew + Send + Sync>,
    /// How the server stands in the network.
    pub standing: Standing,
}

/// How the server stands in the network.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Standing {
    /// Reached under TLS only: by its own certificate, or behind a proxy that has one.
    pub secure: bool,
    /// Behind a proxy, whose word about the address of a client is taken.
    pub behind_proxy: bool,
    /// The certificate authority of the shop's own network, where the server made one.
    pub authority: Option<Authority>,
}

/// A certificate authority that devices are to trust: its certificate, nothing secret.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Authority {
    /// The certificate in DER.
    pub der: Vec<u8>,
    /// Its SHA-256 fingerprint, in pairs with colons.
    pub fingerprint: String,
    /// It can vouch for these names and what ends in them, and for private addresses.
    pub names: Vec<String>,
}

/// The registers as they were folded last, by shop, with the hash of their last entry.
type Folded = BTreeMap<String, (Hash, Arc<People>)>;

/// The registers of a shop with the entries that they were folded from.
#[derive(Debug, Default)]
pub(crate) struct People {
    pub entries: Vec<Entry>,
    pub registers: Registers,
}

/// The app's state.
pub(crate) struct App {
    pub shops: BTreeMap<String, Ledger>,
    pub papers: Arc<dyn Papers>,
    pub desk: Desk,
    pub standing: Standing,
    pub turned: Turned,
    folded: Mutex<Folded>,
}

/// Who asks, as far as the server knows it.
#[derive(Clone, Debug)]
pub(crate) struct Signed {
    pub who: String,
    pub roles: Vec<String>,
    pub ledger: Ledger,
    /// The session's name in the store.
    pub session: String,
}

impl Signed {
    /// Refuses who lacks a right that only the body of the request tells.
    pub(crate) fn needs(&self, right: Right) -> Result<(), Refusal> {
        if right.is_of(&self.roles) { Ok(()) } else { Err(Refusal::lacks_right(&self.who, &self.roles, &right.words())) }
    }
}

/// The address that a request came from, as far as it is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct From {
    pub address: Option<IpAddr>,
    /// It came from the machine itself, and through nobody.
    pub near: bool,
}

impl App {
    pub(crate) fn new(parts: Parts) -> Self {
        let shops = parts.ledgers.into_iter().map(|ledger| (ledger.shop().to_owned(), ledger)).collect();
        Self {
            shops,
            papers: parts.papers,
            desk: Desk::new(parts.crew),
            standing: parts.standing,
            turned: Turned::default(),
            folded: Mutex::default(),
        }
    }

    /// The shop that is named; the one that there is when none is.
    pub(crate) fn shop(&self, named: Option<&str>) -> Result<&Ledger, Refusal> {
        match (named, self.shops.values().next()) {
            (Some(name), _) => self.shops.get(name).ok_or_else(|| Refusal::no_such("shop", name)),
            (None, Some(only)) if self.shops.len() == 1 => Ok(only),
            _ => Err(calc::Refused::new("shop", "missing", "the name of a shop of this server", "say which shop it is").into()),
        }
    }

    /// The registers of a shop, folded again only when there is a new entry.
    pub(crate) async fn people(&self, ledger: &Ledger) -> Result<Arc<People>, Fault> {
        let Some(head) = ledger.head(REGISTERS).await? else { return Ok(Arc::default()) };
        {
            let folded = self.folded.lock().unwrap_or_else(PoisonError::into_inner);
            if let Some((hash, people)) = folded.get(ledger.shop())
                && *hash == head.hash
            {
                return Ok(people.clone());
            }
        }
        let Some(checked) = ledger.job(REGISTERS).await? else { return Ok(Arc::default()) };
        let hash = checked.head.hash;
        let entries = checked.into_entries();
        let people = Arc::new(People { registers: job::fold::registers(&entries), entries });
        let mut folded = self.folded.lock().unwrap_or_else(PoisonError::into_inner);
        folded.insert(ledger.shop().to_owned(), (hash, people.clone()));
        Ok(people)
    }
}
