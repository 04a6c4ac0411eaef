"""A page as a browser draws it: in light and dark, narrow and on paper.

    pictures.py CHROMIUM PAGE TEXT...

Each TEXT, hostile or not, must be on the page as text. What is drawn in dark must be what is drawn in light: a mark in one
colour for both would be lost in one of them.
"""

import html.parser
import os
import re
import subprocess
import sys
import tempfile
import zlib


class Picture:
    """A PNG of 8 bits a channel, not interlaced. Source: PNG specification, third edition, sections 9 and 11."""

    def __init__(self, data):
        assert data[:8] == b"\x89PNG\r\n\x1a\n"
        at, packed = 8, b""
        while at < len(data):
            length, kind = int.from_bytes(data[at:at + 4], "big"), data[at + 4:at + 8]
            body = data[at + 8:at + 8 + length]
            if kind == b"IHDR":
                self.wide, self.high = int.from_bytes(body[:4], "big"), int.from_bytes(body[4:8], "big")
                assert body[8] == 8 and body[12] == 0, body
                self.each = {2: 3, 6: 4}[body[9]]
            packed += body if kind == b"IDAT" else b""
            at += 12 + length
        raw, row, self.rows = zlib.decompress(packed), self.wide * self.each, []
        above = bytearray(row)
        for y in range(self.high):
            how, line = raw[y * (row + 1)], bytearray(raw[y * (row + 1) + 1:(y + 1) * (row + 1)])
            self.unfilter(how, line, above)
            self.rows.append(line)
            above = line

    def unfilter(self, how, line, above):
        each = self.each
        if how == 2:
            line[:] = bytes((a + b) & 255 for a, b in zip(line, above))
            return
        for x in range(len(line)) if how else ():
            left, corner = (line[x - each], above[x - each]) if x >= each else (0, 0)
            if how == 1:
                guess = left
            elif how == 3:
                guess = (left + above[x]) // 2
            else:
                a, b, c = (abs(above[x] - corner), abs(left - corner), abs(left + above[x] - 2 * corner))
                guess = left if a <= b and a <= c else above[x] if b <= c else corner
            line[x] = (line[x] + guess) & 255

    def grey(self, x, y):
        at = x * self.each
        return sum(self.rows[y][at:at + 3]) // 3

    def paper(self):
        return self.grey(1, 1)

    def marks(self, cell=6):
        """Which cells of a grid have something drawn in them: how far it is from the paper, at most."""
        paper, found = self.paper(), {}
        for y in range(self.high):
            for x in range(self.wide):
                far = abs(self.grey(x, y) - paper)
                key = (x // cell, y // cell)
                if far > found.get(key, 24):
                    found[key] = far
        return found


def drawn(chromium, page, folder, *more, size="700,2600"):
    file = os.path.join(folder, "picture.png")
    shot = [f"--screenshot={file}", f"--window-size={size}", "--hide-scrollbars", *more]
    browse(chromium, folder, page, *shot)
    with open(file, "rb") as picture:
        return Picture(picture.read())


def browse(chromium, folder, page, *more):
    command = [chromium, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder}/profile", *more, page]
    return subprocess.run(command, check=True, capture_output=True, timeout=60).stdout.decode()


class Read(html.parser.HTMLParser):
    """Elements and text, as the browser gave them back."""

    def __init__(self, text):
        super().__init__()
        self.elements, self.said = set(), ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.add(tag)
        assert not any(name.startswith("on") for name, _ in attrs), attrs

    def handle_data(self, data):
        self.said += data


def compared(chromium, page, folder):
    """What is drawn in light and in dark, by cells, and the cells that one of them lacks."""
    light = drawn(chromium, page, folder)
    dark = drawn(chromium, page, folder, "--blink-settings=preferredColorScheme=0")
    assert light.paper() > 240 and dark.paper() < 40, (light.paper(), dark.paper())
    one, other = light.marks(), dark.marks()
    return one, other, [cell for cell in one.keys() ^ other.keys() if max(one.get(cell, 0), other.get(cell, 0)) > 70]


def main():
    chromium, page, *texts = sys.argv[1:]
    page = "file://" + os.path.abspath(page)
    with tempfile.TemporaryDirectory() as folder:
        read = Read(browse(chromium, folder, page, "--dump-dom"))
        for text in texts:
            assert text in read.said, text
        assert not read.elements & {"script", "img", "iframe", "object", "link", "a", "form", "b"}, read.elements
        one, other, lost = compared(chromium, page, folder)
        for _ in range(2):
            # A busy browser may hand out a picture of which the last part is not drawn yet.
            if len(lost) >= 5:
                one, other, lost = compared(chromium, page, folder)
        assert len(one) > 2000 and len(lost) < 5, (len(one), len(lost), sorted(lost)[:9])
        # On a narrow screen nothing runs out of it: the last columns are paper.
        narrow = drawn(chromium, page, folder, size="500,2600")
        out = [y for y in range(narrow.high) for x in range(492, 500) if abs(narrow.grey(x, y) - narrow.paper()) > 24]
        assert not out, sorted(set(out))[:9]
        paper = os.path.join(folder, "page.pdf")
        browse(chromium, folder, page, f"--print-to-pdf={paper}", "--no-pdf-header-footer")
        with open(paper, "rb") as pdf:
            pdf = pdf.read()
        # A4 is 210 mm by 297 mm: ISO 216; a point is 1/72 inch.
        boxes = re.findall(rb"/MediaBox \[0 0 ([0-9.]+) ([0-9.]+)\]", pdf)
        assert boxes and all(abs(float(w) - 595.3) < 1 and abs(float(h) - 841.9) < 1 for w, h in boxes), boxes
        # Headings and tables are told to a screen reader on paper as well: ISO 32000, 14.7.
        assert b"/StructTreeRoot" in pdf and b"/MarkInfo" in pdf
        print(f"{len(boxes)} pages, {len(one)} cells drawn in light and {len(other)} in dark, {len(lost)} unlike")


if __name__ == "__main__":
    main()
