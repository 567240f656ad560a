//! `bushwright compute`: one calculation as JSON, from standard input to standard output.

use std::io::{BufRead, Read, Write};

use calc::Refused;
use calc::compute::{KINDS, Kind, answer, kind, read};
use calc::keys::{Form, Key, allowed_by, unit_of};
use serde_json::{Value, json};

use crate::crew::Hands;
use crate::stop::Stop;

/// Ask for one calculation: a JSON request on standard input, the JSON answer on standard output.
#[derive(clap::Args)]
pub struct Arguments {
    /// Which calculation; without it they are listed.
    kind: Option<String>,
    /// One request a line, one answer a line, in the same order; a bad line answers {"error": ..} and the run goes on.
    #[arg(long)]
    lines: bool,
    /// Print the keys of the request and of the answer, with units and ranges.
    #[arg(long)]
    keys: bool,
    /// Print a table that a person reads instead of JSON (`cut-trials`).
    #[arg(long, conflicts_with_all = ["lines", "keys", "working"])]
    table: bool,
    /// Add the derivation: each step with its formula, inputs and source.
    #[arg(long)]
    working: bool,
    /// Hands to use for large Monte Carlo runs (all cores); the answer is the same bytes with any number.
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
}

/// No request of this trade is longer; a larger one is a slip of the pipe.
const LARGEST_REQUEST: u64 = 64 * 1024 * 1024;

pub fn run(arguments: &Arguments) -> Result<(), Stop> {
    let mut out = std::io::stdout().lock();
    let Some(name) = &arguments.kind else {
        return Ok(list(&mut out)?);
    };
    let kind = kind(name)?;
    if arguments.keys {
        return Ok(keys(kind, &mut out)?);
    }
    if arguments.table && kind.name != calc::turn::trials::KIND.name {
        return Err(Refused::new("--table", kind.name, "cut-trials", "ask for the answer as JSON, without --table").into());
    }
    let hands = Hands::new(arguments.threads);
    if arguments.lines { lines(arguments, kind, &hands, &mut out) } else { one(arguments, kind, &hands, &mut out) }
}

fn list(out: &mut impl Write) -> std::io::Result<()> {
    for kind in KINDS {
        let built = if kind.run.is_some() { "" } else { " (not built yet)" };
        writeln!(out, "{:<14} {}{built}", kind.name, kind.help)?;
    }
    writeln!(
        out,
        "\nbushwright compute KIND --keys   the keys of its request and answer\nbushwright compute KIND < request.json > answer.json"
    )
}

fn one(arguments: &Arguments, kind: &Kind, hands: &Hands, out: &mut impl Write) -> Result<(), Stop> {
    let mut bytes = Vec::new();
    std::io::stdin()
        .lock()
        .take(LARGEST_REQUEST + 1)
        .read_to_end(&mut bytes)
        .map_err(|fault| Stop::Failed(format!("could not read: {fault}")))?;
    let text = text(&bytes)?;
    let found = answer(kind.name, &opened(read(text)?)?, hands, arguments.working)?;
    if let Some(table) = calc::turn::trials::table(&found).filter(|_| arguments.table) {
        for line in table {
            writeln!(out, "{line}")?;
        }
        return Ok(());
    }
    writeln!(out, "{}", serde_json::to_string_pretty(&found).unwrap_or_default())?;
    Ok(())
}

/// A request with the table that it names by its path read in: `calc` opens no files.
fn opened(mut request: Value) -> Result<Value, Refused> {
    if let Some(Value::String(named)) = request.get_mut("runs_csv")
        && !named.contains('\n')
    {
        *named = std::fs::read_to_string(&*named).map_err(|fault| {
            Refused::new("runs_csv", format!("{named:?}, which can't be read ({fault})"), "the path of a table of runs", "mend the path")
        })?;
    }
    Ok(request)
}

fn text(bytes: &[u8]) -> Result<&str, Stop> {
    if bytes.len() as u64 > LARGEST_REQUEST {
        return Err(Stop::Refused(
            "the request is over 64 MB; allowed: one JSON object; send it without what does not belong to it".into(),
        ));
    }
    let text = std::str::from_utf8(bytes).map_err(|fault| {
        let at = fault.valid_up_to();
        Stop::Refused(format!("the request is not UTF-8 at byte {at}; allowed: JSON in UTF-8; save it again as UTF-8"))
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(Stop::Refused("the request is empty; allowed: one JSON object; write it to standard input (see --keys)".into()));
    }
    Ok(text)
}

fn lines(arguments: &Arguments, kind: &Kind, hands: &Hands, out: &mut impl Write) -> Result<(), Stop> {
    let mut input = std::io::stdin().lock();
    let mut bytes = Vec::new();
    loop {
        bytes.clear();
        let count = input.read_until(b'\n', &mut bytes).map_err(|fault| Stop::Failed(format!("could not read: {fault}")))?;
        if count == 0 {
            return Ok(());
        }
        if bytes.iter().all(u8::is_ascii_whitespace) {
            continue;
        }
        let found = text(&bytes).map_err(|stop| match stop {
            Stop::Refused(sentence) => json!({"key": "", "given": sentence, "allowed": "one JSON object a line", "do": "mend that line"}),
            _ => Value::Null,
        });
        let refused = |refused: Refused| serde_json::to_value(refused).unwrap_or_default();
        let found = found.and_then(|text| {
            read(text).and_then(opened).and_then(|request| answer(kind.name, &request, hands, arguments.working)).map_err(refused)
        });
        let line = found.unwrap_or_else(|error| json!({ "error": error }));
        writeln!(out, "{line}")?;
    }
}

fn keys(kind: &Kind, out: &mut impl Write) -> std::io::Result<()> {
    writeln!(out, "{}: {}\n", kind.name, kind.help)?;
    if kind.run.is_none() {
        return writeln!(out, "not built yet");
    }
    writeln!(out, "request")?;
    request_keys(kind.request, 1, out)?;
    writeln!(out, "\nanswer")?;
    for told in kind.answer {
        writeln!(out, "  {:<34} {:<10} {}", told.path, unit_of(told.path), told.help)?;
    }
    writeln!(out, "  {:<34} {:<10} sentences a person can read", "warnings", "")?;
    writeln!(out, "\nexample\n  {}", kind.example)
}

fn request_keys(keys: &[Key], depth: usize, out: &mut impl Write) -> std::io::Result<()> {
    for key in keys {
        let name = format!("{}{}", "  ".repeat(depth), key.name);
        let (allowed, inner) = match &key.form {
            Form::Record(inner) => ("an object with".to_owned(), *inner),
            Form::Records(inner) => ("a list of objects with".to_owned(), *inner),
            form => (allowed_by(form), &[][..]),
        };
        let needed = match (key.needed, key.default) {
            (true, _) => " (needed)".to_owned(),
            (false, "") => String::new(),
            (false, default) => format!(" (default {default})"),
        };
        writeln!(out, "{name:<36} {:<10} {}{needed}: {allowed}", unit_of(key.name), key.help)?;
        request_keys(inner, depth + 1, out)?;
    }
    Ok(())
}
