"""Rules about docstrings: that they are there, name every parameter with its unit, and cite what there is.

A module offers the functions that its `__all__` lists, and those that a package takes from it into its own
`__all__`; without an `__all__` it offers every public one. What is offered must be documented whole.
"""

import ast
import inspect
import re
from collections.abc import Iterator, Mapping

from architecture.source import Module, imports

Function = ast.FunctionDef | ast.AsyncFunctionDef
Complaints = Iterator[str]

# Units as they stand in square brackets; a product, a quotient or a power of them is a unit too.
UNITS = set(
    """
    1 % A mA uA µA kA V mV kV W mW kW MW S mS kS ohm mohm kohm Mohm Ω mΩ kΩ MΩ H mH uH µH F uF µF nF pF C
    Ah mAh As Wh kWh J kJ mJ VA kg g lb N m cm mm um µm km in ft mile l ml gal(UK) gal(US)
    K °C degC °F degF s ms us µs min h d year Hz kHz MHz rad deg ° rev cp cd lm lx pt px
    kt mph Pa kPa MPa bar psi lbf cmil bit byte case
    """.split()
)
UNITS |= {"unit"}  # of a lever's own range, whatever the record says that is
_UNIT_MARK = re.compile(r"(?:(?<=\s)|^)\[([^\]\n]+)\]")
_CITED = re.compile(r"\[([a-z0-9][a-z0-9.-]*)(?: ([^\]\n]+))?\]")
_HIDDEN_FROM_READERS = {"command", "group"}  # click shows these docstrings to the user as help


def public(name: str) -> bool:
    """Whether a name is meant for others."""
    return not name.startswith("_")


def missing_docstrings(modules: Mapping[str, Module]) -> Complaints:
    """Modules, public classes with their public methods, and public functions that have no docstring."""
    for module in modules.values():
        if not ast.get_docstring(module.tree):
            yield f"{module.name} has no docstring"
        for name, node in _public_definitions(module.tree):
            if not ast.get_docstring(node):
                yield f"{module.name}:{node.lineno} {name} has no docstring"


def _public_definitions(scope: ast.Module | ast.ClassDef) -> Iterator[tuple[str, Function | ast.ClassDef]]:
    for node in _statements(scope):
        if not isinstance(node, Function | ast.ClassDef) or not public(node.name) or _needs_no_words(node):
            continue
        yield node.name, node
        if isinstance(node, ast.ClassDef):
            yield from ((f"{node.name}.{name}", inner) for name, inner in _public_definitions(node))


def _statements(scope: ast.Module | ast.ClassDef) -> Iterator[ast.stmt]:
    """The statements of a module or class, those under `if` and `try` too."""
    waiting = list(scope.body)
    while waiting:
        node = waiting.pop(0)
        yield node
        if isinstance(node, ast.If | ast.Try):
            waiting[:0] = [*node.body, *node.orelse]


def _decorators(node: Function | ast.ClassDef) -> set[str]:
    calls = [entry.func if isinstance(entry, ast.Call) else entry for entry in node.decorator_list]
    return {ast.unparse(call).rpartition(".")[2] for call in calls}


def _needs_no_words(node: Function | ast.ClassDef) -> bool:
    return bool(_decorators(node) & {"overload", "override", "setter", "deleter"})


def offered_functions(modules: Mapping[str, Module]) -> Iterator[tuple[Module, Function]]:
    """The functions that modules offer to each other and to the package's users."""
    listed = {name: _listed(module) for name, module in modules.items()}
    taken = {
        (entry.target, entry.name)
        for name, module in modules.items()
        if module.is_package
        for entry in imports(module, modules)
        if entry.name in (listed[name] or ())
    }
    for name, module in modules.items():
        if module.layer == "cli":  # it offers commands; its functions are nobody's to call
            continue
        for node in _statements(module.tree):
            if not isinstance(node, Function) or _needs_no_words(node):
                continue
            names = listed[name]
            itself = public(node.name) if names is None else node.name in names
            hidden = _decorators(node) & _HIDDEN_FROM_READERS
            if (itself or (name, node.name) in taken) and not hidden:
                yield module, node


def _listed(module: Module) -> set[str] | None:
    """The strings in a module's `__all__`; None where it has none."""
    for node in _statements(module.tree):
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        if any(isinstance(target, ast.Name) and target.id == "__all__" for target in targets):
            return {entry.value for entry in ast.walk(node) if isinstance(entry, ast.Constant)}
    return None


