//! Recorded firings: finds them in a recording, and plays one against a simulated furnace for a verdict.
//!
//! The device's readings are the recorded ones. What sensors cannot know is computed by the simulated
//! furnace, which the recorded outputs drive.

use std::ops::ControlFlow;

use saggar_core::Controller;
use saggar_core::controller::ControllerStatus;
use saggar_core::programme::DIGEST_BYTES;
use saggar_device::wire::Tick;
use saggar_plant::furnace_state::FurnaceState;
use saggar_plant::spec::FurnaceSpec;
use saggar_verdict::{RecordingFlaw, SensorAgreement, Unknown, Verdict, doubt_computed};

use crate::bench::Bench;
use crate::firmware::{Playback, PlaybackError};
use crate::observer::{AgreementRecorder, Observer};
use crate::rehearsal::{FiringResult, RehearsalSetup, SetupError};
use crate::trace::Trace;

/// A firing in a recording.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RecordedFiring {
    /// Which of the recording's origins begins the stretch that it is in, from 0.
    pub origin: u64,
    /// Number of its first tick.
    pub first_tick: u32,
    /// Digest of its programme, if the core had one.
    pub programme: Option<[u8; DIGEST_BYTES]>,
    /// Why it cannot be judged; `None` if it is whole.
    pub flaw: Option<RecordingFlaw>,
}

/// What the core of a recording does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CorePhase {
    /// Nothing.
    Idle,
    /// It fires.
    Firing,
    /// It waits whether a firing that a power cut interrupted goes on.
    Interrupted,
}

impl From<ControllerStatus> for CorePhase {
    fn from(status: ControllerStatus) -> Self {
        match (status.step, status.interrupted) {
            (Some(_), _) => Self::Firing,
            (None, Some(_)) => Self::Interrupted,
            (None, None) => Self::Idle,
        }
    }
}

/// Finds the firings of a recording, record by record.
#[derive(Clone, Debug, Default)]
pub struct FiringScan {
    /// Number of the last tick.
    last: Option<u32>,
    /// Origins so far.
    origins: u64,
    /// The origin that began this stretch, and its programme; `None` after a gap.
    stretch: Option<(u64, Option<[u8; DIGEST_BYTES]>)>,
    /// An interrupted firing may go on.
    interrupted: bool,
    open: Option<RecordedFiring>,
    found: Vec<RecordedFiring>,
}

impl FiringScan {
    /// An origin: the core's memory after tick `number`, and what the core that is restored from it does.
    pub fn origin(
        &mut self,
        number: u32,
        programme: Option<[u8; DIGEST_BYTES]>,
        phase: CorePhase,
    ) {
        let origin = self.origins;
        self.origins += 1;
        let goes_on = self.stretch.is_some_and(|(_, of_stretch)| of_stretch == programme);
        if self.last == Some(number) && goes_on {
            return;
        }
        self.interrupt(number);
        self.stretch = Some((origin, programme));
        self.last = Some(number);
        self.interrupted = phase == CorePhase::Interrupted;
        if phase == CorePhase::Firing {
            self.begin(number, Some(RecordingFlaw::MidFiring));
        }
    }

    /// A tick, and what the core does after it; `None` for a tick that cannot be compared. `differs` says
    /// that this tick or an earlier one differed.
    pub fn tick(&mut self, number: u32, phase: Option<CorePhase>, differs: bool) {
        match (phase, self.open.is_some()) {
            _ if differs => self.end(Some(RecordingFlaw::Different(number))),
            (None, _) => self.interrupt(number),
            (Some(CorePhase::Firing), false) => {
                // One that goes on after a power cut began before it.
                let flaw = self.interrupted.then_some(RecordingFlaw::MidFiring);
                self.begin(number, flaw);
            }
            (Some(CorePhase::Idle | CorePhase::Interrupted), true) => self.end(None),
            (Some(CorePhase::Firing), true)
            | (Some(CorePhase::Idle | CorePhase::Interrupted), false) => {}
        }
        self.interrupted = phase == Some(CorePhase::Interrupted);
        self.last = Some(number);
    }

