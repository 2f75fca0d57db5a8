# To be sourced: sets `cargo`, `target`, `out` and the linker for images of a Cortex-M4F. Needs
# either a toolchain with the target (rustup target add thumbv7em-none-eabihf), or one with the
# sources of the standard library (Debian: rustc-web cargo-web rust-web-src). Rustup's reads no
# nightly option, Debian's is told that it may.
target=thumbv7em-none-eabihf
sysroot=$(rustc --print sysroot)
if [ -d "$sysroot/lib/rustlib/$target" ]; then
    cargo=(cargo)
    options=()
elif [ -x /usr/bin/cargo ] && [ -d /usr/lib/rustlib/src/rust/library/core ]; then
    export RUSTC=/usr/bin/rustc RUSTC_BOOTSTRAP=1
    cargo=(/usr/bin/cargo)
    options=(-Zbuild-std=core)
else
    echo "no $target target, and no sources to build it from" >&2
    exit 1
fi
linker=$(find "$sysroot/lib/rustlib" -name rust-lld -type f | head -n 1)
linker=${linker:-$(command -v ld.lld)}
export CARGO_TARGET_THUMBV7EM_NONE_EABIHF_LINKER=$linker
export CARGO_TARGET_DIR=${CARGO_TARGET_DIR:-$top/target}/bare-metal
out=$CARGO_TARGET_DIR/$target/release

# Builds the image of this folder under firmware/boards; more arguments go to cargo.
image() {
    local folder=$1
    shift
    (cd "$top/firmware/boards/$folder" &&
        "${cargo[@]}" build "${options[@]}" --release --locked --target "$target" "$@")
}

# The planted bug of an image must fail the link, and for the reason that the proof rests on.
planted_bug_fails() {
    local log=$CARGO_TARGET_DIR/$1-planted-bug.log
    if image "$1" --features planted-bug >"$log" 2>&1; then
        echo "$1: the planted bug was linked: the check has no teeth" >&2
        return 1
    fi
    if ! grep -q 'undefined symbol: a_panic_can_be_reached' "$log"; then
        echo "$1: the planted bug failed for another reason:" >&2
        cat "$log" >&2
        return 1
    fi
    echo "$1: with a planted unchecked index the link fails, as it must"
}

# Bytes of a symbol.
bytes_of() {
    echo $((16#$(nm -S "$1" | awk -v name="$2" '$4 == name { print $2 }')))
}
