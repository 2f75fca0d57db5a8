//! Hands the linker its script.

fn main() {
    println!("cargo::rerun-if-changed=memory.ld");
    println!("cargo::rustc-link-arg-bins=-T{}/memory.ld", env!("CARGO_MANIFEST_DIR"));
    println!("cargo::rustc-link-arg-bins=--gc-sections");
}
