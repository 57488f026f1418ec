use super::*;
use crate::procedure::{self, Severity};
use crate::values::{self, letters};
use proptest::prelude::*;

const COVER: &str = include_str!("../../tests/data/texts/side-cover.txt");
const MOUNT: &str = include_str!("../../tests/data/texts/gearbox-mount.md");
const PUMP: &str = include_str!("../../tests/data/texts/washer-pump.txt");

fn given() -> Given {
    Given {
        id: "a-job".into(),
        vehicle: "Tarnfell 15, light van".into(),
        author: "A. N. Author".into(),
        ..Given::default()
    }
}

fn shelf(text: &str) -> Shelf {
    let head =
        "vehicle: Tarnfell 15, light van\nsource: Tarnfell 15 Workshop Manual\nedition: first edition, invented\n";
    Shelf::new(vec![("a.txt".into(), values::parse("a.txt", &format!("{head}{text}")).unwrap())]).unwrap()
}

fn drafted(text: &str) -> Drafted {
    let drafted = from_text(&Given { id: "a-job".into(), author: "A".into(), ..told(text) }, text, &Shelf::default());
    sound(text, &drafted.toml);
    drafted
}

/// No word is lost, it is TOML, and whatever must be put right stands where a mark is.
fn sound(text: &str, toml: &str) {
    let mut there = std::collections::HashMap::new();
    for word in letters(toml) {
        *there.entry(word).or_insert(0i64) += 1;
    }
    for word in letters(text) {
        let left = there.entry(word.clone()).or_insert(0);
        *left -= 1;
        assert!(*left >= 0, "{word:?} is lost from {text:?} in\n{toml}");
    }
    let lines: Vec<&str> = toml.lines().collect();
    for finding in procedure::findings(toml).into_iter().filter(|f| f.severity() == Severity::Error) {
        assert_ne!(finding.code, procedure::Code::TomlSyntax, "{toml}");
        let at = toml[..finding.span.start].matches('\n').count();
        assert!(mark::is_marked(&lines, at), "{} is not marked in\n{toml}", finding.what);
    }
}

/// One of the procedures that come along, with what it includes.
fn whole(name: &str) -> String {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("procedures/{name}.toml"));
    procedure::open(&path).unwrap().text().to_owned()
}

#[test]
fn a_mark_stands_right_above_what_must_be_put_right() {
    let clean = whole("tarnfell-front-brakes");
    let clean = clean.as_str();
    let broken = clean.replace("stages = [{ torque = \"28 N·m\"", "stages = [{ torque = \"12 cubits\"");
    let (left, none) = mark::settle(clean);
    assert_eq!((left.as_str(), none), (clean, 0));
    let at = |text: &str| text.lines().position(|line| line.contains("torque = \"12 cubits\"")).unwrap();
    assert!(!mark::is_marked(&broken.lines().collect::<Vec<_>>(), at(&broken)));
    let (marked, marks) = mark::settle(&broken);
    let lines: Vec<&str> = marked.lines().collect();
    assert!(marks > 0 && lines[at(&marked) - 1].starts_with("# ?? "), "{marked}");
    let back: String = lines.iter().filter(|line| !line.starts_with("# ??")).map(|line| format!("{line}\n")).collect();
    assert_eq!(back, broken, "nothing else is changed");
    // A mark two lines above, behind something else, is not this line's.
    let apart: Vec<&str> = vec!["# ?? Which?", "id = \"a\"", "name = \"b\""];
    assert!(!mark::is_marked(&apart, 2) && mark::is_marked(&apart, 1));
}

#[test]
fn a_plain_numbered_text_is_read_step_by_step() {
    let drafted = drafted(COVER);
    for piece in [
        "title = \"Side cover: take off and refit\"",
        "name = \"13 millimetre socket\"",
        "[[fastener]]\nid = \"cover-bolt\"\nname = \"cover bolt\"\nplural = \"cover bolts\"",
        "stages = [{ torque = \"12 N·m\", also = \"9 lbf·ft\" }, { angle = \"90°\" }]\nsource = \"page 2-4\"",
        "say = \"Remove the two cover bolts.\"\ncautions = [{ caution = \"The cover is hot after a drive.\" }]",
        "do = [{ remove = \"cover-bolt\" }]",
        "do = [{ take_off = \"side-cover\" }]",
        "do = [{ disconnect = \"breather-hose\" }]",
        "do = [{ put_on = \"side-cover\" }]",
        "do = [{ hand_start = \"cover-bolt\" }]",
        "say = \"Tighten the cover bolts.\"",
        "# ?? What is measured, with which limits?",
    ] {
        assert!(drafted.toml.contains(piece), "{piece} is missing in\n{}", drafted.toml);
    }
    assert_eq!((drafted.lines, drafted.understood), (21, 20), "{}", drafted.toml);
}

