//! Empty: the tests live in `main.rs` beside this folder, and a package needs a target.
