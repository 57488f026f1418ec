//! Pages of values: asked by typed names with no job and inside one, and what `check` and `values` tell of a page.

#[path = "common/program.rs"]
mod program;
#[path = "common/talk.rs"]
mod talk;

use program::wrenchside;
use std::fs;
use std::time::{Duration, Instant};
use wrenchside::dialogue::{Digits, Language, Manner, Meaning, Tone};
use wrenchside::job::{Ask, At, Command};
use wrenchside::listen::{Harm, Hypothesis, Utterance};
use wrenchside::quantity::TorqueUnit;
use wrenchside::session::{Delivery, NoJob, ValuesTalk};
use wrenchside::values::{self, Shelf};

const EXAMPLE: &str = include_str!("../docs/values.toml");

fn shelf(text: &str) -> Shelf {
    let page = values::parse("page.toml", text).unwrap_or_else(|report| panic!("{report}"));
    Shelf::new(vec![("page.toml".to_owned(), page)]).unwrap()
}

fn counter(manner: Manner) -> ValuesTalk {
    let mut talk = ValuesTalk::new(Language::english(), manner, Delivery::default(), shelf(EXAMPLE));
    talk.begin();
    talk
}

/// What is written in answer to a line.
fn written(talk: &mut ValuesTalk, line: &str) -> String {
    written_at(talk, line, 0)
}

fn written_at(talk: &mut ValuesTalk, line: &str, at: i64) -> String {
    let turn = talk.read(line, At(at));
    turn.sentences.iter().map(|sentence| sentence.written.as_str()).collect::<Vec<_>>().join(" ")
}

fn utterance(phrase: &str) -> Utterance {
    Utterance {
        phrase: Some(phrase.to_owned()),
        nearly: None,
        heard: Hypothesis { text: phrase.to_owned(), confidence: 1.0 },
        judgement: None,
        written: None,
        own: None,
        began: 0,
        ended: 0,
        decided: 0,
        thinking: Duration::ZERO,
    }
}

#[test]
fn a_value_is_told_with_its_thing_its_stages_and_its_page() {
    let mut talk = counter(Manner::default());
    for (line, told) in [
        ("torque for the gearbox mount, front", "Gearbox mount, front: 62 N·m; then turn a further 50° (page 7-1)."),
        ("Torque for front gearbox mount?", "Gearbox mount, front: 62 N·m; then turn a further 50° (page 7-1)."),
        ("value gearbox drain plug", "Gearbox drain plug: 32..38 N·m (page 7-4)."),
        (
            "what is the torque for the number two bearing cap",
            "Number 2 bearing cap: 25 N·m; then back off 90° (1½ flats); then 20 N·m; then turn a further 60° (1 flat) (page 2-22).",
        ),
        (
            "value number 2 bearing cap",
            "Number 2 bearing cap: 25 N·m; then back off 90° (1½ flats); then 20 N·m; then turn a further 60° (1 flat) (page 2-22).",
        ),
        ("torque driveshaft nut", "Driveshaft nut: 210 N·m (page 6-3)."),
        ("torque drive shaft nut", "Driveshaft nut: 210 N·m (page 6-3)."),
        ("value for brake disc run out", "Brake disc run-out: not more than 0.08 mm (page 9-11)."),
        ("value tyre pressure rear", "Tyre pressure, rear: 2.6 bar (page 1-6)."),
        ("value for the oil filter", "Not on the page of values: oil filter."),
        ("value for the gearbox mounts", "Not on the page of values: gearbox mounts."),
    ] {
        assert_eq!(written(&mut talk, line), told, "{line}");
    }
    // The voice has words only, and leaves the page to whoever asks for it.
    let spoken = talk.read("value gearbox mount front", At(0)).sentences.remove(0).spoken;
    assert_eq!(spoken, "Gearbox mount, front: sixty two newton metres; then turn a further fifty degrees, five zero.");
    assert_eq!(
        written(&mut talk, "name the source"),
        "Gearbox mount, front: Tarnfell 15 Workshop Manual, first edition, invented, page 7-1."
    );
    assert_eq!(
        written(&mut talk, "in foot pounds"),
        "Gearbox mount, front: ≈ 45.7 lbf·ft (published: 62 N·m); then turn a further 50° (page 7-1)."
    );
    assert_eq!(
        written(&mut talk, "say again"),
        "Gearbox mount, front: ≈ 45.7 lbf·ft (published: 62 N·m); then turn a further 50° (page 7-1)."
    );
    written(&mut talk, "value tyre pressure rear");
    assert_eq!(written(&mut talk, "in foot pounds"), "Tyre pressure, rear has no torque: 2.6 bar (page 1-6).");
}

