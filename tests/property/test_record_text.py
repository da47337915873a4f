"""Laws of the record's text: what is written reads back, damage is told, an edit changes what it says."""

# ruff: noqa: E501 - one case stands on one line

import random
import tomllib
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomlore.findings import Place, RefusedEdit, Severity
from loomlore.quantities import read_date, read_quantity, read_rating, read_size
from loomlore.record import model
from loomlore.record.completing import default_name
from loomlore.record.editing import add_thing, remove_key, remove_thing, set_key
from loomlore.record.reading import read_dossier, read_texts
from loomlore.record.toml import as_toml
from loomlore.record.writing import written_texts
from loomlore.sentences import KEYWORDS, read_sentence
from record_comparing import without_places
from small_record import PAGE

# --- any record --------------------------------------------------------------------------------------------

IDS = st.from_regex(r"[a-z][a-z0-9]{0,4}(-[a-z0-9]{1,4}){0,2}", fullmatch=True).filter(
    lambda i: i not in KEYWORDS
)
MARKS = st.from_regex(r"[A-Z][A-Za-z0-9]{0,3}(-[0-9]{1,2})?", fullmatch=True)
TEXTS = st.text(
    st.characters(exclude_categories=["Cs", "Co"], include_characters='"\\\n\t#“”é Ω'),
    min_size=1,
    max_size=30,
)
LENGTHS = st.sampled_from(
    ["2.4 m", "about 2 m", "3 ft 6 in", "1.8 to 2.2 m", "at least 1 m", "2 m ± 5 %"]
).map(read_quantity)
OHMS = st.sampled_from(["2 mohm", "about 0.5 ohm", "1 to 2 mohm"]).map(read_quantity)
AMPS = st.sampled_from(["5 A", "1/3 A", "about 10 A"]).map(read_quantity)
SENTENCES = st.sampled_from(
    ["master is on", "not (a and b) or c", "0.2 <= throttle < 0.4", "amps in '12 A' > 3 A", "a is one of (x, y)",
     "wheels is not up through down", "(a or b) and (c or (d and e))", "volts at battery.+ > 26.8 V"]
).map(read_sentence)  # fmt: skip
DATES = st.sampled_from(["1937", "1937-05-11", "about 1937", "1937 to 1939", "before 1940"]).map(read_date)
SIZES = st.sampled_from(["1.0 mm2", "14/0.30 mm", "23/.0076 in", "AWG 16", "twin SWG 20"]).map(read_size)
RATINGS = st.sampled_from(["24 V 6 W", "24 V 45 Ah", "80 ohm", "about 24 V"]).map(read_rating)
CITATIONS = st.tuples(IDS, st.sampled_from(["", "6.8", "p 12", "sheet 2, left"])).map(
    lambda p: model.Citation(*p)
)
METRES = st.floats(min_value=-50, max_value=50, allow_subnormal=False).map(lambda f: f + 0.0)
POINTS = st.one_of(st.none(), st.tuples(METRES, METRES, METRES))
SHARES = st.floats(min_value=0, max_value=1, allow_subnormal=False)
FREE = st.one_of(st.just(""), TEXTS)
NAMES = st.one_of(st.just(""), IDS)
ENDS = st.one_of(st.just("earth"), st.tuples(IDS, st.sampled_from(["1", "+", "2a", "BAT"])).map(".".join))
LISTS = st.lists(IDS, max_size=3, unique=True).map(tuple)
COMMON = {
    "name": FREE, "also": st.lists(TEXTS, max_size=2, unique=True).map(tuple), "text": FREE, "note": FREE,
    "sources": st.lists(CITATIONS, max_size=2, unique=True).map(tuple),
    "standing": st.sampled_from(["", *model.STANDINGS]), "fit": st.one_of(st.none(), SENTENCES),
}  # fmt: skip


def things(word, made, ids=IDS, **fields):
    """A table of things, with what reading fills in filled in."""
    one = st.fixed_dictionaries(COMMON | fields)
    return st.dictionaries(ids, one, max_size=3).map(
        lambda table: {id_: settled(word, made, id_, keys) for id_, keys in table.items()}
    )


def settled(word, made, id_, keys):
    mark = keys.get("mark", "")
    keys = keys | {"name": keys["name"] or default_name(word, id_, mark=mark)}
    cited = keys["sources"] or (word == "statement" and keys["source"] is not None)
    return made(id=id_, **keys | {"standing": keys["standing"] or ("attested" if cited else "unsupported")})


