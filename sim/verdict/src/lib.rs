//! What a firing did to the work: findings against limits, with their uncertainty, and advice.
//!
//! [`assess`] turns the history of the pieces and the course of the firing into a [`Verdict`]. [`mod@format`]
//! formats quantities for people, and [`rounding`] rounds the numbers of advice to their safe side.

mod findings;
pub mod format;
pub mod rounding;

pub use findings::{
    AdviceLimits, ApproachBound, BandExcursion, CoatAdvice, CoatLift, Distribution, Doubt,
    EffectiveSoak, Finding, FiringSummary, Interruption, LateRamp, LeastSoak, LostSoak,
    MeltBackFinding, Mismatch, NotStarted, Outcome, PressureAgreement, RecordingFlaw,
    SensorAgreement, SoakAdvice, SoakSummary, StageLabel, StepStress, StressCause, Subject,
    Surplus, SurplusAdvice, SurplusInput, ThinnerCoat, UncertaintyBudget, UncertaintyComponent,
    UncertaintySource, UncoatedFiring, Unknown, VacuumAdvice, Verdict, VerdictResult, Wording,
    assess, doubt_computed,
};
