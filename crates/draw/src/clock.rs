//! Times on an axis: seconds, minutes or hours, by how long the whole of it is.

use calc::units::shown_plain;

/// Up to this a time is written in seconds, and beyond that in hours, s.
const IN_SECONDS_S: f64 = 180.0;
const IN_MINUTES_S: f64 = 36_000.0;

/// A time as it is written.
#[derive(Clone, Copy)]
pub(crate) struct Clock {
    s: f64,
    /// Its unit.
    pub unit: &'static str,
}

impl Clock {
    /// For times up to `end_s`.
    pub const fn up_to(end_s: f64) -> Self {
        match end_s {
            _ if end_s > IN_MINUTES_S => Self { s: 3600.0, unit: "h" },
            _ if end_s > IN_SECONDS_S => Self { s: 60.0, unit: "min" },
            _ => Self { s: 1.0, unit: "s" },
        }
    }

    /// The figure of a time.
    pub fn of(&self, t_s: f64) -> f64 {
        t_s / self.s
    }

    /// As it is written, without its unit.
    pub fn bare(&self, t_s: f64) -> String {
        shown_plain(self.of(t_s), if self.unit == "h" { 1 } else { 0 })
    }

    /// As it is written.
    pub fn words(&self, t_s: f64) -> String {
        format!("{} {}", self.bare(t_s), self.unit)
    }
}
