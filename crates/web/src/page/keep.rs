//! Entries on the browser's own disk (IndexedDB): what was written here, what the server brought, practice jobs.
//!
//! 1. An entry counts as kept when the transaction that holds it is complete, never before; the transaction asks for strict durability,
//!    so that a flat battery loses nothing that the screen showed as kept.
//! 2. What came back from the server leaves the pile in the same transaction that puts it into the chain.
//! 3. A fault of the disk is said in its own words; nothing is dropped silently.

use job::entry::{Entry, EntryId};
use job::kept::Kept;
use js_sys::{Array, Function, Object, Promise, Reflect};
use wasm_bindgen::prelude::*;
use wasm_bindgen_futures::JsFuture;
use web_sys::{IdbDatabase, IdbObjectStore, IdbTransaction};

use super::browser;

const NAME: &str = "bushwright";
const PILE: &str = "pile";
const KEPT: &str = "kept";
const PRACTICE: &str = "practice";

/// The browser's disk, open.
#[derive(Clone)]
pub struct Disk(IdbDatabase);

/// What was kept.
#[derive(Default)]
pub struct Found {
    /// Entries that the server has not confirmed, in the order of writing.
    pub pile: Vec<Entry>,
    /// Chains as the server brought them.
    pub kept: Vec<Kept>,
    /// Entries of practice jobs, in the order of writing.
    pub practice: Vec<Entry>,
}

/// What an error of the browser says.
pub fn words(fault: &JsValue) -> String {
    let text = Reflect::get(fault, &"message".into()).ok().and_then(|text| text.as_string()).filter(|text| !text.is_empty());
    let name = Reflect::get(fault, &"name".into()).ok().and_then(|text| text.as_string());
    text.or(name).unwrap_or_else(|| "the browser's storage failed".into())
}

impl Disk {
    /// Opens the browser's disk, and makes its stores the first time.
    pub async fn open() -> Result<Self, String> {
        let factory = browser::window().and_then(|window| window.indexed_db().ok()).flatten();
        let factory = factory.ok_or("this browser keeps nothing (private window?)")?;
        let request = factory.open_with_u32(NAME, 1).map_err(|fault| words(&fault))?;
        let made = request.clone();
        let upgrade = Closure::once_into_js(move || {
            if let Some(database) = made.result().ok().and_then(|result| result.dyn_into::<IdbDatabase>().ok()) {
                for store in [PILE, KEPT, PRACTICE] {
                    let _ = database.create_object_store(store);
                }
            }
        });
        request.set_onupgradeneeded(Some(upgrade.unchecked_ref()));
        let database = answer(request.unchecked_ref()).await?;
        Ok(Self(database.unchecked_into()))
    }

