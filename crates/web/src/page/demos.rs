//! The demos, compiled in: jobs to look at and to practise on, kept on this device alone.

use job::entry::Entry;

use super::app::PRACTICE;

/// A demo.
#[derive(Clone, Copy)]
pub struct Demo {
    /// Its file.
    pub name: &'static str,
    /// What it is.
    pub title: &'static str,
    /// What makes it hard.
    pub hard: &'static str,
    text: &'static [u8],
}

/// Every demo, in the order in which they are worth opening.
pub const DEMOS: [Demo; 5] = [
    Demo {
        name: "ferry_ramp_winch",
        title: "Ferry ramp winch, two pedestal bushes",
        hard: "Oval bores measured while still warm from boring; a longer bush whose groove has moved.",
        text: include_bytes!("../../../../demo/ferry_ramp_winch.toml"),
    },
    Demo {
        name: "excavator_link_pin",
        title: "Excavator link pin",
        hard: "A hard pin, grit and blows in a square eye that closes in more on one axis; all in inches.",
        text: include_bytes!("../../../../demo/excavator_link_pin.toml"),
    },
    Demo {
        name: "crusher_pitman",
        title: "Crusher pitman",
        hard: "Grey iron that must not be stretched far; too large for the press, so it goes in cold from nitrogen.",
        text: include_bytes!("../../../../demo/crusher_pitman.toml"),
    },
    Demo {
        name: "aluminium_gearbox",
        title: "Saw mill gearbox, aluminium housing",
        hard: "Aluminium grows more than bronze: the fit is lost when hot and takes a set on the cold morning.",
        text: include_bytes!("../../../../demo/aluminium_gearbox.toml"),
    },
    Demo {
        name: "turbine_guide_vanes",
        title: "Turbine guide vanes, 24 stem bushes",
        hard: "No lead, water alone for a lubricant, and 24 bores that differ by more than a standard band.",
        text: include_bytes!("../../../../demo/turbine_guide_vanes.toml"),
    },
];

impl Demo {
    /// Its entries as a practice job, and the name under which it is kept.
    pub fn entries(&self) -> Result<(String, Vec<Entry>), String> {
        let (entries, state) = job::open(self.name, self.text).map_err(|bad| bad.to_string())?;
        let name = format!("{PRACTICE}{}", state.number);
        Ok((name.clone(), entries.into_iter().map(|entry| Entry { job: name.clone(), ..entry }).collect()))
    }
}
