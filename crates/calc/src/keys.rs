//! The keys of a request: what may be given, in which unit and range, and the reading of a request by that table.
//!
//! One table a kind serves four ends: requests are checked by it, read by it, `--keys` prints it, the handbook lists it.
//! Everything that a table can say is checked at the door by [`Given::new`]: unknown keys (with the nearest known one), missing
//! keys, wrong types, values that are not finite or out of range. What needs two keys to judge is checked by the calculation.

use serde_json::{Map, Value};

use crate::quantity::{Quantity, Shape};
use crate::refused::Refused;

/// The numbers that a key allows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// The lower end itself is not allowed.
    pub low_open: bool,
    /// The upper end itself is not allowed.
    pub high_open: bool,
}

/// No size, force or time of this trade is larger: beyond it a number is a slip.
const LARGEST: f64 = 1e12;

impl Range {
    /// Any number of a size that this trade knows.
    pub const ANY: Self = Self { low: -LARGEST, high: LARGEST, low_open: false, high_open: false };
    /// `low` and more.
    pub const fn at_least(low: f64) -> Self {
        Self { low, ..Self::ANY }
    }
    /// More than `low`.
    pub const fn over(low: f64) -> Self {
        Self { low, low_open: true, ..Self::ANY }
    }
    /// From `low` to `high`, both allowed.
    pub const fn within(low: f64, high: f64) -> Self {
        Self { low, high, low_open: false, high_open: false }
    }
    /// The same with `high` as its largest allowed value.
    pub const fn to(self, high: f64) -> Self {
        Self { high, high_open: false, ..self }
    }
    /// The same, ending just under `high`.
    pub const fn under(self, high: f64) -> Self {
        Self { high, high_open: true, ..self }
    }
    /// Whether `x` is a finite number in the range.
    pub fn has(&self, x: f64) -> bool {
        let above = if self.low_open { x > self.low } else { x >= self.low };
        let below = if self.high_open { x < self.high } else { x <= self.high };
        x.is_finite() && above && below
    }
}

impl std::fmt::Display for Range {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let no_low = self.low <= -LARGEST;
        let no_high = self.high >= LARGEST;
        match (no_low, no_high) {
            (true, true) => write!(f, "a finite number"),
            (false, true) if self.low_open => write!(f, "a number over {}", self.low),
            (false, true) => write!(f, "a number of {} or more", self.low),
            (true, false) if self.high_open => write!(f, "a number under {}", self.high),
            (true, false) => write!(f, "a number of {} or less", self.high),
            (false, false) => write!(
                f,
                "a number {} {} {} {}",
                if self.low_open { "over" } else { "from" },
                self.low,
                if self.high_open { "and under" } else { "to" },
                self.high
            ),
        }
    }
}

/// What stands at a key.
#[derive(Clone, Copy, Debug)]
pub enum Form {
    /// A number. A quantity is taken too, by its value.
    Number(Range),
    /// A number, or `{"value", "u", "dof", "shape"}`; the range is that of the value.
    Quantity(Range),
    /// A whole number.
    Whole(Range),
    /// One of these words.
    Word(&'static [&'static str]),
    /// Any text.
    Text,
    /// true or false.
    Flag,
    /// A list of numbers.
    Numbers(Range),
    /// A list of texts.
    Texts,
    /// An object with keys of its own.
    Record(&'static [Key]),
    /// A list of such objects.
    Records(&'static [Key]),
    /// Anything: the calculation reads it itself (help says what).
    Raw,
}

/// One key of a request.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// Its name; the unit is its last part.
    pub name: &'static str,
    /// What stands there.
    pub form: Form,
    /// Refused without it.
    pub needed: bool,
    /// What is taken when it is not given, in words for `--keys`.
    pub default: &'static str,
    /// What it means, in a few words.
    pub help: &'static str,
}