#[test]
fn the_users_unit_comes_first() {
    let mut talk = counter(Manner { unit: Some(TorqueUnit::PoundForceFoot), digits: Digits::Confusable, now: None });
    assert_eq!(
        written(&mut talk, "torque gearbox mount rear"),
        "Gearbox mount, rear: ≈ 59 lbf·ft (published: 80 N·m) (page 7-1)."
    );
}

#[test]
fn several_are_offered_and_a_name_alone_chooses() {
    let mut talk = counter(Manner::default());
    let turn = talk.read("torque for the gearbox mount", At(0));
    assert_eq!(turn.sentences[0].written, "Gearbox mount, front, or gearbox mount, rear?");
    assert_eq!(turn.sentences[0].tone, Tone::Question);
    let heard = |talk: &ValuesTalk, text: &str| talk.phrases().iter().any(|p| p.text == text && p.harm == Harm::None);
    assert!(heard(&talk, "rear") && heard(&talk, "gearbox mount rear") && !heard(&talk, "gearbox mount"));
    assert_eq!(written(&mut talk, "rear"), "Gearbox mount, rear: 80 N·m (page 7-1).");
    assert!(!heard(&talk, "rear"), "it was answered");
    assert!(written(&mut talk, "rear").starts_with("I do not know that."));
    // Said again it still stands; something else ends it.
    written(&mut talk, "torque gearbox mount");
    assert_eq!(written_at(&mut talk, "say again", 29_000), "Gearbox mount, front, or gearbox mount, rear?");
    assert_eq!(
        written_at(&mut talk, "gearbox mount front", 58_000),
        "Gearbox mount, front: 62 N·m; then turn a further 50° (page 7-1)."
    );
    written(&mut talk, "torque gearbox mount");
    written(&mut talk, "name the source");
    assert!(written(&mut talk, "front").starts_with("I do not know that."));
    written(&mut talk, "torque gearbox mount");
    // Late by ear it chooses nothing; typed it can mean nothing else.
    assert!(talk.hear(&utterance("front"), At(31_000)).sentences.is_empty(), "the offer has lapsed");
    written(&mut talk, "torque gearbox mount");
    assert_eq!(
        written_at(&mut talk, "front", 600_000),
        "Gearbox mount, front: 62 N·m; then turn a further 50° (page 7-1)."
    );
    assert_eq!(written(&mut talk, "value bolt"), "Oil sump bolt, or wheel bolt?");
}

#[test]
fn nothing_but_values_is_done_without_a_job() {
    let mut talk = counter(Manner::default());
    let begin = talk.begin().sentences.iter().map(|s| s.written.clone()).collect::<Vec<_>>().join("\n");
    assert!(
        begin.starts_with("Tarnfell 15, light van: 11 values.\nThe values come from Tarnfell 15 Workshop Manual"),
        "{begin}"
    );
    assert!(begin.ends_with("licensed practice come first."), "{begin}");
    for line in ["next step", "stage complete", "how tight", "start note", "undo"] {
        assert_eq!(written(&mut talk, line), "No job is open here.", "{line}");
    }
    assert!(written(&mut talk, "help").starts_with("value for the ‹name› · "));
    assert_eq!(written(&mut talk, "slower"), "Slower.");
    assert!(talk.phrases().iter().all(|phrase| phrase.harm < Harm::Claims));
    let decoy = |text: &str| talk.phrases().iter().any(|p| p.text == text && p.harm == Harm::Decoy);
    assert!(decoy("next step") && decoy("stage complete"));
    written(&mut talk, "stop listening");
    assert!(!talk.phrases().iter().any(|p| p.text.starts_with("torque for")));
    written(&mut talk, "start listening");
    assert!(talk.phrases().iter().any(|p| p.text == "torque for the oil sump bolt"));
    assert!(talk.phrases().iter().any(|p| p.text == "torque for sump"), "a run of the words, where it leads to few");
    assert!(talk.read("pause job", At(0)).over);
}

