//! The verdict: what a firing did to the work, with margins, pass or fail.
//!
//! [`judge`] compares what the piece went through and how the firing went with the limits in
//! `limits.rs`. A finding keeps numbers in SI units and °C; [`words`] makes sentences of them.

mod advice;
mod allowed;
mod cure;
mod firing;
mod glass;
mod limits;
mod numbers;
mod scale;
mod strain;
mod sureness;
mod treatment;
pub mod words;

pub use allowed::Allowed;
pub use cure::Cure;
pub use firing::{Counted, FiringSummary, LostSoak, NotBegun, Outside, SoakSummary};
pub use glass::{CoatAdvice, VacuumAdvice};
pub use limits::{
    GAS_NOTE_SHARE, OVERSHOOT_MAX_K, PIECE_OVER_MAX_K, ROUGHNESS_MAX_M, STRESS_SAFETY,
    SURENESS_MIN,
};
pub use scale::Scale;
pub use strain::{Mover, StepStress};
pub use sureness::{Doubt, Source, Sureness};
pub use words::Terms;

use saggar_core::sequencer::Ending;

use crate::piece::{Bubble, PieceState};
use crate::spec::WorkSpec;

/// What a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Subject {
    /// The firing ran to its end.
    Ending,
    /// The free water had gone.
    Dry,
    /// Water boiled in the wet coat or body, or bubbles grew in it.
    Boiled,
    /// The milling lubricant had gone.
    BurntOff,
    /// The front came through the wall.
    Infiltrated,
    /// What the sureness of that is made of.
    Sureness,
    /// Glass in the coat for the pores in the wall.
    CoatBudget,
    /// Gas that the glass may have closed in.
    TrappedGas,
    /// Thermal stress against the strength of the body.
    Stress,
    /// The blasted surface melted back.
    MeltBack,
    /// The hottest reading of the control sensor.
    HottestSensor,
    /// The hottest mean of the piece.
    HottestPiece,
    /// The sensor above the setpoint of a soak, or above the programme's highest.
    Overshoot,
    /// The piece itself above the programme's highest setpoint.
    PieceOverSetpoint,
    /// The sensor beside the setpoint in a soak.
    SoakBand,
    /// The sensor above the piece in the hottest soak.
    SensorToPiece,
    /// Energy from the mains.
    Energy,
    /// Length of the firing.
    Duration,
}

/// How a finding came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Inside the limit.
    Pass,
    /// Outside: the verdict fails.
    Fail,
    /// To be known; decides nothing.
    Note,
}

/// Numbers that only one subject has.
#[derive(Clone, Debug, PartialEq)]
pub enum Detail {
    /// None.
    None,
    /// How the firing ended.
    Ending {
        /// How; `None` if it was still running when the record ends.
        ending: Option<Ending>,
        /// Why it did not begin; `None` if it did.
        not_begun: Option<NotBegun>,
        /// The soak that ended it, if one lost its band.
        lost: Option<LostSoak>,
    },
    /// The moments at which bubbles lifted the coat.
    Lifted {
        /// They first grew too large.
        first: Bubble,
        /// They came to the boil later.
        boiled: bool,
    },
    /// The lubricant.
    Lubricant {
        /// Char that want of oxygen left, as a share of it.
        charred: f64,
        /// What would burn it off.
        cure: Option<Cure>,
    },
    /// The front.
    Front {
        /// Where it stood at the end (m).
        depth_m: f64,
        /// The coat was used up first.
        used_up: bool,
        /// Probability that it comes through.
        probability: f64,
        /// What would make it pass.
        cure: Option<Cure>,
    },
    /// What the sureness is made of.
    Sureness(Sureness),
    /// The coat's glass.
    Budget {
        /// Probability that it fills the wall.
        probability: f64,
        /// Glass left over on one piece (m³), 0 if none.
        left_over_m3: f64,
        /// What coat would pass, if this one does not.
        advice: Option<CoatAdvice>,
    },
    /// The gas that the glass may close in.
    Gas {
        /// Share of the pores that the same firing in air would close in.
        in_air: f64,
        /// What vacuum would leave little enough.
        advice: VacuumAdvice,
    },
    /// Largest compression at a face (Pa), and the difference that would break the body (K).
    Stress {
        /// Largest compression (Pa).
        compression_pa: f64,
        /// Difference between mean and face at the body's strength (K).
        resistance_k: f64,
        /// The steps in which it was too large.
        strained: Vec<StepStress>,
    },
    /// The surface that is melted back.
    MeltBack {
        /// What would make it pass.
        cure: Option<Cure>,
    },
    /// Infiltrated work that names no glass: nothing can be said.
    NoGlass,
}

