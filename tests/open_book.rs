//! Values told from the open book with no job: typed and by recorded sound, read back, kept on a page, taken back, taken up again.

#[path = "common/program.rs"]
mod program;

use program::wrenchside;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;
use wrenchside::dialogue::{Language, Manner};
use wrenchside::job::At;
use wrenchside::listen::{Harm, Hypothesis, RATE, Utterance};
use wrenchside::session::{BookTalk, Delivery, NoJob, PageFile};
use wrenchside::speak::Tone;
use wrenchside::values::{self, Head, OpenBook, Refused, Wanted};

const HEAD: &str =
    "vehicle: Tarnfell 15, light van\nsource: Tarnfell 15 Workshop Manual\nedition: first edition, invented\n\n";

/// A page on disk, and whoever tells its values.
struct Told {
    folder: tempfile::TempDir,
    file: PathBuf,
    talk: BookTalk,
}

impl Told {
    fn begin(name: &str, text: Option<&str>, names: Option<&[&str]>) -> Told {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join(name);
        if let Some(text) = text {
            fs::write(&file, text).unwrap();
        }
        let talk = Told::talk(&file, names);
        Told { folder, file, talk }
    }

    /// The program was started anew.
    fn talk(file: &Path, names: Option<&[&str]>) -> BookTalk {
        let language = Language::english();
        let page = PageFile::open(file).unwrap();
        let name = file.display().to_string();
        let head = Head {
            vehicle: "Tarnfell 15, light van",
            title: "Tarnfell 15 Workshop Manual",
            edition: "first edition, invented",
            language: "en",
        };
        let text = page.text().map_or_else(|| head.text(&name), str::to_owned);
        let book = OpenBook::open(&name, &text).unwrap_or_else(|report| panic!("{report}"));
        let book = match names {
            Some(names) => {
                let names: Vec<String> = names.iter().map(|name| (*name).to_owned()).collect();
                book.asking_for(&names, &|name| language.as_heard(name)).unwrap()
            }
            None => book,
        };
        let mut talk = BookTalk::new(language, Manner::default(), Delivery::default(), book, page);
        talk.begin();
        talk
    }

    fn line(&mut self, line: &str) -> String {
        let turn = self.talk.read(line, At(0));
        turn.sentences.iter().map(|sentence| sentence.written.as_str()).collect::<Vec<_>>().join(" ")
    }

    fn hear(&mut self, phrase: Option<&str>, nearly: Option<&str>, heard: &str) -> String {
        let turn = self.talk.hear(&utterance(phrase, nearly, heard), At(0));
        turn.sentences.iter().map(|sentence| sentence.written.as_str()).collect::<Vec<_>>().join(" ")
    }

    fn say(&mut self, phrase: &str) -> String {
        self.hear(Some(phrase), None, phrase)
    }

    fn text(&self) -> String {
        fs::read_to_string(&self.file).unwrap_or_default()
    }
}