@st.composite
def controls(draw, word, taken):
    made = {}
    for id_ in draw(st.lists(IDS.filter(lambda i: i not in taken), max_size=3, unique=True)):
        keys = draw(st.fixed_dictionaries(COMMON)) | {"world": word == "condition"}
        if draw(st.booleans()):
            positions = tuple(draw(st.lists(IDS, min_size=2, max_size=4, unique=True)))
            keys |= {"positions": positions, "start": draw(st.sampled_from(positions))}
            keys["springs_to"] = draw(st.sampled_from([None, *positions]))
        else:
            low, high = draw(
                st.sampled_from(
                    [("0", "1"), ("0 kt", "200 kt"), ("-5 °C", "40 °C"), ("0 lb/in2", "12 lb/in2")]
                )
            )
            span = (read_quantity(low, bare=True), read_quantity(high, bare=True))
            keys |= {
                "range": span,
                "start": draw(st.floats(span[0].value, span[1].value, allow_subnormal=False)),
            }
        keys |= draw(st.fixed_dictionaries({"guarded": st.booleans(), "turns": st.booleans()}))
        taken.add(id_)
        made[id_] = settled(word, model.Control, id_, keys)
    return made


@st.composite
def settings_of(draw, ranges):
    """Settings: of ranges amounts within them, of anything else positions or shares."""
    made = {}
    for name in draw(
        st.lists(
            st.one_of(IDS, st.tuples(IDS, IDS).map(".".join), st.sampled_from(sorted(ranges) or ["x"])),
            max_size=3,
            unique=True,
        )
    ):
        span = ranges.get(name)
        if span is None:
            made[name] = draw(st.one_of(IDS, SHARES))
        else:
            made[name] = draw(st.floats(span[0].value, span[1].value, allow_subnormal=False))
    return made


@st.composite
def steps_of(draw, ranges):
    made = []
    for _ in range(draw(st.integers(1, 3))):
        step = model.Step(
            do=draw(settings_of(ranges)),
            see=draw(st.one_of(st.none(), SENTENCES)),
            hold=draw(LISTS),
            wait=draw(st.sampled_from([None, 8.0, 0.25, 90.0])),
            text=draw(FREE),
        )
        made.append(step if step != model.Step() else replace(step, wait=1.0))
    return tuple(made)


@st.composite
def cables_of(draw, services):
    made = {}
    for id_ in draw(st.lists(MARKS, max_size=4, unique_by=str.casefold)) if services else ():
        service = services[draw(st.sampled_from(sorted(services)))]
        keys = draw(
            st.fixed_dictionaries(
                COMMON | {"from_": ENDS, "to": ENDS, "size": st.one_of(st.none(), SIZES, IDS), "length": st.one_of(st.none(), LENGTHS),
                "along": NAMES, "core": st.sampled_from(["", "T1.red"]), "colour": FREE, "cover": FREE, "mark": FREE,
                "type": st.sampled_from(["", "coaxial", "aerial", "tube"])}
            )
        )  # fmt: skip
        if not keys["core"] and not keys["type"]:
            for key, value in service.usual.items():
                keys[key] = keys[key] or (read_size(value) if key == "size" else value)
        made[id_] = settled("cable", model.Cable, id_, keys | {"service": service.id})
    return made


def sheathed(table):
    """A sheath's size is read from its type."""
    return {
        id_: replace(sheath, size=read_size(sheath.type) if sheath.type[:1].isdigit() else None)
        for id_, sheath in table.items()
    }


sheaths = things(
    "sheath", model.Sheath, MARKS, type=st.sampled_from(["", "14/0.30 mm", "met-cable"]), cores=LISTS,
    length=st.one_of(st.none(), LENGTHS), along=NAMES,
).filter(lambda table: len({id_.casefold() for id_ in table}) == len(table)).map(sheathed)  # fmt: skip