#[test]
fn a_job_never_hears_of_it() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk::talk(jobs.path()).with_values(shelf(EXAMPLE));
    let journal =
        |talk: &wrenchside::session::Conversation| fs::read(talk.folder().path().join("journal.jsonl")).unwrap();
    let (before, job) = (journal(&talk), talk.job().digest());
    for line in ["torque for the gearbox mount", "front", "in foot pounds", "value nonsense", "torque oil drain plug"] {
        let turn = talk.read(line, At(5)).unwrap();
        assert!(
            matches!(&turn.meaning, Some(Meaning::Value(_) | Meaning::Command(Command::Ask(Ask::InUnit(_))))),
            "{line}: {turn:?}"
        );
        assert!(!turn.recorded && !turn.announces && !turn.sentences.is_empty(), "{line}");
    }
    assert_eq!(
        talk.read("name the source", At(5)).unwrap().sentences[0].written,
        "Oil drain plug: Tarnfell 15 Workshop Manual, first edition, invented, page 2-8."
    );
    assert!(journal(&talk) == before && talk.job().digest() == job);
    // Behind anything else the source is that of the job again.
    talk.read("where am i", At(6)).unwrap();
    let source = &talk.read("name the source", At(6)).unwrap().sentences[0].written;
    assert!(!source.contains("page 2-8"), "{source}");
    let help = &talk.read("help", At(6)).unwrap().sentences[0].written;
    assert!(help.contains("torque for the ‹name›"), "{help}");
    assert!(talk.phrases().iter().any(|p| p.text == "torque for the wheel bolt" && p.harm == Harm::None));
}

#[test]
fn a_question_of_the_job_is_put_again_behind_a_value() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk::talk(jobs.path()).with_values(shelf(EXAMPLE));
    let asked = talk.read("skip this step", At(5)).unwrap().sentences.pop().unwrap().written;
    assert!(talk.job().question().is_some(), "{asked}");
    let turn = talk.read("torque oil drain plug", At(6)).unwrap();
    assert_eq!(turn.sentences.last().unwrap().written, asked);
    assert!(turn.announces && turn.sentences[0].written.starts_with("Oil drain plug: "), "{turn:?}");
    // While names are offered neither answer reaches the job.
    for answer in ["yes please", "no"] {
        let turn = talk.read("torque for the gearbox mount", At(7)).unwrap();
        assert!(turn.sentences[0].written.starts_with("Gearbox mount, front, or"), "{turn:?}");
        let turn = talk.read(answer, At(8)).unwrap();
        assert_eq!(turn.sentences.iter().map(|s| s.written.as_str()).collect::<Vec<_>>(), [asked.as_str()]);
        assert!(turn.announces && !turn.recorded && talk.job().question().is_some(), "{answer}");
    }
    assert!(talk.read("yes please", At(9)).unwrap().recorded);
}

#[test]
fn what_the_job_says_ends_a_value_and_an_offer() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk::talk(jobs.path()).with_values(shelf(EXAMPLE));
    talk.read("torque for the gearbox mount", At(5)).unwrap();
    assert!(!talk.offers().0.is_empty());
    talk.command(Command::WhereAmI, At(6)).unwrap();
    assert_eq!(talk.offers(), (Vec::new(), false));
    talk.read("torque oil drain plug", At(7)).unwrap();
    talk.command(Command::WhereAmI, At(8)).unwrap();
    let source = &talk.read("name the source", At(9)).unwrap().sentences[0].written;
    assert!(!source.contains("2-8"), "{source}");
}

#[test]
fn of_two_sources_each_value_names_its_own_and_a_typed_choice_goes_first() {
    let page = |source: &str, lines: &str| {
        let text = format!("vehicle: van\nsource: {source}\nedition: invented\n{lines}");
        values::parse("page.txt", &text).unwrap_or_else(|report| panic!("{report}"))
    };
    let one = page("Blue Book", "arm bolt, left: 20 N·m, page 1\narm bolt, right: 21 N·m, page 1\n");
    let two = page("Red Book", "valve: 5 N·m, page 3\n");
    let shelf = Shelf::new(vec![("one".into(), one), ("two".into(), two)]).unwrap();
    let mut talk = ValuesTalk::new(Language::english(), Manner::default(), Delivery::default(), shelf);
    assert_eq!(written(&mut talk, "value valve"), "Valve: 5 N·m (Red Book, page 3).");
    written(&mut talk, "value arm bolt");
    assert_eq!(written(&mut talk, "left"), "Arm bolt, left: 20 N·m (Blue Book, page 1).");
}

