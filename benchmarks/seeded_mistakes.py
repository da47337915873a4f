"""Mistakes sown into the examples by a fixed seed: how many are found, how many at their line, what follows.

    python benchmarks/seeded_mistakes.py [--seed 14] [--show missed|off|follow|all] [EXAMPLE ...]

Each operator is tried on ten lines of each example. A mistake that leaves the same record is not counted:
a comment, an id that nothing names, the words of a quotation, and the two ends of a cable where nothing asks
for its direction. It is *found* where reading and checking say anything that they did not say before, *at the
line* where one of the new findings names the changed line (or, for a bracket alone on its line, the line
before), and every new finding beyond the first is a *follow-on*.

Below the total stands what no reading of the text can be sure to find: the far ends of two neighbouring
cables crossed. The proof of statements is there for that.
"""

from __future__ import annotations

import argparse
import dataclasses
import random
import re
import sys
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from pathlib import Path
from typing import Any

from loomlore.catalogue.shipped import shipped_kinds
from loomlore.evidence.disagreements import weigh
from loomlore.findings import Finding, Place
from loomlore.quantities import UNITS
from loomlore.record.folder import texts_below
from loomlore.record.kinds import known_kinds
from loomlore.record.model import Cable
from loomlore.record.reading import Reading, read_texts
from loomlore.record.rules import check_record
from loomlore.sentences import KEYWORDS

EXAMPLES = Path(__file__).parents[1] / "examples"
LINES = 10
SEED = 14

Texts = Mapping[str, str]
TOKEN = re.compile(r'"(?:\\.|[^"\\])*"|\'[^\']*\'|[\[\]{}=,]|[^\s\[\]{}=,"\'#]+')
HEADING = re.compile(r"\s*\[\[?[A-Za-z]")
LISTING = re.compile(
    r"\[(item|condition|control|place|earth|loom|sheath|source|scan|fit|choice|standard|phase|decision)\]|\[way\.[^.]*\]|\[service\.[^.]*\.cables\]"
)
ROW = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*\s*=\s*\{.*\}\s*$")
ENDS = re.compile(r'(from|to) = "([^"]*)"')
PROSE = re.compile(
    r"\b(words|text|note|title|account|because|dissent|describes|held|pages|rights|credit|meter|by|name|also|cover|colour|zone|station)"
    r'(\s*=\s*)("[^"]*"|\[[^\]]*\])'
)
AMOUNT = re.compile(r'(?<=[0-9] )([^\s",}\]]+)(?=["\s,])')
ID = re.compile(
    r"(?<![\w.-])[a-z][a-z0-9]*(?:-[a-z0-9]+)+(?![\w-])"
    r"|(?<=\")[a-z][a-z-]{3,}(?=[.\"])|^[a-z][a-z-]{3,}(?= *=)"
)
SENTENCE = re.compile(r'"[^"]*"')


@dataclasses.dataclass(frozen=True)
class Mistake:
    """A text with one thing wrong: which file, at which lines, what was done."""

    operator: str
    file: str
    lines: frozenset[int]
    done: str
    text: str


def lines_of(text: str) -> list[tuple[int, str]]:
    """Lines that say something, with their index, long texts left out."""
    bare = [
        (i, line)
        for i, line in enumerate(text.split("\n"))
        if line.strip() and not line.lstrip().startswith("#")
    ]
    return [] if '"""' in text else bare


def code(line: str) -> list[re.Match[str]]:
    """The tokens of a line before its comment."""
    found = []
    for match in re.finditer(TOKEN.pattern + r"|#.*", line):
        if match.group().startswith("#"):
            break
        found.append(match)
    return found


def with_line(text: str, index: int, new: str) -> str:
    lines = text.split("\n")
    lines[index] = new
    return "\n".join(lines)


Sow = Callable[[str, random.Random], Iterator[tuple[frozenset[int], str, str]]]


