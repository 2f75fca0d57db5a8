//! The subjects of findings. Each [`Subject`] carries its own data and knows its title and its unit.

use saggar_core::events::Ending;

use super::advice::{CoatAdvice, VacuumAdvice};
use super::late_ramp::LateRamp;
use super::outer_glass::{MeltBackFinding, Mismatch, Surplus};
use super::recording::{RecordingFlaw, SensorAgreement};
use super::soak_advice::SoakAdvice;
use super::summary::{Interruption, LostSoak, NotStarted, StepStress};
use super::uncertainty::{UncertaintyBudget, UncertaintyComponent};
use super::uncoated::UncoatedFiring;
use super::unknown::ApproachBound;
use saggar_plant::piece::Bubble;

/// The subject of a finding, with the data specific to it.
#[derive(Clone, Debug, PartialEq)]
pub enum Subject {
    /// The firing ran to its end.
    Ending {
        /// How it ended; `None` if it was still running when the record ends.
        ending: Option<Ending>,
        /// Why it did not begin; `None` if it did.
        not_started: Option<NotStarted>,
        /// The soak that ended it, if one lost its band.
        lost: Option<LostSoak>,
        /// The power had failed in it.
        after_cut: bool,
    },
    /// The free water had evaporated.
    Drying {
        /// The firing did not run to its end, so advice on its course would mean nothing.
        cut_short: bool,
    },
    /// Water boiled in the wet coat or body, or bubbles grew in it and lifted the coat.
    Boiling {
        /// The moment at which the bubbles grew too large; `None` if they did not.
        lift: Option<CoatLift>,
        /// The water is in a coat; `false` if it is in the pores of a bare body.
        coated: bool,
    },
    /// The milling lubricant had burnt off.
    BurnOff {
        /// Char that formed for lack of oxygen, as a share of the lubricant.
        char_share: f64,
        /// The soak that would burn it off.
        advice: Option<SoakAdvice>,
        /// The firing did not run to its end, so advice on its course would mean nothing.
        cut_short: bool,
    },
    /// The front came through the wall.
    Infiltration {
        /// Its depth at the end (m).
        depth_m: f64,
        /// The coat was used up before the wall was full.
        used_up: bool,
        /// When the firing ended before its last step was done (s); `None` if it ran to its end.
        cut_short_at_s: Option<f64>,
        /// Probability that it comes through every spot of all pieces.
        probability: f64,
        /// How many pieces.
        count: u32,
        /// The soak that would make it pass.
        advice: Option<SoakAdvice>,
        /// The input to measure, if only the uncertainty makes the check fail.
        dominant: Option<UncertaintyComponent>,
        /// Rate of the approach (K/min) and the schedule's bound, if it passes by this bound and would not
        /// by ours.
        own_bound: Option<(f64, ApproachBound)>,
    },
    /// The firing is an infiltration, but there is no coat to infiltrate.
    Uncoated(UncoatedFiring),
    /// The components of the uncertainty of the infiltration.
    Uncertainty(UncertaintyBudget),
    /// Glass in the coat over pore volume in the wall.
    CoatBudget {
        /// Probability that it fills the walls of all pieces.
        probability: f64,
        /// How many pieces.
        count: u32,
        /// Glass left over on one piece (m³), 0 if none.
        left_over_m3: f64,
        /// The coat that would pass, if this one does not.
        advice: Option<CoatAdvice>,
    },
    /// Gas that the glass may have trapped.
    TrappedGas {
        /// Share of the pores in which the same firing in air would trap gas.
        in_air: f64,
        /// The vacuum that would leave little enough.
        advice: VacuumAdvice,
    },
    /// Surplus glass against the bare rim.
    Surplus(Surplus),
    /// Thermal stress against the strength of the body.
    Stress {
        /// Difference between mean and face at the body's strength (K).
        resistance_k: f64,
        /// The steps in which the tension was too large.
        overstressed: Vec<StepStress>,
    },
    /// Stress in the glass once it has cooled on its body.
    Mismatch(Mismatch),
    /// The blasted surface melted back.
    MeltBack(MeltBackFinding),
    /// The hottest reading of the control sensor.
    SensorMax,
    /// The hottest mean of the piece.
    PieceMax,
    /// The sensor above the setpoint of a soak, or above the programme's highest.
    Overshoot,
    /// The piece itself above the programme's highest setpoint.
    PieceOverSetpoint {
        /// Whether the piece was hottest after the firing, so that the heat did not go off with it.
        after_firing: bool,
    },
    /// Distance of the sensor from the setpoint in a soak.
    SoakBand,
    /// The sensor above the piece in the hottest soak.
    SensorToPiece,
    /// A power cut.
    Interruption(Interruption),
    /// A recording that tells too little of the firing.
    Recording(RecordingFlaw),
    /// The simulated control sensor beside the recorded one.
    SimulatedSensor(SensorAgreement),
    /// Energy from the mains.
    Energy,
    /// Length of the firing.
    Duration {
        /// The ramp that was the latest, if one was clearly late.
        latest: Option<LateRamp>,
    },
}

