"""Reading a dossier: what it holds, and one finding for one slip."""

from pathlib import Path

import pytest

from loomlore.findings import Severity, UnknownName
from loomlore.record.model import Citation
from loomlore.record.reading import altered, read_dossier, read_texts
from small_record import PAGE, changed, line_of, reading_of

EXAMPLES = sorted(p for p in (Path(__file__).parents[3] / "examples").iterdir() if p.is_dir())


def only(reading):
    """The one finding there is."""
    assert [str(f) for f in reading.findings][1:] == []
    return reading.findings[0]


def test_the_page_reads_without_findings():
    assert reading_of().findings == ()
    assert reading_of().broken == frozenset()


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.name)
def test_the_examples_read_without_findings(example):
    reading = read_dossier(example)
    assert [str(f) for f in reading.findings] == []
    assert reading.dossier.items
    assert reading.dossier.cables


def test_values_are_those_on_the_page():
    dossier = reading_of().dossier
    assert dossier.header.supply.value == 24
    assert str(dossier.header.given) == "master is on"
    assert dossier.conditions["wheels"].world
    assert not dossier.controls["master"].world
    assert dossier.conditions["wheels"].start == "up"
    assert dossier.controls["throttle"].start == 0
    assert dossier.places["bow"].at == (0.5, 0.2, 1.0)
    assert dossier.items["fuse-box"].own == {"ways": 2}
    assert dossier.items["horn"].rating["power"].value == 42
    assert dossier.items["horn"].sources == (Citation("handbook", "6.8"),)
    assert dossier.ways["fuse-box.1"].fuse.value == 5
    assert dossier.ways["fuse-box.2"].spare
    assert dossier.services["horn"].feed == ("fuse-box.1",)
    assert dossier.phases["cruise"].minutes.value == 90 * 60
    assert dossier.phases["cruise"].duty == {"horn": ("time", 10.0)}


def test_a_service_gives_its_cables_what_they_have_in_common():
    cables = reading_of().dossier.cables
    assert {c.size.text for c in cables.values()} == {"14/.0076 in"}
    assert [c.colour for c in cables.values()] == ["red", "red", "black"]
    assert {c.service for c in cables.values()} == {"horn"}


def test_names_and_standings_have_their_defaults():
    dossier = reading_of().dossier
    assert dossier.items["horn-switch"].name == "Horn switch"
    assert dossier.cables["H1"].name == "H1"
    assert dossier.ways["fuse-box.1"].name == "Fuse box, way 1"
    assert dossier.items["horn"].standing == "attested"
    assert dossier.items["fuse-box"].standing == "attested"
    assert dossier.cables["H1"].standing == "unsupported"
    assert dossier.statements["statement-1"].standing == "attested"


def test_amounts_of_the_dossiers_own_ranges_are_in_the_inside_unit():
    dossier = reading_of().dossier
    step = dossier.statements["statement-1"].steps[0]
    assert step.do == {"master": "on", "airspeed": pytest.approx(80 * 1852 / 3600)}
    assert dossier.phases["cruise"].settings["airspeed"] == pytest.approx(120 * 1852 / 3600)
    assert dossier.statements["statement-1"].steps[1].wait == 2


def test_statements_without_an_id_count_through_the_dossier():
    more = '[[statement]]\nsource = "handbook 7"\nwords = "More."\n'
    assert list(reading_of(zmore=more).dossier.statements) == ["statement-1", "horn-watts", "statement-3"]
    # giving one an id does not rename the others
    named = changed("[[statement]]\nsource", '[[statement]]\nid = "first"\nsource')
    assert list(reading_of(named, zmore=more).dossier.statements) == ["first", "horn-watts", "statement-3"]


def test_both_ways_of_writing_a_thing_are_the_same():
    braces = changed(
        '[item.horn-switch]\nkind    = "cam-switch"\ncams    = { main = "throttle < 0.2 and wheels is not down" }\n'
        'place   = "panel"\nsources = ["handbook 6.8"]\n',
        'horn-switch = { kind = "cam-switch", cams = { main = "throttle < 0.2 and wheels is not down" },'
        ' place = "panel", sources = ["handbook 6.8"] }\n',
    )
    one, other = reading_of().dossier.items["horn-switch"], reading_of(braces).dossier.items["horn-switch"]
    assert (one.kind, str(one.cams["main"]), one.place) == (other.kind, str(other.cams["main"]), other.place)


