//! Hands the linker its scripts.

fn main() {
    println!("cargo::rerun-if-changed=memory.x");
    println!("cargo::rustc-link-search={}", env!("CARGO_MANIFEST_DIR"));
    for argument in ["--nmagic", "-Tlink.x", "-Tdefmt.x"] {
        println!("cargo::rustc-link-arg-bins={argument}");
    }
}
