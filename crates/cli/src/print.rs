//! The job sheet as lines of text: for a terminal, a pipe, a printer without pictures.

use std::io::{self, Write};

use job::sheet::{Grid, JobSheet, SeatSheet, Stage, StageSheet};
use serde_json::Value;

/// Letters a line. A terminal may be wider: lines of words longer than this are hard to read.
const WIDTH: usize = 110;

/// What of the sheet is wanted.
pub struct Part<'a> {
    /// Only this seat.
    pub seat: Option<&'a str>,
    /// Only this stage.
    pub stage: Option<Stage>,
    /// With the derivations.
    pub working: bool,
}

/// Prints the sheet, or the part of it that is wanted.
pub fn sheet(sheet: &JobSheet, part: &Part, out: &mut impl Write) -> io::Result<()> {
    head(sheet, out)?;
    let seats: Vec<&SeatSheet> = sheet
        .seats
        .iter()
        .filter(|seat| part.seat.is_none_or(|name| seat.name == name || seat.also.iter().any(|also| also == name)))
        .collect();
    if seats.len() > 1 && part.stage.is_none() {
        writeln!(out, "\nSeats")?;
        for seat in &seats {
            wrapped(&format!("{}: {}", titled(seat), seat.decision), "  ", "    ", out)?;
        }
    }
    for (i, seat) in seats.iter().enumerate() {
        one_seat(seat, i.checked_sub(1).and_then(|_| seats.first()).copied(), part, out)?;
    }
    writeln!(out, "\nA figure here never replaces a drawing, a code that applies, or the licensed engineer of the place.")
}

fn head(sheet: &JobSheet, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "{}  {}", sheet.number, sheet.title)?;
    let mut who = vec![sheet.customer.clone(), sheet.by.join(", "), sheet.date.clone()];
    who.retain(|part| !part.is_empty());
    writeln!(out, "{}  ·  entries {}", who.join("  ·  "), sheet.head.get(..12).unwrap_or(&sheet.head))?;
    for note in &sheet.notes {
        wrapped(note, "  note: ", "        ", out)?;
    }
    Ok(())
}

fn titled(seat: &SeatSheet) -> String {
    match seat.also.as_slice() {
        [] => seat.name.clone(),
        [one] => format!("{} and {one}", seat.name),
        [.., last] => format!("{} and {} more to {last}", seat.name, seat.also.len()),
    }
}

fn one_seat(seat: &SeatSheet, first: Option<&SeatSheet>, part: &Part, out: &mut impl Write) -> io::Result<()> {
    let title = format!("Seat {}", titled(seat));
    writeln!(out, "\n{title}\n{}", "=".repeat(title.chars().count()))?;
    wrapped(&seat.decision, "", "", out)?;
    if part.stage.is_none() {
        writeln!(out)?;
        for stage in &seat.stages {
            let (mark, word) = stage.standing.mark();
            writeln!(out, "  {mark} {:<8} {word:<12} {}", stage.stage.title(), stage.brief)?;
        }
    }
    for stage in seat.stages.iter().filter(|stage| part.stage.is_none_or(|wanted| stage.stage == wanted)) {
        // In a batch the brief of the second seat is that of the first: it is named, not said again.
        let same = first.filter(|first| part.stage.is_none() && first.stages.iter().any(|known| known == stage));
        match same {
            Some(first) => writeln!(out, "\n{}: as for seat {}. {}", stage.stage.title(), first.name, stage.answer)?,
            None => one_stage(stage, part.working, out)?,
        }
    }
    Ok(())
}

fn one_stage(stage: &StageSheet, working: bool, out: &mut impl Write) -> io::Result<()> {
    let title = stage.stage.title();
    writeln!(out, "\n{title}\n{}", "-".repeat(title.chars().count()))?;
    for caution in &stage.cautions {
        wrapped(caution, "  CAUTION  ", "           ", out)?;
    }
    wrapped(&stage.answer, "", "", out)?;
    for need in &stage.needs {
        wrapped(need, "  ! needs you: ", "               ", out)?;
    }
    if !stage.lines.is_empty() {
        writeln!(out)?;
    }
    let label = stage.lines.iter().map(|line| line.label.chars().count()).max().unwrap_or(0).min(44);
    let value = stage.lines.iter().map(|line| line.value.chars().count()).filter(|count| *count <= 32).max().unwrap_or(0);
    for line in &stage.lines {
        let start = format!("  {}  ", padded(&line.label, label));
        if line.value.chars().count() > 32 {
            let note = if line.note.is_empty() { String::new() } else { format!(" ({})", line.note) };
            wrapped(&format!("{}{note}", line.value), &start, &" ".repeat(label + 4), out)?;
        } else {
            let start = format!("{start}{}  ", padded(&line.value, value));
            wrapped(&line.note, &start, &" ".repeat(label + value + 6), out)?;
        }
    }
    for grid in &stage.grids {
        one_grid(grid, out)?;
    }
    for warning in &stage.warnings {
        wrapped(warning, "  note: ", "        ", out)?;
    }
    if working {
        derivations(stage, out)?;
    }
    for source in &stage.sources {
        wrapped(source, "  source: ", "          ", out)?;
    }
    Ok(())
}

