//! The two workers: one answers at once with few draws, one with all of them; typing waits for neither.
//!
//! A worker has one errand at a time. What is asked meanwhile waits in a slot for its kind, and a newer wish takes the place of an older.

use std::cell::RefCell;
use std::rc::Rc;
use std::sync::Arc;

use job::entry::Entry;
use js_sys::Uint8Array;
use wasm_bindgen::prelude::*;
use web_sys::{MessageEvent, Worker, WorkerOptions, WorkerType};

use crate::errand::{Done, Errand};

/// What is to be done, apart from the number and the entries.
pub struct Wish {
    /// The entries.
    pub entries: Arc<Vec<Entry>>,
    /// The errand; its number and entries are filled in when it is sent.
    pub errand: Errand,
    /// Called with the answer.
    pub then: Box<dyn FnOnce(Done)>,
}

/// Which wish takes the place of which.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Slot {
    /// The seat as it is recorded.
    Recorded = 0,
    /// The seat with what is tried.
    Tried = 1,
    /// What the dialogue at the lathe starts from.
    Lathe = 2,
    /// What takes finite elements, once a person pauses.
    Shape = 3,
    /// Another seat of the job, for the overview.
    Other = 4,
}

/// A worker with its slots.
#[derive(Clone)]
pub struct Hand(Rc<RefCell<Inside>>);

struct Inside {
    worker: Option<Worker>,
    number: u64,
    lent: Option<Arc<Vec<Entry>>>,
    under_way: Option<Box<dyn FnOnce(Done)>>,
    slots: [Option<Wish>; 5],
}

impl Hand {
    /// Starts a worker.
    pub fn new() -> Self {
        let options = WorkerOptions::new();
        options.set_type(WorkerType::Module);
        let worker = Worker::new_with_options("/worker.js", &options).ok();
        let hand = Self(Rc::new(RefCell::new(Inside { worker, number: 0, lent: None, under_way: None, slots: Default::default() })));
        let heard = hand.clone();
        let answered = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| heard.answered(&event));
        if let Some(worker) = &hand.0.borrow().worker {
            worker.set_onmessage(Some(answered.as_ref().unchecked_ref()));
            // The page's own compiled app: compiled once more, it would take as long and as much memory again.
            let _ = worker.post_message(&wasm_bindgen::module());
        }
        answered.forget();
        hand
    }

    /// Asks for something; a waiting wish of the same slot is dropped.
    pub fn ask(&self, slot: Slot, wish: Wish) {
        if let Some(place) = self.0.borrow_mut().slots.get_mut(slot as usize) {
            *place = Some(wish);
        }
        self.next();
    }

    /// What waits in a slot is not wanted any more.
    pub fn drop_wish(&self, slot: Slot) {
        if let Some(place) = self.0.borrow_mut().slots.get_mut(slot as usize) {
            *place = None;
        }
    }

    /// Ends the worker: the screen that asked is put away, and nobody is left to hear an answer.
    pub fn end(&self) {
        let mut inside = self.0.borrow_mut();
        if let Some(worker) = inside.worker.take() {
            worker.terminate();
        }
        inside.under_way = None;
        inside.slots = Default::default();
    }

    fn next(&self) {
        let mut inside = self.0.borrow_mut();
        if inside.under_way.is_some() {
            return;
        }
        let Some(wish) = inside.slots.iter_mut().find_map(Option::take) else { return };
        inside.number += 1;
        let same = inside.lent.as_ref().is_some_and(|lent| Arc::ptr_eq(lent, &wish.entries));
        let entries = (!same).then(|| wish.entries.to_vec());
        inside.lent = Some(wish.entries);
        inside.under_way = Some(wish.then);
        let errand = Errand { number: inside.number, entries, ..wish.errand };
        if let Some(worker) = &inside.worker {
            let text = Uint8Array::from(serde_json::to_vec(&errand).unwrap_or_default().as_slice());
            let _ = worker.post_message_with_transfer(&text, &js_sys::Array::of1(&text.buffer()));
        }
    }

    fn answered(&self, event: &MessageEvent) {
        let text = event.data().dyn_into::<Uint8Array>().map(|text| text.to_vec()).unwrap_or_default();
        let done = serde_json::from_slice::<Done>(&text).ok();
        let then = self.0.borrow_mut().under_way.take();
        match (done, then) {
            (Some(done), Some(then)) => then(done),
            (None, _) => web_sys::console::error_1(&"an answer of a worker could not be read".into()),
            (Some(_), None) => {}
        }
        self.next();
    }
}