#[test]
fn markdown_with_parts_of_steps_and_a_table_is_read() {
    let drafted = drafted(MOUNT);
    for piece in [
        "title = \"Gearbox mount: replace\"",
        "id = \"step-2-a\"",
        "phase = \"rebuild\"",
        "count = 2\n",
        "{ warning = \"The gearbox can tilt.\" }",
        "stages = [{ torque = \"62 N·m\" }, { angle = \"50°\" }]",
        "# ?? Write the strip to its end, then `wrenchside draft-rebuild` writes its reverse.",
    ] {
        assert!(drafted.toml.contains(piece), "{piece} is missing in\n{}", drafted.toml);
    }
}

#[test]
fn a_text_without_numbers_is_a_step_a_line() {
    let drafted = drafted(PUMP);
    for piece in ["say = \"Unplug the pump connector.\"", "# ?? Which phase", "# ?? Of which fasteners is this value?"]
    {
        assert!(drafted.toml.contains(piece), "{piece} is missing in\n{}", drafted.toml);
    }
    assert!(drafted.understood < drafted.lines);
}

#[test]
fn values_come_from_a_page_by_the_whole_name_and_two_are_asked() {
    let text = "Removal\n1. Remove the two mount bolts.\n2. Remove the arm bolts.\nRefitting\n3. Tighten the mount bolts.\n\
                4. Tighten the arm bolts to 40 Nm.\n5. Tighten the strut nut.\n";
    let shelf = shelf(
        "mount bolt: 62 N·m + 50 deg, page 7-1\narm bolts: 45 N·m, page 7-2\nstrut nut, upper: 30 N·m, page 7-3\n",
    );
    let drafted = from_text(&given(), text, &shelf);
    sound(text, &drafted.toml);
    assert!(
        drafted.toml.contains("stages = [{ torque = \"62 N·m\" }, { angle = \"50°\" }]\nsource = \"7-1\"")
            || drafted.toml.contains("stages = [{ torque = \"62 N·m\" }, { angle = \"50°\" }]\nsource = \"page 7-1\""),
        "{}",
        drafted.toml
    );
    assert!(drafted.toml.contains(
        "# ?? The text says { torque = \"40 N·m\" }, the page of values says { torque = \"45 N·m\" }. Which?"
    ));
    // Another name is another thing.
    assert!(!drafted.toml.contains("30 N·m"), "{}", drafted.toml);
}

#[test]
fn a_value_is_read_whole_or_not_at_all() {
    let read = |text: &str| {
        amounts::stages(text).map(|stages| stages.iter().map(amounts::Stage::toml).collect::<Vec<_>>().join(" "))
    };
    for (text, stages) in [
        ("62 Nm", "{ torque = \"62 N·m\" }"),
        ("62 N·m then 50°", "{ torque = \"62 N·m\" } { angle = \"50°\" }"),
        ("40 Nm, then turn a further 90 degrees.", "{ torque = \"40 N·m\" } { angle = \"90°\" }"),
        ("Stage 1: 20 Nm, stage 2: 40 Nm", "{ torque = \"20 N·m\" } { torque = \"40 N·m\" }"),
        ("60-70 Nm", "{ torque = \"60..70 N·m\" }"),
        ("60 Nm to 70 Nm", "{ torque = \"60..70 N·m\" }"),
        ("60 – 70 Nm", "{ torque = \"60..70 N·m\" }"),
        ("60-70 Nm (44-52 lbf ft)", "{ torque = \"60..70 N·m\", also = \"44..52 lbf·ft\" }"),
        ("7-1/2 ft-lb", "{ torque = \"7.5 lbf·ft\" }"),
        ("1-1/2 to 2 ft-lb", "{ torque = \"1.5..2 lbf·ft\" }"),
        ("10 Nm (7-3/8 ft-lb)", "{ torque = \"10 N·m\", also = \"7.375 lbf·ft\" }"),
        ("80 to 90 degrees", "{ angle = \"80..90°\" }"),
        ("27 ± 3 N·m", "{ torque = \"24..30 N·m\" }"),
        ("62 Nm, 46 lbf ft", "{ torque = \"62 N·m\", also = \"46 lbf·ft\" }"),
        ("62 Nm; 46 lbf ft; then 90°", "{ torque = \"62 N·m\", also = \"46 lbf·ft\" } { angle = \"90°\" }"),
        ("20 Nm, then 40 Nm", "{ torque = \"20 N·m\" } { torque = \"40 N·m\" }"),
        ("12 Nm (9 lbf ft)", "{ torque = \"12 N·m\", also = \"9 lbf·ft\" }"),
    ] {
        assert_eq!(read(text).as_deref(), Some(stages), "{text}");
    }
    for text in [
        "62",
        "62,5 Nm",
        "about 62 Nm",
        "62 Nm or 70 Nm",
        "62 Nm (dry)",
        "stage 2: 40 Nm",
        "62 Nm then tight",
        "62 Nm +",
        "62 Nm + 50° +.",
        "40 Nm, 50 Nm",
        "62 Nm, 30 lbf ft",
        "62 Nm; 90°; 90°",
        "40 Nm then a further 20 Nm",
        "40 Nm then 60 lbf ft",
        "40 Nm then 20 Nm",
        "40 Nm + 20 Nm",
        "by 40 Nm",
        "12 Nm (20 lbf ft)",
        "1-3/2 ft-lb",
        "70-60 Nm",
        "40-50-60 Nm",
        "50° then to 90°",
        "",
        "hand-tight",
    ] {
        assert_eq!(read(text), None, "{text}");
    }
}

