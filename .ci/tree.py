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
