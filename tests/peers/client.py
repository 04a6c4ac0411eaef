"""The reference library as the client of a virtual board: all that the board promises to any program on its wire.

    client.py QUADJIG pty|tcp finch|finch-r bytewise|cast [signed]
"""

import json
import os
import queue
import socket
import subprocess
import sys
import tempfile
import threading
import time

import dialect
from dialect import common as m
from wire import PATIENCE, Wire

ACCEPTED, REJECTED, DENIED, UNSUPPORTED = (
    m.MAV_RESULT_ACCEPTED, m.MAV_RESULT_TEMPORARILY_REJECTED, m.MAV_RESULT_DENIED, m.MAV_RESULT_UNSUPPORTED)
ARM, MOTOR, STORE, RESTART, INTERVAL, ASK = (
    m.MAV_CMD_COMPONENT_ARM_DISARM, m.MAV_CMD_DO_MOTOR_TEST, m.MAV_CMD_PREFLIGHT_STORAGE,
    m.MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN, m.MAV_CMD_SET_MESSAGE_INTERVAL, m.MAV_CMD_REQUEST_MESSAGE)


class Served:
    """A virtual board in a process, and the hand on its world."""

    def __init__(self, program, where, board, encoding, folder, key=None):
        self.link = os.path.join(folder, "finch")
        place = ["--tcp", "0"] if where == "tcp" else ["--link", self.link]
        words = [program, "virtual", "--control", "0", "--board", board, "--encoding", encoding, "--seed", "77"]
        if key is not None:
            with open(os.path.join(folder, "key"), "w") as file:
                file.write(key.hex())
            words += ["--signing-key", file.name]
        self.process = subprocess.Popen(words + place, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True)
        self.said = queue.Queue()
        threading.Thread(target=lambda: [self.said.put(line.strip()) for line in self.process.stdout], daemon=True).start()
        host, number = self.after("control ").split(":")
        self.hand = socket.create_connection((host, int(number))).makefile("rw")
        port = self.after("port ")
        self.port = port if where == "tcp" else self.link

    def after(self, words):
        """What it says behind these words."""
        while True:
            line = self.said.get(timeout=PATIENCE)
            if line.startswith(words):
                return line[len(words):]

    def line(self, line):
        self.hand.write(line + "\n")
        self.hand.flush()
        answer = self.hand.readline().strip()
        assert not answer.startswith("error"), f"{line}: {answer}"
        return answer

    def truth(self):
        return json.loads(self.line("truth"))

    def setting(self, name):
        return self.truth()["settings"][name]

    def end(self):
        self.process.kill()
        self.process.wait()


class Client(Wire):
    """A program on the wire of board 1/1."""

    def __init__(self, port, cast, key=None):
        super().__init__(port, key=key)
        self.cast = cast

    def command(self, number, *numbers, result=ACCEPTED, to=(1, 1), first=False):
        numbers = [float(n) for n in numbers] + [0.0] * (7 - len(numbers))
        self.mav.command_long_send(*to, number, 0, *numbers, force_mavlink1=first)
        ack = self.hear("COMMAND_ACK", where=lambda ack: ack.command == number)
        assert ack.result == result, f"command {number} {numbers}: result {ack.result}, not {result}"
        assert (ack.target_system, ack.target_component) == (250, 190), "an answer says for whom it is"
        return ack

    def value(self, message):
        return dialect.from_wire(message.param_type, message.param_value, self.cast)

    def read(self, name):
        self.mav.param_request_read_send(1, 1, name.encode(), -1)
        return self.hear("PARAM_VALUE", where=lambda told: told.param_id == name)

    def set(self, name, value, kind):
        real = dialect.wire_real(kind, value, self.cast)
        self.mav.param_set_send(1, 1, name.encode(), real, kind)
        return self.value(self.hear("PARAM_VALUE", where=lambda told: told.param_id == name))


def close(told, true):
    return abs(told - true) <= 1e-6 * max(1.0, abs(true))


def lives(wire, served):
    beats = []
    for _ in range(3):
        beats.append((wire.hear("HEARTBEAT", within=2.5), time.monotonic()))
    for beat, _ in beats:
        assert (beat.type, beat.autopilot) == (m.MAV_TYPE_QUADROTOR, m.MAV_AUTOPILOT_GENERIC), beat
        assert beat.base_mode & m.MAV_MODE_FLAG_SAFETY_ARMED == 0, beat
        assert (beat.mavlink_version, beat.get_srcSystem(), beat.get_srcComponent()) == (3, 1, 1)
    apart = beats[2][1] - beats[1][1]
    assert 0.7 < apart < 1.4, f"heartbeats {apart} s apart"


