"""The shipped catalogue: every kind is sound, and can be joined."""

import tomllib
from collections import Counter
from importlib.resources import files

import pytest

from loomlore.catalogue.shipped import raw_kinds, shipped_kinds
from loomlore.quantities import read_quantity, read_rating
from loomlore.record.equipment import equip
from loomlore.record.kinds import read_kinds, sample_values
from loomlore.record.laws import LAWS
from loomlore.record.model import Dossier, Header, Item
from loomlore.sentences import read_sentence


def test_no_shipped_kind_has_a_finding():
    assert [str(f) for f in read_kinds(raw_kinds())[1]] == []


def test_no_kind_stands_twice():
    folder = files("loomlore.catalogue") / "kinds"
    texts = [f.read_text(encoding="utf-8") for f in folder.iterdir() if f.name.endswith(".toml")]
    count = Counter(name for text in texts for name in tomllib.loads(text).get("kind", {}))
    assert [name for name, times in count.items() if times > 1] == []
    assert set(count) == set(shipped_kinds())


def test_the_kinds_are_read_once():
    assert shipped_kinds() is shipped_kinds()


@pytest.mark.parametrize("name", sorted(shipped_kinds()))
def test_an_item_of_every_kind_can_be_joined(name):
    kind = shipped_kinds()[name]
    rating = read_rating("24 V 5 A 60 W 45 Ah")
    item = Item(
        id="it",
        kind=name,
        rating=rating,
        own=dict(sample_values(kind)),
        cams={cam: read_sentence("wheels is up") for cam, held in kind.cams.items() if not held},
        binds=dict.fromkeys(kind.follows, "lever"),
    )
    header = Header(supply=read_quantity("24 V"))
    equipment, findings = equip(item, kind, Dossier(header=header))
    assert [str(f) for f in findings] == []
    assert kind.any_terminal or not kind.terminals or equipment.terminal_names
    assert all(element.law in LAWS for element in equipment.elements.values())


def test_what_the_plan_asks_of_the_catalogue_is_there():
    # the list of the project's design: at least these must be expressible without code
    wanted = """battery master-relay ground-supply-socket voltmeter ammeter shunt suppressor fuse-box fuse plug socket
        stud test-socket pressure-switch warning-lamp lamp twin-filament-lamp two-way-switch signalling-box key dimmer
        ratio-gauge twin-window-indicator horn silencing-push cam-switch striker-switch relay starter inertia-starter
        boost-coil magneto magneto-switch heater solenoid-valve guarded-push parting-socket rectifier timer-relay
        reversing-motor rotary-transformer shorting-plug recording-camera counter cartridge arming-plug inertia-switch
        immersion-switch generator third-brush-generator wind-generator regulator vibrating-regulator cut-out""".split()
    assert [name for name in wanted if name not in shipped_kinds()] == []
