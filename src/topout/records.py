"""Frozen records that cost little to define: `dataclasses.dataclass` without the code that it writes for every class.

A command's time is its imports, and the standard decorator compiles six functions for each of our records: on CPython
3.11 that is a third of `topout plan` beyond importing numpy. Here all records share the same six, which read the fields
instead. `dataclasses.fields`, `replace`, `is_dataclass`, default values, `kw_only` and copying work as ever, and type
checkers see the standard decorator.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:
    import dataclasses

    _PLANS: dict[type, tuple[tuple[str, ...], dict[str, Any], bool]] = {}

    def dataclass(*, frozen: bool, slots: bool, kw_only: bool = False, eq: bool = True, repr: bool = True):
        """Make a frozen record with slots; `frozen` and `slots` have to be said, as a reader expects to see them."""
        if not (frozen and slots):
            raise TypeError("a record is frozen and has slots")

        def wrap(cls: type) -> type:
            made = dataclasses.dataclass(cls, init=False, repr=False, eq=False, slots=True, kw_only=kw_only)
            made.__init__ = _init
            made.__setattr__, made.__delattr__ = _refuse, _refuse
            made.__getstate__, made.__setstate__ = _getstate, _setstate
            if repr:
                made.__repr__ = _repr
            if eq:
                made.__eq__, made.__hash__ = _eq, _hash
            of = dataclasses.fields(made)
            defaults = {f.name: f.default for f in of if f.default is not dataclasses.MISSING}
            if any(f.default_factory is not dataclasses.MISSING or not f.init for f in of):
                raise TypeError("a record has neither default factories nor fields that are not given")
            _PLANS[made] = (tuple(f.name for f in of), defaults, kw_only)
            return made

        return wrap

    _set = object.__setattr__

    def _init(self: Any, *values: Any, **named: Any) -> None:
        names, defaults, kw_only = _PLANS[type(self)]
        if len(values) > (0 if kw_only else len(names)):
            raise TypeError(f"{type(self).__name__} takes {len(names)} values, {len(values)} were given")
        for name, value in zip(names, values, strict=False):
            _set(self, name, value)
        for name in names[len(values) :]:
            if name in named:
                _set(self, name, named.pop(name))
            elif name in defaults:
                _set(self, name, defaults[name])
            else:
                raise TypeError(f"{type(self).__name__} lacks {name}")
        if named:
            raise TypeError(f"{type(self).__name__} has no {next(iter(named))}, or it was given twice")

    def _values(self: Any) -> tuple[Any, ...]:
        return tuple(getattr(self, name) for name in _PLANS[type(self)][0])

    def _repr(self: Any) -> str:
        inside = ", ".join(f"{n}={getattr(self, n)!r}" for n in _PLANS[type(self)][0])
        return f"{type(self).__qualname__}({inside})"

    def _eq(self: Any, other: object) -> Any:
        return _values(self) == _values(other) if other.__class__ is self.__class__ else NotImplemented

    def _hash(self: Any) -> int:
        return hash(_values(self))

    def _refuse(self: Any, name: str, *_: object) -> None:
        raise dataclasses.FrozenInstanceError(f"{type(self).__name__}.{name} is frozen")

    def _getstate(self: Any) -> list[Any]:
        return list(_values(self))

    def _setstate(self: Any, state: list[Any]) -> None:
        for name, value in zip(_PLANS[type(self)][0], state, strict=True):
            _set(self, name, value)
