//! The report's page in a real browser: it must run under its own policy without an error, and
//! answer to the hand. A machine without Chromium skips this and says so; where `CI` is set in the
//! environment the tests fail instead.

mod chromium;

use saggar_bench::trace::{Measurements, Row, Trace};
use saggar_core::events::{Event, EventKind};
use saggar_core::units::Instant;
use saggar_plant::furnace_state::FurnaceState;
use saggar_plant::plant::ModelState;
use saggar_plant::thermal::NodeTemperatures;
use saggar_report::{Digests, FaultMark, Report, ReportKind, StageBand};
use saggar_verdict::Verdict;
use saggar_verdict::format::Scale;

use chromium::Seen;

/// A firing of an hour: up for half of it, then a soak.
fn trace() -> Trace {
    let sample = |second: u32| {
        let at_s = f64::from(second);
        let wanted_c = 20.0 + (at_s / 1800.0).min(1.0) * 1100.0;
        Row {
            at_s,
            measured: Measurements {
                setpoint_c: Some(wanted_c),
                sensor_c: Some(wanted_c - 2.0),
                duty: 0.4,
                ..Measurements::default()
            },
            modelled: Some(ModelState {
                piece_c: wanted_c - 20.0,
                muffle_c: wanted_c,
                element_c: wanted_c + 80.0,
                pressure_pa: if second > 1200 { 5000.0 } else { 101_325.0 },
                ..ModelState::default()
            }),
        }
    };
    let reached = Event { at: Instant::from_millis(1_201_000), kind: EventKind::VacuumReached };
    Trace { rows: (0..=3600).map(sample).collect(), events: vec![reached], ..Trace::default() }
}

fn page(trace: &Trace) -> String {
    let stage = |number, name: &str, from_s, to_s| StageBand {
        number,
        step: number as u8 - 1,
        name: name.into(),
        kind: "ramp".into(),
        what: String::new(),
        from_s,
        to_s,
    };
    let temperatures = NodeTemperatures::even(22.0);
    let furnace =
        FurnaceState { temperatures, terminals_c: 22.0, pressure_pa: 101_325.0, opening: 0.0 };
    let report = Report {
        kind: ReportKind::Rehearsal,
        title: "A firing of an hour",
        schedule_name: "an hour",
        furnace_name: "bench",
        conditions: None,
        made_at: None,
        digests: Digests::default(),
        seed: 1,
        furnace_at_start: furnace,
        furnace_at_end: furnace,
        trace,
        stages: vec![stage(1, "Up", 0.0, 1800.0), stage(3, "</script><b>Soak", 1800.0, 3600.0)],
        faults: vec![FaultMark { at_s: 2400.0, name: "control-drift".into() }],
        channels_differ_max_k: Some(60.0),
        verdict: &Verdict { findings: Vec::new() },
        obstacles: Vec::new(),
        reason: None,
        facts: Vec::new(),
        terms: Scale::Celsius.into(),
    };
    report.html().expect("a page")
}

#[test]
fn the_page_runs_under_its_own_policy() {
    let Some(seen) = chromium::open(&page(&trace())) else { return };
    seen.ran();
    let (_, drawn) = seen.document.split_once("id=\"plot\"").expect("a place for the chart");
    let (drawn, _) = drawn.split_once("class=\"still\"").expect("the still drawing after it");
    for part in
        ["curve sensor", "curve pressure", "vacuum reached", "1 Up", "▼ fault: control-drift"]
    {
        assert!(drawn.contains(part), "{part} was not drawn");
    }
    assert!(!seen.document.contains("<b>Soak"), "a name became an element");
}

#[test]
fn the_policy_stops_a_script_that_is_not_the_page_s_own() {
    let page = page(&trace());
    let altered = page.replace("const view =", "const  view =");
    assert_ne!(page, altered);
    let Some(Seen { document, console }) = chromium::open(&altered) else { return };
    assert!(!document.contains("data-ready"), "the script ran");
    assert!(console.contains("Content Security Policy"), "{console}");
}

/// What a reader does, and what the page says to it, one line a step.
const PROBE: &str = r##"
const plot = document.getElementById("plot"), said = [];
const text = (selector) => [...document.querySelectorAll(selector)].map((e) => e.textContent);
const settle = () => new Promise((go) => setTimeout(go, 50));
const at = (share) => { const r = plot.getBoundingClientRect(); return r.left + share * r.width; };
const send = async (event) => { plot.dispatchEvent(event); await settle(); };
const options = (more) => ({ bubbles: true, cancelable: true, pointerId: 1, button: 0, ...more });
const times = () => {
  const labels = text("#plot .tick[text-anchor=middle]");
  return labels[0] + " to " + labels[labels.length - 1];
};
await settle();
said.push("whole " + times());
await send(new PointerEvent("pointermove", options({ clientX: at(0.75) })));
said.push(text("#when")[0]);
said.push(text("#legend button").slice(0, 3).join(", "));
for (let turn = 0; turn < 10; turn++) {
  await send(new WheelEvent("wheel", options({ deltaY: -120, clientX: at(0.75) })));
}
said.push("zoomed " + (times() !== said[0]));
await send(new PointerEvent("pointerdown", options({ clientX: at(0.6) })));
const before = times();
await send(new PointerEvent("pointermove", options({ clientX: at(0.2) })));
await send(new PointerEvent("pointerup", options({ clientX: at(0.2) })));
said.push("dragged " + (times() !== before));
await send(new MouseEvent("dblclick", options({})));
said.push("again " + times());
await send(new KeyboardEvent("keydown", options({ key: "Home" })));
await send(new KeyboardEvent("keydown", options({ key: "ArrowRight", shiftKey: true })));
said.push(text("#when")[0]);
document.querySelector("#legend button").click();
await settle();
said.push("setpoint drawn " + (plot.querySelector(".setpoint") !== null));
document.documentElement.dataset.said = said.join("; ");
"##;

#[test]
fn the_chart_answers_to_the_hand() {
    let page = page(&trace());
    // The probe is not the page's own script, so the policy must go; and frames are not drawn
    // where no one looks, so time has to stand in for them.
    let from = page.find("<meta http-equiv").expect("a policy");
    let to = from + page.get(from..).and_then(|rest| rest.find('>')).expect("its end") + 1;
    let frames = "<script>window.requestAnimationFrame = (f) => setTimeout(f, 0);</script>";
    let probe = format!("<script type=\"module\">{PROBE}</script></body>");
    let probed = format!("{}{frames}{}", &page[..from], &page[to..]).replace("</body>", &probe);
    let Some(seen) = chromium::open(&probed) else { return };
    seen.ran();
    let (_, said) =
        seen.document.split_once("data-said=\"").expect("the probe came to its end");
    let (said, _) = said.split_once('"').expect("a whole attribute");
    let steps: Vec<&str> = said.split("; ").collect();
    assert_eq!(steps[0], "whole 0:00 to 1:00");
    assert!(steps[1].starts_with("At 0:4") && steps[1].contains("stage 3"), "{said}");
    assert!(steps[2].contains("setpoint1120.0 °C, sensor1118.0 °C, piece1100.0 °C"), "{said}");
    assert_eq!(steps[3..6], ["zoomed true", "dragged true", "again 0:00 to 1:00"], "{said}");
    assert_eq!(steps[6], "At 0:03:00 · stage 1 Up");
    assert_eq!(steps[7], "setpoint drawn false");
}