def each_line(change: Callable[[str, random.Random], tuple[str, str] | None]) -> Sow:
    """Sow by changing single lines, in an order drawn by the seed."""

    def sow(text: str, dice: random.Random) -> Iterator[tuple[frozenset[int], str, str]]:
        order = lines_of(text)
        dice.shuffle(order)
        for index, line in order:
            changed = change(line, dice)
            if changed is not None:
                alone = {index} if not changed[0].strip() else set()
                yield frozenset({index + 1} | alone), changed[1], with_line(text, index, changed[0])

    return sow


def without_prose(line: str) -> str:
    """The line with comments and what is never read as a value blanked, each character in its place."""
    bare = PROSE.sub(lambda m: m[1] + m[2] + "_" * len(m[3]), line)
    at = bare.find(" #")
    return bare if at < 0 else bare[:at]


def cut(line: str, start: int, end: int, put: str = "") -> str:
    return line[:start] + put + line[end:]


def delete_token(line: str, dice: random.Random) -> tuple[str, str] | None:
    token = dice.choice(code(line))
    return cut(line, *token.span()), f"deleted {token.group()}"


def double_token(line: str, dice: random.Random) -> tuple[str, str] | None:
    token = dice.choice(code(line))
    return cut(line, token.end(), token.end(), " " + token.group()), f"doubled {token.group()}"


def drop(sign: str) -> Callable[[str, random.Random], tuple[str, str] | None]:
    def change(line: str, dice: random.Random) -> tuple[str, str] | None:
        spots = []
        for token in code(line):
            if sign == '"' and token.group().startswith('"'):
                spots += [token.start(), token.end() - 1]
            elif token.group() in sign and sign != '"':
                spots.append(token.start())
        if not spots:
            return None
        spot = dice.choice(spots)
        return cut(line, spot, spot + 1), f"dropped {line[spot]} at column {spot + 1}"

    return change


def swap_ends(line: str, dice: random.Random) -> tuple[str, str] | None:  # noqa: ARG001
    ends = dict(ENDS.findall(line))
    if len(ends) != 2:
        return None
    turned = line.replace(f'from = "{ends["from"]}"', f'from = "{ends["to"]}"')
    turned = re.sub(r'\bto = "[^"]*"', f'to = "{ends["from"]}"', turned)
    return turned, "swapped from and to"


def change_unit(line: str, dice: random.Random) -> tuple[str, str] | None:
    spots = [m for m in AMOUNT.finditer(without_prose(line)) if m.group() in UNITS]
    if not spots:
        return None
    spot = dice.choice(spots)
    unit = dice.choice([u for u in UNITS if UNITS[u] != UNITS[spot.group()]])
    return cut(line, *spot.span(), unit), f"{spot.group()} became {unit}"


def near_miss(line: str, dice: random.Random, named: frozenset[str] = frozenset()) -> tuple[str, str] | None:
    spots = [m for m in ID.finditer(without_prose(line)) if m.group() in named and m.group() not in KEYWORDS]
    if not spots:
        return None
    spot = dice.choice(spots)
    word = spot.group()
    at = dice.randrange(1, len(word) - 1)
    wrong = dice.choice(
        [
            word[:at] + word[at + 1 :],
            word[:at] + word[at] + word[at:],
            word[: at - 1] + word[at] + word[at - 1] + word[at + 1 :],
        ]
    )
    wrong = wrong.strip("-").replace("--", "-")
    if wrong == word:
        return None
    return cut(line, *spot.span(), wrong), f"{word} became {wrong}"


def mix(line: str, dice: random.Random) -> tuple[str, str] | None:
    spots = []
    for sentence in SENTENCE.finditer(without_prose(line)):
        if "(" in sentence.group():
            continue  # a bracket may keep the two apart
        words = list(re.finditer(r" (and|or) (?=[a-z(])", sentence.group()))
        # one that is left must stand beside the one that is changed; prose is no sentence
        if (
            len(words) > 1
            and re.search(r" is |[<>]", sentence.group())
            and not re.search(r"[.,;!?A-Z]", sentence.group()[1:-1])
        ):
            spots += [(sentence.start() + m.start(1), m.group(1)) for m in words]
    if not spots:
        return None
    at, word = dice.choice(spots)
    other = "or" if word == "and" else "and"
    return cut(line, at, at + len(word), other), f"{word} became {other}"


