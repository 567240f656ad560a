//! From bytes to the tree of a file: size, UTF-8, TOML; each error in our words.

use calc::Refused;
use toml::Spanned;
use toml::de::DeTable;

use super::place::{position, quoted, refuse_at, written};
use super::{BadFile, MOST_BYTES};

/// The text of a file: a byte order mark at its start does not count.
pub(super) fn text(bytes: &[u8]) -> Result<&str, BadFile> {
    if bytes.len() > MOST_BYTES {
        let refused = Refused::new(
            "the file",
            format!("{} bytes long", bytes.len()),
            "5 MB at most",
            "look whether it is a job file; split a large job",
        );
        return Err(whole(refused));
    }
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    let text = std::str::from_utf8(bytes).map_err(|error| not_utf8(bytes, error.valid_up_to()))?;
    if text.trim().is_empty() {
        let refused = Refused::new("the file", "empty", "a job file", "start from the one that `job new` writes");
        return Err(whole(refused));
    }
    Ok(text)
}

/// Refuses the file as a whole.
fn whole(refused: Refused) -> BadFile {
    BadFile { file: String::new(), line: 1, column: 1, byte: 0, refused }
}

fn not_utf8(bytes: &[u8], at: usize) -> BadFile {
    let before = std::str::from_utf8(bytes.get(..at).unwrap_or_default()).unwrap_or_default();
    let (line, column) = position(before, at);
    let byte = bytes.get(at).copied().unwrap_or_default();
    let given = format!("byte {byte:#04X} at {at}, which is no UTF-8");
    let refused = Refused::new(format!("line {line}"), given, "text in UTF-8", "save the file as UTF-8 in the editor");
    BadFile { file: String::new(), line, column, byte: at, refused }
}

/// The tree of a file with the place of everything in it.
pub(super) fn tree(text: &str) -> Result<Spanned<DeTable<'_>>, BadFile> {
    let (table, errors) = DeTable::parse_recoverable(text);
    let start = |error: &toml::de::Error| error.span().map_or(0, |span| span.start);
    match errors.iter().min_by_key(|error| start(error)) {
        None => Ok(table),
        Some(error) => Err(in_our_words(text, error)),
    }
}

fn in_our_words(text: &str, error: &toml::de::Error) -> BadFile {
    let span = error.span().unwrap_or(0..0);
    let message = error.message();
    let line_text = line_at(text, span.start);
    let (line, _) = position(text, span.start);
    let say =
        |key: String, given: String, allowed: &str, remedy: String| refuse_at(text, span.start, Refused::new(key, given, allowed, remedy));
    let key = line_text.split_once('=').map_or("", |(key, _)| key).trim();
    if message.contains("duplicate key") {
        let name = written(text, span.clone());
        return say(name, "given twice".into(), "once in its table", "keep one of the two".into());
    }
    if message.contains("recurs") {
        return say(format!("line {line}"), "nested too deep".into(), "tables two or three deep", "write it as the handbook shows".into());
    }
    let rest_is_empty = line_text.split_once('=').is_some_and(|(_, value)| value.split('#').next().unwrap_or_default().trim().is_empty());
    if rest_is_empty && !key.is_empty() {
        let remedy = format!("write {key} = and its value, or put # before the line until it is known");
        return say(quoted(key), "left without a value".into(), "a value after =", remedy);
    }
    if text.get(span.start..).unwrap_or_default().trim().is_empty() && !text.ends_with('\n') {
        let given = format!("cut off in `{}`", quoted(last_line(text)));
        return say(format!("line {}", text.lines().count()), given, "a whole file", "take the whole file, or finish its last line".into());
    }
    let remedy = if has_decimal_comma(line_text) {
        "write a decimal point".to_owned()
    } else if is_bare_word(line_text) {
        format!("write {key} = \"{}\", a text in quotes", quoted(line_text.split_once('=').map_or("", |(_, value)| value).trim()))
    } else {
        format!("put this right: {}", quoted(message))
    };
    say(format!("line {line}"), format!("`{}`", quoted(line_text)), "key = value, [table], [[table]] or # comment", remedy)
}

fn line_at(text: &str, byte: usize) -> &str {
    let byte = byte.min(text.len());
    let start = text.as_bytes().iter().take(byte).rposition(|byte| *byte == b'\n').map_or(0, |newline| newline + 1);
    text.get(start..).and_then(|rest| rest.lines().next()).unwrap_or_default()
}

fn last_line(text: &str) -> &str {
    text.lines().last().unwrap_or_default()
}

fn has_decimal_comma(line: &str) -> bool {
    let value = line.split_once('=').map_or("", |(_, value)| value).trim();
    let value = value.split('#').next().unwrap_or_default().trim();
    value.split_once(',').is_some_and(|(whole, part)| {
        let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        digits(whole.trim_start_matches('-')) && digits(part)
    })
}

fn is_bare_word(line: &str) -> bool {
    let value = line.split_once('=').map_or("", |(_, value)| value).trim();
    value.starts_with(char::is_alphabetic) && !value.contains(['"', '\'', '[', '{', '#'])
}

/// What a person should know about the file as a text.
pub(super) fn notes(text: &str) -> Vec<String> {
    if text.ends_with('\n') {
        return Vec::new();
    }
    vec![format!(
        "The file ends without a line end, after `{}`. Check that its last line is whole and that nothing is missing after it.",
        quoted(last_line(text))
    )]
}
