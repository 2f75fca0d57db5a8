//! The line between a desk and a device: a whole device with its flash, and whoever may sit at the
//! other end of the line.

mod approval;
mod bytes;
mod cuts;
mod desk;
mod floods;
mod happy;
mod holder;
mod lease;
mod locks;
mod messages;
mod mutate;
mod order;
mod page;
mod presses;
mod raw;
mod refused;
mod replay;
mod seals;
mod stranger;
mod support;
mod tables;
mod trips;