def near_misses(texts: Texts) -> Sow:
    """Only names that stand somewhere else too: another spelling of one that nothing names is no mistake."""
    words: dict[str, int] = defaultdict(int)
    for text in texts.values():
        for line in text.split("\n"):
            for match in ID.finditer(without_prose(line)):
                words[match.group()] += 1
    named = frozenset(word for word, times in words.items() if times > 1)
    return each_line(lambda line, dice: near_miss(line, dice, named))


def copy_row(text: str, dice: random.Random) -> Iterator[tuple[frozenset[int], str, str]]:
    rows = [(i, line) for i, line in lines_of(text) if ROW.match(line)]
    dice.shuffle(rows)
    for index, line in rows:
        lines = text.split("\n")
        lines.insert(index + 1, line)
        yield frozenset({index + 1, index + 2}), "copied the row", "\n".join(lines)


def cross_rows(text: str, dice: random.Random) -> Iterator[tuple[frozenset[int], str, str]]:
    """The far ends of two cables that stand one below the other, crossed."""
    rows = [(i, line) for i, line in lines_of(text) if ROW.match(line) and len(ENDS.findall(line)) == 2]
    pairs = [(a, b) for a, b in pairwise(rows) if b[0] == a[0] + 1]
    dice.shuffle(pairs)
    for (one, first), (two, second) in pairs:
        to_first, to_second = (dict(ENDS.findall(line))["to"] for line in (first, second))
        lines = text.split("\n")
        lines[one] = first.replace(f'to = "{to_first}"', f'to = "{to_second}"')
        lines[two] = second.replace(f'to = "{to_second}"', f'to = "{to_first}"')
        yield frozenset({one + 1, two + 1}), "crossed the far ends with the next row", "\n".join(lines)


def move_line(text: str, dice: random.Random) -> Iterator[tuple[frozenset[int], str, str]]:
    """A row out of its table to the end of another that keeps rows."""
    lines = text.split("\n")
    heads = [i for i, line in enumerate(lines) if HEADING.match(line)]
    spans = [
        (a, b)
        for a, b in zip(heads, [*heads[1:], len(lines)], strict=True)
        if any(ROW.match(line) for line in lines[a:b]) and LISTING.match(lines[a])
    ]
    rows = [(i, span) for span in spans for i in range(*span) if ROW.match(lines[i])]
    dice.shuffle(rows)
    for index, span in rows:
        others = [s for s in spans if lines[s[0]].strip() != lines[span[0]].strip()]
        if not others:
            return
        target = dice.choice(others)
        after = max(i for i in range(*target) if ROW.match(lines[i]))
        moved = lines[:index] + lines[index + 1 :]
        to = after + 1 if after < index else after
        moved.insert(to, lines[index])
        yield frozenset({to + 1}), f"moved to {lines[target[0]].strip()}", "\n".join(moved)


BEYOND = "cross the far ends of two rows"
OPERATORS: Mapping[str, Sow] = {
    "delete a token": each_line(delete_token),
    "double a token": each_line(double_token),
    "swap the ends of a row": each_line(swap_ends),
    "change a unit": each_line(change_unit),
    "near-miss an id": each_line(near_miss),  # replaced by near_misses(texts)
    "move a line": move_line,
    "drop a quote": each_line(drop('"')),
    "drop a comma": each_line(drop(",")),
    "drop a brace or bracket": each_line(drop("{}[]")),
    "copy a row": copy_row,
    "mix and with or": each_line(mix),
    BEYOND: cross_rows,
}


def sown(texts: Texts, operator: str, dice: random.Random) -> Iterator[Mistake]:
    """Mistakes of one operator over all files, file by file in turn."""
    sow = near_misses(texts) if operator == "near-miss an id" else OPERATORS[operator]
    streams = [(file, sow(text, dice)) for file, text in texts.items()]
    while streams:
        for file, stream in list(streams):
            found = next(stream, None)
            if found is None:
                streams.remove((file, stream))
            else:
                lines, done, text = found
                yield Mistake(operator, file, lines, done, text)


