//! The inputs of a formula as a request writes them: a number, or a value with its spread given by `u` or by its half width.
//!
//! Half widths become standard uncertainties here, so that all else sees one kind of quantity.
//! Source: JCGM 100:2008 4.3 (rectangular w/√3, triangular w/√6, arcsine w/√2), JCGM 101:2008 6.4.3 (curvilinear trapezoid).

use serde_json::{Map, Value};

use super::formula::can_be_named;
use crate::keys::{Given, nearest, shown};
use crate::math::sq;
use crate::quantity::{Quantity, Shape};
use crate::refused::Refused;

/// A named quantity that a formula is made of.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// Its name in the formula.
    pub name: String,
    /// Its value, standard uncertainty, degrees of freedom and shape.
    pub quantity: Quantity,
    /// Set where its ends are themselves uncertain; `quantity.u` then is √(w²/3 + d²/9).
    pub trapezoid: Option<Trapezoid>,
}

/// A rectangle whose half width w is only known within ± d.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trapezoid {
    /// w.
    pub half_width: f64,
    /// d, from 0 to w.
    pub edge: f64,
}

impl Input {
    /// A number without uncertainty.
    pub fn exact(name: impl Into<String>, value: f64) -> Self {
        Self::of(name, Quantity::exact(value))
    }

    /// A quantity with a plain shape.
    pub fn of(name: impl Into<String>, quantity: Quantity) -> Self {
        Self { name: name.into(), quantity, trapezoid: None }
    }

    /// Whether it moves at all.
    pub fn is_uncertain(&self) -> bool {
        self.quantity.u > 0.0
    }
}

/// Reads the object at `inputs`.
pub fn read(given: &Given) -> Result<Vec<Input>, Refused> {
    let map = given.raw("inputs").and_then(Value::as_object);
    let map =
        map.ok_or_else(|| given.refuse("inputs", "an object: name -> number or quantity", "write {\"name\": {\"value\": .., \"u\": ..}}"))?;
    map.iter().map(|(name, value)| read_one(name, value)).collect()
}

fn read_one(name: &str, value: &Value) -> Result<Input, Refused> {
    let path = format!("inputs.{name}");
    if !can_be_named(name) {
        let allowed = "a name of letters, digits and _ that starts with a letter and is no function, as in t_bush";
        return Err(Refused::new(path, "a name that no formula can use", allowed, "give it another name, here and in the formula"));
    }
    if let Some(number) = value.as_f64() {
        return Ok(Input::exact(name, number));
    }
    let map = value.as_object().ok_or_else(|| {
        Refused::new(
            &path,
            shown(value),
            "a number, or {\"value\", \"u\"}",
            "give its value, and its standard uncertainty where it has one",
        )
    })?;
    let parts = Parts { path, map };
    parts.check_names()?;
    parts.input(name)
}

const PARTS: &[&str] = &["value", "u", "dof", "shape", "half_width", "edge"];
const SHAPES: &[&str] = &["normal", "rectangular", "triangular", "arcsine", "t", "curvilinear trapezoid"];

struct Parts<'v> {
    path: String,
    map: &'v Map<String, Value>,
}

