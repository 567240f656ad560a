//! The one table of all calculations: KIND -> request -> answer, and the reading of a request's text.
//!
//! Help, `--keys`, the handbook's list and the checks are made from it. Every way in (command line, job, screens) comes through
//! [`answer`], so that a figure cannot differ between them.

use serde::de::{Deserialize, DeserializeSeed, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};

use crate::crew::Crew;
use crate::keys::{Given, Key, Told, nearest};
use crate::refused::Refused;
use crate::working::Working;

/// What a calculation is lent for one request: somewhere to write its working, and hands.
pub struct Desk<'c> {
    /// Steps of the derivation, kept when they are wanted.
    pub working: Working,
    /// Hands for work that can be cut into blocks.
    pub crew: &'c dyn Crew,
}

/// The function of a kind: reads a checked request, answers with an object.
pub type Answering = fn(&Given, &mut Desk) -> Result<Value, Refused>;

/// One calculation that can be asked for.
#[derive(Clone, Copy)]
pub struct Kind {
    /// Its name on the command line and in JSON.
    pub name: &'static str,
    /// One line: the question that it answers.
    pub help: &'static str,
    /// The keys of a request.
    pub request: &'static [Key],
    /// The keys of an answer.
    pub answer: &'static [Told],
    /// A request that is answered, as JSON.
    pub example: &'static str,
    /// Answers a request; none while the kind is reserved and not built yet.
    pub run: Option<Answering>,
}

/// Every kind, in the order of the job.
pub const KINDS: &[Kind] = &[
    crate::uncertainty::KIND,
    crate::verdict::KIND,
    crate::measure::least_squares::KIND,
    crate::measure::repeatability::KIND,
    crate::measure::survey::KIND,
    crate::measure::spot::KIND,
    crate::measure::quantile::KIND,
    crate::measure::to_20::KIND,
    crate::measure::gauge_errors::GAUGE_ERRORS,
    crate::measure::gauge_errors::LOBES,
    crate::limits::KIND,
    crate::duty::KIND,
    crate::alloy::KIND,
    crate::fit::rings::KIND,
    crate::fit::choose::KIND,
    crate::fit::map::KIND,
    crate::fit::chance::KIND,
    crate::fit::shape::KIND,
    crate::fit::removal::KIND,
    crate::fit::retainer::KIND,
    crate::stock::KIND,
    crate::quote::KIND,
    crate::turn::cooldown::KIND,
    crate::turn::aim::KIND,
    crate::turn::next_cut::KIND,
    crate::turn::trials::KIND,
    crate::seat::cooling::KIND,
    crate::seat::room_air::KIND,
    crate::seat::heating::KIND,
    crate::seat::window::KIND,
    crate::seat::press::KIND,
    crate::run::viscosity::KIND,
    crate::run::film::KIND,
    crate::run::running::KIND,
    crate::run::clearance::KIND,
    crate::run::film_clearance::KIND,
    crate::run::groove::KIND,
];

/// The kind of that name, or a refusal that names the nearest.
pub fn kind(name: &str) -> Result<&'static Kind, Refused> {
    KINDS.iter().find(|kind| kind.name == name).ok_or_else(|| {
        let remedy = nearest(name, KINDS.iter().map(|kind| kind.name))
            .map_or_else(|| "choose one of them".to_owned(), |near| format!("write {near}"));
        Refused::new("kind", format!("{name:?}"), KINDS.iter().map(|kind| kind.name).collect::<Vec<_>>().join(", "), remedy)
    })
}

/// Answers one request: an object with the results, `warnings`, and `working` where it is wanted.
pub fn answer(name: &str, request: &Value, crew: &dyn Crew, with_working: bool) -> Result<Value, Refused> {
    let kind = kind(name)?;
    let Some(run) = kind.run else {
        return Err(Refused::new("kind", name, "a kind that is built", format!("ask again in a later version: {name} is not built yet")));
    };
    let given = Given::new(kind.request, request)?;
    let mut desk = Desk { working: Working::new(with_working), crew };
    let mut answer = run(&given, &mut desk)?;
    if let Some(map) = answer.as_object_mut() {
        map.entry("warnings").or_insert_with(|| Value::Array(Vec::new()));
        if with_working {
            let steps = serde_json::to_value(desk.working.steps()).unwrap_or_default();
            map.insert("working".into(), steps);
        }
    }
    Ok(answer)
}

/// Turns an answer struct into the JSON that is given back. A figure that may be absent is an `Option` and becomes null.
pub fn told(answer: &impl serde::Serialize) -> Result<Value, Refused> {
    serde_json::to_value(answer)
        .map_err(|fault| Refused::new("", fault, "a request whose answer is made of numbers", "check the sizes and units that were given"))
}

/// Reads the text of a request. Unlike a plain JSON reader it refuses a key that stands twice in one object.
pub fn read(text: &str) -> Result<Value, Refused> {
    let mut reader = serde_json::Deserializer::from_str(text);
    let value = Once.deserialize(&mut reader).and_then(|value| reader.end().map(|()| value));
    value.map_err(|fault| {
        Refused::new(
            "",
            format!("not readable as JSON ({fault})"),
            "one JSON object, each key once, finite numbers",
            "mend it at that place",
        )
    })
}

/// Builds a value, each key at most once.
struct Once;

impl<'de> DeserializeSeed<'de> for Once {
    type Value = Value;
    fn deserialize<D: serde::Deserializer<'de>>(self, reader: D) -> Result<Value, D::Error> {
        reader.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Once {
    type Value = Value;
    fn expecting(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        f.write_str("a JSON value")
    }
    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }
    fn visit_bool<E>(self, flag: bool) -> Result<Value, E> {
        Ok(Value::Bool(flag))
    }
    fn visit_u64<E>(self, number: u64) -> Result<Value, E> {
        Ok(number.into())
    }
    fn visit_i64<E>(self, number: i64) -> Result<Value, E> {
        Ok(number.into())
    }
    fn visit_f64<E>(self, number: f64) -> Result<Value, E> {
        Ok(number.into())
    }
    fn visit_str<E>(self, text: &str) -> Result<Value, E> {
        Ok(text.into())
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Value, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = list.next_element_seed(Once)? {
            items.push(item);
        }
        Ok(Value::Array(items))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Value, A::Error> {
        let mut map = Map::new();
        while let Some(name) = entries.next_key_seed(std::marker::PhantomData::<String>)? {
            if map.contains_key(&name) {
                return Err(serde::de::Error::custom(format!("the key {name:?} is given twice")));
            }
            let value = entries.next_value_seed(Once)?;
            map.insert(name, value);
        }
        Ok(Value::Object(map))
    }
}

/// Reads a value that is known to be plain JSON (an example of the table, an answer of ours).
pub fn plain(text: &str) -> Result<Value, Refused> {
    let mut reader = serde_json::Deserializer::from_str(text);
    Value::deserialize(&mut reader).map_err(|fault| Refused::new("", fault, "JSON", "mend it at that place"))
}
