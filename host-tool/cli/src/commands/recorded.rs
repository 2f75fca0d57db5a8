//! The verdict on a recorded firing, from a simulated furnace that the recorded outputs drive.

use std::path::{Path, PathBuf};

use saggar_bench::recorded::{LEAD_TICKS, RecordedFiring};
use saggar_bench::replay::restore_core;
use saggar_bench::{self as bench, RehearsalSetup};
use saggar_core::Controller;
use saggar_core::units::Instant;
use saggar_device::wire::Tick;
use saggar_verdict::format::Scale;
use saggar_verdict::{RecordingFlaw, Unknown, Wording, doubt_computed};

use super::conditions::{RehearsalOptions, SEED};
use super::rehearse::bands;
use super::replay::LogReplay;
use super::start_condition::{self, StartCondition};
use crate::error::CliError;
use saggar_client::logfile::{LogRecord, Reader};
use saggar_files::{Diagnostic, display_path, hex, short};
use saggar_report::{Digests, Report, ReportError, ReportKind, SavedReport};
use saggar_schedule::clearance::{self, Clearance};
use saggar_schedule::firing_plan::FiringPlan;

/// A reading this far above the room (K) is that of a furnace that was warm at the start: more than a
/// sensor and its noise are off.
const WARM_K: f64 = 5.0;

/// Which work was fired in a recording, and on what furnace.
#[derive(Clone, Copy, Debug)]
pub struct RecordOptions<'a> {
    /// The recording.
    pub log: &'a Path,
    /// The schedule that was fired.
    pub schedule: &'a Path,
    /// The profile to use instead of the one that the schedule names.
    pub furnace: Option<&'a Path>,
    /// How warm the furnace was (°C); `None` for what the sensor read.
    pub start_c: Option<f64>,
    /// The clearance of the programme; `None` for that of the schedule's rehearsal, if it is there.
    pub clearance: Option<&'a Path>,
    /// Folder of the report.
    pub out: Option<&'a Path>,
    /// Scale of the page and the chart.
    pub scale: Scale,
}

/// The verdict on a recorded firing.
#[derive(Debug)]
pub struct RecordVerdict {
    /// The schedule and its furnace.
    pub plan: FiringPlan,
    /// The firing and its verdict.
    pub fired: bench::FiringResult,
    /// The verdict for programs.
    pub json: String,
    /// What the reader has to know beside it, each in a phrase.
    pub remarks: Vec<String>,
    /// Why the programme was let go on although the verdict of its rehearsal is not known.
    pub reason: Option<String>,
    /// The files of the report, or why they were not written; `None` if no report was asked for.
    pub saved: Option<Result<SavedReport, ReportError>>,
}

