//! No text, however broken, makes the loader, the checker or the drafting panic; and whatever the loader lets through
//! keeps the promises of the model.

use proptest::prelude::*;
use wrenchside::procedure::{self, Act, Cause, Deed, Procedure};

const SEEDS: [&str; 4] = [
    include_str!("../fuzz/seeds/procedure/tarnfell-front-lower-arm-left.toml"),
    include_str!("../fuzz/seeds/procedure/tarnfell-front-brakes.toml"),
    include_str!("../fuzz/seeds/procedure/tarnfell-cylinder-head.toml"),
    include_str!("../fuzz/seeds/procedure/tarnfell-brake-bleeding.toml"),
];

/// Bits of procedures that are apt to meet each other wrongly.
const BITS: [&str; 30] = [
    "\"",
    "'",
    "[",
    "]",
    "{",
    "}",
    "=",
    "\n",
    ",",
    "[[step]]\n",
    "[[fastener]]\n",
    "id = \"arm\"\n",
    "items = []",
    "places = []",
    "through = 99",
    "torque = \"1..2 N·m\"",
    "\"0 N·m\"",
    "-1",
    "\"±\"",
    "mirrors = \"wheel-off\"\n",
    "pattern = \"spiral\"\n",
    "stages = []\n",
    "count = 0\n",
    "for_each = [\"left\", \"right\"]\n",
    "up_to = \"refill\"\n",
    "{place}",
    "until = \"Is it so?\"\n",
    "again_from = \"open\"\n",
    "at_most = 2\notherwise = \"Stop.\"\n",
    "é",
];

#[derive(Debug, Clone)]
enum Edit {
    Delete(usize, usize),
    Insert(usize, usize),
    Copy(usize, usize, usize),
    DropLine(usize),
    SwapLines(usize, usize),
}

fn edit() -> impl Strategy<Value = Edit> {
    let at = any::<usize>;
    prop_oneof![
        (at(), 1usize..40).prop_map(|(a, n)| Edit::Delete(a, n)),
        (at(), 0..BITS.len()).prop_map(|(a, b)| Edit::Insert(a, b)),
        (at(), at(), 1usize..60).prop_map(|(a, b, n)| Edit::Copy(a, b, n)),
        at().prop_map(Edit::DropLine),
        (at(), at()).prop_map(|(a, b)| Edit::SwapLines(a, b)),
    ]
}

fn apply(text: &str, edit: &Edit) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut lines: Vec<&str> = text.lines().collect();
    let at = |n: usize, len: usize| if len == 0 { 0 } else { n % len };
    match *edit {
        Edit::Delete(a, n) => {
            let a = at(a, chars.len());
            chars.iter().take(a).chain(chars.iter().skip(a + n)).collect()
        }
        Edit::Insert(a, b) => {
            let a = at(a, chars.len());
            chars.iter().take(a).copied().chain(BITS[b].chars()).chain(chars.iter().skip(a).copied()).collect()
        }
        Edit::Copy(a, b, n) => {
            let (a, b) = (at(a, chars.len()), at(b, chars.len()));
            let piece = chars.iter().skip(a).take(n);
            chars.iter().take(b).chain(piece).chain(chars.iter().skip(b)).collect()
        }
        Edit::DropLine(a) => {
            if !lines.is_empty() {
                lines.remove(at(a, lines.len()));
            }
            lines.join("\n")
        }
        Edit::SwapLines(a, b) => {
            let (a, b) = (at(a, lines.len()), at(b, lines.len()));
            if !lines.is_empty() {
                lines.swap(a, b);
            }
            lines.join("\n")
        }
    }
}

