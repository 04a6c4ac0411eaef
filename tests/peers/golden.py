"""Writes the golden frames of the reference library to standard output, one JSON object a line.

`from` is "board" or "station". The frames of the station come in the order in which the test asks its link for them,
numbered as a link numbers them. `cast` and `value` stand with settings: how the value travels, and the value. The
last line are the checksum seeds of the whole dialect, by message id.
"""

import json
import struct

from dialect import ESC_INFO, ESC_STATUS, common as m, wire_real


def name(text):
    return text.encode("ascii")


def out(kind, system, component, seq, what, message, **more):
    mav = m.MAVLink(None, srcSystem=system, srcComponent=component)
    mav.seq = seq
    frame = message.pack(mav)
    fields = {}
    for field in message.fieldnames:
        value = getattr(message, field)
        if isinstance(value, bytes):
            value = value.decode("ascii").rstrip("\0")
        elif isinstance(value, (tuple, list)):
            value = list(value)
        elif isinstance(value, float):
            value = {"bits": struct.unpack("<I", struct.pack("<f", value))[0]}
        fields[field] = value
    row = {"from": kind, "what": what, "name": message.msgname, "id": message.get_msgId(), "seq": seq}
    row |= {"system": system, "component": component, "extra": message.crc_extra}
    print(json.dumps(row | more | {"fields": fields, "hex": frame.hex()}))


def board():
    """What a board sends: usual values, ends of ranges, and all that may be cut off at the end."""
    none = 65535
    uid2 = list(range(18))
    rows = [
        ("disarmed", m.MAVLink_heartbeat_message(2, 0, 0, 0, 3, 3)),
        ("armed", m.MAVLink_heartbeat_message(13, 0, 128 + 64 + 1, 0x01020304, 4, 3)),
        ("numbers of no enumeration", m.MAVLink_heartbeat_message(250, 99, 128, 0, 77, 3)),
        ("receiver heard", m.MAVLink_sys_status_message(65536 + 3, 65536, 65536, 180, 7412, 53, -1, 0, 0, 0, 0, 0, 0)),
        ("receiver lost", m.MAVLink_sys_status_message(65536, 65536, 3, 0, 0, 0, 50, 1, 2, 3, 4, 5, 6, 7, 8, 9)),
        ("nothing known", m.MAVLink_sys_status_message(0, 0, 0, 1000, none, -1, -1, 0, 0, 0, 0, 0, 0)),
        ("level", m.MAVLink_attitude_message(0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)),
        ("tilted", m.MAVLink_attitude_message(4294967295, 0.25, -0.5, 3.125, 0.1, 0.2, 0.3)),
        ("at rest", m.MAVLink_servo_output_raw_message(1_000_000, 0, 1000, 1000, 1000, 1000, 0, 0, 0, 0)),
        ("idle", m.MAVLink_servo_output_raw_message(2_000_000, 0, 1101, 1102, 1103, 1104, 1105, 1106, 1107, 2000,
                                                    *range(1, 9))),
        ("other port", m.MAVLink_servo_output_raw_message(3_000_000, 1, 1500, 0, 0, 0, 0, 0, 0, 0)),
        ("eight", m.MAVLink_rc_channels_message(123456, 8, 1500, 1500, 988, 1500, 2012, 1000, 2000, 1750,
                                                *[none] * 10, 255)),
        ("none", m.MAVLink_rc_channels_message(5, 0, *[none] * 18, 0)),
        ("eighteen", m.MAVLink_rc_channels_message(5, 18, *range(1001, 1019), 0)),
        ("two cells", m.MAVLink_battery_status_message(0, 1, 1, 32767, [3900, 3910] + [none] * 8, 120, -1, -1, -1)),
        ("second pack", m.MAVLink_battery_status_message(1, 1, 1, 32767, [3900] + [none] * 9, 0, -1, -1, -1)),
        ("extended", m.MAVLink_battery_status_message(0, 0, 0, 2500, [4200] * 10, -1, 100, 200, 99, 60, 1,
                                                      [1, 2, 3, 4], 0, 1)),
        ("controllers", ESC_INFO(0, 99, 7, 6, 4, 15, [0] * 4, [1, 2, 3, 4], [32767] * 4)),
        ("speeds", ESC_STATUS(0, 19_000_000, [1200, -1200, 0, 3500], [8.25] * 4, [0.25, 0.5, 0.0, 0.25])),
        ("speeds of the last two", ESC_STATUS(4, 1, [900, 901, 7, 8], [0.0] * 4, [0.0] * 4)),
        ("whole line", m.MAVLink_statustext_message(4, b"Armed")),
        ("fifty characters", m.MAVLink_statustext_message(7, b"x" * 50)),
        ("first chunk", m.MAVLink_statustext_message(2, b"0123456789" * 5, 513, 0)),
        ("last chunk", m.MAVLink_statustext_message(2, b"and the rest", 513, 1)),
        ("short id", m.MAVLink_autopilot_version_message((1 << 4) | (1 << 13), 0x020401FF, 1, 2, 3,
                                                         list(b"Wagtail\0"), [4] * 8, [5] * 8, 6, 7,
                                                         0x0123456789ABCDEF)),
        ("long id", m.MAVLink_autopilot_version_message((1 << 17) | (1 << 13), 0x0A000000, 0, 0, 0, [0] * 8, [0] * 8,
                                                        [0] * 8, 0, 0, 0, uid2)),
        ("accepted", m.MAVLink_command_ack_message(400, 0, 0, 0, 255, 25)),
        ("refused", m.MAVLink_command_ack_message(209, 2, 0, 0, 255, 25)),
        ("of no standard", m.MAVLink_command_ack_message(54321, 3, 0, 0, 255, 25)),
        ("every 20 ms", m.MAVLink_message_interval_message(65, 20_000)),
        ("off", m.MAVLink_message_interval_message(291, -1)),
        ("no such setting", m.MAVLink_param_error_message(255, 25, name("NO_SUCH_SETTING"), -1, 1)),
    ]
    for seq, (what, message) in enumerate(rows):
        out("board", 1, 1, seq, what, message)
    for kind, value, cast in settings():
        message = m.MAVLink_param_value_message(name("SIXTEEN_LETTERS_"), wire_real(kind, value, cast), kind, 300, 299)
        out("board", 1, 1, 255, "setting", message, cast=cast, value=value)


