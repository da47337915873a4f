"""What is wrong with names, files and figures given to faults, locate and cards: one clear word, and what to do."""

import json
import re
from pathlib import Path
from shutil import copytree

import pytest
from click.testing import CliRunner

from loomlore.cli.finding import COMMANDS

EXAMPLES = Path(__file__).parents[3] / "examples"
TUG = str(EXAMPLES / "glider-tug")
COMMAND = {command.name: command for command in COMMANDS}


def ran(name, *arguments):
    """The command's exit code and all that it said; a traceback fails at once."""
    result = CliRunner().invoke(COMMAND[name], [str(one) for one in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.output


def refused(name, *arguments):
    """What a wrong use is told."""
    code, said = ran(name, *arguments)
    assert code == 2, said
    return re.sub(r"\s+", " ", said.partition("Error: ")[2]).strip()


@pytest.fixture
def tug(tmp_path):
    """A copy that may be written to."""
    return copytree(TUG, tmp_path / "tug")


@pytest.fixture
def begun(tmp_path):
    """A hunt that has been begun."""
    path = tmp_path / "hunt.toml"
    assert ran("locate", TUG, "--seen", "tail-lamp=out", "--hunt", path)[0] == 0
    return path


@pytest.mark.parametrize(
    ("name", "given", "what", "remedy"),
    [
        (
            "faults",
            ["--service", "nonsense"],
            "no service is called 'nonsense'",
            "Write one of: supply, charging",
        ),
        ("faults", ["--part", "nonsense"], "'nonsense'", "effects, sneaks, hazards"),
        ("faults", ["--standard", "nonsense"], "no standard of fit", "lamp-tug, telephone-tug"),
        ("faults", ["--severity", "navigation=V"], "no severity class", "did you mean 'IV'?"),
        (
            "faults",
            ["--service", "navigation", "--pairs", "--situation", "noon"],
            "no situation",
            "rest, ready",
        ),
        (
            "faults",
            ["--service", "navigation", "--pairs", "--scheduler", "noon"],
            "'noon' is no address",
            "tcp://",
        ),
        (
            "locate",
            ["--seen", "nothing=out"],
            "no thing that can be seen is called 'nothing'",
            "Write one of: ",
        ),
        ("locate", ["--seen", "tail-lamp=purple"], "cannot be 'purple' here.", "Write one of: lit"),
        ("locate", ["--seen", "tail-lamp"], "says nothing of what was seen.", "Write NAME=WORD"),
        ("locate", ["--service", "nonsense", "--chart"], "no service", "Write one of: "),
        ("locate", ["--found", "lit"], "nothing has been reported yet.", "Begin with --seen NAME=WORD"),
        ("locate", ["--seen", "tail-lamp=out", "--way-in", "nowhere=3"], "no place", "Write one of: engine"),
        ("locate", ["--seen", "tail-lamp=out", "--way-in", "panel=-3"], "-3 is no time", "Write minutes"),
        ("locate", ["--seen", "tail-lamp=out", "--found", "x=lit"], "no check of this hunt", "outcome alone"),
        (
            "locate",
            ["--service", "signals", "--out", "x.doc"],
            "is not written as 'doc'",
            ".html, .svg or .pdf",
        ),
        ("cards", ["nonsense"], "no card is called 'nonsense'", "Write one of: continuity"),
        ("cards", ["--limit", "5 V"], "is volts, where amperes", "Write it like '5 A'"),
        ("cards", ["first-power", "--limit", "0 A"], "is no limit.", "such as 5 A"),
        ("cards", ["--lamp", "24 60"], "'24 60' is no lamp.", "24 V 60 W"),
    ],
)
def test_a_wrong_name_or_unit_is_told_with_what_to_write(name, given, what, remedy):
    said = refused(name, TUG, *given)
    assert what in said
    assert remedy in said


@pytest.mark.parametrize(
    ("text", "what", "remedy"),
    [
        (b"", "there is no [hunt] in this text.", "Begin it with [hunt]."),
        (b"\x00\xff\xfe", "is no text.", "Name the hunt's own .toml file."),
        (b'[hunt]\nseen = ["tail-la', "cannot be read: ", "Mend the line, or begin the hunt again"),
        (b'[hunt]\nservices = "navigation"\n', "services is no list", 'Write services = ["...", "..."].'),
        (b'[hunt]\nnoise = "x"\n', "noise = x is no figure", "Write a number from 0 to 0.4."),
        (b"[hunt]\nsetting = 3\n", "setting holds no names", "Write [hunt.setting]"),
        (b'answer = 3\n[hunt]\nseen = ["tail-lamp=out"]\n', "answer is no list", "Write [[answer]]"),
        (b"[hunt]\n[[answer]]\ncheck = 'x'\n", "nothing found", 'Write check = "..."'),
        (b"[hunt]\n[[answer]]\ncheck = 'x'\nvolts = nan\n", "volts = nan is no figure", "volts = 24.1"),
        (
            b'[hunt]\nseen = ["tail-lamp=out"]\n[[answer]]\ncheck = "volts:noon:gone.1"\nvolts = 3\n',
            "a check that this record does not give.",
            "Take it back with --correct 1=",
        ),
    ],
)
def test_a_torn_hunt_is_told_with_what_to_do(tmp_path, text, what, remedy):
    path = tmp_path / "torn.toml"
    path.write_bytes(text)
    said = refused("locate", TUG, "--hunt", path)
    assert what in said
    assert remedy in said
    assert path.read_bytes() == text, "a file that could not be read must not be written over"


def test_a_hunt_of_another_record_is_refused(begun):
    assert "no thing that can be seen" in refused("locate", EXAMPLES / "harbour-launch", "--hunt", begun)


def test_an_answer_of_another_kind_is_refused_and_not_kept(begun):
    before = begun.read_text(encoding="utf-8")
    for wrong in ("nan", "24", "24 purple", "3 ohm", ""):
        assert "Write" in refused("locate", TUG, "--hunt", begun, "--found", wrong), wrong
    assert begun.read_text(encoding="utf-8") == before
    assert "There is none yet" in refused("locate", TUG, "--hunt", begun, "--correct", "9=lit")


def test_what_was_worked_out_may_be_torn(begun):
    begun.with_suffix(".worked.json").write_text('{"torn', encoding="utf-8")
    assert ran("locate", TUG, "--hunt", begun)[0] == 0


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("locate", ["--seen", "tail-lamp=out", "--hunt"]),
        ("locate", ["--service", "signals", "--out"]),
        ("cards", ["continuity", "--sheet"]),
    ],
)
def test_a_file_that_cannot_be_written_is_wrong_use(tmp_path, name, given):
    said = refused(name, TUG, *given, tmp_path / "none" / "x.svg")
    assert "cannot be written" in said
    assert said.endswith((".", "FILE."))


