"""For each matter on which sources differ: what changes electrically with each reading, in words with units.

The record is joined anew with each reading that is not its own, and worked beside the record: what is proved
and what not, what is seen in which setting, what a meter shows, what flows, what drops in the cable, which
fuse protects. Where none of that changes it is said so, with what was looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from loomlore.behaviour.influence import WITHIN_SUPPLY, circuits_that_matter, influence_of
from loomlore.behaviour.proving import Verdict, prove
from loomlore.behaviour.readings import Reading as ItemReading
from loomlore.behaviour.sampling import Tried, fares_alike, tried
from loomlore.behaviour.stating import is_function, presumed, ready, refusal, sentences_of, services_spoken_of
from loomlore.evidence.disagreements import Verdict as Weighed
from loomlore.evidence.disagreements import Weighing
from loomlore.evidence.matters import Matter, agree
from loomlore.network.building import Plant, build_plant
from loomlore.quantities import as_written
from loomlore.record.fitting import fits_of, is_fitted
from loomlore.record.model import Dossier, Statement
from loomlore.record.parts import Kind
from loomlore.record.rules.checking import check_connections
from loomlore.rivals.comparing import Difference, Seen, difference, seen_differently, settings
from loomlore.rivals.measuring import Figure, Side, bolts_off, drops, fuses, machines, protections
from loomlore.rivals.recording import Rival, fits_spoken_of, is_absence, read_as
from loomlore.sentences import words_of

__all__ = ["Change", "Contrast", "Other", "contrasts", "differing_matters"]

MOST_TOLD = 4
"""So many things of one sort are told; of the others their number."""

ProofOf = Callable[[Plant, Statement], Verdict]

_VERDICT_WORDS = {
    "proved-if": "proved if",
    "never-reached": "never reached",
    "not-computable": "not computable",
    "out-of-scope": "out of scope",
}


@dataclass(frozen=True, kw_only=True)
class Change:
    """One thing that a reading changes, with the record's reading and with the other, and both as a sentence.

    ``what`` is verdict, state, mark, amount, drop, fuse, protection, machine, bolt or check.
    """

    what: str
    subject: str
    setting: str
    recorded: str
    otherwise: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Other:
    """Another reading than the record's, and what it changes; ``nothing`` says why where that is nothing."""

    rival: Rival
    changes: tuple[Change, ...] = ()
    nothing: str = ""


@dataclass(frozen=True, kw_only=True)
class Contrast:
    """A matter on which sources differ: the record's reading (``recorded``), the others, and in which fits."""

    about: str
    fit: str
    fits: tuple[str, ...]
    recorded: str
    others: tuple[Other, ...]


def contrasts(
    dossier: Dossier,
    kinds: Mapping[str, Kind],
    weighing: Weighing,
    plant_of: Callable[[frozenset[str]], Plant],
    usual: frozenset[str],
    *,
    proof_of: ProofOf = prove,
    leaving: frozenset[str] = frozenset(),
) -> Iterator[Contrast]:
    """What each disagreement about a property comes to.

    Parameters
    ----------
    dossier
        The whole record.
    kinds
        All kinds.
    weighing
        What the sources say, weighed.
    plant_of
        Gives the network of a combination of fits.
    usual
        The standard of fit that is looked at, where the statements speak of no other.
    proof_of
        Gives what became of a statement with the record's own reading, where that is known already.
    leaving
        Statements that cannot be judged, by id.

    Yields
    ------
    Contrast
        One for each matter whose statements differ, or differ from the record.
    """
    benches: dict[frozenset[str], _Bench] = {}
    for verdict in differing_matters(weighing):
        fits = fits_spoken_of(dossier, verdict.matter, usual)
        if fits not in benches:
            benches[fits] = _Bench(dossier, kinds, plant_of(fits), fits, proof_of, leaving)
        yield _contrast(benches[fits], verdict)


def differing_matters(weighing: Weighing) -> tuple[Weighed, ...]:
    """Matters on which sources differ from one another, or from the record.

    Parameters
    ----------
    weighing
        What the sources say, weighed.

    Returns
    -------
    tuple of Verdict
        In order of the text.
    """
    return tuple(v for v in weighing.verdicts if not v.matter.unanimous or v.kept is False)


@dataclass(frozen=True, eq=False)
class _Bench:
    """What every reading is worked against: the record as it stands in one standard of fit, worked once."""

    dossier: Dossier
    kinds: Mapping[str, Kind]
    plant: Plant
    fits: frozenset[str]
    proof_of: ProofOf
    leaving: frozenset[str]
    samples: dict[str, tuple[Tried, ...]] = field(default_factory=dict)

    @cached_property
    def side(self) -> Side:
        """The record as one of two installations, with what has been studied of it."""
        return Side(self.plant)

    @cached_property
    def checks(self) -> tuple[str, ...]:
        """What the record's own check says of it."""
        return _messages(self.plant)

    def tried(self, statement: Statement) -> tuple[Tried, ...]:
        """A statement tried in the record; nothing where it cannot be judged."""
        if statement.id not in self.samples:
            given = presumed(self.plant, statement)
            refused = refusal(self.plant, statement, given) is not None
            self.samples[statement.id] = () if refused else tried(ready(self.plant, statement, given))
        return self.samples[statement.id]

    def read(self, statement: Statement, *, everywhere: bool = False) -> Rival:
        """The record as a statement has it."""
        like = self.plant.installation
        return read_as(self.dossier, self.kinds, statement, self.fits, like=like, everywhere=everywhere)