#[test]
fn a_sentence_is_plain_or_it_is_asked() {
    let keys = |text: &str| {
        phrase::acts(text)
            .map(|acts| acts.iter().map(|act| (act.verb.key(), act.thing.name.clone())).collect::<Vec<_>>())
    };
    assert_eq!(
        keys("Remove the two cover bolts and take off the side cover."),
        Some(vec![("remove", "cover bolts".into()), ("take_off", "side cover".into())])
    );
    assert_eq!(keys("Fit the new cover bolts hand-tight."), Some(vec![("hand_start", "cover bolts".into())]));
    for text in [
        "Remove the bolts from the left side.",
        "Do not remove the cover.",
        "Fit the cover bolts.",
        "Remove the cover without tilting it.",
        "Remove the bolt, then check it.",
        "Tighten the bolts to the stop.",
        "The bolts are removed.",
        "Tighten the clamp by hand.",
        "Tighten the cover bolts lightly.",
        "Torque rod bolts: 62 Nm",
        "Apply brake cleaner, remove the bolts.",
    ] {
        assert_eq!(keys(text), None, "{text}");
    }
}

#[test]
fn a_blank_file_needs_nothing_but_what_was_not_answered() {
    let all = Given {
        title: "Side cover".into(),
        manual: "Manual".into(),
        edition: "first".into(),
        supports: vec!["wheel chocks".into(), "axle stand, left".into()],
        ..given()
    };
    let report = procedure::check("a.toml", &blank(&all));
    assert_eq!(report.errors(), 0, "{report}");
    assert!(!blank(&all).contains(&format!("= \"\" {MARK}")));
    sound("", &blank(&Given::default()));
    sound("", &blank(&Given { title: "a \"b\" \\ c".into(), supports: vec!["??".into(), "\"".into()], ..given() }));
}

#[test]
fn the_other_side_keeps_pages_and_tells_what_it_left() {
    let right = "title = \"Arm, left # one\" # left as drawn\nsource = \"page 4 left\"\nplaces = ['Left', \"leftmost\"]\n# the right one\n";
    let mirrored = mirror("right.toml", right).unwrap();
    assert!(mirrored.toml.ends_with("title = \"Arm, right # one\" # left as drawn\nsource = \"page 4 left\"\nplaces = ['Right', \"leftmost\"]\n# the right one\n"), "{}", mirrored.toml);
    assert_eq!(mirrored.changed.iter().map(|(line, _)| *line).collect::<Vec<_>>(), [2, 4]);
    assert_eq!(mirrored.left.iter().map(|(line, _)| *line).collect::<Vec<_>>(), [2, 3, 5]);
    let arm = whole("tarnfell-front-lower-arm-left");
    let arm = arm.as_str();
    let other = mirror("arm", arm).unwrap().toml;
    assert_eq!(procedure::check("other", &other).errors(), procedure::check("arm", arm).errors());
    assert!(other.contains("id = \"tarnfell-front-lower-arm-right\""));
    // Twice is the file itself, but for the two marks.
    let back = mirror("arm", &other).unwrap().toml;
    assert_eq!(
        back.lines().filter(|l| !l.contains("The other side of")).collect::<Vec<_>>(),
        arm.lines().collect::<Vec<_>>()
    );
}

