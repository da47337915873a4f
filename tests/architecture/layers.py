"""Rules about who may import whom. Each takes modules and gives its complaints; no complaint, no fault."""

import re
from collections.abc import Iterator, Mapping

from architecture.source import PACKAGE, Import, Module, foreign_imports, imports, layer_of

# From the ground up: a part imports only from itself and from those before it.
LAYERS = (
    "version",
    "findings",
    "quantities",
    "sentences",
    "references",
    "record",
    "evidence",
    "catalogue",
    "network",
    "behaviour",
    "sizing",
    "rivals",
    "faults",
    "drawing",
    "publishing",
    "answers",
    "bench",
    "cli",
    "demo",
    "__main__",
)

# The solver works on numbers: it knows elements and states, never the record they came from.
SOLVER = re.compile(rf"{PACKAGE}\.network\.(solving|settling|conditions|laws|model|plan\w*|batch\w*)")
# The one bridge from the record to a network: building, and the two modules that turn elements and sentences
# over for it. The solver's rule sees to it that nothing of the solver reaches them.
BRIDGE = re.compile(rf"{PACKAGE}\.network\.(building|elements|translating)")
# What a part that computes has no use for: it is given values, not files.
FILE_MODULES = {"csv", "glob", "io", "json", "pathlib", "shutil", "tempfile", "tomlkit", "tomllib"}

# A painter turns a scene into bytes. It is known by its name, or by the library that paints for it.
PAINTER = re.compile(rf"{PACKAGE}\.drawing\.(painters?|painting\w*|\w+_painter)(\..+)?")
PAINTING_LIBRARIES = {"av", "resvg_py", "typst"}
# What it sees: the scene, and the ink and type that the scene's words stand for.
PAINTERS_VIEW = {f"{PACKAGE}.drawing.{name}" for name in ("scene", "looks", "typefaces")}
GROUND = {"version", "findings", "quantities"}

Complaints = Iterator[str]


def layer_faults(modules: Mapping[str, Module]) -> Complaints:
    """A part that imports from one above it, or that stands in no layer at all."""
    rank = {name: number for number, name in enumerate(LAYERS)}
    for module in modules.values():
        if not module.layer:
            continue
        if module.layer not in rank:
            yield f"{module.name}: {module.layer} is in no layer; give it its place in LAYERS"
            continue
        for entry in imports(module, modules):
            layer = layer_of(entry.target)
            if rank.get(layer, -1) > rank[module.layer]:
                yield f"{module.name}:{entry.line} imports {entry.target}, which stands above it"


def root_faults(modules: Mapping[str, Module]) -> Complaints:
    """A module inside the package that imports the package's root."""
    for module in modules.values():
        for entry in imports(module, modules):
            if entry.target == PACKAGE and module.name != PACKAGE:
                yield f"{module.name}:{entry.line} imports the package root; name the module itself"


def private_faults(modules: Mapping[str, Module]) -> Complaints:
    """A name with a leading underscore, taken from another part of the package."""
    for module in modules.values():
        for entry in imports(module, modules):
            private = entry.name.startswith("_") and not entry.name.startswith("__")
            if private and layer_of(entry.target) != module.layer:
                yield f"{module.name}:{entry.line} takes {entry.name}, private to {entry.target}"


def cycles(modules: Mapping[str, Module]) -> list[list[str]]:
    """Rings of modules that import each other, each as the way round it."""
    reach = {
        name: sorted({entry.target for entry in imports(module, modules)} & modules.keys() - {name})
        for name, module in modules.items()
        if module.layer  # the root reads its modules only when asked for a name
    }
    rings: list[list[str]] = []
    done: set[str] = set()

    def follow(name: str, way: list[str]) -> None:
        if name in way:
            rings.append([*way[way.index(name) :], name])
        elif name not in done:
            for target in reach.get(name, ()):
                follow(target, [*way, name])
            done.add(name)

    for name in reach:
        follow(name, [])
    return rings


def solver_faults(modules: Mapping[str, Module]) -> Complaints:
    """The record, reached from the solver, at once or through other modules of the network."""
    for name in filter(SOLVER.fullmatch, modules):
        ways = [[name]]
        seen = {name}
        while ways:
            way = ways.pop()
            for entry in imports(modules[way[-1]], modules):
                if entry.target.startswith(f"{PACKAGE}.record"):
                    yield f"the solver sees the record: {' -> '.join([*way, entry.target])}"
                elif entry.target.startswith(f"{PACKAGE}.network.") and entry.target not in seen:
                    seen.add(entry.target)
                    ways += [[*way, entry.target]] if entry.target in modules else []


def network_faults(modules: Mapping[str, Module]) -> Complaints:
    """A file in the network, or a second bridge from the record to it."""
    for module in modules.values():
        if module.layer != "network":
            continue
        for library in sorted({name.partition(".")[0] for name in foreign_imports(module)} & FILE_MODULES):
            yield f"{module.name} imports {library}: the network never sees files"
        if "open(" in module.text and re.search(r"(?<![\w.])open\(", module.text):
            yield f"{module.name} opens a file: the network never sees files"
        for entry in imports(module, modules):
            if entry.target.startswith(f"{PACKAGE}.record") and not BRIDGE.fullmatch(module.name):
                yield f"{module.name}:{entry.line} imports {entry.target}: only the bridge does"


def is_painter(module: Module) -> bool:
    """Whether a module of drawing paints."""
    libraries = {name.partition(".")[0] for name in foreign_imports(module)}
    return module.layer == "drawing" and bool(
        PAINTER.fullmatch(module.name) or libraries & PAINTING_LIBRARIES
    )


def painter_faults(modules: Mapping[str, Module]) -> Complaints:
    """A painter, or what painters see, that imports more of the package than it should."""
    painters = {name for name, module in modules.items() if is_painter(module)}
    for module in modules.values():
        if module.name in painters:
            allowed = PAINTERS_VIEW | painters
        elif module.name in PAINTERS_VIEW:
            allowed = PAINTERS_VIEW
        else:
            continue
        for entry in imports(module, modules):
            if not _within(entry, allowed):
                yield f"{module.name}:{entry.line} imports {entry.target}: painters see only the scene"


def _within(entry: Import, allowed: set[str]) -> bool:
    return entry.target in allowed or layer_of(entry.target) in GROUND
