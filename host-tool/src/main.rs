//! The command line of the host tool.

use std::process::ExitCode;

use clap::Parser as _;

fn main() -> ExitCode {
    saggar::run(&saggar::settings::Settings::from(saggar::args::Args::parse()))
}
