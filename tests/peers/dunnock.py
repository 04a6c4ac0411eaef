"""The Dunnock: a board whose packets are described in dunnock.txt and nowhere else, built and read with `struct` and `fastcrc`.

It shares nothing with another board here: own world, own settings, own way of arming, bytes stuffed after RFC 1055 with a
published check of 16 bits, state told by itself, switches in a table of rows whose ends both lie inside.

    dunnock.py LINK     serves it, says `control HOST:PORT` and `port PATH`, and moves its world by lines there: flip NAME
                        PLACE, stick NAME PERCENT%, wiggle NAME, radio on|off, battery in|out, tilt ROLL PITCH, turn HEADING,
                        look (what a person beside it sees and hears), truth (what the board itself holds)
"""

import fcntl
import json
import math
import os
import pty
import random
import select
import socket
import struct
import sys
import termios
import time
import tty

from fastcrc import crc16

SERIAL = bytes.fromhex("d0a7150c42e6b318")
END, ESC = 0xC0, 0xDB
#: A restart takes the port away for so long, seconds.
GONE = 1.2
#: Output, corner, whether it turns clockwise seen from above, and the pulse that it starts from.
MOTORS = [("rear left", False, 1076), ("rear right", True, 1093), ("front right", False, 1069), ("front left", True, 1102)]
#: Block by block: name, kind, first value, least, most. A row of switches is numbered; what has no name is kept as it is.
ROWS = [(f"{what}_{row}", kind, first, least, most) for row in range(1, 7) for what, kind, first, least, most in
        (("DOES", "B", 0, 0, 3), ("HEARS", "B", 0, 0, 10), ("LOW", "H", 2100, 900, 2100), ("HIGH", "H", 900, 900, 2100))]
BLOCKS = {
    1: [("LEAST_DRIVE", "H", 30, 0, 250),
        ("WAYS", "B", 0x5A, 0, 255), ("TURNED", "B", 0xA0, 0, 255), ("PAD", "B", 0x77, 0, 255)],
    2: [("FROM_LEAN", "B", 1, 1, 10), ("FROM_NOSE", "B", 2, 1, 10), ("FROM_PUSH", "B", 3, 1, 10), ("FROM_SWING", "B", 4, 1, 10),
        ("LOST", "B", 0, 0, 1), ("LOST_AFTER", "B", 30, 2, 40)],
    3: [("CELLS", "B", 3, 1, 4), ("SORT", "B", 0, 0, 1), ("CALL_AT", "H", 350, 300, 430), ("LAND_AT", "H", 330, 280, 420),
        ("SCALE", "f", 11.25, 2, 30)],
    4: ROWS,
    5: [("SHINE", "B", 60, 0, 100), ("HUE", "h", -45, -180, 180)],
}
DOES = {1: "live", 2: "horn", 3: "lamp"}
#: The radio: its sticks' places among the channels, and what its switches rest at.
STICKS = {"pitch": 0, "roll": 1, "throttle": 2, "yaw": 3}
SWITCHES = {"S": (4, [1004, 1508, 1996]), "T": (6, [1011, 1989])}


def layout(block):
    return "<" + "".join(kind for _, kind, *_ in BLOCKS[block])


def stuffed(kind, number, body=b""):
    whole = bytes([kind, number]) + body
    whole += struct.pack("<H", crc16.ibm_sdlc(whole))
    inside = {END: bytes([ESC, 0xDC]), ESC: bytes([ESC, 0xDD])}
    return bytes([END]) + b"".join(inside.get(byte, bytes([byte])) for byte in whole) + bytes([END])