def test_a_services_cables_may_stand_in_another_file():
    head, cables = PAGE.split("[service.horn.cables]\n", 1)
    rows, rest = cables.split("\n\n", 1)
    reading = reading_of(head + rest, cables=f"[service.horn.cables]\n{rows}\n")
    assert reading.findings == ()
    assert set(reading.dossier.cables) == {"H1", "H2", "H3"}
    assert reading.dossier.cables["H1"].where.file == "cables.toml"
    assert reading.dossier.cables["H1"].size.text == "14/.0076 in"


# --- one slip, one finding, at its place, saying what to write ---------------------------------------------

SLIPS = [
    # the ten commonest: no unit, decimal comma
    ('length = "0.4 m"', 'length = "0.4"', "unreadable-value", "'0.4 m'"),
    ('length = "0.4 m"', 'length = "0,4 m"', "unreadable-value", "'0.4 m'"),
    ('length = "0.4 m"', "length = 0.4", "unreadable-value", "'0.4 m'"),
    ('rating = "24 V 42 W"', 'rating = "24 42"', "unreadable-value", "24 V"),
    ('rating = "24 V 42 W"', "rating = 24", "unreadable-value", "24 V"),
    # missing and curly quotes
    ('to = "horn.1"', 'to = horn.1"', "unreadable-text", '"horn.1"'),
    ('to = "horn.1"', 'to = "horn.1', "unreadable-text", '"horn.1"'),
    ('to = "horn.1"', "to = horn.1", "unreadable-text", '"horn.1"'),
    ('to = "horn.1"', "to = “horn.1”", "unreadable-text", '"horn.1"'),
    # missing comma or brace
    ('"horn.1", along', '"horn.1" along', "unreadable-text", 'to = "horn.1", along = "main-loom"'),
    ('along = "main-loom" }', 'along = "main-loom"', "unreadable-text", 'along = "main-loom" }'),
    ("H2 = {", "H2 = ", "unreadable-text", 'H2 = { from = "horn-switch.2"'),
    ("H2 = {", "H2 {", "unreadable-text", "H2 = {"),
    # a copied row
    ("H2 = {", "H1 = {", "written-twice", "own mark"),
    ("\nbow   = {", "\npanel = {", "written-twice", "own id"),
    # words for numbers, "=" for "is", "is up or moving"
    ("throttle < 0.2 and", "throttle < two and", "unreadable-value", "figures"),
    ("wheels is not down", "wheels = up", "unreadable-value", "'is'"),
    # near misses of keys, tables and words
    ("along =", "alogn =", "unknown-key", "'along'"),
    ('colour = "black"', 'color = "black"', "unknown-key", "'colour'"),
    ("springs-to" if "springs-to" in PAGE else "guarded", "gaurded", "unknown-key", "'guarded'"),
    ("[item]", "[items]", "unknown-table", "[item]"),
    ("[source]", "[sorce]", "unknown-table", "[source]"),
    ('nature = "handbook"', 'nature = "hanbook"', "unreadable-value", '"handbook"'),
    ('start = "0 kt"', 'start = "0 m"', "unreadable-value", "80 kt"),
    ('start = "0 kt"', 'start = "250 kt"', "beyond-range", "within"),
    ('positions = ["off", "on"], ', 'positions = ["off", "on"], start = "of", ', "unknown-position", '"off"'),
    # types
    ("guarded = true", 'guarded = "yes"', "unreadable-value", "true, without quotes"),
    ("ways = 2", "ways = true", "wrong-type", "in quotes"),
    ("minutes = 90", "minutes = true", "unreadable-value", "quotes"),
    ('date = "1937"', "date = 1937-05-11", "unreadable-value", '"1937-05-11"'),
    ('sources = ["handbook 6.1"]', "sources = [6.1]", "unreadable-value", '"6.1"'),
    ('legs = ["2.2 m"]', 'legs = "2.2 m"', "unreadable-value", "list"),
    ('legs = ["2.2 m"]', 'legs = ["2.2 m", "1 m"]', "legs", "each stretch"),
    ('at = ["0.5 m", "0.2 m", "1.0 m"]', "at = [0.5, 0.2, 1.0]", "unreadable-value", '["0.5 m", "0.2 m", "1 m"]'),
    ('length = "0.4 m"', 'length = "400 m"', "unusual-amount", "unit"),
    ('at = ["0.5 m", "0.2 m", "1.0 m"]', 'at = ["0.5 m", "0.2 m", "1.0 in"]', "unusual-amount", "one unit"),
    # ends
    ('from = "horn.2"', 'from = "horn 2"', "unreadable-value", '"horn.2"'),
    ('from = "horn.2"', 'from = "horn,2"', "unreadable-value", '"horn.2"'),
    # what is missing
    ('kind = "horn", rating', "rating", "missing-key", "kind ="),
    ('from = "horn.2", ', "", "missing-key", "from ="),
    ('words  = "The horn takes 42 watts."\n', "", "missing-key", "words ="),
    ('says   = "24 V 42 W"', "", "missing-key", "says ="),
    ('then   = "horn is sounding"', "", "none", ""),
    ('rating = "24 V 42 W"', 'rating = "24 V 42 min"', "unreadable-value", "'24 V 6 W'"),
    ('rating = "24 V 42 W"', 'rating = "24 ohm 42 W"', "unreadable-value", "volts or amperes"),
    ('rating = "24 V 42 W"', 'rating = "24 kV 42 W"', "unusual-amount", "unit"),
    ('sources = ["handbook 6.1"]', 'sources = ["handbook 6.1", ]', "lost-element", "missing there"),
    # less than nothing, units that are not taken, words for units
    ('length = "0.4 m"', 'length = "-0.4 m"', "unreadable-value", '"0.4 m"'),
    ('length = "0.4 m"', 'length = "0.0004 km"', "unreadable-value", "'0.4 m'"),
    ('rating = "24 V 42 W"', 'rating = "-24 V 42 W"', "unreadable-value", '"24 V"'),
    ('rating = "24 V 42 W"', 'rating = "24 volts, 42 watts"', "unreadable-value", "'24 V 42 W'"),
    # quotes within quotes, a verb for a state, a name in two words
    ('words  = "The horn takes 42 watts."', 'words  = "The "horn" takes 42 watts."', "unreadable-text", "'horn'"),
    ('then   = "horn is sounding"', 'then   = "horn sounds"', "unreadable-value", "'horn is sounding'"),
    ('see = "horn is silent"', 'see = "horn push is silent"', "unreadable-value", "'horn-push'"),
    ('from = "horn.2"', 'from = "deck horn.2"', "unreadable-value", '"deck-horn.2"'),
    # ids
    ("main-loom = {", "Main_Loom = {", "bad-id", "main-loom"),
    ("H3 = {", '"H/3" = {', "bad-id", 'mark = "H/3"'),
    ("H3 = {", "h2 = {", "written-twice", "another mark"),
    ("\nhorn     = {", "\nis       = {", "bad-id", "is-1"),
    ("\nhorn     = {", "\nwheels   = {", "name-taken", "otherwise"),
    # files outside the folder
    ('date = "1937"', 'file = "../../secret.txt"', "unreadable-value", "beneath the folder"),
    ('date = "1937"', 'file = "/etc/hostname"', "unreadable-value", "beneath the folder"),
    ('date = "1937"', 'file = "C:\\\\hidden"', "unreadable-value", "beneath the folder"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "rule", "write"), SLIPS, ids=[f"{o} -> {n}" for o, n, _, _ in SLIPS])
