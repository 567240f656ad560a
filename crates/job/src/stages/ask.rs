//! Asking `calc` on behalf of a stage, and reading what it said.
//!
//! A stage never calculates: it builds a request from what is known, asks, and puts the answer into words. Requests that are the same
//! for several seats are asked once.

use std::collections::HashMap;
use std::rc::Rc;

use calc::crew::Crew;
use calc::quantity::{Quantity, Shape};
use calc::refused::Refused;
use serde_json::{Map, Value, json};

/// Who asks, with the answers so far.
pub struct Asking<'c> {
    crew: &'c dyn Crew,
    with_working: bool,
    at_once: bool,
    left_out: bool,
    tried: bool,
    look: u64,
    known: HashMap<(String, String), Known>,
}

/// An answer that was found.
struct Known {
    answer: Result<Rc<Value>, Refused>,
    /// The look at which it was last wanted.
    last: u64,
    /// It was only wanted for what was tried.
    tried: bool,
}

/// An answer that so many looks did not want is forgotten: a row of sixty seats, looked through from end to end and back, wants each again.
const LOOKS_KEPT: u64 = 300;
/// The same for what was only tried: to and fro between a few values.
const TRIALS_KEPT: u64 = 8;

impl<'c> Asking<'c> {
    /// Asks with these hands; `with_working` keeps the derivations.
    pub fn new(crew: &'c dyn Crew, with_working: bool) -> Self {
        Self { crew, with_working, at_once: false, left_out: false, tried: false, look: 0, known: HashMap::new() }
    }

    /// The answer to `request` of `kind`: found now, or found before for the same request.
    pub fn answer(&mut self, kind: &str, request: &Value) -> Result<Said, Refused> {
        let (crew, with_working) = (self.crew, self.with_working);
        let key = (kind.to_owned(), request.to_string());
        let found = || Known { answer: calc::answer(kind, request, crew, with_working).map(Rc::new), last: 0, tried: true };
        let known = self.known.entry(key).or_insert_with(found);
        known.last = self.look;
        known.tried &= self.tried;
        known.answer.clone().map(Said)
    }
}

impl Asking<'_> {
    /// Begins a look: at what is recorded, or at what is `tried`; `at_once`: what takes finite elements is left out, and said to be on its
    /// way. What was found so far stays known for some looks.
    pub fn look(&mut self, tried: bool, at_once: bool) {
        (self.tried, self.at_once, self.left_out) = (tried, at_once, false);
        self.look += 1;
        let look = self.look;
        self.known.retain(|_, known| look - known.last <= if known.tried { TRIALS_KEPT } else { LOOKS_KEPT });
    }

    /// Whether something was left out since [`Asking::look`].
    pub fn left_out(&self) -> bool {
        self.left_out
    }

    /// Whether this is left out now, as what takes finite elements; what is known already is not.
    pub(super) fn leaves_out(&mut self, kind: &str, request: &Value) -> bool {
        let leaves = self.at_once && !self.known.contains_key(&(kind.to_owned(), request.to_string()));
        self.left_out |= leaves;
        leaves
    }

    /// The answer to a request whose answer is large and only kept for a drawing: not remembered for the next seat.
    pub fn large(&self, kind: &str, request: &Value) -> Result<Value, Refused> {
        calc::answer(kind, request, self.crew, self.with_working)
    }
}

/// An answer, read by dotted paths.
#[derive(Clone, Debug, Default)]
pub struct Said(Rc<Value>);

impl From<Value> for Said {
    fn from(value: Value) -> Self {
        Self(Rc::new(value))
    }
}

impl Said {
    /// The whole of it.
    pub fn whole(&self) -> &Value {
        &self.0
    }

    /// What stands at a dotted path.
    pub fn at(&self, path: &str) -> Option<&Value> {
        at(&self.0, path)
    }

    /// The number at `path`; of a quantity, its value.
    pub fn number(&self, path: &str) -> Option<f64> {
        let found = self.at(path)?;
        found.get("value").unwrap_or(found).as_f64()
    }

    /// The whole number at `path`, where it is one.
    pub fn count(&self, path: &str) -> Option<u64> {
        let found = self.number(path)?;
        (found >= 0.0 && found.fract() == 0.0 && found < 1e9).then_some(found as u64)
    }

