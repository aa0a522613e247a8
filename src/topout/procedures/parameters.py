"""Parameters of a shared group: what may stand for one, and its texts with them filled in."""

from __future__ import annotations

import re
from typing import Any, Final, TypeGuard

PARAMETER_LETTERS: Final = 100


def fills(value: Any) -> TypeGuard[str]:
    """Whether a value may stand for a parameter: short, and naming no parameter itself, or a file would grow in itself."""
    return isinstance(value, str) and len(value) <= PARAMETER_LETTERS and not re.search("[<>]", value)


def substituted(value: Any, given: dict[str, str]) -> Any:
    """A table with `<name>` replaced in all its texts."""
    if isinstance(value, str):
        for key, text in given.items():
            value = value.replace(f"<{key}>", text)
        return value
    if isinstance(value, dict):
        return {key: each if key == "parameters" else substituted(each, given) for key, each in value.items()}
    return [substituted(each, given) for each in value] if isinstance(value, list) else value
