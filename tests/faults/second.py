"""A second judge of the world under faults, by another hand and in another language; the standard library alone.

Reads traces as `trace.rs` writes them, from files or from standard input, and holds them to S1, S2, S8, S11 (`stopped`)
and S15 of the table in DEVELOPERS.md. Its frames are read by the standard itself: lengths, places of fields and seeds of
checksums are computed from the definitions below. Must not be here: anything of the program or of the first judge.

    python3 tests/faults/second.py FOLDER/*.jsonl
"""

import json
import struct
import sys

# Message number: name and fields in their order (`common.xml`); extensions after the bar.
DEFINITIONS = {
    0: "HEARTBEAT uint8_t type, uint8_t autopilot, uint8_t base_mode, uint32_t custom_mode, uint8_t system_status, "
    "uint8_t mavlink_version",
    20: "PARAM_REQUEST_READ uint8_t target_system, uint8_t target_component, char[16] param_id, int16_t param_index",
    21: "PARAM_REQUEST_LIST uint8_t target_system, uint8_t target_component",
    22: "PARAM_VALUE char[16] param_id, float param_value, uint8_t param_type, uint16_t param_count, "
    "uint16_t param_index",
    23: "PARAM_SET uint8_t target_system, uint8_t target_component, char[16] param_id, float param_value, "
    "uint8_t param_type",
    66: "REQUEST_DATA_STREAM uint8_t target_system, uint8_t target_component, uint8_t req_stream_id, "
    "uint16_t req_message_rate, uint8_t start_stop",
    76: "COMMAND_LONG uint8_t target_system, uint8_t target_component, uint16_t command, uint8_t confirmation, "
    "float param1, float param2, float param3, float param4, float param5, float param6, float param7",
    77: "COMMAND_ACK uint16_t command, uint8_t result | uint8_t progress, int32_t result_param2, "
    "uint8_t target_system, uint8_t target_component",
}
SIZES = {"uint8_t": "B", "int8_t": "b", "uint16_t": "H", "int16_t": "h", "uint32_t": "I", "int32_t": "i", "float": "f"}

ARM, RUN, STORE, RESTART = 400, 209, 245, 246
ASKING_COMMANDS = (510, 511, 512)
REST = 1005
MS = 1000
# The program learns by the clock of its messages alone that another craft took the first one's place (600 ms).
NOTICED = 600 * MS


def crc(data, value=0xFFFF):
    """CRC-16/MCRF4XX, as the guide's `serialization` has it."""
    for byte in data:
        byte ^= value & 0xFF
        byte = (byte ^ (byte << 4)) & 0xFF
        value = ((value >> 8) ^ (byte << 8) ^ (byte << 3) ^ (byte >> 4)) & 0xFFFF
    return value


class Message:
    """Where the fields of a message lie, and the seed of its checksum."""

    def __init__(self, text):
        self.name, fields = text.split(" ", 1)
        fields, _, extensions = fields.partition(" | ")
        fields = [self.field(part) for part in fields.split(", ")]
        extensions = [self.field(part) for part in extensions.split(", ") if part]
        fields.sort(key=lambda field: -struct.calcsize(field[3]))
        seed = crc(f"{self.name} ".encode())
        for kind, count, name, _ in fields:
            seed = crc(f"{kind} {name} ".encode() + (bytes([count]) if count else b""), seed)
        self.seed = (seed & 0xFF) ^ (seed >> 8)
        self.names = [field[2] for field in fields + extensions]
        parts = [f"{count}s" if count else letter for _, count, _, letter in fields + extensions]
        self.layout = struct.Struct("<" + "".join(parts))

    @staticmethod
    def field(text):
        kind, name = text.split(" ")
        if kind.startswith("char["):
            return "char", int(kind[5:-1]), name, "B"
        return kind, 0, name, SIZES[kind]

    def read(self, payload):
        payload = payload.ljust(self.layout.size, b"\0")[: self.layout.size]
        return dict(zip(self.names, self.layout.unpack(payload)))


MESSAGES = {number: Message(text) for number, text in DEFINITIONS.items()}


def frames(data):
    """Each whole frame: its place, length, sequence, system, number, payload, and fields where they are known."""
    at = 0
    while at + 8 <= len(data):
        head = {0xFE: 6, 0xFD: 10}.get(data[at])
        if head is None:
            at += 1
            continue
        end = at + head + data[at + 1]
        if head == 6:
            sequence, system, number = data[at + 2], data[at + 3], data[at + 5]
            whole = end + 2
        else:
            if at + 12 > len(data):
                return
            sequence, system = data[at + 4], data[at + 5]
            number = int.from_bytes(data[at + 7 : at + 10], "little")
            whole = end + 2 + (13 if data[at + 2] & 1 else 0)
        message = MESSAGES.get(number)
        if whole > len(data) or message is None:
            at += 1
            continue
        body = data[at + 1 : end] + bytes([message.seed])
        if crc(body) != int.from_bytes(data[end : end + 2], "little"):
            at += 1
            continue
        payload = bytes(data[at + head : end])
        yield at, whole - at, sequence, system, number, payload, message.read(payload)
        at = whole


