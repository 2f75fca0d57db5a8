# shellcheck shell=bash disable=SC2034
# To be sourced, with `top` set: sets `cargo`, `options`, `target`, `out` and the linker for images of a
# Cortex-M4F. Needs the target (rustup target add thumbv7em-none-eabihf), or the sources of the
# standard library (rustup component add rust-src), from which a stable compiler builds it if it is
# told that it may.
target=thumbv7em-none-eabihf
sysroot=$(rustc --print sysroot)
cargo=(cargo)
options=()
if [ ! -d "$sysroot/lib/rustlib/$target" ]; then
    if [ ! -d "$sysroot/lib/rustlib/src/rust/library/core" ]; then
        echo "no $target target: run .ci/setup" >&2
        exit 1
    fi
    export RUSTC_BOOTSTRAP=1
    options=(-Zbuild-std=core)
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