#[test]
fn a_page_for_another_vehicle_is_refused_for_a_job_or_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("other.txt");
    fs::write(&page, "vehicle: bench\nsource: book\nedition: 1\nvalve: 5 N·m, page 1\n").unwrap();
    let start = |settings: &str, more: &[&std::ffi::OsStr]| {
        let config = folder.path().join("config.toml");
        fs::write(&config, settings).unwrap();
        let mut command = wrenchside();
        command.arg("--config").arg(&config).arg("--jobs").arg(folder.path().join("jobs"));
        command.args(["start", "procedures/tarnfell-front-brakes.toml", "--typed"]).args(more);
        let output = command.write_stdin("torque for the valve\npause\n").output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (output.status.code(), text(output.stdout), text(output.stderr))
    };
    let (code, _, told) = start("", &["--values".as_ref(), page.as_os_str()]);
    assert!(code == Some(2) && told.contains("bench") && !folder.path().join("jobs").exists(), "{told}");
    let (code, shown, told) = start("values = [\"other.txt\"]", &[]);
    assert!(
        code == Some(0) && told.contains("left out") && shown.contains("No page of values is named."),
        "{told}{shown}"
    );
    let (_, shown, _) = start("values = []", &["--values".as_ref(), "docs/values.toml".as_ref()]);
    assert!(shown.contains("Tarnfell 15, light van: 11 values."), "{shown}");
    // Both are of one manual.
    assert_eq!(shown.matches("The values come from").count(), 1, "{shown}");
}

#[test]
fn without_a_page_it_says_so() {
    let jobs = tempfile::tempdir().unwrap();
    let mut talk = talk::talk(jobs.path());
    let mut said = |line: &str| talk.read(line, At(5)).unwrap().sentences[0].written.clone();
    assert_eq!(said("torque for the gearbox mount"), "No page of values is named.");
    assert!(said("value 70").starts_with("I do not know that."), "no name is a number");
    assert!(said("gearbox mount").starts_with("I do not know that."));
}

/// Three hundred names of three words and more.
fn long_page() -> (String, Vec<(String, u32)>) {
    let places = ["front", "rear", "upper", "lower", "left", "right"];
    let things = [
        "gearbox",
        "engine",
        "radiator",
        "caliper",
        "bumper",
        "exhaust",
        "steering",
        "manifold",
        "alternator",
        "bearing",
    ];
    let fasteners = ["mount bolt", "bracket bolt", "cover nut", "plug", "clamp screw"];
    let mut page = String::from("vehicle: Tarnfell 15\nsource: Tarnfell 15 Workshop Manual\nedition: invented\n");
    let mut all = Vec::new();
    for place in places {
        for thing in things {
            for fastener in fasteners {
                let torque = 10 + u32::try_from(all.len()).unwrap();
                page += &format!("{place} {thing} {fastener}: {torque} N·m, page 1-{torque}\n");
                all.push((format!("{place} {thing} {fastener}"), torque));
            }
        }
    }
    (page, all)
}

#[test]
fn of_three_hundred_values_each_is_found_by_its_name_at_once() {
    let (page, all) = long_page();
    let page = values::parse("long.txt", &page).unwrap_or_else(|report| panic!("{report}"));
    let shelf = Shelf::new(vec![("long.txt".to_owned(), page)]).unwrap();
    assert_eq!(shelf.len(), 300);
    let began = Instant::now();
    let mut talk = ValuesTalk::new(Language::english(), Manner::default(), Delivery::default(), shelf);
    let made = began.elapsed();
    let began = Instant::now();
    for (name, torque) in &all {
        let told = written(&mut talk, &format!("torque for the {name}"));
        let told = told.to_lowercase();
        assert_eq!(told, format!("{name}: {torque} n·m (page 1-{torque})."));
    }
    let asked = began.elapsed();
    let began = Instant::now();
    let phrases = talk.phrases();
    let listed = began.elapsed();
    eprintln!("300 names: made in {made:?}, asked 300 times in {asked:?}, {} phrases in {listed:?}", phrases.len());
    // Of a build for tests, on a machine that is busy.
    assert!(asked < Duration::from_secs(15) && made < Duration::from_secs(5) && listed < Duration::from_secs(2));
    // All whole names in all their forms, for the voice.
    for (name, _) in &all {
        for lead in ["value for the", "how tight is the", "what torque for the", "torque for the", "value for"] {
            assert!(phrases.iter().any(|p| p.text == format!("{lead} {name}")), "{lead} {name}");
        }
    }
    assert_eq!(written(&mut talk, "value gearbox"), "30 names have these words. Say more of the name.");
}