@pytest.mark.parametrize(
    ("text", "what", "remedy"),
    [
        (b"", "the sheet is empty.", "Print one with --sheet FILE"),
        (b"\x00\xff\xfe", "is no plain text.", "Save it from the spreadsheet as CSV (UTF-8)."),
        (b"id,as_found\n", "no column 'as_left'.", "Print it again with --sheet FILE"),
        (b'[[row]]\nid = "x"\nas_found = \n', "cannot be read", "Mend the line."),
        (b'[[row]]\nas_found = "3 V"\n', "a row of the sheet has no id.", 'Write id = "..."'),
        (
            b"id,as_found,as_left\ncontinuity:S1,0.2 ohm,\ncontinuity:S1,0.9 ohm,\n",
            "stands twice on the sheet.",
            "Strike one of them.",
        ),
    ],
)
@pytest.mark.parametrize("option", ["--found", "--enter"])
def test_a_sheet_of_nonsense_is_told(tug, tmp_path, text, what, remedy, option):
    sheet = tmp_path / "sheet.csv"
    sheet.write_bytes(text)
    said = refused("cards", tug, option, sheet)
    assert what in said
    assert remedy in said
    assert not (tug / "measured-on-cards.toml").exists()


def test_nonsense_in_a_filled_in_card_stays_on_the_sheet(tug, tmp_path):
    wrong = ["purple", "24 V", "5", "-3 ohm", "1e400 ohm", "nan ohm", "0,3 ohm", "3 ohm 4", "∞"]
    lines = ["id,as_found,as_left,date", "continuity:S1,0.21 ohm,,", "continuity:G5,0.2 ohm,,31.2.2024"]
    marks = ["S2", "S3", "S4", "S5", "S6", "G1", "G2", "G3", "G4"]
    lines += [f'continuity:{mark},"{text}",,' for mark, text in zip(marks, wrong, strict=True)]
    lines += ["nonsense:1,3 ohm,,", "functions:supply:1:1,3 ohm,,", "drops:S1"]
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("\n".join(lines), encoding="utf-8")
    code, said = ran("cards", tug, "--enter", sheet, "--json")
    answer = json.loads(said)
    assert code == 1
    assert [one["line"] for one in answer["entered"]] == ["continuity:S1"]
    assert len(answer["findings"]) == len(wrong) + 3
    for one in answer["findings"]:
        assert one["hint"].endswith((".", "?")), one
    text = (tug / "measured-on-cards.toml").read_text(encoding="utf-8")
    assert text.count("[[measurement]]") + text.count("[measurement.") == 1


