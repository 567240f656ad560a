//! The registers: what a shop has that every job can use. People, gauges, lathes, presses, metals, customers.
//!
//! 1. A register is made of entries like a job: a card says what somebody or something is from then on; a check, a use or a leaving is
//!    a card of its own. Nothing is ever written over; the newest card of a name counts (`fold::registers`).
//! 2. Two cards of one name by writers who had not seen each other are both kept, and the name needs a person.
//! 3. [`Registers::lend`] gives a job what it does not say itself about the gauges that it names, and warns where a gauge is used
//!    out of its date or its range.
//!
//! Lengths are mm, small ones µm, forces kN, days YYYY-MM-DD. It calculates nothing.

use std::collections::BTreeMap;

use calc::Refused;
use calc::alloy::table::alloys;
use serde::{Deserialize, Serialize};

use crate::entry::{EntryId, day_number, unknown};
use crate::state::{Given, Known, Reading, ReadingSet, Seat, State, Units};
use crate::{show, slips};

/// What a person may be in the shop: at the machines, in the office, or the one who answers for the shop.
pub const ROLES: &[&str] = &["floor", "office", "owner"];
/// Kinds of blank.
pub const KINDS: &[&str] = &["bar", "cored_bar", "cast_ring"];
/// The registers, as cards name them.
pub const REGISTERS: &[&str] = &["person", "gauge", "lathe", "press", "metal", "swarf", "customer"];
/// Longest name of a card.
const MOST_LETTERS: usize = 60;
/// Longest text of a card.
const MOST_WORDS: usize = 2000;
/// Most points of a correction table.
const MOST_POINTS: usize = 200;
/// No figure of a card is larger.
const LARGEST: f64 = 1e9;

/// One card: what an entry of the registers says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "of", rename_all = "snake_case", deny_unknown_fields)]
pub enum Card {
    /// Somebody who works in the shop.
    Person {
        /// The name that entries are signed with.
        name: String,
        /// Words of [`ROLES`].
        roles: Vec<String>,
    },
    /// A gauge.
    Gauge {
        /// The name that jobs use.
        name: String,
        /// In words, with its number.
        about: String,
        /// Smallest and largest size that it reads, mm.
        low_mm: f64,
        /// See `low_mm`.
        high_mm: f64,
        /// Smallest step it shows, mm.
        resolution_mm: f64,
        /// Standard deviation of its repeats, mm.
        repeatability_mm: Option<f64>,
        /// Degrees of freedom behind that figure.
        repeats: Option<f64>,
        /// Contacts: "two" or "three".
        contacts: Option<String>,
    },
    /// A gauge was checked: from then on its corrections are these, until a day.
    Checked {
        /// The gauge.
        gauge: String,
        /// The day.
        on: String,
        /// Until when that holds.
        until: String,
        /// What it was checked on: a ring, blocks, a laboratory.
        against: String,
        /// Number of the certificate.
        certificate: String,
        /// What is to be added to a reading, by size, sizes rising.
        corrections: Vec<Correction>,
        /// Standard uncertainty of the corrections, mm.
        u_mm: f64,
    },
    /// A lathe.
    Lathe {
        /// Its name.
        name: String,
        /// In words.
        about: String,
        /// Width of the band that it lands in, µm.
        holds_um: f64,
        /// Standard deviation of the same command given again, µm.
        repeats_um: f64,
        /// Largest diameter that it swings, mm.
        swing_mm: f64,
        /// Longest part between its centres, mm.
        between_mm: f64,
    },
    /// A press.
    Press {
        /// Its name.
        name: String,
        /// In words.
        about: String,
        /// Force that it can give, kN.
        force_kN: f64,
        /// Daylight: the tallest part that goes in, mm.
        daylight_mm: f64,
    },
    /// A blank, or several alike, as they came in.
    Metal {
        /// Its name in the shop.
        name: String,
        /// The alloy, by its id in the table.
        alloy: String,
        /// A word of [`KINDS`].
        kind: String,
        /// Outside diameter, mm.
        outside_mm: f64,
        /// Inside diameter of a cored bar or ring, mm.
        inside_mm: Option<f64>,
        /// Length in all, mm.
        length_mm: f64,
        /// Lot or melt.
        lot: String,
        /// Number of its certificate.
        certificate: String,
        /// What all of it cost.
        price: f64,
        /// The day it came.
        on: String,
    },
    /// Length was cut off a metal.
    Used {
        /// The metal.
        metal: String,
        /// Length with the cut, mm.
        length_mm: f64,
        /// For which job.
        job: String,
    },
    /// What clean swarf of an alloy brings.
    Swarf {
        /// The alloy, by its id in the table.
        alloy: String,
        /// A kilogram of it.
        per_kg: f64,
    },
    /// A customer, in plain words.
    Customer {
        /// The name that jobs use.
        name: String,
        /// Where, whom to ask, what to mind.
        about: String,
    },
    /// Somebody left, or something is no more in the shop.
    Gone {
        /// A word of [`REGISTERS`].
        register: String,
        /// The name.
        name: String,
        /// Why.
        because: String,
    },
}