/// A value of a long page is answered about as fast as one of a short page.
#[test]
fn of_three_hundred_values_one_is_told_as_fast_as_of_eleven() {
    let talk = |text: &str| {
        let page = values::parse("page.txt", text).unwrap_or_else(|report| panic!("{report}"));
        let shelf = Shelf::new(vec![("page.txt".to_owned(), page)]).unwrap();
        ValuesTalk::new(Language::english(), Manner::default(), Delivery::default(), shelf)
    };
    let (long, _) = long_page();
    let short: Vec<&str> = long.lines().take(3 + 11).collect();
    let (mut short, mut long) = (talk(&short.join("\n")), talk(&long));
    // The quickest of several, in turn: whatever else the machine does meets both.
    let (mut of_short, mut of_long) = (Duration::MAX, Duration::MAX);
    for _ in 0..12 {
        for (talk, best) in [(&mut short, &mut of_short), (&mut long, &mut of_long)] {
            let began = Instant::now();
            let told = written(talk, "torque for the front gearbox mount bolt");
            *best = began.elapsed().min(*best);
            assert_eq!(told, "Front gearbox mount bolt: 10 N·m (page 1-10).");
        }
    }
    assert!(of_long < of_short * 4 + Duration::from_millis(10), "{of_long:?}, of eleven {of_short:?}");
}

/// What a manual has beside an amount is read as a text of it is, and what cannot be read is told with the way to write it.
#[test]
fn a_value_is_written_as_a_manual_has_it() {
    let page = values::parse(
        "page.txt",
        &lines("sump plug: 45 Nm (33 lbf ft), page 4\ngearbox mount: 45 Nm then 90 degrees, page 5\nstrut nut: 45 Nm, also 33 lbf ft, page 6"),
    )
    .unwrap_or_else(|report| panic!("{report}"));
    assert!(page.entries[0].also.is_some() && page.entries[0].also == page.entries[2].also);
    let stages = |at: usize| match &page.entries[at].value {
        values::Value::Stages(stages) => wrenchside::strip::written(stages),
        other => panic!("{other:?}"),
    };
    assert_eq!((stages(0), stages(1)), ("45 N·m".to_owned(), "45 N·m + 90°".to_owned()));
    for (name, text) in [
        ("page.txt", lines("sump plug: 45 Nm (99 lbf ft), page 4")),
        ("page.txt", lines("sump plug: 45 Nm (33 lbf ft), also 33 lbf ft, page 4")),
        // What was left out behind a sign is not left out of the value.
        ("page.txt", lines("sump plug: 45 Nm + , page 4")),
    ] {
        let report = values::check(name, &text, None);
        let told = report.to_string();
        assert!(report.errors() > 0 && told.contains("behind a \"+\"") && told.contains("also …"), "{told}");
    }
}

/// Advice is worded for the form that the page has.
#[test]
fn advice_is_for_the_form_of_the_page() {
    let ears = values::Ears { as_heard: &|name| name.to_lowercase(), knows: &|word| word != "glowplug" };
    let table = "vehicle,v\nsource,m\nedition,1\nname,value,page\nglowplug,15 N·m,7\n";
    let toml = "format = 1\nvehicle = \"v\"\n[source]\ntitle = \"m\"\nedition = \"1\"\n[[value]]\nname = \"glowplug\"\nvalue = \"15 N·m\"\npage = \"7\"\n";
    for (name, text, said, also) in [
        ("page.txt", lines("glowplug: 15 N·m, page 7"), "\"say …\" behind the value", "\"also …\" behind the value"),
        ("page.csv", table.to_owned(), "the column \"say_as\"", "the column \"also\""),
        ("page.toml", toml.to_owned(), "(say_as)", "also = \"…\""),
    ] {
        let told = values::check(name, &text, Some(&ears)).to_string();
        assert!(told.contains(said) && told.contains(also), "{name}: {told}");
        assert!(name == "page.toml" || !told.contains("also = "), "{name}: {told}");
    }
}