@st.composite
def ways_and_scales(draw, items):
    """Ways and scales of any of the items."""
    ways, scales = {}, {}
    for item in draw(st.lists(st.sampled_from(sorted(items) or ["box"]), max_size=2, unique=True)):
        for number in draw(st.lists(st.sampled_from(["1", "2", "3a", "BAT"]), max_size=3, unique=True)):
            keys = draw(
                st.fixed_dictionaries(
                    COMMON
                    | {
                        "fuse": st.one_of(st.none(), AMPS),
                        "spare": st.booleans(),
                        "basis": st.sampled_from(["", "fusing"]),
                    }
                )
            )
            keys |= {"item": item, "number": number, "basis": keys["basis"] if keys["fuse"] else ""}
            ways[f"{item}.{number}"] = settled("way", model.Way, f"{item}.{number}", keys)
        for name in draw(st.lists(IDS, max_size=2, unique=True)):
            amounts = sorted(
                draw(st.lists(st.floats(-9, 9, allow_subnormal=False), min_size=2, max_size=4, unique=True))
            )
            points = tuple(
                (amount + 0.0, read_quantity(f"{n * 10} gal(UK)")) for n, amount in enumerate(amounts)
            )
            name_of = default_name("scale", f"{item}.{name}")
            scales[f"{item}.{name}"] = model.Scale(
                id=f"{item}.{name}", name=name_of, item=item, points=points
            )
    return ways, scales


