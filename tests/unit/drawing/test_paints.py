"""What conductors are painted with: letters of IEC 60757, second marks, contrast, and one table of codes."""

from itertools import combinations
from pathlib import Path

import pytest

from loomlore.drawing.looks import COLOURS, COVERS, ROLES, SERVICE_HUES, STROKES
from loomlore.drawing.paints import COLOUR_LETTERS, colour_letters, painted, visual_codes
from loomlore.drawing.plates import service_plate
from loomlore.drawing.roles import roles
from loomlore.drawing.scene import Group, Line, Text, walk
from loomlore.record.model import Cable
from unit.drawing.test_looks import contrast, luminance
from unit.drawing.test_roles import plant_of

DOCUMENT = Path(__file__).parents[3] / "docs" / "drawing.md"

# IEC 60757 (status: read in retrieved text of GOST 28763-90 = IEC 757:1983).
PRINTED = {
    "black": "BK", "brown": "BN", "red": "RD", "orange": "OG", "yellow": "YE", "green": "GN", "blue": "BU",
    "violet": "VT", "grey": "GY", "white": "WH", "pink": "PK", "gold": "GD", "turquoise": "TQ",
    "silver": "SR", "green-yellow": "GNYE",
}  # fmt: skip


@pytest.fixture(scope="module")
def amphibian():
    return plant_of("mail-amphibian")


def test_letters_are_those_of_the_standard():
    assert COLOUR_LETTERS == PRINTED
    for name, letters in PRINTED.items():
        assert colour_letters(name) == letters


@pytest.mark.parametrize(
    ("written", "letters"),
    [("red/white", "RDWH"), ("green and yellow", "GNYE"), ("gray", "GY"), ("tarred", ""), ("", "")],
)
def test_a_combination_is_run_together(written, letters):
    assert colour_letters(written) == letters


def test_every_colour_of_the_standard_has_a_hue():
    assert {name for name in PRINTED if name != "green-yellow"} <= set(COVERS)


def rows_of_the_document():
    text = DOCUMENT.read_text(encoding="utf-8")
    table = text.partition("<!-- codes -->")[2].partition("<!-- /codes -->")[0]
    lines = [line for line in table.splitlines() if line.startswith("|")][2:]
    return [tuple(cell.strip() for cell in line.strip("|").split("|")) for line in lines]


def test_the_documents_table_is_the_codes_table():
    assert rows_of_the_document() == [tuple(row) for row in visual_codes()]


def test_no_code_means_two_things():
    seen = [(sign, mark) for sign, mark, _ in visual_codes()]
    assert len(set(seen)) == len(seen)


@pytest.mark.parametrize("theme", ["paper", "dark"])
def test_hues_of_services_stand_out_three_to_one(theme):
    # WCAG 2.2, 1.4.11: a line that carries meaning.
    for hue in SERVICE_HUES:
        assert contrast(hue[theme], COLOURS["paper"][theme]) >= 3.0


@pytest.mark.parametrize("theme", ["paper", "dark"])
def test_the_edge_of_a_cover_stands_out_three_to_one(theme):
    assert contrast(COLOURS[STROKES["edge-1"].stroke][theme], COLOURS["paper"][theme]) >= 3.0


# Linear RGB as a dichromat sees it: Vienot, Brettel and Mollon 1999 (status: from memory).
PROTAN = ((0.11238, 0.88762, 0.0), (0.11238, 0.88762, 0.0), (0.00401, -0.00401, 1.0))
DEUTAN = ((0.29275, 0.70725, 0.0), (0.29275, 0.70725, 0.0), (-0.02234, 0.02234, 1.0))


def linear(colour):
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    return [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]


def lab(rgb):
    """CIE 1976 L*a*b* of linear sRGB, white D65 (IEC 61966-2-1)."""
    matrix = ((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505))
    white = (0.9505, 1.0, 1.089)
    xyz = [
        sum(m * c for m, c in zip(row, rgb, strict=True)) / w for row, w in zip(matrix, white, strict=True)
    ]
    f = [max(v, 0) ** (1 / 3) if v > 216 / 24389 else (24389 / 27 * v + 16) / 116 for v in xyz]
    return (116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2]))


