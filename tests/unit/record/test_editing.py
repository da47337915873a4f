"""Changing one key, thing or row in place; and refusing without loss."""

# ruff: noqa: E501 - one case stands on one line

import os
import stat
import tomllib

import pytest

from loomlore.findings import RefusedEdit
from loomlore.record import editing
from loomlore.record.editing import (
    add_thing,
    remove_key,
    remove_thing,
    replace_thing,
    save_text,
    set_key,
    text_of,
)
from loomlore.record.reading import read_dossier
from small_record import PAGE


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "page.toml").write_text(PAGE, encoding="utf-8")
    return tmp_path


def page(folder):
    return (folder / "page.toml").read_bytes().decode()


def differing(before, after):
    """The lines that differ: (taken away, put in)."""
    old, new = before.split("\n"), after.split("\n")
    while old and new and old[0] == new[0]:
        old, new = old[1:], new[1:]
    while old and new and old[-1] == new[-1]:
        old, new = old[:-1], new[:-1]
    return old, new


EDITS = [
    (
        ("set", "item horn", "rating", "24 V 60 W"),
        ['horn     = { kind = "horn", rating = "24 V 42 W", place = "bow", sources = ["handbook 6.8"] }'],
        ['horn     = { kind = "horn", rating = "24 V 60 W", place = "bow", sources = ["handbook 6.8"] }'],
    ),
    (
        ("set", "item horn", "note", 'says "loud"'),
        ['horn     = { kind = "horn", rating = "24 V 42 W", place = "bow", sources = ["handbook 6.8"] }'],
        ['horn     = { kind = "horn", rating = "24 V 42 W", place = "bow", sources = ["handbook 6.8"], note = "says \\"loud\\"" }'],
    ),
    (("set", "item horn-switch", "place", "bow"), ['place   = "panel"'], ['place   = "bow"']),
    (("set", "item horn-switch", "note", "stiff"), [], ['note    = "stiff"']),
    (("set", "statement statement-1", "then", "horn is silent"), ['then   = "horn is sounding"'], ['then   = "horn is silent"']),
    (("set", "dossier", "supply", "12 V"), ['supply = "24 V"'], ['supply = "12 V"']),
    (("set", "dossier", "earthed", "positive"), [], ['earthed = "positive"']),
    (
        ("set", "statement statement-1", "steps", [{"do": {"master": "on"}}]),
        [
            "steps  = [",
            '  { do = { master = "on", airspeed = "80 kt" }, see = "horn is silent" },',
            '  { do = { throttle = 0.1 }, wait = "2 s" },',
            "]",
        ],
        ['steps  = [{ do = { master = "on" } }]'],
    ),
    (("remove-key", "cable H3", "colour"), None, ['H3 = { from = "horn.2", to = "earth.panel-bolt", length = "0.3 m" }']),
    (("remove-key", "cable H1", "from"), None, ['H1 = { to = "horn-switch.1", length = "0.4 m" }']),
    (("remove-key", "way fuse-box.2", "spare"), None, ["2 = {  }"]),
    (("remove-key", "item horn-switch", "place"), ['place   = "panel"'], []),
    (("remove", "cable H2"), ['H2 = { from = "horn-switch.2", to = "horn.1", along = "main-loom" }'], []),
    (
        ("remove", "statement horn-watts"),
        [
            "[[statement]]",
            'id     = "horn-watts"',
            'source = "handbook 6.8"',
            'words  = "The horn takes 42 watts."',
            'about  = "horn.rating"',
            'says   = "24 V 42 W"',
            "",
        ],
        [],
    ),
    (("add", "cable", "H4", {"from": "horn.2", "to": "earth"}, "horn"), [], ['H4 = { from = "horn.2", to = "earth" }']),
    (("add", "item", "bell", {"kind": "bell"}, ""), [], ['bell     = { kind = "bell" }']),
    (("add", "way", "3", {"spare": True}, "fuse-box"), [], ["3 = { spare = true }"]),
    (("add", "choice", "radio", {"one-of": ["a", "b"]}, ""), [], ["", "[choice]", 'radio = { one-of = ["a", "b"] }', ""]),
    (
        ("add", "item", "bell", {"kind": "bell", "note": "x" * 120}, ""),
        [],
        ["", "[item.bell]", 'kind = "bell"', f'note = "{"x" * 120}"'],
    ),
    (
        ("add", "statement", "more", {"source": "handbook 7", "words": "More."}, ""),
        [],
        ["", "[[statement]]", 'id     = "more"', 'source = "handbook 7"', 'words  = "More."'],
    ),
]  # fmt: skip