impl Parts<'_> {
    fn check_names(&self) -> Result<(), Refused> {
        let Some(unknown) = self.map.keys().find(|key| !PARTS.contains(&key.as_str())) else {
            return Ok(());
        };
        let near = nearest(unknown, PARTS.iter().copied());
        let remedy = near.map_or_else(|| "take it out".to_owned(), |near| format!("write {near}, or take it out"));
        Err(Refused::new(format!("{}.{unknown}", self.path), "an unknown key", PARTS.join(", "), remedy))
    }

    fn given(&self, part: &str) -> Option<&Value> {
        self.map.get(part).filter(|value| !value.is_null())
    }

    fn refuse(&self, part: &str, allowed: impl Into<String>, remedy: &str) -> Refused {
        let given = self.given(part).map_or_else(|| "missing".to_owned(), shown);
        Refused::new(format!("{}.{part}", self.path), given, allowed, remedy)
    }

    /// The number at `part`, where it is given and `fits`.
    fn number(&self, part: &str, fits: impl Fn(f64) -> bool, allowed: &str) -> Result<Option<f64>, Refused> {
        let Some(value) = self.given(part) else { return Ok(None) };
        let number = value.as_f64().filter(|x| x.is_finite() && fits(*x));
        number.map(Some).ok_or_else(|| self.refuse(part, allowed, "correct it"))
    }

    fn input(&self, name: &str) -> Result<Input, Refused> {
        let missing = || self.refuse("value", "a finite number", "give the value of this input");
        let value = self.number("value", |_| true, "a finite number")?.ok_or_else(missing)?;
        let u = self.number("u", |u| u >= 0.0, "a standard uncertainty of 0 or more")?;
        let dof = self.number("dof", |dof| dof > 0.0, "degrees of freedom over 0")?;
        let half_width = self.number("half_width", |w| w >= 0.0, "a half width of 0 or more")?;
        let edge = self.number("edge", |d| d >= 0.0, "a number of 0 or more")?;
        let word = self.shape_word()?;
        if edge.is_some() && word != Some("curvilinear trapezoid") {
            return Err(self.refuse("edge", "only with the shape curvilinear trapezoid", "give that shape, or take edge out"));
        }
        if half_width.is_some() && u.is_some() {
            return Err(self.refuse("half_width", "u or half_width, not both", "take one of them out"));
        }
        if word == Some("curvilinear trapezoid") {
            return self.trapezoid(name, value, dof, half_width, edge);
        }
        if word == Some("t") && dof.is_none() {
            return Err(self.refuse("dof", "degrees of freedom over 0, with the shape t", "give the number of readings less one"));
        }
        let mut shape = word.and_then(Shape::named);
        let u = match half_width {
            None => u.unwrap_or(0.0),
            Some(w) => {
                // Ends and nothing else known: rectangular (JCGM 100:2008, 4.3.7).
                let known = *shape.get_or_insert(Shape::Rectangular);
                w / self.half_widths_in_u(known)?.sqrt()
            }
        };
        Ok(Input::of(name, Quantity { value, u, dof, shape }))
    }

    fn half_widths_in_u(&self, shape: Shape) -> Result<f64, Refused> {
        match shape {
            Shape::Rectangular => Ok(3.0),
            Shape::Triangular => Ok(6.0),
            Shape::Arcsine => Ok(2.0),
            Shape::Normal | Shape::T => {
                let allowed = "a shape that has ends: rectangular, triangular, arcsine, curvilinear trapezoid";
                Err(self.refuse("half_width", allowed, "give u instead, or the shape that the ends belong to"))
            }
        }
    }

    fn shape_word(&self) -> Result<Option<&str>, Refused> {
        let Some(value) = self.given("shape") else { return Ok(None) };
        let word = value.as_str();
        if let Some(known) = word.filter(|word| SHAPES.contains(word)) {
            return Ok(Some(known));
        }
        let near = word.and_then(|word| nearest(word, SHAPES.iter().copied()));
        let remedy = near.map_or_else(|| "choose one of them".to_owned(), |near| format!("write {near:?}"));
        Err(self.refuse("shape", SHAPES.join(", "), &remedy))
    }

    fn trapezoid(&self, name: &str, value: f64, dof: Option<f64>, w: Option<f64>, d: Option<f64>) -> Result<Input, Refused> {
        if self.given("u").is_some() {
            return Err(self.refuse("u", "half_width and edge, with the shape curvilinear trapezoid", "give these instead of u"));
        }
        let half_width = w.ok_or_else(|| self.refuse("half_width", "a half width of 0 or more", "give the half width"))?;
        let allowed = format!("a number from 0 to {half_width}, the half width");
        let edge = d.filter(|d| *d <= half_width).ok_or_else(|| self.refuse("edge", allowed, "give by how much each end is uncertain"))?;
        let u = (sq(half_width) / 3.0 + sq(edge) / 9.0).sqrt();
        let quantity = Quantity { value, u, dof, shape: Some(Shape::Rectangular) };
        Ok(Input { name: name.to_owned(), quantity, trapezoid: Some(Trapezoid { half_width, edge }) })
    }
}
