//! What a replay found, for people (a table) and for machines (JSON).

use serde::Serialize;
use std::fmt::Write;

/// What one scenario gave.
#[derive(Debug, Clone, Serialize)]
pub struct Report {
    /// Its title.
    pub title: String,
    /// One entry a turn.
    pub turns: Vec<TurnReport>,
    /// Times from the end of speech to the first sample of the answer, in milliseconds, sorted. They differ from run to
    /// run; nothing else does.
    pub answer_ms: Vec<f64>,
}

/// What one turn gave.
#[derive(Debug, Clone, Serialize)]
pub struct TurnReport {
    /// What was given, in words.
    pub given: String,
    /// Phrases accepted.
    pub heard: Vec<String>,
    /// Speech that was not accepted, as the recogniser had it.
    pub rejected: Vec<String>,
    /// Lowest confidence of the recogniser, 0 to 1, for each stretch of speech.
    pub confidence: Vec<f32>,
    /// What the second listener thought of each stretch of speech: average log probability a token.
    pub judged: Vec<f32>,
    /// What was said, as written in the terminal.
    pub said: Vec<String>,
    /// How many names of it are the user's own recordings.
    pub recordings: usize,
    /// What differs from the scenario; empty if nothing does.
    pub differences: Vec<String>,
    /// Times. They differ from run to run.
    pub times: Times,
}

/// How long a turn took.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Times {
    /// From the last sample of speech to the decision, in milliseconds of sound.
    pub endpoint_ms: Option<f64>,
    /// Computing from there to the first sample of the answer, in milliseconds of the clock.
    pub computing_ms: Option<f64>,
    /// From the decision to the first sample of speech, not of a tone, in milliseconds of the clock.
    pub speech_ms: Option<f64>,
    /// Whether the first clause was foreseen, and made before.
    pub foreseen: Option<bool>,
}

impl Report {
    /// Turns that differ from the scenario.
    pub fn failures(&self) -> usize {
        self.turns.iter().filter(|t| !t.differences.is_empty()).count()
    }

    /// The time that a share `p` (0 to 1) of the answers stayed within; `None` without answers.
    pub fn percentile(&self, p: f64) -> Option<f64> {
        percentile(&self.answer_ms, p)
    }

    /// Times from the decision to the first sample of speech, sorted: of foreseen answers, or of the others.
    pub fn speech_ms(&self, foreseen: bool) -> Vec<f64> {
        let of_kind = self.turns.iter().filter(|t| t.times.foreseen == Some(foreseen));
        let mut times: Vec<f64> = of_kind.filter_map(|t| t.times.speech_ms).collect();
        times.sort_by(f64::total_cmp);
        times
    }

    /// The table.
    pub fn table(&self) -> String {
        let mut text = format!("{}\n", self.title);
        let given = self.turns.iter().map(|t| t.given.chars().count()).max().unwrap_or(0).clamp(5, 44);
        let _ = writeln!(text, "  {:>3}  {:given$}  {:28}  {:>5}  {:>7}  ", "", "given", "heard", "score", "answer");
        for (i, turn) in self.turns.iter().enumerate() {
            let heard = if turn.heard.is_empty() { "-".to_owned() } else { turn.heard.join(" | ") };
            let score = turn.confidence.first().map_or(String::new(), |c| format!("{c:.2}"));
            let ms = match (turn.times.endpoint_ms, turn.times.computing_ms) {
                (Some(a), Some(b)) => format!("{:.0} ms", a + b),
                _ => String::new(),
            };
            let verdict = if turn.differences.is_empty() { "ok" } else { "DIFFERS" };
            let given_text: String = turn.given.chars().take(given).collect();
            let _ = writeln!(text, "  {:>3}  {given_text:given$}  {heard:28}  {score:>5}  {ms:>7}  {verdict}", i + 1);
            for difference in &turn.differences {
                let _ = writeln!(text, "       {difference}");
            }
        }
        let failures = self.failures();
        let _ = write!(
            text,
            "  {} turns, {} as expected, {failures} different",
            self.turns.len(),
            self.turns.len() - failures
        );
        if let (Some(p50), Some(p95)) = (self.percentile(0.5), self.percentile(0.95)) {
            let n = self.answer_ms.len();
            let _ = write!(
                text,
                "; end of speech to first sample of the answer: p50 {p50:.0} ms, p95 {p95:.0} ms (n = {n})"
            );
        }
        for (kind, foreseen) in [("foreseen", true), ("not foreseen", false)] {
            let times = self.speech_ms(foreseen);
            if let (Some(p50), Some(p95)) = (percentile(&times, 0.5), percentile(&times, 0.95)) {
                let n = times.len();
                let _ = write!(
                    text,
                    "\n  decision to first sample of speech, {kind}: p50 {p50:.0} ms, p95 {p95:.0} ms (n = {n})"
                );
            }
        }
        text.push('\n');
        text
    }
}

/// The value that a share `p` (0 to 1) of these, which are sorted, stays within: the nearest rank.
pub fn percentile(sorted: &[f64], p: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let rank = (p * sorted.len() as f64).ceil() as usize;
    sorted.get(rank.saturating_sub(1).min(last)).copied()
}
