//! What a server keeps beside the record: passwords, sessions, links. No entries, but under a checksum of their own.

use job::chain::Hash;
use sha2::{Digest, Sha256};

use crate::fault::Fault;
use crate::store::Aside;
use crate::{Ledger, offer};

/// No aside is longer.
const MOST_BYTES: usize = 64 * 1024;

/// The checksum of an aside of a shop: every part with its length before it.
pub(crate) fn sum(shop: &str, aside: &Aside) -> Hash {
    over(&[shop, &aside.kind, &aside.name, &aside.value], aside.until_s)
}

fn over(parts: &[&str], until_s: i64) -> Hash {
    let mut hash = Sha256::new();
    for part in parts {
        hash.update((part.len() as u64).to_be_bytes());
        hash.update(part);
    }
    hash.update(until_s.to_be_bytes());
    hash.finalize().into()
}

/// The aside of a shop, where it is as it was kept. The checksums of the first ledgers did not reach over the shop.
pub(crate) fn whole(shop: &str, aside: Aside, written: &[u8]) -> Result<Aside, Fault> {
    if sum(shop, &aside) == written || over(&[&aside.kind, &aside.name, &aside.value], aside.until_s) == written {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_checksum_reaches_over_the_shop_and_those_of_the_first_ledgers_are_still_known() {
        let account = || Aside { kind: "account".into(), name: "A. Turner".into(), value: "a hash".into(), until_s: i64::MAX };
        let now = sum("shop", &account());
        assert!(whole("shop", account(), &now).is_ok());
        assert!(matches!(whole("shoq", account(), &now), Err(Fault::Damaged(_))));
        let first = over(&["account", "A. Turner", "a hash"], i64::MAX);
        assert!(whole("shop", account(), &first).is_ok());
        assert!(matches!(whole("shop", Aside { value: "b hash".into(), ..account() }, &first), Err(Fault::Damaged(_))));
    }
}