impl Key {
    const fn of(name: &'static str, form: Form, help: &'static str) -> Self {
        Self { name, form, needed: false, default: "", help }
    }
    /// A number in `range`.
    pub const fn number(name: &'static str, range: Range, help: &'static str) -> Self {
        Self::of(name, Form::Number(range), help)
    }
    /// A quantity whose value is in `range`.
    pub const fn quantity(name: &'static str, range: Range, help: &'static str) -> Self {
        Self::of(name, Form::Quantity(range), help)
    }
    /// A whole number in `range`.
    pub const fn whole(name: &'static str, range: Range, help: &'static str) -> Self {
        Self::of(name, Form::Whole(range), help)
    }
    /// One of `words`.
    pub const fn word(name: &'static str, words: &'static [&'static str], help: &'static str) -> Self {
        Self::of(name, Form::Word(words), help)
    }
    /// Any text.
    pub const fn text(name: &'static str, help: &'static str) -> Self {
        Self::of(name, Form::Text, help)
    }
    /// true or false.
    pub const fn flag(name: &'static str, help: &'static str) -> Self {
        Self::of(name, Form::Flag, help)
    }
    /// A list of numbers in `range`.
    pub const fn numbers(name: &'static str, range: Range, help: &'static str) -> Self {
        Self::of(name, Form::Numbers(range), help)
    }
    /// A list of texts.
    pub const fn texts(name: &'static str, help: &'static str) -> Self {
        Self::of(name, Form::Texts, help)
    }
    /// An object.
    pub const fn record(name: &'static str, keys: &'static [Key], help: &'static str) -> Self {
        Self::of(name, Form::Record(keys), help)
    }
    /// A list of objects.
    pub const fn records(name: &'static str, keys: &'static [Key], help: &'static str) -> Self {
        Self::of(name, Form::Records(keys), help)
    }
    /// Anything; the calculation reads it itself.
    pub const fn raw(name: &'static str, help: &'static str) -> Self {
        Self::of(name, Form::Raw, help)
    }
    /// The same key, refused when missing.
    pub const fn needed(self) -> Self {
        Self { needed: true, ..self }
    }
    /// The same key with its default in words.
    pub const fn default(self, default: &'static str) -> Self {
        Self { default, ..self }
    }
}

/// Two tables of keys as one: `N` is the sum of their lengths, and the build stops where it is not.
pub const fn joined<const N: usize>(first: &[Key], second: &[Key]) -> [Key; N] {
    assert!(N == first.len() + second.len(), "N is the number of keys of both tables");
    let mut keys = [first[0]; N];
    let mut i = 0;
    while i < N {
        keys[i] = if i < first.len() { first[i] } else { second[i - first.len()] };
        i += 1;
    }
    keys
}

/// One key of an answer.
#[derive(Clone, Copy, Debug)]
pub struct Told {
    /// Its dotted path; the unit is the last part of the name.
    pub path: &'static str,
    /// What it means, in a few words, with when it is null.
    pub help: &'static str,
}

/// A request, or an object inside one, that its table has checked: reading it can't fail.
#[derive(Clone, Debug)]
pub struct Given<'a> {
    path: String,
    keys: &'static [Key],
    map: &'a Map<String, Value>,
}

impl<'a> Given<'a> {
    /// Checks `value` by `keys`, at every depth.
    pub fn new(keys: &'static [Key], value: &'a Value) -> Result<Self, Refused> {
        let Some(map) = value.as_object() else {
            return Err(Refused::new("", shown(value), "a JSON object", "write { .. } with the keys that `--keys` lists"));
        };
        let given = Self { path: String::new(), keys, map };
        given.check()?;
        Ok(given)
    }

    fn check(&self) -> Result<(), Refused> {
        for name in self.map.keys() {
            if !self.keys.iter().any(|key| key.name == name) {
                return Err(self.unknown(name));
            }
        }
        for key in self.keys {
            match self.map.get(key.name) {
                Some(value) if !value.is_null() => check_form(&self.path_of(key.name), key, value)?,
                _ if key.needed => {
                    let allowed = allowed_by(&key.form);
                    return Err(Refused::new(self.path_of(key.name), "missing", allowed, format!("give {}", key.help)));
                }
                _ => {}
            }
        }
        Ok(())
    }

    fn unknown(&self, name: &str) -> Refused {
        let known = self.keys.iter().map(|key| key.name);
        let remedy = match nearest(name, known.clone()) {
            Some(near) => format!("write {near}, or take it out"),
            None => "take it out".to_owned(),
        };
        Refused::new(self.path_of(name), "an unknown key", known.collect::<Vec<_>>().join(", "), remedy)
    }

    /// The dotted path of `name` in the whole request.
    pub fn path_of(&self, name: &str) -> String {
        if self.path.is_empty() { name.to_owned() } else { format!("{}.{name}", self.path) }
    }

    /// Refuses what stands at `name`, for a reason that the table could not know.
    pub fn refuse(&self, name: &str, allowed: impl Into<String>, remedy: impl Into<String>) -> Refused {
        let given = self.map.get(name).map_or_else(|| "missing".to_owned(), shown);
        Refused::new(self.path_of(name), given, allowed, remedy)
    }

    /// Whether `name` was given (null counts as not given).
    pub fn has(&self, name: &str) -> bool {
        self.raw(name).is_some()
    }