def _contrast(bench: _Bench, verdict: Weighed) -> Contrast:
    matter = verdict.matter
    of_itself = "." not in matter.about
    own = [s.says for s in matter.statements if _is_own(matter, s)]
    recorded = matter.recorded.text if matter.recorded is not None else own[0] if own else ""
    others = []
    for value, statement in _other_values(matter):
        rivals = [bench.read(statement)]
        everywhere = bench.read(statement, everywhere=True) if not of_itself else rivals[0]
        rivals += [everywhere] if len(everywhere.marks) > 1 else []
        givers = tuple(s.id for s in matter.statements if s.says == value)
        others += [_other(bench, replace(rival, statements=givers), recorded) for rival in rivals]
    return Contrast(
        about=matter.about,
        fit=matter.fit,
        fits=tuple(sorted(bench.fits)),
        recorded=recorded,
        others=tuple(others),
    )


def _is_own(matter: Matter, statement: Statement) -> bool:
    """Whether a statement gives what the record has: its value, or, of a thing itself, that it is there."""
    if matter.recorded is not None:
        return agree(matter.recorded.value, matter.values[statement.id])
    return not matter.comparable and "." not in matter.about and not is_absence(statement.says)


def _other_values(matter: Matter) -> Iterator[tuple[str, Statement]]:
    """The values that the record has not, each with the first statement that gives it."""
    said: list[Statement] = []
    for statement in matter.statements:
        if _is_own(matter, statement) or any(matter.agree(statement, other) for other in said):
            continue
        said.append(statement)
        yield statement.says, statement


def _other(bench: _Bench, rival: Rival, recorded: str) -> Other:
    """Work one reading beside the record."""
    plant = bench.plant
    if rival.refused or rival.installation is None:
        return Other(rival=rival, nothing=f"It cannot be worked: {rival.refused}")
    there = build_plant(rival.installation)
    differs = difference(plant, there)
    both = recorded or "the record", rival.value
    changes = list(_checked(bench, there, both))
    if differs.nothing:
        return Other(rival=rival, changes=tuple(changes), nothing=_SAME_NETWORK)
    changes = [
        *_proved(bench, there, differs, both),
        *_seen(plant, there, differs, both),
        *_figures(bench.side, there, differs, both),
        *changes,
    ]
    nothing = "" if changes else _SAME_WORKING
    return Other(rival=rival, changes=tuple(changes), nothing=nothing)


_SAME_NETWORK = (
    "Nothing that the tool computes changes: no conductor, contact, rating or length in the network is otherwise. "
    "It is a matter for the drawings and for whoever stands before the thing."
)
_SAME_WORKING = (
    "Nothing that the tool computes changes: the network is otherwise, but in no setting tried is a verdict, a "
    "state, a reading or a limit, and no volts or amperes by more than a hundredth."
)


# -- what is proved --------------------------------------------------------------------------------------------


def _proved(bench: _Bench, there: Plant, differs: Difference, both: tuple[str, str]) -> Iterator[Change]:
    for statement in _spoken_to(bench.plant, differs):
        if statement.id in bench.leaving:
            continue
        if _alike(bench, there, statement):
            continue
        verdicts = bench.proof_of(bench.plant, statement), prove(there, statement)
        words = [_verdict_words(verdict) for verdict in verdicts]
        if words[0] != words[1]:
            yield Change(
                what="verdict",
                subject=statement.id,
                setting="",
                recorded=words[0],
                otherwise=words[1],
                words=f"“{statement.words}” [{statement.id}]: {_apart(words, both)}.",
            )


def _spoken_to(plant: Plant, differs: Difference) -> list[Statement]:
    """Statements about function that the difference can reach: by their services, or by the wiring."""
    dossier, network = plant.installation.dossier, plant.network
    influence = influence_of(plant)
    numbers = [network.branch_of[n] for n in differs.branches if n in network.branch_of]
    numbers += [n for n, b in enumerate(network.branches) if b.item in differs.items]
    touched = {influence.circuit_of[n] for n in numbers} | ({WITHIN_SUPPLY} if differs.supply else set())
    found = []
    for statement in dossier.statements.values():
        if not is_function(statement) or not is_fitted(
            statement.fit, plant.installation.fits, fits_of(plant.installation.whole)
        ):
            continue
        looked_at = [statement.then, *(step.see for step in statement.steps)]
        conditions = [plant.lexicon.condition(s) for s in looked_at if s is not None]
        named = {w for s in sentences_of(statement, statement.given) if s is not None for w in words_of(s)}
        if (
            named & set(differs.levers)
            or services_spoken_of(plant, statement) & set(differs.services)
            or touched & circuits_that_matter(plant, conditions)
        ):
            found.append(statement)
    return found


