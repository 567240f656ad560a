//! Every refusal of a job file in its exact words, and every slip that is only told.

use job::open;

/// A file that reads, with lines to change.
const FILE: &str = r#"[job]
number = "7"
by = "A. Turner"
date = 2026-03-02

[shop]
room = 19
rate = 85

[gauge.bore]
resolution = 0.001
due = 2026-12-01

[brief.winch.duty]
load = 85
motion = "rotation"

[brief.winch.state.hot]
bush = 70
housing = 55

[brief.winch.housing]
metal = "S355"
outside = 340

[brief.winch.stock.ring]
outside = 260
bore = 180
price = 14.5

[seat.A]
brief = "winch"

[[seat.A.measure]]
of = "housing bore"
gauge = "bore"
part_temperature = 18
readings = [[20, 0, 240.012], [20, 90, 240.018], [140, 0, 240.010]]

[[seat.A.decision]]
question = "alloy"
choose = "CC493K"
"#;

fn with(from: &str, to: &str) -> String {
    assert!(from.is_empty() || FILE.contains(from), "{from}");
    if from.is_empty() { format!("{FILE}{to}") } else { FILE.replacen(from, to, 1) }
}

fn refused(bytes: &[u8]) -> String {
    match open("a.toml", bytes) {
        Ok(_) => "NOT REFUSED".into(),
        Err(error) => error.to_string(),
    }
}

#[test]
fn every_refusal_says_where_what_was_given_what_is_allowed_and_what_to_write() {
    let mut said = String::new();
    for (why, from, to) in [
        ("a text where a number belongs", "load = 85", "load = \"heavy\""),
        ("a flag where a number belongs", "load = 85", "load = true"),
        ("not a number", "load = 85", "load = nan"),
        ("infinite", "load = 85", "load = -inf"),
        ("a number that overflows", "load = 85", "load = 1e999"),
        ("a negative load", "load = 85", "load = -85"),
        ("another kind of unit", "load = 85", "load = \"85 kg\""),
        ("a ton", "load = 85", "load = \"8 t\""),
        ("a decimal comma in a text", "load = 85", "load = \"8,5 kN\""),
        ("a decimal comma", "load = 85", "load = 8,5"),
        ("a doubt that is negative", "load = 85", "load = { value = 85, u = -1 }"),
        ("a doubt given twice", "load = 85", "load = { value = \"85 ± 1\", u = 1 }"),
        ("a key of a figure that is none", "load = 85", "load = { value = 85, k = 2 }"),
        ("an empty list for a number", "load = 85", "load = []"),
        ("a size that is none", "outside = 340", "outside = 1e300"),
        ("no room is so cold", "room = 19", "room = -300"),
        ("a negative price", "price = 14.5", "price = -14.5"),
        ("a bore larger than its outside: blank", "bore = 180", "bore = 280"),
        ("a bore larger than its outside: housing", "outside = 340", "outside = 230"),
        ("a bore larger than its outside: old bush", "[seat.A]", "[brief.winch.old_bush]\noutside = 240\nbore = 241\n\n[seat.A]"),
        ("a journal larger than the bore", "[seat.A]", "[brief.winch.journal]\ndiameter = 250\n\n[seat.A]"),
        ("an unknown metal", "\"S355\"", "\"S335\""),
        ("an unknown alloy", "\"CC493K\"", "\"CC493\""),
        ("an unknown word", "\"rotation\"", "\"rotating\""),
        ("a word without quotes", "\"rotation\"", "rotation"),
        ("an unknown key", "load = 85", "laod = 85"),
        ("an unknown key like no other", "load = 85", "zzzzzzzzzz = 85"),
        ("a key in the wrong table", "[shop]", "[shop]\nload = 85"),
        ("a key of another table at the top", "[job]", "load = 85\n[job]"),
        ("an unknown table", "[shop]", "[shopp]"),
        ("an unknown table of a seat", "brief = \"winch\"", "brief = \"winch\"\nmesure = 1"),
        ("a table that is a value", "[job]", "journal = 19\n[job]"),
        ("a key given twice", "room = 19", "room = 19\nroom = 20"),
        ("a table given twice", "[seat.A]", "[brief.winch.duty]\n[seat.A]"),
        ("a key without a value", "load = 85", "load ="),
        ("a key of a seat in a brief", "[seat.A]", "[brief.B]\nbrief = \"winch\"\n\n[seat.A]"),
        ("an unknown brief", "brief = \"winch\"", "brief = \"wince\""),
        ("a value where a name belongs", "[gauge.bore]", "[gauge]"),
        ("an unknown gauge", "gauge = \"bore\"", "gauge = \"bote\""),
        ("an unknown feature", "\"housing bore\"", "\"housing boring\""),
        ("a feature left out", "of = \"housing bore\"\n", ""),
        ("a row that is short", "[20, 90, 240.018]", "[90, 240.018]"),
        ("rows and sizes mixed", "[20, 90, 240.018]", "240.018"),
        ("a size that is a word", "240.018", "\"tight\""),
        ("a size of nought", "240.018", "0"),
        ("readings that are no list", "readings = [[20, 0, 240.012], [20, 90, 240.018], [140, 0, 240.010]]", "readings = 240.012"),
        ("no day", "date = 2026-03-02", "date = \"2 March\""),
        ("a day that is none", "date = 2026-03-02", "date = \"2026-02-30\""),
        ("an unknown question", "\"alloy\"", "\"aloy\""),
        ("a band the wrong way round", "question = \"alloy\"\nchoose = \"CC493K\"", "question = \"band\"\nlow = 240.146\nhigh = 240.118"),
        ("a decision without an answer", "choose = \"CC493K\"\n", ""),
        ("a band with a word for an answer", "question = \"alloy\"", "question = \"band\""),
        ("a band without its upper end", "question = \"alloy\"\nchoose = \"CC493K\"", "question = \"band\"\nlow = 240.1"),
        ("a blank that is not there", "question = \"alloy\"\nchoose = \"CC493K\"", "question = \"blank\"\nchoose = \"rin\""),
        (
            "a reading that is not there",
            "",
            "[[seat.A.decision]]\nquestion = \"reading\"\nof = \"housing bore\"\ndrop = 4\nbecause = \"x\"\n",
        ),
        ("a drop without a reason", "", "[[seat.A.decision]]\nquestion = \"reading\"\nof = \"housing bore\"\ndrop = 1\n"),
        ("an unknown event", "", "[[seat.A.event]]\nwhat = \"cutt\"\n"),
        ("an unknown role", "", "[[signature]]\nby = \"A. Turner\"\nrole = \"done\"\n"),
        ("a correction of nothing", "", "[[brief.winch.correction]]\nof = \"housing.outsid\"\nto = 1\nbecause = \"x\"\n"),
        ("a correction in the wrong table", "", "[[seat.A.correction]]\nof = \"housing.outside\"\nto = 330\nbecause = \"x\"\n"),
        ("a correction to what can't be", "", "[[brief.winch.correction]]\nof = \"housing.outside\"\nto = -330\nbecause = \"x\"\n"),
        ("too many seats", "brief = \"winch\"", "brief = \"winch\"\ncount = 61"),
        ("too many seats together", "[seat.A]", "[seat.B]\ncount = 60\n\n[seat.A]"),
        ("half a seat", "brief = \"winch\"", "brief = \"winch\"\ncount = 2.5"),
        ("a seat with the name of a counted one", "[seat.A]", "[seat.\"B 2\"]\n[seat.B]\ncount = 3\n\n[seat.A]"),
        ("cut off in a header", "", "[seat.B"),
        ("cut off in a text", "", "[seat.B]\nmachine = \"wi"),
        ("cut off in a list", "", "[[seat.A.measure]]\nof = \"journal\"\nreadings = [199.9"),
        ("nonsense", "[shop]", "?!"),
    ] {
        said += &format!("{why}\n    {}\n", refused(with(from, to).as_bytes()));
    }
    said += &format!("no seat\n    {}\n", refused(b"[job]\ntitle = \"x\"\n"));
    said += &format!("many seats\n    {}\n", refused((0..61).map(|i| format!("[seat.{i}]\n")).collect::<String>().as_bytes()));
    said += &format!("empty\n    {}\n", refused(b""));
    said += &format!("only blanks\n    {}\n", refused(b"\xEF\xBB\xBF \n\n"));
    said += &format!("a large file\n    {}\n", refused(&vec![b'#'; 50 << 20]));
    said += &format!("bytes that are no text\n    {}\n", refused(b"[job]\ntitle = \"\xFF\"\n"));
    said += &format!("deep nesting\n    {}\n", refused(format!("x = {}", "[".repeat(5000)).as_bytes()));
    said += &format!("deep keys\n    {}\n", refused(format!("x{} = 1\n", ".x".repeat(5000)).as_bytes()));
    insta::assert_snapshot!(said);
    assert!(!said.contains("NOT REFUSED"));
}