/// For a name that cannot be heard `check` proposes what could be: an abbreviation letter by letter, a word in two that are known, or
/// a plain other name. What it proposes is taken.
#[test]
fn for_what_cannot_be_heard_something_is_proposed() {
    let known = ["sensor", "bolt", "glow", "plug", "a", "b", "s", "d", "tea", "see"];
    let ears = values::Ears { as_heard: &|name| name.to_lowercase(), knows: &|word| known.contains(&word) };
    let told = |line: &str| values::check("page.txt", &lines(line), Some(&ears)).to_string();
    for (name, proposal) in [
        ("ABS sensor", "perhaps letter by letter: \"a b s\""),
        ("TDC sensor", "perhaps letter by letter: \"tea d see\""),
        ("glowplug", "perhaps with \"glow plug\""),
        ("abs sensor", "or give it a plain other name"),
        ("ABX sensor", "or give it a plain other name"),
        ("torsen bolt", "or give it a plain other name"),
    ] {
        let shown = told(&format!("{name}: 15 N·m, page 7"));
        assert!(shown.contains("cannot be heard") && shown.contains(proposal), "{name}: {shown}");
    }
    for said in ["ABS sensor: 9 N·m, say a b s sensor, page 7", "glowplug: 15 N·m, say glow plug, page 7"] {
        assert!(!told(said).contains("cannot be heard"), "{said}: {}", told(said));
    }
}

/// What the names of a long page cost the recogniser, beside the phrases of a tightening:
/// `cargo nextest run --test values --run-ignored only --no-capture cost`
#[test]
#[ignore = "it measures"]
fn what_three_hundred_names_cost() {
    use wrenchside::assets::Places;
    use wrenchside::hearing::moment::Moment;
    use wrenchside::listen::{Recogniser, VoskRecogniser};
    let page = values::parse("long.txt", &long_page().0).unwrap();
    let shelf = Shelf::new(vec![("long.txt".to_owned(), page)]).unwrap();
    let language = Language::english();
    let asks = language.asks(&shelf);
    let named = ValuesTalk::new(language.clone(), Manner::default(), Delivery::default(), shelf);
    let mut recogniser = VoskRecogniser::open(&Places::here().listener(None).unwrap()).unwrap();
    let job = Moment::Tightening.allowed(&language).phrases;
    let names: Vec<_> = named.phrases().into_iter().filter(|p| p.harm == Harm::None && !job.contains(p)).collect();
    let both = [job.clone(), names.clone()].concat();
    eprintln!("{} phrases for names", asks.phrases());
    for (what, phrases) in [("a tightening", &job), ("the same with the names", &both)] {
        let mut times: Vec<Duration> = Vec::new();
        for _ in 0..8 {
            let began = Instant::now();
            recogniser.listen_for(phrases).unwrap();
            times.push(began.elapsed());
        }
        times.sort();
        eprintln!("{what}: {} phrases, told in {:?}", phrases.len(), times[4]);
    }
}

#[test]
fn the_program_answers_typed_lines_with_no_job() {
    let lines = "torque for the gearbox mount\nrear\nname the source\nnext step\nvalue nonsense\npause\n";
    let output = wrenchside().args(["values", "docs/values.toml", "--typed"]).write_stdin(lines).output().unwrap();
    let shown = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(0), "{shown}{}", String::from_utf8_lossy(&output.stderr));
    let told: Vec<&str> = shown.lines().map(str::trim).skip(3).collect();
    assert_eq!(
        told,
        [
            "Gearbox mount, front, or gearbox mount, rear?",
            "Gearbox mount, rear: 80 N·m (page 7-1).",
            "Gearbox mount, rear: Tarnfell 15 Workshop Manual, first edition, invented, page 7-1.",
            "No job is open here.",
            "Not on the page of values: nonsense.",
            "That is all.",
        ]
    );
}