def says_who_it_is(wire, served):
    wire.command(ASK, m.MAVLINK_MSG_ID_AUTOPILOT_VERSION)
    told = wire.hear("AUTOPILOT_VERSION")
    assert f"{told.uid:016x}" == served.truth()["board"]["id"]
    bits = (m.MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_BYTEWISE, m.MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_C_CAST)
    assert [told.capabilities & bit != 0 for bit in bits] == [not wire.cast, wire.cast]
    assert told.capabilities & m.MAV_PROTOCOL_CAPABILITY_MAVLINK2
    kind = bytes(told.flight_custom_version).rstrip(b"\0").decode()
    assert kind == served.truth()["board"]["kind"]


def lists_its_settings(wire, served):
    wire.mav.param_request_list_send(1, 1)
    first = wire.hear("PARAM_VALUE")
    told = {first.param_index: first}
    while len(told) < first.param_count:
        message = wire.hear("PARAM_VALUE", within=3)
        assert message.param_count == first.param_count and message.param_index not in told
        told[message.param_index] = message
    truth = served.truth()["settings"]
    assert sorted(told) == list(range(len(truth)))
    assert {message.param_id for message in told.values()} == set(truth)
    for message in told.values():
        true = truth[message.param_id]["working"]
        assert close(wire.value(message), true), f"{message.param_id}: {wire.value(message)}, truly {true}"
    return told


def tells_one_setting(wire, served, told):
    for index in (0, len(told) - 1):
        wire.mav.param_request_read_send(1, 1, b"", index)
        message = wire.hear("PARAM_VALUE")
        assert (message.param_index, message.param_id) == (index, told[index].param_id)
    assert wire.value(wire.read("IDLE_US")) == served.setting("IDLE_US")["working"]


def takes_what_it_can(wire, served):
    before = served.truth()["settings"]
    assert wire.set("IDLE_US", 1150, 3) == 1150
    assert served.setting("IDLE_US") == {"working": 1150, "stored": before["IDLE_US"]["stored"]}
    assert wire.set("ROTOR_TRIM", -7, 2) == -7
    assert close(wire.set("VOLT_RATIO", 11.25, 9), 11.25)
    assert wire.set("BOARD_TURN", 90, 4) == 90
    truth = served.truth()["settings"]
    assert [truth[name]["working"] for name in ("ROTOR_TRIM", "VOLT_RATIO", "BOARD_TURN")] == [-7, 11.25, 90]
    # Refused: beyond its limits, not among its values, of another type. Each answer is what the board still has.
    for name, value, kind, words in [
        ("IDLE_US", 1251, 3, "takes 1000 to 1250"),
        ("ROTOR_TRIM", -51, 2, "takes -50 to 50"),
        ("LOOP_HZ", 3000, 3, "takes 1000, 2000, 4000, 8000"),
        ("IDLE_US", 1160, 5, "wrong type"),
        ("VOLT_RATIO", float("nan"), 9, "not a number"),
    ]:
        real = dialect.wire_real(kind, value, wire.cast)
        wire.mav.param_set_send(1, 1, name.encode(), real, kind)
        assert wire.text(words).severity == m.MAV_SEVERITY_WARNING
        message = wire.hear("PARAM_VALUE", where=lambda told: told.param_id == name)
        assert close(wire.value(message), truth[name]["working"]), message
    assert served.truth()["settings"] == truth
    # A name that is not there gets no value, and nothing changes.
    wire.mav.param_set_send(1, 1, b"NO_SUCH", 1.0, 9)
    assert all(message.get_type() != "PARAM_VALUE" for message in wire.during(0.5))
    assert served.truth()["settings"] == truth


def sends_as_often_as_asked(wire, served):
    channels = m.MAVLINK_MSG_ID_RC_CHANNELS

    def rate(seconds=1.5):
        wire.hear("RC_CHANNELS", within=3)
        return sum(message.get_type() == "RC_CHANNELS" for message in wire.during(seconds)) / seconds

    def told():
        wire.command(ASK, m.MAVLINK_MSG_ID_MESSAGE_INTERVAL, channels)
        message = wire.hear("MESSAGE_INTERVAL")
        assert message.message_id == channels
        return message.interval_us

    usual = told()
    assert 1e6 / usual * 0.7 < rate() < 1e6 / usual * 1.3
    wire.command(INTERVAL, channels, 20_000)
    assert told() == 20_000
    assert 40 < rate() < 60, rate()
    wire.command(INTERVAL, channels, -1)
    assert told() == -1
    assert all(message.get_type() != "RC_CHANNELS" for message in wire.during(0.7))
    wire.command(INTERVAL, channels, 0)
    assert told() == usual
    wire.command(INTERVAL, 9999, 20_000, result=DENIED)