    /// The last whole firing of this programme, or of any if none is named; or else the last one, which
    /// cannot be judged. If the programme was not fired, it is that of another one. `None` if there is
    /// none.
    pub fn finish(mut self, programme: Option<[u8; DIGEST_BYTES]>) -> Option<RecordedFiring> {
        if let (Some(open), Some(last)) = (&self.open, self.last) {
            let ran_s = last.saturating_sub(open.first_tick) / 10;
            self.end(Some(RecordingFlaw::CutOff(ran_s)));
        }
        if self.found.iter().any(|firing| is_of(firing, programme)) {
            self.found.retain(|firing| is_of(firing, programme));
        }
        let whole = self.found.iter().rfind(|firing| firing.flaw.is_none());
        // Of the parts of a firing the one that has its beginning says what is missing.
        let begun =
            self.found.iter().rfind(|firing| firing.flaw != Some(RecordingFlaw::MidFiring));
        whole.or(begun).or(self.found.last()).copied()
    }

    fn begin(&mut self, first_tick: u32, flaw: Option<RecordingFlaw>) {
        self.open = self.stretch.map(|(origin, programme)| RecordedFiring {
            origin,
            first_tick,
            programme,
            flaw,
        });
    }

    /// Ends the firing that is open, with a flaw unless it has one.
    fn end(&mut self, flaw: Option<RecordingFlaw>) {
        let open = self.open.take();
        self.found.extend(open.map(|open| RecordedFiring { flaw: open.flaw.or(flaw), ..open }));
    }

    /// Ticks are missing before this one.
    fn interrupt(&mut self, number: u32) {
        self.stretch = None;
        if let Some(last) = self.last {
            let restarted = number <= last;
            self.end(Some(match restarted {
                true => RecordingFlaw::Restart(last),
                false => RecordingFlaw::Gap(last),
            }));
        }
    }
}

fn is_of(firing: &RecordedFiring, programme: Option<[u8; DIGEST_BYTES]>) -> bool {
    programme.is_none() || firing.programme == programme
}

/// Ticks before the start with which a playback begins: two seconds, as in a rehearsal.
pub const LEAD_TICKS: u32 = 20;

impl RehearsalSetup<'_> {
    /// Plays these ticks of a device whose core was in this state before the first, and assesses the work.
    /// The ticks end with the recording; seed, faults and operator of the setup have no effect.
    ///
    /// # Errors
    /// The furnace cannot be built.
    pub fn play(
        &self,
        core: Controller,
        ticks: impl Iterator<Item = Tick>,
    ) -> Result<FiringResult, SetupError> {
        let observer =
            (self.summary_recorder(), (Trace::default(), AgreementRecorder::default()));
        let flawed = |flaw| Ok(FiringResult::of_flawed_recording(flaw, self.furnace));
        let firmware = match Playback::new(core, ticks) {
            Ok(firmware) => firmware,
            Err(_) => return flawed(RecordingFlaw::MidFiring),
        };
        let mut bench = Bench::new(self.world()?, firmware, (), observer);
        let go_on = |_: &mut _| Ok::<_, PlaybackError>(ControlFlow::<()>::Continue(()));
        match bench.run(go_on) {
            // The record ends in the tail of the firing, or is longer than it.
            Ok(_) | Err(PlaybackError::Over) => {}
            // Ticks after the firing are missing: the record ends there.
            Err(PlaybackError::Gap(_)) if bench.world().ending().is_some() => {}
            Err(PlaybackError::Gap(after)) => return flawed(RecordingFlaw::Gap(after)),
            Err(PlaybackError::Firing) => return flawed(RecordingFlaw::MidFiring),
            Err(PlaybackError::Differs(differs)) => {
                return flawed(RecordingFlaw::Different(differs.tick));
            }
        }
        let world = bench.world();
        if world.is_started() && world.ending().is_none() && world.not_started().is_none() {
            return flawed(RecordingFlaw::CutOff(world.now_s() as u32));
        }
        let (world, _, (mut summary, (trace, agreement))) = bench.into_parts();
        if !world.is_started() {
            return flawed(RecordingFlaw::NoFiring);
        }
        let pressure = agreement.pressure(self.programme);
        let agreement = agreement.finish(self.programme);
        summary.note_hotter(agreement.map_or(0.0, SensorAgreement::hotter_k));
        let mut fired = FiringResult::from_world(&world, summary, trace, self.work);
        let findings = &mut fired.verdict.findings;
        pressure.iter().for_each(|pressure| pressure.add_to(findings));
        match agreement {
            Some(agreement) => agreement.add_to(findings),
            None => doubt_computed(findings, Unknown::NoReading),
        }
        Ok(fired)
    }
}

