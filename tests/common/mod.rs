//! A small procedure made by hand, for tests that need one. All its values are invented.
#![allow(dead_code)] // Each test file uses a part of it.

use rust_decimal::Decimal;
use wrenchside::procedure::*;
use wrenchside::quantity::*;

pub fn nm(amount: i64, scale: u32) -> Torque {
    Torque::new(Decimal::new(amount, scale), TorqueUnit::NewtonMetre)
}

pub fn degrees(amount: i64) -> Angle {
    Angle::new(Decimal::from(amount), AngleUnit::Degree)
}

pub fn millimetres(amount: i64, scale: u32) -> Quantity {
    Quantity::Length(Length::new(Decimal::new(amount, scale), LengthUnit::Millimetre))
}

pub fn stage(kind: StageKind) -> Stage {
    Stage { kind, from: None, share: None, also: None, meanwhile: None, until: None, needs: None, source: None }
}

fn fastener(id: &str, name: &str, plural: &str, places: &[&str], finish: Finish) -> Fastener {
    Fastener {
        id: id.to_owned(),
        name: name.to_owned(),
        plural: plural.to_owned(),
        places: places.iter().map(|p| (*p).to_owned()).collect(),
        thread: Some("M12 x 1.5".to_owned()),
        class: Some("10.9".to_owned()),
        drive: Some("18 mm hex".to_owned()),
        left_hand: false,
        lock: None,
        tool: Some(ToolIx(0)),
        single_use: true,
        preparation: Some("clean and dry".to_owned()),
        order: (0..places.len()).collect(),
        runs: Runs::StageByStage,
        finish,
        over: OverRule::Restart,
        picture: None,
        source: Some("page 4-12".to_owned()),
    }
}

fn step(id: &str, phase: Phase, say: &str, acts: Vec<Act>) -> Step {
    Step {
        id: id.to_owned(),
        only: None,
        when: None,
        phase,
        say: say.to_owned(),
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
        minutes: Some(5),
        source: None,
        acts,
    }
}

pub fn book() -> Procedure {
    let pivot = Finish::Stages(vec![
        stage(StageKind::Torque(Limits::Exactly(nm(70, 0)))),
        stage(StageKind::Angle(Limits::Window { low: degrees(55), high: degrees(70) })),
        stage(StageKind::BackOff(Limits::Exactly(degrees(90)))),
        stage(StageKind::Slacken),
    ]);
    let tighten = |group| Act::Fasten { group: FastenerIx(group), items: vec![0, 1], deed: Deed::Tighten(None) };
    let measurement = Measurement {
        what: "play at the ball joint".to_owned(),
        name: None,
        unit: Unit::Length(LengthUnit::Millimetre),
        from: None,
        more: Vec::new(),
        leads: false,
        among: None,
        limits: Bounds { least: None, most: Some(millimetres(5, 1)) },
        otherwise: "Fit a new ball joint".to_owned(),
        source: Some("page 4-15".to_owned()),
    };
    Procedure {
        id: "lower-arm".to_owned(),
        title: "Front lower arm, remove and refit".to_owned(),
        vehicle: "a training vehicle".to_owned(),
        language: "en".to_owned(),
        revision: "1".to_owned(),
        author: "nobody".to_owned(),
        source: Source {
            title: "Training manual".to_owned(),
            edition: "2nd edition".to_owned(),
            chapter: Some("chapter 4".to_owned()),
            note: Some("All values are invented for training. Do not use them on a vehicle.".to_owned()),
        },
        variants: ["with anti-lock brakes", "without anti-lock brakes"]
            .map(|name| Variant { id: name.replace(' ', "-"), name: name.to_owned() })
            .into(),
        variant: Some(VariantIx(0)),
        tools: vec![Tool {
            id: "s18".to_owned(),
            name: "18 mm socket".to_owned(),
            stand_in: Some("18 mm spanner".to_owned()),
            only: None,
        }],
        parts: vec![
            Part {
                id: "bolts".to_owned(),
                name: "inner pivot bolt".to_owned(),
                count: 2,
                number: Some("A204-30015".to_owned()),
                renews: Some(FastenerIx(0)),
                only: None,
            },
            Part { id: "clip".to_owned(), name: "clip".to_owned(), count: 1, number: None, renews: None, only: None },
        ],
        consumables: vec!["copper grease".to_owned()],
        fasteners: vec![
            fastener("pivot", "inner pivot bolt", "inner pivot bolts", &["front", "rear"], pivot),
            Fastener {
                drive: Some("T15".to_owned()),
                tool: None,
                ..fastener(
                    "collar",
                    "collar nut",
                    "collar nuts",
                    &["left"],
                    Finish::NoValue { instead: "tighten by feel until the collar seats".to_owned() },
                )
            },
            fastener(
                "link",
                "link nut (upper)",
                "link nuts",
                &["front left", "front right", "rear left", "rear right"],
                Finish::Stages(vec![stage(StageKind::Torque(Limits::Window { low: nm(27, 0), high: nm(33, 0) }))]),
            ),
        ],
        supports: vec![Support { id: "chock".to_owned(), name: "wheel chock".to_owned() }],
        components: vec![Component { id: "arm".to_owned(), name: "lower arm".to_owned(), part: None }],
        connections: vec![Connection { id: "plug".to_owned(), name: "wheel sensor plug".to_owned() }],
        conditions: vec![Condition { id: "ride".to_owned(), name: "at ride height".to_owned() }],
        standing: Vec::new(),
        named: Vec::new(),
        stocks: Vec::new(),
        steps: vec![
            Step {
                hold: Some("Is the chock behind the rear wheel".to_owned()),
                ..step("chock", Phase::Prepare, "Chock the rear wheel", vec![Act::Place(SupportIx(0))])
            },
            Step {
                why: Some("The bush turns with the arm".to_owned()),
                stuck: Some("Soak the thread for 15 min".to_owned()),
                ..step(
                    "bolts",
                    Phase::Rebuild,
                    "Tighten the M12 x 1.5 bolts with the 18 mm hex socket",
                    vec![tighten(0)],
                )
            },
            step("measure", Phase::Inspect, "Measure the play", vec![Act::Measure(measurement)]),
            step("collar", Phase::Rebuild, "Tighten the collar nut", vec![tighten(1)]),
            Step {
                until: Some(Until {
                    ask: Some("Do the links move freely".to_owned()),
                    from: 3,
                    at_most: Some(3),
                    otherwise: Some("Look for what holds them".to_owned()),
                }),
                ask: Some("Do the links sit straight".to_owned()),
                helper: Some("Hold the wheel up".to_owned()),
                within: Some(Within {
                    time: "10 min".parse().unwrap(),
                    after: 3,
                    late: "Clean it, and begin with the collar nut again".to_owned(),
                }),
                later: Some("after 50 kilometres".to_owned()),
                ..step("links", Phase::Rebuild, "Tighten the link nuts", vec![tighten(2)])
            },
        ],
    }
}