def test_a_sheet_parted_by_semicolons_and_marked_as_utf8_is_read(tug, tmp_path):
    """Common practice of spreadsheets where the decimal sign is a comma; no source."""
    sheet = tmp_path / "sheet.csv"
    sheet.write_bytes("\ufeffid;as_found;as_left\ncontinuity:S1;0.21 ohm;\n".encode())
    assert ran("cards", tug, "--enter", sheet)[0] == 0
    assert "0.21 ohm" in (tug / "measured-on-cards.toml").read_text(encoding="utf-8")


def test_pairs_kept_in_a_file_of_something_else_are_refused(tmp_path):
    path = tmp_path / "kept"
    path.write_bytes(b"\x00\xff\xfe")
    given = ["--service", "hook", "--part", "hazards", "--pairs", "--most", "3", "--so-far", path]
    assert "Name a new --so-far FILE." in refused("faults", TUG, *given)


@pytest.mark.parametrize("name", ["faults", "locate", "cards"])
def test_a_folder_without_a_record_is_refused(tmp_path, name):
    assert "Write [dossier]" in refused(name, tmp_path)


def test_a_record_with_errors_is_said_to_have_them_and_goes_on(tug):
    with (tug / "tug.toml").open("a", encoding="utf-8") as file:
        file.write("[[[\n")
    code, said = ran("cards", tug, "continuity", "--service", "signals")
    assert code == 0
    assert "The record has an error" in said
    assert "loomlore check" in said


def test_printed_cards_number_their_warnings():
    code, page = ran("cards", TUG, "continuity", "--html")
    assert code == 0
    cautions = page.partition("<h2>Mind</h2>")[2].partition("</ol>")[0].count("<li>")
    marks = {int(n) for said in re.findall(r"<b>mind ([\d, ]+)</b>", page) for n in said.split(", ")}
    assert marks == set(range(1, cautions + 1))
    assert page.count("<tr>") > 30
    assert refused("cards", TUG, "--html", "--json") == "Ask for one of --html and --json."


def test_every_line_of_the_drop_card_says_how_to_set_its_load():
    from loomlore.answers.cards import cards

    (card,) = cards(TUG, ["drops"]).cards
    said = {re.match(r"Set ([A-Z]): .+\.$", line).group(1) for line in card.first if line.startswith("Set ")}
    asked = [re.search(r"set as ([A-Z])$", row.expect).group(1) for row in card.rows]
    assert set(asked) == said
    assert asked == sorted(asked), "each setting is made once"
    hook = next(row for row in card.rows if row.id == "drops:cable:H1")
    letter = hook.expect[-1]
    assert "press the release push" in next(line for line in card.first if line.startswith(f"Set {letter}:"))
