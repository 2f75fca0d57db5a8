//! The line between a desk and a device: a whole device with its flash, and whoever may sit at the
//! other end of the line.

mod bytes;
mod desk;
mod happy;
mod lease;
mod messages;
mod mutate;
mod order;
mod raw;
mod replay;
mod seals;
mod support;
mod trips;
