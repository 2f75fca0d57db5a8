//! Passes the inputs of the fuzzing engine to the target `schedule`.
#![no_main]

libfuzzer_sys::fuzz_target!(|input: &[u8]| saggar_fuzz::schedule(input));
