"""Plates of the shipped examples: every cable drawn once, every item at home drawn, every rule kept."""

from collections import Counter

import pytest

from loomlore.drawing.painting import write_svg
from loomlore.drawing.plates import Said, all_plates, service_drawings, service_plate
from loomlore.drawing.roles import home_services, roles
from loomlore.drawing.rules import breaches
from loomlore.drawing.scene import Group, Text, walk
from unit.drawing.test_roles import plant_of

EXAMPLES = ("glider-tug", "harbour-launch")


@pytest.fixture(scope="module", params=EXAMPLES)
def plant(request):
    return plant_of(request.param)


def test_every_cable_of_a_service_is_drawn_once(plant):
    known = roles(plant)
    dossier = plant.installation.dossier
    for service in dossier.services:
        parts = service_drawings(plant, service, known=known)
        drawn = Counter(w.wire.cable for part in parts for w in part.wires if not w.wire.bare)
        assert drawn == Counter(c.id for c in dossier.cables.values() if c.service == service)


def test_every_item_stands_on_its_own_plate(plant):
    known = roles(plant)
    for item, home in home_services(plant.installation).items():
        equipment = plant.installation.equipment.get(item)
        if (
            equipment is None
            or equipment.fuse_ways
            or equipment.symbol == "bus-bar"
            or item in plant.installation.joined_by
        ):
            continue
        parts = service_drawings(plant, home, known=known)
        assert any(node.node.of == item for part in parts for node in part.nodes), item


def test_the_hard_rules_are_kept(plant):
    known = roles(plant)
    for service in plant.installation.dossier.services:
        for part in service_drawings(plant, service, known=known):
            assert breaches(part) == []
            assert breaches(part.again(5.0, 6.0)) == []


def test_what_is_drawn_is_connected_as_the_record_says(plant):
    """Follow each wire's ends to the things they land on, and compare with the cable's two ends."""
    known = roles(plant)
    dossier = plant.installation.dossier
    for service in dossier.services:
        for part in service_drawings(plant, service, known=known):
            owners = {p.node.id: p.node.of for p in part.nodes} | {h.node.id: h.node.of for h in part.hung}
            for placed in part.wires:
                if placed.wire.bare:
                    continue
                cable = dossier.cables[placed.wire.id]
                for end, (node, _) in ((cable.from_, placed.wire.start), (cable.to, placed.wire.end)):
                    item = end.partition(".")[0]
                    plug = plant.installation.joined_by.get(item, item)
                    assert owners[node].partition(".")[0] in (item, plug)


def test_plates_are_numbered_in_the_records_order(plant):
    plates = all_plates(plant)
    assert [one.number for one in plates] == sorted(one.number for one in plates)
    assert all(one.scenes for one in plates)


def test_a_plate_says_what_is_known():
    plant = plant_of("glider-tug")
    said = Said(verdicts="proved 3", standard="Tug with signal lamp", dated="record of 1 May 2026")
    [scene] = service_plate(plant, "navigation", said=said).scenes
    text = " ".join(item.words for item, _ in walk(scene.items) if isinstance(item, Text))
    for words in (
        "NAVIGATION LAMPS",
        "Tug with signal lamp",
        "proved 3",
        "Port lamp",
        "12 V 12 W",
        "way 1 · 5 A",
    ):
        assert words in text
    assert "handbook 7.5; survey photo 11" in text


def test_the_browser_can_find_every_item_and_cable():
    [scene] = service_plate(plant_of("glider-tug"), "navigation").scenes
    svg = write_svg(scene, words="live")
    for mark in (
        'data-item="port-lamp"',
        'data-cable="N2"',
        'data-contact="navigation-switch.pole"',
        'data-tag="fuse-box.1"',
    ):
        assert mark in svg
    assert "style=" not in svg
    groups = [item for item, _ in walk(scene.items) if isinstance(item, Group) and item.role == "cable"]
    assert all(group.title for group in groups if not group.name.endswith("~feed"))


def test_an_unknown_service_is_refused():
    with pytest.raises(KeyError):
        service_plate(plant_of("glider-tug"), "wireless")
