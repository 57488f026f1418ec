//! The page for the bay in every state, on a screen and on a phone: nothing is overprinted, cut or too small, and every caution
//! that holds is in sight.
//!
//! The pictures need a browser (Debian: `chromium`); where there is none these tests say so loudly and pass.
//! `WRENCHSIDE_SCREENSHOTS=DIR` keeps a picture of each state.

#[path = "common/browser.rs"]
mod browser;
#[path = "common/ears.rs"]
mod ears;

use browser::{BROWSER, Browser, has};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use tokio::sync::watch;
use wrenchside::dialogue::{Language, Manner, Notice};
use wrenchside::glance::{Board, Frame, Server};
use wrenchside::job::{At, Command as Order, Job, Question, Reading, StepState};
use wrenchside::journal::{Folder, StripFolder};
use wrenchside::listen::{Hypothesis, ListenError, Utterance};
use wrenchside::procedure::{self, Caution, Procedure, Signal, StageKind};
use wrenchside::quantity::TorqueUnit;
use wrenchside::session::live::Input;
use wrenchside::session::{
    Choice, Conversation, Delivery, Ear, Habits, Scene, Screen, Source, StripTalk, Talker, Trouble, Turn, Ways, run,
};
use wrenchside::strip::StripLog;
use wrenchside::values::Shelf;

const HEAD: &str = "procedures/tarnfell-cylinder-head.toml";
const BRAKES: &str = "procedures/tarnfell-front-brakes.toml";
const ARM: &str = "procedures/tarnfell-front-lower-arm-left.toml";
const BENCH: &str = "tests/data/werkbank-halter.toml";
const GEARBOX: &str = "procedures/tarnfell-angle-gearbox.toml";

/// A screen in the bay and a phone.
const SIZES: [(u32, u32); 2] = [(1280, 800), (390, 844)];

struct Nobody;

impl Screen for Nobody {
    fn heard(&mut self, _utterance: &Utterance) {}
    fn turn(&mut self, _turn: &Turn, _job: &Job) {}
    fn notice(&mut self, _text: &str) {}
}

/// Who looks on.
#[derive(Default)]
struct Looks {
    typed: bool,
    own_voice: Option<&'static str>,
    manner: Manner,
    german: bool,
}

impl Looks {
    fn language(&self) -> Language {
        if !self.german {
            return Language::english();
        }
        let path = "src/dialogue/languages/de.toml";
        let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap();
        Language::from_toml(path, &text).unwrap_or_else(|e| panic!("{e}"))
    }
}

/// A session and its page.
struct Bay<'a, T: Talker> {
    talk: T,
    board: Board<'a>,
    at: i64,
}

impl<T: Talker> Bay<'_, T> {
    /// As the session shows a turn.
    fn show(&mut self, turn: &Turn) {
        self.board.stands(&Scene::of(&self.talk));
        match self.talk.job() {
            Some(job) => self.board.turn(turn, job),
            None => self.board.told(turn),
        }
    }

    fn line(&mut self, line: &str) {
        self.at += 60_000;
        let turn = self.talk.read(line, At(self.at)).unwrap();
        self.show(&turn);
    }

    /// As the session tells a trouble.
    fn trouble(&mut self, notice: Notice) {
        self.board.trouble(notice);
        let turn = Turn { sentences: vec![self.talk.language().notice(notice)], ..Turn::default() };
        self.show(&turn);
    }
}