def done(folder, reading, edit):
    what, *rest = edit
    if what == "set":
        set_key(folder, reading, *rest)
    elif what == "remove-key":
        remove_key(folder, reading, *rest)
    elif what == "remove":
        remove_thing(folder, reading, *rest)
    else:
        word, id_, raw, of = rest
        add_thing(folder, reading, word, id_, raw, of=of)


@pytest.mark.parametrize(("edit", "old", "new"), EDITS, ids=[" ".join(map(str, e[0][:3])) for e in EDITS])
@pytest.mark.parametrize("ends", ["\n", "\r\n"], ids=["lf", "crlf"])
def test_an_edit_changes_its_line_and_no_other_byte(folder, edit, old, new, ends):
    before = ("\ufeff" if ends == "\r\n" else "") + PAGE.replace("\n", ends)
    (folder / "page.toml").write_bytes(before.encode())
    done(folder, read_dossier(folder), edit)
    after = page(folder)
    assert after.count("\r\n") == (after.count("\n") if ends == "\r\n" else 0)
    assert after.startswith("\ufeff") == before.startswith("\ufeff")
    taken, put = differing(before.replace("\r\n", "\n"), after.replace("\r\n", "\n"))
    # a blank line is the same wherever it stands in a run of them
    assert [line for line in put if line] == [line for line in new if line]
    if old is not None:
        assert [line for line in taken if line] == [line for line in old if line]
    tomllib.loads(after.removeprefix("\ufeff").replace("\r\n", "\n"))


def test_a_remark_at_the_end_of_a_line_stays(folder):
    text = PAGE.replace('length = "0.4 m" }', 'length = "0.4 m" } # measured twice')
    (folder / "page.toml").write_text(text)
    set_key(folder, read_dossier(folder), "cable H1", "length", "0.5 m")
    assert 'length = "0.5 m" } # measured twice' in page(folder)


def test_text_typed_in_a_things_place_may_be_wrong_and_is_kept(folder):
    reading = read_dossier(folder)
    replace_thing(folder, reading, "cable H1", 'H1 = { from = "fuse-box.1, to = "horn-switch.1" }')
    after = read_dossier(folder)
    assert [f.rule for f in after.findings] == ["unreadable-text"]
    # and it can be mended the same way, although the file is broken
    replace_thing(folder, after, "cable H1", 'H1 = { from = "fuse-box.1", to = "horn-switch.1" }')
    assert read_dossier(folder).findings == ()


def test_another_thing_of_a_broken_file_can_be_edited(folder):
    (folder / "page.toml").write_text(PAGE.replace('to = "horn.1"', 'to = horn.1"'))
    reading = read_dossier(folder)
    set_key(folder, reading, "cable H1", "length", "0.5 m")
    assert 'to = horn.1"' in page(folder)
    assert 'length = "0.5 m"' in page(folder)


def test_a_stale_edit_is_refused_without_loss(folder):
    reading = read_dossier(folder)
    seen = text_of(folder, reading, "cable H1")
    changed = PAGE.replace('length = "0.4 m"', 'length = "0.9 m"')
    (folder / "page.toml").write_text(changed)
    with pytest.raises(RefusedEdit, match="changed meanwhile"):
        set_key(folder, reading, "cable H1", "length", "0.5 m", expected=seen)
    assert page(folder) == changed
    # another line was changed meanwhile: this edit is none the worse, and the other is kept
    set_key(folder, reading, "cable H2", "note", "new", expected=text_of(folder, reading, "cable H2"))
    assert 'length = "0.9 m"' in page(folder)