def refuses_what_it_cannot(wire, served):
    # A number that the standard does not give out, and one that it gives for something else.
    wire.command(64_999, 1, result=UNSUPPORTED)
    wire.command(m.MAV_CMD_NAV_LAND, result=UNSUPPORTED)
    wire.command(ARM, 2, result=DENIED)
    wire.command(STORE, 9, result=DENIED)
    wire.command(RESTART, 5, result=DENIED)
    # For another board: no answer at all.
    wire.mav.command_long_send(2, 1, STORE, 0, 1, 0, 0, 0, 0, 0, 0)
    wire.mav.param_request_list_send(2, 1)
    assert not {message.get_type() for message in wire.during(0.5)} & {"COMMAND_ACK", "PARAM_VALUE"}


def finds_frames_among_junk(wire, served):
    # A frame with a wrong checksum is none: no answer; what follows it is heard.
    frame = bytearray(m.MAVLink_param_set_message(1, 1, b"IDLE_US", dialect.wire_real(3, 1175, wire.cast), 3).pack(wire.mav))
    frame[-1] ^= 0x55
    before = served.setting("IDLE_US")
    wire.raw(b"\xfd\x09noise" + bytes(frame) + b"\xfe\x01\xfd")
    # As long as a frame may be: whatever the noise began is over then.
    wire.raw(b"\0" * 300)
    assert all(message.get_type() != "PARAM_VALUE" for message in wire.during(0.4))
    assert served.setting("IDLE_US") == before
    # Version 1 is understood, and answered in version 2.
    ack = wire.command(ASK, m.MAVLINK_MSG_ID_HEARTBEAT, first=True)
    assert ack.get_msgbuf()[0] == 0xFD


def arms_only_where_it_may(wire, served):
    binding = "ARM_CHANNEL" if "ARM_CHANNEL" in served.truth()["settings"] else "ROW1_FUNC"
    wire.command(ARM, 1, result=REJECTED)
    wire.text("Arm refused: ")
    assert not served.truth()["armed"]
    # With no switch for it, a command may arm.
    wire.set(binding, 0, 1)
    served.line("stick throttle 1400")
    wire.hear("RC_CHANNELS", where=lambda told: told.chan3_raw > 1300)
    wire.command(ARM, 1, result=REJECTED)
    served.line("stick throttle -100%")
    wire.hear("RC_CHANNELS", where=lambda told: told.chan3_raw < 1050)
    wire.command(ARM, 1)
    armed = m.MAV_MODE_FLAG_SAFETY_ARMED
    wire.hear("HEARTBEAT", within=2.5, where=lambda beat: beat.base_mode & armed)
    assert served.truth()["armed"]
    wire.command(STORE, 1, result=REJECTED)
    wire.command(RESTART, 1, result=REJECTED)
    wire.command(MOTOR, 1, 1, 1150, 0.5, 1, result=REJECTED)
    wire.command(ARM, 0)
    wire.hear("HEARTBEAT", within=2.5, where=lambda beat: not beat.base_mode & armed)
    assert not served.truth()["armed"]