#: Type numbers of MAV_PARAM_TYPE, and values that travel exactly in either encoding.
VALUES = {
    1: [7, 255], 2: [-1, 127], 3: [1754, 65535], 4: [-300, 32767], 5: [70000, 16777216], 6: [-70000, 3],
    9: [11.0, -0.25],
}


def settings():
    return [(kind, value, cast) for cast in (False, True) for kind, values in VALUES.items() for value in values]


def station():
    """What we send, to board 1/1."""
    to = (1, 1)

    def command(number, *numbers, confirmation=0):
        numbers = list(numbers) + [0.0] * (7 - len(numbers))
        return m.MAVLink_command_long_message(*to, number, confirmation, *map(float, numbers))

    rows = [
        ("heartbeat", m.MAVLink_heartbeat_message(6, 8, 0, 0, 4, 3)),
        ("identify", command(512, 148)),
        ("list", m.MAVLink_param_request_list_message(*to)),
        ("gap", m.MAVLink_param_request_read_message(*to, b"", 1)),
        ("read", m.MAVLink_param_request_read_message(*to, name("SIXTEEN_LETTERS_"), -1)),
        ("ask interval", command(512, 244, 65)),
        ("interval", command(511, 65, 20000)),
        ("put back", command(511, 65, 200000)),
        ("motor", command(209, 3, 1, 1150, 0.75, 1)),
        ("store", command(245, 1)),
        ("store again", command(245, 1, confirmation=1)),
        ("restart", command(246, 1)),
        ("disarm", command(400, 0)),
        ("forced disarm", command(400, 0, 21196)),
    ]
    for seq, (what, message) in enumerate(rows):
        out("station", 255, 25, seq, what, message)
    for seq, (kind, value, cast) in enumerate(settings()):
        write = m.MAVLink_param_set_message(*to, name(f"KIND_{kind}"), wire_real(kind, value, cast), kind)
        out("station", 255, 25, seq % (len(settings()) // 2), "write", write, cast=cast, value=value)


if __name__ == "__main__":
    board()
    station()
    print(json.dumps({"seeds": {id: message.crc_extra for id, message in sorted(m.mavlink_map.items())}}))