/// A point of a gauge's correction table.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Correction {
    /// At this size, mm.
    pub size_mm: f64,
    /// this is added to the reading, mm.
    pub add_mm: f64,
}

impl Card {
    /// The register that it belongs to, a word of [`REGISTERS`].
    pub fn register(&self) -> &str {
        match self {
            Self::Person { .. } => "person",
            Self::Gauge { .. } | Self::Checked { .. } => "gauge",
            Self::Lathe { .. } => "lathe",
            Self::Press { .. } => "press",
            Self::Metal { .. } | Self::Used { .. } => "metal",
            Self::Swarf { .. } => "swarf",
            Self::Customer { .. } => "customer",
            Self::Gone { register, .. } => register,
        }
    }

    /// The name of whom or what it speaks.
    pub fn name(&self) -> &str {
        match self {
            Self::Person { name, .. }
            | Self::Gauge { name, .. }
            | Self::Lathe { name, .. }
            | Self::Press { name, .. }
            | Self::Metal { name, .. }
            | Self::Customer { name, .. }
            | Self::Gone { name, .. } => name,
            Self::Checked { gauge, .. } => gauge,
            Self::Used { metal, .. } => metal,
            Self::Swarf { alloy, .. } => alloy,
        }
    }

    /// Refuses what can't stand on a card.
    pub(crate) fn checked(&self) -> Result<(), Refused> {
        named("name", self.name())?;
        match self {
            Self::Person { roles, .. } => {
                if roles.is_empty() {
                    return Err(Refused::new("roles", "empty", ROLES.join(", "), "give at least one"));
                }
                roles.iter().try_for_each(|role| one_of("roles", role, ROLES))
            }
            Self::Gauge { about, low_mm, high_mm, resolution_mm, repeatability_mm, repeats, contacts, .. } => {
                worded("about", about)?;
                over_0("low_mm", *low_mm).or_else(|refused| if *low_mm == 0.0 { Ok(()) } else { Err(refused) })?;
                if high_mm <= low_mm {
                    let allowed = format!("more than low_mm, which is {low_mm}");
                    return Err(Refused::new("high_mm", high_mm, allowed, "give the smallest and the largest size that it reads"));
                }
                over_0("high_mm", *high_mm)?;
                over_0("resolution_mm", *resolution_mm)?;
                repeatability_mm.map_or(Ok(()), |figure| over_0("repeatability_mm", figure))?;
                repeats.map_or(Ok(()), |figure| over_0("repeats", figure))?;
                contacts.as_deref().map_or(Ok(()), |word| one_of("contacts", word, &["two", "three"]))
            }
            Self::Checked { on, until, against, certificate, corrections, u_mm, .. } => {
                worded("against", against)?;
                worded("certificate", certificate)?;
                day("on", on)?;
                day("until", until)?;
                if until < on {
                    return Err(Refused::new("until", until, format!("{on} or later, the day of the check"), "turn them round"));
                }
                from_0("u_mm", *u_mm)?;
                points(corrections)
            }
            Self::Lathe { about, holds_um, repeats_um, swing_mm, between_mm, .. } => {
                worded("about", about)?;
                over_0("holds_um", *holds_um)?;
                over_0("repeats_um", *repeats_um)?;
                over_0("swing_mm", *swing_mm)?;
                over_0("between_mm", *between_mm)
            }
            Self::Press { about, force_kN, daylight_mm, .. } => {
                worded("about", about)?;
                over_0("force_kN", *force_kN)?;
                over_0("daylight_mm", *daylight_mm)
            }
            Self::Metal { alloy, kind, outside_mm, inside_mm, length_mm, lot, certificate, price, on, .. } => {
                known_alloy(alloy)?;
                one_of("kind", kind, KINDS)?;
                over_0("outside_mm", *outside_mm)?;
                over_0("length_mm", *length_mm)?;
                from_0("price", *price)?;
                worded("lot", lot)?;
                worded("certificate", certificate)?;
                day("on", on)?;
                match inside_mm {
                    Some(inside) if !(*inside > 0.0 && inside < outside_mm) => {
                        let allowed = format!("more than 0 and less than outside_mm, which is {outside_mm}");
                        Err(Refused::new("inside_mm", inside, allowed, "leave it out for a solid bar"))
                    }
                    _ => Ok(()),
                }
            }
            Self::Used { length_mm, job, .. } => {
                worded("job", job)?;
                over_0("length_mm", *length_mm)
            }
            Self::Swarf { alloy, per_kg } => {
                known_alloy(alloy)?;
                from_0("per_kg", *per_kg)
            }
            Self::Customer { about, .. } => worded("about", about),
            Self::Gone { register, because, .. } => {
                worded("because", because)?;
                one_of("register", register, REGISTERS)
            }
        }
    }
}

