#!/usr/bin/env python3
"""Looks for recursion in a linked image: a cycle of direct calls in its disassembly.

    calls.py IMAGE          fails if there is a cycle; counts indirect calls, which it cannot see
    calls.py IMAGE PATTERN  prints who calls or jumps to functions whose name fits PATTERN

An edge is any branch from one function to the beginning of another, so that tail calls count.
Branches inside a function are loops and count only if they call its own beginning (`bl`).
Needs arm-none-eabi-objdump (Debian: binutils-arm-none-eabi).
"""

import re
import subprocess
import sys

HEAD = re.compile(r"^([0-9a-f]+) <(.+)>:$")
TARGET = re.compile(r"([0-9a-f]+) <(.+?)(\+0x[0-9a-f]+)?>")
INDIRECT = re.compile(r"^(r\d+|ip|lr)\b")


def disassemble(image):
    """Direct edges between functions, and the indirect calls of each, by address."""
    text = subprocess.run(
        ["arm-none-eabi-objdump", "-d", "-C", "--no-show-raw-insn", image],
        check=True, capture_output=True, text=True).stdout
    names, edges, indirect, here = {}, {}, {}, None
    for line in text.splitlines():
        if head := HEAD.match(line):
            here = int(head[1], 16)
            names[here] = head[2]
            edges[here] = set()
            continue
        parts = line.split("\t")
        if here is None or len(parts) < 2:
            continue
        operation = parts[1].split(".")[0]
        operands = parts[2] if len(parts) > 2 else ""
        if operation in ("blx", "bx") and INDIRECT.match(operands):
            if operation == "blx" or not operands.startswith("lr"):
                indirect[here] = indirect.get(here, 0) + 1
            continue
        if not operation.startswith(("b", "cb")) or operation.startswith(("bic", "bf", "bkpt")):
            continue
        target = TARGET.search(operands)
        if not target or target[3]:
            continue
        to = int(target[1], 16)
        if to != here or operation in ("bl", "blx"):
            edges[here].add(to)
    return names, edges, indirect


def cycles(edges):
    """Strongly connected groups with more than one member, or with an edge to itself."""
    order, low, stack, on, found = {}, {}, [], set(), []

    def visit(root):
        work = [(root, iter(edges.get(root, ())))]
        order[root] = low[root] = len(order)
        stack.append(root)
        on.add(root)
        while work:
            node, rest = work[-1]
            for to in rest:
                if to not in order:
                    order[to] = low[to] = len(order)
                    stack.append(to)
                    on.add(to)
                    work.append((to, iter(edges.get(to, ()))))
                    break
                if to in on:
                    low[node] = min(low[node], order[to])
            else:
                work.pop()
                if work:
                    above = work[-1][0]
                    low[above] = min(low[above], low[node])
                if low[node] == order[node]:
                    group = []
                    while True:
                        member = stack.pop()
                        on.discard(member)
                        group.append(member)
                        if member == node:
                            break
                    if len(group) > 1 or node in edges.get(node, ()):
                        found.append(group)

    for node in list(edges):
        if node not in order:
            visit(node)
    return found


def main():
    names, edges, indirect = disassemble(sys.argv[1])
    if len(sys.argv) > 2:
        for caller, called in edges.items():
            for to in called:
                if re.search(sys.argv[2], names.get(to, "")):
                    print(f"{names[caller]}  ->  {names[to]}")
        return 0
    count = sum(len(called) for called in edges.values())
    if len(edges) < 20 or count < 20:
        print(f"calls: {len(edges)} functions, {count} calls: that is no image", file=sys.stderr)
        return 1
    found = cycles(edges)
    for group in found:
        print("calls: recursion: " + ", ".join(sorted(names[one] for one in group)),
              file=sys.stderr)
    for one in sorted(indirect, key=names.get):
        print(f"  unknown: {indirect[one]} indirect in {names[one]}")
    print(f"{len(edges)} functions, {count} direct edges, {sum(indirect.values())} indirect calls "
          f"unknown, {len(found)} cycles")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
