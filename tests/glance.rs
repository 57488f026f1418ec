//! The page for the bay, from outside: what it shows, that it follows, who may see it, and how it looks.
//!
//! The last part needs a browser (Debian: `chromium`), and one needs `strace`; `scripts/test` installs both where it can.
//! Where they are not, those tests say so loudly and pass.

#[path = "common/browser.rs"]
mod browser;

use browser::{BROWSER, Browser, browser, has};
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::Arc;
use std::time::Duration;
use wrenchside::job::{At, Command as Order, Job, Reading};
use wrenchside::journal::Folder;
use wrenchside::procedure::{self, StageKind};

const HEAD: &str = "procedures/tarnfell-cylinder-head.toml";
const BRAKES: &str = "procedures/tarnfell-front-brakes.toml";
const ARM: &str = "procedures/tarnfell-front-lower-arm-left.toml";

/// Begins a job and does what is asked for until `stop`; gives its folder.
fn job_until(jobs: &Path, procedure: &str, stop: impl Fn(&Job) -> bool) -> PathBuf {
    let whole = procedure::open(procedure.as_ref()).unwrap();
    let (text, book) = (whole.text(), Arc::new(whole.procedure().unwrap()));
    let mut at = 1_767_600_000_000;
    let mut folder = Folder::create(jobs, text, &book, At(at)).unwrap();
    let mut job = Job::new(book);
    let mut order = Order::Open;
    for _ in 0..2000 {
        if job.apply(order.clone(), At(at)).recorded {
            folder.append(&order, At(at), &job).unwrap();
        }
        if stop(&job) {
            return folder.path().to_owned();
        }
        at += 60_000;
        let expects = job.expects();
        order = if expects.angle {
            Order::Finished
        } else if expects.yes_no {
            Order::Yes
        } else if let (Some(value), None) = (expects.reading, job.pending()) {
            Order::Reading(Reading { amount: value.amount(), unit: None })
        } else {
            Order::Done
        };
    }
    panic!("{procedure}: the job never came there");
}

/// Is the stage pending of this group a torque one, with this rank and stage?
fn at_stage(job: &Job, group: &str, rank: usize, stage: usize) -> bool {
    job.question().is_none()
        && job.pending().is_some_and(|p| {
            (job.book().fasteners[p.group.0].id.as_str(), p.rank, p.stage) == (group, rank, stage)
                && matches!(p.kind, Some(StageKind::Torque(_)))
        })
}

/// A session on a job, with its page.
struct Bay {
    child: Child,
    input: Option<ChildStdin>,
    address: String,
    _dir: tempfile::TempDir,
}

impl Bay {
    fn open(procedure: &str, glance: &str, stop: impl Fn(&Job) -> bool) -> Bay {
        let dir = tempfile::tempdir().unwrap();
        let job = job_until(dir.path(), procedure, stop);
        let job = job.to_str().unwrap();
        Bay::of(dir, &["resume", "--typed", glance, job])
    }

    /// The program as it was called.
    fn of(dir: tempfile::TempDir, arguments: &[&str]) -> Bay {
        let mut child = Command::new(env!("CARGO_BIN_EXE_wrenchside"))
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .env("XDG_CONFIG_HOME", "/nonexistent")
            .args(["--toolbox", "docs/toolbox.toml"])
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let input = child.stdin.take();
        let mut output = BufReader::new(child.stdout.take().unwrap());
        let mut line = String::new();
        while !line.contains("Page for the bay: ") {
            line.clear();
            assert!(output.read_line(&mut line).unwrap() > 0, "no page");
        }
        let address = line.trim().rsplit_once("http://").unwrap().1.to_owned();
        std::thread::spawn(move || std::io::copy(&mut output, &mut std::io::sink()));
        Bay { child, input, address, _dir: dir }
    }

    fn say(&mut self, line: &str) {
        writeln!(self.input.as_mut().unwrap(), "{line}").unwrap();
    }

    fn host(&self) -> &str {
        self.address.split('/').next().unwrap()
    }

    /// What a request gets within a second.
    fn get(&self, path: &str) -> String {
        let mut stream = TcpStream::connect(self.host()).unwrap();
        stream.set_read_timeout(Some(Duration::from_millis(900))).unwrap();
        write!(stream, "GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", self.host()).unwrap();
        let mut answer = Vec::new();
        let mut piece = [0; 8192];
        while let Ok(n @ 1..) = stream.read(&mut piece) {
            answer.extend_from_slice(&piece[..n]);
        }
        String::from_utf8_lossy(&answer).into_owned()
    }