impl Bay<'_, Conversation> {
    fn order(&mut self, order: Order) {
        self.at += 60_000;
        let turn = self.talk.command(order, At(self.at)).unwrap();
        self.show(&turn);
    }

    /// Does what is asked for until `stop`.
    #[track_caller]
    fn until(&mut self, stop: impl Fn(&Job) -> bool) {
        for _ in 0..600 {
            let job = self.talk.job();
            if stop(job) {
                return;
            }
            let expects = job.expects();
            let last = job.book().steps.len() - 1;
            self.order(if job.question().is_none() && job.ledger().step(last) == StepState::Done {
                Order::Finish
            } else if expects.angle {
                Order::Finished
            } else if expects.yes_no {
                Order::Yes
            } else if let (Some(value), None) = (expects.reading, job.pending()) {
                Order::Reading(Reading { amount: value.amount(), unit: None })
            } else {
                Order::Done
            });
        }
        panic!("the job never came there: step {}", self.talk.job().position() + 1);
    }

    /// Said by the user, and not understood for certain.
    fn nearly(&mut self, phrase: &str) {
        self.at += 60_000;
        let said = Utterance {
            phrase: None,
            nearly: Some(phrase.to_owned()),
            heard: Hypothesis { text: phrase.into(), confidence: 0.5 },
            judgement: None,
            written: None,
            own: None,
            began: 0,
            ended: 0,
            decided: 0,
            thinking: std::time::Duration::ZERO,
        };
        self.talk.announced(At(self.at - 1));
        let turn = self.talk.hear(&said, At(self.at), At(self.at)).unwrap();
        self.show(&turn);
    }
}

fn book(procedure: &str) -> (String, Procedure) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(procedure);
    let whole = procedure::open(&path).unwrap();
    (whole.text().to_owned(), whole.procedure().unwrap())
}

