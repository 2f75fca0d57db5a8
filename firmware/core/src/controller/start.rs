//! Whether a press of start may begin a firing.

use serde::{Deserialize, Serialize};

use super::Controller;
use crate::estimate::Estimate;
use crate::interlock::Cause;
use crate::io::Inputs;

/// Why a press of start begins nothing. A link carries the variant's number, so add new variants at the
/// end only.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum StartError {
    /// No programme is loaded.
    NoProgramme,
    /// The control channel gives no reading that can be believed.
    NoReading,
    /// This trip is latched.
    Tripped(Cause),
    /// The furnace is too hot for a programme that begins with heat.
    TooHot,
    /// Both channels read a cold furnace, and differ.
    ChannelsDifferCold,
    /// The terminals of the two channels differ.
    TerminalsDiffer,
    /// The contact that proves the chamber shut has not been seen open since the last firing: look
    /// whether it is shut, and press confirm.
    ContactUnproven,
    /// The gauge does not read air.
    NoAirInChamber,
    /// The furnace's data or the programme in memory differ from those that were loaded.
    DataChanged,
    /// The reading has fallen far since the power cut: press start again to go on.
    AskTwice,
}

impl Controller {
    /// Why a press of start in this tick begins nothing; `None` if it begins a firing.
    pub(super) fn start_error(
        &self,
        _inputs: &Inputs,
        estimate: &Estimate,
    ) -> Option<StartError> {
        if self.programme.is_none() {
            return Some(StartError::NoProgramme);
        }
        if let Some(cause) = self.interlock.trip() {
            return Some(StartError::Tripped(cause));
        }
        if estimate.control.is_err() {
            return Some(StartError::NoReading);
        }
        None
    }
}