#[test]
fn check_tells_of_pages_what_it_tells_of_procedures_and_which_names_cannot_be_heard() {
    let clean =
        wrenchside().args(["check", "docs/values.toml", "procedures/tarnfell-front-brakes.toml"]).output().unwrap();
    assert_eq!(clean.status.code(), Some(0), "{}", String::from_utf8_lossy(&clean.stderr));
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("page.csv");
    fs::write(&page, "vehicle,van\nsource,book\nedition,1\nname,value,page,thread\nturbo nut,500 N·m,1,M8\nglowplug,15 N·m,,\nunobtainium bolt,9 N·m,2,\n").unwrap();
    let mut check = wrenchside();
    let output = check.args(["check", "--format", "json"]).arg(&page).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    let reports: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let findings = reports[0]["findings"].as_array().unwrap();
    let found: Vec<_> = findings.iter().map(|f| (f["code"].as_str().unwrap(), f["line"].as_u64().unwrap())).collect();
    for wanted in [("torque-implausible", 5), ("word-unheard", 5), ("source-missing", 6), ("word-unheard", 7)] {
        assert!(found.contains(&wanted), "{wanted:?}: {found:?}");
    }
    let ask = wrenchside().arg("values").arg(&page).arg("--typed").write_stdin("value turbo nut\n").output().unwrap();
    assert_eq!(ask.status.code(), Some(2), "no value is told from a page that must be put right");
    assert!(!String::from_utf8_lossy(&ask.stdout).contains("500"));
}

#[test]
fn the_schema_for_editors_is_up_to_date() {
    let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/values.schema.json");
    let made = serde_json::to_string_pretty(&values::json_schema()).unwrap() + "\n";
    if std::env::var_os("WRENCHSIDE_WRITE_SCHEMA").is_some() {
        fs::write(&file, &made).unwrap();
    }
    let there = fs::read_to_string(&file).unwrap_or_default();
    assert!(
        there == made,
        "docs/values.schema.json is out of date; run the test once with WRENCHSIDE_WRITE_SCHEMA set"
    );
}

fn lines(values: &str) -> String {
    format!(
        "vehicle: Tarnfell 15, light van\nsource: Tarnfell 15 Workshop Manual\nedition: first edition, invented\n{values}\n"
    )
}

/// A page has amounts of every kind that a procedure measures, and what is no unit is told as that.
#[test]
fn a_page_has_amounts_of_every_kind() {
    let text = lines(
        "gearbox oil: 1.8 l, page 1-2\nidle speed: 850 rpm, page 1-2\nthermostat: 82..88 °C, page 1-2\nbattery: at least 12.4 V, page 1-2\n\
         sensor: 1.2 kΩ, page 1-2\nfan: at most 30 A, page 1-2\nspring: 24 N/mm, page 1-2\nbelt: 45 N, page 1-2\ncure: 20 min, page 1-2\n\
         pump: 0.8 l/min, page 1-2\nmixture: 50 %, page 1-2\nlimiter: 90 km/h, page 1-2",
    );
    let page = values::parse("page.txt", &text).unwrap_or_else(|report| panic!("{report}"));
    let shelf = Shelf::new(vec![("page.txt".to_owned(), page)]).unwrap();
    let mut talk = ValuesTalk::new(Language::english(), Manner::default(), Delivery::default(), shelf);
    for (name, told) in [
        ("gearbox oil", "Gearbox oil: 1.8 l (page 1-2)."),
        ("idle speed", "Idle speed: 850 rpm (page 1-2)."),
        ("thermostat", "Thermostat: 82..88 °C (page 1-2)."),
        ("battery", "Battery: not less than 12.4 V (page 1-2)."),
        ("mixture", "Mixture: 50 % (page 1-2)."),
    ] {
        assert_eq!(written(&mut talk, &format!("value {name}")), told);
    }
    let found = |value: &str| values::check("page.txt", &lines(&format!("thing: {value}, page 1-2")), None).to_string();
    assert!(found("1.8 xyz").contains("\"1.8 xyz\" is no amount: \"xyz\" is no unit"), "{}", found("1.8 xyz"));
    assert!(found("1.8").contains("the unit is missing"), "{}", found("1.8"));
}

/// A comma within a number is told as that, and not as the end of the value.
#[test]
fn a_comma_within_a_number_is_told() {
    for value in ["1,250 Nm", "20,5 N·m", "at most 0,5 mm", "62 N·m + 1,5 deg"] {
        let text = lines(&format!("thing: {value}, page 1-2"));
        let found = values::check("page.txt", &text, None).to_string();
        assert!(found.contains("decimals follow a point, not a comma"), "{value}: {found}");
    }
    assert!(values::parse("page.txt", &lines("thing: 62 N·m,7-1")).is_ok());
}

