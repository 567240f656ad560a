//! What a job still lacks, stage by stage, with the line to write; and values that contradict each other.
//!
//! It leaves judging of what is there to the stages. Nothing is calculated: sizes are only compared.

use calc::Refused;

use crate::entry::EntryId;
use crate::facts::fact;
use crate::file::{bare_or_quoted, sample};
use crate::sheet::Stage;
use crate::show;
use crate::slips::median;
use crate::state::{Feature, Seat, State, Units};

/// Something that a stage lacks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lack {
    /// What is missing.
    pub what: String,
    /// The header under which it is written in the job file.
    pub under: String,
    /// The lines to write there.
    pub lines: Vec<String>,
    /// What is taken while it is missing; empty where the stage can't be answered without it.
    pub meanwhile: &'static str,
}

impl std::fmt::Display for Lack {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { what, under, lines, meanwhile } = self;
        let meanwhile = if meanwhile.is_empty() { String::new() } else { format!(" ({meanwhile} is taken meanwhile)") };
        write!(f, "{what}{meanwhile}; under {under} write {}", lines.join(", "))
    }
}

/// What one seat lacks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lacks {
    /// The seat.
    pub seat: String,
    /// What it lacks before which stage, in the order of the stages.
    pub stages: Vec<(Stage, Vec<Lack>)>,
}

/// What each seat lacks; seats that lack nothing are left out.
pub fn missing(state: &State) -> Vec<Lacks> {
    let of = |seat: &Seat| Lacks { seat: seat.name.clone(), stages: lacks(seat, state) };
    state.seats.iter().map(of).filter(|lacks| !lacks.stages.is_empty()).collect()
}

/// Looks for what one seat lacks.
struct Look<'s> {
    seat: &'s Seat,
    units: Units,
    lacks: Vec<(Stage, Vec<Lack>)>,
}

fn lacks(seat: &Seat, state: &State) -> Vec<(Stage, Vec<Lack>)> {
    let mut look = Look { seat, units: state.units, lacks: Vec::new() };
    look.measure();
    look.alloy();
    look.fit();
    look.stock();
    look.turn();
    look.seating();
    look.bore();
    look.release(state);
    look.lacks
}