    /// What stands at `name`, as it was written.
    pub fn raw(&self, name: &str) -> Option<&'a Value> {
        self.map.get(name).filter(|value| !value.is_null())
    }

    /// The number at `name`; of a quantity, its value.
    pub fn number(&self, name: &str) -> Option<f64> {
        self.quantity(name).map(|quantity| quantity.value)
    }

    /// The number at `name`, or `default`.
    pub fn number_or(&self, name: &str, default: f64) -> f64 {
        self.number(name).unwrap_or(default)
    }

    /// The number at `name`; refused when it is missing.
    pub fn need_number(&self, name: &str) -> Result<f64, Refused> {
        self.need_quantity(name).map(|quantity| quantity.value)
    }

    /// The quantity at `name`.
    pub fn quantity(&self, name: &str) -> Option<Quantity> {
        self.raw(name).and_then(|value| read_quantity(value).ok())
    }

    /// The quantity at `name`, or `default` as an exact number.
    pub fn quantity_or(&self, name: &str, default: f64) -> Quantity {
        self.quantity(name).unwrap_or(Quantity::exact(default))
    }

    /// The quantity at `name`; refused when it is missing.
    pub fn need_quantity(&self, name: &str) -> Result<Quantity, Refused> {
        self.quantity(name).ok_or_else(|| self.missing(name))
    }

    /// The whole number at `name`, or `default`.
    pub fn whole_or(&self, name: &str, default: u64) -> u64 {
        self.raw(name).and_then(whole).unwrap_or(default)
    }

    /// The word at `name`.
    pub fn word(&self, name: &str) -> Option<&'a str> {
        self.raw(name).and_then(Value::as_str)
    }

    /// The word at `name`, or `default`.
    pub fn word_or(&self, name: &str, default: &'a str) -> &'a str {
        self.word(name).unwrap_or(default)
    }

    /// The word at `name`; refused when it is missing.
    pub fn need_word(&self, name: &str) -> Result<&'a str, Refused> {
        self.word(name).ok_or_else(|| self.missing(name))
    }

    /// The flag at `name`, or `default`.
    pub fn flag_or(&self, name: &str, default: bool) -> bool {
        self.raw(name).and_then(Value::as_bool).unwrap_or(default)
    }

    /// The numbers at `name`; empty when not given.
    pub fn numbers(&self, name: &str) -> Vec<f64> {
        let list = self.raw(name).and_then(Value::as_array);
        list.map(|list| list.iter().filter_map(Value::as_f64).collect()).unwrap_or_default()
    }

    /// The texts at `name`; empty when not given.
    pub fn texts(&self, name: &str) -> Vec<&'a str> {
        let list = self.raw(name).and_then(Value::as_array);
        list.map(|list| list.iter().filter_map(Value::as_str).collect()).unwrap_or_default()
    }

    /// The object at `name`.
    pub fn record(&self, name: &str) -> Option<Given<'a>> {
        let keys = self.keys_of(name)?;
        let map = self.raw(name)?.as_object()?;
        Some(Given { path: self.path_of(name), keys, map })
    }

    /// The object at `name`; refused when it is missing.
    pub fn need_record(&self, name: &str) -> Result<Given<'a>, Refused> {
        self.record(name).ok_or_else(|| self.missing(name))
    }

    /// The objects at `name`; empty when not given.
    pub fn records(&self, name: &str) -> Vec<Given<'a>> {
        let (Some(keys), Some(list)) = (self.keys_of(name), self.raw(name).and_then(Value::as_array)) else {
            return Vec::new();
        };
        let path = self.path_of(name);
        let each = list.iter().enumerate().filter_map(|(i, value)| value.as_object().map(|map| (i, map)));
        each.map(|(i, map)| Given { path: format!("{path}.{i}"), keys, map }).collect()
    }

    fn keys_of(&self, name: &str) -> Option<&'static [Key]> {
        self.keys.iter().find(|key| key.name == name).and_then(|key| match key.form {
            Form::Record(keys) | Form::Records(keys) => Some(keys),
            _ => None,
        })
    }

    fn missing(&self, name: &str) -> Refused {
        let key = self.keys.iter().find(|key| key.name == name);
        let allowed = key.map_or_else(String::new, |key| allowed_by(&key.form));
        let help = key.map_or("it", |key| key.help);
        Refused::new(self.path_of(name), "missing", allowed, format!("give {help}"))
    }
}