fn utterance(phrase: Option<&str>, nearly: Option<&str>, heard: &str) -> Utterance {
    Utterance {
        phrase: phrase.map(str::to_owned),
        nearly: nearly.map(str::to_owned),
        heard: Hypothesis { text: heard.to_owned(), confidence: 1.0 },
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
fn a_value_is_kept_on_a_yes_to_all_its_numbers_and_not_before() {
    let mut told = Told::begin("page.txt", None, None);
    assert_eq!(
        told.line("Gearbox mount, front"),
        "Gearbox mount, front. What does the book say? Or say: no value in the book, or: look it up later."
    );
    assert_eq!(told.line("62 N·m + 50 deg"), "Now the page.");
    let turn = told.talk.read("7-1", At(0));
    let read = "Gearbox mount, front. The whole value: 62 N·m; then turn a further 50°, page 7-1. Is that right?";
    assert_eq!(turn.sentences[0].written, read);
    assert!(turn.sentences[0].spoken.contains("six two") && turn.sentences[0].spoken.contains("five zero"), "{turn:?}");
    assert!(!told.file.exists(), "nothing is kept before the yes");
    let turn = told.talk.read("yes", At(0));
    assert_eq!(turn.tone, Some(Tone::Recorded));
    assert_eq!(turn.sentences[0].written, "Kept: Gearbox mount, front.");
    assert_eq!(told.text(), format!("{HEAD}Gearbox mount, front: 62 N·m + 50 deg, page 7-1\n"));
    // With its page in one line; a no brings the question again, and keeps nothing.
    told.line("driveshaft nut");
    assert!(told.line("210 N·m, page 6-3").ends_with("210 N·m, page 6-3. Is that right?"));
    assert!(told.line("no").starts_with("Driveshaft nut. What does the book say?"));
    assert!(!told.text().contains("driveshaft"));
    told.line("120 N·m, 6-3");
    // Told again it takes the place of what was read back.
    assert!(told.line("210 N·m, 6-3").contains("210 N·m"));
    told.line("yes");
    assert!(told.line("pause job").starts_with("That is all."));
    let page = values::load(&told.file).unwrap();
    assert_eq!(page.source.title, "Tarnfell 15 Workshop Manual");
    let names: Vec<(&str, &str)> = page.entries.iter().map(|e| (e.name.as_str(), e.page.as_str())).collect();
    assert_eq!(names, [("Gearbox mount, front", "page 7-1"), ("driveshaft nut", "page 6-3")]);
}

/// Whatever a page may have can be told by keyboard, and stands in the file as it was read back.
#[test]
fn every_kind_of_value_is_told_by_keyboard() {
    for name in ["page.txt", "page.toml"] {
        let mut told = Told::begin(name, None, None);
        for (name, value, page) in [
            ("number 2 bearing cap bolts", "25 N·m + back off 90 deg + 20 N·m", "2-22"),
            ("bolt that comes out", "32..38 N·m", "p. 7-4"),
            ("brake disc run-out", "at most 0.08 mm", "9-11"),
            ("spacer", "13 mm", "page 9-12"),
            ("tyre pressure, rear", "2.6 bar", "1-6"),
            ("note", "2.6 bar", "1-6"),
        ] {
            // What is a command is given as a name by saying so.
            told.line(&if name == "note" { format!("call it {name}") } else { name.to_owned() });
            let read = told.line(&format!("{value}, {page}"));
            if name == "note" && told.file.ends_with("page.txt") {
                // There it is a key of the page's head.
                assert!(!told.text().contains("note"), "{read}");
                continue;
            }
            assert!(read.ends_with("Is that right?"), "{name}: {read}");
            assert!(told.line("yes").starts_with("Kept: "), "{name}");
        }
        let report = values::check(&told.file.display().to_string(), &told.text(), None);
        assert_eq!(report.errors(), 0, "{report}");
        let page = values::load(&told.file).unwrap();
        assert!(page.entries.len() >= 5 && page.entries.iter().any(|entry| entry.page == "page 2-22"), "{page:?}");
    }
}

/// What `check` would refuse is refused, and with its words.
#[test]
fn what_check_refuses_is_not_taken() {
    let page = format!("{HEAD}sump bolt: 25 N·m, page 2-8\n");
    let mut told = Told::begin("page.txt", Some(&page), None);
    let refused = |told: &mut Told, line: &str, words: &str| {
        let answer = told.line(line);
        assert!(answer.contains(words), "{line}: {answer}");
        assert_eq!(told.text(), page, "{line}");
    };
    refused(&mut told, "sump bolt", "It is on the page already. Sump bolt: 25 N·m (page 2-8).");
    refused(&mut told, "sump-bolt", "It is on the page already.");
    refused(&mut told, "source", "That is not taken as a name.");
    refused(&mut told, "a: b", "That is not taken as a name.");
    refused(&mut told, "?!", "That was a question");
    told.line("wheel bolt");
    for (line, words) in [
        ("110", "the unit is missing"),
        ("110 N·m + ", "Write the value as the source has it"),
        ("9999999 N·m, 6-1", "9999999 N·m"),
        ("20,5 N·m", "decimals follow a point, not a comma"),
        ("1.8 xyz", "is no unit"),
        ("50 deg, 6-1", "Wheel bolt. What does the book say?"),
        ("110 N·m, 50 deg", "is no page"),
        ("110 N·m, later perhaps", "is no page"),
        ("page 7", "does not begin with a number"),
        ("maybe 110 N·m?", "That was a question"),
    ] {
        let answer = told.line(line);
        assert!(answer.contains(words), "{line}: {answer}");
        assert_eq!(told.text(), page, "{line}");
    }
    // Without a page there is no value.
    told.line("110 N·m");
    refused(&mut told, "no page", "is no page");
    refused(&mut told, "yes", "There is no question to answer. Now the page.");
}

/// A question for a value is answered from the page that is being filled, and neither it nor any command is ever a name.
#[test]
fn a_question_is_answered_and_no_command_is_a_name() {
    let page = format!("{HEAD}gearbox mount: 62 N·m, page 7-1\n");
    let mut told = Told::begin("page.txt", Some(&page), None);
    let next = "The next name. To end, say: take a break.";
    for line in ["torque for the gearbox mount", "How tight is the gearbox mount", "torque gearbox mount?"] {
        assert_eq!(told.line(line), format!("Gearbox mount: 62 N·m (page 7-1). {next}"), "{line}");
    }
    let none = told.line("how tight is the drain plug");
    assert!(none.contains("drain plug") && none.ends_with(next), "{none}");
    for line in [
        "next step",
        "that one is done",
        "how much torque",
        "which socket",
        "took out two bolts",
        "that is everything, I hope",
        "what is the torque here",
        "where is the drain plug",
    ] {
        let answer = told.line(line);
        assert!(!answer.contains("What does the book say?"), "{line}: {answer}");
    }
    // Where a value is awaited it is asked for again behind the answer, and what is kept is asked for at once.
    assert!(told.line("drain plug").starts_with("Drain plug. What does the book say?"));
    let answer = told.line("torque for the gearbox mount");
    assert!(answer.starts_with("Gearbox mount: 62 N·m (page 7-1). Drain plug. What"), "{answer}");
    told.line("30 N·m, 2-8");
    assert!(told.line("torque for the gearbox mount").ends_with("Is that right?"));
    assert_eq!(told.text(), page);
    told.line("yes");
    assert!(told.line("torque for the drain plug").starts_with("Drain plug: 30 N·m (page 2-8)."));
    told.line("undo");
    assert!(!told.line("torque for the drain plug").contains("30 N·m (page"));
    // By voice as well.
    assert!(told.say("value for the gearbox mount").starts_with("Gearbox mount: 62 N·m (page 7-1)."));
    // Whatever it is like, a name can be given as one.
    let mut told = Told::begin("page.txt", Some(&page), None);
    assert!(told.line("call it torque arm, how tight").starts_with("Torque arm, how tight. What"));
    assert!(told.line("62 N·m, 7-2").contains("62 N·m"));
    let mut told = Told::begin("page.txt", Some(&page), None);
    assert!(told.line("torque arm bolt").starts_with("Torque arm bolt. What"));
}

#[test]
fn what_was_told_is_taken_back_step_by_step() {
    let page = format!("{HEAD}sump bolt: 25 N·m, page 2-8\n");
    let mut told = Told::begin("page.txt", Some(&page), None);
    told.line("wheel bolt");
    told.line("110 N·m, 6-1");
    told.line("yes");
    told.line("wheel nut");
    told.line("90 N·m, 6-1");
    // What was read back first, then the name, then what was kept; never what was there before.
    assert!(told.line("scratch that").starts_with("Wheel nut. What does the book say?"));
    assert!(told.line("scratch that").starts_with("Taken back: wheel nut. The next name."));
    assert!(told.text().contains("wheel bolt"));
    assert!(told.line("scratch that").starts_with("Taken back: wheel bolt. Wheel bolt. What does the book say?"));
    assert_eq!(told.text(), page);
    assert!(told.line("scratch that").starts_with("Taken back: wheel bolt. The next name."));
    assert!(told.line("scratch that").starts_with("There is nothing left to take back."));
    assert_eq!(told.text(), page);
}

/// By voice the names are those of a list; what is left is asked for when it is taken up again.
#[test]
fn by_voice_the_names_of_a_list_are_asked_for_and_what_is_left_the_next_time() {
    let names = ["gearbox mount, front", "driveshaft nut", "wheel bolt", "drain plug"];
    let mut told = Told::begin("page.txt", None, Some(&names));
    let value = "sixty two newton metres then fifty degrees page seven dash one";
    assert_eq!(
        told.say(value),
        "Gearbox mount, front. The whole value: 62 N·m; then turn a further 50°, page 7-1. Is that right?"
    );
    assert_eq!(
        told.say("say again"),
        "Gearbox mount, front. The whole value: 62 N·m; then turn a further 50°, page 7-1. Is that right?"
    );
    assert!(told.say("no thanks").starts_with("Gearbox mount, front. What does the book say?"));
    told.say(value);
    let kept = told.say("yes please");
    assert!(kept.starts_with("Kept: gearbox mount, front. Driveshaft nut. What does the book say?"), "{kept}");
    // Half heard, it is asked back, and read back all the same.
    let asked = told.hear(None, Some("two hundred and ten newton metres"), "two hundred and ten newton");
    assert_eq!(asked, "Did you say: two hundred and ten newton metres?");
    assert_eq!(told.say("yes please"), "Now the page.");
    // A yes answers nothing here, and there is no value without a page.
    assert_eq!(told.say("yes please"), "");
    assert_eq!(told.say("no page"), "");
    assert!(told.say("page six dash three").ends_with("210 N·m, page 6-3. Is that right?"));
    told.say("yes please");
    assert!(told.say("look it up later").starts_with("Left for later. Drain plug."));
    assert!(
        told.say("scratch that").starts_with("Taken back: driveshaft nut. Driveshaft nut. What does the book say?")
    );
    let over = told.say("take a break");
    assert_eq!(over, "3 are left for another time.");
    assert_eq!(told.text(), format!("{HEAD}gearbox mount, front: 62 N·m + 50°, page 7-1\n"));
    // Begun again, what is there is not asked for.
    told.talk = Told::talk(&told.file, Some(&names));
    assert!(told.say("say again").starts_with("Driveshaft nut."), "{}", told.say("say again"));
    assert!(told.say("no value in the book").starts_with("No value in the book. Wheel bolt."));
    told.say("one hundred and ten newton metres page six");
    told.say("yes please");
    let turn = told.talk.hear(&utterance(Some("no value in the book"), None, "no value in the book"), At(0));
    assert!(turn.over, "that was the last");
    assert!(told.text().ends_with("wheel bolt: 110 N·m, page 6\n"), "{}", told.text());
}

/// Words that would put something on the page are held to what a claim in a job is held to.
#[test]
fn what_is_heard_as_a_value_or_a_yes_is_a_claim() {
    let mut told = Told::begin("page.txt", None, Some(&["wheel bolt"]));
    let harm = |told: &Told, text: &str| {
        let listed = told.talk.phrases().into_iter().find(|phrase| phrase.text == text).map(|phrase| phrase.harm);
        listed.or_else(|| told.talk.readings().phrase(text).map(|phrase| phrase.harm))
    };
    let value = "one hundred and ten newton metres page six";
    assert_eq!(harm(&told, value), Some(Harm::Claims));
    assert_eq!(harm(&told, "yes please"), Some(Harm::Decoy));
    assert_eq!(harm(&told, "no page"), Some(Harm::Decoy));
    told.say(value);
    assert_eq!(harm(&told, "yes please"), Some(Harm::Claims));
    // While it does not listen nothing counts.
    told.say("stop listening");
    assert_ne!(harm(&told, "yes please"), Some(Harm::Claims));
    assert_eq!(told.say("yes please"), "");
    assert!(!told.file.exists());
    told.say("start listening");
    assert!(told.say("yes please").starts_with("Kept: wheel bolt."));
}

/// What somebody else writes meanwhile is not written over, and a disk that takes nothing loses nothing.
#[test]
fn a_page_that_cannot_be_written_is_told_and_waits() {
    let page = format!("{HEAD}sump bolt: 25 N·m, page 2-8\n");
    let mut told = Told::begin("page.txt", Some(&page), None);
    told.line("wheel bolt");
    told.line("110 N·m, 6-1");
    let other = format!("{page}oil filter: 15 N·m, page 2-9\n");
    fs::write(&told.file, &other).unwrap();
    let answer = told.line("yes");
    assert!(answer.starts_with("Not kept: ") && answer.contains("changed meanwhile"), "{answer}");
    assert!(answer.ends_with("Is that right?"), "it still waits: {answer}");
    assert_eq!(told.text(), other);
    fs::write(&told.file, &page).unwrap();
    assert!(told.line("yes").starts_with("Kept: wheel bolt."));
    assert_eq!(told.text(), format!("{page}wheel bolt: 110 N·m, page 6-1\n"));
    assert_eq!(fs::read_dir(told.folder.path()).unwrap().count(), 1, "nothing unfinished is left");
    told.line("wheel nut");
    told.line("90 N·m, 6-1");
    fs::remove_file(&told.file).unwrap();
    assert!(told.line("yes").starts_with("Not kept: "));
}

#[test]
fn a_page_with_mistakes_is_not_added_to_and_a_name_that_cannot_be_is_told() {
    let report = OpenBook::open("page.txt", "vehicle: v\nsource: s\nsump bolt: 25 N·m, page 2\n").unwrap_err();
    assert!(report.to_string().contains("no edition"), "{report}");
    let heard = |name: &str| name.to_lowercase();
    let book = OpenBook::open("page.txt", HEAD).unwrap();
    let (name, why) = book.asking_for(&["fine".into(), "a: b".into()], &heard).unwrap_err();
    assert_eq!((name.as_str(), why), ("a: b", Refused::Name));
    let book = OpenBook::open("page.txt", HEAD).unwrap().asking_for(&[], &heard).unwrap();
    assert_eq!(book.wanted(), Wanted::Nothing);
    // In a table of another kind of file the very same name is fine.
    let toml = "format = 1\nvehicle = \"v\"\n[source]\ntitle = \"s\"\nedition = \"e\"\n";
    assert!(OpenBook::open("page.toml", toml).unwrap().asking_for(&["a: b".into()], &heard).is_ok());
}

/// The command itself, typed: the book is asked for first, and what it wrote is asked and checked by the program.
#[test]
fn the_command_asks_for_the_book_first_and_writes_a_page() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("page.txt");
    let run = |lines: &str| {
        let mut command = wrenchside();
        command.args(["values", "--typed", "--add"]).arg(&page);
        let output = command.write_stdin(lines).output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (output.status.code(), text(output.stdout), text(output.stderr))
    };
    let (code, _, told) = run("\nfirst edition\nvan\n");
    assert!(code == Some(2) && told.contains("nothing was begun") && !page.exists(), "{told}");
    let (code, shown, told) = run(
        "Tarnfell 15 Workshop Manual\nfirst edition, invented\nTarnfell 15, light van\nwheel bolt\n110 N·m, 6-1\nyes\npause job\n",
    );
    assert_eq!(code, Some(0), "{shown}{told}");
    assert!(shown.contains("1 on the page."), "{shown}");
    // Taken up again, without a question about the book; what is not confirmed is not kept.
    let (code, shown, told) = run("sump bolt\n25 N·m, 2-8\nyes\ndrain plug\n20 N·m, 2-9\n");
    assert_eq!(code, Some(0), "{shown}{told}");
    assert!(shown.contains("2 on the page.") && !shown.contains("Title of the book"), "{shown}");
    let check = wrenchside().arg("check").arg(&page).output().unwrap();
    assert_eq!(check.status.code(), Some(0), "{}", String::from_utf8_lossy(&check.stdout));
    let asked = wrenchside().args(["values", "--typed"]).arg(&page).write_stdin("value wheel bolt\n").output().unwrap();
    assert!(String::from_utf8_lossy(&asked.stdout).contains("Wheel bolt: 110 N·m (page 6-1)."));
    let table = wrenchside().args(["values", "--typed", "--add", "a.csv"]).write_stdin("").output().unwrap();
    assert_eq!(table.status.code(), Some(2));
}

/// One recording after the other in one file, as somebody says them who has listened.
fn recorded(path: &Path, files: &[&str]) {
    let spec =
        hound::WavSpec { channels: 1, sample_rate: RATE, bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
    let mut writer = hound::WavWriter::create(path, spec).unwrap();
    for file in files {
        let sound = wrenchside::listen::read_sound(&Path::new("audio-fixtures").join(file)).unwrap();
        let silence = std::iter::repeat_n(0, RATE as usize * 2);
        sound.into_iter().chain(silence).for_each(|sample| writer.write_sample(sample).unwrap());
    }
    writer.finalize().unwrap();
}

/// The command itself, by recorded sound: two things, one of them said again after a no, with its page by itself.
#[test]
fn values_are_said_by_recordings() {
    let folder = tempfile::tempdir().unwrap();
    let (page, wav, names) =
        (folder.path().join("page.txt"), folder.path().join("said.wav"), folder.path().join("names"));
    fs::write(&names, "gearbox mount, front\n\nhousing nut\nwheel bolt\n").unwrap();
    recorded(
        &wav,
        &[
            "strip/joe-sixty-two-newton-metres-then-fifty-degrees-page-seven-dash-one.flac",
            "clean/joe-no-thanks.flac",
            "strip/joe-sixty-two-newton-metres-then-fifty-degrees-page-seven-dash-one.flac",
            "clean/joe-yes-please.flac",
            "noise/impact-1.flac",
            "strip/joe-twenty-five-newton-metres.flac",
            "strip/joe-page-seven-dash-two.flac",
            "clean/joe-yes-that-is-right.flac",
            "strip/joe-no-value-in-the-book.flac",
        ],
    );
    let mut command = wrenchside();
    // The voice need not be heard: without a loudspeaker the answers are printed.
    command.env("PULSE_SERVER", "/nonexistent").args(["values", "--add"]).arg(&page).arg("--names").arg(&names);
    command.arg("--wav").arg(&wav);
    let lines = "Tarnfell 15 Workshop Manual\nfirst edition, invented\nTarnfell 15, light van\n";
    let output = command.write_stdin(lines).output().unwrap();
    let shown = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{shown}{}", String::from_utf8_lossy(&output.stderr));
    let text = fs::read_to_string(&page).unwrap_or_default();
    let values = "gearbox mount, front: 62 N·m + 50°, page 7-1\nhousing nut: 25 N·m, page 7-2\n";
    assert_eq!(text, format!("{HEAD}{values}"), "{shown}");
}
