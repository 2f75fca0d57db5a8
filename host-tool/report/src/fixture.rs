//! A made-up firing that looks like one: two hours of infiltration under vacuum.

use saggar_bench::trace::{Measurements, Row, Trace};
use saggar_core::events::{Event, EventKind};
use saggar_core::interlock::Cause;
use saggar_core::sequencer::Ending;
use saggar_core::units::Instant;
use saggar_plant::furnace_state::FurnaceState;
use saggar_plant::plant::ModelState;
use saggar_plant::thermal::NodeTemperatures;
use saggar_verdict::format::Scale;
use saggar_verdict::{Finding, Outcome, StageLabel, Subject, Verdict, Wording};

use crate::StageBand;
use crate::{Digests, Report, ReportKind};

/// Name, kind, what, end (s), temperature at the end (°C).
type Planned = (&'static str, &'static str, &'static str, f64, f64);

const STAGES: [Planned; 7] = [
    ("Dry", "soak", "5 min within 10 K", 900.0, 200.0),
    ("Burn off", "ramp", "to 600 °C at 20 K/min", 2100.0, 600.0),
    ("Pump down", "vacuum", "to 50 hPa within 5 min", 2280.0, 600.0),
    ("", "ramp", "to 1120 °C at 26 K/min", 3480.0, 1120.0),
    ("Infiltrate", "soak", "30 min within 5 K", 5280.0, 1120.0),
    ("Let air in", "vacuum", "back to the atmosphere", 5340.0, 1120.0),
    ("Cool", "cool", "below 500 °C", 7199.0, 480.0),
];

/// The trace, one row a second.
pub(super) fn trace() -> Trace {
    let mut trace =
        Trace { rows: (0..7200).map(sample).collect(), energy_j: 4.93e6, events: Vec::new() };
    let mut event = |at_s: f64, what| {
        let at = Instant::from_millis((at_s * 1000.0) as u64);
        trace.events.push(Event { at, kind: what });
    };
    event(0.0, EventKind::FiringStarted);
    event(0.0, EventKind::StepStarted(0));
    for (step, stage) in STAGES.iter().enumerate().take(6) {
        if step == 2 {
            event(2231.4, EventKind::VacuumReached);
        }
        event(stage.3, EventKind::StepStarted(step as u8 + 1));
    }
    event(7199.0, EventKind::FiringEnded(Ending::Completed));
    trace
}

/// The same firing, with a trip in the soak.
pub(super) fn tripped() -> Trace {
    let mut trace = trace();
    let at = Instant::from_millis(4_000_300);
    trace.events.retain(|event| event.at < at);
    let cause = Cause::HeaterWithoutEffect;
    trace.events.push(Event { at, kind: EventKind::Tripped(cause) });
    trace.events.push(Event { at, kind: EventKind::FiringEnded(Ending::Tripped(cause)) });
    for sample in trace.rows.iter_mut().filter(|sample| sample.at_s > 4000.3) {
        let measured = &mut sample.measured;
        (measured.step, measured.setpoint_c, measured.duty) = (None, None, 0.0);
        if (4100.0..4200.0).contains(&sample.at_s) {
            measured.sensor_c = None;
        }
    }
    trace
}

fn sample(second: u32) -> Row {
    let at_s = f64::from(second);
    let step = STAGES.iter().position(|stage| at_s < stage.3).unwrap_or(6);
    let wanted_c = wanted(at_s);
    // Reproducible noise, so that every run of a test sees the same trace.
    let noise = (at_s * 12.9898).sin() * 0.35 + (at_s * 78.233).sin() * 0.2;
    let lagged_c = wanted((at_s - 40.0).max(0.0));
    let evacuated = ((at_s - 2100.0) / 45.0).clamp(0.0, 60.0);
    let pressure_pa = match at_s {
        s if s < 2100.0 => 101_325.0,
        s if s < 5280.0 => 2_400.0 + 98_925.0 * (-evacuated).exp(),
        s => 101_325.0 - 98_925.0 * (-(s - 5280.0) / 15.0).exp(),
    };
    let heating = (wanted_c - lagged_c).max(0.0) / 40.0;
    let wet = 1.0 - at_s / 820.0;
    let measured = Measurements {
        step: Some(step as u8),
        setpoint_c: (step < 6).then_some(wanted_c),
        sensor_c: Some(wanted_c + noise - heating * 6.0),
        duty: if step == 6 {
            0.0
        } else {
            (wanted_c / 2400.0 + heating + noise * 0.02).clamp(0.0, 1.0)
        },
        ..Measurements::default()
    };
    let modelled = ModelState {
        piece_c: lagged_c - 3.0,
        outer_piece_c: None,
        piece_spread_k: heating * 4.0,
        muffle_c: wanted_c + 12.0 * heating + 4.0,
        element_c: wanted_c + 40.0 + 260.0 * heating,
        pressure_pa,
        depth_m: 0.62e-3 * ((at_s - 3300.0).max(0.0) / 1900.0).sqrt().min(1.0),
        water_left: wet.max(0.0).powi(2),
        lubricant_left: (1.0 - (at_s - 900.0).max(0.0) / 1100.0).clamp(0.0, 1.0),
        opening: if at_s > 6600.0 { ((at_s - 6600.0) / 30.0).min(1.0) } else { 0.0 },
    };
    Row { at_s, measured, modelled: Some(modelled) }
}

/// The setpoint (°C), or the chamber temperature while it cools.
fn wanted(at_s: f64) -> f64 {
    if at_s < 600.0 {
        return 25.0 + at_s * 175.0 / 600.0;
    }
    let (mut from_s, mut from_c) = (600.0, 200.0);
    for (_, kind, _, to_s, to_c) in STAGES {
        if at_s <= to_s {
            let share = (at_s - from_s) / (to_s - from_s);
            let curve = if kind == "cool" { 1.0 - (-3.0 * share).exp() } else { share };
            return from_c + (to_c - from_c) * curve;
        }
        (from_s, from_c) = (to_s, to_c);
    }
    from_c
}

/// The stages as a report shows them.
pub(super) fn stages() -> Vec<StageBand> {
    let mut from_s = 0.0;
    let band = |(index, (name, kind, what, to_s, _)): (usize, Planned)| {
        // A vacuum stage of the file comes between the third and the fourth step.
        let number = index + 1 + usize::from(index >= 3);
        let (name, kind, what) = (name.into(), kind.into(), what.into());
        let band = StageBand { number, step: index as u8, name, kind, what, from_s, to_s };
        from_s = to_s;
        band
    };
    STAGES.into_iter().enumerate().map(band).collect()
}

fn note(subject: Subject, measured: f64, at_s: Option<f64>) -> Finding {
    let (limit, margin) = (f64::INFINITY, f64::NAN);
    Finding {
        subject,
        outcome: Outcome::Note,
        measured,
        limit,
        margin,
        at_s,
        step: None,
        doubt: None,
    }
}

fn passed(subject: Subject, measured: f64, limit: f64, at_s: f64) -> Finding {
    let (outcome, margin) = (Outcome::Pass, (measured - limit).abs() / limit);
    Finding { outcome, limit, margin, ..note(subject, measured, Some(at_s)) }
}

/// A verdict; if it does not pass, the thermal stress fails.
fn verdict(passes: bool) -> Verdict {
    let ending = Subject::Ending {
        ending: Some(Ending::Completed),
        not_started: None,
        lost: None,
        after_cut: false,
    };
    let front = Subject::Infiltration {
        depth_m: 0.6e-3,
        used_up: false,
        cut_short_at_s: None,
        probability: 0.97,
        count: 1,
        advice: None,
        dominant: None,
        own_bound: None,
    };
    let mut findings = vec![
        Finding { outcome: Outcome::Pass, ..note(ending, 7199.0, Some(7199.0)) },
        passed(Subject::Drying { cut_short: false }, 0.0, 0.01, 840.0),
        Finding { step: Some(4), ..passed(front, 0.81e-3, 0.6e-3, 4740.0) },
        note(Subject::SensorMax, 1121.0, Some(3660.0)),
        note(Subject::Energy, 4.93e6, None),
    ];
    if !passes {
        let stress = Subject::Stress { resistance_k: 65.8, overstressed: Vec::new() };
        let found = passed(stress, 11.4e6, 10.5e6, 5520.0);
        findings.push(Finding { outcome: Outcome::Fail, margin: -found.margin, ..found });
    }
    Verdict { findings }
}

/// A shut furnace at one temperature (°C).
pub(super) const fn furnace_at(celsius: f64) -> FurnaceState {
    let temperatures = NodeTemperatures::even(celsius);
    FurnaceState { temperatures, terminals_c: 28.0, pressure_pa: 101_325.0, opening: 0.0 }
}

/// Leaks a value that a report borrows, which is harmless in a test.
pub(super) fn kept<T>(what: T) -> &'static T {
    Box::leak(Box::new(what))
}

