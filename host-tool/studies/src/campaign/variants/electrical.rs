//! Faults of the heater, its switches and the mains.

use saggar_core::interlock::Cause::{
    self, AboveProgrammeLimit, ContactorNotFollowing, HeaterCurrentWrong, HeaterStuckOn,
    HeaterWithoutEffect, NoHeaterCurrent,
};
use saggar_plant::faults::FaultKind::*;

use super::variant::{Variant, bounded, trips};
use crate::campaign::expectation::Exposure;

/// No current although it is commanded.
const DEAD: &[Cause] = &[NoHeaterCurrent, HeaterWithoutEffect];

/// A current that is not the expected one.
const ODD: &[Cause] =
    &[HeaterCurrentWrong, HeaterWithoutEffect, NoHeaterCurrent, HeaterStuckOn];

/// Current without a command.
const STUCK: &[Cause] = &[HeaterStuckOn, AboveProgrammeLimit];

/// A contactor or its contact.
const CONTACTOR: &[Cause] = &[ContactorNotFollowing, NoHeaterCurrent];

/// The heater's side.
pub(super) const ELECTRICAL: [Variant; 29] = [
    Variant::of(ElementOpen, trips(DEAD, 1.5, Exposure::Cycles)),
    Variant::of(ElementOpen, bounded(DEAD)).intermittent(20.0, 5.0),
    Variant::of(ElementAged, bounded(ODD)),
    Variant::of(ElementAged, bounded(ODD)).severity(55.0),
    Variant::of(ElementShorted, bounded(ODD)),
    Variant::of(ElementShorted, bounded(ODD)).severity(115.0),
    Variant::of(SwitchStuck, trips(STUCK, 4.0, Exposure::NoCycles)),
    Variant::of(SwitchStuck, bounded(STUCK)).intermittent(60.0, 3.0),
    Variant::of(SwitchDead, trips(DEAD, 1.5, Exposure::Cycles)),
    Variant::of(SwitchHalf, bounded(ODD)),
    Variant::of(SwitchHalf, bounded(ODD)).severity(25.0),
    Variant::of(SwitchLeaks, trips(STUCK, 4.0, Exposure::NoCycles)),
    Variant::of(SwitchLeaks, bounded(STUCK)).severity(5.0),
    Variant::of(ContactorWelded, trips(CONTACTOR, 0.6, Exposure::SeemsClosed)),
    Variant::of(ContactorDead, trips(CONTACTOR, 0.6, Exposure::Closed)),
    Variant::of(ContactorDead, bounded(CONTACTOR)).intermittent(3.0, 0.3),
    Variant::of(AuxiliaryOpen, trips(CONTACTOR, 0.6, Exposure::Closed)),
    Variant::of(AuxiliaryClosed, trips(CONTACTOR, 0.6, Exposure::SeemsClosed)),
    Variant::of(AuxiliaryStuck, bounded(CONTACTOR)),
    Variant::of(CurrentDead, trips(DEAD, 1.5, Exposure::Cycles)),
    Variant::of(CurrentSilent, trips(DEAD, 1.5, Exposure::Cycles)),
    Variant::of(CurrentScaled, bounded(ODD)),
    Variant::of(CurrentScaled, bounded(ODD)).severity(150.0),
    Variant::of(CurrentScaled, bounded(ODD)).severity(300.0),
    Variant::of(MainsLow, bounded(ODD)),
    Variant::of(MainsLow, bounded(ODD)).severity(50.0),
    Variant::of(MainsLow, bounded(ODD)).severity(50.0).intermittent(30.0, 0.5),
    Variant::of(MainsHigh, bounded(ODD)),
    Variant::of(MainsHigh, bounded(ODD)).severity(130.0),
];