    /// The quantity at `path`.
    pub fn quantity(&self, path: &str) -> Option<Quantity> {
        let found = self.at(path)?;
        let u = found.get("u").and_then(Value::as_f64).unwrap_or(0.0);
        let dof = found.get("dof").and_then(Value::as_f64);
        Some(Quantity { value: self.number(path)?, u, dof, shape: None })
    }

    /// The text at `path`.
    pub fn text(&self, path: &str) -> Option<&str> {
        self.at(path)?.as_str()
    }

    /// The flag at `path`; false when there is none.
    pub fn flag(&self, path: &str) -> bool {
        self.at(path).and_then(Value::as_bool).unwrap_or(false)
    }

    /// The texts at `path`; a single text counts as a list of one.
    pub fn texts(&self, path: &str) -> Vec<String> {
        match self.at(path) {
            Some(Value::Array(list)) => list.iter().filter_map(Value::as_str).map(str::to_owned).collect(),
            Some(Value::String(text)) => vec![text.clone()],
            _ => Vec::new(),
        }
    }

    /// The list at `path`, each item to be read in turn.
    pub fn list(&self, path: &str) -> Vec<Said> {
        self.at(path).and_then(Value::as_array).map(|list| list.iter().cloned().map(Said::from).collect()).unwrap_or_default()
    }
}

fn at<'v>(value: &'v Value, path: &str) -> Option<&'v Value> {
    let found = path.split('.').try_fold(value, |value, part| match value {
        Value::Array(list) => list.get(part.parse::<usize>().ok()?),
        Value::Object(map) => map.get(part),
        _ => None,
    });
    found.filter(|found| !found.is_null())
}

/// A quantity as a request takes it: a plain number while nothing is uncertain.
pub fn quantity(quantity: Quantity) -> Value {
    if quantity.u == 0.0 {
        return json!(quantity.value);
    }
    let mut map = Map::new();
    map.insert("value".into(), json!(quantity.value));
    map.insert("u".into(), json!(quantity.u));
    // A t with hardly any degrees of freedom has no spread to draw from: such a u was pooled, and is taken as normal.
    if let Some(dof) = quantity.dof.filter(|dof| *dof > 2.0) {
        map.insert("dof".into(), json!(dof));
    }
    if let Some(shape) = quantity.shape {
        let word = match shape {
            Shape::Normal => "normal",
            Shape::Rectangular => "rectangular",
            Shape::Triangular => "triangular",
            Shape::Arcsine => "arcsine",
            Shape::T => "t",
        };
        map.insert("shape".into(), json!(word));
    }
    Value::Object(map)
}

/// A request from pairs, those without a value left out.
pub fn request<const N: usize>(pairs: [(&str, Option<Value>); N]) -> Value {
    let mut map = Map::new();
    for (name, value) in pairs {
        if let Some(value) = value {
            map.insert(name.into(), value);
        }
    }
    Value::Object(map)
}

#[cfg(test)]
mod tests {
    use calc::crew::Alone;

    use super::*;

    fn ask(asking: &mut Asking, outside: f64) {
        let request = json!({"bush": {"outside_mm": outside}});
        let _ = asking.answer("press", &request);
    }

    #[test]
    fn what_was_only_tried_is_forgotten_soon_and_what_is_recorded_is_kept() {
        let mut asking = Asking::new(&Alone, false);
        asking.look(false, true);
        ask(&mut asking, 100.0);
        for trial in 1..=50 {
            asking.look(true, true);
            ask(&mut asking, 100.0);
            ask(&mut asking, 100.0 + f64::from(trial));
        }
        let recorded = json!({"bush": {"outside_mm": 100.0}}).to_string();
        assert!(asking.known.contains_key(&("press".to_owned(), recorded)));
        assert_eq!(asking.known.len(), 2 + TRIALS_KEPT as usize);
        for _ in 0..=LOOKS_KEPT {
            asking.look(false, true);
        }
        assert_eq!(asking.known.len(), 0);
    }

    #[test]
    fn a_first_look_owes_what_is_not_known_yet() {
        let request = json!({"bush": {"outside_mm": 100.0}});
        let mut asking = Asking::new(&Alone, false);
        asking.look(true, true);
        assert!(asking.leaves_out("fit-shape", &request) && asking.left_out());
        asking.look(true, false);
        assert!(!asking.leaves_out("fit-shape", &request) && !asking.left_out());
        let _ = asking.answer("fit-shape", &request);
        asking.look(true, true);
        assert!(!asking.leaves_out("fit-shape", &request) && !asking.left_out(), "what is known is not left out");
    }
}