def parameter_faults(modules: Mapping[str, Module]) -> Complaints:
    """Parameters and results that a docstring leaves out, invents, or gives no unit."""
    for module, node in offered_functions(modules):
        where = f"{module.name}:{node.lineno} {node.name}"
        parts = sections(ast.get_docstring(node, clean=False) or "")
        told = entries(parts.get("Parameters", ""))
        signature = parameters(node)
        for name in signature.keys() - told.keys():
            yield f"{where}: {name} is not under Parameters"
        for name in told.keys() - signature.keys():
            yield f"{where}: Parameters names {name}, which it does not take"
        for name in told.keys() & signature.keys():
            if _is_number(signature[name]) and not units(told[name]):
                yield f"{where}: {name} is a number without a unit; write [V], or [1] for a ratio or count"
        yield from (f"{where}: {fault}" for fault in _result_faults(node, parts))
        for text in [*told.values(), parts.get("Returns", "")]:
            yield from (f"{where}: [{unit}] is no unit" for unit in _false_units(text))


def _result_faults(node: Function, parts: Mapping[str, str]) -> Complaints:
    result = node.returns
    gives_nothing = result is None or ast.unparse(result) in {"None", "Never", "NoReturn"}
    told = parts.get("Returns") or parts.get("Yields")
    if not gives_nothing and not told:
        yield "has no Returns section"
    elif _is_number(result) and not units(told or ""):
        yield "returns a number without a unit; write [V], or [1] for a ratio or count"


def sections(docstring: str) -> dict[str, str]:
    """The underlined sections of a docstring, by heading."""
    text = inspect.cleandoc(docstring)
    pieces = re.split(r"(?m)^([A-Z][A-Za-z ]+)\n-{3,}$\n?", text)
    return {name: body.strip("\n") for name, body in zip(pieces[1::2], pieces[2::2], strict=True)}


def entries(section: str) -> dict[str, str]:
    """The entries of a Parameters section: each name with its type and its words."""
    found: dict[str, str] = {}
    for piece in re.split(r"(?m)^(?=\S)", section):
        names, _, _ = piece.partition("\n")[0].partition(" : ")
        found |= {name.strip().lstrip("*"): piece for name in names.split(",") if name.strip()}
    return found


def parameters(node: Function) -> dict[str, ast.expr | None]:
    """The parameters of a function with their annotations."""
    spec = node.args
    every = [*spec.posonlyargs, *spec.args, *spec.kwonlyargs, *filter(None, (spec.vararg, spec.kwarg))]
    return {entry.arg: entry.annotation for entry in every}


def units(text: str) -> list[str]:
    """The units that stand in square brackets in some text."""
    return [mark for mark in _UNIT_MARK.findall(text) if is_unit(mark)]


def is_unit(text: str) -> bool:
    """Whether some text is a unit, or a product, quotient or power of units."""
    parts = re.split(r"[/·* ]", text)
    return all(part in UNITS or re.sub(r"\^?-?[1-9]$|[²³]$", "", part) in UNITS - {"1"} for part in parts)


def _false_units(text: str) -> list[str]:
    """What stands in brackets where the type ends, and is no unit."""
    heads = [line for line in text.splitlines() if line and not line[0].isspace()]
    marks = [re.search(r"\s\[([^\]]+)\]$", head) for head in heads]
    return [mark.group(1) for mark in marks if mark and not is_unit(mark.group(1))]


def _is_number(annotation: ast.expr | None) -> bool:
    """Whether an annotation means a float, or floats in something.

    A function of floats does not count, nor does what can also be a word: the position of a lever.
    """
    text = (ast.unparse(annotation) if annotation else "").replace(" | None", "").replace("None | ", "")
    other = "Callable" in text or re.search(r"\bfloat \||\| float\b", text)
    return not other and bool(re.search(r"\b(float|float64|FloatArray)\b", text))


def documented(module: Module) -> Iterator[tuple[str, str]]:
    """Every docstring of a module, private ones too, with where it stands."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Module | ast.ClassDef | Function) and (text := ast.get_docstring(node)):
            yield f"{module.name}:{getattr(node, 'lineno', 1)}", text


def citations(modules: Mapping[str, Module]) -> list[tuple[str, str, str]]:
    """What the Source sections cite: where, key, clause."""
    return [
        (where, key, clause)
        for module in modules.values()
        for where, text in documented(module)
        for key, clause in _CITED.findall(sections(text).get("Source", ""))
    ]


def citation_faults(modules: Mapping[str, Module], documents: Mapping[str, Mapping[str, str]]) -> Complaints:
    """Citations of a document that is not listed, or of a clause that it cannot have."""
    for where, key, clause in citations(modules):
        if key not in documents:
            yield f"{where} cites {key}, which references.toml does not list"
        elif not re.fullmatch(documents[key].get("clause", ".*"), clause):
            yield f"{where} cites {key} {clause!r}; its clauses look like {documents[key].get('example')!r}"
