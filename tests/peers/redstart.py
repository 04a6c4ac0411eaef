"""The Redstart: a board of our own making that answers packets, built and read with Python's own `struct` and `zlib`.

Its world, its settings and the way it arms are the Wagtail's; its speech is its own, and unlike that of any Finch.

A packet: one start byte (0xA7 to the board, 0x7A from it), a length (u16) that counts the whole packet from its start byte
to its end, the number of the question (u8; 0 in what nobody asked for), the id (u8), the payload, and a CRC-32 (ISO-HDLC)
over everything between start byte and checksum. Highest byte first throughout. No packet is longer than 54 bytes.

    0x01 who           -> 0x02  id (12 bytes), version (2 x u8), name (text to the end)
    0x10 [part]        -> 0x11  [part], then that part's settings, one behind the other; parts 0 to 3
    0x12 [part] values -> 0x13  written whole; or 0x7F
    0x20 [1] keep, [2] start anew, [3] off
                       -> 0x21  u8: 0 done, 1 refused; then why (text to the end). Nothing answers [2].
    0x22 motor (u8 from 0), pulse (u8, 4 us a step from 1000), time (u8, 20 ms a step; 100 at most)
                       -> 0x21
    0x40 state         -> 0x41  flags (u8: bit 3 live, bit 6 radio), roll and nose (i16, 0.01 deg), pack (u16, mV),
                                current (u16, 10 mA), outputs 1 to 4 (u8, 4 us a step from 1000)
    0x42 speeds        -> 0x43  4 x u16, 10 rpm a step
    unasked            -> 0x50  25 times a second: u8 1 with a radio, else 0; 12 pulses (u16, us)
    unasked            -> 0x60  it has started; 0x61 text
    refused            -> 0x7F  the id that was asked (u8), why (text to the end)

    redstart.py LINK SLOW   serves it as wagtail.py does
"""

import json
import os
import struct
import sys
import zlib

from wagtail import SETTINGS, Wagtail

# It sits straight, hears what it is made for, and turns as it is wired: it has no settings for that.
for name in [name for name in SETTINGS if name.startswith(("SEAT_", "EAR_", "SHAFT_"))]:
    del SETTINGS[name]

LETTERS = {"u8": "B", "i8": "b", "u16": "H", "i16": "h", "i32": "i", "real": "f"}
LONGEST = 54
EVERY = 0.04


def parts():
    """The settings in their order, as many in a part as fit into 40 bytes."""
    made, room = [[]], 40
    for name, (kind, *_) in SETTINGS.items():
        size = struct.calcsize(">" + LETTERS[kind])
        if size > room:
            made.append([])
            room = 40
        made[-1].append(name)
        room -= size
    return made


PARTS = parts()


def layout(part):
    return ">" + "".join(LETTERS[SETTINGS[name][0]] for name in PARTS[part])


class Redstart(Wagtail):
    """The board on its wire, in its world."""

    def seen(self):
        return (*self.world.lean, self.world.heads)

    def open(self, now):
        super().open(now)
        self.inbox = b""
        self.intervals = {message: EVERY if message == 65 else 1e9 for message in self.intervals}
        self.send(self.packet(0x60, 0))

    @staticmethod
    def packet(kind, number, payload=b""):
        body = struct.pack(">HBB", 9 + len(payload), number, kind) + payload
        return b"\x7a" + body + struct.pack(">I", zlib.crc32(body))

    def send(self, message, component=1):
        self.write(message)

    def text(self, severity, text):
        self.send(self.packet(0x61, 0, text.encode()[:40]))

    def neighbours_talk(self, now):
        self.neighbours = now + 1e9

    def tell(self, message, now):
        if message == 65:
            pulses = self.board.pulses
            self.send(self.packet(0x50, 0, struct.pack(">B12H", pulses is not None, *(pulses or [0] * 12))))

    def receive(self, now):
        try:
            self.inbox += os.read(self.master, 4096)
        except (BlockingIOError, OSError):
            return
        while True:
            at = self.inbox.find(b"\xa7")
            if at < 0:
                self.inbox = b""
                return
            self.inbox = self.inbox[at:]
            if len(self.inbox) < 3:
                return
            length = struct.unpack(">H", self.inbox[1:3])[0]
            if not 9 <= length <= LONGEST:
                self.inbox = self.inbox[1:]
                continue
            if len(self.inbox) < length:
                return
            body, (check,) = self.inbox[1:length - 4], struct.unpack(">I", self.inbox[length - 4:length])
            if zlib.crc32(body) != check:
                self.inbox = self.inbox[1:]
                continue
            self.inbox = self.inbox[length:]
            self.asked(now, body[2], body[3], body[4:])

    def asked(self, now, number, kind, payload):
        def answer(kind, payload=b""):
            self.answer(now, self.packet(kind, number, payload))

        def refuse(why):
            answer(0x7F, bytes([kind]) + why.encode())

        def done(why=""):
            answer(0x21, bytes([bool(why)]) + why.encode())

        board, world = self.board, self.world
        still = not board.armed and not board.test
        match kind, list(payload):
            case 0x01, []:
                answer(0x02, bytes(range(0x31, 0x3D)) + b"\x01\x07Redstart")
            case 0x10, [part] if part < len(PARTS):
                answer(0x11, payload + struct.pack(layout(part), *(board.working[name] for name in PARTS[part])))
            case 0x12, [part, *_] if part < len(PARTS) and len(payload) == 1 + struct.calcsize(layout(part)):
                values = dict(zip(PARTS[part], struct.unpack(layout(part), payload[1:])))
                wrong = [n for n, v in values.items() if not SETTINGS[n][2] <= v <= SETTINGS[n][3]]
                if not still:
                    refuse("not while something is under way")
                elif wrong:
                    refuse(f"{wrong[0]} is out of its range")
                else:
                    board.working.update(values)
                    answer(0x13)
            case 0x20, [1]:
                if still:
                    board.stored = dict(board.working)
                done("" if still else "not while something is under way")
            case 0x20, [2] if still:
                self.restart_at = now + self.slow + 0.1
            case 0x20, [3]:
                board.disarm()
                done()
            case 0x22, [motor, pulse, time] if motor < 4 and 0 < time <= 100:
                if board.armed or not world.battery:
                    done("not while live" if board.armed else "no pack")
                else:
                    board.test = (motor, 1000 + 4 * pulse, now + time * 0.02)
                    done()
            case 0x40, []:
                flags = 8 * board.armed + 64 * (board.pulses is not None)
                volts = 7.8 - 0.00001 * sum(world.speeds) if world.battery else 0.0
                amperes = 0.3 + sum(world.speeds) / 30000 if world.battery else 0.0
                lean = [round(100 * angle) for angle in world.lean]
                outputs = [(pulse - 1000) // 4 for pulse in board.outputs()]
                state = struct.pack(">BhhHH4B", flags, *lean, round(volts * 1000), round(amperes * 100), *outputs)
                answer(0x41, state)
            case 0x42, []:
                # A reading that stands still to the digit measures nothing.
                told = [round(speed * (1 + world.dice.uniform(-0.01, 0.01)) / 10) for speed in world.speeds]
                answer(0x43, struct.pack(">4H", *told))
            case _:
                refuse("what is that?")


if __name__ == "__main__":
    if sys.argv[1:] == ["parts"]:
        print(json.dumps([[(name, SETTINGS[name][0]) for name in part] for part in PARTS]))
    else:
        Redstart(*sys.argv[1:]).run()
