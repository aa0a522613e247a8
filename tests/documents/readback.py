"""Reading a PDF back with other people's programs: its text, its structure, its pages as pictures."""

from __future__ import annotations

import io
import re
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pypdf
from PIL import Image


@dataclass(frozen=True)
class Element:
    """One element of the structure tree: its kind, alternative text, and how deep it stands."""

    kind: str
    alt: str
    depth: int


def reader(data: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(data))


def structure(data: bytes) -> list[Element]:
    """The structure tree in reading order."""
    return list(_walk(reader(data).trailer["/Root"]["/StructTreeRoot"]["/K"], 0))


def _walk(node: Any, depth: int) -> Iterator[Element]:
    node = node.get_object()
    if isinstance(node, pypdf.generic.ArrayObject):
        for child in node:
            yield from _walk(child, depth)
    elif isinstance(node, pypdf.generic.DictionaryObject):
        if "/S" in node:
            yield Element(str(node["/S"]), str(node.get("/Alt", "")), depth)
        if "/K" in node:
            yield from _walk(node.raw_get("/K"), depth + 1)


def page_size_mm(data: bytes) -> tuple[float, float]:
    box = reader(data).pages[0].mediabox
    return float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4


def fonts(data: bytes) -> set[str]:
    """Names of the fonts on all pages, without the mark of a subset."""
    names = set()
    for page in reader(data).pages:
        resources: Any = page["/Resources"]
        for font in resources.get("/Font", {}).values():
            names.add(str(font.get_object()["/BaseFont"]).split("+")[-1])
    return names


def poppler(data: bytes, tool: str, *options: str) -> str:
    """What pdftotext or pdfinfo say."""
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        file.write(data)
        file.flush()
        tail = ["-"] if tool == "pdftotext" else []
        done = subprocess.run([tool, *options, file.name, *tail], capture_output=True, check=True, encoding="utf-8")
    return done.stdout


def text(data: bytes) -> str:
    """All text as poppler reads it, white space and invisible breaks made one space."""
    read = poppler(data, "pdftotext", "-raw").replace("\u200b", "")
    return re.sub(r"\s+", " ", read)


def picture(data: bytes, dpi: int, page: int = 1) -> Image.Image:
    """A page as poppler draws it, grey."""
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "in.pdf"
        source.write_bytes(data)
        subprocess.run(
            ["pdftoppm", "-r", str(dpi), "-gray", "-png", "-f", str(page), "-l", str(page), "-singlefile",
             str(source), str(Path(folder) / "out")],
            check=True, capture_output=True,
        )  # fmt: skip
        with Image.open(Path(folder) / "out.png") as image:
            return image.convert("L")


def plain(words: str) -> str:
    """Words as `text` gives them back."""
    return re.sub(r"\s+", " ", words)
