//! The link between a client and a device: a whole device with its flash, and honest and hostile
//! clients.

mod approval;
mod bytes;
mod client;
mod cuts;
mod floods;
mod happy;
mod holder;
mod lease;
mod locks;
mod messages;
mod mutate;
mod order;
mod page;
mod power_cuts;
mod presses;
mod raw;
mod refused;
mod replay;
mod seals;
mod stranger;
mod support;
mod tables;
mod trips;
