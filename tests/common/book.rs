//! Small procedures made by hand, for tests of the job. The module that holds this one names the crate's rooms.

use super::procedure::*;
use super::quantity::{Angle, Limits, Torque};

/// A stage that reaches this torque, or a torque inside this window.
pub fn torque(limits: &str) -> StageKind {
    StageKind::Torque(limits.parse::<Limits<Torque>>().expect(limits))
}

/// A stage that turns on by this angle, or by an angle inside this window.
pub fn angle(limits: &str) -> StageKind {
    StageKind::Angle(limits.parse::<Limits<Angle>>().expect(limits))
}

/// A stage that turns back by this angle, or by an angle inside this window.
pub fn back_off(by: &str) -> StageKind {
    StageKind::BackOff(by.parse::<Limits<Angle>>().expect(by))
}

/// A group of fasteners, one at a time, not single-use, restarted when over.
pub fn group(name: &str, places: &[&str], stages: Vec<StageKind>) -> Fastener {
    let stages = stages
        .into_iter()
        .map(|kind| Stage {
            kind,
            from: None,
            share: None,
            also: None,
            meanwhile: None,
            until: None,
            needs: None,
            source: None,
        })
        .collect();
    Fastener {
        id: name.into(),
        name: name.into(),
        plural: format!("{name}s"),
        places: places.iter().map(|p| p.to_string()).collect(),
        thread: None,
        class: None,
        drive: Some("18 mm hex".into()),
        left_hand: false,
        lock: None,
        tool: None,
        single_use: false,
        preparation: None,
        order: (0..places.len()).collect(),
        runs: Runs::OneAtATime,
        finish: Finish::Stages(stages),
        over: OverRule::Restart,
        picture: None,
        source: Some("page 4-12".into()),
    }
}

/// A step of the rebuild with these acts and nothing else.
pub fn step(acts: Vec<Act>) -> Step {
    Step {
        id: String::new(),
        only: None,
        when: None,
        phase: Phase::Rebuild,
        say: "Do it.".into(),
        helper: None,
        picture: None,
        why: None,
        stuck: None,
        cautions: Vec::new(),
        hold: None,
        ask: None,
        until: None,
        needs: None,
        wait_minutes: None,
        within: None,
        later: None,
        minutes: None,
        source: None,
        acts,
    }
}

/// Done again from that step on, until it is so.
#[allow(dead_code, reason = "not every test that takes this module in has rounds")]
pub fn until(from: usize, at_most: Option<u32>) -> Option<Until> {
    let otherwise = at_most.map(|_| "Look for the leak.".into());
    Some(Until { ask: Some("Does it come without air?".into()), from, at_most, otherwise })
}

/// Does something to these items of a group.
pub fn fasten(group: usize, items: &[usize], deed: Deed) -> Act {
    Act::Fasten { group: FastenerIx(group), items: items.to_vec(), deed }
}

/// A measurement between two values.
pub fn measure(least: &str, most: &str) -> Act {
    Act::Measure(Measurement {
        what: "width of the slot".into(),
        name: None,
        unit: most.parse::<super::quantity::Quantity>().expect(most).unit(),
        from: None,
        more: Vec::new(),
        leads: false,
        among: None,
        limits: Bounds { least: Some(least.parse().expect(least)), most: Some(most.parse().expect(most)) },
        otherwise: "Replace it.".into(),
        source: None,
    })
}

/// A procedure of these groups and steps. Two supports, two components, two connections and two conditions are there
/// to be used.
pub fn book(fasteners: Vec<Fastener>, steps: Vec<Step>) -> Procedure {
    let two = |name: &str| [format!("{name} one"), format!("{name} two")];
    Procedure {
        id: "test".into(),
        title: "Test".into(),
        vehicle: "Tarnfell 15".into(),
        language: "en".into(),
        revision: "1".into(),
        author: "nobody".into(),
        source: Source { title: "Invented".into(), edition: "first".into(), chapter: None, note: None },
        variants: Vec::new(),
        variant: None,
        tools: Vec::new(),
        parts: Vec::new(),
        consumables: Vec::new(),
        fasteners,
        supports: two("stand").map(|n| Support { id: n.clone(), name: n }).into(),
        components: two("part").map(|n| Component { id: n.clone(), name: n, part: None }).into(),
        connections: two("plug").map(|n| Connection { id: n.clone(), name: n }).into(),
        conditions: two("state").map(|n| Condition { id: n.clone(), name: n }).into(),
        standing: Vec::new(),
        named: Vec::new(),
        stocks: Vec::new(),
        steps,
    }
}