/// Columns as wide as their widest cell; the last ones wrap when words don't fit.
fn one_grid(grid: &Grid, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "\n  {}", grid.title)?;
    let count = |text: &str| text.chars().count();
    let mut widths: Vec<usize> = grid.columns.iter().map(|column| count(column)).collect();
    for row in &grid.rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(count(cell));
        }
    }
    let room = WIDTH.saturating_sub(4 + 2 * widths.len());
    while widths.iter().sum::<usize>() > room {
        match widths.iter_mut().max() {
            Some(widest) if *widest > 12 => *widest -= 1,
            _ => break,
        }
    }
    let mut print = |cells: &[String]| -> io::Result<()> {
        let folded: Vec<Vec<String>> = cells.iter().zip(&widths).map(|(cell, width)| folded(cell, *width)).collect();
        let lines = folded.iter().map(Vec::len).max().unwrap_or(1);
        for i in 0..lines {
            let mut line = String::from("   ");
            for ((cell, width), figure) in folded.iter().zip(&widths).zip(&grid.figures) {
                let text = cell.get(i).map(String::as_str).unwrap_or("");
                let space = " ".repeat(width.saturating_sub(count(text)));
                line.push_str(&if *figure { format!(" {space}{text} ") } else { format!(" {text}{space} ") });
            }
            writeln!(out, "{}", line.trim_end())?;
        }
        Ok(())
    };
    print(&grid.columns)?;
    print(&widths.iter().map(|width| "-".repeat(*width)).collect::<Vec<_>>())?;
    grid.rows.iter().try_for_each(|row| print(row))
}

fn derivations(stage: &StageSheet, out: &mut impl Write) -> io::Result<()> {
    for calculation in &stage.calculations {
        let Some(steps) = calculation.answer.get("working").and_then(Value::as_array).filter(|steps| !steps.is_empty()) else { continue };
        writeln!(out, "\n  how {} was found ({})", calculation.name.replace('_', " "), calculation.kind)?;
        for step in steps {
            let text = |key: &str| step.get(key).and_then(Value::as_str).unwrap_or("").to_owned();
            wrapped(&format!("{}: {}", text("what"), text("formula")), "    ", "      ", out)?;
            for (key, word) in [("with", "with"), ("gives", "gives")] {
                let pairs =
                    step.get(key).and_then(Value::as_array).map(|pairs| pairs.iter().filter_map(pair).collect::<Vec<_>>().join(", "));
                if let Some(pairs) = pairs.filter(|pairs| !pairs.is_empty()) {
                    wrapped(&pairs, &format!("      {word} "), "           ", out)?;
                }
            }
            wrapped(&text("source"), "      source: ", "              ", out)?;
        }
    }
    Ok(())
}

fn pair(pair: &Value) -> Option<String> {
    let value = pair.get(1)?;
    Some(format!("{} = {value}", pair.get(0)?.as_str()?))
}

fn padded(text: &str, width: usize) -> String {
    format!("{text}{}", " ".repeat(width.saturating_sub(text.chars().count())))
}

fn wrapped(text: &str, first: &str, next: &str, out: &mut impl Write) -> io::Result<()> {
    let width = WIDTH.saturating_sub(first.chars().count().max(next.chars().count())).max(30);
    for (i, line) in folded(text, width).iter().enumerate() {
        writeln!(out, "{}", format!("{}{line}", if i == 0 { first } else { next }).trim_end())?;
    }
    Ok(())
}

/// A text in lines of at most `width` letters, broken between words; a longer word stands alone and is cut.
fn folded(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let mut word: String = word.into();
        loop {
            let line = lines.last().map_or(0, |line| line.chars().count());
            let long = word.chars().count();
            let gap = usize::from(line > 0);
            if line + gap + long <= width {
                if let Some(last) = lines.last_mut() {
                    if gap == 1 {
                        last.push(' ');
                    }
                    last.push_str(&word);
                }
                break;
            }
            if line > 0 {
                lines.push(String::new());
                continue;
            }
            let cut: String = word.chars().take(width.max(1)).collect();
            word = word.chars().skip(width.max(1)).collect();
            if let Some(last) = lines.last_mut() {
                last.push_str(&cut);
            }
            if word.is_empty() {
                break;
            }
            lines.push(String::new());
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_kept_whole_and_none_is_lost() {
        assert_eq!(folded("one two three", 7), ["one two", "three"]);
        assert_eq!(folded("abcdefghij", 4), ["abcd", "efgh", "ij"]);
        assert_eq!(folded("", 4), [""]);
    }
}
