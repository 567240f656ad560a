//! What a cold bath does to a bush: contraction, heat, coolant.
