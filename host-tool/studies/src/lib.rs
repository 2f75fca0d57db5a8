//! Studies that fire many times: campaigns that try every fault, every power cut and many seeds on the
//! simulated furnace, with the real core in the loop and an outside observer on the bench.

pub mod campaign;
