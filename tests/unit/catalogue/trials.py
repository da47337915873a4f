"""Trials of the shipped kinds: a few items wired to a battery, operated step by step, and what must be seen.

A trial is written as three short texts, and made into a dossier and a procedure as a user would type them:

* items: lines of an ``[item]`` table (headings may follow: conditions, scales, kinds of the trial's own);
* wiring: ``box.1 > push.1; push.2 > lamp.1``, one cable a pair, ``~`` a coaxial one that is recorded only;
* steps: ``what is done | what must be seen``, such as ``push pressed, hold push | lamp is lit``. What is done
  may be ``wait 8 s``; seen is a sentence of the dossier's own language, judged before springs go back.

Every bench has a battery, a ``master`` switch and a fuse ``box`` of six ways. At rest everything is at its
start. What must be seen is common practice, no source, unless the trial's ``source`` says otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from loomlore.behaviour.operating import play
from loomlore.behaviour.readings import event_words, readings
from loomlore.catalogue.shipped import shipped_kinds
from loomlore.findings import Severity
from loomlore.network.building import Plant, build_plant
from loomlore.record.installation import join
from loomlore.record.kinds import Kind, known_kinds
from loomlore.record.reading import Reading, read_texts
from loomlore.record.rules.checking import check_record

__all__ = ["SOURCE", "Trial", "disagreements", "kinds_in", "plant_of_trial", "trial_findings"]

HEAD = """
[dossier]
format = 1
title = "A bench of the tests (invented)"
supply = "{supply}"
{header}
[item]
battery = {{ kind = "battery", rating = "{supply} 40 Ah" }}
master = {{ kind = "switch" }}
box = {{ kind = "fuse-box", ways = 6 }}
{items}
[service.supply]
title = "Supply"
[service.supply.cables]
S1 = {{ from = "battery.-", to = "{negative}", size = "10 mm2", length = "0.2 m" }}
S2 = {{ from = "battery.+", to = "master.1", size = "10 mm2", length = "0.2 m" }}
S3 = {{ from = "master.2", to = "box.bus", size = "10 mm2", length = "0.2 m" }}
[way.box]
{ways}
[service.trial]
title = "Trial"
{feed}
[service.trial.cables]
{cables}
[procedure.trial]
steps = [
{steps}
]
"""

SOURCE = """
[kind.test-source]
title = "A supply of few milliohms, set to any volts up to forty"
terminals = { bottom = ["+", "-"] }
follows = { level = "" }
element.cells.law = "generator"
element.cells.ends = ["+", "-"]
element.cells.resistance = "1 mohm"
element.cells.residual = "40 V"
element.cells.speed = "level"
element.cells.cuts-in = 40
element.cells.full-at = 40
[control]
volts-set = { range = [0, 40] }
[item.source]
kind = "test-source"
rating = "40 V 1000 A"
binds = { level = "volts-set" }
"""
"""What a trial adds to set its volts: ``volts-set 26.6`` puts 26.6 V on ``source.+``."""

CABLE = '{mark} = {{ from = "{a}", to = "{b}", size = "4 mm2", length = "0.2 m"{coaxial} }}'


@dataclass(frozen=True)
class Trial:
    """One trial; ``kinds`` are those it proves, ``name`` tells several trials of one kind apart.

    ``negative`` is where the battery's negative lies: the airframe, or a terminal in a two-wire trial.
    ``events`` are what must happen on the way (blown, fired, chatters, overload), and nothing else may.
    """

    kinds: str
    items: str
    wiring: str
    steps: str
    name: str = ""
    supply: str = "24 V"
    negative: str = "earth"
    fuse: str = "30 A"
    events: str = ""
    source: str = "common practice, no source"

    @property
    def id(self) -> str:
        return "-".join([*self.kinds.split()[:3], *self.name.split()])

    def text(self) -> str:
        """The whole dossier."""
        wires = filter(None, (wire.strip() for wire in re.split(r"[;\n]", self.wiring)))
        pairs = [re.split(r"\s*([>~])\s*", wire) for wire in wires]
        used = sorted({end[4:] for a, _, b in pairs for end in (a, b) if re.fullmatch(r"box\.\d", end)})
        kept = {n: f'fuse = "{self.fuse}"' if n in used else "spare = true" for n in "123456"}
        ways = [f"{n} = {{ {what} }}" for n, what in kept.items()]
        cables = [
            CABLE.format(mark=f"T{n}", a=a, b=b, coaxial=', type = "coaxial"' if sign == "~" else "")
            for n, (a, sign, b) in enumerate(pairs, start=1)
        ]
        feeds = ", ".join(f'"box.{n}"' for n in used)
        return HEAD.format(
            supply=self.supply,
            header="" if self.negative == "earth" else 'return = "two-wire"\nearthed = "none"',
            items=self.items,
            negative=self.negative,
            ways="\n".join(ways),
            feed=f"feed = [{feeds}]" if feeds else "",
            cables="\n".join(cables),
            steps="\n".join(_step(line) for line in self.steps.splitlines() if line.strip()),
        )

    def reading(self) -> Reading:
        """The dossier as read; each trial is read once."""
        return _read(self)


@cache
def _read(trial: Trial) -> Reading:
    return read_texts({"trial.toml": trial.text()})


def _step(line: str) -> str:
    """A line of the steps as a procedure's: time passes, something is done, it is looked at."""
    done, _, seen = (part.strip() for part in line.partition("|"))
    do, held, waits = [], [], ""
    for act in filter(None, (part.strip() for part in done.split(","))):
        name, _, value = act.partition(" ")
        if name == "wait":
            waits = f'  {{ wait = "{value}" }},\n'
        elif name == "hold":
            held.append(f'"{value}"')
        else:
            do.append(f'"{name}" = ' + (value if re.fullmatch(r"-?\d+(\.\d+)?", value) else f'"{value}"'))
    parts = [f"do = {{ {', '.join(do)} }}"] if do else []
    parts += [f"hold = [{', '.join(held)}]"] if held else []
    parts += [f'see = "{seen}"'] if seen else []
    return waits + (f"  {{ {', '.join(parts)} }}," if parts else "")


