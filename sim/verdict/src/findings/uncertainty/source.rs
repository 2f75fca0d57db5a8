//! The sources of uncertainty.

/// A source of uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UncertaintySource {
    /// The effective pore radius, a fitted value.
    PoreRadius,
    /// The viscosity of the glass at the temperature of the fit.
    Viscosity,
    /// Pore radius over viscosity, if the fit ties their errors together.
    RadiusOverViscosity,
    /// The tortuosity.
    Tortuosity,
    /// The contact angle.
    ContactAngle,
    /// How much the viscosity changes from the temperature of the fit to that of the firing.
    TemperatureDependence,
    /// The tolerance of the control sensor.
    Sensor,
    /// The computed temperature of the piece.
    PieceTemperature,
    /// The mean thickness of the wall, from piece to piece.
    Wall,
    /// The thickness of the wall from spot to spot within a piece.
    Unevenness,
}

impl UncertaintySource {
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::PoreRadius => "the pore radius",
            Self::Viscosity => "the viscosity of the glass",
            Self::RadiusOverViscosity => "pore radius over viscosity",
            Self::Tortuosity => "the tortuosity of the pores",
            Self::ContactAngle => "the contact angle",
            Self::TemperatureDependence => "the temperature dependence of the viscosity",
            Self::Sensor => "the tolerance of the sensor",
            Self::PieceTemperature => "the temperature of the piece",
            Self::Wall => "the wall from piece to piece",
            Self::Unevenness => "the unevenness of the wall",
        }
    }

    /// Whether the user can measure it.
    pub(super) const fn is_measurable(self) -> bool {
        match self {
            Self::Wall | Self::Unevenness | Self::Sensor | Self::TemperatureDependence => true,
            Self::PoreRadius
            | Self::Viscosity
            | Self::RadiusOverViscosity
            | Self::Tortuosity
            | Self::ContactAngle
            | Self::PieceTemperature => false,
        }
    }
}