#[test]
fn how_it_is_done_and_what_it_measures_is_no_name_and_no_count() {
    let acts = |text: &str| phrase::acts(text).unwrap();
    let tight = acts("Tighten the strap bolts evenly to 20 Nm.").remove(0);
    assert_eq!((tight.thing.name.as_str(), tight.stages.is_some()), ("strap bolts", true));
    let both = acts("Apply brake cleaner and remove the two arm bolts.");
    assert_eq!(both.iter().map(|act| act.thing.name.as_str()).collect::<Vec<_>>(), ["brake cleaner", "arm bolts"]);
    let sized = acts("Remove the two 13 mm bolts.").remove(0);
    assert_eq!((sized.thing.name.as_str(), sized.thing.count), ("13 mm bolts", Some(2)));
    assert_eq!(acts("Remove the 13 mm bolts.").remove(0).thing.count, None);
    assert!(acts("Remove the pump assembly.")[0].thing.name == "pump assembly");
    let parts = drafted("Parts: 8 mm circlip; 2 x 5 litre can\n1. Remove the cover.\n").toml;
    assert!(
        parts.contains("# ?? How many of this part?") && parts.contains("name = \"5 litre can\"\ncount = 2"),
        "{parts}"
    );
}

#[test]
fn a_third_column_is_a_page_or_is_asked() {
    let table = |page: &str| {
        let text = format!("Removal\n1. Remove the rail bolts.\n\nTorques\n| rail bolts | 40 Nm | {page} |\n");
        drafted(&text).toml
    };
    assert!(table("page 7-1").contains("stages = [{ torque = \"40 N·m\" }]\nsource = \"page 7-1\""));
    for other in ["+ 90°", "29-30", "dry", "12"] {
        let toml = table(other);
        assert!(!toml.contains("stages = [{ torque = \"40") && toml.contains("# ?? Is this a value"), "{toml}");
    }
}

#[test]
fn an_instruction_with_a_value_is_a_step_and_a_stage_is_no_name() {
    let toml = drafted("Vehicle: Tarnfell 15\nRefitting\n3. Tighten the cover bolts: 62 Nm\n").toml;
    assert!(toml.contains("say = \"Tighten the cover bolts.\"") && toml.contains("id = \"cover-bolt\""), "{toml}");
    assert!(toml.contains("stages = [{ torque = \"62 N·m\" }]") && !toml.contains("tighten-the"), "{toml}");
    for (below, stages) in [
        ("Torque: 40 Nm\nAngle: 90°", "stages = [{ torque = \"40 N·m\" }, { angle = \"90°\" }]"),
        ("Stage 1: 40 Nm\nStage 2: 60 Nm", "stages = [{ torque = \"40 N·m\" }, { torque = \"60 N·m\" }]"),
    ] {
        let toml = drafted(&format!("Refitting\n1. Tighten the cover bolts.\n{below}\n")).toml;
        assert!(toml.contains(stages) && toml.matches("[[fastener]]").count() == 1, "{toml}");
    }
    // Half of it cannot be read: there is none.
    let toml = drafted("Refitting\n1. Tighten the cover bolts.\nTorque: 40 Nm\nAngle: some\n").toml;
    assert!(toml.contains("# ?? What are the stages?") && !toml.contains("stages = [{ torque = \"40"), "{toml}");
    let toml = drafted("Removal\n1. Vehicle: raise it.\n2. Remove the cover bolts.\nRail bolts: 30 Nm\n").toml;
    assert!(toml.contains("vehicle = \"\"") && toml.contains("say = \"Vehicle: raise it.\""), "{toml}");
    assert!(toml.contains("# ?? Of which fasteners is this value?") && !toml.contains("[{ torque = \"30"), "{toml}");
}

