"""What the pages work out and take in: ohmmeter, cables, faults, cards, decisions, the record as it is typed.

Outside: axe-core's rules of WCAG 2.2 AA; figures are those of the circuit, worked out by hand beside the test.
"""

import re

import pytest

pytest.importorskip("playwright.sync_api", reason="requirements/dev.txt has it")

from playwright import sync_api

from browser.test_bench import TAGS, cell, doing, edited, worked

SLOW = 60_000
SHEETS = ("/sheet/cables/signals", "/sheet/effects/signals", "/sheet/cards/signals?card=continuity")


@pytest.fixture
def signals(opening):
    page = opening("/service/signals")
    page.locator(".drawings svg").first.wait_for(timeout=SLOW)
    worked(page)
    return page


def opened(page, title, what):
    page.locator("summary").filter(has_text=title).click()
    place = page.locator(f".worked[data-what={what}][data-worked]")
    place.wait_for(timeout=SLOW)
    return place


# -- meters --------------------------------------------------------------------------------------------------


def test_an_ohmmeter_is_put_on_and_follows_the_controls(signals):
    signals.get_by_label("From", exact=True).select_option("signal-switch.1")
    signals.get_by_label("to", exact=True).select_option("signal-switch.2")
    signals.get_by_label("with", exact=True).select_option(label="ohmmeter, battery off")
    signals.get_by_role("button", name="Put it on").click()
    said = signals.locator("#meter-said")
    sync_api.expect(said).to_contain_text("ohmmeter: ")
    # Across an open switch a meter reads the way round, through lamps; never nothing, as across a shut one.
    assert "through the" in said.inner_text()
    assert "lead off the battery" in said.inner_text()
    group = signals.get_by_role("group", name="Signal switch", exact=True)
    doing(signals, lambda: group.get_by_role("radio", name="on", exact=True).check())
    sync_api.expect(said).to_contain_text("mohm")
    assert "through the" not in said.inner_text()
    signals.get_by_role("button", name="Take it off").click()
    sync_api.expect(said).to_be_empty()


# -- memory ------------------------------------------------------------------------------------------------------


def test_a_procedure_is_played_and_each_step_of_it_undone(opening):
    page = opening("/service/starting")
    page.locator(".drawings svg").first.wait_for(timeout=SLOW)
    worked(page)
    procedure = page.locator(".procedure").first
    steps, forward = procedure.locator("li"), procedure.get_by_role("button", name="Next step")
    doing(page, procedure.get_by_role("button", name="Begin").click)
    for _ in range(2):
        doing(page, forward.click)
    sync_api.expect(steps.nth(1)).to_have_class(re.compile("is-now"))
    doing(page, page.get_by_role("button", name="Undo the last step").click)
    sync_api.expect(steps.nth(0)).to_have_class(re.compile("is-now"))
    sync_api.expect(steps.nth(1).locator(".mark")).to_have_count(0)
    doing(page, forward.click)
    sync_api.expect(steps.nth(1)).to_have_class(re.compile("is-now"))
    doing(page, page.get_by_role("button", name="Return to rest").click)
    assert "Everything back at rest" in page.locator("#steps").inner_text()


def test_a_fuse_is_taken_out_from_its_card_and_put_back(signals):
    for name in ("Master switch", "Signal switch"):
        group = signals.get_by_role("group", name=name, exact=True)
        doing(signals, lambda group=group: group.get_by_role("radio", name="on", exact=True).check())
    readings = signals.get_by_label("Readings and cards")
    sync_api.expect(readings).to_contain_text(re.compile(r"Signal lamp\s+lit"))
    signals.get_by_label("Card of").select_option(label="Fuse box way 5")
    doing(signals, signals.get_by_role("button", name="Take the fuse out").click)
    sync_api.expect(readings).to_contain_text("Signal lamp out")
    doing(signals, signals.get_by_role("button", name="Undo the last step").click)
    sync_api.expect(readings).to_contain_text(re.compile(r"Signal lamp\s+lit"))


def test_a_burnt_out_lamp_is_read_as_out(signals):
    for name in ("Master switch", "Signal switch"):
        group = signals.get_by_role("group", name=name, exact=True)
        doing(signals, lambda group=group: group.get_by_role("radio", name="on", exact=True).check())
    signals.get_by_label("Card of").select_option(label="Signal lamp")
    signals.get_by_text("What if this broke?").click()
    doing(signals, signals.get_by_role("button", name=re.compile("the signal lamp is burnt out")).click)
    sync_api.expect(signals.locator("#seen")).to_contain_text("Signal lamp out")


# -- what is worked out when it is opened ------------------------------------------------------------------------


def test_cables_and_faults_of_a_service(signals):
    cables = opened(signals, "Cables", "cables")
    assert cables.get_by_role("cell", name="L2", exact=True).is_visible()
    faults = opened(signals, "What faults do", "effects")
    assert re.search(r"signal lamp is out where it should be lit", faults.inner_text(), re.IGNORECASE)


def test_an_item_has_all_of_its_own(opening):
    page = opening("/item/signal-lamp")
    assert page.get_by_role("cell", name="L2", exact=True).is_visible()
    table = opened(page, "What makes it work", "functions")
    assert "lit" in table.inner_text()
    assert "burnt out" in opened(page, "If it fails", "effects").inner_text()


def test_what_was_open_is_open_when_the_page_is_loaded_again(signals):
    opened(signals, "Cables", "cables")
    signals.reload()
    signals.locator(".worked[data-what=cables][data-worked]").wait_for(timeout=SLOW)


