"""A wire of the reference library: serial port or TCP below, whole messages above.

Promises: every byte that comes is a frame of the dialect, numbered without a gap and, under a key, signed with it;
anything else raises.
"""

import socket
import time

import serial

from dialect import common as m, sign

#: How long anything may take that is to happen at once, seconds.
PATIENCE = 10.0


class Wire:
    """Open until `close`; system and component are this side's own."""

    def __init__(self, port, system=250, component=190, key=None):
        if port.startswith("tcp:"):
            _, host, number = port.split(":")
            self.socket = socket.create_connection((host, int(number)))
            self.socket.settimeout(0.02)
            self.serial = None
        else:
            self.serial = serial.Serial(port, 115200, timeout=0.02)
        self.mav = m.MAVLink(self, srcSystem=system, srcComponent=component)
        # A board without a clock takes up ours with the first frame that it hears; what it said before is too old.
        self.trusted = key is None
        if key is not None:
            sign(self.mav, key, link=5)
            self.mav.robust_parsing = True
        self.waiting = []
        self.last = {}
        self.heard = 0
        self.texts = []

    def write(self, frame):
        """What the library calls to send."""
        self.raw(frame)

    def raw(self, data):
        if self.serial:
            self.serial.write(data)
        else:
            self.socket.sendall(data)

    def _read(self):
        if self.serial:
            return self.serial.read(max(1, self.serial.in_waiting))
        try:
            data = self.socket.recv(4096)
        except TimeoutError:
            return b""
        if not data:
            raise ConnectionError("the other side closed the connection")
        return data

    def next(self, within=PATIENCE):
        """The next message, or None after a time."""
        deadline = time.monotonic() + within
        while True:
            if self.waiting:
                message = self.waiting.pop(0)
                if message.get_type() == "BAD_DATA":
                    assert message.reason == "Invalid signature" and not self.trusted, message
                    continue
                self.trusted = True
                assert bool(message.get_header().incompat_flags & 1) == (self.mav.signing.secret_key is not None)
                sender = (message.get_srcSystem(), message.get_srcComponent())
                number = message.get_seq()
                wanted = (self.last.get(sender, number - 1) + 1) % 256
                assert number == wanted, f"frame {number} of {sender} came where {wanted} was due"
                self.last[sender] = number
                self.heard += 1
                if message.get_type() == "STATUSTEXT":
                    self.texts.append(message)
                return message
            if time.monotonic() > deadline:
                return None
            data = self._read()
            if data:
                self.waiting += self.mav.parse_buffer(data) or []

    def hear(self, *names, within=PATIENCE, where=lambda message: True):
        """The next message of these names that is so; others are passed by."""
        deadline = time.monotonic() + within
        while (left := deadline - time.monotonic()) > 0:
            message = self.next(left)
            if message is not None and message.get_type() in names and where(message):
                return message
        raise AssertionError(f"no {' or '.join(names)} within {within} s")

    def text(self, words, within=PATIENCE):
        """The text with these words, whether it came already or is still to come; it and those before are done with."""
        deadline = time.monotonic() + within
        while True:
            for place, text in enumerate(self.texts):
                if words in text.text:
                    del self.texts[: place + 1]
                    return text
            if time.monotonic() > deadline:
                raise AssertionError(f"nothing was said of `{words}` within {within} s, but {self.texts}")
            self.next(0.1)

    def during(self, seconds):
        """All messages of a time."""
        deadline = time.monotonic() + seconds
        heard = []
        while (left := deadline - time.monotonic()) > 0:
            message = self.next(left)
            if message is not None:
                heard.append(message)
        return heard

    def close(self):
        (self.serial or self.socket).close()