#[test]
fn a_caution_goes_with_its_step_and_none_is_dropped() {
    let toml = drafted("## Removal\n### Warning: The cover is hot.\n1. Remove the cover.\n").toml;
    assert!(toml.contains("cautions = [{ warning = \"The cover is hot.\" }]"), "{toml}");
    let text = "  Refitting\n  4. Tighten the cover bolts.\n     Torque: 12 Nm\n     Caution: Keep oil off.\n  5. Fit the cover.\n  Note: It is heavy.\n  6. Connect the hose.\n";
    let toml = drafted(text).toml;
    for piece in [
        "say = \"Tighten the cover bolts.\"\ncautions = [{ caution = \"Keep oil off.\" }]",
        "say = \"Connect the hose.\"\ncautions = [{ note = \"It is heavy.\" }]",
    ] {
        assert!(toml.contains(piece), "{piece} is missing in {toml}");
    }
    for text in ["Removal\nWarning:\n1. Remove the cover.\n", "Removal\n1. Remove the cover.\nWARNING\n"] {
        let drafted = drafted(text);
        assert!(drafted.toml.contains("# ?? warning: what is said"), "{}", drafted.toml);
        assert_eq!(drafted.lines - drafted.understood, 1, "{}", drafted.toml);
    }
    let toml = drafted("Removal\nWarning:\n- The cover is hot.\n- It is heavy.\n1. Remove the cover.\n").toml;
    assert!(toml.contains("{ warning = \"The cover is hot.\" }, { warning = \"It is heavy.\" }]"), "{toml}");
}

#[test]
fn a_heading_that_tells_no_phase_or_two_ends_the_one_before() {
    for heading in ["## Adjustment", "## Removal and refitting", "Adjustment:"] {
        let toml = drafted(&format!("## Removal\n1. Remove the cover.\n\n{heading}\n2. Fit the cover.\n")).toml;
        assert!(toml.matches("# ?? Which phase").count() == 1, "{heading}: {toml}");
    }
    for heading in ["## Refit", "## Install", "Reinstallation"] {
        let toml = drafted(&format!("## Removal\n1. Remove the cover.\n\n{heading}\n2. Fit the cover.\n")).toml;
        assert!(toml.contains("phase = \"rebuild\"") && !toml.contains("Which phase"), "{heading}: {toml}");
    }
}

#[test]
fn two_values_stay_two_and_a_page_of_another_manual_is_told() {
    let text = "Refitting\n1. Tighten the arm bolts to 40 Nm.\n2. Tighten the arm bolts to 45 Nm.\n3. Tighten the arm bolts to 45 Nm.\n4. Tighten the rail nut.\n";
    let shelf = shelf("arm bolts: 45 N·m, page 7-2\nrail nut: 30 N·m, page 7-3\n");
    let toml = from_text(&Given { edition: "second".into(), ..given() }, text, &shelf).toml;
    assert!(
        !toml.contains("stages = [{ torque = \"4") && toml.contains("# ?? The text says { torque = \"45 N·m\" } too."),
        "{toml}"
    );
    assert!(!toml.contains("stages = [{ torque = \"30") && toml.contains("from another manual or edition"), "{toml}");
    let also = drafted(
        "Refitting\n1. Tighten the arm bolts to 12 Nm (9 lbf ft).\n2. Tighten the arm bolts to 12 Nm (8.9 lbf ft).\n",
    )
    .toml;
    assert!(also.contains("Which?"), "{also}");
}

#[test]
fn the_other_side_leaves_the_vehicle_and_ways_of_turning() {
    let text = "[procedure]\ntitle = \"Arm, left\"\nvehicle = \"Van, right-hand drive\"\n[source]\nnote = [\"a\",\n\"left\"]\n[[step]]\n\
                say = \"Left-hand thread: turn it right to loosen.\"\nhold = \"Is the gap right?\"\nstuck = \"\"\"\nTurn it\nto the left.\"\"\"\n\
                id = \"slacken-left\" # LH\nat = \"Slacken the left bolt by half a turn.\"\nwhere = \"the offside arm\"\n";
    let mirrored = mirror("x", text).unwrap();
    let changed: Vec<&str> = mirrored.changed.iter().map(|(_, line)| line.as_str()).collect();
    assert_eq!(
        changed,
        ["title = \"Arm, right\"", "id = \"slacken-right\" # LH", "at = \"Slacken the right bolt by half a turn.\""]
    );
    let left: Vec<&str> = mirrored.left.iter().map(|(_, line)| line.as_str()).collect();
    assert_eq!(left.len(), 7, "{left:?}");
    assert!(mirror("x", "title = left").is_err());
}

