//! Turning: the plan of the cuts.
