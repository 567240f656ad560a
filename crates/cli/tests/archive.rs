//! Whether every paper of the demos is what its metadata claims: PDF/A-2a (ISO 19005-2) and PDF/UA-1 (ISO 14289-1).
//!
//! A validator is in none of the package registries that this is built with, so the rules that such a document can break stand here, each
//! with its clause (from memory), and are held against the finished bytes by a reader that did not write them. What is not looked at:
//! glyph widths against the embedded font programs, and colours inside content streams.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use std::path::{Path, PathBuf};
use std::process::Command;

use hayro_syntax::Pdf;
use hayro_syntax::object::{Array, Dict, MaybeRef, Name, Object, Stream};

const DEMOS: [&str; 5] = ["aluminium_gearbox", "crusher_pitman", "excavator_link_pin", "ferry_ramp_winch", "turbine_guide_vanes"];
const KINDS: [&str; 5] = ["drawing", "lathe-sheet", "certificate", "quote", "pdf"];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// Every paper of a demo, few draws.
fn papers(demo: &str) -> Vec<(&'static str, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("archive_{demo}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    let text = std::fs::read_to_string(root().join(format!("demo/{demo}.toml"))).unwrap();
    let file = folder.join("job.toml");
    std::fs::write(&file, text.replace("draws = 200000", "draws = 1000").replace("draws = 20000", "draws = 1000")).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_bushwright"));
    command.arg("job").arg(&file);
    let places: Vec<_> = KINDS.iter().map(|kind| (*kind, folder.join(format!("{kind}.pdf")))).collect();
    for (kind, place) in &places {
        command.arg(format!("--{kind}")).arg(place);
    }
    let output = command.output().unwrap();
    assert!(output.status.success(), "{demo}: {}", String::from_utf8_lossy(&output.stderr));
    places.into_iter().map(|(kind, place)| (kind, std::fs::read(place).unwrap())).collect()
}

fn named(dict: &Dict, key: &str) -> String {
    dict.get::<Name>(key).map(|name| name.as_str().to_owned()).unwrap_or_default()
}

fn dict_of<'a>(object: &Object<'a>) -> Option<Dict<'a>> {
    match object {
        Object::Dict(dict) => Some(dict.clone()),
        Object::Stream(stream) => Some(stream.dict().clone()),
        _ => None,
    }
}

/// Dictionaries that stand in one another, each once: what is reached by a reference is an object of its own.
fn within<'a>(dict: &Dict<'a>, all: &mut Vec<Dict<'a>>) {
    all.push(dict.clone());
    for (_, value) in dict.entries() {
        inside(value, all);
    }
}

fn inside<'a>(value: MaybeRef<Object<'a>>, all: &mut Vec<Dict<'a>>) {
    match value {
        MaybeRef::NotRef(Object::Dict(dict)) => within(&dict, all),
        MaybeRef::NotRef(Object::Array(array)) => array.raw_iter().for_each(|value| inside(value, all)),
        _ => {}
    }
}

/// What is broken; nothing is the answer that is wanted.
fn faults(bytes: &[u8]) -> Vec<String> {
    let mut faults = Vec::new();
    let mut rule = |held: bool, words: &str| {
        if !held && !faults.iter().any(|fault| fault == words) {
            faults.push(words.to_owned());
        }
    };
    let second: Vec<u8> = bytes.split(|byte| *byte == b'\n').nth(1).unwrap_or_default().to_vec();
    rule(bytes.starts_with(b"%PDF-1."), "6.1.2: the header is not %PDF-1.n");
    rule(second.first() == Some(&b'%') && second.iter().skip(1).take(4).filter(|byte| **byte > 127).count() == 4, "6.1.2: no binary mark");
    let tail = String::from_utf8_lossy(&bytes[bytes.len().saturating_sub(2048)..]).into_owned();
    rule(tail.contains("/ID"), "6.1.3: the trailer has no ID");
    rule(!tail.contains("/Encrypt"), "6.1.3: it is encrypted");
    let Ok(pdf) = Pdf::new(bytes.to_vec()) else { return vec!["it can't be read".into()] };
    let Some(catalog) = pdf.xref().get::<Dict>(pdf.xref().root_id()) else { return vec!["it has no catalog".into()] };
    let objects: Vec<Object> = pdf.objects().into_iter().collect();
    let mut dicts = Vec::new();
    for dict in objects.iter().filter_map(dict_of) {
        within(&dict, &mut dicts);
    }
    metadata(&catalog, &pdf, &mut rule);
    intent(&catalog, &mut rule);
    logic(&catalog, &dicts, &mut rule);
    dicts.iter().filter(|dict| named(dict, "Type") == "Font").for_each(|font| embedded(font, &mut rule));
    dicts.iter().for_each(|dict| forbidden(dict, &mut rule));
    for stream in objects.iter().filter_map(|object| if let Object::Stream(stream) = object { Some(stream) } else { None }) {
        let filters = format!("{:?}", stream.filters());
        rule(!filters.contains("Lzw") && !filters.contains("Crypt"), "6.1.7: a filter that is not allowed");
        rule(!stream.dict().contains_key("F"), "6.1.7: a stream in another file");
        rule(stream.decoded().is_ok(), "a stream can't be decoded");
    }
    rule(!pdf.pages().is_empty(), "it has no page");
    faults
}