def test_a_card_is_printed_clean(opening):
    page = opening("/sheet/cards/signals?card=continuity")
    page.locator(".worked[data-worked]").wait_for(timeout=SLOW)
    page.emulate_media(media="print")
    assert page.get_by_role("heading", level=1).is_visible()
    assert page.get_by_role("columnheader", name="as found").is_visible()
    assert page.get_by_text("Not approved data").first.is_visible()
    for gone in (
        page.get_by_role("navigation"),
        page.get_by_role("button"),
        page.get_by_label("Standard of fit"),
    ):
        assert not any(one.is_visible() for one in gone.all())


@pytest.mark.parametrize("path", SHEETS)
@pytest.mark.parametrize(("width", "height"), [(390, 844), (320, 256)], ids=["telephone", "zoom-400"])
def test_nothing_runs_off_a_narrow_sheet(opening, path, width, height):
    page = opening(path, width=width, height=height)
    page.locator(".worked[data-worked]").wait_for(timeout=SLOW)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("path", [*SHEETS, "/service/signals", "/item/signal-lamp", "/sources"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_in_what_is_opened(opening, path, scheme):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="requirements/dev.txt has it")
    page = opening(path, color_scheme=scheme)
    if path.startswith("/service"):
        page.locator(".drawings svg").first.wait_for(timeout=SLOW)
        worked(page)
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    for place in page.locator(".worked").all():
        sync_api.expect(place).to_have_attribute("data-worked", "yes", timeout=SLOW)
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    found = axe.Axe().run(page, options={"runOnly": {"type": "tag", "values": TAGS}})
    assert not [
        (one["id"], node["html"][:120], node.get("failureSummary", "")[:300])
        for one in found.response["violations"]
        for node in one["nodes"]
    ]


def test_nothing_is_asked_of_any_other_machine(opening, served):
    page = opening("/")
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    for path in ("/", "/service/signals", "/faults", "/where?for=lamp", "/sources", "/record/cable"):
        page.goto(served.base + path)
    assert asked
    assert all(url.startswith(served.base) for url in asked)


# -- where ---------------------------------------------------------------------------------------------------


def test_both_plans_and_what_was_found_on_them(opening):
    page = opening("/where?for=tail lamp")
    plan = page.get_by_role("group", name="Place plan")
    plan.wait_for(timeout=SLOW)
    assert plan.locator("text.is-found").count() >= 1
    assert (
        page.get_by_role("group", name="Loom plan").or_(page.get_by_role("heading", name="Loom plan")).count()
        <= 2
    )
    closer = page.get_by_role("button", name="Closer: Place plan")
    before = plan.locator("svg").first.bounding_box()["width"]
    closer.click()
    assert plan.locator("svg").first.bounding_box()["width"] > before


# -- sources and record ------------------------------------------------------------------------------------------


def test_a_decision_is_changed_beside_the_dispute(opening, served):
    path = served.folder / "tug.toml"
    files = {one: one.read_bytes() for one in served.folder.glob("*.toml")}
    page = opening("/sources")
    dispute = page.locator(".dispute").first
    assert dispute.locator(".side").count() == 2
    dispute.get_by_text("Change the decision").click()
    dispute.get_by_label("Because").fill("It is stamped on its cap.")
    try:
        with page.expect_navigation():
            dispute.get_by_role("button", name="Write it down").click()
        page.get_by_text("Decided: It is stamped on its cap.").wait_for()
        now = {one: one.read_bytes() for one in files}
        (changed,) = [one for one in files if files[one] != now[one]]
        lines = zip(files[changed].split(b"\n"), now[changed].split(b"\n"), strict=True)
        assert sum(a != b for a, b in lines) == 1
    finally:
        for one, text in files.items():
            one.write_bytes(text)
    assert path in files


def test_a_near_miss_is_said_while_one_types_and_beside_the_cell(opening, served):
    path = served.folder / "tug.toml"
    before = path.read_bytes()
    page = opening("/record/cable")
    target = cell(page, "cable L1", "to")
    target.click()
    field = page.get_by_label("to of cable L1")
    field.fill("signal-swich.1")
    page.locator("td .beside", has_text="Did you mean signal-switch.1?").wait_for()
    edited(page, lambda: field.press("Enter"))
    sync_api.expect(target).to_contain_text("there is no such item")
    sync_api.expect(page.get_by_role("link", name="Pencil marks 1")).to_be_visible()
    edited(page, page.get_by_role("button", name="Undo").click)
    sync_api.expect(target).not_to_contain_text("there is no such item")
    edited(page, page.get_by_role("button", name="Do again").click)
    sync_api.expect(target).to_contain_text("there is no such item")
    edited(page, page.get_by_role("button", name="Undo").click)
    assert path.read_bytes() == before


def test_lines_are_pasted_and_taken_out_without_loading_the_page(opening, served):
    path = served.folder / "tug.toml"
    before = path.read_bytes()
    page = opening("/record/place")
    page.get_by_text("Paste from a spreadsheet").click()
    page.get_by_label("Rows copied from a spreadsheet").fill(
        "id\ttext\nkeel\tUnder the floor\nbilge\tUnder the keel"
    )
    edited(page, page.get_by_role("button", name="Take them in").click)
    assert cell(page, "place bilge", "text").inner_text() == "Under the keel"
    edited(page, page.get_by_role("button", name="take out keel").click)
    assert page.locator('tr[data-subject="place keel"]').count() == 0
    edited(page, page.get_by_role("button", name="Undo").click)
    assert page.locator('tr[data-subject="place keel"]').count() == 1
    edited(page, page.get_by_role("button", name="Undo").click)
    assert path.read_bytes() == before
