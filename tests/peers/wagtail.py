"""The Wagtail: a board of our own making on a pseudo-terminal, which speaks through the reference library.

It differs from the Finch wherever the standard lets boards differ: values travel as C casts, answers take their time,
the list of settings comes in no order and with holes, a limit is told by PARAM_ERROR, storing is in progress first,
the voltage comes by cells and in no other message, the id is the long one, other components talk on the wire, a
motor's direction goes with its number and counts at once, its order and its receiver from the next start on, and a
restart comes back under another path. Outputs and speeds are told by the numbers of the motors.

    wagtail.py LINK SLOW [KEY]  serves it, says `control HOST:PORT` and `port PATH`, and moves its world by lines there;
                                every answer takes SLOW seconds; with a key of 64 hexadecimal digits it signs, and
                                hears only what is signed with it
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

import dialect
from dialect import ESC_INFO, ESC_STATUS, common as m

#: A restart takes its port away for so long, seconds.
GONE = 1.5
KINDS = {"u8": 1, "i8": 2, "u16": 3, "i16": 4, "i32": 6, "real": 9}
SETTINGS = {
    "LOWEST_DRIVE": ("u16", 1040, 1000, 1220), "STICK_AT_BOTTOM": ("u8", 2, 1, 2), "DRIVE_WAVE": ("u8", 3, 0, 9),
    "IN_PUSH": ("u8", 3, 1, 12), "IN_LEAN": ("u8", 1, 1, 12), "IN_NOSE": ("u8", 2, 1, 12), "IN_SWING": ("u8", 4, 1, 12),
    "SILENCE_DOES": ("u8", 5, 4, 5), "SILENCE_AFTER": ("u8", 20, 1, 30), "PACK_COUNT": ("u8", 3, 1, 4),
    "PACK_SORT": ("u8", 1, 0, 1), "PACK_CALLS": ("u16", 350, 300, 430), "PACK_ENDS": ("u16", 320, 280, 420),
    "PACK_SCALE": ("real", 8.25, 1, 30), "GLOW_SHADE": ("i8", -30, -90, 90), "GLOW_FAR": ("i16", -1500, -3000, 3000),
    "SEAT_TURN": ("u16", 0, 0, 315), "SEAT_LEAN": ("real", 0, -10, 10), "SEAT_NOSE": ("real", 0, -10, 10),
    "FLOWN_SECONDS": ("i32", 123457, 0, 1 << 24), "TRUE_NORTH": ("i32", -70000, -180000, 180000),
    "EAR_TONGUE": ("u8", 6, 0, 9), "EAR_SOCKET": ("u8", 3, 1, 5),
    **{f"SHAFT_{motor}_FROM": ("u8", place, 1, 4) for place, motor in enumerate("ABCD", 1)},
    **{f"SHAFT_{motor}_BACK": ("u8", 0, 0, 1) for motor in "ABCD"},
    **{f"{name}_{end}": ("i8" if end == "IN" else "u16", usual, -1 if end == "IN" else 900, 12 if end == "IN" else 2100)
       for name in ("LIVE", "HORN", "EVEN") for end, usual in (("IN", -1), ("LO", 900), ("HI", 900))},
    **{f"GRIP_{axis}_{part}": ("real", 0.125 * part, 0, 9) for axis in ("LEAN", "NOSE", "SWING") for part in range(8)},
}
#: What each is as the board is made; also where a board of its kin has no such setting.
MADE = {name: first for name, (_, first, *_) in SETTINGS.items()}
#: Where each motor sits whose plug belongs on sockets 1 to 4, and the pulse from which it starts.
MOTORS = [("rear right", 1086), ("front right", 1121), ("rear left", 1098), ("front left", 1104)]
#: Which of them turn clockwise, seen from above.
CLOCKWISE = ("rear right", "front left")
#: How the board sits in the frame: turned clockwise, and the roll and pitch that it sees of a craft that stands level.
TURNED, OUT_OF_LEVEL = 45, (1.5, 0.75)
#: With this scale the board sees its pack as it is.
SCALED = 8.25
STICKS = {"throttle": 0, "roll": 1, "pitch": 2, "yaw": 3}
SWITCHES = {"K": (6, [1012, 1497, 1988]), "L": (7, [1020, 1980])}
#: Messages sent by themselves, and the usual interval in seconds.
STREAMS = {0: 1.0, 1: 0.5, 147: 0.5, 65: 0.25, 36: 0.25, 30: 0.5, 290: 1.0, 291: 0.5}


class World:
    """Radio, battery and motors."""

    def __init__(self):
        self.radio, self.battery, self.lost_at = True, False, None
        self.sticks = {"throttle": 998, "roll": 1500, "pitch": 1503, "yaw": 1499}
        self.positions = {name: 0 for name in SWITCHES}
        self.wiggles = {}
        self.lean = (0.4, -0.3)
        self.heads = 28.6
        self.speeds = [0.0] * 4
        #: The motor on each socket, and those of which two wires are swapped.
        self.plugs, self.swapped = [0, 1, 2, 3], set()
        #: What the receiver speaks, and where it is plugged in, in the board's numbers.
        self.receiver = (6, 3)
        self.dice = random.Random(7)

    def channels(self, now):
        pulses = [1500] * 12
        for name, place in STICKS.items():
            since = now - self.wiggles.get(name, -9)
            swing = 450 * math.sin(since * math.tau / 1.2) if since < 1.2 else 0
            pulses[place] = round(self.sticks[name] + swing) + self.dice.randint(-1, 1)
        for name, (place, rests) in SWITCHES.items():
            pulses[place] = rests[self.positions[name]] + self.dice.randint(-1, 1)
        return pulses

    def turn(self, sockets, seconds):
        for place, (_, start) in enumerate(MOTORS):
            pulse = sockets[self.plugs.index(place)] if self.battery else 0
            turns = pulse >= (start if self.speeds[place] < 300 else start - 20)
            wanted = 9000 * 7.8 * (pulse - 1000) / 1000 if turns else 0.0
            share = 1 - math.exp(-seconds / (0.08 if wanted else 0.15))
            self.speeds[place] += (wanted - self.speeds[place]) * share
            if not wanted and self.speeds[place] < 60:
                self.speeds[place] = 0.0


class Board:
    """Settings, arming, outputs: all but its wire."""

    def __init__(self):
        self.stored = {name: entry[1] for name, entry in SETTINGS.items()}
        self.starts = 0
        self.start(0.0)

    def told(self, name):
        return self.working.get(name, MADE[name])

    def start(self, now):
        self.working = dict(self.stored)
        self.ear = (self.told("EAR_TONGUE"), self.told("EAR_SOCKET"))
        self.sockets = [self.told(f"SHAFT_{motor}_FROM") - 1 for motor in "ABCD"]
        self.starts += 1
        self.up = now
        self.armed, self.seen_off, self.test = False, False, None
        self.pulses, self.heard_at = None, now
        self.says = []

    def on(self, name):
        channel = self.working[f"{name}_IN"]
        if self.pulses is None or channel < 1:
            return False
        return self.working[f"{name}_LO"] <= self.pulses[channel - 1] < self.working[f"{name}_HI"]

    def step(self, now, pulses):
        self.pulses = pulses
        if pulses is not None:
            self.heard_at = now
        elif self.armed and now - self.heard_at > self.working["SILENCE_AFTER"] / 10:
            self.armed, self.seen_off = False, False
            self.says.append((4, "No radio for too long, so all motors were cut and stay off until switched anew"))
        if self.test and now > self.test[2]:
            self.test = None
        if pulses is None:
            return
        live = self.on("LIVE")
        if not live:
            self.seen_off = True
            if self.armed:
                self.armed = False
                self.says.append((5, "Not live"))
        elif not self.armed and self.seen_off:
            self.seen_off = False
            push = pulses[self.working["IN_PUSH"] - 1]
            if push >= 1060 or self.test:
                self.says.append((4, f"Will not go live while the push stick stands at {push}, it must be under 1060"))
            else:
                self.armed, self.test = True, None
                self.says.append((5, "Live"))

    def disarm(self):
        self.armed, self.test, self.seen_off = False, None, False

    def drives(self, socket):
        """The motor, by its number, that a socket is driven as; None: no motor's."""
        return self.sockets.index(socket) if socket in self.sockets else None

    def pulses_on_sockets(self):
        outputs = self.outputs()
        motors = [self.drives(socket) for socket in range(4)]
        return [0 if motor is None else outputs[motor] for motor in motors]

    def back(self, motor):
        return motor is not None and self.told("SHAFT_" + "ABCD"[motor] + "_BACK") == 1

    def outputs(self):
        outputs = [1000] * 4
        if self.armed:
            push = self.pulses[self.working["IN_PUSH"] - 1] if self.pulses else 1000
            if self.working["STICK_AT_BOTTOM"] == 1 or push >= 1060:
                outputs = [max(self.working["LOWEST_DRIVE"], push)] * 4
        elif self.test:
            outputs[self.test[0]] = self.test[1]
        return outputs


