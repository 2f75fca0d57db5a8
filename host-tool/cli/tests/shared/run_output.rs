//! Exit code and output of a run of the binary, shared by all test binaries.

use std::process::Output;

/// Exit code and both streams.
#[derive(Debug)]
pub(crate) struct RunOutput {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

/// The output of a process that has exited by itself.
pub(crate) fn run_output(output: Output) -> RunOutput {
    let Output { status, stdout, stderr } = output;
    RunOutput {
        code: status.code().unwrap(),
        out: String::from_utf8(stdout).unwrap(),
        err: String::from_utf8(stderr).unwrap(),
    }
}
