"""The bench as it is used: by roles and labels, with mouse, keyboard and touch, at a desk's and a telephone's width.

Outside: axe-core's rules of WCAG 2.2 AA; what the lamps do is what the example's own handbook pages say.
"""

import re

import pytest

sync_api = pytest.importorskip("playwright.sync_api", reason="requirements/dev.txt has it")

PAGES = (
    "/",
    "/service/signals",
    "/where?for=lamp",
    "/item/tail-lamp",
    "/sources",
    "/record/cable",
    "/findings",
)
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def worked(page):
    """Wait until the page has been told how things stand."""
    sync_api.expect(page.locator("body")).to_have_attribute("data-worked", re.compile("[1-9]"))


def doing(page, action):
    """Do something on the page, and wait for the answer."""
    before = page.locator("body").get_attribute("data-worked") or ""
    action()
    sync_api.expect(page.locator("body")).not_to_have_attribute("data-worked", before)


@pytest.fixture
def signals(opening):
    page = opening("/service/signals")
    page.locator(".drawings svg").first.wait_for()  # the page is loaded again when its plate is drawn
    worked(page)
    return page


def lamp_is_lit(page):
    return page.locator('[data-part^="signal-lamp."]').first.evaluate("g => g.classList.contains('is-lit')")


def switch(page, name, position):
    group = page.get_by_role("group", name=name, exact=True)
    doing(page, lambda: group.get_by_role("radio", name=position, exact=True).check())


# -- the plate -----------------------------------------------------------------------------------------------


def test_a_lamp_lights_and_its_cable_comes_alive(signals):
    assert not lamp_is_lit(signals)
    switch(signals, "Master switch", "on")
    switch(signals, "Signal switch", "on")
    assert lamp_is_lit(signals)
    assert "is-live" in signals.locator('[data-cable="L2"]').get_attribute("class")
    assert re.search(r"Signal lamp\s+lit", signals.get_by_label("Readings and cards").inner_text())


def test_each_step_is_undone_and_rest_is_returned_to(signals):
    switch(signals, "Master switch", "on")
    switch(signals, "Signal switch", "on")
    doing(signals, signals.get_by_role("button", name="Undo the last step").click)
    assert not lamp_is_lit(signals)
    assert (
        signals.get_by_role("group", name="Signal switch", exact=True)
        .get_by_role("radio", name="off")
        .is_checked()
    )
    doing(signals, signals.get_by_role("button", name="Return to rest").click)
    assert (
        signals.get_by_role("group", name="Master switch", exact=True)
        .get_by_role("radio", name="off")
        .is_checked()
    )


def test_a_push_springs_back_and_can_be_held(signals):
    switch(signals, "Master switch", "on")
    push = signals.get_by_role("button", name="Signal push: pressed")
    push.hover()
    doing(signals, signals.mouse.down)
    assert lamp_is_lit(signals)
    doing(signals, signals.mouse.up)
    assert not lamp_is_lit(signals)
    hold = signals.get_by_role("group", name="Signal push", exact=True).get_by_role("checkbox", name="hold")
    doing(signals, hold.check)
    assert lamp_is_lit(signals)
    doing(signals, hold.uncheck)
    assert not lamp_is_lit(signals)


def test_a_control_is_worked_on_the_plate(signals):
    switch(signals, "Master switch", "on")
    doing(signals, lambda: signals.locator('[data-item="signal-switch"] .only-open').first.click(force=True))
    assert lamp_is_lit(signals)
    sync_api.expect(signals.get_by_role("heading", name="Signal switch")).to_be_visible()


def test_the_installation_stays_as_it_was_left_when_the_page_is_turned(signals, served):
    switch(signals, "Master switch", "on")
    signals.goto(served.base + "/service/navigation")
    worked(signals)
    assert (
        signals.get_by_role("group", name="Master switch", exact=True)
        .get_by_role("radio", name="on")
        .is_checked()
    )


def test_what_if_this_broke(signals):
    switch(signals, "Master switch", "on")
    switch(signals, "Signal switch", "on")
    signals.get_by_label("Card of").select_option(label="cable L2")
    signals.get_by_text("What if this broke?").click()
    doing(signals, signals.get_by_role("button", name=re.compile("cable L2 .* is broken")).click)
    assert not lamp_is_lit(signals)
    doing(signals, signals.get_by_role("button", name="Put it right").click)
    assert lamp_is_lit(signals)


