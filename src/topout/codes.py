"""The letters of every short code that leaves the workshop: tags, and the one-time code of the first start."""

from __future__ import annotations

from typing import Final

# No 0/O, 1/I/L, A/4, B/8, E/3, S/5, U/V pairs kept apart by dropping one side: read aloud and in grease.
ALPHABET: Final = "23456789CDFGHJKMNPQRTVWXY"