impl RecordOptions<'_> {
    /// Reads the schedule and its furnace, and tests the folder of the report.
    ///
    /// # Errors
    /// What is wrong with them.
    pub fn load(&self) -> Result<FiringPlan, CliError> {
        let plan = FiringPlan::load(self.schedule, self.furnace)?;
        self.out.map_or(Ok(()), saggar_report::prepare_folder)?;
        Ok(plan)
    }

    /// Judges the firing of a recording that was replayed.
    ///
    /// # Errors
    /// It was fired with another programme, the clearance is not that of this programme, or the furnace
    /// cannot be simulated.
    pub fn judge(
        &self,
        replayed: &LogReplay,
        plan: FiringPlan,
    ) -> Result<RecordVerdict, CliError> {
        let reason = self.reason(&plan)?;
        let (mut fired, start) = match &replayed.firing {
            None => (flawed(RecordingFlaw::NoFiring, &plan), StartCondition::Cold),
            Some(firing) => {
                self.check_programme(firing, &plan)?;
                match firing.flaw {
                    Some(flaw) => (flawed(flaw, &plan), StartCondition::Cold),
                    None => self.play(firing, &plan)?,
                }
            }
        };
        let mut remarks: Vec<String> = start
            .differs(self.scale)
            .map(|(phrase, _)| format!("computed with {phrase}"))
            .into_iter()
            .collect();
        let profile = hex(&plan.profile.furnace.digest());
        if replayed.furnace != profile {
            // A profile that is named is one that somebody chose for this furnace.
            if self.furnace.is_none() {
                doubt_computed(&mut fired.verdict.findings, Unknown::OtherFurnaceData);
            }
            remarks.push(format!(
                "the device has furnace data {}, and {} gives {}: the simulated furnace is that of the \
                 profile",
                short(&replayed.furnace),
                display_path(&plan.profile_path),
                short(&profile)
            ));
        }
        let stages = plan.map.verdict_stages();
        let report = Report {
            kind: ReportKind::Recording,
            title: &plan.schedule.name,
            schedule_name: plan.source.name(),
            furnace_name: &plan.profile.name,
            conditions: (!remarks.is_empty()).then(|| remarks.join("; ")),
            // The same recording gives the same page, whenever it is judged.
            made_at: Some(saggar_report::utc_timestamp(replayed.began_s)),
            digests: Digests {
                programme: plan.summary.digest.clone(),
                schedule: plan.source.digest(),
                profile: plan.profile.digest.clone(),
                furnace: profile,
            },
            seed: SEED,
            furnace_at_start: fired.furnace_at_start,
            furnace_at_end: fired.furnace_at_end,
            trace: &fired.trace,
            stages: bands(self.scale, &plan, &fired),
            faults: Vec::new(),
            channels_differ_max_k: Some(f64::from(plan.profile.furnace.limits.disagree_max_k)),
            verdict: &fired.verdict,
            obstacles: Vec::new(),
            reason: reason.as_deref(),
            facts: self.facts(replayed, &plan),
            terms: Wording { scale: self.scale, stages: &stages },
        };
        let json = report.json()?;
        let saved = self.out.map(|folder| saggar_report::save(folder, &report, false, None));
        drop(report);
        Ok(RecordVerdict { plan, fired, json, remarks, reason, saved })
    }

    /// The reason in the clearance of the programme. One that is not named counts only if it covers this
    /// schedule.
    fn reason(&self, plan: &FiringPlan) -> Result<Option<String>, CliError> {
        let read = |path: &Path| {
            let clearance = Clearance::read(path)?;
            clearance.check_covers(path, &plan.summary.digest, Some(plan))?;
            Ok(clearance.reason)
        };
        if let Some(path) = self.clearance {
            return read(path).map_err(|error: saggar_files::FilesError| error.into());
        }
        let folder: Result<PathBuf, _> =
            RehearsalOptions::default_conditions(self.schedule, self.furnace).default_folder();
        Ok(folder
            .ok()
            .and_then(|folder| read(&folder.join(clearance::FILE_NAME)).ok())
            .flatten())
    }

    fn check_programme(
        &self,
        firing: &RecordedFiring,
        plan: &FiringPlan,
    ) -> Result<(), Diagnostic> {
        let fired = firing.programme.map(|digest| hex(&digest));
        if fired.as_ref() == Some(&plan.summary.digest) {
            return Ok(());
        }
        let fired = fired.as_deref().map_or("none", short);
        let message = format!(
            "it was fired with the programme {fired}, but {} makes {}",
            display_path(self.schedule),
            short(&plan.summary.digest)
        );
        let help =
            "name the schedule, and with --furnace the profile, as they were when it was fired";
        Err(Diagnostic::for_file(self.log, message, help))
    }

    /// Plays a firing, and says with what furnace.
    fn play(
        &self,
        firing: &RecordedFiring,
        plan: &FiringPlan,
    ) -> Result<(bench::FiringResult, StartCondition<'_>), CliError> {
        let mut recording = Recording::open(self.log)?;
        let Some((core, first)) = recording.before(firing) else {
            return Ok((flawed(RecordingFlaw::MidFiring, plan), StartCondition::Cold));
        };
        let read_c = core.status().reading_c.map(f64::from);
        let room_c = plan.profile.spec.ambient_c;
        let warm_c = self.start_c.or(read_c.filter(|read_c| *read_c > room_c + WARM_K));
        let start = warm_c.map_or(StartCondition::Cold, StartCondition::EvenlyWarm);
        let setup = RehearsalSetup {
            furnace: &plan.profile.spec,
            device: &plan.profile.furnace,
            work: &plan.work,
            programme: &plan.image,
            seed: SEED,
            faults: Vec::new(),
            operator_delay_s: None,
            start: start_condition::furnace_state(start, self.schedule, plan)?,
        };
        let ticks = first.into_iter().chain(recording);
        let fired = setup.play(core, ticks).map_err(|why| {
            let schedule = self.schedule.to_path_buf();
            CliError::Rehearsal { schedule, why }
        })?;
        Ok((fired, start))
    }

    fn facts(&self, replayed: &LogReplay, plan: &FiringPlan) -> Vec<(String, String)> {
        let mut facts = saggar_report::work_facts(&plan.work);
        let digest = short(&plan.profile.digest);
        let profile = format!("{}, SHA-256 {digest}", display_path(&plan.profile_path));
        let mut add = |label: &str, value: String| facts.push((label.to_owned(), value));
        add("Furnace profile", profile);
        add("Device", replayed.device.clone());
        add("Recording", display_path(self.log));
        facts
    }
}

fn flawed(flaw: RecordingFlaw, plan: &FiringPlan) -> bench::FiringResult {
    bench::FiringResult::of_flawed_recording(flaw, &plan.profile.spec)
}

/// The ticks of a recording from a certain one on; they end where it ends or is damaged.
struct Recording(Reader<std::io::BufReader<std::fs::File>>);

impl Recording {
    fn open(path: &Path) -> Result<Self, Diagnostic> {
        Reader::open(path).map(Self)
    }

    /// The core as it was shortly before a firing, and its next tick.
    fn before(&mut self, firing: &RecordedFiring) -> Option<(Controller, Option<Tick>)> {
        let furnace = postcard::from_bytes(&self.0.head.furnace).ok()?;
        let (mut bytes, mut origins) = (Vec::new(), 0);
        let mut core = loop {
            match self.0.record().ok()?? {
                LogRecord::Programme(programme) => bytes = programme,
                LogRecord::Origin { number, programme, memory } => {
                    if origins == firing.origin {
                        break restore_core(&furnace, &bytes, number, programme, &memory)
                            .ok()?;
                    }
                    origins += 1;
                }
                LogRecord::Tick(_) => {}
            }
        };
        for tick in self.by_ref() {
            if tick.number.saturating_add(LEAD_TICKS) >= firing.first_tick {
                return Some((core, Some(tick)));
            }
            let _ = core.step(Instant::from_millis(tick.at_ms), &tick.inputs());
            while core.take_event().is_some() {}
        }
        None
    }
}

impl Iterator for Recording {
    type Item = Tick;

    fn next(&mut self) -> Option<Tick> {
        loop {
            match self.0.record() {
                Ok(Some(LogRecord::Tick(tick))) => return Some(tick),
                Ok(Some(LogRecord::Programme(_) | LogRecord::Origin { .. })) => {}
                Ok(None) | Err(_) => return None,
            }
        }
    }
}
