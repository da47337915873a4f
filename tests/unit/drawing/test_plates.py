"""Plates of the shipped examples: every cable drawn once, every item at home drawn, every rule kept."""

from collections import Counter

import pytest

from loomlore.drawing.painting import write_svg
from loomlore.drawing.plates import Said, all_plates, service_drawings, service_plate
from loomlore.drawing.roles import home_services, roles
from loomlore.drawing.rules import breaches
from loomlore.drawing.scene import Group, Text, walk
from unit.drawing.test_roles import plant_of

EXAMPLES = ("glider-tug", "harbour-launch", "mail-amphibian")


@pytest.fixture(scope="module", params=EXAMPLES)
def drawn(request):
    """An example's plant, and the drawings of its services."""
    plant = plant_of(request.param)
    known = roles(plant)
    return plant, {
        name: service_drawings(plant, name, known=known) for name in plant.installation.dossier.services
    }


def test_every_cable_of_a_service_is_drawn_once(drawn):
    plant, services = drawn
    dossier = plant.installation.dossier
    for service, parts in services.items():
        shown = Counter(w.wire.cable for part in parts for w in part.wires if not w.wire.bare)
        assert shown == Counter(c.id for c in dossier.cables.values() if c.service == service)


def test_every_item_stands_on_its_own_plate(drawn):
    plant, services = drawn
    for item, home in home_services(plant.installation).items():
        equipment = plant.installation.equipment.get(item)
        is_way = equipment is None or equipment.fuse_ways or item in plant.installation.joined_by
        if is_way or equipment.symbol == "bus-bar":
            continue
        assert any(node.node.of == item for part in services[home] for node in part.nodes), item


def test_the_hard_rules_are_kept(drawn):
    for parts in drawn[1].values():
        for part in parts:
            assert breaches(part) == []
            assert breaches(part.again(5.0, 6.0)) == []


def test_what_is_drawn_is_connected_as_the_record_says(drawn):
    """Follow each wire's ends to the things they land on, and compare with the cable's two ends."""
    plant, services = drawn
    joined_by = plant.installation.joined_by
    for parts in services.values():
        for part in parts:
            owners = {p.node.id: p.node.of for p in part.nodes} | {h.node.id: h.node.of for h in part.hung}
            for placed in part.wires:
                if placed.wire.bare:
                    continue
                cable = plant.installation.dossier.cables[placed.wire.cable]
                for end, (node, _) in ((cable.from_, placed.wire.start), (cable.to, placed.wire.end)):
                    item = end.partition(".")[0]
                    owner = owners[node].partition(".")[0]
                    assert owner == item or joined_by.get(owner, owner) == joined_by.get(item, item)


@pytest.mark.parametrize("name", EXAMPLES[:2])
def test_plates_are_numbered_in_the_records_order(name):
    plates = all_plates(plant_of(name))
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
