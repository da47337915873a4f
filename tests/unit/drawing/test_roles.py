"""Roles on the shipped glider tug, worked out by hand from its text (an invented installation)."""

from pathlib import Path

import pytest

from loomlore.catalogue.shipped import shipped_kinds
from loomlore.drawing.roles import home_services, roles
from loomlore.network.building import build_plant
from loomlore.record.installation import join
from loomlore.record.kinds import known_kinds
from loomlore.record.reading import read_dossier

EXAMPLES = Path(__file__).parents[3] / "examples"


def plant_of(name):
    dossier = read_dossier(EXAMPLES / name).dossier
    kinds, _ = known_kinds(dossier, shipped_kinds())
    return build_plant(join(dossier, kinds)[0])


@pytest.fixture(scope="module")
def tug():
    return plant_of("glider-tug")


@pytest.mark.parametrize(
    ("node", "role"),
    [
        ("battery.+", "battery"),
        ("master-relay.B", "battery"),  # ahead of the relay, no fuse
        ("battery.-", "return"),
        ("master-relay.X", "return"),  # its coil is switched in its return
        ("master-relay.S", "switched"),  # behind the master, no fuse
        ("fuse-box.bus", "switched"),
        ("fuse-box.1", "fused"),
        ("navigation-switch.1", "fused"),
        ("navigation-switch.2", "switched"),
        ("port-lamp.1", "switched"),
        ("port-lamp.2", "return"),
        ("starter.S", "switched"),
        ("starter-relay.A", "switched"),
        ("generator.D", "generated"),  # the cut-out closes by the generator's own volts only
        ("control-box.D", "generated"),
        ("control-box.A", "switched"),
        ("left-magneto.P", "generated"),
        ("fuse-box.7", "never"),  # a spare way without a fuse
    ],
)
def test_role_by_hand(tug, node, role):
    assert roles(tug).of_node[node] == role


def test_contacts_stand_as_nobody_has_touched_them(tug):
    shut = roles(tug).shut
    assert shut["navigation-switch.pole"] is False
    assert shut["magneto-switch.stop-first"] is True  # OFF earths the magneto
    assert shut["master-relay.main"] is False


def test_an_item_is_at_home_where_most_of_its_cables_are(tug):
    home = home_services(tug.installation)
    assert home["master-relay"] == "supply"
    assert home["control-box"] == "charging"
    assert home["port-lamp"] == "navigation"
