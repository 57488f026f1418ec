//! A session in the bay, and the page that it has come to: of a job, of a strip-down, of a choice.

use std::path::Path;
use std::sync::Arc;
use tokio::sync::watch;
use wrenchside::dialogue::{Language, Manner, Notice};
use wrenchside::glance::Board;
use wrenchside::job::{At, Command as Order, Job, Reading, StepState};
use wrenchside::journal::{Folder, StripFolder};
use wrenchside::listen::{Hypothesis, Utterance};
use wrenchside::procedure::{self, Procedure};
use wrenchside::session::{Choice, Conversation, Delivery, Scene, Screen, Shown, StripTalk, Talker, Turn};
use wrenchside::strip::StripLog;
use wrenchside::values::Shelf;

pub const BLEEDING: &str = "procedures/tarnfell-brake-bleeding.toml";
pub const HEAD: &str = "procedures/tarnfell-cylinder-head.toml";
pub const BRAKES: &str = "procedures/tarnfell-front-brakes.toml";
pub const ARM: &str = "procedures/tarnfell-front-lower-arm-left.toml";
pub const BENCH: &str = "tests/data/werkbank-halter.toml";
pub const LASH: &str = "procedures/tarnfell-valve-lash.toml";
pub const GEARBOX: &str = "procedures/tarnfell-angle-gearbox.toml";

pub struct Nobody;

impl Screen for Nobody {
    fn heard(&mut self, _utterance: &Utterance) {}
    fn turn(&mut self, _turn: &Turn, _job: &Shown) {}
    fn notice(&mut self, _text: &str) {}
}

/// Who looks on.
#[derive(Default)]
pub struct Looks {
    pub typed: bool,
    pub own_voice: Option<&'static str>,
    pub manner: Manner,
    pub german: bool,
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
pub struct Bay<'a, T: Talker> {
    pub talk: T,
    pub board: Board<'a>,
    pub at: i64,
}

impl<T: Talker> Bay<'_, T> {
    /// As the session shows a turn.
    pub fn show(&mut self, turn: &Turn) {
        self.board.stands(&Scene::of(&self.talk));
        match self.talk.job() {
            Some(job) => self.board.turn(turn, &Shown::of(job)),
            None => self.board.told(turn),
        }
    }

    pub fn line(&mut self, line: &str) {
        self.at += 60_000;
        let turn = self.talk.read(line, At(self.at)).unwrap();
        self.show(&turn);
    }

    /// As the session tells a trouble.
    pub fn trouble(&mut self, notice: Notice) {
        self.board.trouble(notice);
        let turn = Turn { sentences: vec![self.talk.language().notice(notice)], ..Turn::default() };
        self.show(&turn);
    }
}

impl Bay<'_, Conversation> {
    pub fn order(&mut self, order: Order) {
        self.at += 60_000;
        let turn = self.talk.command(order, At(self.at)).unwrap();
        self.show(&turn);
    }

    /// Does what is asked for until `stop`.
    #[track_caller]
    pub fn until(&mut self, stop: impl Fn(&Job) -> bool) {
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
    pub fn nearly(&mut self, phrase: &str) {
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

pub fn book(procedure: &str) -> (String, Procedure) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(procedure);
    let whole = procedure::open(&path).unwrap();
    (whole.text().to_owned(), whole.procedure().unwrap())
}

/// The page of a job once `script` has been gone through.
pub fn job(
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

pub fn page<T: Talker>(talk: T, looks: &Looks, at: i64, script: impl FnOnce(&mut Bay<'_, T>)) -> String {
    let (sender, seen) = watch::channel(String::new());
    let mut nobody = Nobody;
    let board = Board::new(&mut nobody, looks.language(), looks.manner, !looks.typed, sender);
    let mut bay = Bay { talk, board: board.own_voice(looks.own_voice.map(str::to_owned)), at };
    script(&mut bay);
    seen.borrow().clone()
}

/// The page while something is taken apart.
pub fn strip(lines: &[&str]) -> String {
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

pub fn titles() -> Vec<String> {
    [ARM, HEAD, BRAKES, GEARBOX].map(|procedure| book(procedure).1.title).to_vec()
}

pub fn choosing(lines: &[&str]) -> String {
    let mut talk = Choice::new(Language::english(), Delivery::default(), titles(), Box::new(|_, _, _| unreachable!()));
    let first = talk.first();
    page(talk, &Looks::default(), 1_000, |bay| {
        bay.show(&first);
        lines.iter().for_each(|line| bay.line(line));
    })
}

/// The choice behind a job that was closed with open points.
pub fn next_job() -> String {
    let dir = tempfile::tempdir().unwrap();
    let (text, book) = book(ARM);
    let book = Arc::new(book);
    let folder = Folder::create(dir.path(), &text, &book, At(0)).unwrap();
    let mut talk = Conversation::new(Language::english(), Manner::default(), Job::new(book), folder);
    let first = talk.begin(At(0)).unwrap();
    let talk = Choice::after(talk, titles(), Box::new(|_, _, _| unreachable!()));
    page(talk, &Looks::default(), 1_000, |bay| {
        bay.show(&first);
        bay.line("finish the job");
        while !bay.talk.is_choosing() {
            assert!(bay.talk.job().is_some_and(|job| job.question().is_some()));
            bay.line("yes");
        }
    })
}