@st.composite
def dossiers(draw):
    taken = set()
    conditions, levers = draw(controls("condition", taken)), draw(controls("control", taken))
    ranges = {id_: c.range for id_, c in (conditions | levers).items() if c.range}
    usual = st.fixed_dictionaries(
        {}, optional={"size": st.sampled_from(["1.0 mm2", "AWG 16"]), "colour": TEXTS, "cover": TEXTS}
    )
    services = draw(
        things("service", model.Service, title=FREE.map(lambda t: t or "A service"), feed=st.lists(ENDS, max_size=2, unique=True).map(tuple), account=FREE,
               given=st.one_of(st.none(), SENTENCES), usual=usual)
    )  # fmt: skip
    fits = {
        "title": FREE,
        "removes": LISTS,
        "change": st.dictionaries(IDS, st.dictionaries(IDS, TEXTS, min_size=1, max_size=2), max_size=2),
    }
    steps = steps_of(ranges)
    items = draw(
        things(
            "item", model.Item, ids=IDS.filter(lambda i: i not in taken), kind=IDS, rating=st.one_of(st.none(), RATINGS),
            ratings=st.dictionaries(IDS, RATINGS, max_size=2), place=NAMES, at=POINTS, earth=NAMES,
            cams=st.dictionaries(IDS, SENTENCES, max_size=2), binds=st.dictionaries(IDS, IDS, max_size=2), mates=NAMES,
            links=st.lists(st.lists(IDS, min_size=2, max_size=3).map(tuple), max_size=2).map(tuple),
            start=st.one_of(st.just({}), IDS.map(lambda p: {"": p}), st.dictionaries(IDS, st.one_of(IDS, SHARES), min_size=1, max_size=2)),
            regulated_by=NAMES, basis=st.sampled_from(["", "carrying", "fusing"]),
            own=st.dictionaries(IDS.map("x{}".format), st.one_of(TEXTS, st.integers(0, 99), SHARES), max_size=2),
        )
    )  # fmt: skip
    ways, scales = draw(ways_and_scales(items))
    return model.Dossier(
        ways=ways,
        scales=scales,
        header=draw(
            st.builds(
                model.Header, title=TEXTS, supply=st.one_of(st.none(), st.just(read_quantity("24 V"))),
                return_=st.sampled_from(["earth", "two-wire"]), earthed=st.sampled_from(["negative", "positive", "none"]),
                allowance=st.one_of(st.none(), st.just(read_quantity("0.15 m"))), basis=st.sampled_from(["carrying", "fusing"]),
                given=st.one_of(st.none(), SENTENCES), standard=NAMES, text=FREE, note=FREE,
            )
        ),
        conditions=conditions,
        controls=levers,
        places=draw(things("place", model.Spot, at=POINTS, station=FREE, zone=FREE)),
        outlines=draw(things("outline", model.Outline, view=st.sampled_from(["side", "plan"]), unit=st.sampled_from(["m", "ft"]), line=st.booleans(),
                             points=st.lists(st.tuples(METRES, METRES), min_size=3, max_size=5).map(tuple))),
        earths=draw(things("earth", model.Bolt, place=NAMES, resistance=st.one_of(st.none(), OHMS), bonds=st.dictionaries(IDS, OHMS, max_size=2))),
        looms=draw(things("loom", model.Loom, route=st.just(("a", "b", "c")), legs=st.one_of(st.just(()), st.tuples(LENGTHS, LENGTHS)))),
        sheaths=draw(sheaths),
        sources=draw(
            things("source", model.Source, title=FREE, nature=st.sampled_from(["", "handbook", "survey"]), date=st.one_of(st.none(), DATES),
                   describes=FREE, held=FREE, copied_from=NAMES, pages=FREE, file=st.sampled_from(["", "scans/a.pdf"]), rights=FREE, credit=FREE)
        ),
        scans=draw(things("scan", model.Scan, file=st.just("scans/b.png"), source=st.one_of(st.none(), CITATIONS), shows=LISTS, scale=FREE)),
        tracings=draw(things("tracing", model.Tracing, scan=IDS, of=IDS, points=st.lists(st.tuples(METRES, METRES), min_size=1, max_size=3).map(tuple))),
        fits=draw(things("fit", model.Fit, **fits)),
        choices=draw(things("choice", model.Choice, one_of=st.just(("a", "b")))),
        modifications=draw(things("modification", model.Fit, modification=st.just(True), date=st.one_of(st.none(), DATES), serials=FREE, **fits)),
        standards=draw(things("standard", model.Standard, title=FREE, fits=LISTS)),
        services=services,
        items=items,
        cables=draw(cables_of(services)),
        statements=draw(
            things("statement", model.Statement, source=CITATIONS, words=TEXTS, legible=st.booleans(), when=st.one_of(st.none(), SENTENCES),
                   steps=st.one_of(st.just(()), steps), then=SENTENCES, given=st.one_of(st.none(), SENTENCES))
        ),
        decisions=draw(
            things("decision", model.Decision, about=FREE, adopts=st.one_of(st.none(), CITATIONS), because=TEXTS, by=FREE,
                   weighed=st.lists(CITATIONS, max_size=2, unique=True).map(tuple), on=st.one_of(st.none(), DATES), dissent=FREE)
        ),
        procedures=draw(things("procedure", model.Procedure, title=FREE, start=settings_of(ranges), steps=steps)),
        phases=draw(
            things("phase", model.Phase, title=FREE, minutes=st.sampled_from([None, read_quantity("90 min"), read_quantity("about 2 h")]),
                   settings=settings_of(ranges), duty=st.dictionaries(IDS, st.one_of(st.just(("share", 1.0)), SHARES.map(lambda s: ("share", s)), st.just(("time", 10.0))), max_size=2))
        ),
        measurements=draw(
            things("measurement", model.Measurement, of=st.one_of(st.tuples(ENDS, ENDS), TEXTS.filter(str.strip).map(lambda t: (t,))),
                   value=OHMS, as_=st.sampled_from(["", "found", "left"]), on=st.one_of(st.none(), DATES), meter=FREE, by=FREE)
        ),
        kinds=draw(st.dictionaries(IDS, st.dictionaries(IDS, st.one_of(TEXTS, st.lists(TEXTS, max_size=2), st.dictionaries(IDS, TEXTS, max_size=2)), max_size=3)
                                   .map(lambda raw: (raw, Place())), max_size=2)),
    )  # fmt: skip


@given(dossiers())
def test_what_is_written_reads_back_as_the_same_record(dossier):
    texts = written_texts(dossier)
    reading = read_texts(texts)
    assert [str(f) for f in reading.findings if f.severity is Severity.ERROR] == []
    assert without_places(reading.dossier) == without_places(dossier)
    assert written_texts(reading.dossier) == texts


VALUES = st.recursive(
    st.one_of(
        TEXTS,
        st.just(""),
        st.booleans(),
        st.integers(-9, 9),
        st.floats(allow_nan=False, allow_infinity=False),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.one_of(IDS, TEXTS), inner, max_size=3)
    ),
    max_leaves=8,
)


@given(VALUES)
def test_a_value_written_as_toml_is_that_value_to_tomllib(value):
    assert tomllib.loads(f"x = {as_toml(value)}")["x"] == value


# --- damage ------------------------------------------------------------------------------------------------