fn named(key: &str, name: &str) -> Result<(), Refused> {
    if name.trim().is_empty() || name.chars().count() > MOST_LETTERS || name.chars().any(char::is_control) {
        return Err(Refused::new(key, format!("{name:?}"), format!("1 to {MOST_LETTERS} letters on one line"), "give it a short name"));
    }
    Ok(())
}

fn worded(key: &str, words: &str) -> Result<(), Refused> {
    let count = words.chars().count();
    if count > MOST_WORDS {
        return Err(Refused::new(key, format!("{count} letters long"), format!("{MOST_WORDS} letters at most"), "say it shorter"));
    }
    Ok(())
}

fn one_of(key: &str, word: &str, words: &[&str]) -> Result<(), Refused> {
    if words.contains(&word) { Ok(()) } else { Err(unknown(key, word, words.iter().copied())) }
}

fn known_alloy(id: &str) -> Result<(), Refused> {
    if alloys().iter().any(|alloy| alloy.id == id) { Ok(()) } else { Err(unknown("alloy", id, alloys().iter().map(|alloy| alloy.id))) }
}

fn over_0(key: &str, figure: f64) -> Result<(), Refused> {
    if figure > 0.0 && figure <= LARGEST {
        return Ok(());
    }
    Err(Refused::new(key, figure, "a number over 0", "give it as it was measured or bought"))
}

fn from_0(key: &str, figure: f64) -> Result<(), Refused> {
    if (0.0..=LARGEST).contains(&figure) { Ok(()) } else { Err(Refused::new(key, figure, "0 or more", "give 0 where there is none")) }
}

fn day(key: &str, text: &str) -> Result<(), Refused> {
    if day_number(text).is_some() {
        return Ok(());
    }
    Err(Refused::new(key, format!("{text:?}"), "a day, YYYY-MM-DD", "write the day like 2026-03-02"))
}

