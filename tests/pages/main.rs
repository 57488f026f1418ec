//! The page for the bay in every state, on a screen and on a phone: nothing is overprinted, cut or too small, and every caution
//! that holds is in sight.
//!
//! The pictures need a browser (Debian: `chromium`); where there is none these tests say so loudly and pass.
//! `WRENCHSIDE_SCREENSHOTS=DIR` keeps a picture of each state.

mod bay;
#[path = "../common/browser.rs"]
mod browser;
#[path = "../common/ears.rs"]
mod ears;
mod states;

use bay::{ARM, Nobody, book};
use browser::{BROWSER, Browser, has};
use states::states;
use std::path::PathBuf;
use std::sync::Arc;
use tokio::sync::watch;
use wrenchside::dialogue::{Language, Manner, Notice};
use wrenchside::glance::{Board, Frame, Server};
use wrenchside::job::{At, Job};
use wrenchside::journal::Folder;
use wrenchside::listen::ListenError;
use wrenchside::session::live::Input;
use wrenchside::session::{Conversation, Ear, Habits, Source, Trouble, Ways, run};

/// A screen in the bay and a phone.
const SIZES: [(u32, u32); 2] = [(1280, 800), (390, 844)];

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
    let server = Server::start("127.0.0.1:0", frame, page.subscribe(), |_| ()).unwrap();
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
    assert!(page.contains("Cannot hear you") && page.contains("No microphone"), "{page}");
    assert!(!page.contains("● Listening") && !page.contains("Listening</p>"), "{page}");
    let page = troubled(vec![Trouble::over(Notice::MicrophoneBack), lost()]);
    assert!(page.contains("Listening</p>") && !page.contains("No microphone"), "{page}");
    let page = troubled(vec![Trouble::lost(Notice::LoudspeakerLost, "unplugged".to_owned())]);
    assert!(page.contains("Listening</p>") && page.contains("No loudspeaker"), "{page}");
}
