//! The uncertainty budget: what each source contributes.

use super::super::limits::DOMINANT_SHARE;
use super::distribution::root_sum_of_squares;
use super::source::UncertaintySource;

/// The contribution of one source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UncertaintyComponent {
    /// The source.
    pub source: UncertaintySource,
    /// Standard deviation of the logarithm of depth squared over wall squared.
    pub ln_sd: f64,
    /// Share of the whole variance.
    pub share: f64,
}

/// The uncertainty of the infiltration depth of one piece, split into its components.
#[derive(Clone, Debug, PartialEq)]
pub struct UncertaintyBudget {
    /// Probability that the front gets through every spot of every piece.
    pub probability: f64,
    /// Standard deviation of the logarithm of depth squared over wall squared.
    pub ln_sd: f64,
    /// The components, the largest first.
    pub components: Vec<UncertaintyComponent>,
}

impl UncertaintyBudget {
    /// From the standard deviations of the sources.
    pub(super) fn new(
        probability: f64,
        sds: impl IntoIterator<Item = (UncertaintySource, f64)>,
    ) -> Self {
        let share = 0.0;
        let mut components: Vec<_> = sds
            .into_iter()
            .map(|(source, ln_sd)| UncertaintyComponent { source, ln_sd, share })
            .collect();
        let ln_sd = root_sum_of_squares(components.iter().map(|component| component.ln_sd));
        if ln_sd > 0.0 {
            for component in &mut components {
                component.share = (component.ln_sd / ln_sd) * (component.ln_sd / ln_sd);
            }
        }
        components.sort_by(|a, b| b.share.total_cmp(&a.share));
        Self { probability, ln_sd, components }
    }

    /// The largest component, if it makes up most of the uncertainty and the user can measure it.
    pub(crate) fn dominant_input(&self) -> Option<UncertaintyComponent> {
        let largest = *self.components.first()?;
        (largest.source.is_measurable() && largest.share >= DOMINANT_SHARE).then_some(largest)
    }
}