/// Bubbles that lifted the coat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoatLift {
    /// The moment at which they first grew too large.
    pub first: Bubble,
    /// The water boiled later.
    pub boiled: bool,
}

impl Subject {
    /// Its title.
    pub const fn title(&self) -> &'static str {
        self.title_and_unit().0
    }

    /// Unit of its numbers, as one word; `None` if the numbers have no meaning of their own.
    pub const fn unit(&self) -> Option<&'static str> {
        self.title_and_unit().1
    }

    /// Whether a simulated furnace or piece computes it; what is measured, or follows from the work
    /// alone, is not computed.
    pub(super) const fn is_computed(&self) -> bool {
        match self {
            Self::Drying { .. }
            | Self::Boiling { .. }
            | Self::BurnOff { .. }
            | Self::Infiltration { .. }
            | Self::Uncoated(_)
            | Self::Uncertainty(_)
            | Self::TrappedGas { .. }
            | Self::Stress { .. }
            | Self::MeltBack(_)
            | Self::Surplus(_)
            | Self::PieceMax
            | Self::PieceOverSetpoint { .. }
            | Self::SensorToPiece
            | Self::Energy => true,
            Self::Ending { .. }
            | Self::CoatBudget { .. }
            | Self::Mismatch(_)
            | Self::SensorMax
            | Self::Overshoot
            | Self::SoakBand
            | Self::Interruption(_)
            | Self::Recording(_)
            | Self::SimulatedSensor(_)
            | Self::Duration { .. } => false,
        }
    }

    /// Whether it is computed from the pressure in the chamber.
    pub(super) const fn depends_on_pressure(&self) -> bool {
        matches!(
            self,
            Self::Drying { .. }
                | Self::Boiling { .. }
                | Self::BurnOff { .. }
                | Self::TrappedGas { .. }
        )
    }

    /// Title and unit.
    const fn title_and_unit(&self) -> (&'static str, Option<&'static str>) {
        match self {
            Self::Ending { .. } => ("Ending", None),
            Self::Drying { .. } => ("Dry", Some("share")),
            Self::Boiling { .. } => ("No boiling", Some("ratio")),
            Self::BurnOff { .. } => ("Burnt off", Some("share")),
            Self::Infiltration { .. } => ("Infiltrated through", Some("metre")),
            Self::Uncoated(_) => ("Infiltrated through", None),
            Self::Uncertainty(_) => ("Uncertainty", Some("share")),
            Self::CoatBudget { .. } => ("Glass in the coat", Some("ratio")),
            Self::TrappedGas { .. } => ("Trapped gas", Some("share")),
            Self::Surplus(_) => ("Surplus glass", Some("metre")),
            Self::Stress { .. } => ("Thermal stress", Some("pascal")),
            Self::Mismatch(_) => ("Cooling mismatch", Some("pascal")),
            Self::MeltBack(_) => ("Surface melted back", Some("metre")),
            Self::SensorMax => ("Hottest at the sensor", Some("celsius")),
            Self::PieceMax => ("Hottest in the piece", Some("celsius")),
            Self::Overshoot => ("Overshoot", Some("kelvin")),
            Self::PieceOverSetpoint { .. } => ("Piece above setpoint", Some("kelvin")),
            Self::SoakBand => ("Soak band", Some("kelvin")),
            Self::SensorToPiece => ("Sensor above piece", Some("kelvin")),
            Self::Interruption(_) => ("Power cut", Some("kelvin")),
            Self::Recording(_) => ("Recording", None),
            Self::SimulatedSensor(_) => ("Simulated sensor", Some("kelvin")),
            Self::Energy => ("Energy", Some("joule")),
            Self::Duration { .. } => ("Duration", Some("second")),
        }
    }
}
