//! A model of a device in its furnace that is searched to the end: the real control core, with everything
//! that an operator, a host, a power cut and a fault can do to it, in every order.
//!
//! `docs/model-check.md` says what is modelled and what the search cannot see. [`key`] states which states
//! count as one, and why.

mod kept;
pub mod key;
pub mod model;
pub mod plant;
pub mod rules;
pub mod state;

pub use model::{Action, Model, Scope};
pub use state::{State, Wrapper};
