//! What a lathe has taught: the habits that finished parts have shown, pooled with the usual belief, for the next start and for the sheet.
//!
//! Nothing of it is stored: it is found again from the logs. The pooling is `calc::turn::learn`.

use calc::turn::learn::{Habit, counted, next_start};
use calc::turn::model::Normal;
use calc::units::{self, System};
use calc::{quantity::Quantity, shown};
use serde_json::{Map, Value, json};

use crate::stages::ask::Said;

use super::part::Part;
use super::step::{Believed, HabitWord, Surface};

impl HabitWord {
    /// The same as `calc` names it.
    pub const fn habit(self) -> Habit {
        match self {
            Self::Heat => Habit::Heat,
            Self::Cooling => Habit::Cooling,
            Self::Deflection => Habit::Deflection,
            Self::SpringBack => Habit::SpringBack,
            Self::Wear => Habit::Wear,
            Self::Offset => Habit::Offset,
        }
    }

    const fn of(habit: Habit) -> Self {
        match habit {
            Habit::Heat => Self::Heat,
            Habit::Cooling => Self::Cooling,
            Habit::Deflection => Self::Deflection,
            Habit::SpringBack => Self::SpringBack,
            Habit::Wear => Self::Wear,
            Habit::Offset => Self::Offset,
        }
    }
}

/// What it means, for a person.
pub fn meaning(habit: Habit) -> &'static str {
    match habit {
        Habit::Heat => "heat into the part, K for each mm of depth",
        Habit::Cooling => "time in which the part loses 63 % of its excess, s",
        Habit::Deflection => "gives way, of the depth",
        Habit::SpringBack => "springs back after the cut",
        Habit::Wear => "tool loses at each cut",
        Habit::Offset => "first cut of a set-up lands large by",
    }
}

/// A belief as it is read: with its 95 % half-width, lengths in the units of the job.
pub fn figure(habit: Habit, belief: Normal, system: System) -> String {
    let quantity = habit.shown(belief);
    match habit {
        Habit::SpringBack | Habit::Wear | Habit::Offset => shown::fine_quantity(&units::um_quantity(quantity), system),
        _ => {
            let (value, half) = units::shown(quantity.value, shown::half_width_95(&quantity));
            format!("{value} ± {half}")
        }
    }
}

/// Writes a belief into a request to `next-cut`; the usual one is left to the calculation.
pub fn write(request: &mut Map<String, Value>, belief: &Believed) {
    if belief.parts == 0 {
        return;
    }
    let normal = Normal { mean: belief.mean, sd: belief.sd };
    let Quantity { value, .. } = belief.habit.habit().shown(normal);
    let both = json!({"value": belief.mean, "u": belief.sd});
    match belief.habit {
        HabitWord::Heat => request.insert("heat_K_per_mm".into(), both),
        HabitWord::Deflection => request.insert("deflection".into(), both),
        HabitWord::SpringBack => request.insert("spring_back_mm".into(), both),
        HabitWord::Offset => request.insert("offset_mm".into(), both),
        HabitWord::Cooling => {
            request.insert("tau_s".into(), json!(value));
            request.insert("ln_tau_u".into(), json!(belief.sd))
        }
        HabitWord::Wear => {
            request.insert("wear_mm".into(), json!(belief.mean));
            request.insert("wear_u_mm".into(), json!(belief.sd))
        }
    };
}

/// What one finished part has shown of a habit; of an offset one figure a set-up.
fn taught(said: &Said, habit: Habit) -> Vec<Normal> {
    let of = |quantity: Quantity| habit.taught(quantity.value, quantity.u);
    let one = |path: &str| said.quantity(path).map(of).into_iter().collect::<Vec<_>>();
    match habit {
        Habit::Heat => one("beliefs.heat_K_per_mm"),
        Habit::Cooling => one("beliefs.tau_s"),
        Habit::Deflection => one("beliefs.deflection"),
        Habit::SpringBack => one("beliefs.spring_back_mm"),
        Habit::Wear => one("beliefs.wear_mm"),
        Habit::Offset => said
            .list("first_offsets_mm")
            .iter()
            .filter_map(|offset| Some(of(Quantity::with_u(offset.number("value")?, offset.number("u")?))))
            .collect(),
    }
}