/// The report of a trace.
pub(super) fn report(trace: &Trace, passed: bool) -> Report<'_> {
    let named = |band: StageBand| StageLabel {
        number: band.number,
        label: format!("stage {}", band.number),
        name: Some(band.name),
    };
    let stages: Vec<StageLabel> = stages().into_iter().map(named).collect();
    Report {
        kind: ReportKind::Rehearsal,
        title: "Infiltrate four copings, 0.6 mm wall",
        schedule_name: "Two-hour infiltration",
        furnace_name: "Small vacuum furnace, 1.2 kW",
        conditions: Some("with mains at 90 %".into()),
        made_at: Some("2026-11-25 09:00 UTC".into()),
        digests: Digests {
            programme: "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"
                .into(),
            schedule: "60303ae22b998861bce3b28f33eec1be758a213c86c93c076dbe9f558c11c752".into(),
            profile: "fd61a03af4f77d870fc21e05e7e80678095c92d808cfb3b5c279ee04c74aca13".into(),
            furnace: "a4e624d686e03ed2767c0abd85c14426b0b1157d2ce81d27bb4fe4f6f01d688a".into(),
        },
        seed: 20_261_125,
        furnace_at_start: furnace_at(22.0),
        furnace_at_end: furnace_at(180.0),
        trace,
        stages: self::stages(),
        faults: Vec::new(),
        channels_differ_max_k: Some(60.0),
        verdict: kept(verdict(passed)),
        obstacles: Vec::new(),
        reason: None,
        facts: vec![("Work".into(), "4 copings of porous alumina".into())],
        terms: Wording { scale: Scale::Celsius, stages: kept(stages) },
    }
}