fn check_form(path: &str, key: &Key, value: &Value) -> Result<(), Refused> {
    let wrong = || Refused::new(path, shown(value), allowed_by(&key.form), format!("give {}", key.help));
    match &key.form {
        Form::Number(range) | Form::Quantity(range) => {
            let quantity = read_quantity(value).map_err(|fault| fault.at(path, &key.form, key.help))?;
            if !range.has(quantity.value) {
                return Err(wrong());
            }
        }
        Form::Whole(range) => {
            let number = whole(value).ok_or_else(wrong)?;
            if !range.has(number as f64) {
                return Err(wrong());
            }
        }
        Form::Word(words) => {
            let word = value.as_str().ok_or_else(wrong)?;
            if !words.contains(&word) {
                let remedy =
                    nearest(word, words.iter().copied()).map_or_else(|| format!("give {}", key.help), |near| format!("write {near:?}"));
                return Err(Refused::new(path, shown(value), allowed_by(&key.form), remedy));
            }
        }
        Form::Text if !value.is_string() => return Err(wrong()),
        Form::Flag if !value.is_boolean() => return Err(wrong()),
        Form::Numbers(range) => {
            for (i, item) in value.as_array().ok_or_else(wrong)?.iter().enumerate() {
                if !item.as_f64().is_some_and(|x| range.has(x)) {
                    return Err(Refused::new(format!("{path}.{i}"), shown(item), range.to_string(), format!("give {}", key.help)));
                }
            }
        }
        Form::Texts => {
            if !value.as_array().ok_or_else(wrong)?.iter().all(Value::is_string) {
                return Err(wrong());
            }
        }
        Form::Record(keys) => {
            let map = value.as_object().ok_or_else(wrong)?;
            Given { path: path.to_owned(), keys, map }.check()?;
        }
        Form::Records(keys) => {
            for (i, item) in value.as_array().ok_or_else(wrong)?.iter().enumerate() {
                let map = item.as_object().ok_or_else(wrong)?;
                Given { path: format!("{path}.{i}"), keys, map }.check()?;
            }
        }
        Form::Text | Form::Flag | Form::Raw => {}
    }
    Ok(())
}

/// What is wrong with a written quantity, before it is known where it stands.
pub struct QuantityFault {
    part: String,
    given: String,
    allowed: String,
}

impl QuantityFault {
    fn at(self, path: &str, form: &Form, help: &str) -> Refused {
        let key = if self.part.is_empty() { path.to_owned() } else { format!("{path}.{}", self.part) };
        let allowed = if self.allowed.is_empty() { allowed_by(form) } else { self.allowed };
        Refused::new(key, self.given, allowed, format!("give {help}"))
    }
}

/// Reads a number or `{"value", "u", "dof", "shape"}`.
pub fn read_quantity(value: &Value) -> Result<Quantity, QuantityFault> {
    let fault =
        |part: &str, given: &Value, allowed: &str| QuantityFault { part: part.into(), given: shown(given), allowed: allowed.into() };
    if let Some(number) = value.as_f64() {
        return Ok(Quantity::exact(number));
    }
    let map = value.as_object().ok_or_else(|| fault("", value, ""))?;
    let mut quantity = Quantity::exact(f64::NAN);
    for (name, part) in map {
        match name.as_str() {
            "value" => quantity.value = part.as_f64().ok_or_else(|| fault("value", part, "a finite number"))?,
            "u" => {
                quantity.u = part
                    .as_f64()
                    .filter(|u| (0.0..=LARGEST).contains(u))
                    .ok_or_else(|| fault("u", part, "a standard uncertainty of 0 or more"))?
            }
            "dof" if part.is_null() => {}
            "dof" => {
                let dof = part.as_f64().filter(|dof| *dof > 0.0).ok_or_else(|| fault("dof", part, "degrees of freedom over 0"))?;
                quantity.dof = Some(dof);
            }
            "shape" => {
                let shape = part.as_str().and_then(Shape::named);
                quantity.shape = Some(shape.ok_or_else(|| fault("shape", part, "normal, rectangular, triangular, arcsine, t"))?);
            }
            _ => return Err(QuantityFault { part: name.clone(), given: "an unknown key".into(), allowed: "value, u, dof, shape".into() }),
        }
    }
    if quantity.value.is_nan() {
        return Err(QuantityFault { part: "value".into(), given: "missing".into(), allowed: "a finite number".into() });
    }
    if quantity.shape == Some(Shape::T) && quantity.dof.is_none() {
        return Err(QuantityFault {
            part: "dof".into(),
            given: "missing".into(),
            allowed: "degrees of freedom over 0, with the shape t".into(),
        });
    }
    Ok(quantity)
}