class Wagtail:
    """The board on its wire, in its world."""

    def __init__(self, link, slow, key=None):
        self.link = link
        self.slow = float(slow)
        self.key = key and bytes.fromhex(key)
        self.world, self.board = World(), Board()
        self.senders = {c: m.MAVLink(self, srcSystem=1, srcComponent=c) for c in (1, 100, 154)}
        if self.key:
            for component, sender in self.senders.items():
                dialect.sign(sender, self.key, link=component)
        self.master = self.slave = None
        self.later, self.order, self.told_of = [], 0, 0
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.hands = {}
        self.text_id = 0
        self.back_at, self.restart_at = 0.0, None
        self.paths = []
        self.say_aloud(f"control 127.0.0.1:{self.listener.getsockname()[1]}")

    def say_aloud(self, line):
        print(line, flush=True)

    # The wire.

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
        self.reader = m.MAVLink(None)
        self.reader.robust_parsing = True
        if self.key:
            dialect.sign(self.reader, self.key)
        for sender in self.senders.values():
            sender.seq = 0
        self.intervals = dict(STREAMS)
        self.next = {message: now + 0.05 for message in STREAMS}
        self.neighbours = now
        self.unread, self.unread_since = 0, now
        self.board.start(now)
        self.say_aloud(f"port {path}")

    def leave(self, now):
        """The port goes, as a USB port does."""
        os.unlink(self.link)
        os.close(self.master)
        self.master = None
        self.later.clear()
        self.board.disarm()
        self.back_at, self.restart_at = now + GONE, None
        self.say_aloud("port gone")

    def write(self, frame):
        """What the library calls to send. Nothing is kept for a program that is not there."""
        try:
            os.write(self.master, frame)
        except BlockingIOError:
            termios.tcflush(self.slave, termios.TCIFLUSH)

    def send(self, message, component=1):
        self.senders[component].send(message)

    def answer(self, now, message, more=0.0):
        self.order += 1
        self.later.append((now + self.slow + more, self.order, message))

    def mind_the_reader(self, now):
        fcntl.ioctl(self.slave, termios.TIOCNXCL)
        unread = struct.unpack("i", fcntl.ioctl(self.slave, termios.FIONREAD, b"\0" * 4))[0]
        if unread == 0 or unread < self.unread:
            self.unread_since = now
        elif now - self.unread_since > 0.7:
            termios.tcflush(self.slave, termios.TCIFLUSH)
        self.unread = unread

    # What comes in.

    def receive(self, now):
        try:
            data = os.read(self.master, 4096)
        except (BlockingIOError, OSError):
            return
        for message in self.reader.parse_buffer(data) or []:
            kind = message.get_type()
            if kind == "BAD_DATA":
                assert self.key and message.reason == "Invalid signature", message
                continue
            if kind == "HEARTBEAT":
                continue
            assert (message.target_system, message.target_component) == (1, 1), f"for all, or another: {message}"
            getattr(self, kind.lower())(now, message)

    def param_request_list(self, now, message):
        order = list(SETTINGS)
        random.Random(self.told_of).shuffle(order)
        # Holes, other ones each time.
        for place, name in enumerate(order[3:]):
            self.answer(now, self.value(name), 0.004 * place)
        self.told_of += 1

    def param_request_read(self, now, message):
        names = list(SETTINGS)
        index = message.param_index
        name = names[index] if 0 <= index < len(names) else message.param_id
        self.answer(now, self.value(name) if name in SETTINGS else self.error(message.param_id, 1))

    def param_set(self, now, message):
        name = message.param_id
        if name not in SETTINGS:
            self.answer(now, self.error(name, 1))
            return
        kind, _, least, most = SETTINGS[name]
        value = message.param_value
        if message.param_type != KINDS[kind] or (kind != "real" and value != int(value)):
            self.answer(now, self.error(name, 6))
        elif not least <= value <= most:
            self.answer(now, self.error(name, 2))
        else:
            self.board.working[name] = value if kind == "real" else int(value)
            self.answer(now, self.value(name))

    def value(self, name):
        kind = KINDS[SETTINGS[name][0]]
        real = dialect.wire_real(kind, self.board.working[name], cast=True)
        place = list(SETTINGS).index(name)
        return m.MAVLink_param_value_message(name.encode(), real, kind, len(SETTINGS), place)

    def error(self, name, error):
        return m.MAVLink_param_error_message(255, 25, name.encode(), -1, error)

    def command_long(self, now, message):
        p = [getattr(message, f"param{i}") for i in range(1, 8)]
        board = self.board

        def ack(result, more=0.0):
            to = (message.get_srcSystem(), message.get_srcComponent())
            self.answer(now, m.MAVLink_command_ack_message(message.command, result, 0, 0, *to), more)

        match message.command:
            case m.MAV_CMD_COMPONENT_ARM_DISARM if p[0] == 0:
                board.disarm()
                ack(0)
            case m.MAV_CMD_PREFLIGHT_STORAGE if p[0] == 1 and not board.armed:
                board.stored = dict(board.working)
                ack(m.MAV_RESULT_IN_PROGRESS)
                ack(0, 0.8)
            case m.MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN if p[0] == 1 and not board.armed:
                ack(0)
                self.restart_at = now + self.slow + 0.1
            case m.MAV_CMD_DO_MOTOR_TEST if not board.armed and p[1] == 1 and 1 <= p[0] <= 4 and 0 < p[3] <= 2:
                board.test = (int(p[0]) - 1, int(p[2]), now + p[3])
                ack(0)
            case m.MAV_CMD_SET_MESSAGE_INTERVAL if int(p[0]) in STREAMS:
                self.intervals[int(p[0])] = {0: STREAMS[int(p[0])], -1: 1e9}.get(p[1], max(p[1] / 1e6, 0.02))
                self.next[int(p[0])] = now
                ack(0)
            case m.MAV_CMD_REQUEST_MESSAGE if int(p[0]) == 148:
                ack(0)
                self.answer(now, self.identity())
            case m.MAV_CMD_REQUEST_MESSAGE if int(p[0]) == 244 and int(p[1]) in STREAMS:
                ack(0)
                interval = round(self.intervals[int(p[1])] * 1e6)
                self.answer(now, m.MAVLink_message_interval_message(int(p[1]), interval))
            case _:
                ack(m.MAV_RESULT_DENIED)

    # What goes out.

    def seen(self):
        """Roll, pitch and heading as it sees them, degrees: what it was told of its seat is taken off."""
        working = self.board.working
        off = math.radians(TURNED - working["SEAT_TURN"])
        roll, pitch = (lean + out for lean, out in zip(self.world.lean, OUT_OF_LEVEL))
        heads = (self.world.heads + math.degrees(off) + 180) % 360 - 180
        return (roll * math.cos(off) + pitch * math.sin(off) - working["SEAT_LEAN"],
                pitch * math.cos(off) - roll * math.sin(off) - working["SEAT_NOSE"], heads)

    def identity(self):
        bits = m.MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_C_CAST | m.MAV_PROTOCOL_CAPABILITY_MAVLINK2
        long = list(range(0x51, 0x51 + 18))
        none = [0] * 8
        return m.MAVLink_autopilot_version_message(bits, 0x010300FF, 0, 0, 0, list(b"Wagtail\0"), none, none, 0, 0, 0, long)

    def text(self, severity, text):
        """In chunks where it is long."""
        self.text_id = self.text_id % 9 + 1
        data = text.encode()
        for place in range(0, len(data), 50):
            number = self.text_id if len(data) > 50 else 0
            self.send(m.MAVLink_statustext_message(severity, data[place:place + 50], number, place // 50))

    def tell(self, message, now):
        board, world = self.board, self.world
        up = int((now - board.up) * 1000)
        pulses = board.pulses
        match message:
            case 0:
                mode = 64 + (128 if board.armed else 0)
                self.send(m.MAVLink_heartbeat_message(m.MAV_TYPE_QUADROTOR, m.MAV_AUTOPILOT_GENERIC, mode, 5,
                                                      4 if board.armed else 3, 3))
            case 1:
                health = 65536 if pulses else 0
                self.send(m.MAVLink_sys_status_message(65536, 65536, health, 300, 65535, -1, -1, 0, 0, 0, 0, 0, 0))
            case 147:
                volts = 7.8 - 0.00001 * sum(world.speeds) if world.battery else 0.0
                volts *= board.working["PACK_SCALE"] / SCALED
                cells = [round(volts * 500)] * 2 + [65535] * 8
                amperes = 0.3 + sum(world.speeds) / 30000 if world.battery else 0.0
                self.send(m.MAVLink_battery_status_message(0, 1, 1, 32767, cells, round(amperes * 100), -1, -1, -1))
            case 65:
                count = len(pulses) if pulses else 0
                all_of_them = (pulses or []) + [65535] * (18 - count)
                self.send(m.MAVLink_rc_channels_message(up, count, *all_of_them, 200))
            case 36:
                self.send(m.MAVLink_servo_output_raw_message(up * 1000, 0, *board.outputs(), 0, 0, 0, 0))
            case 30:
                self.send(m.MAVLink_attitude_message(up, *map(math.radians, self.seen()), 0, 0, 0))
            case 290:
                self.send(ESC_INFO(0, up * 1000, 0, 4, 0, 15, [0] * 4, [0] * 4, [32767] * 4))
            case 291:
                turning = [world.speeds[world.plugs[socket]] for socket in board.sockets]
                speeds = [round(speed * (1 + world.dice.uniform(-0.01, 0.01))) for speed in turning]
                self.send(ESC_STATUS(0, up * 1000, speeds, [7.8] * 4, [0.1] * 4))

    def neighbours_talk(self, now):
        """Two more components of the same craft: alive, and one of them has a setting of a name like the board's."""
        self.neighbours = now + 1.0
        for component, kind in ((100, m.MAV_TYPE_CAMERA), (154, m.MAV_TYPE_GIMBAL)):
            self.send(m.MAVLink_heartbeat_message(kind, m.MAV_AUTOPILOT_INVALID, 128, 0, 4, 3), component)
        self.send(m.MAVLink_param_value_message(b"LOWEST_DRIVE", 1219.0, 3, 1, 0), 154)
        self.send(m.MAVLink_rc_channels_message(1, 12, *[1900] * 12, *[65535] * 6, 0), 100)

    # The world's hand.

    def motor(self, place):
        """What really is of one motor: its corner, the number it is driven as, and which way it turns, from above."""
        corner, number = MOTORS[place][0], self.board.drives(self.world.plugs.index(place))
        clockwise = (corner in CLOCKWISE) ^ (place in self.world.swapped) ^ self.board.back(number)
        state = "turning" if self.world.speeds[place] > 1000 else "still"
        return {"corner": corner, "number": number is not None and number + 1, "clockwise": clockwise, "state": state}

    def line(self, now, line):
        words = line.split()
        world, board = self.world, self.board
        match words:
            case ["truth"]:
                settings = {name: {"working": board.working[name], "stored": board.stored[name]} for name in SETTINGS}
                return json.dumps({
                    "armed": board.armed, "outputs": board.outputs(), "speeds": world.speeds, "settings": settings,
                    "board": {"starts": board.starts}, "paths": self.paths,
                    "highest_start": max(start for _, start in MOTORS), "seen": self.seen(),
                    "hears": board.pulses is not None,
                    "motors": [self.motor(place) for place in range(4)],
                })
            case ["flip", name, place] if name in SWITCHES:
                world.positions[name] = int(place)
            case ["stick", name, value] if name in STICKS and value.endswith("%"):
                world.sticks[name] = 1500 + 5 * float(value[:-1])
            case ["wiggle", name]:
                world.wiggles[name] = now
            case ["radio", state]:
                world.radio = state == "on"
            case ["battery", state]:
                world.battery = state == "in"
            case ["tilt", roll, pitch]:
                world.lean = (float(roll), float(pitch))
            case ["plug", socket, *corner]:
                plugs, place = world.plugs, [name for name, _ in MOTORS].index(" ".join(corner))
                before, socket = plugs.index(place), int(socket) - 1
                plugs[before], plugs[socket] = plugs[socket], plugs[before]
            case ["swap", *corner]:
                world.swapped ^= {[name for name, _ in MOTORS].index(" ".join(corner))}
            case ["receiver", tongue, socket]:
                world.receiver = (int(tongue), int(socket))
            case ["turn", heads]:
                world.heads = float(heads)
            case ["set", name, value]:
                board.working[name] = type(board.working[name])(float(value))
            case _:
                return f"error: no such line: {line}"
        return line

    def hands_move(self, now):
        ready, _, _ = select.select([self.listener, *self.hands], [], [], 0)
        for one in ready:
            if one is self.listener:
                hand, _ = self.listener.accept()
                self.hands[hand] = b""
                continue
            data = one.recv(4096)
            if not data:
                one.close()
                del self.hands[one]
                continue
            *lines, self.hands[one] = (self.hands[one] + data).split(b"\n")
            for line in lines:
                one.sendall(self.line(now, line.decode()).encode() + b"\n")

    def radio_heard(self, now):
        """Silence is noticed after 0.3 s. What is spoken otherwise or elsewhere than it listens is not heard at all."""
        world = self.world
        if world.radio:
            world.lost_at = None
        elif world.lost_at is None:
            world.lost_at = now
        if world.lost_at is not None and now - world.lost_at > 0.3 or world.receiver != self.board.ear:
            return None
        return world.channels(now)

    def run(self):
        began = last = time.monotonic()
        while True:
            waits = [self.listener, *self.hands] + ([self.master] if self.master else [])
            select.select(waits, [], [], 0.004)
            now = time.monotonic() - began
            self.hands_move(now)
            pulses = self.board.pulses_on_sockets() if self.master else [0] * 4
            self.world.turn(pulses, now - last if last < now else 0.0)
            last = now
            if self.master is None:
                if now >= self.back_at:
                    self.open(now)
                continue
            self.board.step(now, self.radio_heard(now))
            self.receive(now)
            for severity, text in self.board.says:
                self.text(severity, text)
            self.board.says.clear()
            self.later.sort(key=lambda answer: answer[:2])
            while self.later and self.later[0][0] <= now:
                self.send(self.later.pop(0)[2])
            for message in STREAMS:
                if self.next[message] <= now:
                    self.next[message] = max(self.next[message] + self.intervals[message], now)
                    self.tell(message, now)
            if self.neighbours <= now:
                self.neighbours_talk(now)
            self.mind_the_reader(now)
            if self.restart_at is not None and now >= self.restart_at:
                self.leave(now)


if __name__ == "__main__":
    Wagtail(*sys.argv[1:]).run()