class Judge:
    """One seed, line by line."""

    def __init__(self, first):
        self.seed = first["seed"]
        self.facts = first["facts"]
        self.broken = []
        self.met = {}
        self.truth = [{"outputs": [], "armed": False, "battery": False}] * 2
        self.resting_since = [0, 0]
        self.battery_since = None
        self.wire, self.beside, self.beside_since = 0, False, 0
        self.meant = None
        # A question that stands, what was typed to it, and what its yes allows.
        self.question, self.asked_at = None, 0
        self.typed, self.line, self.last_key, self.hasty = "", "", None, False
        self.confirmed, self.begun, self.runs = None, 0, {}
        self.stopped, self.unexpected, self.goes_on = None, None, False
        # How the other craft came to the wire, and when its first frame was read.
        self.foreign_read, self.opened_anew, self.silent, self.changed = None, False, False, False
        self.sent = set()

    def breaks(self, name, now, what):
        self.broken.append(f"{self.seed}: {name} at {now // MS} ms: {what}")

    def meets(self, name):
        self.met[name] = self.met.get(name, 0) + 1

    def take(self, line):
        now = line["at"]
        for kind in ("truth", "wire", "left", "read", "key", "asked", "answered", "shown", "swapped", "opened"):
            if kind in line:
                getattr(self, kind + "_is")(now, line)
                return

    # The world.

    def truth_is(self, now, line):
        for which, craft in enumerate(line["truth"]):
            was = self.truth[which]
            if self.moves(was) or self.moves(craft):
                self.resting_since[which] = now
        self.truth = line["truth"]
        self.power(now)

    def power(self, now):
        if self.truth[self.wire]["battery"]:
            self.battery_since = now if self.battery_since is None else self.battery_since
            return
        self.battery_since = None
        if self.goes_on and self.meant in (None, self.wire):
            self.stopped, self.unexpected, self.goes_on = None, None, False

    @staticmethod
    def moves(craft):
        return craft["armed"] or max(craft["outputs"], default=0) > REST

    def wire_is(self, now, line):
        if line["beside"] and not self.beside:
            self.beside_since = now
        self.wire, self.beside = line["wire"], line["beside"]
        self.power(now)

    def swapped_is(self, _now, line):
        self.wire = line["swapped"]
        self.silent = line["silent"] > 650
        self.foreign_read, self.opened_anew, self.changed = None, False, True

    def opened_is(self, _now, line):
        if line["opened"]:
            self.foreign_read, self.opened_anew = None, True

    # The operator.

    def asked_is(self, now, line):
        self.question, self.asked_at = line["asked"], now
        self.typed, self.line, self.hasty, self.confirmed = "", "", False, None

    def key_is(self, now, line):
        key = line["key"]
        if now - self.asked_at < 300 * MS:
            return
        if len(key) == 1:
            self.hasty |= self.last_key is not None and now - self.last_key < 20 * MS
            self.last_key = now
            self.typed += key
        elif key == "Backspace":
            self.typed = self.typed[:-1]
        elif key == "Enter":
            self.line, self.typed = self.typed, ""

    def answered_is(self, now, line):
        question, self.question = self.question, None
        if not line["answered"] or question is None:
            return
        if question["about"] == "again" and self.stopped is not None and self.typed.endswith("a"):
            self.goes_on = True
        if question["word"] is not None:
            self.meets("S1 words")
            if self.line.strip() != question["word"] or self.hasty:
                self.breaks("S1", now, f"{question['word']!r} was taken as typed; it was {self.line!r}")
        if question["about"] == "motor" and self.meant is not None:
            self.confirmed, self.begun, self.runs = dict(question, craft=self.meant), 0, {}

    def shown_is(self, now, line):
        shown = line["shown"]
        if shown == "board":
            self.meant = self.wire if self.meant is None else self.meant
            self.changed = False
        elif shown == "step":
            self.confirmed = None
        elif shown == "stop sent":
            self.confirmed = None
            self.stopped = now if self.stopped is None else self.stopped
            self.goes_on |= self.facts["prompt"]
            self.meets("S2")
        elif shown == "stopped":
            self.meets("S11")
            craft = self.wire if self.meant is None else self.meant
            rested = now - self.resting_since[craft]
            moved = self.moves(self.truth[craft]) or (rested < 300 * MS and self.resting_since[craft] > 0)
            if moved and not (self.foreign() and self.untold()):
                self.breaks("S11", now, "`stopped` was shown, and the craft was not at rest")

    # The wire.

    def foreign(self):
        return self.meant is not None and self.meant != self.wire

    def untold(self):
        """Nothing on a wire tells one craft from another whose clock and silence are alike."""
        return self.facts["alike"] and not self.opened_anew and not self.silent

    def read_is(self, now, line):
        for _, _, _, system, number, _, fields in frames(bytes.fromhex(line["read"])):
            if system != 1:
                continue
            if self.foreign() and self.foreign_read is None:
                self.foreign_read = now
            vehicle = number == 0 and fields["autopilot"] != 8
            powered = self.battery_since is not None and now - self.battery_since > 2500 * MS
            if vehicle and fields["base_mode"] & 0x80 and powered and self.facts["senses"] and self.confirmed is None:
                self.meets("S2")
                if self.unexpected is None:
                    self.unexpected = now
                    self.goes_on |= self.facts["prompt"] and self.foreign()

    def left_is(self, now, line):
        data, covered = bytes.fromhex(line["left"]), 0
        for _, length, sequence, _, number, payload, fields in frames(data):
            covered += length
            self.frame(now, line, sequence, number, payload, fields)
        if covered != len(data):
            self.breaks("frames", now, f"bytes that are no frame: {line['left']}")

    def frame(self, now, line, sequence, number, payload, fields):
        command = fields["command"] if number == 76 else None
        if number == 0 or number in (20, 21, 66) or command in ASKING_COMMANDS:
            return
        what = f"{MESSAGES[number].name} {fields}"
        stops = command == ARM and fields["param1"] == 0.0
        starts = command == RUN or (command == ARM and not stops)
        if line["by"] == "guardian":
            if not stops:
                self.breaks("S1", now, f"the guardian sent {what}")
            elif line["runs"]:
                self.for_another(now, what, True)
            return
        if not stops:
            after = self.stopped
            if after is None and self.unexpected is not None:
                after = self.unexpected + 50 * MS
            if after is not None and now > after:
                self.breaks("S2", now, f"{what} left after a stop or an unexpected start")
        if starts:
            self.meets("S8")
            if fields["confirmation"] or (sequence, payload) in self.sent:
                self.breaks("S8", now, f"{what} left again")
            self.sent.add((sequence, payload))
        if not stops and line["hears"]:
            self.confirmed_for(now, what, number, command, fields)
        self.for_another(now, what, stops)

    def confirmed_for(self, now, what, number, command, fields):
        """What starts a motor, and what changes a craft that is driven, was confirmed by a word, for that craft."""
        craft = self.truth[self.wire]
        driven = max(craft["outputs"], default=0) > REST
        starts = command == RUN or command == ARM
        if not starts and not driven:
            return
        if self.foreign() and self.untold():
            return
        if self.foreign() and not self.opened_anew and not (
            self.foreign_read is not None and now > self.foreign_read + NOTICED
        ):
            return
        self.meets("S1")
        yes = self.confirmed
        if yes is None or (yes["craft"] != self.wire and not self.facts["nameless"]):
            self.breaks("S1", now, f"{what} left, and nothing is confirmed for this craft")
        elif command == RUN:
            self.run(now, what, fields, yes)
        elif command == ARM:
            self.breaks("S1", now, f"{what} left: this program arms no craft")
        else:
            name = fields["param_id"].rstrip(b"\0").decode("ascii", "replace") if number == 23 else None
            allowed = name in yes["writes"] or (command == STORE and yes["store"])
            if not (allowed or (command == RESTART and yes["restart"])):
                self.breaks("S1", now, f"{what} left for a craft that is driven; confirmed was {yes}")

    def run(self, now, what, fields, yes):
        motor, pulse, lasts = int(fields["param1"]), fields["param3"], int(fields["param4"] * 1e6)
        last = self.runs.get(motor)
        if last is None or now - last >= lasts:
            self.begun += 1
        self.runs[motor] = now
        if not yes["by_command"] or motor != yes["motor"] or pulse > yes["pulse"] or self.begun > yes["starts"]:
            self.breaks("S1", now, f"{what} is run {self.begun}; confirmed was {yes}")

    def for_another(self, now, what, stops):
        """S15: after the first frame of another craft was read, nothing that acts leaves."""
        if not self.foreign() or self.facts["nameless"] or self.untold():
            return
        self.meets("S15")
        grace = 0 if self.opened_anew or self.silent else NOTICED
        if self.foreign_read is not None and now > self.foreign_read + grace:
            late = (now - self.foreign_read) // MS
            self.breaks("S15", now, f"{what} left {late} ms after the first frame of another craft was read")
        elif self.foreign_read is None and self.opened_anew and not stops:
            self.breaks("S15", now, f"{what} left on a new opening, for a craft that nobody has heard")


def judged(lines):
    """The seeds of some lines, judged; those that speak with a console are left out."""
    judge = None
    for text in lines:
        line = json.loads(text)
        if "seed" in line:
            if judge is not None:
                yield judge
            judge = Judge(line) if line["speech"] == "frames" else None
        elif judge is not None:
            judge.take(line)
    if judge is not None:
        yield judge


def main(names):
    broken, met, seeds = [], {}, 0
    for name in names or ["-"]:
        with sys.stdin if name == "-" else open(name, encoding="utf-8") as lines:
            for judge in judged(lines):
                seeds += 1
                broken += judge.broken[:1]
                for what, times in judge.met.items():
                    met[what] = met.get(what, 0) + times
    print("\n".join(broken))
    print(json.dumps({"seeds": seeds, "broken": len(broken), "met": met}))
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
