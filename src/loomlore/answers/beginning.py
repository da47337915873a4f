"""How a hunt begins: what the crew reports is found among the looks, and decides who is worked out as a suspect.

A report is an observation with a chance of being mistaken. Faults that show every report are the suspects; the others
are only counted, until answers make it likelier that a report is mistaken (:func:`begin` with ``wide``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from loomlore.answers.hunts import (
    Worked,
)
from loomlore.behaviour.operating import lever_words, operated, read_setting, rest
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.telling import lowered
from loomlore.faults.effects import observables_of
from loomlore.faults.injecting import Workshop, representatives
from loomlore.faults.locating.checks import AS_SET
from loomlore.faults.locating.hunting import (
    Answer,
    Hunt,
    outcome_number,
)
from loomlore.faults.locating.searching import (
    WELL,
    Search,
    Terms,
    search_of,
    suspects_of,
    telling_situations,
    weights_of,
)
from loomlore.faults.modes import Fault
from loomlore.faults.situations import Situation, situations_of
from loomlore.faults.terminals import cables_at, services_at
from loomlore.findings import Place, UnfitRecord, UnknownName, UnreadableValue, nearest
from loomlore.network.building import Plant

__all__ = ["begin", "services_of_hunt", "situations_of_hunt"]


def services_of_hunt(plant: Plant, hunt: Hunt) -> tuple[str, ...]:
    """Services of a hunt: those it names, else those of the things and fuses that were reported.

    Parameters
    ----------
    plant
        The installation.
    hunt
        As begun.

    Returns
    -------
    tuple of str
        None where nothing is named; then all are meant.

    Raises
    ------
    UnknownName
        Where no service or thing is called so.
    UnreadableValue
        Where a name could be several things.
    """
    known = plant.installation.dossier.services
    for service in hunt.services:
        if service not in known:
            raise UnknownName("service", service, known)
    if hunt.services:
        return hunt.services
    things = [_thing(plant, said.partition("=")[0].strip()) for said in hunt.seen]
    services = {o.name: o.service for o in observables_of(plant)}
    found = dict.fromkeys(
        s for t in things for s in ((services[t],) if t in services else _fed_by(plant, t)) if s
    )
    return tuple(found)


def _fed_by(plant: Plant, fuse: str) -> tuple[str, ...]:
    """Services that a fuse feeds; those whose leads land on its item where it feeds none by name."""
    known = plant.installation.dossier
    own = tuple(s for s, service in known.services.items() if fuse in service.feed)
    return own or services_at(plant, (fuse.rpartition(".")[0],), cables_at(plant, fuse))


def _thing(plant: Plant, name: str) -> str:
    """The observable, or fuse, of a name as the crew gives it."""
    known = [o.name for o in observables_of(plant)]
    exact = [o for o in known if o == name]
    own = [o.name for o in observables_of(plant) if o.item == name]
    fuses = [b.name for b in plant.network.branches if b.name == name]
    titled = [o for o in known if name_of(plant, o).lower() == name.lower()]
    for meant in (exact, own, fuses, titled):
        if len(meant) == 1:
            return meant[0]
        if meant:
            raise UnreadableValue(
                f"{name!r} has several things to be seen.", f"Write one of: {', '.join(meant)}."
            )
    raise UnknownName("thing that can be seen", name, [*known, *(o.item for o in observables_of(plant))])


def situations_of_hunt(plant: Plant, hunt: Hunt) -> tuple[Situation, ...]:
    """The situations in which a hunt looks and measures: as the crew had set it first, where that is given.

    Parameters
    ----------
    plant
        The installation.
    hunt
        As begun, with its services.

    Returns
    -------
    tuple of Situation
        Three at most.

    Raises
    ------
    UnfitRecord
        Where the setting names what is not there.
    """
    if not hunt.setting:
        return telling_situations(plant, situations_of(plant), hunt.services, most=3)
    moves, slips = read_setting(plant, hunt.setting, place=Place("--set"))
    if slips:
        raise UnfitRecord(slips)
    settled = operated(plant, rest(plant), moves)
    begun = Situation(id=AS_SET, title="as it was set", settled=settled, moves=tuple(moves.levers.items()))
    return telling_situations(plant, situations_of(plant), hunt.services, most=3, begun=begun)


@dataclass
class _Told:
    """Progress, one step at a time."""

    progress: Callable[[int, int], None] | None
    of: int
    done: int = 0

    def __call__(self) -> None:
        self.done += 1
        if self.progress is not None:
            self.progress(self.done, self.of)


def begin(
    plant: Plant,
    hunt: Hunt,
    progress: Callable[[int, int], None] | None = None,
    *,
    wide: bool = False,
) -> Worked:
    """What was reported decides first who is a suspect at all; only those are worked out everywhere.

    Parameters
    ----------
    plant
        The installation.
    hunt
        As begun, with its services.
    progress
        Told (done, of how many).
    wide
        With every fault of the services, whether it shows the reports or not.

    Returns
    -------
    Worked
        Wide in any case where nothing is reported, or no fault shows all that is.

    Raises
    ------
    UnreadableValue
        Where a report cannot be, or is of something that is as it should be.
    """
    situations = situations_of_hunt(plant, hunt)
    told = _Told(progress, 2 + len(situations))
    told()
    faults = suspects_of(plant, hunt.services)
    terms = Terms(way_in=hunt.way_in, after_rebuild=hunt.after_rebuild)
    shop = Workshop(plant)
    shown = _shown(plant, hunt, situations, faults, terms, shop)
    told()
    chances = [
        np.prod([1 - hunt.mistaken if fits else shown.doubt for fits in shown.fits[f.id]] or [1.0])
        for f in faults
    ]
    fitting = [all(shown.fits[f.id]) for f in faults]
    weights = weights_of(faults, after_rebuild=hunt.after_rebuild) * np.array(chances)
    inside = float(weights[fitting].sum())
    if wide or not any(fitting) or not hunt.seen:
        parted = any(a.check.startswith("ohms:") and a.check.count(":") > 3 for a in hunt.answers)
        terms = replace(terms, part_up_to=len(faults) if parted else terms.part_up_to)
        search = search_of(
            plant, situations, faults, services=hunt.services, terms=terms, workshop=shop, told=told
        )
        known = tuple(a for a in shown.reported if a.check in search.number_of)
        return Worked(search=search, reported=known, wide=True)
    suspects = [f for f, fits in zip(faults, fitting, strict=True) if fits]
    search = search_of(
        plant, situations, suspects, services=hunt.services, terms=terms, workshop=shop, told=told
    )
    others = float(weights.sum()) - inside
    return Worked(search=search, others=others / inside if inside > 0 else 0.0)


@dataclass(frozen=True)
class _Shown:
    """The reports as answers, and by suspect which of them it would show.

    ``doubt`` is the chance of just this report where another fault is there: a mistaken one may say any of all the
    things that can be wrong to see.
    """

    reported: tuple[Answer, ...]
    fits: Mapping[str, tuple[bool, ...]]
    doubt: float


def _shown(
    plant: Plant,
    hunt: Hunt,
    situations: Sequence[Situation],
    faults: Sequence[Fault],
    terms: Terms,
    shop: Workshop,
) -> _Shown:
    """Find each report among the looks of the first situation in which it can be: as set, where that is given."""
    alike = representatives(plant, faults)
    worked = list({f.id: f for f in alike.values()}.values())
    fits: dict[str, list[bool]] = {f.id: [] for f in worked}
    reported: list[Answer] = []
    waiting = [_report(plant, said) for said in hunt.seen]
    words: dict[str, None] = {}
    healthy: list[tuple[str, str]] = []
    sayings: set[tuple[str, str]] = set()
    for situation in situations:
        if not waiting:
            break
        looks = search_of(
            plant,
            [situation],
            worked,
            services=hunt.services,
            terms=replace(terms, metered=False),
            workshop=shop,
        )
        sayings |= {(c.id, words) for c in looks.checks if c.what == "see" for words in c.outcomes}
        still = []
        for thing, word in waiting:
            answer = _see(looks, thing, word, words)
            sound = answer is not None and answer.outcome.endswith(WELL) and not WELL.startswith(word)
            if sound and not word.endswith(WELL):
                if situation.id == AS_SET:
                    raise _sound(plant, situations, thing, word)
                healthy.append((thing, word))
                answer = None
            if answer is None:
                still.append((thing, word))
                continue
            reported.append(answer)
            check = looks.number_of[answer.check]
            outcome = outcome_number(looks.checks[check], answer)
            for n, fault in enumerate(worked):
                fits[fault.id].append(bool(looks.table[check, n] == outcome))
        waiting = still
    if waiting:
        raise _sound(plant, situations, *waiting[0]) if waiting[0] in healthy else _unseen(*waiting[0], words)
    wrong_words = sum(not said.endswith(WELL) for _, said in sayings)
    doubt = hunt.mistaken / max(1, wrong_words)
    return _Shown(
        reported=tuple(replace(answer, doubt=doubt) for answer in reported),
        fits={f.id: tuple(fits[alike[f.id].id]) for f in faults},
        doubt=doubt,
    )


def _sound(plant: Plant, situations: Sequence[Situation], thing: str, word: str) -> UnreadableValue:
    """The word is what the thing does there with nothing wrong."""
    called = lowered(name_of(plant, thing))
    number = next((o.branches[0] for o in observables_of(plant) if o.name == thing), -1)
    at_work = next((s for s in situations if number >= 0 and s.settled.solution.state(number) > 0), None)
    hint = "Give the setting in which it was otherwise than it should be: --set NAME=VALUE."
    if at_work is not None and at_work.moves:
        said = " ".join(
            f"--set {plant.network.levers[n].name}={lever_words(plant, n, v)}" for n, v in at_work.moves
        )
        hint = f"Give the setting in which it should have been at work, for instance {said}."
    return UnreadableValue(f"the {called} is {word} in this setting with nothing wrong", hint)


def _report(plant: Plant, said: str) -> tuple[str, str]:
    name, sign, word = said.partition("=")
    if not sign:
        raise UnreadableValue(
            f"{said!r} says nothing of what was seen", "Write NAME=WORD, such as tail-lamp=out."
        )
    word = word.strip()
    return _thing(plant, name.strip()), {"blown": "it goes again", "goes": "it goes again"}.get(word, word)


def _see(search: Search, thing: str, word: str, words: dict[str, None]) -> Answer | None:
    """The look at a thing that can have this outcome; other outcomes are added to ``words``."""
    for check in search.checks:
        if check.what == "see" and check.id.endswith(f":{thing}"):
            words |= dict.fromkeys(check.outcomes)
            try:
                return Answer(check.id, check.outcomes[outcome_number(check, Answer(check.id, word))])
            except UnreadableValue:
                continue
    return None


def _unseen(thing: str, word: str, words: Iterable[str]) -> UnreadableValue:
    listed_words = tuple(words)
    if not listed_words:
        return UnreadableValue(
            f"no fault on the list shows at {thing!r} in these settings",
            "Give the setting in which it was seen, or name another service.",
        )
    meant = nearest(word, listed_words)
    hint = f"Write {meant!r}." if meant else f"Write one of: {'; '.join(listed_words)}."
    return UnreadableValue(f"{thing!r} cannot be {word!r} here", hint)