fn line() -> impl Strategy<Value = String> {
    let marker = prop::sample::select(vec![
        "",
        "1. ",
        "2) ",
        "  a) ",
        "- ",
        "# ",
        "## ",
        "Caution: ",
        "WARNING ",
        "  Note: ",
        "Torque: ",
        "Tools: ",
        "Parts:\n",
        "cover bolts: ",
        "| ",
        "title: ",
        "* ",
        "3.1 ",
        "Vehicle: ",
    ]);
    let verb = prop::sample::select(vec![
        "",
        "Remove the ",
        "Tighten the ",
        "Fit the new ",
        "Disconnect the ",
        "Apply ",
        "Clean the ",
        "removal ",
        "Unscrew two ",
        "take off ",
    ]);
    let body = prop::sample::select(vec![
        "cover bolts",
        "side cover",
        "plug",
        "cover bolts to 62 Nm then 50°",
        "12 Nm (page 4-2).",
        "bolts and take off the cover. Turn it over.",
        "40 N·m",
        "2 x bolt, 3 nuts; oil",
        "\"odd\" \\ text",
        "mount | 62 Nm | 7-1",
    ]);
    (marker, verb, prop_oneof![body.prop_map(str::to_owned), ".{0,30}"]).prop_map(|(m, v, b)| format!("{m}{v}{b}"))
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever the text: no word of it is lost, and nothing wrong stands unmarked.
    #[test]
    fn no_word_is_lost(lines in prop::collection::vec(line(), 0..12), blanks in prop::collection::vec(any::<bool>(), 12)) {
        let text: String = lines.iter().zip(&blanks).map(|(line, blank)| format!("{line}\n{}", if *blank { "\n" } else { "" })).collect();
        let shelf = shelf("cover bolts: 62 N·m + 50 deg, page 7-1\n");
        let drafted = from_text(&given(), &text, &shelf);
        sound(&text, &drafted.toml);
        // Whatever was told as a step or a caution is one, or is to be settled.
        let numbered = lines::logical(&text).into_iter().filter(|line| matches!(line.marker, lines::Marker::Number(_))).count();
        let cautions = ["{ note = ", "{ caution = ", "{ warning = ", "{ danger = "];
        let cautions: usize = cautions.iter().map(|kind| drafted.toml.matches(kind).count()).sum();
        let said = drafted.toml.matches("[[step]]").count() + cautions;
        prop_assert!(numbered <= said + drafted.lines - drafted.understood, "{}", drafted.toml);
        sound(&text, &from_text(&Given { id: "x".into(), ..told(&text) }, &text, &Shelf::default()).toml);
    }

    /// No file is so odd that mirroring it twice changes it.
    #[test]
    fn two_mirrors_show_what_was(text in "(([a-z]{1,3} = (\"(left|[a-z#' ]|Right|turn){0,6}\"|'LEFT \\\\')|\\[source\\]|# left|)\n){0,6}") {
        let Ok(once) = mirror("x", &text) else { return Ok(()) };
        let twice = mirror("x", &once.toml).unwrap().toml;
        let kept: Vec<&str> = twice.lines().filter(|line| !line.contains("The other side of")).collect();
        prop_assert_eq!(kept, text.lines().collect::<Vec<_>>());
    }
}

#[test]
fn what_a_page_says_besides_the_value_is_kept() {
    let text = "Rebuild\n1. Tighten the two cover bolts.\n2. Tighten the arm bolt to 80 Nm.\n";
    let shelf = shelf(
        "cover bolts: 62 N·m + 50 deg, also 46 lbf·ft, M12 x 1.25, 10.9, page 7-1\narm bolt: 80 N·m, also 59 lbf·ft, M12 x 1.25, 10.9, page 7-2\n",
    );
    let toml = from_text(&given(), text, &shelf).toml;
    assert!(toml.contains("stages = [{ torque = \"62 N·m\", also = \"46 lbf·ft\" }, { angle = \"50°\" }]"), "{toml}");
    assert!(toml.contains("stages = [{ torque = \"80 N·m\", also = \"59 lbf·ft\" }]"), "{toml}");
    assert_eq!(toml.matches("thread = \"M12 x 1.25\"\nclass = \"10.9\"\n").count(), 2, "{toml}");
}

#[test]
fn a_condition_is_no_part_of_a_name() {
    for sentence in [
        "Remove the cover unless it is bonded.",
        "Remove the cover except on diesels.",
        "Remove the cover where fitted.",
        "Disconnect the hose that leaks.",
        "Remove the cover which is bonded.",
        "Tighten the bolts once cool to 20 Nm.",
        "Remove the cover as needed.",
    ] {
        let toml = from_text(&given(), &format!("Strip down\n1. {sentence}\n"), &Shelf::default()).toml;
        assert!(toml.contains("# ?? What does it do, to which things?") && !toml.contains("do = [{ take"), "{toml}");
        assert!(!toml.contains("[[component]]") && !toml.contains("[[fastener]]"), "{toml}");
    }
}
