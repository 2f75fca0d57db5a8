//! What a run of the binary said: shared by all who run it.

use std::process::Output;

/// Exit code and both streams.
#[derive(Debug)]
pub(crate) struct Said {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

/// What it said, once it has ended by itself.
pub(crate) fn said(output: Output) -> Said {
    let Output { status, stdout, stderr } = output;
    Said {
        code: status.code().unwrap(),
        out: String::from_utf8(stdout).unwrap(),
        err: String::from_utf8(stderr).unwrap(),
    }
}
