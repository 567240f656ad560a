//! A value with its standard uncertainty, degrees of freedom and shape: how every measured number travels through `calc`.
//!
//! It leaves reading JSON to `keys` and propagation to `uncertainty`.
//! Source: JCGM 100:2008 (standard uncertainty, degrees of freedom), JCGM 101:2008 6.4 (shapes).

use serde::{Serialize, Serializer, ser::SerializeMap};

/// How the possible values of a quantity are spread about its value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Shape {
    /// Gauss.
    Normal,
    /// Even between value ± u√3.
    Rectangular,
    /// Triangle over value ± u√6.
    Triangular,
    /// U-shaped over value ± u√2 (a temperature that swings).
    Arcsine,
    /// Scaled and shifted t: value + u·t(dof).
    T,
}

impl Shape {
    /// The shape of that name, as requests write it.
    pub fn named(word: &str) -> Option<Self> {
        Some(match word {
            "normal" => Self::Normal,
            "rectangular" => Self::Rectangular,
            "triangular" => Self::Triangular,
            "arcsine" => Self::Arcsine,
            "t" => Self::T,
            _ => return None,
        })
    }
}

/// A value, its standard uncertainty `u` (0 when none was given) in the same unit, degrees of freedom and shape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantity {
    /// Best estimate.
    pub value: f64,
    /// One standard uncertainty, ≥ 0.
    pub u: f64,
    /// Degrees of freedom of `u`; none means infinitely many.
    pub dof: Option<f64>,
    /// The shape that was asked for; none means normal, or t where `dof` is given and draws are made.
    pub shape: Option<Shape>,
}

impl Quantity {
    /// A number that is taken as known.
    pub const fn exact(value: f64) -> Self {
        Self { value, u: 0.0, dof: None, shape: None }
    }

    /// A value with a normal standard uncertainty.
    pub const fn with_u(value: f64, u: f64) -> Self {
        Self { value, u, dof: None, shape: None }
    }

    /// The shape that draws are made from: a `dof` without a shape means a scaled t (JCGM 101, 6.4.9).
    pub fn drawn_shape(&self) -> Shape {
        self.shape.unwrap_or(if self.dof.is_some() { Shape::T } else { Shape::Normal })
    }
}

/// A figure of an answer: a plain number in JSON while nothing uncertain went in, else `{"value", "u"}`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// The figure.
    pub value: f64,
    /// Its standard uncertainty, where one is known.
    pub u: Option<f64>,
}

impl Figure {
    /// A figure without uncertainty.
    pub const fn plain(value: f64) -> Self {
        Self { value, u: None }
    }
}

impl Serialize for Figure {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.u {
            None => serializer.serialize_f64(self.value),
            Some(u) => {
                let mut map = serializer.serialize_map(Some(2))?;
                map.serialize_entry("value", &self.value)?;
                map.serialize_entry("u", &u)?;
                map.end()
            }
        }
    }
}
