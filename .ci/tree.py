"""A copy of the tracked tree below the target folder, for checks that change the source text."""

import json
import os
import subprocess
import sys

TOP = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))


def target():
    """The target folder of this tree."""
    return os.path.abspath(os.environ.get("CARGO_TARGET_DIR", os.path.join(TOP, "target")))


def tracked():
    """Paths of all files that are tracked or new, from the top."""
    out = subprocess.run(["git", "ls-files", "-coz", "--exclude-standard"], cwd=TOP, check=True, stdout=subprocess.PIPE)
    names = out.stdout.decode().split("\0")
    return [name for name in names if name and os.path.isfile(os.path.join(TOP, name))]


def write(folder, texts):
    """Makes a folder hold exactly these files, given as bytes by their path, beside `target`. What is the
    same already is not touched, so that cargo builds only what has changed."""
    for name, text in texts.items():
        path = os.path.join(folder, name)
        if os.path.isfile(path):
            with open(path, "rb") as file:
                if file.read() == text:
                    continue
        os.makedirs(os.path.dirname(path), exist_ok=True)
        with open(path, "wb") as file:
            file.write(text)
    for place, folders, files in os.walk(folder):
        if place == folder:
            folders[:] = [name for name in folders if name != "target"]
        for name in files:
            path = os.path.join(place, name)
            if os.path.relpath(path, folder) not in texts:
                os.remove(path)


def read(names):
    """The content of files of this tree, by their path from the top."""
    texts = {}
    for name in names:
        with open(os.path.join(TOP, name), "rb") as file:
            texts[name] = file.read()
    return texts


def build(folder, options, environment=None):
    """Builds in a copy; returns the paths of the programs and test binaries by the name of their target."""
    command = ["cargo", *options, "--message-format=json-render-diagnostics"]
    out = subprocess.run(command, cwd=folder, stdout=subprocess.PIPE, text=True,
                         env={**os.environ, **(environment or {})})
    if out.returncode != 0:
        sys.exit(f"{' '.join(command)}: failed in {folder}")
    found = {}
    for line in out.stdout.splitlines():
        message = json.loads(line)
        if message.get("executable"):
            found[message["target"]["name"]] = message["executable"]
    return found


# Modules of tests/ that need the core alone, and what each is without the files that need more.
CORE_TESTS = {"support": (), "interlocks": (), "permit": (), "recovery": (), "sequencer_props": (),
              "snapshot": ("firings",)}
# Files of a module whose others need more.
CORE_FILES = {"published": ("burst.rs", "control.rs", "thermocouple.rs", "thermocouple_emf.csv")}

CORE_MANIFEST = """[package]
name = "saggar-core-tests"
version.workspace = true
edition.workspace = true

[dependencies]
saggar-core = { workspace = true, features = ["restore"] }

[dev-dependencies]
heapless.workspace = true
postcard.workspace = true
proptest.workspace = true
serde.workspace = true
sha2.workspace = true

[lib]
path = "lib.rs"

[[test]]
name = "together"
path = "main.rs"
"""


def core_alone():
    """The content of a workspace that has the core and those of its tests that need nothing else: a change
    of the core is built and tested in it as fast as can be."""
    names = [name for name in tracked() if name.startswith(("firmware/core/", "Cargo.", ".clippy.toml"))]
    names += [name for name in tracked() if name.startswith("tests/")
              and (name.split("/")[1] in CORE_TESTS
                   or name in {f"tests/{module}/{it}" for module, files in CORE_FILES.items() for it in files})]
    texts = read(names)
    root = texts["Cargo.toml"].decode()
    members = root.index("members = ["), root.index("]", root.index("members = [")) + 1
    root = root[:members[0]] + 'members = ["firmware/core", "tests"]' + root[members[1]:]
    root = "\n".join(line for line in root.split("\n") if not line.startswith("default-members"))
    root = root.replace("\nsaggar-tests.opt-level", "\nsaggar-core-tests.opt-level")
    texts["Cargo.toml"] = root.encode()
    main = "".join(f"mod {name};\n" for name in CORE_TESTS)
    for module, files in CORE_FILES.items():
        main += f"mod {module};\n"
        parts = (name.split(".") for name in files)
        texts[f"tests/{module}/mod.rs"] = "".join(f"mod {it};\n" for it, kind in parts if kind == "rs").encode()
    for module, without in CORE_TESTS.items():
        path = f"tests/{module}/mod.rs"
        text = texts[path].decode()
        for name in without:
            text = text.replace(f"mod {name};\n", "", 1)
            del texts[f"tests/{module}/{name}.rs"]
        texts[path] = text.encode()
    texts["tests/Cargo.toml"] = CORE_MANIFEST.encode()
    texts["tests/main.rs"] = ("#![allow(warnings)]\n" + main).encode()
    texts["tests/lib.rs"] = b""
    return texts
