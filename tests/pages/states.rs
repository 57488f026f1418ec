//! Every state of the page, with what must stand on it.

use super::bay::*;
use wrenchside::dialogue::{Manner, Notice};
use wrenchside::job::{At, Command as Order, Job, Question};
use wrenchside::procedure::{self, Caution, Procedure, Signal, StageKind};
use wrenchside::quantity::TorqueUnit;
use wrenchside::session::{Conversation, Scene, Screen, Shown, Talker, Turn};

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

fn is_back_off(kind: &StageKind) -> bool {
    matches!(kind, StageKind::BackOff(_))
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
pub fn states() -> Vec<(&'static str, String, &'static [&'static str])> {
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
            "round",
            job(BLEEDING, &hears, same, |bay| {
                bay.until(|job| matches!(job.question(), Some(Question::Until { .. })));
                bay.order(Order::No);
            }),
            &["Round 2"],
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
                bay.board.turn(&turn, &Shown::of(bay.talk.job()));
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
            &["Cannot hear you", "No microphone", "38 N·m"],
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
            &["No loudspeaker", "No more readings", "38 N·m", "sparks far away"],
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
            "back-off",
            job(GEARBOX, &hears, same, |bay| bay.until(|job| pending(job, "shaft-nut", 0, is_back_off))),
            &["Stage 2 of 4", "Until the shaft turns freely, back off", "not more than 90°", "1½ flats"],
        ),
        (
            "back-off-left-hand",
            job(GEARBOX, &hears, same, |bay| bay.until(|job| pending(job, "side-screw", 0, is_back_off))),
            &["Left-hand thread, back off", "1..1.5 flats", "60..90°"],
        ),
        (
            "slot",
            job(GEARBOX, &hears, same, |bay| {
                bay.until(|job| pending(job, "shaft-nut", 0, |kind| matches!(kind, StageKind::Slot(_))));
            }),
            &["Stage 4 of 4", "Turn further to the next slot, never back", "not more than 30°"],
        ),
        (
            "lock",
            job(GEARBOX, &hears, same, |bay| bay.until(at_step("nut-locked"))),
            &["Put a new cotter pin through the shaft nut.", "fully tightened, not locked yet"],
        ),
        ("picture", job(LASH, &hears, same, |bay| bay.until(at_step("sealant"))), &["Picture: fig. 11, page 3-23"]),
        (
            "helper",
            job(LASH, &hears, same, |bay| bay.until(at_step("inlet-lobe-inlet-one"))),
            &["Second person: Call out when the lobe points up."],
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
                bay.board.turn(&turn, &Shown::of(bay.talk.job()));
            }),
            &["Procedure has errors"],
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
        ("strip-begun", strip(&[]), &["Strip-down", "Water pump", "Listening"]),
        (
            "strip",
            strip(&["stand in place", "sill, left", "took out two bolts, thirteen millimetre"]),
            &["2 bolts, 13 mm"],
        ),
    ]
}