    /// The page once it shows this.
    fn until(&self, wanted: &str) -> String {
        for _ in 0..50 {
            let page = self.get("/");
            if page.contains(wanted) {
                return page;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        panic!("{wanted} is missing in {}", self.get("/"));
    }
}

impl Drop for Bay {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn the_page_shows_step_value_picture_open_points_and_follows() {
    let mut bay = Bay::open(ARM, "--glance=127.0.0.1:0", |job| at_stage(job, "pinch", 0, 0));
    let page = bay.until("38 N·m");
    for piece in [
        "Step 24 of 36",
        "Pinch bolt, hub carrier",
        "Stage 1 of 2",
        "<svg",
        "Open: ",
        "Typed commands",
        "5 left wheel bolts: out",
    ] {
        assert!(page.contains(piece), "{piece} is missing in {page}");
    }
    assert!(page.contains("Take the big wrench; set 28 lbf·ft"), "{page}");
    bay.say("done");
    // The next stage, in degrees; the old value is gone.
    let page = bay.until("55..70°");
    assert!(page.contains("Turn a further") && !page.contains("38 N·m"), "{page}");
    // Opened late: the stream begins with what there is now.
    let events = bay.get("/events");
    assert!(events.contains("data: ") && events.contains("55..70°"), "{events}");
    bay.say("not sure");
    assert!(bay.until("not certain").contains("fit a new one"));
    bay.say("pause");
    bay.input = None;
    bay.child.wait().unwrap();
    assert!(TcpStream::connect(bay.host()).is_err());
}

/// A strip-down is shown as it is told, and behind its turning point the rebuild.
#[test]
fn the_page_shows_a_strip_down_and_its_rebuild() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs").display().to_string();
    let mut bay = Bay::of(dir, &["--jobs", &jobs, "strip", "Water pump", "--typed", "--glance=127.0.0.1:0"]);
    let page = bay.until("Water pump");
    assert!(!page.contains("2 bolts"), "{page}");
    for line in
        ["on its wheels", "took out two bolts 13 mm", "no name", "that is everything", "yes", "later", "no", "yes"]
    {
        bay.say(line);
    }
    for line in ["done", "done"] {
        bay.say(line);
    }
    let page = bay.until("the value was left for later");
    assert!(page.contains("Step 4 of 4"), "{page}");
    bay.say("25 Nm, 7-1");
    bay.until("Is that right?");
    bay.say("yes");
    bay.until("25 N·m");
}

#[test]
fn an_address_that_cannot_be_used_leaves_no_job() {
    let dir = tempfile::tempdir().unwrap();
    let jobs = dir.path().join("jobs");
    let output = Command::new(env!("CARGO_BIN_EXE_wrenchside"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("--jobs")
        .arg(&jobs)
        .args(["start", ARM, "--typed", "--glance=the-bay"])
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2), "{}", String::from_utf8_lossy(&output.stderr));
    let held = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_wrenchside"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .arg("--jobs")
        .arg(&jobs)
        .args(["start", ARM, "--typed"])
        .arg(format!("--glance={}", held.local_addr().unwrap()))
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(!jobs.exists());
}

#[test]
fn without_a_page_no_session_opens_an_internet_socket_and_with_one_it_calls_nobody() {
    if !has("strace", "whether a session reaches for the network") {
        return;
    }
    let dir = tempfile::tempdir().unwrap();
    for (n, glance) in [None, Some("--glance=127.0.0.1:0")].into_iter().enumerate() {
        let trace = dir.path().join(format!("trace-{n}"));
        let mut child = Command::new("strace")
            .args(["-f", "-e", "trace=network", "-o"])
            .arg(&trace)
            .arg(env!("CARGO_BIN_EXE_wrenchside"))
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .arg("--jobs")
            .arg(dir.path().join(format!("jobs-{n}")))
            .args(["start", ARM, "--typed"])
            .args(glance)
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .spawn()
            .unwrap();
        child
            .stdin
            .take()
            .unwrap()
            .write_all(b"done\nyes\nwhat size\nparts list\nnote the boot is torn\npause\n")
            .unwrap();
        assert!(child.wait().unwrap().success());
        let calls = fs::read_to_string(&trace).unwrap();
        assert!(calls.contains("exited with 0"), "{calls}");
        let internet = |line: &&str| line.contains("AF_INET");
        match glance {
            None => assert_eq!(calls.lines().filter(internet).count(), 0, "{calls}"),
            Some(_) => {
                assert!(calls.lines().filter(internet).any(|l| l.contains("bind(")), "{calls}");
                let calling = |line: &&str| internet(line) && (line.contains("connect(") || line.contains("sendto("));
                assert_eq!(calls.lines().filter(calling).count(), 0, "{calls}");
            }
        }
    }
}

#[test]
fn a_browser_that_is_open_follows_the_job_and_tells_when_it_cannot() {
    if !has(BROWSER, "the page in a browser") {
        return;
    }
    let mut bay = Bay::open(ARM, "--glance=127.0.0.1:0", |job| at_stage(job, "pinch", 0, 0));
    bay.until("38 N·m");
    let mut browser = Browser::open(&format!("http://{}", bay.address));
    let shows = |text: &str| format!("document.getElementById('page').innerText.includes('{text}')");
    let lost = "!document.getElementById('lost').hidden";
    browser.until(&shows("38 N·m"));
    bay.say("done");
    browser.until(&shows("55..70°"));
    browser.until(&format!("!({}) && !({lost})", shows("38 N·m")));
    // Nothing is cut off at the side.
    browser.until("document.documentElement.scrollWidth <= window.innerWidth");
    bay.say("pause");
    browser.until(&shows("Pause the job?"));
    bay.say("yes");
    browser.until(&shows("Paused"));
    bay.input = None;
    bay.child.wait().unwrap();
    browser.until(lost);
}

#[test]
fn the_page_fits_a_screen_in_every_procedure() {
    if !has(BROWSER, "pictures of the page") {
        return;
    }
    let keep = std::env::var_os("WRENCHSIDE_SCREENSHOTS").map(PathBuf::from);
    let dir = tempfile::tempdir().unwrap();
    let into = keep.unwrap_or_else(|| dir.path().to_owned());
    type Stop = fn(&Job) -> bool;
    let places: [(&str, &str, Stop); 3] = [
        (ARM, "lower-arm", |job| at_stage(job, "pinch", 0, 0)),
        (HEAD, "cylinder-head", |job| at_stage(job, "head-bolts", 4, 1)),
        (BRAKES, "front-brakes", |job| {
            job.pending().is_some_and(|p| p.rank == 2 && p.items == 5 && matches!(p.kind, Some(StageKind::Torque(_))))
        }),
    ];
    for (procedure, name, stop) in places {
        let bay = Bay::open(procedure, "--glance=127.0.0.1:0", stop);
        bay.until("N·m");
        let url = format!("http://{}", bay.address);
        // Nothing of what was said is cut off, and the value stays on its line.
        let mut page = Browser::open(&url);
        page.until("document.querySelector('.said').scrollHeight <= document.querySelector('.said').clientHeight + 1");
        page.until("document.querySelector('.work').scrollHeight <= document.querySelector('.work').clientHeight + 1");
        page.until("document.querySelector('.big').scrollWidth <= document.querySelector('.big').clientWidth + 1");
        drop(page);
        let picture = into.join(format!("glance-{name}.png"));
        let profile = format!("--user-data-dir={}", dir.path().join(name).display());
        let shot = format!("--screenshot={}", picture.display());
        let done =
            browser(&url, &[&profile, "--timeout=3000", "--window-size=960,600", &shot]).stdout(Stdio::null()).status();
        assert!(done.unwrap().success());
        let png = fs::read(&picture).unwrap();
        let size = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().unwrap());
        assert_eq!((size(16), size(20)), (960, 600));
        // An empty page is a few kilobytes of one colour.
        assert!(png.len() > 15_000, "{name}: {} bytes", png.len());
    }
}

/// WCAG 2.2, relative luminance and contrast ratio.
fn contrast(a: &str, b: &str) -> f64 {
    let luminance = |colour: &str| {
        let part = |at: usize| {
            let c = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
    };
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn every_pair_of_colours_has_the_contrast_of_wcag_aa() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 0.01);
    let css = include_str!("../src/glance/glance.css");
    let colour = |name: &str| {
        let at = css.find(&format!("--{name}: #")).unwrap_or_else(|| panic!("--{name}"));
        css[at..].split([' ', ';']).nth(1).unwrap().to_owned()
    };
    for (text, on) in
        [("ink", "paper"), ("quiet", "paper"), ("hand", "paper"), ("paper", "ink"), ("ink", "warn"), ("light", "alarm")]
    {
        let ratio = contrast(&colour(text), &colour(on));
        assert!(ratio >= 4.5, "{text} on {on}: {ratio:.1}");
    }
    // No colour is used that is not in the list.
    let names = css.split("var(--").skip(1).map(|rest| rest.split([')', ',']).next().unwrap());
    let used: Vec<&str> = names.filter(|name| !["unit", "fit", "news"].contains(name)).collect();
    assert!(used.iter().all(|u| css.contains(&format!("--{u}: #"))), "{used:?}");
    assert_eq!(css.matches('#').count() - css.matches("#lost").count() - css.matches("#page").count(), 8);
}