def _alike(bench: _Bench, there: Plant, statement: Statement) -> bool:
    """Whether a statement comes out the same with another reading, in the states that it is tried in."""
    given = presumed(there, statement)
    refused = [
        refusal(bench.plant, statement, presumed(bench.plant, statement)),
        refusal(there, statement, given),
    ]
    if any(refused):
        return refused[0] is not None and refused[1] is not None and refused[0][0] == refused[1][0]
    states = bench.tried(statement)
    return bool(states) and fares_alike(states, ready(there, statement, given))


def _verdict_words(verdict: Verdict) -> str:
    word = _VERDICT_WORDS.get(verdict.verdict, verdict.verdict)
    if verdict.verdict == "proved-if":
        return f"{word} {verdict.condition}"
    if verdict.verdict == "contradicted" and verdict.operations:
        return f"{word} ({', '.join(verdict.operations)}: {'; '.join(verdict.seen)})"
    return f"{word} ({verdict.because})" if verdict.because else word


def _apart(words: Sequence[str], both: tuple[str, str]) -> str:
    return f"with {both[0]}: {words[0]}; with {both[1]}: {words[1]}"


# -- what is seen ----------------------------------------------------------------------------------------------


def _seen(plant: Plant, there: Plant, differs: Difference, both: tuple[str, str]) -> Iterator[Change]:
    found = seen_differently(plant, there, differs, settings(plant, there, differs))
    for what in ("state", "mark", "amount"):
        listed = _once([seen for seen in found if seen.what == what])
        yield from (_seen_change(seen, both) for seen in listed[:MOST_TOLD])
        left = len(listed) - MOST_TOLD
        if left > 0:
            more = "thing" if left == 1 else "things"
            words = f"{left} more {more} {'differs' if left == 1 else 'differ'} likewise, or by less."
            yield Change(what=what, subject="", setting="", recorded="", otherwise="", words=words)


def _once(listed: Sequence[Seen]) -> list[Seen]:
    """Without what the several windings of one instrument show alike."""
    alike: dict[tuple[str, ...], Seen] = {}
    for seen in listed:
        part = "" if seen.what == "mark" else seen.one.part
        alike.setdefault((seen.one.item, part, seen.one.shows, seen.other.shows), seen)
    return list(alike.values())


def _seen_change(seen: Seen, both: tuple[str, str]) -> Change:
    one, other = (_reading_words(reading, seen.what) for reading in (seen.one, seen.other))
    setting = seen.setting.words
    more = seen.times - 1 if seen.what == "state" else 0
    often = f" (and in {more} more setting{'s' * (more > 1)})" if more else ""
    return Change(
        what=seen.what,
        subject=f"{seen.one.item}.{seen.one.part}",
        setting=setting,
        recorded=one,
        otherwise=other,
        words=f"{setting[:1].upper()}{setting[1:]}: {seen.one.name}: {_apart((one, other), both)}{often}.",
    )


def _reading_words(reading: ItemReading, what: str) -> str:
    amount = f"{as_written(abs(reading.volts), 'voltage')}, {as_written(abs(reading.amps), 'current')}"
    if what == "mark":
        return f"shows {reading.shows}"
    light = f", light {reading.light:.0%}" if reading.light is not None else ""
    if what == "state":
        return (
            f"{reading.state} ({amount})" if not reading.shows else f"{reading.state}, shows {reading.shows}"
        )
    return f"{amount}{light}"


# -- volts, amperes, limits ------------------------------------------------------------------------------------


def _figures(here: Side, there: Plant, differs: Difference, both: tuple[str, str]) -> Iterator[Change]:
    other = Side(there)
    for measured in (drops, fuses, protections, machines, bolts_off):
        yield from (_figure_change(figure, both) for figure in measured(here, other, differs))


def _figure_change(figure: Figure, both: tuple[str, str]) -> Change:
    where = f" ({figure.setting})" if figure.setting else ""
    return Change(
        what=figure.what,
        subject=figure.subject,
        setting=figure.setting,
        recorded=figure.one,
        otherwise=figure.other,
        words=f"{figure.subject}{where}: {_apart((figure.one, figure.other), both)}.",
    )


def _checked(bench: _Bench, there: Plant, both: tuple[str, str]) -> Iterator[Change]:
    """What the record's own check would say of one and not of the other."""
    here, other = bench.checks, _messages(there)
    for message in other:
        if message not in here:
            words = f"`check` would say with {both[1]}: {message}"
            yield Change(what="check", subject="", setting="", recorded="", otherwise=message, words=words)
    for message in here:
        if message not in other:
            words = f"`check` would no longer say with {both[1]}: {message}"
            yield Change(what="check", subject="", setting="", recorded=message, otherwise="", words=words)


def _messages(plant: Plant) -> tuple[str, ...]:
    return tuple(dict.fromkeys(finding.message for finding in check_connections(plant.installation)))