def plant_of_trial(trial: Trial, kinds: Mapping[str, Kind] | None = None) -> Plant:
    """The trial's dossier made ready to be operated; a finding of reading or joining fails the test."""
    reading = trial.reading()
    known, slips = known_kinds(reading.dossier, shipped_kinds() if kinds is None else kinds)
    installation, findings = join(reading.dossier, known)
    said = [*reading.findings, *slips, *findings]
    assert not said, "\n".join(map(str, said))
    return build_plant(installation)


def disagreements(trial: Trial, plant: Plant) -> list[str]:
    """What is not seen as the trial says, with everything that stood at that moment."""
    played = play(plant, plant.installation.dossier.procedures["trial"])
    wrong = [str(finding) for finding in played.findings]
    if {event.what for event in played.events} != set(trial.events.split()):
        wrong.append("; ".join(event_words(plant, e) for e in played.events) or "nothing happened on the way")
    for number, step in enumerate(played.steps, start=1):
        if step.step.see is not None and step.seen is not True:
            stood = [
                f"{r.item}.{r.part} {r.state} {r.volts:.3f} V {r.amps:.3f} A {r.shows}"
                for r in readings(plant, step.at)
            ]
            seen = "unknown" if step.unknown else "not so"
            wrong.append(f"step {number}, {step.step.see}: {seen}\n  " + "\n  ".join(stood))
    return wrong


def trial_findings(trial: Trial) -> list[str]:
    """What a user would be told about the trial's record: everything but notes.

    Most trials wire only the part that is tried, and what is left without a feed is told rightly.
    """
    reading = trial.reading()
    found = [*reading.findings, *check_record(reading, shipped_kinds())]
    return [str(f) for f in found if f.severity is not Severity.NOTE and f.rule != "never-fed"]


def kinds_in(trial: Trial) -> set[str]:
    """Kinds of the items that a trial has."""
    return {item.kind for item in trial.reading().dossier.items.values()}