impl Look<'_> {
    fn has(&self, path: &str) -> bool {
        self.seat.known(path).is_some()
    }

    fn measured(&self, feature: Feature) -> bool {
        self.seat.sets_of(feature).any(|set| set.readings.iter().any(|reading| reading.dropped.is_none()))
    }

    fn lack(&mut self, stage: Stage, what: &str, (under, lines): (String, Vec<String>), meanwhile: &'static str) {
        let lack = Lack { what: what.to_owned(), under, lines, meanwhile };
        match self.lacks.last_mut().filter(|(last, _)| *last == stage) {
            Some((_, lacks)) => lacks.push(lack),
            None => self.lacks.push((stage, vec![lack])),
        }
    }

    /// Asks for a fact by its path.
    fn want(&mut self, stage: Stage, path: &str, meanwhile: &'static str) {
        if !self.has(path) {
            let help = fact(path).map_or("", |fact| fact.help);
            self.lack(stage, &format!("{path}: {help}"), self.line(path), meanwhile);
        }
    }

    /// Where and how a fact is written.
    fn line(&self, path: &str) -> (String, Vec<String>) {
        let value = fact(path).map_or_else(String::new, |fact| sample(fact, self.units));
        let (header, key) = match path.rsplit_once('.') {
            Some((section, key)) => (format!("{}.{}", self.home(), in_header(section)), key),
            None => (self.home(), path),
        };
        (format!("[{header}]"), vec![format!("{key} = {value}")])
    }

    /// The table that facts of the seat are best written in.
    fn home(&self) -> String {
        match &self.seat.brief {
            Some(brief) => format!("brief.{}", bare_or_quoted(brief)),
            None => self.own(),
        }
    }

    /// The table of the seat itself.
    fn own(&self) -> String {
        format!("seat.{}", bare_or_quoted(&self.seat.row))
    }

    /// A table of the seat that holds no facts, with these lines.
    fn deed(&self, kind: &str, lines: &[&str]) -> (String, Vec<String>) {
        (format!("[[{}.{kind}]]", self.own()), lines.iter().map(|line| (*line).to_owned()).collect())
    }

    fn readings(&mut self, stage: Stage, feature: Feature, meanwhile: &'static str) {
        if !self.measured(feature) {
            let word = feature.word();
            let rows = match self.units {
                Units::Mm => "[[20, 0, 240.012], [20, 90, 240.018]]",
                Units::Inch => "[[1, 0, 9.4501], [1, 90, 9.4503]]",
            };
            let write = self.deed("measure", &[&format!("of = {word:?}"), "gauge = \"..\"", &format!("readings = {rows}")]);
            self.lack(stage, &format!("readings of the {word}"), write, meanwhile);
        }
    }

    fn measure(&mut self) {
        self.readings(Stage::Measure, Feature::HousingBore, "");
        self.want(Stage::Measure, "housing.metal", "");
        let unknown_part =
            self.seat.sets_of(Feature::HousingBore).any(|set| set.part_C.is_none() && set.readings.iter().any(|r| r.part_C.is_none()));
        if unknown_part {
            let write = self.deed("measure", &["part_temperature = .."]);
            self.lack(Stage::Measure, "temperature of the part when its housing bore was read", write, "that of the shop");
        }
    }

    fn journal(&mut self, stage: Stage) {
        if !self.has("journal.diameter") && !self.measured(Feature::Journal) {
            self.want(stage, "journal.diameter", "");
        }
    }

    fn alloy(&mut self) {
        self.want(Stage::Alloy, "duty.load", "");
        self.want(Stage::Alloy, "duty.motion", "");
        match self.seat.text("duty.motion") {
            Some("rotation") => self.want(Stage::Alloy, "duty.speed", ""),
            Some("swing") => {
                self.want(Stage::Alloy, "duty.swing", "");
                self.want(Stage::Alloy, "duty.swings", "");
            }
            _ => {}
        }
        self.journal(Stage::Alloy);
        self.want(Stage::Alloy, "bush.length", "");
        self.want(Stage::Alloy, "journal.hardness", "200 HB");
    }

    fn fit(&mut self) {
        let shape = self.seat.text("housing.shape").unwrap_or("round");
        if shape == "between" {
            self.want(Stage::Fit, "housing.outside_least", "");
            self.want(Stage::Fit, "housing.outside_most", "");
        } else {
            self.want(Stage::Fit, "housing.outside", "");
        }
        if self.seat.decided("alloy").is_none() {
            let write = self.deed("decision", &["question = \"alloy\"", "choose = \"CC493K\"", "because = \"..\""]);
            self.lack(Stage::Fit, "a decision on the alloy", write, "the first of the ranking");
        }
        self.states(Stage::Fit);
        self.journal(Stage::Fit);
    }

    /// At least one state at which it must hold, each with its two temperatures.
    fn states(&mut self, stage: Stage) {
        let names: Vec<String> = self.seat.names("state").into_iter().map(str::to_owned).collect();
        if names.is_empty() {
            let (bush, housing) = match self.units {
                Units::Mm => ("70", "60"),
                Units::Inch => ("160", "140"),
            };
            let write = (format!("[{}.state.hot]", self.home()), vec![format!("bush = {bush}"), format!("housing = {housing}")]);
            self.lack(stage, "the coldest and the hottest state at which it must hold", write, "");
        }
        for name in names {
            for part in ["bush", "housing"] {
                self.want(stage, &format!("state.{name}.{part}"), "");
            }
        }
    }

    fn stock(&mut self) {
        let names: Vec<String> = self.seat.names("stock").into_iter().map(str::to_owned).collect();
        if names.is_empty() {
            let size = match self.units {
                Units::Mm => "260",
                Units::Inch => "10.25",
            };
            let lines = ["kind = \"bar\"".to_owned(), format!("outside = {size}"), "price = 12".to_owned()];
            let write = (format!("[{}.stock.bar]", self.home()), lines.to_vec());
            self.lack(Stage::Stock, "a blank to cut it from", write, "");
        }
        for name in names {
            for key in ["kind", "outside", "price"] {
                self.want(Stage::Stock, &format!("stock.{name}.{key}"), "");
            }
        }
    }

    fn turn(&mut self) {
        if self.seat.decided("band").is_none() {
            let (low, high) = match self.units {
                Units::Mm => ("low = 240.118", "high = 240.146"),
                Units::Inch => ("low = 9.4535", "high = 9.4546"),
            };
            let write = self.deed("decision", &["question = \"band\"", low, high, "because = \"..\""]);
            self.lack(Stage::Turn, "a decision on the band to turn to", write, "the band of the fit stage");
        }
    }

    fn seating(&mut self) {
        if !self.has("seating.method") && !self.has("shop.press") && self.seat.decided("seating").is_none() {
            self.lack(Stage::Seat, "how it goes in, or the force of the press at hand", ("[shop]".into(), vec!["press = 600".into()]), "");
        }
        // A coolant takes the air of the room.
        match self.seat.text("seating.method") {
            Some("nitrogen" | "dry_ice" | "dry_ice_bath") => self.want(Stage::Seat, "shop.room_volume", ""),
            Some("freezer") => self.want(Stage::Seat, "seating.freezer", ""),
            Some("heat") => match self.seat.text("seating.oven") {
                Some("hot_oil") => self.want(Stage::Seat, "seating.oil_flash", ""),
                Some("induction") => self.want(Stage::Seat, "seating.power", ""),
                _ => {}
            },
            _ => {}
        }
    }

    fn bore(&mut self) {
        self.journal(Stage::Bore);
        self.want(Stage::Bore, "groove.shape", "none");
        if self.seat.names("state").is_empty() {
            self.states(Stage::Bore);
        }
    }

    fn release(&mut self, state: &State) {
        self.readings(Stage::Release, Feature::BushOutside, "");
        self.readings(Stage::Release, Feature::FittedBore, "");
        let mine = |seat: &String| self.seat.name == *seat || self.seat.row == *seat;
        let signed =
            state.signatures.iter().any(|signed| !signed.reopened && signed.role == "released" && signed.seat.as_ref().is_none_or(mine));
        if !signed {
            let write = self.deed("signature", &["by = \"..\"", "role = \"released\""]);
            self.lack(Stage::Release, "a signature that releases it", write, "");
        }
    }
}

