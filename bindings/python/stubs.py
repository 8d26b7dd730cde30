"""Makes type stubs (.pyi) from the modules that UniFFI generates, which carry types but do not satisfy `mypy --strict`.

    python stubs.py FOLDER_OF_GENERATED_MODULES FOLDER_FOR_STUBS
"""

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

HEAD = """\
# Made by stubs.py from the module of the same name. Not to be edited.
import enum
import typing

"""


def stubs(source: str) -> str:
    """The stub of one generated module: what it offers, without how it does it."""
    tree = ast.parse(source)
    offered = _offered(tree)
    lines = [ast.unparse(node) for node in tree.body if _is_sibling(node)]
    unnamed = dict(_unnamed(tree))
    for node in tree.body:
        match node:
            case ast.Assign(targets=[ast.Name(id=name)], value=ast.Name() | ast.Subscript()) if not name.startswith(
                "_"
            ) and name not in offered:
                lines.append(f"{name}: typing.TypeAlias = {ast.unparse(node.value)}")
            case ast.ClassDef(name=name) if name in offered and not name.endswith(("Protocol", "Impl")):
                lines.extend(_class(node, unnamed))
            case ast.FunctionDef(name=name) | ast.AsyncFunctionDef(name=name) if name in offered:
                lines.append(_function(node, ""))
    return HEAD + "\n".join(lines) + "\n"


def _offered(tree: ast.Module) -> set[str]:
    for node in tree.body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            return set(ast.literal_eval(node.value))
    raise SystemExit("this is no module that UniFFI generated: it has no __all__")


def _is_sibling(node: ast.stmt) -> bool:
    return isinstance(node, ast.ImportFrom) and node.level == 1


Unnamed = dict[str, list[str]]


def _unnamed(tree: ast.Module) -> Iterator[tuple[str, list[str]]]:
    """The types of what cases hold whose classes do not say them, by the case (`Share.GRAMS`, `HostError.Refused`). What
    writes them does: `_UniffiFfiConverterTypeGrams.write(value._values[0], buf)`."""
    wrapped = {node.name: node for node in tree.body if isinstance(node, ast.ClassDef) and "ConverterBox" in node.name}
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and node.name.startswith("_UniffiFfiConverterType"):
            owner = node.name.removeprefix("_UniffiFfiConverterType")
            for one in ast.walk(node):
                if isinstance(one, ast.If) and (case := re.search(r"(?:\.is_|\.)(\w+)\)?(?:\(\))?$", ast.unparse(one.test))):
                    written = [_written(line) for line in one.body]
                    converters = [_unboxed(converter, wrapped) for converter in written if converter]
                    yield f"{owner}.{case[1]}", [_converted(converter) for converter in converters]


def _written(line: ast.stmt) -> str | None:
    """What writes a value of a case in this line."""
    found = re.fullmatch(r"(\S+)\.write\(value\.\w+(?:\[\d+\])?, buf\)", ast.unparse(line))
    return found[1] if found else None


def _unboxed(converter: str, wrapped: dict[str, ast.ClassDef]) -> str:
    """What stands behind a box, which is none in Python."""
    if converter not in wrapped:
        return converter
    found = re.search(r"(\S+)\.write\(value, buf\)", ast.unparse(wrapped[converter]))
    if found is None:
        raise SystemExit(f"{converter} writes nothing")
    return found[1]


def _is_unnamed(case: ast.ClassDef) -> bool:
    return any(isinstance(one, ast.FunctionDef) and one.args.vararg is not None for one in case.body)


PLAIN = {"String": "str", "Bytes": "bytes", "Boolean": "bool", "Float64": "float", "Float32": "float"}


def _converted(converter: str) -> str:
    """The type that a converter converts: `tailcomb_trade._UniffiFfiConverterSequenceTypeGrams`."""
    module, _, name = converter.rpartition("_UniffiFfiConverter")
    if name.startswith("Optional"):
        return f"typing.Optional[{_converted(module + '_UniffiFfiConverter' + name.removeprefix('Optional'))}]"
    if name.startswith("Sequence"):
        return f"typing.List[{_converted(module + '_UniffiFfiConverter' + name.removeprefix('Sequence'))}]"
    if name.startswith("Type"):
        return module + name.removeprefix("Type")
    return PLAIN.get(name, "int")


