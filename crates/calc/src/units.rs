//! Millimetres and inches, and how many digits of a value are known: the one place where figures change their face.

/// Millimetres in an inch, exact. Source: the international inch, 1959.
pub const MM_PER_INCH: f64 = 25.4;
