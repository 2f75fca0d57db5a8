//! Two faults: one latent before the start, the other at a moment of the firing.

use std::sync::OnceLock;

use saggar_plant::faults::FaultKind::{self, *};

use super::case::fire;
use super::error::CampaignError;
use super::expectation::Exposure;
use super::hardware;
use super::reference::{CaseBench, ReferenceFiring};
use super::rehearsal::{fault_text, rehearse_arguments};
use super::report::CaseReport;
use super::run::Campaign;
use super::schedules::CampaignSchedule;
use super::variants::{Variant, variants};

/// Moments of a firing at which the second fault strikes.
const MOMENTS: usize = 11;

/// The firings: both vacuum holds, the hottest one, and one that opens hot.
pub(super) const FIRINGS: [&str; 4] =
    ["infiltrate-alumina", "infiltrate-spinel-vacuum", "fast-and-hot", "opens-hot"];

/// The modes, those first that can stay unnoticed longest: of two, the first is the latent one. Modes are
/// left out that do the same to the core as one in the list, or that are noticed in the same tick.
const MODES: [FaultKind; 48] = [
    ShutStuck,
    OpenStuck,
    AuxiliaryStuck,
    AuxiliaryClosed,
    ContactorWelded,
    CurrentScaled,
    CurrentDead,
    SwitchLeaks,
    SwitchStuck,
    GaugeLow,
    GaugeHigh,
    GaugeFrozen,
    GaugeDead,
    VentShut,
    VentOpen,
    IsolationOpen,
    IsolationShut,
    PumpWeak,
    PumpDead,
    SealLeaks,
    LimitOffset,
    LimitGain,
    LimitDetached,
    LimitLagging,
    LimitDrift,
    LimitFrozen,
    LimitNoisy,
    LimitTerminals,
    ControlOffset,
    ControlGain,
    ControlDetached,
    ControlLagging,
    ControlDrift,
    ControlFrozen,
    ControlNoisy,
    ControlTerminals,
    ElementAged,
    ElementShorted,
    MainsLow,
    ClosureJammed,
    ClosureLost,
    ClosureOpened,
    ContactorDead,
    ElementOpen,
    ControlOpen,
    LimitOpen,
    ClockSlow,
    MemorySetpoint,
];

/// A case: the latent fault and the second one by their places in [`MODES`], the firing and the moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Double {
    firing: usize,
    latent: usize,
    second: usize,
    moment: usize,
}

/// The bench at each moment, with one latent fault: made when it is needed first.
type LatentBenches = OnceLock<Vec<CaseBench>>;

/// The campaign, ready to run.
pub(super) struct Doubles {
    firings: Vec<ReferenceFiring>,
    modes: Vec<Variant>,
    cases: Vec<Double>,
    /// By firing and latent fault.
    benches: Vec<Vec<LatentBenches>>,
}

impl Doubles {
    /// Fires each of these schedules once, healthy, with the noise of this seed.
    ///
    /// # Errors
    /// A healthy firing is not healthy.
    pub(super) fn new(
        schedules: &[&'static CampaignSchedule],
        seed: u64,
    ) -> Result<Self, CampaignError> {
        let firings = ReferenceFiring::all(schedules, MOMENTS, seed)?;
        let all = variants();
        let of = |kind: &FaultKind| all.iter().find(|variant| variant.kind == *kind).copied();
        let modes: Vec<_> = MODES.iter().filter_map(of).collect();
        let mut cases = Vec::new();
        for (index, firing) in firings.iter().enumerate() {
            for latent in 0..modes.len() {
                for second in latent + 1..modes.len() {
                    let moments = 0..firing.moments().len();
                    let case = |moment| Double { firing: index, latent, second, moment };
                    cases.extend(moments.map(case));
                }
            }
        }
        let benches = firings.iter().map(|_| modes.iter().map(|_| OnceLock::new()).collect());
        let benches = benches.collect();
        Ok(Self { firings, modes, cases, benches })
    }

    /// The bench at each moment of a firing with this latent fault.
    fn latent(&self, firing: usize, latent: usize) -> &[CaseBench] {
        self.benches[firing][latent].get_or_init(|| {
            let (reference, fault) = (&self.firings[firing], &self.modes[latent]);
            let mut kept = Vec::new();
            let mut running: Option<CaseBench> = None;
            for index in 0..reference.moments().len() {
                let Some((moment, healthy)) = reference.at(index) else { continue };
                let bench =
                    running.get_or_insert_with(|| healthy.fork(vec![fault.at(moment.at_s)]));
                bench.run_until(moment.at_s);
                kept.push(bench.clone());
            }
            kept
        })
    }

    fn kinds(&self, case: &Double) -> [FaultKind; 2] {
        [self.modes[case.latent].kind, self.modes[case.second].kind]
    }
}

impl Campaign for Doubles {
    fn cases(&self) -> usize {
        self.cases.len()
    }

    fn id(&self, case: usize) -> String {
        let case = &self.cases[case];
        let [latent, second] = self.kinds(case).map(FaultKind::name);
        let name = self.firings[case.firing].schedule.name;
        format!("{name}/{latent}+{second}/{}", case.moment)
    }

    fn fire(&self, index: usize) -> CaseReport {
        let case = &self.cases[index];
        let firing = &self.firings[case.firing];
        let moments: Vec<_> = firing.moments().collect();
        let latent = self.modes[case.latent].at(moments[0].at_s);
        let second = self.modes[case.second].at(moments[case.moment].at_s);
        // Before the start the latent fault has not struck yet, and a fork would forget it.
        let faults = if case.moment == 0 { vec![latent, second] } else { vec![second] };
        let bench = &self.latent(case.firing, case.latent)[case.moment];
        let outcome = fire(bench, faults, Exposure::Firing);
        let kinds = self.kinds(case);
        let (allowed, findings) = hardware::judge(&kinds, &outcome);
        CaseReport {
            variant: format!("{}+{}", kinds[0].name(), kinds[1].name()),
            struck: vec![fault_text(&latent), fault_text(&second)],
            findings,
            notes: allowed,
            rehearse: Some(rehearse_arguments(firing, &[latent, second])),
            ..CaseReport::of(self.id(index), kinds[0].name(), outcome)
        }
    }

    /// A pair of the list that never broke an invariant does not belong there.
    fn conclude(&self, all: &[CaseReport]) -> Vec<String> {
        let pairs = hardware::LIST
            .iter()
            .flat_map(|listed| listed.pairs.iter().map(|pair| listed.sentence(*pair)));
        let is_needed =
            |sentence: &String| all.iter().any(|report| report.notes.contains(sentence));
        let unneeded = pairs.filter(|sentence| !is_needed(sentence));
        unneeded
            .map(|sentence| format!("listed, and not needed in any case: {sentence}"))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::{FIRINGS, MODES, MOMENTS};
    use crate::campaign::variants::variants;

    #[test]
    fn there_are_as_many_pairs_as_the_page_says() {
        let modes: BTreeSet<_> = MODES.into_iter().collect();
        assert_eq!(modes.len(), MODES.len(), "each mode once");
        let tried: BTreeSet<_> = variants().iter().map(|variant| variant.kind).collect();
        assert!(modes.is_subset(&tried));
        let pairs = MODES.len() * (MODES.len() - 1) / 2;
        assert_eq!(pairs * FIRINGS.len() * MOMENTS, 49_632);
    }
}