def test_a_slip_is_one_finding_at_its_line_and_says_what_to_write(old, new, rule, write):
    text = changed(old, new)
    findings = reading_of(text).findings
    if rule == "none":
        assert findings == ()
        return
    (finding,) = findings
    assert finding.rule == rule
    assert write in finding.hint
    lines = {finding.place.line, *(place.line for place in finding.also_at)}
    place_of_slip = next(
        n for n, (a, b) in enumerate(zip(PAGE.split("\n"), text.split("\n"), strict=False), 1) if a != b
    )
    # where a whole line went, the heading or id of its thing is the place
    assert min(abs(line - place_of_slip) for line in lines) <= (5 if not new.strip() else 0)
    assert finding.place.column > 0
    assert finding.hint.endswith((".", "}", '"', "]", "}, or the other."))


def test_and_beside_or_is_a_warning_with_the_sentence_bracketed():
    finding = only(
        reading_of(
            changed(
                "throttle < 0.2 and wheels is not down", "master is on or wheels is up and throttle < 0.2"
            )
        )
    )
    assert finding.severity is Severity.WARNING
    assert '"master is on or (wheels is up and throttle < 0.2)"' in finding.hint
    assert reading_of(changed("throttle < 0.2 and", "throttle < 0.2 or")).findings == ()