/// A habit with the usual belief, the belief now, and from how much it comes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Learned {
    /// The habit.
    pub habit: Habit,
    /// The usual belief.
    pub usual: Normal,
    /// The belief now.
    pub now: Normal,
    /// From how many finished parts (of an offset: set-ups).
    pub parts: usize,
}

impl Learned {
    /// The same, as a log keeps it.
    pub fn believed(&self) -> Believed {
        let parts = u32::try_from(self.parts).unwrap_or(u32::MAX);
        Believed { habit: HabitWord::of(self.habit), mean: self.now.mean, sd: self.now.sd, parts }
    }
}

/// The finished parts that count for a lathe: those of its name and surface, the last twenty. None for a lathe without a name.
pub fn of_lathe<'p>(lathe: &str, surface: Surface, finished: &'p [Part]) -> Vec<&'p Part> {
    let mine = |part: &&Part| !lathe.is_empty() && part.surface == surface && part.start().is_some_and(|(setup, _)| setup.lathe == lathe);
    let all: Vec<&Part> = finished.iter().filter(mine).collect();
    let from = all.len() - counted(all.len());
    all.get(from..).unwrap_or_default().to_vec()
}

/// What `lathe` has taught on this surface, a row a habit; `ask` puts a finished part's request to `next-cut`.
pub fn learned(lathe: &str, surface: Surface, finished: &[Part], mut ask: impl FnMut(&Value) -> Option<Said>) -> Vec<Learned> {
    let parts = of_lathe(lathe, surface, finished);
    let said: Vec<Said> = parts.iter().filter_map(|part| ask(&part.request()?)).collect();
    let row = |habit: Habit| {
        let shown: Vec<Normal> = said.iter().flat_map(|said| taught(said, habit)).collect();
        Learned { habit, usual: habit.usual(), now: next_start(habit.usual(), &shown), parts: counted(shown.len()) }
    };
    Habit::ALL.map(row).to_vec()
}

/// Innovations that a judgement of the lathe needs at least. Source: the turning method, section c.
const ENOUGH_INNOVATIONS: u32 = 6;

/// Squared innovations of the last parts of `lathe`, the newest first until there are enough, and how many they are.
pub fn innovations(lathe: &str, surface: Surface, finished: &[Part], mut ask: impl FnMut(&Value) -> Option<Said>) -> (f64, u32) {
    let (mut squares, mut count) = (0.0, 0);
    for part in of_lathe(lathe, surface, finished).into_iter().rev() {
        if count >= ENOUGH_INNOVATIONS {
            break;
        }
        let Some(said) = part.request().and_then(|asked| ask(&asked)) else { continue };
        squares += said.number("innovation_squares").unwrap_or(0.0);
        // A whole number of readings.
        count += said.number("innovations").map_or(0, |count| count as u32);
    }
    (squares, count)
}

/// How much is behind the belief, in a sentence.
pub fn history(lathe: &str, parts: usize) -> String {
    let name = if lathe.is_empty() { "no lathe was named (lathe = \"..\" in the job file)" } else { lathe };
    match (lathe.is_empty(), parts) {
        (true, _) => format!("{name}: the usual belief is taken, and this part teaches nothing for the next"),
        (false, 0) => format!("{name}: no part was finished on it yet; the usual belief is taken"),
        (false, 1) => format!("{name}: believed from 1 part on this lathe; the usual belief counts as much as 3"),
        (false, n) => format!("{name}: believed from {n} parts on this lathe; the usual belief counts as much as 3"),
    }
}