def test_a_meter_is_put_on(signals):
    switch(signals, "Master switch", "on")
    switch(signals, "Signal switch", "on")
    signals.get_by_label("From", exact=True).select_option("signal-lamp.1")
    signals.get_by_label("to", exact=True).select_option("signal-lamp.2")
    doing(signals, signals.get_by_role("button", name="Put it on").click)
    volts = float(re.search(r"voltmeter: ([\d.]+) V", signals.locator("#meter-said").inner_text()).group(1))
    assert 11.0 < volts < 13.0


def test_function_table_and_verdicts_come(signals):
    signals.get_by_role("table").first.wait_for()
    sync_api.expect(signals.locator(".statement .mark").first).not_to_be_empty()
    assert signals.locator(".statement .mark").first.inner_text() in {"proved", "if", "not so", "another fit"}


def test_another_standard_of_fit_draws_another_plate(signals):
    signals.get_by_label("Standard of fit").select_option(label="Tug with telephone")
    signals.wait_for_url("**standard=telephone-tug*")
    signals.locator('[data-item="tow-telephone"]').wait_for()
    assert signals.locator('[data-item="signal-lamp"]').count() == 0


def test_a_condition_is_brought_on_a_slider(opening):
    page = opening("/service/charging")
    worked(page)
    slider = page.get_by_role("slider", name="Engine speed")
    doing(page, lambda: slider.press("End"))
    assert "rev/min" in page.locator('[data-amount="engine-speed"]').inner_text()
    assert page.locator('[data-amount="engine-speed"]').inner_text() != "0 rev/min"


# -- keyboard, telephone, zoom, accessibility ------------------------------------------------------------------


def test_keyboard_alone(signals):
    def reached(label):
        for _ in range(80):
            signals.keyboard.press("Tab")
            said = signals.evaluate(
                "() => { const e = document.activeElement;"
                " return (e.closest('fieldset')?.querySelector('legend')?.textContent || '') + '|' +"
                " (e.getAttribute('aria-label') || e.textContent || '').slice(0, 60) }"
            )
            if label in said:
                return
        raise AssertionError(f"{label} is not reached by the keyboard")

    reached("Signal switch")
    doing(signals, lambda: signals.keyboard.press("ArrowDown"))
    reached("Signal push: pressed")
    reached("Master switch")
    doing(signals, lambda: signals.keyboard.press("ArrowDown"))
    assert lamp_is_lit(signals)
    reached("Undo the last step")
    doing(signals, lambda: signals.keyboard.press("Enter"))
    assert not lamp_is_lit(signals)


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize(("width", "height"), [(390, 844), (320, 256)], ids=["telephone", "zoom-400"])
def test_nothing_runs_off_a_narrow_page(opening, path, width, height):
    page = opening(path, width=width, height=height)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_touch_on_a_telephone(opening):
    page = opening("/service/signals", width=390, height=844, has_touch=True, is_mobile=True)
    worked(page)
    doing(
        page, page.get_by_role("group", name="Master switch", exact=True).get_by_role("radio", name="on").tap
    )
    doing(
        page, page.get_by_role("group", name="Signal switch", exact=True).get_by_role("radio", name="on").tap
    )
    assert lamp_is_lit(page)


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(opening, path, scheme):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="requirements/dev.txt has it")
    page = opening(path, color_scheme=scheme)
    if path.startswith("/service"):
        worked(page)
        page.get_by_role("table").first.wait_for()
    found = axe.Axe().run(page, options={"runOnly": {"type": "tag", "values": TAGS}})
    assert not [
        (one["id"], node["html"][:120], node.get("failureSummary", "")[:300])
        for one in found.response["violations"]
        for node in one["nodes"]
    ]


# -- where, sources, record ------------------------------------------------------------------------------------


def test_an_item_is_found_in_either_vocabulary(opening):
    page = opening("/where")
    page.get_by_role("searchbox").fill("storage battery")
    page.get_by_role("button", name="Find").click()
    page.get_by_role("link", name="Battery", exact=True).click()
    assert page.get_by_role("heading", name="Battery", level=1).is_visible()


def test_a_contradiction_plays_its_moves_on_the_plate(opening):
    page = opening("/sources")
    sync_api.expect(page.locator(".statement .mark").last).not_to_be_empty(timeout=20000)
    sync_api.expect(page.locator("#proofs-said")).to_be_empty(timeout=20000)
    link = page.get_by_role(
        "link", name=re.compile("Play these? .*moves? on the plate|Play this move on the plate")
    ).first
    link.click()
    worked(page)
    assert page.locator("#steps li").count() >= 2


