//! Figures as a person of the shop reads them, with their unit: sizes, small sizes, forces, stresses, temperatures, torques.
//!
//! The rounding is `units`' (two significant digits in the 95 % half-width, the value to the same place); this page adds which unit a
//! metric and an inch shop reads each kind of figure in. Only for showing: nothing is calculated from these texts.

use crate::distributions::student_quantile;
use crate::quantity::Quantity;
use crate::units::{
    F_from_C, MPA_PER_PSI, N_PER_POUND_FORCE, NM_PER_POUND_FORCE_INCH, System, shown, shown_length, shown_plain, shown_plain_length,
};

/// Half-width of the 95 % interval of a quantity: k u, k normal or Student by its degrees of freedom. Source: JCGM 100:2008 annex G.
pub fn half_width_95(quantity: &Quantity) -> f64 {
    quantity.u * coverage_95(quantity)
}

/// Coverage factor of the 95 % interval of a quantity: normal or Student by its degrees of freedom. Source: JCGM 100:2008 annex G.
pub fn coverage_95(quantity: &Quantity) -> f64 {
    student_quantile(0.975, quantity.dof.unwrap_or(f64::INFINITY))
}

/// A size with its 95 % half-width: `240.0311 ± 0.0044 mm`.
pub fn size(quantity: &Quantity, system: System) -> String {
    if quantity.u == 0.0 {
        return length(quantity.value, 3, system);
    }
    let (value, u, unit) = shown_length(quantity.value, half_width_95(quantity), system);
    format!("{value} ± {u} {unit}")
}

/// A length with fixed decimals of a millimetre: `240.118 mm`.
pub fn length(mm: f64, decimals: usize, system: System) -> String {
    format!("{} {}", shown_plain_length(mm, decimals, system), system.length())
}

/// Two lengths: `240.118 to 240.146 mm`.
pub fn lengths(low_mm: f64, high_mm: f64, decimals: usize, system: System) -> String {
    format!("{} to {}", shown_plain_length(low_mm, decimals, system), length(high_mm, decimals, system))
}

fn thou(um: f64) -> f64 {
    System::Inch.from_mm(um)
}

/// The unit of small sizes.
pub const fn fine_unit(system: System) -> &'static str {
    match system {
        System::Metric => "µm",
        System::Inch => "thou",
    }
}

/// A small size without its unit, to whole µm or hundredths of a thou.
pub fn fine_bare(um: f64, system: System) -> String {
    match system {
        System::Metric => shown_plain(um, 0),
        System::Inch => shown_plain(thou(um), 2),
    }
}

/// A small size: `87 µm`, `3.43 thou`.
pub fn fine(um: f64, system: System) -> String {
    format!("{} {}", fine_bare(um, system), fine_unit(system))
}

/// Two small sizes: `87 to 115 µm`.
pub fn fines(low_um: f64, high_um: f64, system: System) -> String {
    format!("{} to {}", fine_bare(low_um, system), fine(high_um, system))
}

/// A small size with its 95 % half-width: `87 ± 12 µm`.
pub fn fine_quantity(quantity: &Quantity, system: System) -> String {
    if quantity.u == 0.0 {
        return fine(quantity.value, system);
    }
    let half = half_width_95(quantity);
    let (value, u) = match system {
        System::Metric => shown(quantity.value, half),
        System::Inch => shown(thou(quantity.value), thou(half)),
    };
    format!("{value} ± {u} {}", fine_unit(system))
}

/// A temperature: `-20 °C`, `-4 °F`.
pub fn temperature(T_C: f64, system: System) -> String {
    match system {
        System::Metric => format!("{} °C", shown_plain(T_C, 0)),
        System::Inch => format!("{} °F", shown_plain(F_from_C(T_C), 0)),
    }
}

/// A temperature with its 95 % half-width.
pub fn temperature_quantity(quantity: &Quantity, system: System) -> String {
    if quantity.u == 0.0 {
        return temperature(quantity.value, system);
    }
    let half = half_width_95(quantity);
    match system {
        System::Metric => format!("{} ± {} °C", shown_plain(quantity.value, 0), shown_plain(half.max(1.0), 0)),
        System::Inch => format!("{} ± {} °F", shown_plain(F_from_C(quantity.value), 0), shown_plain((half * 1.8).max(1.0), 0)),
    }
}

/// The figure of a force in the unit of [`force_unit`], for an axis.
pub fn force_figure(kN: f64, system: System) -> f64 {
    match system {
        System::Metric => kN,
        System::Inch => kN * 1e3 / N_PER_POUND_FORCE,
    }
}

/// The unit of forces.
pub const fn force_unit(system: System) -> &'static str {
    match system {
        System::Metric => "kN",
        System::Inch => "lbf",
    }
}

