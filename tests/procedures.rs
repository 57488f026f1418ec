//! The procedures that come with the program can be read, and say what their authors meant.

use std::path::{Path, PathBuf};
use wrenchside::procedure::{self, Act, Deed, Finish, Phase, StageKind};

fn procedures() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures");
    let entries = std::fs::read_dir(folder).expect("the folder of procedures");
    let mut files: Vec<_> = entries.map(|e| e.expect("an entry").path()).collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "toml"));
    files.sort();
    assert!(!files.is_empty());
    files
}

#[test]
fn every_procedure_can_be_read() {
    for file in procedures() {
        let procedure = procedure::load(&file).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(Some(procedure.id.as_str()), file.file_stem().and_then(|s| s.to_str()));
        for phase in [Phase::Prepare, Phase::Strip, Phase::Inspect, Phase::Rebuild, Phase::Close] {
            assert!(procedure.steps.iter().any(|s| s.phase == phase), "{}: {phase:?}", procedure.id);
        }
    }
}

#[test]
fn the_lower_arm_is_read_as_it_is_meant() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures/tarnfell-front-lower-arm-left.toml");
    let p = procedure::load(&file).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(p.steps.len(), 36);
    let wheel = &p.fasteners[0];
    assert_eq!(wheel.order, [0, 2, 4, 1, 3]);
    let step = |id: &str| p.steps.iter().find(|s| s.id == id).expect("a step");
    // Items come out in the order of tightening for tightening, and in that of the places otherwise.
    let [Act::Fasten { items, deed: Deed::Tighten(Some(1)), .. }] = &step("wheel-left-snug").acts[..] else {
        panic!("{:?}", step("wheel-left-snug").acts)
    };
    assert_eq!(items, &[0, 2, 4, 1, 3]);
    let Act::Fasten { items, deed: Deed::Remove, .. } = &step("wheel-left-off").acts[0] else { panic!("no removal") };
    assert_eq!(items, &[0, 1, 2, 3, 4]);
    // The clamp was slackened and taken out, so it is started by hand and then tightened.
    let deeds: Vec<_> =
        step("clamp-in").acts.iter().map(|a| matches!(a, Act::Fasten { deed: Deed::HandStart, .. })).collect();
    assert_eq!(deeds, [true]);
    let pinch = p.fasteners.iter().find(|f| f.id == "pinch").expect("the pinch bolt");
    let Finish::Stages(stages) = &pinch.finish else { panic!("stages") };
    let StageKind::Angle(window) = &stages[1].kind else { panic!("an angle") };
    assert_eq!(window.to_string(), "55..70°");
}

#[test]
fn the_clamps_of_the_battery_go_the_way_that_its_warning_says() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures/tarnfell-charging.toml");
    let p = procedure::load(&file).unwrap_or_else(|e| panic!("{e}"));
    let clamps = p.fasteners.iter().position(|f| f.id == "clamps").expect("the clamps");
    let order: Vec<&str> =
        p.fasteners[clamps].order.iter().map(|ix| p.fasteners[clamps].places[*ix].as_str()).collect();
    assert_eq!(order, ["plus", "minus"], "minus goes on last");
    let touches = |act: &Act| matches!(act, Act::Fasten { group, .. } if group.0 == clamps);
    let steps: Vec<_> = p.steps.iter().filter(|s| s.acts.iter().any(touches)).collect();
    assert_eq!(steps.len(), 3);
    for step in steps {
        assert!(
            step.cautions.iter().any(|c| c.say.starts_with("Minus comes off first and goes on last")),
            "{}",
            step.id
        );
    }
}

#[test]
fn nobody_is_sent_for_a_drive_with_the_wheels_chocked() {
    let mut drives = 0;
    for file in procedures() {
        let p = procedure::load(&file).unwrap_or_else(|e| panic!("{e}"));
        let mut placed = std::collections::BTreeSet::new();
        for step in &p.steps {
            if ["driving", "walking pace", "empty road"].iter().any(|words| step.say.contains(words)) {
                drives += 1;
                assert!(placed.is_empty(), "{}, step \"{}\": {placed:?}", p.id, step.id);
            }
            for act in &step.acts {
                match act {
                    Act::Place(ix) => drop(placed.insert(ix.0)),
                    Act::TakeAway(ix) => drop(placed.remove(&ix.0)),
                    _ => {}
                }
            }
        }
    }
    assert!(drives >= 3, "{drives}");
}

#[test]
fn the_head_bolts_run_in_a_spiral_through_all_their_stages() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("procedures/tarnfell-cylinder-head.toml");
    let p = procedure::load(&file).unwrap_or_else(|e| panic!("{e}"));
    let bolts = &p.fasteners[0];
    let order: Vec<&str> = bolts.order.iter().map(|ix| bolts.places[*ix].as_str()).collect();
    assert_eq!(
        order,
        [
            "intake three",
            "exhaust three",
            "intake two",
            "exhaust four",
            "intake four",
            "exhaust two",
            "intake one",
            "exhaust five",
            "intake five",
            "exhaust one"
        ]
    );
    assert_eq!(bolts.runs, procedure::Runs::StageByStage);
    let Finish::Stages(stages) = &bolts.finish else { panic!("stages") };
    assert!(matches!(
        stages.iter().map(|s| &s.kind).collect::<Vec<_>>()[..],
        [StageKind::Torque(_), StageKind::Torque(_), StageKind::Slacken, StageKind::Torque(_), StageKind::Angle(_)]
    ));
    let through = |id: &str| {
        let step = p.steps.iter().find(|s| s.id == id).expect("a step");
        match &step.acts[..] {
            [Act::Fasten { deed: Deed::Tighten(through), items, .. }] => (*through, items.len()),
            acts => panic!("{acts:?}"),
        }
    };
    assert_eq!(through("bolts-seat"), (Some(2), 10));
    assert_eq!(through("bolts-slack-again"), (Some(3), 10));
    assert_eq!(through("bolts-final"), (None, 10));
    assert!(p.steps.iter().any(|s| s.wait_minutes == Some(15)));
}
