//! The power fails in every tick of a firing, and in every minute for longer.
//!
//! After a cut in a tick nobody presses a button, so nothing may happen by itself. After one at a minute the
//! operator goes on, or nobody does.

use saggar_bench::firmware::Firmware as _;
use saggar_plant::vacuum::ValvesAtRest;

use super::case::{CaseOutcome, run_out};
use super::error::CampaignError;
use super::reference::{CaseBench, OPERATOR_S, ReferenceFiring, TICK_S};
use super::report::{CaseEnd, CaseReport};
use super::run::Campaign;
use super::schedules::{CampaignSchedule, SCHEDULES};

/// The firing.
pub(super) static FIRING: CampaignSchedule = SCHEDULES[0];

/// Lengths of the cuts at the minutes (s).
const LENGTHS_S: [u32; 6] = [1, 10, 60, 300, 900, 3_600];

/// Ticks without a press after a cut.
const WATCHED_TICKS: u32 = 100;

/// Seconds between two copies of the bench.
const COPY_EVERY_S: usize = 60;

/// Ticks in that time.
const COPY_EVERY_TICKS: usize = COPY_EVERY_S * 10;

/// The campaign, ready to run.
pub(super) struct Cuts {
    firing: ReferenceFiring,
    /// Ticks of the firing.
    ticks: usize,
}

/// One cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Cut {
    /// In this tick of the firing, from 1, with nobody there.
    Tick(usize),
    /// At this minute, for this time (s), and whether the operator goes on.
    Minute(usize, u32, bool),
}

impl Cuts {
    /// Fires this schedule once, without a cut.
    ///
    /// # Errors
    /// It is not healthy.
    pub(super) fn new(
        schedule: &'static CampaignSchedule,
        seed: u64,
    ) -> Result<Self, CampaignError> {
        let firing = ReferenceFiring::with_moments(schedule, seed, |_, length_s| {
            (0..(length_s / COPY_EVERY_S as f64) as usize)
                .map(|minute| (minute * COPY_EVERY_S) as f64)
                .collect()
        })?;
        let ticks = (firing.length_s / TICK_S) as usize;
        Ok(Self { firing, ticks })
    }

    /// The minutes at which there is a copy of the bench.
    fn minutes(&self) -> usize {
        // The moment before the start is none.
        self.firing.moments().len() - 1
    }

    fn cut(&self, case: usize) -> Cut {
        let Some(case) = case.checked_sub(self.ticks) else { return Cut::Tick(case + 1) };
        let (case, goes_on) = (case / 2, case % 2 == 0);
        Cut::Minute(case / LENGTHS_S.len(), LENGTHS_S[case % LENGTHS_S.len()], goes_on)
    }

    /// The bench at this minute.
    fn at_minute(&self, minute: usize) -> CaseBench {
        let Some((_, bench)) = self.firing.at(minute + 1) else {
            unreachable!("there is a copy for every minute")
        };
        bench.clone()
    }

    /// Cuts the power in a tick and watches what happens by itself.
    fn cut_in_tick(&self, tick: usize) -> (f64, CaseReport) {
        let minute = (tick / COPY_EVERY_TICKS).min(self.minutes() - 1);
        let mut bench = self.at_minute(minute);
        bench.run_until(tick as f64 * TICK_S);
        // Lengths of 0.1 to 0.5 s.
        let length_s = TICK_S * (1 + tick % 5) as f64;
        bench.operator.leave();
        cut(&mut bench, length_s);
        let mut found = None;
        for after in 1..=WATCHED_TICKS {
            let _ = bench.step();
            let (outputs, core) = (bench.outputs(), bench.firmware.core());
            let heats = outputs.contactor || outputs.heater_cycles != 0;
            if found.is_none() && (heats || core.is_firing()) {
                found = Some(format!(
                    "by itself, {:.1} s after the cut: contactor {}, {} cycles, firing {}",
                    f64::from(after) * TICK_S,
                    outputs.contactor,
                    outputs.heater_cycles.count_ones(),
                    core.is_firing()
                ));
            }
        }
        let mut report = CaseReport::of(String::new(), "every tick", CaseOutcome::of(bench));
        report.findings.extend(found);
        (length_s, report)
    }

    /// Cuts the power at a minute and runs the firing to its end.
    fn cut_at_minute(&self, minute: usize, length_s: u32, goes_on: bool) -> CaseReport {
        let mut bench = self.at_minute(minute);
        if !goes_on {
            bench.operator.leave();
        }
        cut(&mut bench, f64::from(length_s));
        run_out(&mut bench);
        let is_idle = !bench.firmware.core().is_firing() && !bench.outputs().contactor;
        let outcome = CaseOutcome::of(bench);
        let group = format!("every minute, {}", if goes_on { "going on" } else { "alone" });
        let mut report = CaseReport::of(String::new(), &group, outcome);
        let is_stated = match report.end {
            CaseEnd::Completed | CaseEnd::Ended(_) => goes_on,
            // An interrupted firing waits for somebody for as long as nobody comes.
            CaseEnd::Waits => !goes_on,
            CaseEnd::Tripped(_) | CaseEnd::Refused(_) => false,
        };
        if !is_stated {
            report.findings.push(format!("after the cut: {}", report.end.words()));
        }
        if !is_idle {
            report.findings.push("the firing did not come to an end".to_owned());
        }
        report
    }
}

/// Cuts the power of a bench for this time (s) and boots the core again.
pub(super) fn cut(bench: &mut CaseBench, length_s: f64) {
    bench.cut_power(length_s, ValvesAtRest::default());
    bench.firmware.reboot();
    bench.observer.1.invariants.power_was_cut();
}

impl Campaign for Cuts {
    fn cases(&self) -> usize {
        self.ticks + self.minutes() * LENGTHS_S.len() * 2
    }

    fn id(&self, case: usize) -> String {
        let name = self.firing.schedule.name;
        match self.cut(case) {
            Cut::Tick(tick) => format!("{name}/tick={tick}"),
            Cut::Minute(minute, length_s, goes_on) => {
                let then = if goes_on { "going-on" } else { "alone" };
                format!("{name}/minute={minute}/{length_s}s/{then}")
            }
        }
    }

    fn fire(&self, case: usize) -> CaseReport {
        let (at_s, length_s, mut report) = match self.cut(case) {
            Cut::Tick(tick) => {
                let (length_s, report) = self.cut_in_tick(tick);
                (tick as f64 * TICK_S, length_s, report)
            }
            Cut::Minute(minute, length_s, goes_on) => {
                let report = self.cut_at_minute(minute, length_s, goes_on);
                let arguments = self.firing.schedule.rehearse_arguments();
                let operator = match goes_on {
                    true => format!("--operator {OPERATOR_S}"),
                    false => "--no-operator".to_owned(),
                };
                let seed = self.firing.seed;
                let rehearse =
                    format!("{arguments} --cut {minute}+{length_s}s {operator} --seed {seed}");
                let at_s = (minute * COPY_EVERY_S) as f64;
                // Without an operator a rehearsal would not answer the holds before the cut either.
                let report = CaseReport { rehearse: goes_on.then_some(rehearse), ..report };
                (at_s, f64::from(length_s), report)
            }
        };
        report.id = self.id(case);
        report.struck = vec![format!("no power at {at_s:.1} s, for {length_s:.1} s")];
        report
    }
}
