"""What the modules read, in a way of their own, is what the generator's own writing wrote: every type, with values that
are invented from what the writing says of it."""

import enum
import inspect
import random
import re
import sys
from typing import Any

import pytest
from tailcomb._native import tailcomb_core, tailcomb_ffi, tailcomb_trade

MODULES = (tailcomb_core, tailcomb_ffi, tailcomb_trade)
PREFIX = "_UniffiFfiConverter"
TEXTS = ["", "gloss", "Zoë Ångström", "👩🏽‍🦰", "null\0inside", "x" * 300]


class Held(Exception):
    """A type that holds an object or an error: only the library makes those."""


class Inventor:
    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)

    def value(self, converter: Any, depth: int = 0) -> Any:
        """Something that a converter writes. Deep down, what may be left out is."""
        name, pick = converter.__name__.removeprefix(PREFIX), self.random.choice
        if hasattr(converter, "VALUE_MIN"):
            return pick([converter.VALUE_MIN, converter.VALUE_MAX - 1, 0, 1, 100])
        if name == "String":
            return pick(TEXTS)
        if name == "Boolean":
            return pick([True, False])
        if name.startswith("Float"):
            return pick([0.0, -1.5, 1e6])
        if name == "Bytes":
            return pick([b"", b"\x00\xff"])
        written = inspect.getsource(converter.write)
        if name.startswith("Optional"):
            return None if depth > 2 or self.random.random() < 0.3 else self._of(converter, written, "value", depth)
        if name.startswith("Sequence"):
            return [self._of(converter, written, "item", depth) for _ in range(0 if depth > 2 else pick([0, 1, 2]))]
        if name.startswith("Map"):
            return {self._of(converter, written, "key", depth): self._of(converter, written, "value", depth)}
        if "buf.write_u64(" in written or "_Uniffi" not in written and "write_i32" not in written:
            raise Held(name)
        if re.search(r"\.write\(value, buf\)", written):
            return self._of(converter, written, "value", depth)
        return self._made(converter, name.removeprefix("Type"), written, depth)

    def _of(self, converter: Any, written: str, what: str, depth: int) -> Any:
        found = re.search(rf"(\S+)\.write\({what}, buf\)", written)
        assert found, written
        return self.value(self._named(converter, found[1]), depth + 1)

    def _named(self, converter: Any, name: str) -> Any:
        return eval(name, vars(sys.modules[converter.__module__]))

    def _made(self, converter: Any, name: str, written: str, depth: int) -> Any:
        made = self._named(converter, name)
        if issubclass(made, Exception):
            raise Held(name)
        cases = re.split(r"if value(?: == \w+\.|\.is_)", written)[1:]
        if not cases:
            return made(**dict(self._fields(converter, written, depth)))
        case = self.random.choice(cases)
        made = getattr(made, re.match(r"\w+", case)[0])  # type: ignore[index]
        if not isinstance(made, type):
            return made
        return made(*(value for _, value in self._fields(converter, case, depth)))

    def _fields(self, converter: Any, written: str, depth: int) -> list[tuple[str, Any]]:
        found = re.findall(r"(\S+)\.write\(value\.(\w+)(?:\[\d+\])?, buf\)", written)
        return [(field, self.value(self._named(converter, of), depth + 1)) for of, field in found]


def same(one: Any, other: Any) -> bool:
    """Of the same types, too, all the way down."""
    if type(one) is not type(other):
        return False
    if isinstance(one, list | tuple):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(same(one[key], other[key]) for key in one)
    if isinstance(one, enum.Enum):
        return one is other
    if hasattr(one, "__dict__"):
        return same(vars(one), vars(other))
    return bool(one == other)


CONVERTERS = [
    pytest.param(converter, id=f"{module.__name__.rpartition('.')[2]}-{name.removeprefix(PREFIX)}")
    for module in MODULES
    for name, converter in vars(module).items()
    if name.startswith((PREFIX + "Type", PREFIX + "Optional", PREFIX + "Sequence"))
    and hasattr(converter, "lift")
    and hasattr(converter, "write")
]


def test_every_type_is_tried() -> None:
    assert len(CONVERTERS) > 300


@pytest.mark.parametrize("converter", CONVERTERS)
def test_what_was_written_is_read(converter: Any) -> None:
    inventor = Inventor(11)
    tried = 0
    for _ in range(24):
        try:
            value = inventor.value(converter)
            converter.check_lower(value)
            lowered = converter.lower(value)
        except Held:
            continue
        tried += 1
        read = converter.lift(lowered)
        assert same(read, value), (vars(value) if hasattr(value, "__dict__") else value, read)
    if not tried:
        pytest.skip("holds what only the library makes")


def test_what_is_cut_short_or_too_long_is_refused() -> None:
    converter = tailcomb_trade._UniffiFfiConverterTypeTold  # type: ignore[attr-defined]
    told = tailcomb_trade.Told(say="{n} to go", _with=[], text="3 to go")
    short = converter.lower(told)
    short.len -= 1
    with pytest.raises(tailcomb_trade.InternalError):  # type: ignore[attr-defined]
        converter.lift(short)
    with tailcomb_trade._UniffiRustBuffer.alloc_with_builder() as long:  # type: ignore[attr-defined]
        converter.write(told, long)
        long.write_u8(0)
        with pytest.raises(tailcomb_trade.InternalError):  # type: ignore[attr-defined]
            converter.lift(long.finalize())


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__.rpartition(".")[2])
def test_how_one_call_went_is_told_of_no_other(module: Any) -> None:
    used = []

    def goes_well(status: Any) -> str:
        assert status._obj.code == 0
        used.append(status._obj)
        return "well"

    def breaks(status: Any) -> None:
        status._obj.code = 2
        used.append(status._obj)
        # Another call while this one lasts, as when the library asks Python for something.
        assert module._uniffi_rust_call(goes_well) == "well"

    assert module._uniffi_rust_call(goes_well) == "well"
    with pytest.raises(module.InternalError):
        module._uniffi_rust_call(breaks)
    assert module._uniffi_rust_call_with_error(None, goes_well) == "well"
    first, broken, within, last = used
    assert first is broken and within is not broken and last is not broken
