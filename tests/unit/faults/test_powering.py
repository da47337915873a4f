"""First power on the bench record: amperes by hand, the limit, the lamp in series, the order of the fuses."""

import pytest
from tests.unit.faults.records import BENCH, example, plant_of

from loomlore.faults.cards.powering import first_power_rows
from loomlore.network.laws import Filament, Fuse

PLANT = plant_of(BENCH)


def by_name(plant, **more):
    steps = first_power_rows(plant, **more)
    return {plant.network.branches[s.number].name if s.number >= 0 else "start": s for s in steps}


def test_a_step_is_what_the_fuse_puts_on():
    """Two lamps of 24 V 3 W are 0.25 A on a supply of 24 V, less a little in the leads."""
    steps = by_name(PLANT)
    assert steps["box.2"].step == pytest.approx(0.25, rel=0.01)
    assert "comes on: window" in steps["box.2"].words
    assert steps["box.1"].words.startswith("no more")


def test_the_supply_gives_no_more_than_its_limit_and_its_volts_fall():
    step = by_name(PLANT, limit_amps=0.1)["box.2"]
    assert step.amps == pytest.approx(0.1, rel=0.02)
    assert "at its limit of 100 mA" in step.words


def test_through_a_lamp_in_series_the_current_is_less_and_the_lamp_has_the_rest():
    """A 24 V 6 W lamp, 0.25 A, before the two of 0.125 A: by symmetry it has half of 24 V."""
    step = by_name(PLANT, lamp=Filament(volts=24, amps=0.25))["box.2"]
    assert "the lamp has 12" in step.words or "the lamp has 11.9" in step.words
    assert step.step < 0.25


def test_no_fuse_comes_before_one_that_feeds_it_and_no_cartridge_has_one():
    plant = example("mail-amphibian")
    names = list(by_name(plant))
    assert names.index("feeder-fuse-a.wire") < names.index("fuse-box-a.1")
    fuses = {b.name for b in plant.network.branches if isinstance(b.law, Fuse)}
    assert set(names) - {"start"} < fuses
    services = plant.installation.dossier.services
    to_cartridges = {feed for name in ("fire-bottles", "flotation") for feed in services[name].feed}
    assert to_cartridges <= fuses  # the record has them; first power leaves them out
    assert to_cartridges.isdisjoint(names)


def test_each_fuse_says_what_is_behind_it_and_what_its_load_side_rings():
    step = by_name(PLANT)["box.2"]
    assert "W1, W2 and W3" in step.wrong[0]
    assert "8.2" in step.wrong[1]  # two cold lamps of 16 ohm side by side, and the leads 0.2
