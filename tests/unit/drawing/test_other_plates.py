"""Symbol sheet, plug faces, looms, places, block plan: complete against the record, and legible."""

from itertools import combinations

import pytest

from loomlore.drawing.faces import fuse_boxes, fuse_plate, plug_plate, plugs
from loomlore.drawing.glyphs import GLYPHS
from loomlore.drawing.looks import LEAST_TYPE
from loomlore.drawing.looms import leaves, loom_plate
from loomlore.drawing.overview import block_plate, supply_diagram
from loomlore.drawing.roles import roles
from loomlore.drawing.specimens import specimens, symbol_sheet
from loomlore.drawing.spots import place_plate
from unit.drawing.test_roles import plant_of
from unit.drawing.test_sheets import words


@pytest.fixture(scope="module")
def amphibian():
    return plant_of("mail-amphibian")


def said(scenes):
    return [item.words for scene in scenes for item, _, _ in words(scene.items)]


def all_sheets(plant):
    joined = plant.installation
    known = roles(plant)
    return {
        "symbols": symbol_sheet("1"),
        "plugs": plug_plate(joined, known, plugs(joined), number="2"),
        "looms": loom_plate(joined, joined.dossier.looms, number="3"),
        "places": place_plate(joined, number="4"),
        "services": block_plate(joined, known, number="5", plant=plant),
        "fuses": fuse_plate(joined, known, fuse_boxes(joined), number="6"),
    }


def test_every_word_is_large_enough_on_the_sheet_and_clear_of_others(amphibian):
    for name, scenes in all_sheets(amphibian).items():
        assert scenes, name
        for scene in scenes:
            found = list(words(scene.items))
            for item, size, box in found:
                assert size >= LEAST_TYPE - 1e-9, item.words
                assert box.left > 9.6, item.words
                assert box.right < scene.width - 9.6, item.words
                assert box.bottom < scene.height - 9.6, item.words
            for (one, _, a), (other, _, b) in combinations(found, 2):
                assert not a.overlaps(b, 0.2), f"{name}: {one.words!r} on {other.words!r}"


def test_the_symbol_sheet_has_every_glyph():
    shown = {part.glyph for _, body in specimens() for part in body.parts}
    assert set(GLYPHS) <= shown


def test_every_way_of_a_plug_stands_on_its_face_with_its_cables(amphibian):
    joined = amphibian.installation
    [plug] = [name for name in plugs(joined) if name == "port-plug-1"]
    text = said(plug_plate(joined, roles(amphibian), [plug]))
    for way in joined.equipment[plug].terminal_names:
        assert text.count(way) == 2, "once on the face, once in the list"
    for cable in joined.dossier.cables.values():
        if {cable.from_, cable.to} & {f"{plug}.1", "port-socket-1.1"}:
            assert cable.id in text


def test_a_plug_that_leaves_a_magneto_live_says_so(amphibian):
    joined, known = amphibian.installation, roles(amphibian)
    warned = " ".join(said(plug_plate(joined, known, ["port-plug-2"])))
    assert "leaves a magneto live" in warned
    assert "leaves a magneto live" not in " ".join(said(plug_plate(joined, known, ["port-plug-1"])))


def test_a_cable_leaves_its_loom_at_two_places(amphibian):
    joined = amphibian.installation
    for loom in joined.dossier.looms.values():
        if len(loom.route) < 2:
            continue
        found = leaves(joined, loom)
        for cable in joined.dossier.cables.values():
            places = [place for place, many in found.items() for one, _ in many if one.id == cable.id]
            assert len(set(places)) == (2 if cable.along == loom.id else 0)


def test_an_item_on_the_route_is_reached_at_its_own_place(amphibian):
    joined = amphibian.installation
    loom = joined.dossier.looms["hull-loom"]
    found = leaves(joined, loom)
    for place, many in found.items():
        for _, end in many:
            item = joined.dossier.items.get(end.partition(".")[0])
            if item is not None and item.place in loom.route and item.place != place:
                others = [end for _, end in found[item.place]]
                assert others, "only both ends at one place send a cable on to the next"


def test_every_place_with_coordinates_is_numbered_in_both_views(amphibian):
    joined = amphibian.installation
    text = said(place_plate(joined))
    numbers = [word for line in text if line.replace(", ", "").isdigit() for word in line.split(", ")]
    for number, spot in enumerate(joined.dossier.places.values(), 1):
        # In both views where it has coordinates, and in the list.
        assert numbers.count(str(number)) == (3 if spot.at is not None else 1)
        assert spot.name in text


def test_every_fed_service_stands_once_in_the_block_plan(amphibian):
    joined = amphibian.installation
    text = " ".join(said(block_plate(joined, roles(amphibian))))
    wired = {cable.service for cable in joined.dossier.cables.values()}
    for number, service in enumerate(joined.dossier.services.values(), 1):
        first = f"{number} {(service.title or service.name).split()[0]}"
        if service.id in wired:
            assert first in text
        elif service.feed:
            assert first not in text


def test_every_way_of_a_fuse_box_stands_on_its_face_with_its_fuse(amphibian):
    joined = amphibian.installation
    text = said(fuse_plate(joined, roles(amphibian), ["fuse-box-c"]))
    for way in joined.equipment["fuse-box-c"].fuse_ways:
        assert text.count(way) == 2, "once on the face, once in the list"
        known = joined.dossier.ways.get(f"fuse-box-c.{way}")
        if known is not None and known.fuse is not None:
            assert known.fuse.text in text


# Read off the examples' own text: what lies between the sources and the boxes.
SUPPLY = {
    "glider-tug": [("battery", "fuse-box"), ("generator", "fuse-box")],
    "harbour-launch": [
        ("port-battery", "fuse-box"),
        ("starboard-battery", "fuse-box"),
        ("generator", "fuse-box"),
        ("quay-supply", "fuse-box"),
    ],
    "mail-amphibian": [
        ("battery", "main-bus"),
        ("battery", "fuse-box-c"),
        ("port-generator", "main-bus"),
        ("starboard-generator", "main-bus"),
        ("ground-supply", "main-bus"),
        ("main-bus", "fuse-box-a"),
        ("main-bus", "fuse-box-b"),
        ("main-bus", "fuse-box-c"),
    ],
}


@pytest.mark.parametrize("example", sorted(SUPPLY))
def test_the_supply_runs_from_every_source_to_the_boxes(example):
    plant = plant_of(example)
    diagram = supply_diagram(plant, roles(plant))
    goes = {}
    for wire in diagram.wires:
        goes.setdefault(wire.start[0], []).append(wire.end[0])
    boxes = {last for _, last in SUPPLY[example]}
    found = set()
    for start in {first for first, _ in SUPPLY[example]} | {start for start in goes if ">" not in start}:
        waiting = list(goes.get(start, []))
        while waiting:
            end = waiting.pop()
            if end in boxes:
                found.add((start, end))
            else:
                waiting += goes.get(end, [])
    assert found == set(SUPPLY[example])


def test_two_services_on_one_way_are_both_drawn():
    from loomlore.answers.opening import open_dossier
    from unit.drawing.test_roles import EXAMPLES

    opened = open_dossier(EXAMPLES / "mail-amphibian")
    plant = opened.plant(opened.fits("early"))
    text = " ".join(said(block_plate(plant.installation, roles(plant), plant=plant)))
    assert "Voice radio" in text
    assert "24 " in text
