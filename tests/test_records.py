"""Our records behave as the frozen dataclasses that type checkers take them for."""

import copy
import dataclasses
import pickle

import pytest

from topout import records
from topout.units import Typed


@records.dataclass(frozen=True, slots=True)
class Pair:
    """Two numbers, the second 2 where left out."""

    first: float
    second: float = 2.0


@records.dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """A record whose values have to be named."""

    value: float = 1.0


def test_values_defaults_and_replacing() -> None:
    assert (Pair(1.0).second, Pair(1.0, 3.0).second, Pair(first=1.0, second=4.0).second) == (2.0, 3.0, 4.0)
    assert dataclasses.replace(Pair(1.0), second=5.0) == Pair(1.0, 5.0)
    assert [f.name for f in dataclasses.fields(Pair)] == ["first", "second"] and dataclasses.is_dataclass(Pair(1.0))
    assert Named().value == 1.0 and Named(value=2.0) != Named()
    assert repr(Pair(1.0)) == "Pair(first=1.0, second=2.0)"
    assert hash(Pair(1.0)) == hash(Pair(1.0, 2.0)) and Pair(1.0) != (1.0, 2.0)  # type: ignore[comparison-overlap]


@pytest.mark.parametrize(
    ("values", "named"),
    [((), {}), ((1.0, 2.0, 3.0), {}), ((1.0,), {"third": 3.0}), ((1.0,), {"first": 1.0})],
)
def test_wrong_values_are_refused(values: tuple[float, ...], named: dict[str, float]) -> None:
    with pytest.raises(TypeError):
        Pair(*values, **named)


def test_it_is_frozen_and_has_nothing_beside_its_fields() -> None:
    pair = Pair(1.0)
    with pytest.raises(dataclasses.FrozenInstanceError):
        pair.first = 2.0  # type: ignore[misc]
    with pytest.raises(dataclasses.FrozenInstanceError):
        del pair.first
    assert not hasattr(pair, "__dict__")
    with pytest.raises(TypeError):
        Named(1.0)  # type: ignore[misc]


def test_a_record_has_to_be_frozen_and_simple() -> None:
    with pytest.raises(TypeError, match="frozen"):
        records.dataclass(frozen=False, slots=True)
    with pytest.raises(TypeError, match="default factories"):

        @records.dataclass(frozen=True, slots=True)
        class Listed:
            values: list[float] = dataclasses.field(default_factory=list)


def test_it_can_be_copied_and_pickled() -> None:
    typed = Typed(1.0, "m", "1 m")
    assert copy.deepcopy(typed) == typed == pickle.loads(pickle.dumps(typed))