class Dunnock:
    def __init__(self, link):
        self.link, self.master, self.slave, self.back_at, self.restart_at = link, None, None, 0.0, None
        self.kept = {name: first for block in BLOCKS.values() for name, _, first, *_ in block}
        self.starts, self.paths, self.hands, self.dice = 0, [], {}, random.Random(23)
        self.radio, self.lost_at, self.battery = True, None, False
        self.sticks, self.wiggles = {"throttle": 1001, "roll": 1502, "pitch": 1498, "yaw": 1500}, {}
        self.places = dict.fromkeys(SWITCHES, 0)
        self.lean, self.heading, self.speeds = (0.2, -0.4), 211.0, [0.0] * 4
        self.listener = socket.create_server(("127.0.0.1", 0))
        print(f"control 127.0.0.1:{self.listener.getsockname()[1]}", flush=True)

    # The board.

    def start(self, now):
        self.now = dict(self.kept)
        # What only a restart takes in.
        self.turned, self.starts, self.up = self.now["TURNED"], self.starts + 1, now
        self.live = self.was_off = False
        self.test, self.pulses, self.heard_at = None, None, now
        self.told_at, self.horn = now, False

    def on(self, what):
        rows = ((self.now[f"DOES_{row}"], self.now[f"HEARS_{row}"], self.now[f"LOW_{row}"], self.now[f"HIGH_{row}"])
                for row in range(1, 7))
        return self.pulses is not None and any(
            DOES.get(does) == what and hears and low <= self.pulses[hears - 1] <= high for does, hears, low, high in rows)

    def push(self):
        return self.pulses[self.now["FROM_PUSH"] - 1]

    def step(self, now):
        heard = self.heard(now)
        if heard is not None:
            self.pulses, self.heard_at = heard, now
        elif now - self.heard_at > self.now["LOST_AFTER"] * 0.05 or not self.live:
            if self.live and self.now["LOST"] == 1:
                self.off()
                self.remark(2, "radio lost: off")
            if not self.live:
                self.pulses = None
        if self.test and now >= self.test[2]:
            self.test = None
        self.horn = self.on("horn")
        if heard is None:
            return
        if not self.on("live"):
            if self.live:
                self.remark(5, "not live")
            self.live, self.was_off = False, True
        elif not self.live and self.was_off:
            self.was_off = False
            if self.push() >= 1055:
                self.remark(3, f"throttle {self.push()} is not under 1055: stays off")
            elif not self.test:
                self.live = True
                self.remark(5, "live")

    def off(self):
        self.live = self.was_off = False
        self.test = None

    def outputs(self):
        outputs = [1000] * 4
        if self.master is not None and self.live:
            push = self.push() if self.pulses else 1000
            if self.now["WAYS"] & 1 or push >= 1055:
                outputs = [max(1000 + self.now["LEAST_DRIVE"], push)] * 4
        elif self.master is not None and self.test:
            outputs[self.test[0]] = self.test[1]
        return outputs

    def volts(self):
        return 7.9 - 0.00001 * sum(self.speeds) if self.battery else 0.0

    def asked(self, now, kind, number, body):
        def answer(payload=b""):
            self.write(stuffed(kind | 0x80, number, payload))

        def refuse(reason):
            self.write(stuffed(0xFF, number, bytes([kind, reason])))

        busy = self.live or self.test
        match kind, list(body):
            case 0x01, []:
                answer(SERIAL + b"Dunnock".ljust(10, b"\0") + b"\x03\x02")
            case 0x04, []:
                pulses = self.pulses if self.heard(now) is not None else None
                answer(struct.pack("<BB10H", 94, 10, *pulses) if pulses else bytes([0, 10]) + bytes(20))
            case 0x05, []:
                answer(struct.pack("<hhH", *(round(10 * angle) for angle in self.lean), round(10 * self.heading) % 3600))
            case 0x06, []:
                answer(struct.pack("<4H", *(round(s * (1 + self.dice.uniform(-0.01, 0.01)) / 4) for s in self.speeds)))
            case 0x10, [6]:
                answer(b"\x06" + struct.pack("<IH", int(now), self.starts))
            case 0x10, [block]:
                if block not in BLOCKS:
                    return refuse(4)
                answer(body + struct.pack(layout(block), *(self.now[name] for name, *_ in BLOCKS[block])))
            case 0x11, [block, *values]:
                if block not in BLOCKS or len(values) != struct.calcsize(layout(block)):
                    return refuse(4)
                values = dict(zip((name for name, *_ in BLOCKS[block]), struct.unpack(layout(block), body[1:])))
                wrong = [name for name, _, _, least, most in BLOCKS[block] if not least <= values[name] <= most]
                wrong += [name for name, value in values.items() if name[:3] in ("LOW", "HIG") and value % 5]
                if block == 1 and values["WAYS"] >> 4 & 7 not in (2, 5, 6):
                    wrong.append("WAVE")
                if busy or wrong:
                    return refuse(3 if busy else 2)
                self.now.update(values)
                answer(bytes([block]))
            case 0x20, []:
                if busy:
                    return refuse(3)
                self.kept = dict(self.now)
                answer()
            case 0x21, []:
                if busy:
                    return refuse(3)
                self.restart_at = now + 0.05
            case 0x22, []:
                self.off()
                answer()
            case 0x23, [motor, low, high, time_steps] if motor < 4 and 0 < time_steps <= 40:
                if self.live or not self.battery:
                    return refuse(3 if self.live else 5)
                self.test = (motor, min(low + 256 * high, 2000), now + time_steps * 0.05)
                answer()
            case 0x01 | 0x04 | 0x05 | 0x06 | 0x20 | 0x21 | 0x22 | 0x23, _:
                refuse(2)
            case _:
                refuse(1)

    def tell(self, now):
        self.told_at = now + 0.05
        flags = (self.heard(now) is not None) | self.live << 5 | (self.volts() > 2) << 9
        amperes = 0.25 + sum(self.speeds) / 28000 if self.battery else 0.0
        halves = [2 * pulse for pulse in self.outputs()]
        body = struct.pack("<HHh4H", flags, round(self.volts() * 100), round(amperes * 100), *halves)
        self.write(stuffed(0x83, 0, body))

    def remark(self, urgency, text):
        self.write(stuffed(0xB0, 0, bytes([urgency]) + text.encode()))

    # Its wire.

    def open(self, now):
        """A pseudo-terminal that is new each time; the one before is still held, so its path is not given out again."""
        before = self.slave
        self.master, self.slave = pty.openpty()
        if before is not None:
            os.close(before)
        tty.setraw(self.slave)
        os.set_blocking(self.master, False)
        path = os.ttyname(self.slave)
        self.paths.append(path)
        os.symlink(path, self.link)
        self.inbox, self.unread, self.unread_since = b"", 0, now
        self.start(now)
        self.write(stuffed(0xB1, 0))
        print(f"port {path}", flush=True)

    def leave(self, now):
        os.unlink(self.link)
        os.close(self.master)
        self.master, self.restart_at, self.back_at = None, None, now + GONE
        self.off()
        print("port gone", flush=True)

    def write(self, data):
        """Nothing is kept for a program that is not there."""
        try:
            os.write(self.master, data)
        except BlockingIOError:
            termios.tcflush(self.slave, termios.TCIFLUSH)

    def mind_the_reader(self, now):
        fcntl.ioctl(self.slave, termios.TIOCNXCL)
        unread = struct.unpack("i", fcntl.ioctl(self.slave, termios.FIONREAD, b"\0" * 4))[0]
        if unread == 0 or unread < self.unread:
            self.unread_since = now
        elif now - self.unread_since > 0.7:
            termios.tcflush(self.slave, termios.TCIFLUSH)
        self.unread = unread

    def receive(self, now):
        try:
            self.inbox += os.read(self.master, 4096)
        except (BlockingIOError, OSError):
            return
        *messages, self.inbox = self.inbox.split(bytes([END]))
        self.inbox = self.inbox[-256:]
        for message in messages:
            whole = message.replace(bytes([ESC, 0xDC]), bytes([END])).replace(bytes([ESC, 0xDD]), bytes([ESC]))
            if 4 <= len(whole) <= 52 and struct.pack("<H", crc16.ibm_sdlc(whole[:-2])) == whole[-2:]:
                self.asked(now, whole[0], whole[1], whole[2:-2])

    # Its world.

    def heard(self, now):
        """Pulses of the channels; silence is noticed after 0.3 s."""
        self.lost_at = None if self.radio else self.lost_at or now
        if self.lost_at is not None and now - self.lost_at > 0.3:
            return None
        pulses = [1500] * 10
        for name, place in STICKS.items():
            since = now - self.wiggles.get(name, -9)
            swing = 460 * math.sin(since * math.tau / 1.2) if since < 1.2 else 0
            pulses[place] = round(self.sticks[name] + swing) + self.dice.randint(-1, 1)
        for name, (place, rests) in SWITCHES.items():
            pulses[place] = rests[self.places[name]] + self.dice.randint(-1, 1)
        return pulses

    def turn(self, seconds):
        for place, ((_, _, starts_at), pulse) in enumerate(zip(MOTORS, self.outputs())):
            turns = self.battery and pulse >= (starts_at if self.speeds[place] < 300 else starts_at - 18)
            wanted = 8600 * self.volts() * (pulse - 1000) / 1000 if turns else 0.0
            self.speeds[place] += (wanted - self.speeds[place]) * (1 - math.exp(-seconds / (0.09 if wanted else 0.14)))
            if not wanted and self.speeds[place] < 60:
                self.speeds[place] = 0.0

    def seen(self):
        return [{"corner": corner, "clockwise": clockwise != bool(self.turned >> place & 1),
                 "state": "turning" if self.speeds[place] > 300 else "still"}
                for place, (corner, clockwise, _) in enumerate(MOTORS)]

    def settings(self):
        """By the names of the description."""
        def named(held):
            bits = {"REST_OR_SPIN": held["WAYS"] & 1, "WAVE": held["WAYS"] >> 4 & 7}
            bits |= {f"TURNED_{letter}": held["TURNED"] >> place & 1 for place, letter in enumerate("ABCD")}
            return {name: value for name, value in held.items() if name not in ("WAYS", "TURNED")} | bits
        now, kept = named(self.now), named(self.kept)
        return {name: {"working": now[name], "stored": kept[name]} for name in now}

    def line(self, now, line):
        match line.split():
            case ["look"]:
                sees = [f"motor {one['corner']}: " + ("turns " + ("clockwise" if one["clockwise"] else "counter-clockwise")
                        if one["state"] == "turning" else "still") for one in self.seen()]
                return "; ".join(sees + ["horn sounds" if self.horn else "horn silent",
                                         f"pack {'in' if self.battery else 'out'}, {self.volts():.1f} V at its plug"])
            case ["truth"]:
                return json.dumps({
                    "armed": self.live, "outputs": self.outputs(), "speeds": self.speeds, "settings": self.settings(),
                    "untouched": {"WAYS": self.now["WAYS"] & 0x8E, "TURNED": self.now["TURNED"] & 0xF0},
                    "board": {"starts": self.starts}, "paths": self.paths, "motors": self.seen(),
                    "highest_start": max(starts_at for *_, starts_at in MOTORS)})
            case ["flip", name, place] if name in SWITCHES and int(place) < len(SWITCHES[name][1]):
                self.places[name] = int(place)
            case ["stick", name, value] if name in STICKS and value.endswith("%"):
                self.sticks[name] = 1500 + 5 * float(value[:-1])
            case ["wiggle", name] if name in STICKS:
                self.wiggles[name] = now
            case ["radio", ("on" | "off") as state]:
                self.radio = state == "on"
            case ["battery", ("in" | "out") as state]:
                self.battery = state == "in"
            case ["tilt", roll, pitch]:
                self.lean = (float(roll), float(pitch))
            case ["turn", heading]:
                self.heading = float(heading)
            case _:
                return f"error: no such line: {line}"
        return line

    def hands_move(self, now):
        for one in select.select([self.listener, *self.hands], [], [], 0)[0]:
            if one is self.listener:
                self.hands[one.accept()[0]] = b""
                continue
            data = one.recv(4096)
            if not data:
                one.close()
                del self.hands[one]
                continue
            *lines, self.hands[one] = (self.hands[one] + data).split(b"\n")
            for line in lines:
                one.sendall(self.line(now, line.decode()).encode() + b"\n")

    def run(self):
        began, last = time.monotonic(), 0.0
        while True:
            select.select([self.listener, *self.hands] + ([self.master] if self.master is not None else []), [], [], 0.004)
            now = time.monotonic() - began
            self.hands_move(now)
            self.turn(now - last)
            last = now
            if self.master is None:
                if now >= self.back_at:
                    self.open(now)
                continue
            self.step(now)
            self.receive(now)
            if now >= self.told_at:
                self.tell(now)
            self.mind_the_reader(now)
            if self.restart_at is not None and now >= self.restart_at:
                self.leave(now)


if __name__ == "__main__":
    Dunnock(sys.argv[1]).run()