/// An amount that is less than nothing, and a torque beyond any fastener, are found.
#[test]
fn what_cannot_be_right_is_found() {
    let found = |value: &str| values::check("page.txt", &lines(&format!("thing: {value}, page 1-2")), None);
    for (value, code, error) in [
        ("-5 mm", "value-negative", false),
        ("-5..5 mm", "value-negative", false),
        ("at most -2 kg", "value-not-positive", true),
        ("-20 N·m", "value-not-positive", true),
        ("9999999 N·m", "torque-implausible", true),
        ("11000 N·m + 50 deg", "torque-implausible", true),
    ] {
        let report = found(value);
        assert!(report.to_string().contains(code) && (report.errors() > 0) == error, "{value}: {report}");
    }
    assert!(wrenchside::strip::read("9999999 N·m").is_none());
    assert!(wrenchside::strip::read("900 N·m").is_some());
    assert!(!found("-20 °C").to_string().contains("value-"));
}

/// A thing twice with one value and two pages is found: one of them would be dropped without a word.
#[test]
fn one_thing_with_two_pages_is_found() {
    let page = |second: &str| lines(&format!("lift: 5 mm, page 3-2\nlift: 5 mm, {second}"));
    let report = values::check("page.txt", &page("page 3-3"), None);
    assert!(report.to_string().contains("\"lift\" has two pages, page 3-2 and page 3-3"), "{report}");
    assert_eq!(report.errors(), 0, "the value is one all the same");
    assert!(values::parse("page.txt", &page("page 3-2")).is_ok());
}

/// Where names are offered, yes and no choose none of them: the offer is put again, and stands. What means nothing here ends none.
#[test]
fn yes_and_no_leave_an_offer_as_it_is() {
    let mut talk = counter(Manner::default());
    let offer = written(&mut talk, "value gearbox mount");
    assert_eq!(offer, "Gearbox mount, front, or gearbox mount, rear?");
    for (at, line) in ["yes", "no", "yes please"].into_iter().enumerate() {
        assert_eq!(written_at(&mut talk, line, 1_000 * at as i64), offer, "{line}");
    }
    assert_eq!(written(&mut talk, "next step"), "No job is open here.");
    assert!(written(&mut talk, "rear").starts_with("Gearbox mount, rear: "));
    assert_eq!(written(&mut talk, "yes"), "No job is open here.", "nothing is offered");
}

/// Typed in another number than it is written in, a name is found where it can be no other.
#[test]
fn a_name_in_another_number_is_found_where_it_is_the_only_one() {
    let text = lines(
        "cover bolt: 10 N·m, page 3\ngearbox mounts, front: 62 N·m, page 4\nsump bolt, left: 20 N·m, page 5\n\
         sump bolt, right: 21 N·m, page 5\nbolts of the pump: 8 N·m, page 6",
    );
    let page = values::parse("page.txt", &text).unwrap_or_else(|report| panic!("{report}"));
    let shelf = Shelf::new(vec![("page.txt".to_owned(), page)]).unwrap();
    let mut talk = ValuesTalk::new(Language::english(), Manner::default(), Delivery::default(), shelf);
    for (line, told) in [
        ("torque for the cover bolts", "Cover bolt: 10 N·m (page 3)."),
        ("value covers bolts", "Cover bolt: 10 N·m (page 3)."),
        ("value for the gearbox mount", "Gearbox mounts, front: 62 N·m (page 4)."),
        ("value pump bolt", "Bolts of the pump: 8 N·m (page 6)."),
        // Two could be meant, or nothing is.
        ("value sump bolts", "Not on the page of values: sump bolts."),
        ("value cover boltses", "Not on the page of values: cover boltses."),
        ("value cover bolts bolts", "Not on the page of values: cover bolts bolts."),
        ("value cover screws", "Not on the page of values: cover screws."),
        // Word for word comes first.
        ("value sump bolt right", "Sump bolt, right: 21 N·m (page 5)."),
    ] {
        assert_eq!(written(&mut talk, line), told, "{line}");
    }
}

/// Another unit of no value is asked for by name first.
#[test]
fn in_another_unit_there_must_be_a_value() {
    let mut talk = counter(Manner::default());
    assert_eq!(written(&mut talk, "in foot pounds"), "Ask for a value first.");
    assert_eq!(written(&mut talk, "value for the oil filter"), "Not on the page of values: oil filter.");
    assert_eq!(written(&mut talk, "in foot pounds"), "Ask for a value first.");
    written(&mut talk, "value driveshaft nut");
    assert!(written(&mut talk, "in foot pounds").contains("lbf·ft"));
}