/// A section as it stands in a header, its name in quotes where it must be.
fn in_header(section: &str) -> String {
    match section.split_once('.') {
        Some((section, name)) => format!("{section}.{}", bare_or_quoted(name)),
        None => section.to_owned(),
    }
}

/// Values of a seat that can't all be true, such as a bore larger than its outside: the entry to look at, and the sentence.
pub fn contradiction(seat: &Seat, units: Units) -> Option<(EntryId, Refused)> {
    let blanks = seat.names("stock").into_iter().map(|name| (format!("stock.{name}.bore"), format!("stock.{name}.outside")));
    let of_facts =
        [("old_bush.bore", "old_bush.outside"), ("journal.diameter", "housing.nominal"), ("housing.nominal", "bush.flange_outside")];
    let of_facts = of_facts.map(|(inner, outer)| (inner.to_owned(), outer.to_owned()));
    let housing = ["housing.outside", "housing.outside_least", "housing.outside_most"];
    let of_housing = housing.map(|outer| ("housing.nominal".to_owned(), outer.to_owned()));
    let mut pairs = blanks.chain(of_facts).chain(of_housing);
    pairs.find_map(|(inner, outer)| crossed_facts(seat, units, &inner, &outer)).or_else(|| crossed_readings(seat, units, &housing))
}

fn crossed_facts(seat: &Seat, units: Units, inner: &str, outer: &str) -> Option<(EntryId, Refused)> {
    let (small, large) = (seat.number(inner)?, seat.number(outer)?);
    let known = seat.known(inner)?;
    (small >= large).then(|| (known.entry, not_smaller(inner, (small, large), outer, units)))
}

/// Middle readings against each other and against facts.
fn crossed_readings(seat: &Seat, units: Units, housing: &[&str]) -> Option<(EntryId, Refused)> {
    let middle = |feature: Feature| {
        let used = || seat.sets_of(feature).flat_map(|set| &set.readings).filter(|reading| reading.dropped.is_none());
        Some((median(used().map(|reading| reading.size_mm).collect())?, used().next()?.entry))
    };
    let bore = middle(Feature::HousingBore);
    if let Some((size, entry)) = bore {
        for outer in housing {
            if let Some(outside) = seat.number(outer).filter(|outside| size >= *outside) {
                return Some((entry, not_smaller("the housing bore as read", (size, outside), outer, units)));
            }
        }
        if let Some(journal) = seat.number("journal.diameter").filter(|journal| *journal >= size) {
            let known = seat.known("journal.diameter")?;
            return Some((known.entry, not_smaller("journal.diameter", (journal, size), "the housing bore as read", units)));
        }
    }
    let pairs = [
        (Feature::Journal, Feature::HousingBore),
        (Feature::BushBore, Feature::BushOutside),
        (Feature::FittedBore, Feature::HousingBore),
        (Feature::OldBushBore, Feature::OldBushOutside),
    ];
    pairs.into_iter().find_map(|(inner, outer)| {
        let ((small, entry), (large, _)) = (middle(inner)?, middle(outer)?);
        let words = |feature: Feature| format!("the {} as read", feature.word());
        (small >= large).then(|| (entry, not_smaller(&words(inner), (small, large), &words(outer), units)))
    })
}

fn not_smaller(inner: &str, (small, large): (f64, f64), outer: &str, units: Units) -> Refused {
    let (small, large) = (show::length(small, units), show::length(large, units));
    let remedy = "check both, their units, and whether a diameter was taken for a radius";
    Refused::new(inner, small, format!("less than {outer}, which is {large}"), remedy)
}