/// One thing that the verdict says.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What it is about.
    pub subject: Subject,
    /// How it came out.
    pub outcome: Outcome,
    /// What was found, in the subject's SI unit, °C or K.
    pub measured: f64,
    /// What it is compared with, same unit; infinite if nothing.
    pub limit: f64,
    /// Distance to the limit over the limit, positive on the good side; NaN without a limit.
    pub margin: f64,
    /// When it happened (s since the start).
    pub at_s: Option<f64>,
    /// The step of the programme that it is about, from 0, if it is about one.
    pub step: Option<u8>,
    /// Numbers that only this subject has.
    pub detail: Detail,
    /// The firing did not run to its end, so advice on its course would mean nothing.
    pub cut_short: bool,
}

/// All that a rehearsal, or a firing, came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// The findings, the ending first.
    pub findings: Vec<Finding>,
    /// No finding failed.
    pub passed: bool,
}

impl Verdict {
    /// The finding on a subject, if the work has it.
    pub fn on(&self, subject: Subject) -> Option<&Finding> {
        self.findings.iter().find(|finding| finding.subject == subject)
    }
}

/// Judges a firing of `work` by what the piece went through and by how the firing went.
pub fn judge(work: &WorkSpec, piece: &PieceState, firing: &FiringSummary) -> Verdict {
    let mut findings = vec![firing::ending(firing)];
    findings.extend(treatment::drying(piece));
    findings.extend(treatment::burn_off(piece, firing));
    findings.extend(glass::infiltration(work, piece, firing));
    findings.push(treatment::stress(work, piece, firing));
    findings.extend(treatment::melt_back(work, piece, firing));
    findings.extend(firing::course(piece, firing));
    let cut_short = firing.ending != Some(Ending::Completed);
    findings.iter_mut().for_each(|finding| finding.cut_short = cut_short);
    let passed = findings.iter().all(|finding| finding.outcome != Outcome::Fail);
    Verdict { findings, passed }
}

impl Finding {
    /// A value that must stay below `limit`; NaN fails.
    fn at_most(subject: Subject, measured: f64, limit: f64, at_s: Option<f64>) -> Self {
        Self {
            subject,
            outcome: pass_if(measured <= limit),
            measured,
            limit,
            margin: (limit - measured) / limit,
            at_s,
            step: None,
            detail: Detail::None,
            cut_short: false,
        }
    }

    /// A value that must reach `limit`; NaN fails.
    fn at_least(subject: Subject, measured: f64, limit: f64, at_s: Option<f64>) -> Self {
        Self {
            outcome: pass_if(measured >= limit),
            margin: (measured - limit) / limit,
            ..Self::at_most(subject, measured, limit, at_s)
        }
    }

    /// A value with nothing to compare it with.
    fn note(subject: Subject, measured: f64, at_s: Option<f64>) -> Self {
        Self {
            outcome: Outcome::Note,
            limit: f64::INFINITY,
            margin: f64::NAN,
            ..Self::at_most(subject, measured, f64::INFINITY, at_s)
        }
    }

    fn with(self, detail: Detail) -> Self {
        Self { detail, ..self }
    }
}

/// A firing that was cut short says nothing about its soak.
fn advises(firing: &FiringSummary) -> bool {
    firing.ending == Some(Ending::Completed)
}

fn pass_if(good: bool) -> Outcome {
    if good { Outcome::Pass } else { Outcome::Fail }
}

#[cfg(test)]
mod tests;