    /// Everything that is kept.
    pub async fn all(&self) -> Result<Found, String> {
        let transaction = self.transaction("readonly")?;
        let lines = |name: &'static str| {
            let store = transaction.object_store(name).map_err(|fault| words(&fault));
            async move {
                let request = store?.get_all().map_err(|fault| words(&fault))?;
                let rows: Array = answer(request.unchecked_ref()).await?.unchecked_into();
                let mut found: Vec<(f64, String)> = rows.iter().filter_map(row).collect();
                found.sort_by(|a, b| a.0.total_cmp(&b.0));
                Ok::<_, String>(found.into_iter().map(|(_, line)| line).collect::<Vec<String>>())
            }
        };
        let (pile, kept, practice) = (lines(PILE), lines(KEPT), lines(PRACTICE));
        let (pile, kept, practice) = (pile.await?, kept.await?, practice.await?);
        let entries = |lines: Vec<String>| lines.iter().filter_map(|line| serde_json::from_str(line).ok()).collect();
        Ok(Found {
            pile: entries(pile),
            kept: kept.iter().filter_map(|line| serde_json::from_str(line).ok()).collect(),
            practice: entries(practice),
        })
    }

    /// Keeps entries that were written here.
    pub async fn write(&self, entries: &[Entry], practice: bool) -> Result<(), String> {
        let transaction = self.transaction("readwrite")?;
        let store = store(&transaction, if practice { PRACTICE } else { PILE })?;
        for entry in entries {
            put(
                &store,
                &key_of(entry.id, if practice { &entry.job } else { "" }),
                next_order(),
                &serde_json::to_string(entry).unwrap_or_default(),
            )?;
        }
        complete(&transaction).await
    }

    /// Keeps what the server brought, and takes what came back off the pile.
    pub async fn bring(&self, kept: &[Kept]) -> Result<(), String> {
        if kept.is_empty() {
            return Ok(());
        }
        let transaction = self.transaction("readwrite")?;
        let (chains, pile) = (store(&transaction, KEPT)?, store(&transaction, PILE)?);
        for kept in kept {
            let key = format!("{}\u{1}{:012}", kept.entry.job, kept.number);
            put(&chains, &key, kept.number as f64, &serde_json::to_string(kept).unwrap_or_default())?;
            pile.delete(&key_of(kept.entry.id, "").into()).map_err(|fault| words(&fault))?;
        }
        complete(&transaction).await
    }

    /// Puts a job's chain back on the pile: the server has an older state of it.
    pub async fn start_over(&self, chain: &[Kept]) -> Result<(), String> {
        let transaction = self.transaction("readwrite")?;
        let (chains, pile) = (store(&transaction, KEPT)?, store(&transaction, PILE)?);
        for kept in chain {
            let key = format!("{}\u{1}{:012}", kept.entry.job, kept.number);
            chains.delete(&key.into()).map_err(|fault| words(&fault))?;
            put(&pile, &key_of(kept.entry.id, ""), next_order(), &serde_json::to_string(&kept.entry).unwrap_or_default())?;
        }
        complete(&transaction).await
    }

    /// Takes a practice job away.
    pub async fn forget(&self, entries: &[Entry]) -> Result<(), String> {
        let transaction = self.transaction("readwrite")?;
        let store = store(&transaction, PRACTICE)?;
        for entry in entries {
            store.delete(&key_of(entry.id, &entry.job).into()).map_err(|fault| words(&fault))?;
        }
        complete(&transaction).await
    }

    /// A transaction over all stores. One that writes is only complete when the disk says so: no library asks for that, so it is asked by hand.
    fn transaction(&self, mode: &str) -> Result<IdbTransaction, String> {
        let stores: Array = [PILE, KEPT, PRACTICE].into_iter().map(JsValue::from_str).collect();
        let options = Object::new();
        let make = || {
            Reflect::set(&options, &"durability".into(), &"strict".into())?;
            let function: Function = Reflect::get(&self.0, &"transaction".into())?.unchecked_into();
            function.call3(&self.0, &stores, &mode.into(), &options)
        };
        make().map(JsCast::unchecked_into).map_err(|fault: JsValue| words(&fault))
    }
}

fn store(transaction: &IdbTransaction, name: &str) -> Result<IdbObjectStore, String> {
    transaction.object_store(name).map_err(|fault| words(&fault))
}

fn key_of(id: EntryId, job: &str) -> String {
    if job.is_empty() { id.to_string() } else { format!("{job}\u{1}{id}") }
}

/// Grows with every entry of this device, also over reloads.
fn next_order() -> f64 {
    browser::moment().millis as f64
}

fn put(store: &IdbObjectStore, key: &str, order: f64, line: &str) -> Result<(), String> {
    let row = Array::of2(&order.into(), &line.into());
    store.put_with_key(&row, &key.into()).map(|_| ()).map_err(|fault| words(&fault))
}

fn row(row: JsValue) -> Option<(f64, String)> {
    let row: Array = row.dyn_into().ok()?;
    Some((row.get(0).as_f64()?, row.get(1).as_string()?))
}

/// The result of a request.
async fn answer(request: &web_sys::IdbRequest) -> Result<JsValue, String> {
    let promise = Promise::new(&mut |resolve, reject| {
        request.set_onsuccess(Some(&resolve));
        request.set_onerror(Some(&reject));
    });
    match JsFuture::from(promise).await {
        Ok(_) => request.result().map_err(|fault| words(&fault)),
        Err(_) => {
            let fault = request.error().ok().flatten();
            Err(fault.map_or_else(|| "the browser's storage can't be opened".into(), |fault| words(&fault)))
        }
    }
}

/// Waits until a transaction is on the disk.
async fn complete(transaction: &IdbTransaction) -> Result<(), String> {
    let promise = Promise::new(&mut |resolve, reject| {
        transaction.set_oncomplete(Some(&resolve));
        transaction.set_onabort(Some(&reject));
    });
    match JsFuture::from(promise).await {
        Ok(_) => Ok(()),
        Err(_) => Err(transaction.error().map_or_else(|| "the browser's disk is full or closed".into(), |fault| words(&fault))),
    }
}