def seen(colour, matrix):
    rgb = linear(colour)
    return [min(1.0, max(0.0, sum(m * c for m, c in zip(row, rgb, strict=True)))) for row in matrix]


@pytest.mark.parametrize("matrix", [PROTAN, DEUTAN])
def test_roles_differ_for_the_colour_blind(matrix):
    """Ten units of the 1976 difference are plain to see side by side (common practice, no source)."""
    hues = [COLOURS[role]["paper"] for role in ("battery", "fused", "switched", "generated", "return")]
    for one, other in combinations(hues, 2):
        a, b = lab(seen(one, matrix)), lab(seen(other, matrix))
        assert sum((x - y) ** 2 for x, y in zip(a, b, strict=True)) ** 0.5 >= 10.0, (one, other)


def test_the_simulation_keeps_grey():
    # A dichromat sees greys as everyone does: the check on the matrices.
    for matrix in (PROTAN, DEUTAN):
        assert seen("#808080", matrix) == pytest.approx(linear("#808080"), abs=1e-3)
        assert luminance("#808080") == pytest.approx(linear("#808080")[0])


def test_services_that_meet_have_different_hues(amphibian):
    joined = amphibian.installation
    paints = painted(joined, "service").of_service
    letters = [paint.letter for paint in paints.values()]
    assert len(set(letters)) == len(letters) == len(joined.dossier.services)
    ends = {}
    for cable in joined.dossier.cables.values():
        for end in (cable.from_, cable.to):
            item = end.partition(".")[0]
            equipment = joined.equipment.get(item)
            if equipment and equipment.symbol != "bus-bar" and not equipment.fuse_ways:
                ends.setdefault(item, set()).add(cable.service)
    pairs = {pair for many in ends.values() for pair in combinations(sorted(many), 2)}
    alike = [pair for pair in pairs if paints[pair[0]].look == paints[pair[1]].look]
    assert pairs
    assert len(alike) <= len(pairs) // 10, alike


def cables_of(scene):
    return [g for g, _ in walk(scene.items) if isinstance(g, Group) and g.role == "cable"]


def test_by_service_every_cable_bears_its_plates_number(amphibian):
    known = roles(amphibian)
    [scene] = service_plate(amphibian, "horn", known=known, way="service").scenes
    dossier = amphibian.installation.dossier
    numbers = {name: n for n, name in enumerate(dossier.services, 1)}
    shown = set()
    for group in cables_of(scene):
        texts = [item.words for item in group.items if isinstance(item, Text)]
        if texts and group.name in dossier.cables:
            service = dossier.cables[group.name].service
            shown.add(service)
            assert texts[0].endswith(f"({numbers[service]})")
    assert "horn" in shown


def test_by_service_the_neighbours_cables_are_drawn_too(amphibian):
    known = roles(amphibian)
    found = set()
    for scene in service_plate(amphibian, "generation", known=known, way="service").scenes:
        found |= {g.name for g in cables_of(scene)}
    dossier = amphibian.installation.dossier
    others = {
        name for name in found if name in dossier.cables and dossier.cables[name].service != "generation"
    }
    assert {"E22", "E24"} <= others, "the voltmeter's taps hang on the cut-outs"


def test_covers_are_edged_traced_and_named():
    paint = painted(plant_of("glider-tug").installation, "insulation").paint
    two = paint(Cable(id="X", colour="red/white"), "fused")
    assert (two.look, two.tracer, two.edged) == ("cover-red", "cover-white", True)
    assert two.words == "RDWH red with white"
    assert paint(Cable(id="X", colour=""), "fused").words == "colour not recorded"
    assert paint(Cable(id="X", colour="bare"), "fused").letter == "bare"


def test_a_bare_bridge_is_bare_on_the_plate(amphibian):
    [scene] = service_plate(amphibian, "hail-lamps", known=roles(amphibian), way="insulation").scenes
    [group] = [g for g in cables_of(scene) if g.name == "H6" and any(isinstance(i, Text) for i in g.items)]
    assert any(isinstance(item, Line) and "cover-bare" in item.look for item in group.items)
    assert any(isinstance(item, Text) and item.words.endswith("bare") for item in group.items)


def test_in_black_and_white_every_role_is_told_by_its_mark():
    marked = [letter for role, (letter, _) in ROLES.items() if role not in ("return", "recorded")]
    assert all(marked)
