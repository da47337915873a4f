"""What a stranger meets first: a plate that can be read, what is wrong said where it shows, links that land.

Outside: geometry of the window; the record written here has its slips planted.
"""

import re
import shutil

import pytest

pytest.importorskip("playwright.sync_api", reason="requirements/dev.txt has it")

from playwright import sync_api

from browser.conftest import ROOT, Served
from browser.test_bench import doing, worked

ROWS = 120
PLACES = "".join(f'spare-{n} = {{ text = "Spare place {n}" }}\n' for n in range(ROWS + 40))


@pytest.fixture(scope="module")
def slipped(tmp_path_factory):
    """The tug with the navigation lamps' lead on the spare way of the fuse box, and many places."""
    folder = tmp_path_factory.mktemp("slipped") / "tug"
    shutil.copytree(ROOT / "examples" / "glider-tug", folder)
    text = (folder / "tug.toml").read_text(encoding="utf-8")
    right, wrong = 'N1 = { from = "fuse-box.1"', 'N1 = { from = "fuse-box.3"'
    assert text.count(right) == 1
    (folder / "tug.toml").write_text(text.replace(right, wrong), encoding="utf-8")
    (folder / "more.toml").write_text(f"[place]\n{PLACES}", encoding="utf-8")
    bench = Served(folder)
    yield bench
    bench.stop()


def inside(inner, outer):
    a, b = inner.bounding_box(), outer.bounding_box()
    return (
        a["x"] >= b["x"] - 1
        and a["y"] >= b["y"] - 1
        and a["x"] + a["width"] <= b["x"] + b["width"] + 1
        and a["y"] + a["height"] <= b["y"] + b["height"] + 1
    )


@pytest.mark.parametrize("width", [1440, 390])
def test_closer_keeps_within_the_plates_frame_and_is_left_again(opening, width):
    page = opening("/service/navigation", width=width)
    page.locator(".drawings svg").first.wait_for()
    worked(page)
    frame, stage, drawn = (
        page.locator("#drawings"),
        page.locator(".stage"),
        page.locator("#drawings svg").first,
    )
    before = drawn.bounding_box()["width"]
    page.get_by_role("button", name="Closer").click()
    assert drawn.bounding_box()["width"] > before
    assert inside(frame, stage)
    page.get_by_role("button", name="Closer").click()
    assert drawn.bounding_box()["width"] == pytest.approx(before, abs=1)


def test_a_plate_that_is_cut_off_says_so(opening):
    page = opening("/service/navigation", width=390)
    page.locator(".drawings svg").first.wait_for()
    cut = page.locator("#drawings").evaluate("one => one.scrollWidth > one.clientWidth + 4")
    assert page.get_by_text("slide it").is_visible() == cut
    page.get_by_role("button", name="Closer").click()
    assert page.get_by_text("slide it").is_visible()


def test_a_service_says_at_its_head_what_is_wrong_with_its_record(opening_of, slipped):
    page = opening_of(slipped, "/service/navigation")
    link = page.get_by_role("link", name=re.compile(r"^1 error"))
    assert link.is_visible()
    link.click()
    sync_api.expect(page.get_by_role("heading", name="Pencil marks")).to_be_in_viewport()
    headings = page.locator("article h2").all_inner_texts()
    assert headings.index("PENCIL MARKS") < headings.index("WHAT YOU DO, WHAT YOU SEE")


def test_a_service_is_not_blamed_for_another_way_of_its_box(opening_of, slipped):
    page = opening_of(slipped, "/service/cockpit")
    assert page.locator("article").is_visible()
    assert "'fuse-box.1'" not in page.locator("article").inner_text()
    assert page.locator(".marked").count() == 0


def test_a_pencil_mark_lands_on_its_line_in_sight(opening_of, slipped):
    page = opening_of(slipped, "/findings")
    page.get_by_role("link", name=re.compile("tug.toml")).first.click()
    row = page.locator("tr:target")
    row.wait_for()
    heads = page.locator("#ledger thead th").first
    assert row.bounding_box()["y"] >= heads.bounding_box()["y"] + heads.bounding_box()["height"] - 3


def test_a_line_of_a_later_page_is_found(opening_of, slipped):
    page = opening_of(slipped, f"/record/place#spare-{ROWS + 30}")
    sync_api.expect(page.locator(f'[data-subject="place spare-{ROWS + 30}"]')).to_be_in_viewport()


def test_services_lead_to_their_cables_and_do_not_hold_them(opening):
    page = opening("/record/service")
    assert page.get_by_role("columnheader", name="cables", exact=True).count() == 0
    page.locator('[data-subject="service navigation"]').get_by_role("link", name="its cables").click()
    assert page.get_by_role("heading", level=1).inner_text() == "Cables of “Navigation lamps”"
    assert page.locator("tbody tr").count() == 7
    assert page.get_by_label("service").input_value() == "navigation"
    page.get_by_role("link", name="All cables").click()
    assert page.locator("tbody tr").count() > 7


def test_a_fuse_that_is_out_is_said_to_be_so(opening):
    page = opening("/service/navigation")
    page.locator(".drawings svg").first.wait_for()
    worked(page)
    page.get_by_label("Card of").select_option(label="Fuse box way 1")
    doing(page, page.get_by_role("button", name="Take the fuse out").click)
    sync_api.expect(page.locator("#seen")).to_contain_text(re.compile(r"Fuse of fuse box way 1: (blown|out)"))
    doing(page, page.get_by_role("button", name="Return to rest").click)


def test_the_meter_says_where_its_leads_are(opening):
    page = opening("/service/navigation")
    page.locator(".drawings svg").first.wait_for()
    worked(page)
    page.get_by_label("From", exact=True).select_option(label="tail lamp 1")
    doing(page, page.get_by_role("button", name="Put it on").click)
    sync_api.expect(page.locator("#meter-said")).to_contain_text("from tail lamp 1 to the airframe")
    doing(page, page.get_by_role("button", name="Return to rest").click)


def test_presumptions_are_said_in_words(opening):
    page = opening("/service/navigation")
    sync_api.expect(page.locator(".statements")).to_contain_text(
        "read with: the master switch is on", timeout=30_000
    )
    assert "master-switch" not in page.locator(".statements").inner_text()


def test_an_item_has_the_sentences_that_name_it(opening, served):
    # Handbook 7.5 of the tug names the three lamps in one sentence.
    page = opening("/item/tail-lamp")
    said = page.locator("section.statements")
    assert "on one switch" in said.inner_text()
    said.get_by_role("link", name="Navigation lamps").click()
    page.wait_for_url("**/service/navigation*")
    assert served.base in page.url