/// Everything that indexes into a procedure may do so.
fn promises(p: &Procedure) {
    assert!(!p.steps.is_empty());
    for f in &p.fasteners {
        assert!(!f.places.is_empty() && !f.finish.is_empty());
        let mut order = f.order.clone();
        order.sort_unstable();
        assert!(order.into_iter().eq(0..f.places.len()), "{}", f.id);
        for k in 0..f.finish.len() {
            if let Some(needs) = f.finish.stage(k).and_then(|s| s.needs) {
                assert!(needs.0 < p.conditions.len());
            }
        }
        assert!(f.tool.is_none_or(|t| t.0 < p.tools.len()));
    }
    assert!(p.parts.iter().all(|x| x.count > 0 && x.renews.is_none_or(|f| f.0 < p.fasteners.len())));
    assert!(p.components.iter().all(|c| c.part.is_none_or(|x| x.0 < p.parts.len())));
    for s in &p.standing {
        match s.cause {
            Cause::Placed(ix) => assert!(ix.0 < p.supports.len()),
            Cause::Hung(ix) | Cause::Off(ix) => assert!(ix.0 < p.components.len()),
            Cause::Open(ix) => assert!(ix.0 < p.connections.len()),
            Cause::In(ix) => assert!(ix.0 < p.conditions.len()),
        }
    }
    for (ix, step) in p.steps.iter().enumerate() {
        assert!(step.needs.is_none_or(|c| c.0 < p.conditions.len()));
        if let Some(until) = &step.until {
            let round = p.steps.get(until.from..=ix).expect("a round ends with its own step");
            assert!(round.iter().filter(|s| s.until.is_some()).count() == 1 && round[0].phase == step.phase);
            assert!(until.at_most.is_none() == until.otherwise.is_none());
        }
        for act in &step.acts {
            match act {
                Act::Place(ix) | Act::TakeAway(ix) => assert!(ix.0 < p.supports.len()),
                Act::Reach(ix) | Act::Leave(ix) => assert!(ix.0 < p.conditions.len()),
                Act::TakeOff(ix) | Act::Hang(ix) | Act::PutOn(ix) => {
                    assert!(ix.0 < p.components.len())
                }
                Act::Disconnect(ix) | Act::Connect(ix) => assert!(ix.0 < p.connections.len()),
                Act::Fasten { group, items, deed } => {
                    let f = &p.fasteners[group.0];
                    assert!(!items.is_empty());
                    let set: std::collections::BTreeSet<_> = items.iter().collect();
                    assert!(set.len() == items.len() && items.iter().all(|i| *i < f.places.len()));
                    if let Deed::Tighten(Some(k)) = deed {
                        assert!((1..=f.finish.len()).contains(k));
                    }
                }
                Act::Measure(m) => {
                    let bounds = [&m.limits.least, &m.limits.most];
                    assert!(bounds.iter().any(|b| b.is_some()));
                    if let (Some(least), Some(most)) = (&m.limits.least, &m.limits.most) {
                        assert!(least.unit() == most.unit() && least <= most);
                    }
                }
                Act::Clean(text) | Act::Apply(text) => assert!(!text.is_empty()),
            }
        }
    }
}

/// Looks at one text in every way there is.
fn look(text: &str) {
    let report = procedure::check("mutant", text);
    for f in &report.findings {
        assert!(f.span.start <= f.span.end && f.span.end <= text.len() && text.get(f.span.clone()).is_some(), "{f:?}");
    }
    let _ = (report.to_string(), report.to_json());
    match procedure::parse("mutant", text) {
        Ok(p) => promises(&p),
        Err(report) => assert!(!report.findings.is_empty()),
    }
    let end = text.find("phase = \"inspect\"").and_then(|at| text[..at].rfind("[[step]]")).unwrap_or(text.len());
    let _ = procedure::draft_rebuild("mutant", &text[..end]);
}

proptest! {
    #![proptest_config(ProptestConfig { max_shrink_iters: 200, ..ProptestConfig::default() })]

    #[test]
    fn no_mutant_of_a_procedure_makes_anything_panic(
        seed in 0..SEEDS.len(),
        edits in proptest::collection::vec(edit(), 1..6),
    ) {
        let mut text = SEEDS[seed].to_owned();
        for edit in &edits {
            text = apply(&text, edit);
        }
        look(&text);
    }

    #[test]
    fn no_text_makes_anything_panic(text in "\\PC{0,200}") {
        look(&text);
    }
}

/// A file with one mistake thousands of times over is answered while its author still waits for it: what is said about
/// each mistake must not take a walk over the whole file.
#[test]
fn thousands_of_mistakes_are_told_in_moments() {
    let (head, _) = SEEDS[0].split_once("[[step]]").expect("it has steps");
    let step = |n| {
        format!("[[step]]\nid = \"step-{n}\"\nphase = \"rebuild\"\nsay = \"Lay it out.\"\nmirrors = \"nothing-{n}\"\n")
    };
    let text = format!("{head}{}", (0..10_000).map(step).collect::<String>());
    let began = std::time::Instant::now();
    let report = procedure::check("many", &text);
    assert!(report.errors() >= 10_000);
    let last = report.findings.last().expect("there are many");
    assert_eq!(report.position(last.span.start).0, text.lines().count());
    assert!(report.to_string().len() > 100_000 && report.to_json()["errors"].as_u64() >= Some(10_000));
    // Compared one by one it was a minute and more.
    assert!(began.elapsed() < std::time::Duration::from_secs(15), "{:?}", began.elapsed());
}

/// A newer format is a newer format, however its number is written.
#[test]
fn a_newer_format_is_noticed_however_it_is_written() {
    for number in ["3", "1_0", "0x3", "0b11", "0o1_0", "+3"] {
        let text = SEEDS[0].replacen("format = 1", &format!("format = {number}"), 1);
        let codes: Vec<_> = procedure::findings(&text).into_iter().map(|f| f.code).collect();
        assert_eq!(codes, [procedure::Code::FormatNewer], "{number}");
    }
}
