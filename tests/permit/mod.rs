//! A permit is granted on proof, whatever the facts: NaN, infinities, missing channels,
//! contradictory contacts, furnaces whose numbers make no sense.

mod controller;
mod facts;