#[test]
fn a_byte_order_mark_and_line_ends_of_two_letters_make_no_difference() {
    let (plain, _) = open("a.toml", FILE.as_bytes()).unwrap();
    let (marked, _) = open("a.toml", format!("\u{FEFF}{}", FILE.replace('\n', "\r\n")).as_bytes()).unwrap();
    assert_eq!(plain, marked);
}

#[test]
fn slips_are_told_and_nothing_is_refused() {
    let mut said = String::new();
    let inches = FILE.replace("date = 2026-03-02", "date = 2026-03-02\nunits = \"inch\"");
    for (why, file) in [
        ("nothing to tell", FILE.to_owned()),
        ("inches in a metric file", FILE.replace("240.01", "9.45").replace("outside = 340", "outside = 13")),
        ("millimetres in an inch file", inches.clone()),
        ("°F in a metric file", FILE.replace("room = 19", "room = 68").replace("part_temperature = 18", "part_temperature = 66")),
        ("a hot shop", FILE.replace("room = 19", "room = 60")),
        ("one angle", FILE.replace("[20, 90,", "[20, 0,")),
        ("25 mm", FILE.replace("240.018", "265.018")),
        ("10 mm", FILE.replace("240.018", "230.018")),
        ("1 mm", FILE.replace("240.018", "241.018")),
        ("0.5 mm", FILE.replace("240.018", "240.518")),
        ("two apart", FILE.replace("[[20, 0, 240.012], [20, 90, 240.018], [140, 0, 240.010]]", "[240.012, 240.518]")),
        ("an unlikely load", FILE.replace("load = 85", "load = \"85 MN\"")),
        ("an old certificate", FILE.replace("due = 2026-12-01", "due = 2026-03-01")),
        ("no line end", FILE.trim_end().to_owned()),
    ] {
        let (_, state) = open(why, file.as_bytes()).unwrap();
        said += &format!("{why}\n");
        for note in state.notes.iter().chain(state.seats.iter().flat_map(|seat| &seat.notes)) {
            said += &format!("    {note}\n");
        }
    }
    insta::assert_snapshot!(said);
}
