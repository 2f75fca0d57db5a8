//! The invariants by name, and where each is shown.

/// What must always hold, numbered as in `docs/campaign.md`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Invariant {
    /// I1.
    HeatOnProof,
    /// I2.
    OpenChamberIsOff,
    /// I3.
    ChamberBound,
    /// I4.
    LatchEndsAtDevice,
    /// I5.
    HeatWaitsForVacuum,
    /// I6.
    ValveOrder,
    /// I7.
    CommandInBounds,
    /// I8.
    SamplesFresh,
    /// I9.
    ProgrammeFixed,
    /// I10.
    FlashOneSlot,
    /// I11.
    LinkOnlyLowers,
    /// I12.
    LinkBounded,
    /// I13.
    WatchdogInOrder,
    /// I14.
    TripsTold,
    /// I15.
    SameSeedSameFiring,
}

/// Where an invariant is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Evidence {
    /// The watch sees it on every bench.
    Watched,
    /// A bench of the core does not show it: these tests do.
    Tests(&'static [&'static str]),
}

impl Invariant {
    /// All, in order.
    pub const ALL: [Self; 15] = [
        Self::HeatOnProof,
        Self::OpenChamberIsOff,
        Self::ChamberBound,
        Self::LatchEndsAtDevice,
        Self::HeatWaitsForVacuum,
        Self::ValveOrder,
        Self::CommandInBounds,
        Self::SamplesFresh,
        Self::ProgrammeFixed,
        Self::FlashOneSlot,
        Self::LinkOnlyLowers,
        Self::LinkBounded,
        Self::WatchdogInOrder,
        Self::TripsTold,
        Self::SameSeedSameFiring,
    ];

    /// Its number, from 1.
    pub const fn number(self) -> usize {
        self as usize + 1
    }

    /// What must hold, in a sentence.
    pub const fn statement(self) -> &'static str {
        match self {
            Self::HeatOnProof => {
                "Cycles are commanded only with the contactor, in a firing, without a latched trip, \
                 with the chamber proven shut and both channels answering."
            }
            Self::OpenChamberIsOff => {
                "A chamber that is truly open gets no power after three ticks."
            }
            Self::ChamberBound => {
                "The muffle is at most 25 K, or the profile's smaller allowance, above anything that \
                 was asked for so far."
            }
            Self::LatchEndsAtDevice => {
                "A latched trip ends only by a press of confirm; a power cut keeps it."
            }
            Self::HeatWaitsForVacuum => {
                "The setpoint does not rise past the temperature of a vacuum before its pressure is \
                 reached."
            }
            Self::ValveOrder => {
                "The vent and the valve to the pump are never open together, the valve never without \
                 the pump, and the vent never in a hot chamber."
            }
            Self::CommandInBounds => {
                "No more cycles are commanded than a tick has, and the setpoint stays within the \
                 programme's limit and the furnace's fastest ramp."
            }
            Self::SamplesFresh => "No heat on a sample that is too old.",
            Self::ProgrammeFixed => "The programme that runs is the one that was started.",
            Self::FlashOneSlot => {
                "At most one slot of the flash is erased or written, never the active one."
            }
            Self::LinkOnlyLowers => "Nothing on the link changes the heat except to stop it.",
            Self::LinkBounded => "A tick reads a bounded number of bytes from the link.",
            Self::WatchdogInOrder => {
                "The watchdog is kicked only after a tick that wrote all its outputs."
            }
            Self::TripsTold => "Every trip has one event with its cause, the first one first.",
            Self::SameSeedSameFiring => "The same seed gives the same firing, bit for bit.",
        }
    }

    /// Where it is shown.
    pub const fn evidence(self) -> Evidence {
        match self {
            Self::HeatOnProof
            | Self::OpenChamberIsOff
            | Self::ChamberBound
            | Self::LatchEndsAtDevice
            | Self::ValveOrder
            | Self::CommandInBounds
            | Self::TripsTold => Evidence::Watched,
            Self::HeatWaitsForVacuum => Evidence::Tests(&["sequencer_props::vacuum"]),
            Self::SamplesFresh => Evidence::Tests(&["permit::proofs", "drivers::slow"]),
            Self::ProgrammeFixed => {
                Evidence::Tests(&["permit::load", "interlocks::programme", "upload::holder"])
            }
            Self::FlashOneSlot => {
                Evidence::Tests(&["store::rules", "store::power_failures_during_an_upload"])
            }
            Self::LinkOnlyLowers => {
                Evidence::Tests(&["upload::holder::holder_of_the_key_cannot_start_heat"])
            }
            Self::LinkBounded => Evidence::Tests(&[
                "upload::bytes::bytes_beyond_the_budget_cost_only_the_frames_of_their_tick",
            ]),
            Self::WatchdogInOrder => Evidence::Tests(&["drivers::tests::board"]),
            Self::SameSeedSameFiring => {
                Evidence::Tests(&["firings::bench", "snapshot::firings"])
            }
        }
    }
}