def _class(node: ast.ClassDef, unnamed: Unnamed) -> Iterator[str]:
    cases = [one for one in node.body if isinstance(one, ast.ClassDef)]
    if cases:
        yield from _with_cases(node, cases, unnamed)
        return
    bases = [ast.unparse(base) for base in node.bases if not ast.unparse(base).endswith("Protocol")]
    if "Exception" in bases:
        # An error is said twice: by itself, and then with its cases. The second is described.
        return
    yield f"class {node.name}{'(' + ', '.join(bases) + ')' if bases else ''}:"
    yield from list(_members(node, "    ")) or ["    ..."]


def _with_cases(node: ast.ClassDef, inner: list[ast.ClassDef], unnamed: Unnamed) -> Iterator[str]:
    """A class with its cases, which are classes in it and derived from it."""
    is_error = any(ast.unparse(base).startswith("_UniffiTemp") for one in inner for base in one.bases)
    yield f"class {node.name}{'(Exception)' if is_error else ''}:"
    if is_error:
        for one in inner:
            _annotate(one, unnamed[f"{node.name}.{one.name}"])
        # What every case has, whoever catches the class itself can read.
        fields = [dict(_fields(one)) for one in inner]
        for name, kind in fields[0].items():
            if all(name in others for others in fields):
                yield f"    {name}: {kind}"
    for one in inner:
        yield f"    {one.name}: typing.TypeAlias = _{node.name}_{one.name}"
    for method in node.body:
        if isinstance(method, ast.FunctionDef) and method.name.startswith("is_"):
            yield f"    def {method.name}(self) -> bool: ..."
    for one in inner:
        yield f"class _{node.name}_{one.name}({node.name}):"
        if _is_unnamed(one):
            types = unnamed[f"{node.name}.{one.name}"]
            values = ", ".join(f"value_{place}: {type}" for place, type in enumerate(types))
            yield f"    def __init__(self, {values}, /) -> None: ..."
            yield f"    def __getitem__(self, index: int) -> {' | '.join(sorted(set(types)))}: ..."
        else:
            yield from list(_members(one, "    ")) or ["    ..."]


def _annotate(case: ast.ClassDef, types: list[str]) -> None:
    """What an error holds is generated without types."""
    for one in case.body:
        if isinstance(one, ast.FunctionDef) and one.name == "__init__":
            for argument, kind in zip(one.args.args[1:], types, strict=True):
                argument.annotation = ast.Name(kind)


def _fields(node: ast.ClassDef) -> Iterator[tuple[str, str]]:
    """What a value of a class holds: what it is made of."""
    for one in node.body:
        if isinstance(one, ast.FunctionDef) and one.name == "__init__":
            for argument in one.args.args[1:] + one.args.kwonlyargs:
                if argument.annotation is None:
                    raise SystemExit(f"{node.name}.{argument.arg} has no type")
                yield argument.arg, ast.unparse(argument.annotation)


def _members(node: ast.ClassDef, indent: str) -> Iterator[str]:
    for one in node.body:
        match one:
            case ast.Assign(targets=[ast.Name(id=name)]) if not name.startswith("_"):
                yield f"{indent}{name} = {ast.unparse(one.value)}"
            case ast.FunctionDef(name="__init__") if one.args.vararg is None:
                for name, kind in _fields(node):
                    yield f"{indent}{name}: {kind}"
                yield _function(one, indent)
            case ast.FunctionDef(name="_uniffi_clone_handle"):
                # An object: it is had, not made.
                yield f"{indent}_handle: int"
                yield f"{indent}def _uniffi_clone_handle(self) -> int: ..."
            case ast.FunctionDef(name=name) | ast.AsyncFunctionDef(name=name) if not name.startswith("_"):
                yield _function(one, indent)


def _function(node: ast.FunctionDef | ast.AsyncFunctionDef, indent: str) -> str:
    arguments = node.args
    for argument in arguments.args + arguments.kwonlyargs:
        if argument.annotation is None and argument.arg != "self":
            argument.annotation = ast.Name("str")
    filler = ast.Constant(...)
    arguments.defaults = [filler for _ in arguments.defaults]
    arguments.kw_defaults = [default and filler for default in arguments.kw_defaults]
    gives = "None" if node.name == "__init__" or node.returns is None else ast.unparse(node.returns)
    word = "async def" if isinstance(node, ast.AsyncFunctionDef) else "def"
    return f"{indent}{word} {node.name}({ast.unparse(arguments)}) -> {gives}: ..."


def main(generated: Path, stubs_folder: Path) -> None:
    stubs_folder.mkdir(parents=True, exist_ok=True)
    (stubs_folder / "__init__.pyi").write_text("")
    for module in sorted(generated.glob("tailcomb_*.py")):
        (stubs_folder / f"{module.stem}.pyi").write_text(stubs(module.read_text()))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
