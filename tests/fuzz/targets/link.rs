//! Passes the inputs of the fuzzing engine to the target `link`.
#![no_main]

libfuzzer_sys::fuzz_target!(|input: &[u8]| saggar_fuzz::link(input));
