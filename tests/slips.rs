//! How many slips of the pen the checker finds: the procedures that come along, each with one slip in it.
//!
//! A slip is a change to the text of a clean file, so whatever is found then is found because of it. What a file cannot
//! contradict by itself is counted and printed all the same.

use std::collections::BTreeMap;
use std::ops::Range;
use std::path::Path;
use wrenchside::procedure;

fn texts() -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures");
    let mut files: Vec<_> = std::fs::read_dir(folder).expect("a folder").map(|e| e.expect("an entry").path()).collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "toml"));
    files.sort();
    files.iter().map(|f| procedure::open(f).expect("a file").text().to_owned()).collect()
}

/// Where each entry that begins with this line stands, up to the next one.
fn entries(text: &str, head: &str) -> Vec<Range<usize>> {
    let starts: Vec<usize> = text.match_indices(&format!("\n{head}\n")).map(|(at, _)| at + 1).collect();
    let end = |at: usize| text[at + 2..].find("\n[[").map_or(text.len(), |next| at + 2 + next + 1);
    starts.into_iter().map(|at| at..end(at)).collect()
}

fn replaced(text: &str, span: Range<usize>, with: &str) -> String {
    let mut slip = text.to_owned();
    slip.replace_range(span, with);
    slip
}

/// The texts in quotes behind a key.
fn values(text: &str, key: &str) -> Vec<Range<usize>> {
    let key = format!("{key} = \"");
    let ends = |at: usize| at..at + text[at..].find('"').expect("a closing quote");
    // What counts from a measurement is no value by itself.
    let plain =
        |span: &Range<usize>| key.starts_with("id") || text[span.start..].starts_with(|c: char| c.is_ascii_digit());
    text.match_indices(&key).map(|(at, _)| ends(at + key.len())).filter(plain).collect()
}

/// The first two digits that stand side by side and differ, swapped.
fn digits_swapped(value: &str) -> Option<String> {
    let mut bytes = value.as_bytes().to_vec();
    let at = bytes.windows(2).position(|w| w[0] != w[1] && w.iter().all(u8::is_ascii_digit) && w[1] != b'0')?;
    bytes.swap(at, at + 1);
    String::from_utf8(bytes).ok()
}

/// A tenth of it: a digit forgotten, or the point one digit back.
fn tenth(number: &str) -> Option<String> {
    match number.split_once('.') {
        Some((whole, part)) if whole.len() > 1 => {
            let (first, last) = whole.split_at(whole.len() - 1);
            Some(format!("{first}.{last}{part}"))
        }
        Some(_) => None,
        None if number.len() > 1 => Some(number[..number.len() - 1].to_owned()),
        None => None,
    }
}

/// Slips in what is chosen by what was measured, and in what is done until it is in order.
fn of_choices(text: &str) -> Vec<(&'static str, String)> {
    let mut slips = Vec::new();
    for key in ["least = \"", "most = \""] {
        for (at, _) in text.match_indices(key) {
            let value = at + key.len()..at + key.len() + text[at + key.len()..].find('"').expect("a closing quote");
            for (sign, other) in [(" + ", " - "), (" - ", " + ")] {
                for (in_it, _) in text[value.clone()].match_indices(sign) {
                    let at = value.start + in_it;
                    slips.push(("sign of a sum", replaced(text, at..at + sign.len(), other)));
                }
            }
        }
    }
    for (at, _) in text.match_indices("\nsizes = [") {
        let list = at..at + text[at..].find(']').expect("the end of the list");
        for (n, size) in text[list.clone()].split('"').enumerate().filter(|(n, _)| n % 2 == 1) {
            let before: usize = text[list.clone()].split('"').take(n).map(|part| part.len() + 1).sum();
            let at = list.start + before;
            let swapped = digits_swapped(size).into_iter().chain(size.find('.').map(|point| {
                // The digit before the point and the one behind it.
                let mut bytes = size.as_bytes().to_vec();
                bytes.swap(point - 1, point + 1);
                String::from_utf8(bytes).expect("digits")
            }));
            for slip in swapped.filter(|slip| slip != size) {
                slips.push(("digits of a size swapped", replaced(text, at..at + size.len(), &slip)));
            }
        }
    }
    for step in entries(text, "[[step]]") {
        let entry = &text[step.clone()];
        let line = entry.find("\nagain_from = ").filter(|_| entry.contains("\nif_outside = "));
        if let Some(at) = line {
            let end = at + 1 + entry[at + 1..].find('\n').expect("the end of the line");
            slips.push(("measured no second time", replaced(text, step.start + at..step.start + end, "")));
        }
    }
    slips
}

