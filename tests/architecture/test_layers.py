"""Who may import whom, read from the source."""

import pytest

from architecture.layers import (
    cycles,
    layer_faults,
    network_faults,
    painter_faults,
    private_faults,
    root_faults,
    solver_faults,
)
from architecture.source import expect_none, imports, modules_of, package_modules

RULES = [layer_faults, root_faults, private_faults, cycles, solver_faults, network_faults, painter_faults]

BAD = {
    "from a layer above": (
        layer_faults,
        {"record__model": "from loomlore.network import laws", "network__laws": ""},
    ),
    "inside a function": (
        layer_faults,
        {"sizing__drop": "def f():\n    from loomlore.drawing.scene import Scene", "drawing__scene": ""},
    ),
    "for type checking": (
        layer_faults,
        {"findings": "if TYPE_CHECKING:\n    from loomlore.record import Dossier", "record__model": ""},
    ),
    "by a string": (layer_faults, {"faults__modes": 'import_module("loomlore.cli")', "cli": ""}),
    "by a string with an attribute": (
        layer_faults,
        {"faults__modes": 'X = {"a": "loomlore.cli:main"}', "cli": ""},
    ),
    "relative": (layer_faults, {"record__model": "from ..network import laws", "network__laws": ""}),
    "no layer": (layer_faults, {"gadgets": ""}),
    "the root": (root_faults, {"record__model": "import loomlore"}),
    "a name of the root": (root_faults, {"record__model": "from loomlore import findings", "findings": ""}),
    "the root, relative": (root_faults, {"record__model": "from .. import findings", "findings": ""}),
    "a private name": (
        private_faults,
        {"bench__pages": "from loomlore.findings import _order", "findings": ""},
    ),
    "two that import each other": (
        cycles,
        {"record__a": "from loomlore.record.b import x", "record__b": "from loomlore.record.a import y"},
    ),
    "a ring of three, one of them late": (
        cycles,
        {
            "record__a": "from loomlore.record import b",
            "record__b": "def f():\n    import loomlore.record.c",
            "record__c": "from loomlore.record.a import y",
        },
    ),
    "a module and its package": (
        cycles,
        {"record": "from loomlore.record.a import x", "record__a": "from loomlore.record import y"},
    ),
    "the solver and the record": (
        solver_faults,
        {"network__solving": "from loomlore.record.model import Dossier", "record__model": ""},
    ),
    "the solver and the record, by way of the bridge": (
        solver_faults,
        {
            "network__planning": "from loomlore.network.building import build",
            "network__building": "from loomlore.record.model import Dossier",
            "record__model": "",
        },
    ),
    "a second bridge": (
        network_faults,
        {"network__batches": "from loomlore.record.model import Dossier", "record__model": ""},
    ),
    "a path in the network": (network_faults, {"network__building": "from pathlib import Path"}),
    "a file in the network": (network_faults, {"network__building": "text = open(name).read()"}),
    "a painter and the layout": (
        painter_faults,
        {"drawing__painting": "from loomlore.drawing.placing import place", "drawing__placing": ""},
    ),
    "a painter and the record": (
        painter_faults,
        {"drawing__painting": "from loomlore.record.model import Item", "record__model": ""},
    ),
    "a painter by its library": (
        painter_faults,
        {
            "drawing__sheets": "def f():\n    import typst\n    import loomlore.drawing.plates",
            "drawing__plates": "",
        },
    ),
    "a scene that sees the layout": (
        painter_faults,
        {"drawing__scene": "from loomlore.drawing.placing import place", "drawing__placing": ""},
    ),
}

GOOD = {
    "findings": "import json",
    "quantities": "from loomlore.findings import nearest",
    "record__model": "from loomlore.quantities import Quantity\nfrom loomlore.findings import Finding",
    "record__reading": "from loomlore.record import model\nfrom loomlore.record.model import _private",
    "network__model": "from loomlore.findings import Finding",
    "network__solving": "from loomlore.network.model import Network\nimport numpy",
    "network__building": "from loomlore.record.model import Dossier\nreopen(1)",
    "drawing__scene": "from loomlore.quantities import Quantity",
    "drawing__painting": "from loomlore.drawing.scene import Scene\nimport typst",
    "drawing__plates": "from loomlore.network.model import Network\nfrom loomlore.drawing.scene import Scene",
    "cli": 'TABLE = {"draw": "loomlore.drawing.plates"}',
}


@pytest.mark.parametrize("rule", RULES)
def test_package_keeps_the_rule(rule):
    expect_none(rule(package_modules()))


@pytest.mark.parametrize(("rule", "texts"), BAD.values(), ids=BAD.keys())
def test_rule_finds_the_fault(rule, texts):
    assert len(list(rule(modules_of(**texts)))) == 1


@pytest.mark.parametrize("rule", RULES)
def test_rule_lets_good_source_pass(rule):
    assert list(rule(modules_of(**GOOD))) == []


def test_package_is_read_at_all():
    modules = package_modules()
    assert {"loomlore", "loomlore.version", "loomlore.findings"} <= modules.keys()
    assert "loomlore.version" in {entry.target for entry in imports(modules["loomlore"], modules)}