fn points(corrections: &[Correction]) -> Result<(), Refused> {
    if corrections.len() > MOST_POINTS {
        let given = format!("{} points", corrections.len());
        return Err(Refused::new("corrections", given, format!("{MOST_POINTS} at most"), "keep those that the certificate gives"));
    }
    for point in corrections {
        over_0("corrections", point.size_mm)?;
        if !(-10.0..=10.0).contains(&point.add_mm) {
            return Err(Refused::new("corrections", point.add_mm, "-10 to 10 mm", "give what is added to the reading, in mm"));
        }
    }
    match corrections.windows(2).find(|pair| pair[1].size_mm <= pair[0].size_mm) {
        Some(pair) => Err(Refused::new("corrections", pair[1].size_mm, format!("more than {}", pair[0].size_mm), "let the sizes rise")),
        None => Ok(()),
    }
}

/// What the registers amount to once all their entries are read.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Registers {
    /// Everyone and everything that has a card, by register and name.
    pub cards: BTreeMap<String, BTreeMap<String, Standing>>,
    /// Names with cards that were written apart: both, which a third must settle.
    pub needs_you: Vec<String>,
    /// What a person should know, in sentences.
    pub notes: Vec<String>,
}

/// Somebody or something as the cards leave it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Standing {
    /// The newest card that says what it is.
    pub card: Option<Card>,
    /// The entry of that card.
    pub entry: EntryId,
    /// Who wrote it.
    pub who: String,
    /// The newest check of a gauge.
    pub checked: Option<Card>,
    /// What was cut off a metal, mm, in order.
    pub used_mm: Vec<f64>,
    /// Why it is gone.
    pub gone: Option<String>,
}

/// A gauge with what its newest check says.
#[derive(Clone, Copy, Debug)]
struct OfGauge<'r> {
    card: &'r Card,
    checked: Option<&'r Card>,
    standing: &'r Standing,
}

impl Registers {
    /// Those of a register, by name; also those that are gone.
    pub fn of(&self, register: &str) -> impl Iterator<Item = (&str, &Standing)> {
        self.cards.get(register).into_iter().flatten().map(|(name, standing)| (name.as_str(), standing))
    }

    /// One of a register that is still there.
    pub fn there(&self, register: &str, name: &str) -> Option<&Standing> {
        self.cards.get(register)?.get(name).filter(|standing| standing.gone.is_none())
    }

    /// Roles of a person; none when the shop has nobody of that name, or not any more.
    pub fn roles(&self, person: &str) -> &[String] {
        match self.there("person", person).and_then(|standing| standing.card.as_ref()) {
            Some(Card::Person { roles, .. }) => roles,
            _ => &[],
        }
    }

    fn gauge(&self, name: &str) -> Option<OfGauge<'_>> {
        let standing = self.cards.get("gauge")?.get(name)?;
        Some(OfGauge { card: standing.card.as_ref()?, checked: standing.checked.as_ref(), standing })
    }

    /// Gives every seat what it does not say itself about its gauges, and warns where one is used out of date or range.
    pub fn lend(&self, state: &mut State) {
        let units = state.units;
        for seat in &mut state.seats {
            let used: Vec<ReadingSet> = seat.sets.iter().filter(|set| set.gauge.is_some()).cloned().collect();
            for set in used {
                let Some(name) = &set.gauge else { continue };
                let Some(gauge) = self.gauge(name) else { continue };
                let own_day = seat.text(&format!("gauge.{name}.due")).is_some();
                // It is described after all: here.
                if let Some(said) = slips::not_described(seat, &set) {
                    seat.notes.retain(|note| *note != said);
                }
                gauge.fill(seat, name, &set);
                let said = gauge.warnings(name, &set, units, own_day);
                for note in said {
                    if !seat.notes.contains(&note) {
                        seat.notes.push(note);
                    }
                }
            }
        }
    }
}