fn metadata(catalog: &Dict, pdf: &Pdf, rule: &mut impl FnMut(bool, &str)) {
    let xmp = catalog
        .get::<Stream>("Metadata")
        .and_then(|stream| stream.decoded().ok().map(|bytes| String::from_utf8_lossy(&bytes).into_owned()));
    let xmp = xmp.unwrap_or_default();
    rule(xmp.contains("<pdfaid:part>2<") && xmp.contains("<pdfaid:conformance>A<"), "6.6.4: the metadata does not claim PDF/A-2a");
    rule(xmp.contains("<pdfuaid:part>1<"), "UA 5: the metadata does not claim PDF/UA-1");
    rule(xmp.contains("<dc:title>") && xmp.contains("<dc:language>"), "6.6.2: no title or language in the metadata");
    let title = pdf.metadata().title.as_ref().map(|title| String::from_utf8_lossy(title).into_owned()).unwrap_or_default();
    // Titles beyond Latin letters are UTF-16 there; those of the demos are not.
    rule(!title.is_empty() && (title.starts_with('\u{fffd}') || xmp.contains(&title.replace('&', "&amp;"))), "6.6.3: two titles");
    let shows_title = catalog.get::<Dict>("ViewerPreferences").and_then(|viewer| viewer.get::<bool>("DisplayDocTitle"));
    rule(shows_title == Some(true), "UA 7.1: the window does not show the title");
}

fn intent(catalog: &Dict, rule: &mut impl FnMut(bool, &str)) {
    let intents = catalog.get::<Array>("OutputIntents");
    let first = intents.and_then(|intents| intents.iter::<Dict>().next());
    let profile = first.as_ref().and_then(|intent| intent.get::<Stream>("DestOutputProfile"));
    rule(first.as_ref().is_some_and(|intent| named(intent, "S") == "GTS_PDFA1"), "6.2.3: no output intent");
    let profile = profile.and_then(|profile| profile.decoded().ok().map(|bytes| bytes.to_vec())).unwrap_or_default();
    rule(profile.get(36..40) == Some(b"acsp"), "6.2.3: the output intent has no colour profile");
}

/// Tags, language, alternatives. Source: ISO 19005-2, 6.7; ISO 14289-1, 7.
fn logic(catalog: &Dict, dicts: &[Dict], rule: &mut impl FnMut(bool, &str)) {
    let marked = catalog.get::<Dict>("MarkInfo").and_then(|mark| mark.get::<bool>("Marked"));
    rule(marked == Some(true), "6.7.2: it is not marked");
    rule(catalog.get::<Dict>("StructTreeRoot").is_some_and(|tree| tree.contains_key("K")), "6.7.3: it has no tags");
    rule(catalog.contains_key("Lang"), "6.7.4: it has no language");
    let elements: Vec<(String, &Dict)> =
        dicts.iter().filter(|dict| dict.contains_key("S") && dict.contains_key("P")).map(|dict| (named(dict, "S"), dict)).collect();
    for (what, element) in &elements {
        rule(!matches!(what.as_str(), "Figure" | "Formula") || element.contains_key("Alt"), "UA 7.3: a picture without words");
        rule(what != "TH" || element.contains_key("A"), "UA 7.5: a head cell that does not say of what");
    }
    let mut level = 0;
    for heading in elements.iter().filter_map(|(what, _)| what.strip_prefix('H')?.parse::<u32>().ok()) {
        rule(heading <= level + 1, "UA 7.4: a level of headings is skipped");
        level = heading;
    }
}

