//! Two faults, one of them latent before the start.