/// The figure of a stress in the unit of [`stress_unit`], for an axis.
pub fn stress_figure(MPa: f64, system: System) -> f64 {
    match system {
        System::Metric => MPa,
        System::Inch => MPa / MPA_PER_PSI,
    }
}

/// The unit of stresses and pressures.
pub const fn stress_unit(system: System) -> &'static str {
    match system {
        System::Metric => "MPa",
        System::Inch => "psi",
    }
}

/// The figure of a small size in the unit of [`fine_unit`], for an axis.
pub fn fine_figure(um: f64, system: System) -> f64 {
    match system {
        System::Metric => um,
        System::Inch => thou(um),
    }
}

/// A force: `115 kN`, `25 900 lbf`.
pub fn force(kN: f64, system: System) -> String {
    match system {
        System::Metric => format!("{} kN", three(kN)),
        System::Inch => format!("{} lbf", three(kN * 1e3 / N_PER_POUND_FORCE)),
    }
}

/// A force with its 95 % half-width: `115 ± 12 kN`.
pub fn force_quantity(quantity: &Quantity, system: System) -> String {
    let (value, half) = crate::units::shown(force_figure(quantity.value, system), force_figure(half_width_95(quantity), system));
    format!("{value} ± {half} {}", force_unit(system))
}

/// A stress or pressure: `4.1 MPa`, `597 psi`.
pub fn stress(MPa: f64, system: System) -> String {
    match system {
        System::Metric => format!("{} MPa", three(MPa)),
        System::Inch => format!("{} psi", three(MPa / MPA_PER_PSI)),
    }
}

/// The figure of a torque in the unit of [`torque_unit`].
pub fn torque_figure(Nm: f64, system: System) -> f64 {
    match system {
        System::Metric => Nm,
        System::Inch => Nm / (12.0 * NM_PER_POUND_FORCE_INCH),
    }
}

/// The unit of torques.
pub const fn torque_unit(system: System) -> &'static str {
    match system {
        System::Metric => "N m",
        System::Inch => "lbf ft",
    }
}

/// A torque: `3200 N m`, `2360 lbf ft`.
pub fn torque(Nm: f64, system: System) -> String {
    match system {
        System::Metric => format!("{} N m", three(Nm)),
        System::Inch => format!("{} lbf ft", three(Nm / (12.0 * NM_PER_POUND_FORCE_INCH))),
    }
}

/// A figure that is good to some per cent: three significant digits, whole when it is large.
pub fn three(x: f64) -> String {
    let size = x.abs();
    let decimals = match size {
        _ if size >= 100.0 || size == 0.0 => 0,
        _ if size >= 10.0 => 1,
        _ if size >= 1.0 => 2,
        _ => 3,
    };
    if size < 1000.0 { shown_plain(x, decimals) } else { shown(x, size / 100.0).0 }
}

/// A chance in words that never claim more than the draws can tell: `97 %`, `over 99.9 %`, `under 1 in 7000`.
pub fn chance(chance: f64, draws: u64) -> String {
    let draws = draws.max(1) as f64;
    if chance <= 0.0 {
        return format!("under {} %", shown_plain((300.0 / draws).max(0.001), 3));
    }
    if chance >= 1.0 - 3.0 / draws || chance > 0.999 {
        return "over 99.9 %".into();
    }
    if chance > 0.98 { format!("{} %", shown_plain(chance * 100.0, 1)) } else { format!("{} %", shown_plain(chance * 100.0, 0)) }
}

/// What a remedy changes a chance by, in points of a hundred: `+2.1`, `-0.3`.
pub fn gain(before: f64, after: f64) -> String {
    let points = (after - before) * 100.0;
    format!("{} points", crate::units::shown_signed(points, 1))
}

/// A time: `46 s`, `6.2 min`, `3.5 h`.
pub fn duration(s: f64) -> String {
    let (figure, unit) = durations_in(s, s);
    format!("{} {unit}", figure(s))
}

/// Two times in the unit of the second: `4.4 to 8.7 min`.
pub fn durations(low_s: f64, high_s: f64) -> String {
    let (figure, unit) = durations_in(low_s, high_s);
    format!("{} to {} {unit}", figure(low_s), figure(high_s))
}

fn durations_in(low_s: f64, high_s: f64) -> (impl Fn(f64) -> String, &'static str) {
    let most = low_s.max(high_s);
    let (unit_s, unit) = match most {
        _ if most < 119.5 => (1.0, "s"),
        _ if most < 7200.0 => (60.0, "min"),
        _ => (3600.0, "h"),
    };
    let decimals = usize::from(unit_s > 1.0 && most / unit_s < 20.0);
    (move |s: f64| shown_plain(s / unit_s, decimals), unit)
}

/// A share as per cent: `42 %`.
pub fn share(share: f64) -> String {
    format!("{} %", shown_plain(share * 100.0, 0))
}
