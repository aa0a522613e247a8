"""Draws a picture anew, without anything but its points; run as a program it does so for one picture it gets.

What comes in may be made to harm: a small file that claims many points, or takes long to decode. So the server runs this
file in a process of its own, which may take so much memory and time and no more, and which nothing else is lost with.
It imports Pillow and nothing of Topout: it starts in a tenth of a second.
"""

from __future__ import annotations

import io
import os
import struct
import sys
import warnings

from PIL import Image, ImageOps, UnidentifiedImageError

MOST_BYTES = 12 * 1024 * 1024
MOST_PIXELS = 50_000_000
MOST_SIDE_PX = 12_000
LONGEST_SIDE_PX = 2400
MOST_MEMORY_BYTES = 400_000_000  # of the whole process, its program included
MOST_CPU_S = 10
FORMATS = ("JPEG", "PNG", "WEBP")
HEAD = struct.Struct(">cII")  # before what is answered: D and width, height of a JPEG; R and two zeros before words
LARGE = "Take it again with a lower setting."
TOO_MUCH = f"The photo takes more memory or time to open than a photo should. {LARGE}"
NOT_OPENED = "This can’t be opened as a photo. A JPEG, PNG or WebP is expected."
_NO_PICTURE = (  # what Pillow raises for bytes that are no picture
    UnidentifiedImageError, OSError, ValueError, SyntaxError, Warning, EOFError, OverflowError, struct.error,
    Image.DecompressionBombError,
)  # fmt: skip


class Unreadable(Exception):
    """The picture is refused; the text says why and the way out."""


def redraw(data: bytes) -> tuple[bytes, int, int]:
    """A JPEG of the picture without metadata, at most LONGEST_SIDE_PX a side, with its width and height in points.

    Raises Unreadable. The size that a file claims is read from its head and judged before a point is decoded.
    """
    if len(data) > MOST_BYTES:
        raise Unreadable(f"The photo is larger than 12 MB. {LARGE}")
    try:
        with Image.open(io.BytesIO(data), formats=FORMATS) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise Unreadable(f"The photo has more than 50 million points. {LARGE}")
            if max(picture.size) > MOST_SIDE_PX:
                raise Unreadable(f"The photo is more than {MOST_SIDE_PX:,} points wide or high. {LARGE}")
            # A JPEG is decoded at a half, a quarter or an eighth where that is enough.
            picture.draft("RGB", (LONGEST_SIDE_PX, LONGEST_SIDE_PX))
            picture.load()
            turned = picture.getexif().get(0x0112)
            small: Image.Image = picture
            if small.mode not in ("RGB", "RGBA", "L", "CMYK"):  # others don't shrink smoothly
                small = small.convert("RGBA" if "A" in small.mode or "transparency" in small.info else "RGB")
            small.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX), reducing_gap=2.0)
            small = small.convert("RGB")
        # Points alone: no profile, no text, no place. What the metadata say of "up" is done, not kept.
        clean = Image.frombytes("RGB", small.size, small.tobytes())
        if isinstance(turned, int):
            clean.getexif()[0x0112] = turned
        clean = ImageOps.exif_transpose(clean)
    except Unreadable:
        raise
    except MemoryError:
        raise Unreadable(TOO_MUCH) from None
    except _NO_PICTURE:
        raise Unreadable(NOT_OPENED) from None
    out = io.BytesIO()
    clean.save(out, "JPEG", quality=85, exif=b"")
    return out.getvalue(), *clean.size


def _bound() -> None:
    """Take no more memory and time than one picture is worth, where the system can hold a process to it, and the server first."""
    if hasattr(os, "nice"):
        os.nice(10)
    try:
        import resource
    except ImportError:  # Windows
        return
    for what, most in ((resource.RLIMIT_AS, MOST_MEMORY_BYTES), (resource.RLIMIT_CPU, MOST_CPU_S)):
        try:
            resource.setrlimit(what, (most, most))
        except (OSError, ValueError):  # a lower bound stands already, or the system knows none
            continue


def main() -> None:
    """One picture from standard input; HEAD and the JPEG, or the words of a refusal, to standard output."""
    _bound()
    Image.MAX_IMAGE_PIXELS = None  # `redraw` judges what the head claims, and says so
    warnings.simplefilter("error")  # a picture that Pillow warns of is spoilt
    data = sys.stdin.buffer.read(MOST_BYTES + 1)
    try:
        made, width, height = redraw(data)
        answer = HEAD.pack(b"D", width, height) + made
    except Unreadable as refused:
        answer = HEAD.pack(b"R", 0, 0) + str(refused).encode()
    sys.stdout.buffer.write(answer)


if __name__ == "__main__":
    main()