/// The page of a job once `script` has been gone through.
fn job(
    procedure: &str,
    looks: &Looks,
    change: impl FnOnce(&mut Procedure),
    script: impl FnOnce(&mut Bay<'_, Conversation>),
) -> String {
    let dir = tempfile::tempdir().unwrap();
    let (text, mut book) = book(procedure);
    change(&mut book);
    let book = Arc::new(book);
    let at = 1_767_600_000_000;
    let folder = Folder::create(dir.path(), &text, &book, At(at)).unwrap();
    let talk = Conversation::new(looks.language(), looks.manner, Job::new(book), folder);
    page(talk, looks, at, |bay| {
        let turn = bay.talk.begin(At(bay.at)).unwrap();
        bay.show(&turn);
        script(bay);
    })
}

fn page<T: Talker>(talk: T, looks: &Looks, at: i64, script: impl FnOnce(&mut Bay<'_, T>)) -> String {
    let (sender, seen) = watch::channel(String::new());
    let mut nobody = Nobody;
    let board = Board::new(&mut nobody, looks.language(), looks.manner, !looks.typed, sender);
    let mut bay = Bay { talk, board: board.own_voice(looks.own_voice.map(str::to_owned)), at };
    script(&mut bay);
    seen.borrow().clone()
}

/// The page while something is taken apart.
fn strip(lines: &[&str]) -> String {
    let dir = tempfile::tempdir().unwrap();
    let folder = StripFolder::begin(dir.path(), "Water pump", None, At(0)).unwrap();
    let log = StripLog::new("Water pump");
    let mut talk = StripTalk::new(Language::english(), Manner::default(), log, folder, Shelf::default());
    let first = talk.begin();
    page(talk, &Looks::default(), 1_000, |bay| {
        bay.show(&first);
        lines.iter().for_each(|line| bay.line(line));
    })
}

fn titles() -> Vec<String> {
    [ARM, HEAD, BRAKES, GEARBOX].map(|procedure| book(procedure).1.title).to_vec()
}

fn choosing(lines: &[&str]) -> String {
    let mut talk = Choice::new(Language::english(), Delivery::default(), titles(), Box::new(|_, _, _| unreachable!()));
    let first = talk.first();
    page(talk, &Looks::default(), 1_000, |bay| {
        bay.show(&first);
        lines.iter().for_each(|line| bay.line(line));
    })
}

/// The choice behind a job that was closed with open points.
fn next_job() -> String {
    let dir = tempfile::tempdir().unwrap();
    let (text, book) = book(ARM);
    let book = Arc::new(book);
    let folder = Folder::create(dir.path(), &text, &book, At(0)).unwrap();
    let mut talk = Conversation::new(Language::english(), Manner::default(), Job::new(book), folder);
    let first = talk.begin(At(0)).unwrap();
    let talk = Choice::behind(talk, titles(), Box::new(|_, _, _| unreachable!()));
    page(talk, &Looks::default(), 1_000, |bay| {
        bay.show(&first);
        bay.line("finish the job");
        while !bay.talk.is_choosing() {
            assert!(bay.talk.job().is_some_and(|job| job.question().is_some()));
            bay.line("yes");
        }
    })
}

fn same(_: &mut Procedure) {}

fn pending(job: &Job, group: &str, rank: usize, kind: impl Fn(&StageKind) -> bool) -> bool {
    job.question().is_none()
        && job.pending().is_some_and(|p| {
            (job.book().fasteners[p.group.0].id.as_str(), p.rank) == (group, rank) && p.kind.as_ref().is_some_and(&kind)
        })
}

fn at_step(id: &'static str) -> impl Fn(&Job) -> bool {
    move |job| job.question().is_none() && job.book().steps[job.position()].id == id
}

fn is_torque(kind: &StageKind) -> bool {
    matches!(kind, StageKind::Torque(_))
}

fn is_angle(kind: &StageKind) -> bool {
    matches!(kind, StageKind::Angle(_))
}

/// As much of warnings as a step may have.
fn with_long_cautions(book: &mut Procedure) {
    let say = |signal, say: &str| Caution { signal, say: say.to_owned() };
    for step in &mut book.steps {
        step.cautions = vec![
            say(Signal::Note, "Have the wheel alignment measured before the vehicle goes back into use on any road."),
            say(
                Signal::Caution,
                "The arm is heavy, only the rear bolt holds it now, and it swings down without any warning.",
            ),
            say(
                Signal::Warning,
                "The strut pushes the arm down. Keep fingers out of the gap above the arm and the carrier.",
            ),
            say(
                Signal::Danger,
                "Fuel sprays out under pressure, and its vapour burns. Keep fire and sparks far away from it.",
            ),
        ];
    }
}

/// Every state, with what its page must hold.
fn states() -> Vec<(&'static str, String, &'static [&'static str])> {
    let hears = Looks::default();
    let own = Looks { own_voice: Some("Margarethe Oberhauser"), ..Looks::default() };
    let german = Looks { german: true, own_voice: Some("Margarethe Oberhauser"), ..Looks::default() };
    let typed = Looks { typed: true, ..Looks::default() };
    let pounds =
        Looks { manner: Manner { unit: Some(TorqueUnit::PoundForceFoot), ..Manner::default() }, ..Looks::default() };
    let pinch = |job: &Job| pending(job, "pinch", 0, is_torque);
    let turned = |job: &Job| pending(job, "pinch", 0, is_angle);
    let outside = |bay: &mut Bay<'_, Conversation>| {
        bay.until(at_step("measure-slot"));
        bay.line("reading 4.1");
        if bay.talk.job().question().is_some() {
            bay.line("yes");
        }
    };
    vec![
        ("begun", job(ARM, &hears, same, |_| ()), &["Front lower arm, left: replace · Tarnfell 15", "Listening"]),
        ("own-voice", job(ARM, &own, same, |bay| bay.until(pinch)), &["with the voice of Margarethe Oberhauser"]),
        ("typed", job(ARM, &typed, same, |bay| bay.until(pinch)), &["Typed commands", "38 N·m"]),
        (
            "warning",
            job(ARM, &hears, same, |bay| {
                bay.until(at_step("jack-under-hub"));
                bay.line("what size");
            }),
            &["signal warning", "Keep fingers out"],
        ),
        (
            "danger",
            job(HEAD, &hears, same, |bay| {
                bay.until(|job| {
                    job.question().is_none()
                        && job.book().steps[job.position()].cautions.iter().any(|c| c.signal == Signal::Danger)
                })
            }),
            &["Keep fire and sparks away"],
        ),
        (
            "long-cautions",
            job(ARM, &own, with_long_cautions, |bay| {
                bay.until(pinch);
                bay.line("what torque");
            }),
            &["Keep fingers out", "sparks far away", "38 N·m"],
        ),
        (
            "torque",
            job(BRAKES, &hears, same, |bay| {
                bay.until(|job| {
                    job.pending().is_some_and(|p| p.rank == 2 && p.items == 5 && p.kind.as_ref().is_some_and(is_torque))
                })
            }),
            &["3 of 5"],
        ),
        ("torque-pounds", job(ARM, &pounds, same, |bay| bay.until(pinch)), &["≈ 28 lbf·ft", "38 N·m"]),
        (
            "pattern",
            job(HEAD, &hears, same, |bay| bay.until(|job| pending(job, "head-bolts", 4, is_torque))),
            &["5 of 10"],
        ),
        ("angle", job(ARM, &hears, same, |bay| bay.until(turned)), &["55..70°"]),
        (
            "interrupted",
            job(ARM, &hears, same, |bay| {
                bay.until(turned);
                bay.order(Order::Pause);
                bay.order(Order::Resume);
                assert!(matches!(bay.talk.job().question(), Some(Question::Angle(_))));
            }),
            &["Question", "Resuming"],
        ),
        (
            "not-certain",
            job(ARM, &hears, same, |bay| {
                bay.until(turned);
                bay.line("not sure");
                bay.line("what size");
            }),
            &["fit a new one"],
        ),
        (
            "measure",
            job(ARM, &hears, same, |bay| bay.until(at_step("measure-slot"))),
            &["Width of the pinch slot", "2.0..3.0 mm"],
        ),
        (
            "outside",
            job(ARM, &hears, same, |bay| {
                outside(bay);
                bay.line("what size");
            }),
            &["4.1 mm, outside the limits", "Replace the hub carrier"],
        ),
        (
            "counted",
            job(GEARBOX, &hears, same, |bay| {
                bay.until(|job| job.question().is_none() && job.pending().is_some_and(|p| p.counted.is_some()))
            }),
            &[],
        ),
        (
            "counted-measure",
            job(GEARBOX, &hears, same, |bay| {
                bay.until(|job| {
                    job.question().is_none()
                        && job.due().iter().any(|say| matches!(say, wrenchside::job::Say::AwaitCounted { .. }))
                })
            }),
            &[],
        ),
        (
            "left-hand-thread",
            job(GEARBOX, &hears, same, |bay| {
                bay.until(|job| {
                let step = &job.book().steps[job.position()];
                job.question().is_none() && step.acts.iter().any(|act| matches!(act, procedure::Act::Fasten { group, deed: procedure::Deed::Remove | procedure::Deed::Slacken, .. } if job.book().fasteners[group.0].left_hand))
            });
                bay.line("what size");
            }),
            &["eft-hand thread"],
        ),
        (
            "hold",
            job(BRAKES, &hears, same, |bay| {
                bay.until(|job| matches!(job.question(), Some(Question::Hold { .. })) && job.position() > 5)
            }),
            &["Question"],
        ),
        (
            "wait",
            job(HEAD, &hears, same, |bay| {
                bay.until(|job| job.question().is_none() && job.book().steps[job.position()].wait_minutes.is_some())
            }),
            &["15 min", "Let the gasket settle"],
        ),
        (
            "waiting-runs",
            job(HEAD, &hears, same, |bay| {
                bay.until(|job| job.book().steps[job.position()].wait_minutes.is_some());
                bay.line("done");
            }),
            &[],
        ),
        (
            "skip-asked",
            job(BRAKES, &hears, same, |bay| {
                bay.until(|job| job.pending().is_some());
                bay.line("skip");
            }),
            &["Question"],
        ),
        (
            "asked-back",
            job(ARM, &hears, same, |bay| {
                bay.until(pinch);
                bay.line("what torque");
                bay.nearly("stage complete");
            }),
            &["Did you say: stage complete?"],
        ),
        (
            "not-understood",
            job(ARM, &hears, same, |bay| {
                bay.until(at_step("jack-under-hub"));
                bay.line("how heavy is it");
            }),
            &["I do not know that"],
        ),
        (
            "help",
            job(ARM, &hears, same, |bay| {
                bay.until(pinch);
                bay.line("help");
            }),
            &["38 N·m", "stage complete · reading ‹number›"],
        ),
        ("lay-out", job(ARM, &hears, same, |bay| bay.line("lay out list")), &[]),
        (
            "all-open",
            job(BRAKES, &hears, same, |bay| {
                bay.until(|job| job.position() > 20 && job.question().is_none());
                bay.line("what is open");
            }),
            &["Open: "],
        ),
        (
            "note",
            job(ARM, &hears, same, |bay| {
                bay.until(pinch);
                let turn = Turn { sentences: vec![bay.talk.language().notice(Notice::NoteBegins)], ..Turn::default() };
                let scene = Scene { noting: true, ..Scene::of(&bay.talk) };
                bay.board.stands(&scene);
                bay.board.turn(&turn, bay.talk.job());
            }),
            &["Recording a note"],
        ),
        (
            "ears-off",
            job(ARM, &own, same, |bay| {
                bay.until(pinch);
                bay.line("stop listening");
            }),
            &["Not listening"],
        ),
        (
            "microphone-gone",
            job(ARM, &own, same, |bay| {
                bay.until(pinch);
                bay.trouble(Notice::MicrophoneLost);
                bay.line("what size");
            }),
            &["Cannot hear you", "The microphone is gone", "38 N·m"],
        ),
        (
            "recogniser-dead",
            job(ARM, &hears, same, |bay| {
                bay.until(at_step("jack-under-hub"));
                bay.trouble(Notice::SecondLost);
                bay.trouble(Notice::HearingLost);
            }),
            &["Cannot hear you", "I cannot hear you at the moment", "I may miss more"],
        ),
        (
            "all-troubles",
            job(ARM, &own, with_long_cautions, |bay| {
                bay.until(pinch);
                for notice in [
                    Notice::SecondLost,
                    Notice::EchoLost,
                    Notice::LoudspeakerLost,
                    Notice::ToolLost,
                    Notice::MicrophoneLost,
                ] {
                    bay.trouble(notice);
                }
            }),
            &["The loudspeaker is gone", "No more readings", "38 N·m", "sparks far away"],
        ),
        (
            "back-again",
            job(ARM, &hears, same, |bay| {
                bay.until(pinch);
                bay.line("what torque");
                bay.trouble(Notice::MicrophoneLost);
                bay.trouble(Notice::MicrophoneBack);
            }),
            &["Listening", "The microphone is back"],
        ),
        (
            "paused",
            job(ARM, &typed, same, |bay| {
                bay.until(pinch);
                bay.order(Order::Pause);
            }),
            &["Paused"],
        ),
        (
            "carry-on",
            job(ARM, &own, same, |bay| {
                bay.until(at_step("jack-under-hub"));
                bay.at += 1;
                let turn = bay.talk.command(Order::Pause, At(bay.at)).unwrap();
                let turn = Talker::wait(&mut bay.talk, &turn).unwrap();
                bay.show(&turn);
            }),
            &["Paused. Say “carry on”"],
        ),
        (
            "carry-on-asked",
            job(ARM, &hears, same, |bay| {
                bay.until(pinch);
                bay.at += 1;
                let turn = bay.talk.command(Order::Pause, At(bay.at)).unwrap();
                let turn = Talker::wait(&mut bay.talk, &turn).unwrap();
                bay.show(&turn);
                bay.nearly("carry on");
            }),
            &["Paused", "Did you say: carry on?"],
        ),
        (
            "german",
            job(BENCH, &german, same, |bay| bay.until(|job| job.question().is_none() && job.pending().is_some())),
            &["Hört zu · mit der Stimme von Margarethe Oberhauser", "N·m"],
        ),
        (
            "german-troubles",
            job(BENCH, &german, with_long_cautions, |bay| {
                bay.until(|job| job.question().is_none() && job.pending().is_some());
                bay.trouble(Notice::SecondLost);
                bay.trouble(Notice::MicrophoneLost);
            }),
            &["Hört nichts"],
        ),
        (
            "german-carry-on",
            job(BENCH, &german, same, |bay| {
                bay.until(|job| job.pending().is_some());
                bay.at += 1;
                let turn = bay.talk.command(Order::Pause, At(bay.at)).unwrap();
                let turn = Talker::wait(&mut bay.talk, &turn).unwrap();
                bay.show(&turn);
            }),
            &["Unterbrochen, wartet auf „weiter geht es“"],
        ),
        (
            "unchecked",
            job(BRAKES, &own, same, |bay| {
                bay.until(|job| job.pending().is_some());
                let scene = Scene { unchecked: true, ..Scene::of(&bay.talk) };
                bay.board.stands(&scene);
                let turn = bay.talk.read("what torque", At(bay.at + 1)).unwrap();
                bay.board.turn(&turn, bay.talk.job());
            }),
            &["Procedure with mistakes"],
        ),
        (
            "closed-open",
            job(ARM, &hears, same, |bay| {
                bay.until(pinch);
                bay.order(Order::Finish);
                // One kind of open points after the other.
                while bay.talk.job().closed().is_none() {
                    assert!(bay.talk.job().question().is_some());
                    bay.order(Order::Yes);
                }
            }),
            &["Closed", "Open: "],
        ),
        (
            "closed",
            job(ARM, &hears, same, |bay| bay.until(|job| job.closed().is_some())),
            &["Closed", "Nothing is open"],
        ),
        ("choosing", choosing(&[]), &["Which job?", "number four"]),
        ("chosen", choosing(&["number two"]), &["Begin Cylinder head"]),
        ("next-job", next_job(), &["Next job", "Open: "]),
        ("strip-begun", strip(&[]), &["Taking apart", "Water pump", "Listening"]),
        (
            "strip",
            strip(&["stand in place", "sill, left", "took out two bolts, thirteen millimetre"]),
            &["2 bolts, 13 mm"],
        ),
    ]
}

/// What is wrong with the page as it is on the screen, in words.
const FAULTS: &str = r##"(() => {
  const faults = [];
  const page = document.getElementById("page");
  const [wide, high] = [innerWidth, innerHeight];
  const named = (e) => e.tagName + "." + e.getAttribute("class") + " “" + e.textContent.trim().slice(0, 40) + "”";
  if (document.documentElement.scrollWidth > wide || page.scrollWidth > page.clientWidth) faults.push("wider than the screen");
  if (page.scrollHeight > page.clientHeight) faults.push("higher than the screen by " + (page.scrollHeight - page.clientHeight));
  const lines = [...document.querySelectorAll("#lost, #page p, #page h2, #page li")].filter((e) => e.getClientRects().length);
  const labels = [...page.querySelectorAll("figure text")].filter((e) => e.getClientRects().length);
  const box = (e) => e.getBoundingClientRect();
  for (const e of [...lines, ...labels]) {
    const b = box(e);
    if (b.left < -1 || b.right > wide + 1 || b.top < -1 || b.bottom > high + 1) faults.push("out of sight: " + named(e));
    const drawn = e.closest("svg") && box(e.closest("svg"));
    if (drawn && (b.left < drawn.left - 1 || b.right > drawn.right + 1 || b.bottom > drawn.bottom + 1)) faults.push("cut: " + named(e));
    if (!drawn && e.scrollWidth > e.clientWidth + 1 && e.clientWidth) faults.push("cut: " + named(e));
    const size = drawn ? b.height / 1.2 : parseFloat(getComputedStyle(e).fontSize);
    if (size < (wide > 1000 ? 10 : 9.5)) faults.push("letters of " + size + ": " + named(e));
  }
  for (const all of [lines, labels]) {
    all.forEach((a, n) => all.slice(n + 1).forEach((b) => {
      if (a.contains(b) || b.contains(a)) return;
      const [p, q] = [box(a), box(b)];
      const [x, y] = [Math.min(p.right, q.right) - Math.max(p.left, q.left), Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top)];
      if (x > 1 && y > 1) faults.push("one over the other: " + named(a) + " and " + named(b));
    }));
  }
  const size = (e) => parseFloat(getComputedStyle(e).fontSize);
  for (const e of page.querySelectorAll(".big.huge, .big.large")) {
    if (size(e) < (wide > 1000 ? 80 : 40)) faults.push("a value of " + size(e) + ": " + named(e));
  }
  for (const e of page.querySelectorAll(".cautions p")) {
    if (size(e) < (wide > 1000 ? 16 : 11)) faults.push("a caution of " + size(e) + ": " + named(e));
  }
  return faults;
})()"##;

