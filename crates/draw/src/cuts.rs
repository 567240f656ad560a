//! What is drawn of a part at the lathe: its steps as they were kept, and what `next-cut` says after each.
//!
//! It is asked once for what is known now and once more as it stood before each cut, for the size that was then asked of it.

use calc::crew::Crew;
use job::lathe::part::Part;
use job::lathe::step::Step;
use job::stages::ask::Said;

use crate::approach::{Approach, Believed, CutAhead, CutMade};

/// The approach of a part to its band; none before its start, and where nothing can be said of it.
pub fn of_part(part: &Part, crew: &dyn Crew) -> Option<Approach> {
    let (_, start) = part.start()?;
    let (low_mm, high_mm) = part.limits()?;
    let said = part.ask(crew)?.ok()?;
    let reads = said.list("reads");
    let mut reads = reads.iter();
    let mut cuts: Vec<CutMade> = Vec::new();
    for (place, step) in part.steps.iter().enumerate() {
        match step.step {
            Step::Cut { command_mm } => {
                let before = Part { steps: part.steps.get(..place).unwrap_or_default().to_vec(), ..part.clone() };
                let asked = before.ask(crew).and_then(Result::ok).and_then(|said| said.number("next.size_mm"));
                cuts.push(CutMade { target_mm: asked.unwrap_or(command_mm), read: Vec::new() });
            }
            Step::Size { .. } => {
                let read = reads.next().and_then(believed);
                if let (Some(cut), Some(read)) = (cuts.last_mut(), read) {
                    cut.read.push(read);
                }
            }
            _ => {}
        }
    }
    let next = if part.is_over() { None } else { ahead(&said) };
    Some(Approach { low_mm, high_mm, start: start.quantity(), cuts, next })
}

fn believed(read: &Said) -> Option<Believed> {
    let set_aside_mm = if read.flag("suspect") { read.number("if_kept_mm") } else { None };
    Some(Believed { size: read.quantity("size_mm")?, set_aside_mm })
}

fn ahead(said: &Said) -> Option<CutAhead> {
    let size = said.quantity("next.size_mm")?;
    Some(CutAhead { target_mm: size.value, size, chance_in_band: said.number("next.chance_in_band") })
}