fn slips(text: &str) -> Vec<(&'static str, String)> {
    let mut slips = of_choices(text);
    for key in ["torque", "also"] {
        for span in values(text, key) {
            if let Some(swapped) = digits_swapped(&text[span.clone()]) {
                slips.push(("digits of a torque swapped", replaced(text, span.clone(), &swapped)));
            }
            let value = &text[span.clone()];
            let unit = if value.contains("N·m") { "lbf·ft" } else { "N·m" };
            let number = value.rsplit_once(' ').expect("a unit").0;
            slips.push(("unit of a torque", replaced(text, span, &format!("{number} {unit}"))));
        }
    }
    for key in ["angle", "most", "least"] {
        for span in values(text, key) {
            let value = &text[span.clone()];
            let (number, unit) = value.split_once(' ').expect("a unit");
            // Ten times as much: a nought more, or the point one digit on.
            let slip = match number.split_once('.') {
                Some((whole, part)) => format!("{whole}{}.{}0 {unit}", &part[..1], &part[1..]),
                None => format!("{number}0 {unit}"),
            };
            if let Some(tenth) = tenth(number).filter(|_| key != "angle") {
                slips.push(("digit too few in a limit", replaced(text, span.clone(), &format!("{tenth} {unit}"))));
            }
            slips.push((
                if key == "angle" { "digit too many in an angle" } else { "digit too many in a limit" },
                replaced(text, span, &slip),
            ));
        }
    }
    let steps = entries(text, "[[step]]");
    for (n, step) in steps.iter().enumerate() {
        let entry = &text[step.clone()];
        let works = entry.contains("\ndo = ") || entry.contains("\nmirrors = ");
        if works {
            slips.push(("working step dropped", replaced(text, step.clone(), "")));
            let again = entry.replacen("\nid = \"", "\nid = \"again-", 1);
            slips.push(("working step doubled", replaced(text, step.end..step.end, &again)));
        }
        let Some(next) = steps.get(n + 1).filter(|_| works) else { continue };
        let swapped = format!("{}{entry}", &text[next.clone()]);
        slips.push(("two steps swapped", replaced(text, step.start..next.end, &swapped)));
    }
    for fastener in entries(text, "[[fastener]]") {
        let entry = &text[fastener.clone()];
        let id = &entry[values(entry, "id")[0].clone()];
        // A list of places may run over several lines.
        let at = entry.find("\nplaces = [").expect("places");
        let places = &entry[at..at + entry[at..].find(']').expect("the end of the list")];
        let mut quoted = places.split('"').skip(1).step_by(2);
        let (place, more) = (quoted.next().expect("a place"), quoted.next());
        if more.is_none() {
            continue;
        }
        for deed in ["tighten", "hand_start", "remove", "slacken"] {
            let act = format!("{deed} = \"{id}\"");
            for (at, _) in text.match_indices(&act).filter(|(at, _)| text[at + act.len()..].starts_with(" }")) {
                let slip = format!("{act}, items = [\"{place}\"]");
                slips.push(("places of a group forgotten", replaced(text, at..at + act.len(), &slip)));
            }
        }
    }
    slips
}

/// What share of each kind is found at the least, in per cent. Of the last four a file seldom contradicts a slip: FORMAT.md says
/// which, and why.
const FLOORS: [(&str, usize); 12] = [
    ("digits of a torque swapped", 100),
    ("unit of a torque", 100),
    ("digit too many in an angle", 100),
    ("working step doubled", 100),
    ("sign of a sum", 80),
    ("digits of a size swapped", 100),
    ("measured no second time", 100),
    ("places of a group forgotten", 95),
    ("working step dropped", 80),
    ("digit too many in a limit", 70),
    ("digit too few in a limit", 80),
    ("two steps swapped", 25),
];

/// What a file cannot contradict by itself, for the most part: which of two things comes first if neither needs the other.
const FREE: [&str; 1] = ["two steps swapped"];

#[test]
fn most_slips_of_the_pen_are_found() {
    let mut counts: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    let mut through = Vec::new();
    for text in texts() {
        for (kind, slip) in slips(&text) {
            let count = counts.entry(kind).or_default();
            count.1 += 1;
            if procedure::findings(&slip).is_empty() {
                let line = text.lines().zip(slip.lines()).find(|(a, b)| a != b).map_or(("", ""), |found| found);
                through.push(format!("{kind}: {} -> {}", line.0, line.1));
            } else {
                count.0 += 1;
            }
        }
    }
    for (kind, (found, of)) in &counts {
        println!("{kind}: {found} of {of}");
    }
    println!("{}", through.join("\n"));
    let of: usize = counts.values().map(|(_, of)| of).sum();
    assert!(of >= 120, "{of}");
    assert_eq!(counts.len(), FLOORS.len());
    for (kind, floor) in FLOORS {
        let (found, of) = counts[kind];
        assert!(found * 100 >= of * floor, "{kind}: {found} of {of}");
    }
    let bound = counts.iter().filter(|(kind, _)| !FREE.contains(kind));
    let (found, of) = bound.fold((0, 0), |(found, of), (_, count)| (found + count.0, of + count.1));
    println!("{found} of {of}");
    assert!(found * 100 >= of * 85, "{found} of {of}");
}
