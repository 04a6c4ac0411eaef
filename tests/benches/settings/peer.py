"""One reading of all settings by the reference library: its list request, its single requests for what is missing.

    peer.py PORT BAUD

Prints how many seconds that took and how many settings came. The library asks for the list and never again by itself;
what is missing after a second of silence is asked for here, all at once, and that up to three times, as often as its
own `mavset` tries.
"""

import os
import sys
import time

os.environ["MAVLINK20"] = "1"
os.environ["MAVLINK_DIALECT"] = "common"
from pymavlink import mavutil  # noqa: E402: the dialect has to be chosen before

ROUNDS, SILENCE = 3, 1.0

port, baud = sys.argv[1], int(sys.argv[2])
wire = mavutil.mavlink_connection(port, baud=baud, source_system=255)
assert wire.wait_heartbeat(timeout=10), "no sign of life"
begun = time.monotonic()
wire.param_fetch_all()
got, count, rounds, took = set(), None, 0, 0.0
while count is None or len(got) < count:
    message = wire.recv_match(type="PARAM_VALUE", blocking=True, timeout=SILENCE)
    if message is not None:
        count = message.param_count
        got.add(message.param_index)
        took = time.monotonic() - begun
        continue
    if rounds == ROUNDS:
        break
    rounds += 1
    if count is None:
        wire.param_fetch_start = 0
        wire.param_fetch_all()
    for index in range(count or 0):
        if index not in got:
            wire.param_fetch_one(index)
print(took, len(got))
