"""Topout: what a change does to a bicycle's suspension, and the record of the work.

>>> import topout
>>> bench = topout.read(topout.examples()["longer-travel"])
>>> topout.plan(bench).keep.sag.pressure_pa is not None
True

Each name below is fetched when it is first asked for: `import topout` alone loads nothing.
"""

TYPE_CHECKING = False  # typing's own costs its import
if TYPE_CHECKING:
    from topout.api import curve, geometry, inflate, landing, options, plan, read, rebound, ride, sag, target, ways
    from topout.errors import Fault, FaultsFound, OutOfRange, TopoutError
    from topout.shipped import examples

__version__ = "0.2.0"
__all__ = [
    "Fault",
    "FaultsFound",
    "OutOfRange",
    "TopoutError",
    "curve",
    "examples",
    "geometry",
    "inflate",
    "landing",
    "options",
    "plan",
    "read",
    "rebound",
    "ride",
    "sag",
    "target",
    "ways",
]


def __getattr__(name: str) -> object:
    """The function or error of that name."""
    if name not in __all__:
        raise AttributeError(f"module 'topout' has no attribute {name!r}")
    if name == "examples":
        from topout import shipped as room
    elif name[0].isupper():
        from topout import errors as room  # type: ignore[no-redef]
    else:
        from topout import api as room  # type: ignore[no-redef]
    value: object = getattr(room, name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