def test_a_bad_step_costs_that_part_alone():
    reading = reading_of(changed('see = "horn is silent"', 'see = "horn = silent"'))
    finding = only(reading)
    step = reading.dossier.statements["statement-1"].steps[0]
    assert step.see is None
    assert step.do["master"] == "on"
    assert "no. 1 'see' of statement statement-1" in finding.message
    text = changed('see = "horn is silent"', 'see = "horn = silent"')
    line = text.split("\n")[finding.place.line - 1]
    assert line[finding.place.column - 1 :].startswith("= silent")


def test_a_key_missing_and_its_near_miss_are_one_finding():
    reading = reading_of(changed('{ kind = "horn"', '{ knid = "horn"'))
    assert only(reading).rule == "unknown-key"
    assert reading.dossier.items["horn"].kind == "horn"


def test_what_a_broken_line_costs_is_named():
    reading = reading_of(changed('to = "horn.1"', "to = "))
    assert only(reading).rule == "unreadable-text"
    assert "cable H2" in reading.broken
    assert {"horn-switch", "main-loom"} <= reading.touched
    assert reading.dossier.cables["H2"].from_ == "horn-switch.2"


# --- lines in the wrong place ------------------------------------------------------------------------------


def test_a_row_under_the_wrong_heading_is_one_finding_and_read_as_what_it_is():
    row = 'horn     = { kind = "horn", rating = "24 V 42 W", place = "bow", sources = ["handbook 6.8"] }\n'
    text = PAGE.replace(row, "").replace("[earth]\n", f"[earth]\n{row}")
    reading = reading_of(text)
    finding = only(reading)
    assert finding.rule == "wrong-table"
    assert "[item]" in finding.hint
    assert finding.place.line == line_of(text, "horn     = {")
    assert "horn" in reading.dossier.items


def test_a_cable_among_the_items_is_one_finding():
    row = 'H2 = { from = "horn-switch.2", to = "horn.1", along = "main-loom" }\n'
    text = PAGE.replace(row, "").replace("[item]\n", f"[item]\n{row}")
    reading = reading_of(text)
    assert only(reading).rule == "wrong-table"
    assert "[service.ID.cables]" in only(reading).hint
    assert "cable H2" in reading.broken
    assert "horn" in reading.touched


@pytest.mark.parametrize(
    ("heading", "instead", "line", "write"),
    [
        ("[item]\n", "", "fuse-box = {", "[item]"),
        ("[dossier]\n", "", "format", "[dossier]"),
        ("[service.horn.cables]\n", "", "H1", "[service.horn.cables]"),
        ("[service.horn.cables]", "[service.cables]", "[service.cables]", "[service.ID.cables]"),
        ("[service.horn.cables]", "[horn.cables]", "[horn.cables]", "[service.horn.cables]"),
        ("[service.horn.cables]", "[service.horn]", "[service.horn]", "[service.horn.cables]"),
        ("[service.horn.cables]", "[service.hron.cables]", "[service.hron", "[service.horn.cables]"),
        ("[service.horn.cables]", "[service horn cables]", "[service horn", "[service.horn.cables]"),
        ("[way.fuse-box]", "[way]", "[way]", "[way.ITEM]"),
        ("[item]", "[[item]]", "[[item]]", "[item]"),
        ("[item]", "[item", "[item", "[item]"),
        ("[item]", "item]", "item]", "[item]"),
        ("[item]", "[]", "[]", "[item]"),
        ("[item]", "item", "item", "[item]"),
        ("[place]", "[places]", "[places]", "[place]"),
        ("[earth]", "[ground]", "[ground]", "[earth]"),
        ("[service.horn.cables]", "[cables]", "[cables]", "[service.ID.cables]"),
    ],
)
def test_a_heading_lost_or_wrong_is_one_finding(heading, instead, line, write):
    text = changed(heading, instead)
    findings = reading_of(text).findings
    assert len(findings) == 1, [str(f) for f in findings]
    assert write in findings[0].hint
    found = text.split("\n")[findings[0].place.line - 1]
    assert line in found or "[service.horn]" in found