def without_places(thing: Any) -> Any:
    """A record with every place blank, to tell whether two say the same."""
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        if isinstance(thing, Place):
            return None
        if isinstance(thing, Cable):
            thing = dataclasses.replace(
                thing, from_=min(thing.from_, thing.to), to=max(thing.from_, thing.to)
            )
        return (
            type(thing).__name__,
            *(without_places(getattr(thing, f.name)) for f in dataclasses.fields(thing)),
        )
    if isinstance(thing, Mapping):
        return {key: without_places(value) for key, value in thing.items()}
    if isinstance(thing, list | tuple):
        return [without_places(value) for value in thing]
    return thing


def same_record(one: Reading, other: Reading) -> bool:
    return bool(without_places(one.dossier) == without_places(other.dossier))


def findings(reading: Reading, shipped: Any) -> list[Finding]:
    """All that `check` says: the text, the connections and names, the sources against one another."""
    kinds, _ = known_kinds(reading.dossier, shipped)
    weighed = weigh(reading.dossier, kinds, place_of=reading.place_of)
    return [*reading.findings, *check_record(reading, shipped), *weighed.findings]


def told(finding: Finding) -> tuple[str, str, str]:
    """What makes a finding the same as one before, wherever the lines have gone."""
    return finding.rule, finding.subject, re.sub(r":\d+(:\d+)?", "", finding.message)


@dataclasses.dataclass
class Score:
    sown: int = 0
    found: int = 0
    at_line: int = 0
    follow_on: int = 0


def judged(example: Path, seed: int, show: str, scores: dict[str, Score]) -> None:
    texts, _ = texts_below(example)
    kinds = shipped_kinds()
    plain = read_texts(texts)
    before = {told(f) for f in findings(plain, kinds)}
    for operator in OPERATORS:
        dice = random.Random(f"{seed} {example.name} {operator}")
        counted = 0
        for mistake in sown(texts, operator, dice):
            if counted == LINES:
                break
            reading = read_texts({**texts, mistake.file: mistake.text})
            new = [f for f in findings(reading, kinds) if told(f) not in before]
            if not new and same_record(plain, reading):
                continue
            counted += 1
            _score(mistake, new, scores[operator], show, example.name)


def _score(mistake: Mistake, new: list[Finding], score: Score, show: str, example: str) -> None:
    score.sown += 1
    score.found += bool(new)
    here = any(
        place.file == mistake.file and place.line in mistake.lines
        for f in new
        for place in (f.place, *f.also_at)
    )
    score.at_line += here
    score.follow_on += max(len(new) - 1, 0)
    wanted = {"missed": not new, "off": bool(new) and not here, "follow": len(new) > 1, "all": True}.get(
        show, False
    )
    if wanted:
        where = f"{example}/{mistake.file}:{max(mistake.lines)}"
        print(f"\n{mistake.operator}: {where}: {mistake.done}")
        print("   | " + mistake.text.split("\n")[max(mistake.lines) - 1])
        for finding in new:
            print(f"   {finding}")


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--show", default="", choices=["", "missed", "off", "follow", "all"])
    parser.add_argument("example", nargs="*", default=[])
    asked = parser.parse_args()
    names = asked.example or sorted(p.name for p in EXAMPLES.iterdir() if p.is_dir())
    scores: dict[str, Score] = defaultdict(Score)
    for name in names:
        judged(EXAMPLES / name, asked.seed, asked.show, scores)
    print(f"{'operator':28}{'sown':>6}{'found':>7}{'at line':>9}{'follow-on each':>16}")
    whole = Score()
    for operator, score in scores.items():
        if operator == BEYOND:
            continue
        _row(operator, score)
        for field in dataclasses.fields(Score):
            setattr(whole, field.name, getattr(whole, field.name) + getattr(score, field.name))
    _row("all", whole)
    _row(BEYOND, scores[BEYOND])
    return 0


def _row(name: str, score: Score) -> None:
    sown_ = max(score.sown, 1)
    print(
        f"{name:28}{score.sown:6}{100 * score.found / sown_:6.0f}%{100 * score.at_line / sown_:8.0f}%"
        f"{score.follow_on / sown_:16.2f}"
    )


if __name__ == "__main__":
    sys.exit(main())
