//! A browser that can be asked what it shows, and for pictures of it.
#![allow(dead_code)] // Each test file uses a part of it.

use base64::Engine;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Is there such a program? Says loudly what is left out if not.
pub fn has(program: &str, what: &str) -> bool {
    let there = Command::new(program).arg("--version").stdout(Stdio::null()).stderr(Stdio::null()).status().is_ok();
    if !there {
        eprintln!("SKIPPED: {what}: there is no {program} on this machine; scripts/test installs it where it can");
    }
    there
}

pub const BROWSER: &str = "chromium";

/// A browser that does one thing and ends.
pub fn browser(url: &str, args: &[&str]) -> Command {
    let mut command = Command::new(BROWSER);
    command
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--disable-dev-shm-usage"])
        .args(["--no-first-run", "--disable-background-networking"])
        .args(args)
        .arg(url)
        .stdin(Stdio::null())
        .stderr(Stdio::null());
    command
}

/// A browser that can be asked what it shows, through two pipes (its third and fourth file).
pub struct Browser {
    child: Child,
    to: fs::File,
    from: BufReader<fs::File>,
    session: String,
    asked: u64,
    _dir: tempfile::TempDir,
}

impl Browser {
    pub fn open(url: &str) -> Browser {
        let dir = tempfile::tempdir().unwrap();
        let (to, from) = (dir.path().join("to"), dir.path().join("from"));
        assert!(Command::new("mkfifo").args([&to, &from]).status().unwrap().success());
        let child = Command::new("bash")
            .args(["-c", r#"exec "$0" --headless --no-sandbox --disable-gpu --disable-dev-shm-usage --no-first-run --disable-background-networking --remote-debugging-pipe "--user-data-dir=$1" "$2" 3<"$3" 4>"$4""#])
            .arg(BROWSER)
            .arg(dir.path().join("profile"))
            .arg(url)
            .args([&to, &from])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let to = fs::OpenOptions::new().write(true).open(to).unwrap();
        let from = BufReader::new(fs::File::open(from).unwrap());
        let mut browser = Browser { child, to, from, session: String::new(), asked: 0, _dir: dir };
        for _ in 0..100 {
            let targets = browser.ask("Target.getTargets", serde_json::json!({}));
            let page = targets["targetInfos"].as_array().unwrap().iter().find(|t| t["type"] == "page").cloned();
            if let Some(page) = page {
                let params = serde_json::json!({ "targetId": page["targetId"], "flatten": true });
                let attached = browser.ask("Target.attachToTarget", params);
                browser.session = attached["sessionId"].as_str().unwrap().to_owned();
                return browser;
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        panic!("the browser opened no page");
    }

    /// Messages end with a zero byte.
    pub fn ask(&mut self, method: &str, params: serde_json::Value) -> serde_json::Value {
        self.asked += 1;
        let mut message = serde_json::json!({ "id": self.asked, "method": method, "params": params });
        if !self.session.is_empty() {
            message["sessionId"] = self.session.clone().into();
        }
        self.to.write_all(format!("{message}\0").as_bytes()).unwrap();
        loop {
            let mut answer = Vec::new();
            assert!(self.from.read_until(0, &mut answer).unwrap() > 0, "the browser is gone");
            answer.pop();
            let answer: serde_json::Value = serde_json::from_slice(&answer).unwrap();
            if answer["id"] == self.asked {
                return answer["result"].clone();
            }
        }
    }

    /// Waits until an expression is true on the page.
    pub fn until(&mut self, expression: &str) {
        for _ in 0..100 {
            let params = serde_json::json!({ "expression": expression, "returnByValue": true });
            if self.ask("Runtime.evaluate", params)["result"]["value"] == true {
                return;
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        let params = serde_json::json!({ "expression": "document.body.innerText", "returnByValue": true });
        panic!("{expression} never came true on: {}", self.ask("Runtime.evaluate", params)["result"]["value"]);
    }

    /// What an expression is on the page.
    pub fn value(&mut self, expression: &str) -> serde_json::Value {
        let params = serde_json::json!({ "expression": expression, "returnByValue": true, "awaitPromise": true });
        let answer = self.ask("Runtime.evaluate", params);
        assert!(answer["exceptionDetails"].is_null(), "{expression}: {answer}");
        answer["result"]["value"].clone()
    }

    /// Gives the page a screen of this size.
    pub fn screen(&mut self, width: u32, height: u32) {
        let params = serde_json::json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        self.ask("Emulation.setDeviceMetricsOverride", params);
    }

    /// A picture of what is on the screen.
    pub fn picture(&mut self, into: &Path) {
        let taken = self.ask("Page.captureScreenshot", serde_json::json!({ "format": "png" }));
        let data = taken["data"].as_str().unwrap();
        fs::write(into, base64::engine::general_purpose::STANDARD.decode(data).unwrap()).unwrap();
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