def cell(page, row, key):
    return page.locator(f'tr[data-subject="{row}"] td[data-key="{key}"]')


def edited(page, action):
    """An edit that is kept is taken in by the page, which is not loaded again."""
    before = int(page.locator("body").get_attribute("data-kept") or 0)
    page.evaluate("window.sameDocument = true")
    action()
    sync_api.expect(page.locator("body")).to_have_attribute("data-kept", str(before + 1))
    assert page.evaluate("window.sameDocument")


def test_the_record_is_edited_by_keyboard_and_undone(opening, served):
    path = served.folder / "tug.toml"
    before = path.read_bytes()
    page = opening("/record/cable")
    target = cell(page, "cable L1", "length")
    target.click()
    field = page.get_by_role("textbox", name="length of cable L1")
    field.fill("two")
    page.get_by_text("length").first.wait_for()
    page.locator("td .beside", has_text=re.compile("two")).wait_for()
    field.fill("0.9 m")
    edited(page, lambda: field.press("Enter"))
    after = path.read_bytes()
    changed = [(a, b) for a, b in zip(before.split(b"\n"), after.split(b"\n"), strict=True) if a != b]
    assert len(changed) == 1
    assert b'"0.9 m"' in changed[0][1]
    assert page.evaluate("document.activeElement.dataset.key") == "length"
    edited(page, page.get_by_role("button", name="Undo").click)
    assert path.read_bytes() == before


def test_a_stale_edit_is_refused_and_what_was_typed_is_kept(opening, served):
    path = served.folder / "tug.toml"
    before = path.read_bytes()
    page = opening("/record/item")
    cell(page, "item tail-lamp", "rating").click()
    field = page.get_by_role("textbox", name="rating of item tail-lamp")
    field.fill("12 V 5 W")
    path.write_bytes(before.replace(b'rating = "12 V 6 W"', b'rating = "12 V 8 W"'))
    try:
        field.press("Enter")
        page.locator("td .beside", has_text="rating was 12 V 6 W, is 12 V 8 W").wait_for()
        assert field.input_value() == "12 V 5 W"
        assert b"12 V 8 W" in path.read_bytes()
    finally:
        path.write_bytes(before)


def test_a_change_made_outside_appears_by_itself(opening, served):
    path = served.folder / "tug.toml"
    before = path.read_bytes()
    page = opening("/item/tail-lamp")
    try:
        path.write_bytes(before.replace(b'rating = "12 V 6 W"', b'rating = "12 V 8 W"'))
        page.get_by_text("12 V 8 W").wait_for()
    finally:
        path.write_bytes(before)


def test_two_browsers_edit_one_after_the_other(opening, served):
    path = served.folder / "tug.toml"
    before = path.read_bytes()
    try:
        first, second = opening("/record/place"), opening("/record/cable")
        first.get_by_label("name of its own").fill("new-place")
        edited(first, first.get_by_role("button", name="Add it").click)
        target = (
            cell(second, "cable L2", "colour")
            if cell(second, "cable L2", "colour").count()
            else cell(second, "cable L2", "length")
        )
        target.click()
        field = second.get_by_role("textbox", name=re.compile("of cable L2"))
        field.fill("1.1 m")
        edited(second, lambda: field.press("Enter"))
        text = path.read_text(encoding="utf-8")
        assert "new-place" in text
        assert "1.1 m" in text
    finally:
        path.write_bytes(before)


def test_printing_leaves_the_controls_out(signals):
    signals.emulate_media(media="print")
    assert not signals.get_by_label("Controls", exact=True).is_visible()
    assert signals.locator(".drawings svg").first.is_visible()


def test_a_telephone_shows_the_whole_width_of_a_plate(opening):
    """Nothing is slid sideways before *Closer* is pressed, and two fingers may enlarge the page (WCAG 2.2, 1.4.4)."""
    page = opening("/service/signals")
    page.locator(".drawings svg").first.wait_for()
    page.set_viewport_size({"width": 360, "height": 780})
    wide = "d => [d.scrollWidth, d.clientWidth]"
    whole, seen = page.locator("#drawings").evaluate(wide)
    assert whole <= seen
    assert not re.search(
        r"user-scalable|maximum-scale", page.locator("meta[name=viewport]").get_attribute("content")
    )
    page.get_by_role("button", name="Closer").click()
    whole, seen = page.locator("#drawings").evaluate(wide)
    assert whole > seen