fn embedded(font: &Dict, rule: &mut impl FnMut(bool, &str)) {
    match named(font, "Subtype").as_str() {
        "Type0" => rule(font.contains_key("ToUnicode"), "6.2.11.7: a font whose text can't be read out"),
        "Type3" => rule(font.contains_key("ToUnicode"), "6.2.11.7: a drawn font whose text can't be read out"),
        kind => {
            let descriptor = font.get::<Dict>("FontDescriptor");
            let held = descriptor.is_some_and(|of| ["FontFile", "FontFile2", "FontFile3"].iter().any(|key| of.contains_key(key)));
            rule(held, "6.2.11.4: a font that is not embedded");
            rule(kind != "CIDFontType2" || font.contains_key("CIDToGIDMap"), "6.2.11.3: a font without its glyphs' map");
        }
    }
}

fn forbidden(dict: &Dict, rule: &mut impl FnMut(bool, &str)) {
    let kind = named(dict, "Type");
    rule(
        !matches!(named(dict, "S").as_str(), "Launch" | "JavaScript" | "Sound" | "Movie" | "ImportData" | "ResetForm"),
        "6.5.1: an action",
    );
    rule(!dict.contains_key("AA") && !dict.contains_key("JS"), "6.5.2: something that acts by itself");
    rule(!dict.contains_key("EmbeddedFiles"), "6.8: a file inside");
    rule(kind != "ExtGState" || !(dict.contains_key("TR") || dict.contains_key("HTP")), "6.2.5: a transfer function");
    rule(named(dict, "Subtype") != "PS" && !dict.contains_key("Alternates"), "6.2.8: an object that is not allowed");
    rule(dict.get::<bool>("Interpolate") != Some(true), "6.2.8: an interpolated image");
    let prints = dict.get::<i32>("F").is_some_and(|flags| flags & 4 != 0 && flags & 0b11 == 0);
    rule(kind != "Annot" || prints, "6.3.2: a note that is not printed");
}

#[test]
fn every_paper_of_every_demo_keeps_the_rules_of_its_standards() {
    for demo in DEMOS {
        for (kind, bytes) in papers(demo) {
            assert_eq!(faults(&bytes), Vec::<String>::new(), "{demo} {kind}");
        }
    }
}

#[test]
fn the_check_finds_what_is_broken() {
    let (_, whole) = papers("excavator_link_pin").into_iter().find(|(kind, _)| *kind == "certificate").unwrap();
    assert_eq!(faults(&whole), Vec::<String>::new());
    let spoilt = |from: &str, to: &str| {
        assert_eq!(from.len(), to.len());
        let mut bytes = whole.clone();
        let places: Vec<usize> =
            whole.windows(from.len()).enumerate().filter(|(_, here)| *here == from.as_bytes()).map(|(at, _)| at).collect();
        assert!(!places.is_empty(), "{from} does not stand in the file");
        for at in places {
            bytes[at..at + from.len()].copy_from_slice(to.as_bytes());
        }
        faults(&bytes)
    };
    for (from, to, clause) in [
        ("<pdfaid:part>2<", "<pdfaid:part>1<", "6.6.4"),
        ("<pdfuaid:part>1<", "<pdfuaid:part>9<", "UA 5"),
        ("/OutputIntents", "/OutputIntentz", "6.2.3"),
        ("/Marked true", "/Mxrked true", "6.7.2"),
        ("/StructTreeRoot", "/StructTreeR00t", "6.7.3"),
        ("/Lang(", "/Long(", "6.7.4"),
        ("/FontFile3", "/FontFile9", "6.2.11.4"),
        ("/ToUnicode", "/ToUnicorn", "6.2.11.7"),
        ("/Alt(", "/Ald(", "UA 7.3"),
        ("/S/H1", "/S/H3", "UA 7.4"),
        ("/DisplayDocTitle true", "/DisplayDocTitle null", "UA 7.1"),
    ] {
        let found = spoilt(from, to);
        assert!(found.iter().any(|fault| fault.starts_with(clause)), "{from} to {to}: {found:?}");
    }
}
