"""The reference library's dialect `common` of MAVLink 2, with the two messages of motor speeds added to it.

Promises: layouts and checksum seeds are the reference's own or made by its own generator, never by hand.
"""

import contextlib
import importlib.util
import io
import os
import struct
import tempfile
import time

from pymavlink.dialects.v20 import common
from pymavlink.generator import mavgen


def _speeds():
    definition = os.path.join(os.path.dirname(os.path.abspath(__file__)), "speeds.xml")
    with tempfile.TemporaryDirectory() as folder:
        output = os.path.join(folder, "speeds.py")
        options = mavgen.Opts(output, wire_protocol="2.0", language="Python", validate=False)
        with contextlib.redirect_stdout(io.StringIO()):
            mavgen.mavgen(options, [definition])
        spec = importlib.util.spec_from_file_location("speeds", output)
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
    return module


_made = _speeds()
common.mavlink_map.update(_made.mavlink_map)
ESC_INFO = _made.MAVLink_esc_info_message
ESC_STATUS = _made.MAVLink_esc_status_message

#: Type numbers of parameters (common.xml, MAV_PARAM_TYPE) and how their bytes are packed.
TYPES = {1: "<B", 2: "<b", 3: "<H", 4: "<h", 5: "<I", 6: "<i", 9: "<f"}


def wire_real(kind, value, cast):
    """The 32-bit real in which a parameter's value travels, as a C cast or byte for byte."""
    if cast or kind == 9:
        return struct.unpack("<f", struct.pack("<f", value))[0]
    return struct.unpack("<f", struct.pack(TYPES[kind], value).ljust(4, b"\0"))[0]


def from_wire(kind, real, cast):
    """The value in such a real."""
    if kind == 9:
        return real
    if cast:
        return int(real)
    pack = TYPES[kind]
    return struct.unpack(pack, struct.pack("<f", real)[: struct.calcsize(pack)])[0]


def sign(mav, key, link=0):
    """Lets a codec sign all that it sends and take only what is signed with this key of 32 bytes."""
    mav.signing.secret_key = key
    mav.signing.sign_outgoing = True
    mav.signing.link_id = link
    # Units of 10 us since 2015-01-01 (developer guide, message signing).
    mav.signing.timestamp = int((time.time() - 1420070400) * 1e5)
