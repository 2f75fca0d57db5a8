"""A client written from docs/wire.md alone: reads the worked session there, builds every frame to the
device anew, and takes apart what the device answered. Run: python3 page_client.py docs/wire.md"""

import hashlib
import hmac
import re
import sys
import zlib

KEY = b"a key that only these two share."
NONCE = bytes([7] * 16)


def cobs(data):
    out, run = bytearray(), bytearray()
    for byte in data:
        if byte:
            run.append(byte)
        if not byte or len(run) == 254:
            out += bytes([len(run) + 1]) + run
            run.clear()
    return bytes(out + bytes([len(run) + 1]) + run)


def uncobs(data):
    out, at = bytearray(), 0
    while at < len(data):
        code = data[at]
        out += data[at + 1:at + code]
        at += code
        if code < 255 and at < len(data):
            out.append(0)
    return bytes(out)


def frame(body):
    return cobs(body + zlib.crc32(body).to_bytes(4, "little")) + b"\0"


def body(frame):
    assert frame[-1] == 0 and 0 not in frame[:-1]
    data = uncobs(frame[:-1])
    assert zlib.crc32(data[:-4]).to_bytes(4, "little") == data[-4:], "CRC"
    return data[:-4]


def seal(key, data):
    return hmac.new(key, data, hashlib.sha256).digest()[:16]


def varint(number):
    out = bytearray()
    while number > 127:
        out.append(number & 127 | 128)
        number >>= 7
    return bytes(out) + bytes([number])


class Reader:
    def __init__(self, data):
        self.data = data

    def take(self, count):
        taken, self.data = self.data[:count], self.data[count:]
        assert len(taken) == count, "too short"
        return taken

    def number(self):
        value = shift = 0
        while True:
            byte = self.take(1)[0]
            value |= (byte & 127) << shift
            shift += 7
            if byte < 128:
                return value

    def signed(self):
        number = self.number()
        return number >> 1 ^ -(number & 1)

    def option(self, read):
        return read() if self.take(1) == b"\1" else None


def hello(message):
    read = Reader(message)
    assert read.take(1) == b"\0", "notice Hello"
    fields = {"device": read.take(8), "nonce": read.take(16), "has_key": read.take(1) == b"\1",
              "version": tuple(read.take(3)), "boot": read.number(), "furnace": read.take(32),
              "programme": read.option(lambda: read.take(32)), "window": read.take(1)[0]}
    assert not read.data
    return fields


def status(message):
    read = Reader(message)
    assert read.take(1) == b"\1", "notice Status"
    byte = lambda: read.take(1)[0]

    def ending():
        kind = byte()
        return (kind, byte()) if kind == 2 else (kind,)

    def bookmark():
        return (byte(), read.number(), read.signed(), byte())

    def start_error():
        kind = byte()
        return (kind, byte()) if kind == 2 else (kind,)

    fields = {"at_ms": read.number(), "programme": read.option(lambda: read.take(4)),
              "step": read.option(byte), "steps": byte(), "setpoint_mc": read.option(read.signed),
              "reading_mc": read.option(read.signed), "limit_mc": read.option(read.signed),
              "pressure_pa": read.option(read.number),
              "cycles": byte(), "cycles_per_tick": byte(), "operator_wanted": byte() == 1,
              "tripped": read.option(byte), "ended": read.option(ending),
              "log_next": read.number(), "bad_frames": read.number(), "damaged": byte() == 1,
              "shut": byte() == 1, "open": byte() == 1, "contactor_closed": byte() == 1,
              "heater_current_ma": read.option(read.number), "may_open": byte() == 1,
              "waiting": read.option(byte), "interrupted": read.option(bookmark),
              "start_error": read.option(start_error), "heater_weak": byte() == 1}
    assert not read.data
    return fields


def blocks(page):
    text = page[page.index("## A worked session"):]
    programme = bytes.fromhex(re.search(r"```text\n(.*?)```", text, re.S)[1])
    steps = []
    for line in re.search(r"```session\n(.*?)```", text, re.S)[1].splitlines():
        if line[0] in "<>":
            steps.append([line[0], line[2:], b""])
        else:
            steps[-1][2] += bytes.fromhex(line)
    return programme, steps


def main(path):
    programme, steps = blocks(open(path, encoding="utf-8").read())
    digest = hashlib.sha256(programme).digest()
    answers = [body(bytes_) for way, _, bytes_ in steps if way == "<"]
    meeting = hello(answers[0][2:])
    assert meeting["device"] == b"furnace1" and meeting["has_key"]
    key = hmac.new(KEY, b"saggar session\2" + meeting["device"] + meeting["nonce"] + NONCE,
                   hashlib.sha256).digest()

    def order(sequence, message):
        signed = b"\2\2" + sequence.to_bytes(4, "little") + message
        return frame(signed + seal(key, signed))

    length = varint(len(programme))
    chunk = b"\1" + varint(0) + length + programme
    built = {
        "Query Hello": frame(b"\2\1\0" + NONCE),
        "Query Status": frame(b"\2\1\1"),
        "Query Log": frame(b"\2\1\3" + varint(0)),
        "Query Programme": frame(b"\2\1\4" + varint(0)),
        "Order 0 Begin": order(0, b"\0" + length + digest + meeting["furnace"]),
        "Order 1 Chunk": order(1, chunk),
        "Order 2 Commit": order(2, b"\2" + digest),
        "Order 3 Chunk": order(3, chunk),
        "Order 4 Stop": order(4, b"\3"),
    }
    sent = {name: bytes_ for way, name, bytes_ in steps if way == ">"}
    assert built == sent, [name for name in sent if built.get(name) != sent[name]]
    expected = {0: b"\0", 1: b"\1" + length, 2: b"\2" + digest, 3: b"\5\x0a", 4: b"\3"}
    for answer in answers:
        if answer[:2] == b"\2\4":
            assert seal(key, answer[:-16]) == answer[-16:], "the seal of an answer"
            assert answer[6:-16] == expected.pop(int.from_bytes(answer[2:6], "little"))
    assert not expected, expected
    shown = next(status(a[2:]) for a in answers if a[:3] == b"\2\3\1")
    assert shown["programme"] == digest[:4] and shown["step"] is None
    print(f"{len(steps)} frames agree; {shown['reading_mc'] / 1000} °C")


main(sys.argv[1])
