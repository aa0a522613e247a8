"""Comparing two nested results: same keys, same None, numbers within a relative distance."""

from __future__ import annotations

from typing import Any

import numpy as np

SMALL = {"_m": 1e-3, "_m3": 1e-6, "_pa": 1e3, "_n": 1.0, "_j": 1e-2, "_deg": 1.0}  # a number below counts as this big


def floor_of(key: str) -> float:
    return next((small for ending, small in SMALL.items() if key.endswith(ending)), 1e-3)


def differences(expected: Any, got: Any, within: float, where: str = "") -> list[str]:
    """One line for each place where ``got`` is not ``expected``; keys that only ``got`` has are not looked at."""
    if isinstance(expected, dict):
        if not isinstance(got, dict):
            return [f"{where}: expected a table, got {got!r}"]
        found = [f"{where}.{key}: missing" for key in expected if key not in got]
        for key in expected.keys() & got.keys():
            found += differences(expected[key], got[key], within, f"{where}.{key}")
        return found
    if expected is None or got is None:
        return [] if expected is got else [f"{where}: expected {expected!r}, got {str(got)[:60]}"]
    ours, theirs = np.asarray(expected, dtype=float), np.asarray(got, dtype=float)
    if ours.shape != theirs.shape:
        return [f"{where}: shape {theirs.shape}, expected {ours.shape}"]
    distance = float(np.max(np.abs(ours - theirs))) / max(float(np.max(np.abs(ours))), floor_of(where))
    if distance <= within:
        return []
    if not ours.ndim:
        return [f"{where}: {got!r}, expected {expected!r}, {distance:.1e} apart"]
    worst = int(np.argmax(np.abs(ours - theirs)))
    return [f"{where}[{worst}]: {theirs[worst]!r}, expected {ours[worst]!r}, {distance:.1e} apart"]