impl OfGauge<'_> {
    /// Facts about the gauge that the job does not give.
    fn fill(&self, seat: &mut Seat, name: &str, set: &ReadingSet) {
        let mut give = |what: &str, value: Option<Given>| {
            let path = format!("gauge.{name}.{what}");
            if let Some(value) = value
                && seat.known(&path).is_none()
            {
                let (entry, who) = (self.standing.entry, self.standing.who.clone());
                seat.facts.push((path, Known { value, entry, who }));
            }
        };
        let figure = |value: f64, u: f64| Some(Given::Figure { value, u });
        if let Card::Gauge { about, resolution_mm, repeatability_mm, repeats, contacts, .. } = self.card {
            give("name", Some(Given::Text(about.clone())));
            give("resolution", figure(*resolution_mm, 0.0));
            give("repeatability", repeatability_mm.and_then(|s| figure(s, 0.0)));
            give("repeats", repeats.and_then(|dof| figure(dof, 0.0)));
            give("contacts", contacts.clone().map(Given::Text));
        }
        if let Some(Card::Checked { corrections, u_mm, until, .. }) = self.checked {
            give("due", Some(Given::Text(until.clone())));
            let sizes: Vec<f64> = used(set).map(|reading| reading.size_mm).collect();
            if let Some(point) = nearest_point(corrections, &sizes) {
                give("correction", figure(point.add_mm, *u_mm));
            }
        }
    }

    fn warnings(&self, name: &str, set: &ReadingSet, units: Units, own_day: bool) -> Vec<String> {
        let word = set.feature.word();
        let mut said = Vec::new();
        if let Some(because) = &self.standing.gone {
            said.push(format!("The {word} was measured with {name:?}, which is no more in the shop ({because}). Say which gauge it was."));
        }
        match self.checked {
            Some(Card::Checked { until, .. }) if !own_day && !set.day.is_empty() && set.day.as_str() > until.as_str() => {
                said.push(slips::run_out(word, &set.day, name, until));
            }
            None if !own_day => said.push(format!(
                "The {word} was measured with {name:?}, for which no check is on record. Check it before the sizes are used."
            )),
            _ => {}
        }
        if let Card::Gauge { low_mm, high_mm, .. } = self.card
            && let Some(out) = used(set).find(|reading| reading.size_mm < *low_mm || reading.size_mm > *high_mm)
        {
            said.push(format!(
                "The {word} was read as {} with {name:?}, which reads {} to {}. Say which gauge it was, or measure again with one that reaches.",
                show::length(out.size_mm, units),
                show::length(*low_mm, units),
                show::length(*high_mm, units)
            ));
        }
        said
    }
}

fn used(set: &ReadingSet) -> impl Iterator<Item = &Reading> {
    set.readings.iter().filter(|reading| reading.dropped.is_none())
}

