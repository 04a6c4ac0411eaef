"""The packets of a board sheet, built and read by Python's own `struct` and `tomllib`, and by another library's checksums.

`client PROGRAM SHEET BOARD` reads and writes a virtual board over TCP and prints what it found, as JSON. `board SHEET` is a
board over TCP that holds made-up settings: it prints its port and what it holds, and, once the link is closed, what it
holds then.
"""

import json
import random
import socket
import struct
import subprocess
import sys
import tomllib

import fastcrc

TYPES = {"u8": "B", "u16": "H", "u32": "I", "i8": "b", "i16": "h", "i32": "i", "f32": "f"}


def fletcher(data):
    low = high = 0
    for byte in data:
        low = (low + byte) % 255
        high = (high + low) % 255
    return high << 8 | low


SUMS = {"CRC-16/KERMIT": fastcrc.crc16.kermit, "fletcher-16": fletcher}


def stuff(data):
    """COBS: each block begins with the distance to the next zero."""
    out, block, full = bytearray(), bytearray(), False
    for byte in data:
        full = False
        if byte:
            block.append(byte)
        if not byte or len(block) == 254:
            out += bytes([len(block) + 1]) + block
            full, block = len(block) == 254 and byte != 0, bytearray()
    return bytes(out if full else out + bytes([len(block) + 1]) + block)


def unstuff(data):
    out, at = bytearray(), 0
    while at < len(data):
        code = data[at]
        out += data[at + 1:at + code]
        at += code
        if code < 255 and at < len(data):
            out.append(0)
    return bytes(out)


class Speech:
    """Packets by a sheet's framing: its parts in their order, a length that counts the payload, a checksum over the rest."""

    def __init__(self, sheet):
        framing = sheet["packets"]["framing"]
        self.start = bytes(framing.get("start", []))
        self.parts = [part.split() for part in framing["parts"]]
        self.order = "<" if framing["byte-order"] == "little" else ">"
        self.sum = SUMS[framing["checksum"]]
        self.stuffed = framing["way"] == "cobs"
        self.heard = b""

    def number(self, kind, value):
        return struct.pack(self.order + TYPES[kind], value)

    def build(self, ident, number, payload):
        body = b""
        for part in self.parts:
            if part[0] == "checksum":
                body += self.number("u16", self.sum(body))
            elif part[0] == "payload":
                body += payload
            else:
                body += self.number(part[1], {"length": len(payload), "id": ident, "sequence": number}[part[0]])
        return stuff(body) + b"\0" if self.stuffed else self.start + body

    def read(self, body):
        """Id, number and payload of what stands behind the start, or was stuffed; `None` where the checksum is wrong."""
        front, back = [], []
        for part in self.parts:
            (back if ["payload"] in front else front).append(part)
        before = sum(struct.calcsize(TYPES[part[1]]) for part in front[:-1])
        assert back == [["checksum"]], back
        payload, (total,) = body[before:-2], struct.unpack(self.order + "H", body[-2:])
        values = dict(zip([part[0] for part in front[:-1]],
                          struct.unpack(self.order + "".join(TYPES[part[1]] for part in front[:-1]), body[:before])))
        if total != self.sum(body[:-2]):
            return None
        return values["id"], values.get("sequence", 0), payload

    def packets(self, data):
        """The packets that are whole now."""
        self.heard += data
        found = []
        while True:
            if self.stuffed:
                stuffed, mark, rest = self.heard.partition(b"\0")
                if not mark:
                    return found
                self.heard = rest
                if stuffed:
                    found.append(self.read(unstuff(stuffed)))
                continue
            at = self.heard.find(self.start)
            if at < 0 or len(self.heard) < at + 6:
                return found
            end = at + 6 + self.heard[at + 2]
            if len(self.heard) < end:
                return found
            found.append(self.read(self.heard[at + 2:end]))
            self.heard = self.heard[end:]


def settings(sheet):
    """The packets of settings: ask, answer, write, written, and the fields with place and format."""
    order = "<" if sheet["packets"]["framing"]["byte-order"] == "little" else ">"
    for packet in sheet["packets"]["settings"].values():
        rows = packet.get("rows", {"count": 1, "size": 0})
        fields = {}
        for row in range(rows["count"]):
            for name, field in packet["fields"].items():
                at = rows.get("at", 0) + row * rows["size"] + field["at"]
                fields[name.replace("{row}", str(row + 1))] = (at, order + TYPES[field["type"]])
        yield packet, fields


