//! Seeds: each draws a firing, its furnace, its operator, up to three faults of any kind, and power cuts.

use std::hash::{DefaultHasher, Hash as _, Hasher as _};

use saggar_bench::firmware::Firmware as _;
use saggar_bench::observer::invariants::Invariant;
use saggar_plant::faults::{Fault, FaultKind};
use saggar_plant::spec::FurnaceSpec;

use super::case::CaseOutcome;
use super::cuts::cut;
use super::drawn::{Draw, DrawnFiring, DrawnFirings};
use super::hardware;
use super::reference::CaseBench;
use super::rehearsal::fault_text;
use super::report::CaseReport;
use super::run::Campaign;

/// Cases if their number is not given.
pub(super) const CASES: usize = 100_000;

/// One case in this many is fired twice.
const TWICE_EVERY: u64 = 50;

/// Most faults of a case.
const FAULTS_MAX: usize = 3;

/// Ticks after the faults are mended, in which nothing may heat.
const QUIET_TICKS: usize = 600;

/// Power that counts as heat (W): rounding of a clock that was wrong may leave less.
const HEAT_FROM_W: f64 = 1.0;

/// The campaign, ready to run.
pub(super) struct Seeds(pub(super) DrawnFirings);

/// What a seed has drawn besides the firing.
struct DrawnTrouble {
    faults: Vec<Fault>,
    /// Times (s) and lengths (s), in order.
    cuts: Vec<(f64, f64)>,
}

impl DrawnTrouble {
    fn new(draw: &mut Draw, firing: &DrawnFiring<'_>) -> Self {
        let length_s = firing.plan.summary.shortest_seconds * 1.2;
        let mut faults: Vec<Fault> = Vec::new();
        for _ in 0..draw.place(FAULTS_MAX + 1) {
            let kind = FaultKind::ALL[draw.place(FaultKind::ALL.len())];
            let is_new = faults.iter().all(|other| other.kind != kind);
            if is_new && is_possible(kind, &firing.plan.profile.spec) {
                faults.push(drawn_fault(draw, kind, length_s));
            }
        }
        let count = if draw.chance(0.3) { 1 + draw.place(2) } else { 0 };
        let mut cuts: Vec<_> = (0..count)
            .map(|_| {
                let at_s = draw.between(1.0, length_s);
                let (shortest_s, longest_s) =
                    if draw.chance(0.5) { (0.1, 2.0) } else { (2.0, 3_600.0) };
                (at_s, draw.between(shortest_s, longest_s))
            })
            .collect();
        cuts.sort_by(|one, other| one.0.total_cmp(&other.0));
        Self { faults, cuts }
    }

    fn kinds(&self) -> Vec<FaultKind> {
        self.faults.iter().map(|fault| fault.kind).collect()
    }
}

/// Whether a bench of the bare core with this furnace can have this fault; cuts are drawn apart.
pub(super) fn is_possible(kind: FaultKind, furnace: &FurnaceSpec) -> bool {
    kind != FaultKind::MainsCut
        && kind.needs().is_none_or(|part| part.is_part_of(furnace) && !part.needs_a_device())
}

/// A fault of this kind in a firing of this length (s).
pub(super) fn drawn_fault(draw: &mut Draw, kind: FaultKind, length_s: f64) -> Fault {
    let from_s = match draw.chance(0.15) {
        true => Fault::BEFORE_START_S,
        false => draw.between(0.0, length_s),
    };
    let mut fault = kind.at(from_s);
    if let Some(severity) = kind.severity().filter(|_| draw.chance(0.5)) {
        let (low, high) = severity.range;
        let sign = if low < 0.0 && draw.chance(0.5) { -1.0 } else { 1.0 };
        let drawn = severity.default * sign * draw.between(0.25, 4.0);
        fault.severity = drawn.clamp(low, high);
        if severity.unit == "bit" {
            fault.severity = fault.severity.floor();
        }
    }
    if draw.chance(0.4) {
        fault.until_s = from_s.max(0.0) + draw.between(0.1, 3_600.0);
    }
    if draw.chance(0.2) {
        let every_s = draw.between(0.5, 120.0);
        fault = fault.intermittent(every_s, every_s * draw.between(0.05, 0.8));
    }
    fault
}

/// What a case came to.
struct SeedRun {
    outcome: CaseOutcome,
    /// Of all outputs and readings.
    trace_hash: u64,
    /// What was wrong after the end.
    unrest: Option<String>,
}