/// The point of the table that is nearest to the first of `sizes`: between two points a certificate says nothing of its own.
fn nearest_point<'p>(points: &'p [Correction], sizes: &[f64]) -> Option<&'p Correction> {
    let size = sizes.first()?;
    points.iter().min_by(|a, b| (a.size_mm - size).abs().total_cmp(&(b.size_mm - size).abs()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entry::{Entry, Scope, VERSION, What};
    use crate::fold::{fold, registers};
    use crate::state::Feature;

    fn entry(n: u32, job: &str, seat: Scope, what: What) -> Entry {
        Entry {
            version: VERSION,
            id: EntryId::of_file("2026-03-02", &n.to_string(), ""),
            job: job.into(),
            seat,
            who: "A. Turner".into(),
            device: "bench".into(),
            when: "2026-03-02".into(),
            follows: None,
            what,
        }
    }

    fn gauge(high_mm: f64, until: &str) -> Vec<Entry> {
        let name = || "bore".to_owned();
        let card = Card::Gauge {
            name: name(),
            about: "two-point bore gauge, No 7".into(),
            low_mm: 160.0,
            high_mm,
            resolution_mm: 0.002,
            repeatability_mm: Some(0.004),
            repeats: None,
            contacts: None,
        };
        let point = |size_mm, add_mm| Correction { size_mm, add_mm };
        let check = Card::Checked {
            gauge: name(),
            on: "2025-03-02".into(),
            until: until.into(),
            against: "setting ring 200, No 4".into(),
            certificate: "K 118".into(),
            corrections: vec![point(160.0, 0.001), point(240.0, -0.003)],
            u_mm: 0.0015,
        };
        let entries = [card, check].map(|card| What::Register { card });
        entries.into_iter().zip(1..).map(|(what, n)| entry(n, "", Scope::Shop, what)).collect()
    }

    fn read_with(entries: &[Entry]) -> Seat {
        let reading = What::Reading {
            feature: Feature::HousingBore,
            set: 1,
            gauge: Some("bore".into()),
            station_mm: None,
            angle_deg: None,
            size_mm: 239.5,
            own_part_C: None,
            part_C: None,
            gauge_C: None,
        };
        let mut state = fold(&[entry(9, "1", Scope::Seat("A".into()), reading)]);
        registers(entries).lend(&mut state);
        state.seats.remove(0)
    }

    #[test]
    fn a_gauge_lends_what_the_job_does_not_say_and_warns_out_of_date_or_range() {
        let good = read_with(&gauge(250.0, "2026-09-01"));
        assert_eq!((good.number("gauge.bore.resolution"), good.number("gauge.bore.repeatability")), (Some(0.002), Some(0.004)));
        // The point of the table that is nearest to what was read.
        assert_eq!(good.quantity("gauge.bore.correction").map(|c| (c.value, c.u)), Some((-0.003, 0.0015)));
        assert_eq!(good.notes, [] as [String; 0]);
        for (high_mm, until, words) in
            [(250.0, "2026-03-01", "whose certificate ran out on 2026-03-01"), (239.0, "2026-09-01", "which reads 160")]
        {
            let notes = read_with(&gauge(high_mm, until)).notes;
            assert!(notes.len() == 1 && notes[0].contains(words), "{notes:?}");
        }
        assert!(read_with(&gauge(250.0, "2026-09-01")[..1]).notes[0].contains("no check is on record"));
        assert!(read_with(&[]).notes[0].contains("is not described"));
    }

    #[test]
    fn a_card_that_can_not_stand_is_refused_with_its_key() {
        let name = || "X".to_owned();
        let metal = |alloy: &str, inside_mm, on: &str| Card::Metal {
            name: name(),
            alloy: alloy.into(),
            kind: "bar".into(),
            outside_mm: 100.0,
            inside_mm,
            length_mm: 500.0,
            lot: "L1".into(),
            certificate: "3.1".into(),
            price: 120.0,
            on: on.into(),
        };
        for (card, key) in [
            (Card::Person { name: " ".into(), roles: vec!["floor".into()] }, "name"),
            (Card::Person { name: name(), roles: vec![] }, "roles"),
            (metal("CC000X", None, "2026-03-02"), "alloy"),
            (metal("CC493K", Some(100.0), "2026-03-02"), "inside_mm"),
            (metal("CC493K", None, "soon"), "on"),
            (Card::Press { name: name(), about: String::new(), force_kN: f64::NAN, daylight_mm: 1.0 }, "force_kN"),
            (Card::Swarf { alloy: "CC493K".into(), per_kg: -1.0 }, "per_kg"),
            (Card::Gone { register: "ship".into(), name: name(), because: String::new() }, "register"),
        ] {
            assert_eq!(card.checked().map_err(|refused| refused.key), Err(key.to_owned()), "{card:?}");
        }
        assert_eq!(metal("CC493K", Some(40.0), "2026-03-02").checked(), Ok(()));
    }
}