def test_an_edit_finds_its_thing_where_lines_were_put_in_above(folder):
    reading = read_dossier(folder)
    (folder / "page.toml").write_text("# put in\n# above\n" + PAGE)
    set_key(folder, reading, "cable H1", "length", "0.5 m", expected=text_of(folder, reading, "cable H1"))
    assert page(folder) == "# put in\n# above\n" + PAGE.replace('length = "0.4 m"', 'length = "0.5 m"')


@pytest.mark.parametrize(
    "edit",
    [
        ("set", "cable H9", "length", "1 m"),
        ("remove-key", "cable H1", "colour"),
        ("remove", "item nothing"),
        ("add", "cable", "H1", {"from": "a.1", "to": "b.1"}, "horn"),
    ],
)
def test_what_cannot_be_done_is_refused_and_says_why(folder, edit):
    with pytest.raises(RefusedEdit, match="nothing was changed"):
        done(folder, read_dossier(folder), edit)
    assert page(folder) == PAGE


def test_a_thing_that_is_gone_is_refused(folder):
    reading = read_dossier(folder)
    remove_thing(folder, reading, "cable H2")
    with pytest.raises(RefusedEdit, match="no longer"):
        set_key(folder, reading, "cable H2", "length", "1 m")


@pytest.mark.parametrize(
    "file", ["../outside.toml", "/outside.toml", "a/../../b.toml", "notes.txt", "linked.toml"]
)
def test_nothing_outside_the_folder_is_written(folder, file, tmp_path_factory):
    outside = tmp_path_factory.mktemp("outside") / "x.toml"
    outside.write_text("")
    (folder / "linked.toml").symlink_to(outside)
    with pytest.raises(RefusedEdit):
        add_thing(folder, read_dossier(folder), "item", "bell", {"kind": "bell"}, file=file)
    assert outside.read_text() == ""


def test_saving_keeps_the_mode_and_leaves_nothing_beside(folder):
    (folder / "page.toml").chmod(0o640)
    set_key(folder, read_dossier(folder), "cable H1", "length", "0.5 m")
    assert stat.S_IMODE((folder / "page.toml").stat().st_mode) == 0o640
    assert [p.name for p in folder.iterdir()] == ["page.toml"]


def test_a_fall_of_the_current_while_saving_leaves_the_old_text(folder, monkeypatch):
    def fails(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(editing.os, "fsync", fails)
    with pytest.raises(RefusedEdit, match="the disk is full"):
        set_key(folder, read_dossier(folder), "cable H1", "length", "0.5 m")
    assert page(folder) == PAGE
    assert [p.name for p in folder.iterdir()] == ["page.toml"]


def test_a_read_only_file_is_refused_and_says_so(folder):
    (folder / "page.toml").chmod(0o440)
    with pytest.raises(RefusedEdit, match="read-only"):
        set_key(folder, read_dossier(folder), "cable H1", "length", "0.5 m")
    assert page(folder) == PAGE


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_read_only_folder_is_refused_and_says_so(folder):
    folder.chmod(0o550)
    try:
        with pytest.raises(RefusedEdit, match="read-only"):
            set_key(folder, read_dossier(folder), "cable H1", "length", "0.5 m")
    finally:
        folder.chmod(0o750)
    assert page(folder) == PAGE


def test_a_file_changed_between_looking_and_saving_is_refused(folder):
    with pytest.raises(RefusedEdit, match="somebody else"):
        save_text(folder / "page.toml", "new", expected=PAGE + "more")
    with pytest.raises(RefusedEdit, match="somebody else"):
        save_text(folder / "page.toml", "new", expected="")
    assert page(folder) == PAGE
    save_text(folder / "other.toml", "x = 1\r\n", expected="")
    assert (folder / "other.toml").read_bytes() == b"x = 1\r\n"
