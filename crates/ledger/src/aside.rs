//! What a server keeps beside the record: passwords, sessions, links. No entries, but under a checksum of their own.

use job::chain::Hash;
use sha2::{Digest, Sha256};

use crate::fault::Fault;
use crate::store::Aside;
use crate::{Ledger, offer};

/// No aside is longer.
const MOST_BYTES: usize = 64 * 1024;

/// The checksum of an aside: every part with its length before it.
pub(crate) fn sum(aside: &Aside) -> Hash {
    let mut hash = Sha256::new();
    for part in [&aside.kind, &aside.name, &aside.value] {
        hash.update((part.len() as u64).to_be_bytes());
        hash.update(part);
    }
    hash.update(aside.until_s.to_be_bytes());
    hash.finalize().into()
}

/// The aside, where it is as it was kept.
pub(crate) fn whole(aside: Aside, written: &[u8]) -> Result<Aside, Fault> {
    if sum(&aside) == written {
        return Ok(aside);
    }
    let Aside { kind, name, .. } = &aside;
    Err(Fault::Damaged(format!("the {kind} {name:?} is not as it was kept: it is not used; put back a backup from before")))
}

impl Ledger {
    /// Keeps something that is no entry, over an older one of its kind and name. Acknowledged when it is on disk.
    pub async fn put(&self, aside: Aside) -> Result<(), Fault> {
        fits(&aside)?;
        self.store.put(&self.shop, aside, true).await.map(drop)
    }

    /// Keeps it only when there is none of its kind and name; whether it was kept. Of two who try at once, one does.
    pub async fn put_new(&self, aside: Aside) -> Result<bool, Fault> {
        fits(&aside)?;
        self.store.put(&self.shop, aside, false).await
    }

    /// One of a kind. What is past its time is given too.
    pub async fn aside(&self, kind: &str, name: &str) -> Result<Option<Aside>, Fault> {
        if offer::short("name", name).is_err() {
            return Ok(None);
        }
        Ok(self.store.asides(&self.shop, kind, Some(name)).await?.pop())
    }

    /// All of a kind, by name.
    pub async fn asides(&self, kind: &str) -> Result<Vec<Aside>, Fault> {
        self.store.asides(&self.shop, kind, None).await
    }

    /// Drops one; whether it was there.
    pub async fn drop_aside(&self, kind: &str, name: &str) -> Result<bool, Fault> {
        if offer::short("name", name).is_err() {
            return Ok(false);
        }
        self.store.drop_aside(&self.shop, kind, name).await
    }
}

fn fits(aside: &Aside) -> Result<(), Fault> {
    offer::short("kind", &aside.kind)?;
    offer::short("name", &aside.name)?;
    if aside.value.len() > MOST_BYTES || aside.value.contains('\0') {
        let given = format!("{} bytes long", aside.value.len());
        return Err(calc::Refused::new("value", given, format!("{MOST_BYTES} bytes at most, no zero byte"), "keep less").into());
    }
    Ok(())
}
