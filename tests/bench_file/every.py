"""A bench file with every key, made from the model and its samples; and every path of the model."""

from __future__ import annotations

from collections.abc import Iterator

from topout.bench_file import model
from topout.bench_file.samples import SAMPLES

Path = tuple[str, ...]
File = dict[str, dict[str, str]]  # table -> word -> the value as TOML

# Of two ways to say one thing the base file takes one; a key on the left brings its own surroundings.
INSTEAD: dict[str, dict[str, str | None]] = {
    "conditions.ambient_pressure": {"conditions.altitude": None},
    "frame.fork_length_straight": {"frame.fork_length": None},
    "fork.length_straight": {"fork.length": None},
    "front_wheel.radius": {"front_wheel.bead_seat": None, "front_wheel.tyre_height": None},
    "rear_wheel.radius": {"rear_wheel.bead_seat": None, "rear_wheel.tyre_height": None},
    "change.front_wheel.radius": {"change.front_wheel.bead_seat": None, "change.front_wheel.tyre_height": None},
    "change.rear_wheel.radius": {"change.rear_wheel.bead_seat": None, "change.rear_wheel.tyre_height": None},
    "fork.air.negative_pressure": {"fork.air.negative": '"separate-valve"'},
    "fork.air.negative_coil": {"fork.air.negative": '"coil"'},
    "fork.air.negative_coil.rate": {"fork.air.negative": '"coil"', "fork.air.negative_coil.length": '"30 mm"'},
    "fork.air.negative_coil.length": {"fork.air.negative": '"coil"', "fork.air.negative_coil.rate": '"4 N/mm"'},
    "change.spacer_solid_volume": {"change.by": '"piston-spacer"'},
    "change.air.negative_pressure": {"change.air.negative": '"separate-valve"'},
    "change.air.negative_coil": {"change.air.negative": '"coil"'},
    "change.air.negative_coil.rate": {"change.air.negative": '"coil"', "change.air.negative_coil.length": '"30 mm"'},
    "change.air.negative_coil.length": {"change.air.negative": '"coil"', "change.air.negative_coil.rate": '"4 N/mm"'},
    "change.air.spacers": {"change.spacers": None},
    "shock.sag": {"rear_wheel.sag": None, "change.rear_wheel.sag": None},
    "shock.leverage_stroke": {"shock.leverage": None},
    "shock.air.negative_pressure": {"shock.air.negative": '"separate-valve"'},
    "shock.air.negative_coil": {"shock.air.negative": '"coil"'},
    "shock.air.negative_coil.rate": {"shock.air.negative": '"coil"', "shock.air.negative_coil.length": '"15 mm"'},
    "shock.air.negative_coil.length": {"shock.air.negative": '"coil"', "shock.air.negative_coil.rate": '"4 N/mm"'},
    **{
        f"{table}.{word}": {
            **{f"shock.air.{each}": None for each in SAMPLES["shock.air"]},
            **{f"shock.coil.{each}": SAMPLES["shock.coil"][each] for each in SAMPLES["shock.coil"] if each != word},
            "change.shock.spacers": None,
            "change.shock.pressure": None,
        }
        for table in ("shock.coil", "change.shock")
        for word in ("rate", "preload", "bind")
    },
    "change.air.pressure": {"change.pressure": None},
    "guessed.shock": {"found.reading": None},  # it speaks against the rest of the bike, once that is drawn anew
    **{
        f"{table}.{word}": {
            "fork.air": None,
            "found.pressure": None,
            "change.pressure": None,
            "found.reading": None,
            "change.spacers": None,
            "found.read_at": None,
            "fork.coil.rate": '"7.5 N/mm"',
        }
        for table in ("fork.coil", "change.coil")
        for word in ("rate", "preload", "bind")
    },
}
REFUSED = {"front_wheel.sag", "change.front_wheel.sag"}  # the model's Wheel has it, the front wheel does not


def tables() -> Iterator[tuple[Path, type]]:
    """Every table of the model: path, dataclass."""

    def walk(table: type, path: Path) -> Iterator[tuple[Path, type]]:
        for word, inner in model.subtables(table).items():
            yield (*path, word), inner
            yield from walk(inner, (*path, word))

    yield from walk(model.BenchFile, ())
    yield ("fork", "air", "negative_coil"), model.NegativeCoil
    yield ("shock", "air", "negative_coil"), model.NegativeCoil
    yield ("change", "air", "negative_coil"), model.NegativeCoil


def every_key() -> list[tuple[Path, model.Key]]:
    """Every key of the model with its path."""
    return [((*path, word), key) for path, table in tables() for word, (_, key) in model.keys(table).items()]


def base() -> File:
    """Every key that can stand beside the others."""
    file: File = {}
    for path, _key in every_key():
        name = ".".join(path)
        if name in INSTEAD or name in REFUSED or path[:2] == ("change", "air"):
            continue
        file.setdefault(".".join(path[:-1]), {})[path[-1]] = sample_of(path)
    return file


def sample_of(path: Path) -> str:
    """The sample of a key, as TOML."""
    return SAMPLES[".".join(path[:-1]).replace("change.air", "fork.air").replace("change.coil", "fork.coil")][path[-1]]


def put(file: File, name: str, value: str | None) -> File:
    """The file with one key set, or taken out."""
    home, _, word = name.rpartition(".")
    result = {table: dict(keys) for table, keys in file.items()}
    if value is None:
        result.get(home, {}).pop(word, None)
        result.pop(name, None)
    else:
        result.setdefault(home, {})[word] = value
    return result


def around(path: Path) -> File:
    """The base file with the surroundings in which the key at a path may stand."""
    file = base()
    for name, value in INSTEAD.get(".".join(path), {}).items():
        file = put(file, name, value)
    return file


def text(file: File) -> str:
    """The file's text; outer tables before inner ones."""
    parts = []
    for home in sorted(file, key=lambda name: (name.split("."), name)):
        parts.append(f"[{home}]\n" + "".join(f"{word} = {value}\n" for word, value in file[home].items()))
    return "\n".join(parts)


def line_of(text_: str, path: Path) -> int:
    """The line of a key in a text made here."""
    home, number = "", 0
    for number, row in enumerate(text_.split("\n"), 1):
        if row.startswith("["):
            home = row.strip("[]")
        elif home == ".".join(path[:-1]) and row.startswith(f"{path[-1]} = "):
            return number
    raise AssertionError(path)