def test_one_statement_with_single_brackets_is_told_of_the_other_two():
    text = changed('[[statement]]\nid     = "horn-watts"', '[statement]\nid     = "horn-watts"')
    assert "[[statement]]" in only(reading_of(text)).hint


def test_a_condition_among_the_levers_is_asked_about():
    finding = only(reading_of(zmore='[control]\nwind = { range = ["0 kt", "40 kt"] }\n'))
    assert finding.rule == "unlike-a-lever"
    assert "[condition]" in finding.hint


# --- several files -----------------------------------------------------------------------------------------


def test_a_thing_in_two_files_names_both_places():
    more = '[item]\nhorn = { kind = "bell" }\n'
    finding = only(reading_of(zmore=more))
    assert finding.rule == "written-twice"
    assert (finding.place.file, finding.place.line) == ("zmore.toml", 2)
    assert str(finding.also_at[0]).startswith("page.toml:")
    assert "page.toml" in finding.message
    assert reading_of(zmore=more).dossier.items["horn"].kind == "horn"


def test_headings_may_stand_in_several_files():
    assert reading_of(zmore='[item]\nbell = { kind = "bell" }\n').findings == ()


def test_one_name_space_for_conditions_controls_and_items():
    finding = only(reading_of(zmore='[item]\nthrottle = { kind = "lever" }\n'))
    assert finding.rule == "name-taken"
    assert "a control" in finding.message


def test_cables_of_a_service_written_nowhere_are_one_finding():
    more = '[service.lamps.cables]\nL1 = { from = "fuse-box.2", to = "horn.1" }\nL2 = { from = "a.1", to = "b.1" }\n'
    finding = only(reading_of(zmore=more))
    assert finding.rule == "unknown-service"
    assert finding.place.line == 1


# --- places ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("subject", "key", "stands"),
    [
        ("item horn", None, "horn     = {"),
        ("item horn", "rating", '"24 V 42 W"'),
        ("item horn-switch", "cams.main", '"throttle'),
        ("cable H3", "to", '"earth.panel-bolt"'),
        ("way fuse-box.2", "spare", "true"),
        ("statement statement-1", "steps.1.do.throttle", "0.1 }"),
        ("statement horn-watts", "says", '"24 V 42 W"'),
        ("place bow", "at.2", '"1.0 m"'),
        ("dossier", "supply", '"24 V"'),
        ("service horn", "usual.size", '"14/.0076 in"'),
        ("phase cruise", "duty.horn", '"10 s"'),
    ],
)
def test_place_of_a_key_is_where_its_value_stands(subject, key, stands):
    place = reading_of().place_of(subject, key)
    assert PAGE.split("\n")[place.line - 1][place.column - 1 :].startswith(stands)


def test_place_into_a_sentence_is_its_column():
    place = reading_of().place_of("item horn-switch", "cams.main", into=20)
    sentence = "throttle < 0.2 and wheels is not down"
    assert PAGE.split("\n")[place.line - 1][place.column - 1 :].startswith(sentence[19:])


def test_place_of_what_is_not_there_is_the_nearest_that_is():
    reading = reading_of()
    assert reading.place_of("item horn", "nothing").line == reading.place_of("item horn").line
    assert reading.place_of("item nothing").line == 0


# --- folders and limits ------------------------------------------------------------------------------------