def runs_one_motor(wire, served):
    wire.command(MOTOR, 2, 1, 1150, 0.5, 1, result=REJECTED)
    wire.text("battery is out")
    served.line("battery in")
    for numbers, result in [((5, 1, 1150, 0.5, 1), DENIED), ((2, 1, 2500, 0.5, 1), DENIED),
                            ((2, 1, 1150, 30, 1), DENIED), ((2, 0, 50, 0.5, 1), UNSUPPORTED)]:
        wire.command(MOTOR, *numbers, result=result)
    wire.command(INTERVAL, m.MAVLINK_MSG_ID_SERVO_OUTPUT_RAW, 20_000)
    wire.command(INTERVAL, 291, 50_000)
    wire.command(MOTOR, 2, 1, 1200, 1.5, 1)
    heard = wire.during(2.4)
    outputs = [(o.time_usec / 1e6, o.servo1_raw, o.servo2_raw, o.servo3_raw, o.servo4_raw)
               for o in heard if o.get_type() == "SERVO_OUTPUT_RAW"]
    runs = [output for output in outputs if output[2] == 1200]
    assert all(output[1] == output[3] == output[4] == 1000 for output in outputs), outputs
    assert 1.3 < runs[-1][0] - runs[0][0] < 1.6, "the board's own limit"
    assert outputs[-1][2] == 1000
    speeds = [list(speed.rpm) for speed in heard if speed.get_type() == "ESC_STATUS"]
    assert max(speed[1] for speed in speeds) > 1000, speeds
    assert all(speed[place] == 0 for speed in speeds for place in (0, 2, 3)), speeds
    assert any(info.get_type() == "ESC_INFO" and info.count == 4 for info in heard)
    # A disarm ends it.
    wire.command(MOTOR, 3, 1, 1200, 3, 1)
    wire.hear("SERVO_OUTPUT_RAW", where=lambda o: o.servo3_raw == 1200)
    wire.command(ARM, 0)
    wire.hear("SERVO_OUTPUT_RAW", where=lambda o: o.servo3_raw == 1000)
    power = wire.hear("SYS_STATUS", where=lambda status: status.voltage_battery > 6000)
    assert power.onboard_control_sensors_health & 65536
    served.line("battery out")


def trusts_its_key_alone(wire, served, key):
    def frame(value, key=key, first=False):
        """A write of the idle, signed or not."""
        mav = m.MAVLink(None, srcSystem=251, srcComponent=190)
        if key is not None:
            dialect.sign(mav, key, link=9)
        write = m.MAVLink_param_set_message(1, 1, b"IDLE_US", dialect.wire_real(3, value, wire.cast), 3)
        return write.pack(mav, force_mavlink1=first)

    def told(frame, truly):
        wire.raw(frame)
        wire.during(0.3)
        assert served.setting("IDLE_US")["working"] == truly

    good = frame(1130)
    told(good, 1130)
    assert wire.set("IDLE_US", 1140, 3) == 1140
    told(good, 1140)
    told(frame(1150, key=None), 1140)
    told(frame(1150, key=None, first=True), 1140)
    told(frame(1150, key=bytes(32)), 1140)
    changed = bytearray(frame(1160))
    changed[-1] ^= 1
    told(bytes(changed), 1140)
    told(frame(1170), 1170)
    signing = wire.mav.signing
    assert signing.goodsig_count == signing.sig_count - signing.badsig_count and signing.unsigned_count == 0
    assert signing.goodsig_count > 50


def forgets_what_was_not_stored(wire, served):
    wire.set("IDLE_US", 1180, 3)
    wire.command(STORE, 1)
    assert served.setting("IDLE_US") == {"working": 1180, "stored": 1180}
    wire.set("IDLE_US", 1190, 3)
    wire.command(RESTART, 1)
    served.after("port gone")
    try:
        while True:
            wire.next(1)
    except Exception:
        wire.close()
    served.after("port ")
    wire = Client(served.port, wire.cast)
    wire.hear("HEARTBEAT", within=5)
    assert wire.value(wire.read("IDLE_US")) == 1180
    assert served.setting("IDLE_US") == {"working": 1180, "stored": 1180}
    wire.close()


def whole(wire, served):
    lives(wire, served)
    says_who_it_is(wire, served)
    told = lists_its_settings(wire, served)
    tells_one_setting(wire, served, told)
    takes_what_it_can(wire, served)
    sends_as_often_as_asked(wire, served)
    refuses_what_it_cannot(wire, served)
    finds_frames_among_junk(wire, served)
    arms_only_where_it_may(wire, served)
    runs_one_motor(wire, served)


def signed(wire, served, key):
    wire.mav.heartbeat_send(m.MAV_TYPE_GCS, m.MAV_AUTOPILOT_INVALID, 0, 0, m.MAV_STATE_ACTIVE)
    lives(wire, served)
    says_who_it_is(wire, served)
    lists_its_settings(wire, served)
    trusts_its_key_alone(wire, served, key)


def main(program, where, board, encoding, key=None):
    with tempfile.TemporaryDirectory() as folder:
        key = key and bytes(range(0x60, 0x80))
        served = Served(program, where, board, encoding, folder, key)
        try:
            wire = Client(served.port, encoding == "cast", key)
            if key:
                signed(wire, served, key)
            else:
                whole(wire, served)
            heard = wire.heard
            if not key:
                forgets_what_was_not_stored(wire, served)
            print(f"{heard} messages heard, none broken, none missing")
        finally:
            served.end()


if __name__ == "__main__":
    main(*sys.argv[1:])
