//! The command line of the host tool.

use std::process::ExitCode;

fn main() -> ExitCode {
    match saggar::arguments() {
        Ok(args) => saggar::run(&saggar::settings::Settings::from(args)),
        Err(code) => code,
    }
}
