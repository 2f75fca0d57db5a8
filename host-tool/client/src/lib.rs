//! The desk at its end of a line to a device: [`link`] has the exchanges, [`logfile`] what is kept
//! of a firing that was watched, [`key`] what makes an order believed.

pub mod key;
pub mod link;
pub mod logfile;

pub use saggar_files::Error;