fn whole(value: &Value) -> Option<u64> {
    value.as_u64().or_else(|| {
        let x = value.as_f64()?;
        // 1e6 is a whole number too; 2^53 is where f64 stops telling neighbours apart.
        (x >= 0.0 && x.fract() == 0.0 && x <= 9_007_199_254_740_992.0).then_some(x as u64)
    })
}

/// What a form allows, in words.
pub fn allowed_by(form: &Form) -> String {
    match form {
        Form::Number(range) => range.to_string(),
        Form::Quantity(range) => format!("{range}, or {{\"value\", \"u\"}}"),
        Form::Whole(range) => format!("{range}, whole"),
        Form::Word(words) => words.join(", "),
        Form::Text => "a text".into(),
        Form::Flag => "true or false".into(),
        Form::Numbers(range) => format!("a list, each {range}"),
        Form::Texts => "a list of texts".into(),
        Form::Record(keys) => format!("an object with {}", keys.iter().map(|key| key.name).collect::<Vec<_>>().join(", ")),
        Form::Records(keys) => format!("a list of objects with {}", keys.iter().map(|key| key.name).collect::<Vec<_>>().join(", ")),
        Form::Raw => "see its help".into(),
    }
}

/// A value as a refusal shows it: short, whatever was sent.
pub fn shown(value: &Value) -> String {
    let text = value.to_string();
    if text.chars().count() <= 60 { text } else { format!("{}..", text.chars().take(57).collect::<String>()) }
}

/// The known name that is nearest to `name`, if any is near enough to be meant.
pub fn nearest<'n>(name: &str, known: impl Iterator<Item = &'n str>) -> Option<&'n str> {
    let limit = 2.max(name.chars().count() / 3);
    let by_distance = known.map(|candidate| (distance(name, candidate), candidate));
    by_distance.min_by_key(|(distance, _)| *distance).filter(|(distance, _)| *distance <= limit).map(|(_, candidate)| candidate)
}

/// Edit distance (Levenshtein), letters of either case taken as equal.
fn distance(a: &str, b: &str) -> usize {
    let a: Vec<char> = a.to_lowercase().chars().take(80).collect();
    let b: Vec<char> = b.to_lowercase().chars().take(80).collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, y) in b.iter().enumerate() {
            let replaced = diagonal + usize::from(x != y);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

/// The unit that a key's name ends in; empty for a pure number, a word or a list.
pub fn unit_of(name: &str) -> &'static str {
    let last = name.rsplit('.').next().unwrap_or(name);
    UNITS.iter().find(|(suffix, _)| last.ends_with(suffix)).map_or("", |(_, unit)| unit)
}

/// Suffix and unit, the longer suffix first where one ends in another.
const UNITS: &[(&str, &str)] = &[
    ("_W_m2K", "W/(m² K)"),
    ("_W_mK", "W/(m K)"),
    ("_J_kgK", "J/(kg K)"),
    ("_J_m3K", "J/(m³ K)"),
    ("_MPa_m_s", "MPa m/s"),
    ("_per_kg", "1/kg"),
    ("_per_h", "1/h"),
    ("_per_min", "1/min"),
    ("_per_K", "1/K"),
    ("_kg_m3", "kg/m³"),
    ("_mm2_s", "mm²/s"),
    ("_mm2", "mm²"),
    ("_m2", "m²"),
    ("_m3", "m³"),
    ("_cm3", "cm³"),
    ("_m_min", "m/min"),
    ("_mm_rev", "mm/rev"),
    ("_l_min", "l/min"),
    ("_m_s", "m/s"),
    ("_mPas", "mPa s"),
    ("_mrad", "mrad"),
    ("_MPa", "MPa"),
    ("_GPa", "GPa"),
    ("_mm", "mm"),
    ("_um", "µm"),
    ("_in", "in"),
    ("_thou", "thou"),
    ("_kNm", "kN m"),
    ("_Nm", "N m"),
    ("_kN", "kN"),
    ("_N", "N"),
    ("_kJ", "kJ"),
    ("_kg", "kg"),
    ("_kW", "kW"),
    ("_W", "W"),
    ("_C", "°C"),
    ("_K", "K"),
    ("_deg", "°"),
    ("_min", "min"),
    ("_rpm", "rev/min"),
    ("_pct", "%"),
    ("_permille", "‰"),
    ("_ppm", "ppm"),
    ("_HB", "HB"),
    ("_s", "s"),
    ("_h", "h"),
    ("_L", "L"),
];