class Client:
    def __init__(self, sheet, port):
        self.speech, self.number = Speech(sheet), 0
        self.wire = socket.create_connection(("127.0.0.1", port), timeout=10)
        self.wire.settimeout(10)

    def ask(self, ident, answer, payload=b""):
        self.number = self.number % 255 + 1
        self.wire.sendall(self.speech.build(ident, self.number, payload))
        while True:
            for found in self.speech.packets(self.wire.recv(4096)):
                assert found, "a wrong checksum"
                if found[0] == answer:
                    assert not self.speech.stuffed or found[1] == self.number, found
                    return found[2]


def client(program, file, board):
    sheet = tomllib.load(open(file, "rb"))
    served = subprocess.Popen([program, "virtual", "--board", board, "--tcp", "0"], stdin=subprocess.PIPE,
                              stdout=subprocess.PIPE, text=True)
    try:
        port = next(int(line.rsplit(":", 1)[1]) for line in served.stdout if line.startswith("port "))
        link = Client(sheet, port)
        who = link.ask(sheet["packets"]["identity"]["ask"], sheet["packets"]["identity"]["answer"])
        read = {}
        for packet, fields in settings(sheet):
            held = link.ask(packet["ask"], packet["answer"])
            read |= {name: struct.unpack_from(form, held, at)[0] for name, (at, form) in fields.items()}
            if "LIGHT_LEVEL" in fields:
                at, form = fields["LIGHT_LEVEL"]
                wanted = bytearray(held)
                struct.pack_into(form, wanted, at, 77)
                link.ask(packet["write"], packet["written"], bytes(wanted))
                assert link.ask(packet["ask"], packet["answer"]) == wanted
        armed = link.ask(sheet["packets"]["armed"]["ask"], sheet["packets"]["armed"]["answer"])
        print(json.dumps({"id": who[:8].hex(), "kind": who[11:].rstrip(b"\0").decode(), "armed": armed[0] & 1,
                          "settings": read}))
    finally:
        served.terminate()
        served.wait()


def board(file):
    sheet = tomllib.load(open(file, "rb"))
    speech, dice = Speech(sheet), random.Random(7)
    held = {}
    for packet, fields in settings(sheet):
        bytes_ = bytearray(max(at + struct.calcsize(form) for at, form in fields.values()))
        for at, form in fields.values():
            value = dice.uniform(-9, 9) if form[1] == "f" else dice.choice([1, 100, 127, 0])
            struct.pack_into(form, bytes_, at, value)
        held[packet["ask"]] = (packet, fields, bytes_)
    writes = {packet["write"]: packet["ask"] for packet, _, _ in held.values()}

    def values():
        return {name: struct.unpack_from(form, bytes_, at)[0] for _, fields, bytes_ in held.values()
                for name, (at, form) in fields.items()}

    identity, armed = sheet["packets"]["identity"], sheet["packets"]["armed"]
    listener = socket.create_server(("127.0.0.1", 0))
    print(json.dumps({"port": listener.getsockname()[1], "settings": values()}), flush=True)
    wire, _ = listener.accept()
    while data := wire.recv(4096):
        for found in speech.packets(data):
            ident, number, payload = found
            if ident == identity["ask"]:
                wire.sendall(speech.build(identity["answer"], number,
                                          bytes.fromhex("00c0ffee00112233") + b"\1\2\3" + b"Sandpiper".ljust(12, b"\0")))
            elif ident == armed["ask"]:
                wire.sendall(speech.build(armed["answer"], number, b"\x80"))
            elif ident in held:
                packet, _, bytes_ = held[ident]
                wire.sendall(speech.build(packet["answer"], number, bytes(bytes_)))
            elif ident in writes:
                packet, fields, bytes_ = held[writes[ident]]
                assert len(payload) == len(bytes_), payload
                bytes_[:] = payload
                wire.sendall(speech.build(packet["written"], number, b""))
    print(json.dumps({"settings": values()}), flush=True)


{"client": client, "board": board}[sys.argv[1]](*sys.argv[2:])