def test_a_folder_is_read_in_order_of_path_and_links_and_hidden_folders_are_not(tmp_path):
    (tmp_path / "b").mkdir()
    (tmp_path / ".git").mkdir()
    (tmp_path / "b" / "one.toml").write_text('[item]\nbell = { kind = "bell" }\n')
    (tmp_path / "a.toml").write_bytes(("\ufeff" + PAGE.replace("\n", "\r\n")).encode())
    (tmp_path / ".git" / "x.toml").write_text("nonsense")
    (tmp_path / "b" / "link.toml").symlink_to(tmp_path / "a.toml")
    (tmp_path / "looped").symlink_to(tmp_path)
    (tmp_path / "notes.txt").write_text("nothing of the record")
    reading = read_dossier(tmp_path)
    assert [str(f) for f in reading.findings] == []
    assert list(reading.texts) == ["a.toml", "b/one.toml"]
    assert "\r" not in reading.texts["a.toml"]
    assert reading.dossier == read_texts({"a.toml": PAGE, "b/one.toml": reading.texts["b/one.toml"]}).dossier


def test_a_folder_that_is_not_there_is_no_finding(tmp_path):
    with pytest.raises(UnknownName):
        read_dossier(tmp_path / "nowhere")


def test_an_empty_folder_says_how_to_begin(tmp_path):
    assert "[dossier]" in only(read_dossier(tmp_path)).hint


def test_what_is_no_utf8_is_a_finding_and_read_as_well_as_can_be(tmp_path):
    (tmp_path / "a.toml").write_bytes(PAGE.replace("flying boat", "b\u00e2teau").encode("cp1252"))
    reading = read_dossier(tmp_path)
    assert only(reading).rule == "not-utf-8"
    assert only(reading).place.line == 4
    assert reading.dossier.header.title == "Warning horn of a b\u00e2teau"


def test_utf_16_is_read_and_said_once_and_what_is_no_text_is_left(tmp_path):
    (tmp_path / "record.toml").write_bytes(PAGE.encode("utf-16"))
    reading = read_dossier(tmp_path)
    assert only(reading).rule == "not-utf-8"
    assert set(reading.dossier.items) == set(reading_of(PAGE).dossier.items)
    (tmp_path / "record.toml").write_text(PAGE, encoding="utf-8")
    (tmp_path / "photo.toml").write_bytes(bytes(range(256)) * 20)
    reading = read_dossier(tmp_path)
    assert only(reading).rule == "unread-file"
    assert only(reading).place.file == "photo.toml"


def test_a_large_file_is_a_finding(tmp_path):
    (tmp_path / "a.toml").write_text(PAGE)
    (tmp_path / "b.toml").write_text("# " + "x" * 2_000_000)
    assert only(read_dossier(tmp_path)).rule == "unread-file"


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 3000 + "]" * 3000,
        "a = " + "{ b = " * 3000 + "1" + "}" * 3000,
        ".".join("a" * 50_000) + " = 1",
        "[" + ".".join("a" * 50_000) + "]",
        "x = " + "9" * 10_000,
        "[item]\n" + "a = { kind = \n" * 3_000,
        "[item]\na = [\n" + '"x",\n' * 20_000,
        '[item]\na = """' + "x\n" * 20_000,
        "“" * 20_000,
        "[item]\n" + "\n".join(f'h{i} = {{ kind = "horn }}' for i in range(2000)),
        "\x00\x01\x02",
        "[kind.x]\na = " + "[" * 40 + "]" * 40,
    ],
    ids=range(12),
)
def test_a_stranger_cannot_exhaust_the_machine(text):
    import time

    start = time.perf_counter()
    reading = read_texts({"a.toml": text})
    assert reading.findings
    # about 4 s at most on a slow machine; without the limits some of these take minutes
    assert time.perf_counter() - start < 20


# --- what fits change --------------------------------------------------------------------------------------


def test_a_change_replaces_keys_and_keeps_the_rest():
    horn = reading_of().dossier.items["horn"]
    louder, slips = altered(horn, {"rating": "24 V 60 W", "pitch": "400 Hz"})
    assert slips == ()
    assert louder.rating["power"].value == 60
    assert louder.place == "bow"
    assert louder.own == {"pitch": "400 Hz"}


def test_a_bad_change_is_a_slip_with_its_key():
    cable = reading_of().dossier.cables["H1"]
    same, slips = altered(cable, {"length": "0,5 m", "sizes": "1 mm2"})
    assert [slip.path[0] for slip in slips] == ["length", "sizes"]
    assert same.length == cable.length
    assert same.size.text == "1 mm2"