/// Runs a bench through its cuts to its end, mends everything, and looks whether it stays at rest.
fn run(mut bench: CaseBench, cuts: &[(f64, f64)]) -> SeedRun {
    let mut hash = DefaultHasher::new();
    for &(at_s, length_s) in cuts {
        let is_before =
            |bench: &CaseBench| !bench.world().is_started() || bench.world().now_s() < at_s;
        while is_before(&bench) && step(&mut bench, &mut hash) {}
        if !bench.firmware.core().is_firing() {
            break;
        }
        cut(&mut bench, length_s);
    }
    while step(&mut bench, &mut hash) {}
    // What is mended could let somebody go on with a firing that a cut has interrupted.
    bench.operator.leave();
    let active: Vec<_> = bench.world().active_faults().map(|fault| fault.kind).collect();
    for kind in active {
        bench.world_mut().mend(kind);
    }
    let mut unrest = None;
    for tick in 0..QUIET_TICKS {
        step(&mut bench, &mut hash);
        let outputs = bench.outputs();
        let heats = outputs.contactor
            || outputs.heater_cycles != 0
            || bench.firmware.core().is_firing()
            // The outputs act in the next tick.
            || tick > 1 && bench.world().drive().heater_w > HEAT_FROM_W;
        if heats && unrest.is_none() {
            unrest = Some(format!(
                "not at rest {tick} ticks after its end, with all faults mended: contactor {}, {} \
                 cycles, {:.0} W, firing {}",
                outputs.contactor,
                outputs.heater_cycles.count_ones(),
                bench.world().drive().heater_w,
                bench.firmware.core().is_firing()
            ));
        }
    }
    SeedRun { outcome: CaseOutcome::of(bench), trace_hash: hash.finish(), unrest }
}

/// One tick, with what it showed.
fn step(bench: &mut CaseBench, hash: &mut DefaultHasher) -> bool {
    let more = matches!(bench.step(), Ok(true));
    let (now, inputs) = bench.last_inputs();
    let outputs = bench.outputs();
    let emf = |sample: Option<saggar_core::io::ThermocoupleSample>| {
        sample.map(|sample| (sample.emf_nv, sample.cold_junction_mc, sample.open))
    };
    (now.millis(), emf(inputs.control), emf(inputs.limit)).hash(hash);
    (outputs.heater_cycles, outputs.contactor, outputs.pump, outputs.lamp).hash(hash);
    (outputs.isolation_valve, outputs.vent_valve, outputs.open_closure).hash(hash);
    more
}

impl Campaign for Seeds {
    fn cases(&self) -> usize {
        self.0.cases()
    }

    fn id(&self, case: usize) -> String {
        self.0.id(case)
    }

    fn find(&self, id: &str) -> Option<usize> {
        self.0.find(id)
    }

    fn fire(&self, case: usize) -> CaseReport {
        let (mut firing, mut draw) = self.0.draw(case);
        firing.operator_s = match draw.chance(0.1) {
            true => None,
            false => Some(draw.between(1.0, 300.0)),
        };
        let trouble = DrawnTrouble::new(&mut draw, &firing);
        let group = format!("{} faults", trouble.faults.len());
        let bench = match firing.bench(trouble.faults.clone()) {
            Ok(bench) => bench,
            Err(why) => return CaseReport::unfired(self.id(case), &group, &why),
        };
        let again = firing.seed.is_multiple_of(TWICE_EVERY).then(|| bench.clone());
        let SeedRun { outcome, trace_hash, unrest } = run(bench, &trouble.cuts);
        let (excused, mut findings) = hardware::judge(&trouble.kinds(), &outcome);
        findings.extend(unrest);
        // After a cut a firing waits for its operator, if nobody is there, or a fault keeps it from going on.
        // It is at rest meanwhile, or that was found.
        if !trouble.cuts.is_empty() {
            findings.retain(|finding| finding != hardware::ENDLESS);
        }
        if let Some(again) = again
            && run(again, &trouble.cuts).trace_hash != trace_hash
        {
            let number = Invariant::SameSeedSameFiring.number();
            findings.push(format!("I{number}: the same seed gave another firing"));
        }
        let mut struck = vec![firing.conditions];
        struck.push(match firing.operator_s {
            Some(delay_s) => format!("an operator who takes {delay_s:.0} s"),
            None => "no operator".to_owned(),
        });
        struck.extend(trouble.faults.iter().map(fault_text));
        let cut_text =
            |(at_s, length_s)| format!("no power at {at_s:.1} s, for {length_s:.1} s");
        struck.extend(trouble.cuts.into_iter().map(cut_text));
        CaseReport {
            struck,
            findings,
            notes: excused,
            ..CaseReport::of(self.id(case), &group, outcome)
        }
    }
}