@given(st.integers(0, 10**9))
def test_a_damaged_page_is_read_as_far_as_it_goes(seed):
    """Whatever character is cut, doubled or put in: no exception, and what tomllib refuses is told."""
    dice = random.Random(seed)
    at = dice.randrange(len(PAGE))
    put = dice.choice(["", PAGE[at] * 2, *"\"'{}[]=,.#\n “x"])
    text = PAGE[:at] + put + PAGE[at + 1 :]
    reading = read_texts({"page.toml": text})
    try:
        tomllib.loads(text)
    except ValueError:
        assert reading.findings
    lost = set(read_texts({"page.toml": PAGE}).dossier.items) - set(reading.dossier.items)
    # a line costs its thing; a heading without its brackets is mended; a quote may cost the line behind it
    assert len(lost) <= 2


def damaged(text, dice):
    """One thing done to a text: a character, a stretch or a line cut, doubled, put in or moved."""
    at = dice.randrange(len(text))
    how = dice.random()
    if how < 0.6:
        put = dice.choice(["", text[at] * 2, *"\"'{}[]=,.#\n “x:\t()|\\", '"""', "\n[", "]]\n"])
        return text[:at] + put + text[at + dice.randint(0, 2) :]
    if how < 0.8:
        return text[:at] + text[at + dice.randint(1, 60) :]
    lines = text.split("\n")
    line = dice.randrange(len(lines))
    lines.insert(dice.randrange(len(lines)), lines[line] if dice.random() < 0.5 else lines.pop(line))
    return "\n".join(lines)


@given(st.integers(0, 10**9))
def test_any_damage_is_told_and_never_raises(seed):
    dice = random.Random(seed)
    text = PAGE
    for _ in range(dice.randint(1, 4)):
        text = damaged(text, dice)
    reading = read_texts({"page.toml": text})
    try:
        tomllib.loads(text)
    except ValueError:
        assert reading.findings
    for finding in reading.findings:
        assert finding.message
        assert finding.hint
        assert "\ue000" not in str(finding)  # what stands for a lost word inside is never shown
        assert 1 <= finding.place.line <= text.count("\n") + 1
    for subject in reading.paths:
        assert reading.place_of(subject, "rating").line or not reading.findings


# --- edits -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("edited")


SUBJECTS = [
    "item horn",
    "item horn-switch",
    "cable H1",
    "cable H3",
    "way fuse-box.1",
    "place bow",
    "source handbook",
]


@given(st.sampled_from(SUBJECTS), st.sampled_from(["note", "text", "name"]), TEXTS, st.booleans())
def test_a_key_set_is_that_value_and_nothing_else_has_changed(folder, subject, key, value, windows):
    ends = "\r\n" if windows else "\n"
    (folder / "page.toml").write_bytes(PAGE.replace("\n", ends).encode())
    before = read_dossier(folder)
    set_key(folder, before, subject, key, value)
    after = read_dossier(folder)
    assert [str(f) for f in after.findings] == []
    word, _, id_ = subject.partition(" ")
    attribute = {"item": "items", "cable": "cables", "way": "ways", "place": "places", "source": "sources"}[
        word
    ]
    assert getattr(getattr(after.dossier, attribute)[id_], key) == value
    expected = tomllib.loads(PAGE)
    path = before.paths[subject][1]
    thing = expected
    for part in path:
        thing = thing[part]
    thing[key] = value
    assert after.raw["page.toml"] == expected
    remove_key(folder, after, subject, key)
    del thing[key]
    assert read_dossier(folder).raw["page.toml"] == expected
    assert (folder / "page.toml").read_bytes().count(ends.encode()) == PAGE.count("\n")


@given(IDS, st.dictionaries(IDS.map("x{}".format), TEXTS, max_size=3))
def test_a_thing_added_and_taken_out_leaves_the_very_same_bytes(folder, id_, keys):
    (folder / "page.toml").write_text(PAGE, encoding="utf-8")
    reading = read_dossier(folder)
    try:
        add_thing(folder, reading, "item", id_, {"kind": "bell", **keys})
    except RefusedEdit:
        assert f"item {id_}" in reading.paths
        return
    after = read_dossier(folder)
    assert after.dossier.items[id_].own == keys
    if len(as_toml({"kind": "bell", **keys})) < 90:
        remove_thing(folder, after, f"item {id_}")
        assert (folder / "page.toml").read_text(encoding="utf-8") == PAGE