impl<O: Observer + Default> FiringResult<O> {
    /// The result for a recording that tells too little of its firing.
    pub fn of_flawed_recording(flaw: RecordingFlaw, furnace: &FurnaceSpec) -> Self {
        let nothing = FurnaceState::evenly_warm(furnace, furnace.ambient_c);
        Self {
            trace: O::default(),
            pieces: Vec::new(),
            furnace_at_start: nothing,
            furnace_at_end: nothing,
            verdict: Verdict { findings: vec![flaw.finding()] },
            ending: None,
            not_started: None,
            ticks: 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Parts of a recording.
    #[derive(Clone, Copy)]
    enum Part {
        /// An origin after this tick, with a firing under way or not.
        Origin(u32, bool),
        /// Ticks from the first to the second, with a firing under way or not.
        Ticks(u32, u32, bool),
        /// The same, with a firing that a power cut interrupted.
        Waits(u32, u32),
        /// The same, without an origin before them.
        Skipped(u32, u32),
    }
    use Part::{Origin, Skipped, Ticks, Waits};

    fn phase(firing: bool) -> CorePhase {
        if firing { CorePhase::Firing } else { CorePhase::Idle }
    }

    fn scan(parts: &[Part]) -> Option<RecordedFiring> {
        let mut scan = FiringScan::default();
        for part in parts {
            match *part {
                Origin(number, firing) => scan.origin(number, None, phase(firing)),
                Ticks(from, to, firing) => {
                    (from..=to).for_each(|tick| scan.tick(tick, Some(phase(firing)), false));
                }
                Waits(from, to) => {
                    let waits = Some(CorePhase::Interrupted);
                    (from..=to).for_each(|tick| scan.tick(tick, waits, false));
                }
                Skipped(from, to) => (from..=to).for_each(|tick| scan.tick(tick, None, false)),
            }
        }
        scan.finish(None)
    }

    /// Origin, first tick and flaw of what was found.
    #[track_caller]
    fn assert_found(parts: &[Part], expected: (u64, u32, Option<RecordingFlaw>)) {
        let found = scan(parts).expect("a firing");
        assert_eq!((found.origin, found.first_tick, found.flaw), expected);
    }

    #[test]
    fn a_whole_firing_is_found_where_it_begins() {
        let whole = [Origin(0, false), Ticks(1, 9, false), Ticks(10, 99, true)];
        let after = [&whole[..], &[Ticks(100, 120, false)]].concat();
        assert_found(&after, (0, 10, None));
        // Origins in it that follow their tick begin nothing new.
        let more = [Origin(99, true), Ticks(100, 110, true), Ticks(111, 120, false)];
        assert_found(&[&whole[..], &more].concat(), (0, 10, None));
        // Gaps before the start and after the end do not matter.
        let gaps = [Skipped(130, 133), Origin(200, false), Ticks(201, 203, false)];
        assert_found(&[&after[..], &gaps].concat(), (0, 10, None));
        let late = [Origin(500, false), Ticks(501, 502, false), Ticks(503, 600, true)];
        let end = [Ticks(601, 602, false)];
        assert_found(&[&gaps[..], &late, &end].concat(), (1, 503, None));
        assert_eq!(scan(&[Origin(0, false), Ticks(1, 99, false)]), None);
        assert_eq!(scan(&[]), None);
    }

    #[test]
    fn a_firing_that_is_not_whole_says_why() {
        let begun = [Origin(0, false), Ticks(1, 9, false), Ticks(10, 99, true)];
        let with = |more: &[Part]| [&begun[..], more].concat();
        assert_found(&begun, (0, 10, Some(RecordingFlaw::CutOff(8))));
        let lost = with(&[Skipped(102, 110), Origin(110, true), Ticks(111, 112, true)]);
        assert_found(&lost, (0, 10, Some(RecordingFlaw::Gap(99))));
        let went_on = with(&[Origin(3, true), Ticks(4, 9, true), Ticks(10, 11, false)]);
        assert_found(&went_on, (0, 10, Some(RecordingFlaw::Restart(99))));
        assert_found(&with(&[Skipped(102, 110)]), (0, 10, Some(RecordingFlaw::Gap(99))));
        let gap = with(&[Origin(110, false), Ticks(111, 112, false)]);
        assert_found(&gap, (0, 10, Some(RecordingFlaw::Gap(99))));
        let restart = with(&[Origin(3, false), Ticks(4, 9, false)]);
        assert_found(&restart, (0, 10, Some(RecordingFlaw::Restart(99))));
        // Only what comes after a power cut: it goes on after a press of start, or another one begins.
        let later = [Origin(3, false), Waits(4, 9), Ticks(10, 11, true), Ticks(12, 13, false)];
        assert_found(&later, (0, 10, Some(RecordingFlaw::MidFiring)));
        let cleared = [Waits(1, 9), Ticks(10, 11, false), Ticks(12, 19, true)];
        let anew = [&[Origin(0, false)], &cleared[..], &[Ticks(20, 21, false)]].concat();
        assert_found(&anew, (0, 12, None));
        let middle = [Origin(50, true), Ticks(51, 99, true), Ticks(100, 101, false)];
        assert_found(&middle, (0, 50, Some(RecordingFlaw::MidFiring)));
    }

    #[test]
    fn a_whole_firing_is_preferred_to_a_later_part_of_one() {
        let whole = [Origin(0, false), Ticks(1, 9, true), Ticks(10, 11, false)];
        let part = [Origin(50, true), Ticks(51, 60, true)];
        assert_found(&[&whole[..], &part].concat(), (0, 1, None));
        let two = [&whole[..], &[Ticks(12, 20, true), Ticks(21, 22, false)]].concat();
        assert_found(&two, (0, 12, None));
    }

    /// A cleaning fire after the infiltration does not hide it.
    #[test]
    fn the_last_whole_firing_of_the_programme_is_found() {
        let (one, other) = ([1; DIGEST_BYTES], [2; DIGEST_BYTES]);
        let mut scan = FiringScan::default();
        let mut fire = |programme, from: u32, whole: bool| {
            scan.origin(from - 1, Some(programme), CorePhase::Idle);
            (from..from + 9).for_each(|tick| scan.tick(tick, Some(CorePhase::Firing), false));
            let after = if whole { CorePhase::Idle } else { CorePhase::Firing };
            scan.tick(from + 9, Some(after), false);
        };
        fire(one, 1, true);
        fire(other, 11, true);
        fire(one, 121, false);
        let first = |programme| {
            let found = scan.clone().finish(programme).expect("a firing");
            (found.first_tick, found.flaw)
        };
        assert_eq!(first(Some(one)), (1, None));
        assert_eq!(first(Some(other)), (11, None));
        assert_eq!(first(None), (11, None));
        assert_eq!(first(Some([3; DIGEST_BYTES])), (11, None));
    }

    #[test]
    fn an_output_that_differs_spoils_the_firing() {
        let mut scan = FiringScan::default();
        scan.origin(0, None, CorePhase::Idle);
        scan.tick(1, Some(CorePhase::Firing), false);
        scan.tick(2, Some(CorePhase::Firing), true);
        scan.tick(3, None, true);
        let found = scan.finish(None).expect("a firing");
        assert_eq!(found.flaw, Some(RecordingFlaw::Different(2)));
    }
}