#[test]
fn the_page_fits_a_screen_and_a_phone_in_every_state() {
    let states = states();
    let mut faults = Vec::new();
    for (name, markup, holds) in &states {
        let missing = holds.iter().filter(|piece| !markup.contains(**piece));
        faults.extend(missing.map(|piece| format!("{name}: {piece} is missing in {markup}")));
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    if !has(BROWSER, "pictures of the page") {
        return;
    }
    let keep = std::env::var_os("WRENCHSIDE_SCREENSHOTS").map(PathBuf::from);
    let page = watch::Sender::new(String::new());
    let frame = Frame {
        language: "en".into(),
        title: "Wrenchside".into(),
        lost: "NOT UP TO DATE: the connection is lost".into(),
    };
    let server = Server::start("127.0.0.1:0", frame, page.subscribe()).unwrap();
    let mut browser = Browser::open(server.url());
    browser.until("document.readyState === 'complete'");
    let mut look = |browser: &mut Browser, name: &str| {
        for (width, height) in SIZES {
            browser.screen(width, height);
            browser
                .value("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(true))))");
            if let Some(into) = &keep {
                browser.picture(&into.join(format!("{name}-{width}.png")));
            }
            let found = browser.value(FAULTS);
            faults.extend(found.as_array().unwrap().iter().map(|fault| format!("{name} at {width}: {fault}")));
        }
    };
    for (n, (name, markup, _)) in states.iter().enumerate() {
        page.send_replace(format!("{markup}<i id=\"shown-{n}\" hidden></i>"));
        browser.until(&format!("!!document.getElementById('shown-{n}')"));
        look(&mut browser, name);
    }
    let busiest = states.iter().find(|(name, ..)| *name == "long-cautions").unwrap();
    page.send_replace(format!("{}<i id=\"busiest\" hidden></i>", busiest.1));
    browser.until("!!document.getElementById('busiest')");
    drop((page, server));
    browser.until("!document.getElementById('lost').hidden");
    look(&mut browser, "lost");
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// A microphone that brings silence; what happens to it, each after some of that; and then its end.
struct Troubled(Vec<Trouble>);

impl Source for Troubled {
    fn read(&mut self) -> Result<Option<Vec<i16>>, ListenError> {
        Ok((!self.0.is_empty()).then(Vec::new))
    }
    fn is_live(&self) -> bool {
        true
    }
    fn troubles(&mut self) -> Vec<Trouble> {
        self.0.pop().into_iter().collect()
    }
}

/// The page at the end of a session to whose microphone all that happens, the last first.
fn troubled(troubles: Vec<Trouble>) -> String {
    let dir = tempfile::tempdir().unwrap();
    let (text, book) = book(ARM);
    let book = Arc::new(book);
    let folder = Folder::create(dir.path(), &text, &book, At(0)).unwrap();
    let mut talk = Conversation::new(Language::english(), Manner::default(), Job::new(book), folder);
    let first = talk.begin(At(0)).unwrap();
    let (sender, seen) = watch::channel(String::new());
    let mut nobody = Nobody;
    let mut board = Board::new(&mut nobody, Language::english(), Manner::default(), true, sender);
    let input = Input::Sound(Box::new(Ear::new(ears::listener(None))), Box::new(Troubled(troubles)));
    let habits = Habits { headset: true, pause: std::time::Duration::ZERO };
    run(&mut talk, &first, input, Ways::default(), None, habits, &mut board).unwrap();
    let page = seen.borrow().clone();
    // Whatever happens to the sound, what is to be done stays.
    assert!(page.contains("Lay out the tools, the new arm and the new bolts."), "{page}");
    page
}

#[test]
fn a_session_tells_its_page_who_listens_and_what_is_wrong() {
    let lost = || Trouble::lost(Notice::MicrophoneLost, "unplugged".to_owned());
    let page = troubled(vec![lost()]);
    assert!(page.contains("Cannot hear you") && page.contains("The microphone is gone"), "{page}");
    assert!(!page.contains("● Listening") && !page.contains("Listening</p>"), "{page}");
    let page = troubled(vec![Trouble::over(Notice::MicrophoneBack), lost()]);
    assert!(page.contains("Listening</p>") && !page.contains("The microphone is gone"), "{page}");
    let page = troubled(vec![Trouble::lost(Notice::LoudspeakerLost, "unplugged".to_owned())]);
    assert!(page.contains("Listening</p>") && page.contains("The loudspeaker is gone"), "{page}");
}
