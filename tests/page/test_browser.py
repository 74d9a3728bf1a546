"""The page in a real Chromium: the whole story, with and without scripts, and what a screen reader needs."""

from __future__ import annotations

import json
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import pytest
from page_kit import BEARER, CHROMIUM_FLAGS, LONGEST_WAIT_S, RunningPage, chromium_path
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 800}
PAGES = (
    "/", "/add", "/add/by-hand", "/mows", "/mows/1", "/lawns?pack=green+crate", "/minutes", "/live", "/more",
    "/compare", "/compare?changed_on=2025-01-01", "/record", "/seasons?pack=green+crate", "/conversion",
    "/conversion/motor",
    "/conversion/limits?fuse_a=30", "/list", "/list/pack", "/list/lawn?name=apple+rows",
    "/logbook", "/devices", "/pair?code=x", "/nope", "/waiting", "/mows/2/kept", "/life?pack=green+crate",
)  # fmt: skip


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Debian's Chromium without a window, only for this module: its event loop runs until it is closed."""
    path = chromium_path()
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(
            executable_path=path, args=CHROMIUM_FLAGS, timeout=1000 * LONGEST_WAIT_S
        )
        yield running
        running.close()


@pytest.fixture
def open_context(browser: Browser) -> Iterator[Any]:
    """Make browser contexts that are closed after the test."""
    contexts: list[BrowserContext] = []

    def opened(**options: Any) -> BrowserContext:
        contexts.append(browser.new_context(**options))
        contexts[-1].set_default_timeout(1000 * LONGEST_WAIT_S)
        return contexts[-1]

    yield opened
    for context in contexts:
        context.close()


def press(page: Page, role: Literal["button", "link"], name: str) -> None:
    """Press the first button or link with this name, and wait until the whole next page is there."""
    with page.expect_navigation():
        page.get_by_role(role, name=name).first.click()


@pytest.mark.parametrize(
    ("viewport", "scripts"),
    [(PHONE, False), (DESK, True)],
    ids=["phone-without-scripts", "desk-with-scripts"],
)
def test_from_an_empty_logbook_to_two_seasons(
    empty_page: RunningPage, open_context: Any, samples: Path, viewport: dict[str, int], scripts: bool
) -> None:
    page: Page = open_context(viewport=viewport, java_script_enabled=scripts).new_page()
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))

    page.goto(empty_page.address)
    assert page.locator("h1").inner_text() == "Three steps to a first answer"
    press(page, "link", "Describe the pack")
    page.get_by_label("What you call it").fill("green crate")
    page.get_by_label("Cells in series").fill("13")
    page.get_by_label("Rated capacity, Ah").fill("10.4")
    page.get_by_label("Motor stops at, V").fill("39")
    press(page, "button", "Keep it")
    page.goto(empty_page.address + "/list/lawn")
    page.get_by_label("What you call it").fill("apple rows")
    page.get_by_label("Area that is mown").fill("420")
    press(page, "button", "Keep it")
    assert "Described." in page.get_by_role("status").inner_text()

    for name in ("2024-04-13a.csv", "2024-07-06a", "2025-05-03a.csv"):
        paths = (
            [samples / name] if "." in name else [samples / f"{name}-amps.csv", samples / f"{name}-volts.csv"]
        )
        press(page, "link", "Add a mow")
        if scripts:
            with page.expect_navigation():  # read as soon as it is chosen
                page.locator("input[type=file]").set_input_files(paths)
        else:
            page.locator("input[type=file]").set_input_files(paths)
            press(page, "button", "Read it")
        keep = page.get_by_role("button", name="Keep this mow")
        assert keep.bounding_box()["y"] + 44 < viewport["height"], "in view without scrolling"  # type: ignore[index]
        page.get_by_text("What was recognised").click()
        assert page.locator("figure.picture:visible").count() == 1
        page.get_by_text("Damp", exact=False).first.click()
        page.get_by_text("Height, weather, tags").click()
        page.get_by_label("Height the cut takes off, mm").fill("24")
        began = page.get_by_label("Began")
        if not began.input_value() or (scripts and name == "2025-05-03a.csv"):  # it has the checkout's date
            began.fill("2025-05-03T10:00")
        press(page, "button", "Keep this mow")
        assert page.get_by_role("status").inner_text().startswith("Kept.")
        press(page, "link", "Look at it, or correct it")
        assert page.locator("figure.picture:visible").count() == 2

    page.goto(empty_page.address + "/lawns")
    assert page.get_by_text("of 1 lawn").is_visible()
    page.get_by_text("Why?").first.click()
    assert page.get_by_text("Made from").first.is_visible()
    page.goto(empty_page.address + "/seasons")
    assert page.locator("h2", has_text="What has changed").is_visible()
    assert "2024" in page.locator("main").inner_text()
    assert "2025" in page.locator("main").inner_text()
    assert complaints == []


@pytest.mark.parametrize(
    ("viewport", "scheme"), [(PHONE, "light"), (DESK, "dark")], ids=["phone", "desk-dark"]
)
def test_axe_finds_no_serious_fault(
    orchard_page: RunningPage, open_context: Any, viewport: dict[str, int], scheme: str
) -> None:
    """axe-core (Deque, MPL-2.0) with its rules for WCAG 2.0 to 2.2, levels A and AA, and best practices."""
    axe = (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
    page: Page = open_context(viewport=viewport, color_scheme=scheme, bypass_csp=True).new_page()
    faults = []
    for path in PAGES if viewport is PHONE else PAGES[::2]:
        page.goto(orchard_page.address + path)
        page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
        page.evaluate(axe)
        found = page.evaluate(
            "(tags) => axe.run(document, {runOnly: tags, resultTypes: ['violations']})", AXE_TAGS
        )
        assert len(found["passes"]) > 10, "axe has run"
        faults += [
            (path, each["id"], each["nodes"][0]["html"][:200])
            for each in found["violations"]
            if each["impact"] in ("serious", "critical")
        ]
    assert faults == [], json.dumps(faults, indent=1)


def test_pages_fit_a_phone_and_controls_a_thumb(orchard_page: RunningPage, open_context: Any) -> None:
    """WCAG 2.2, success criterion 2.5.8, requires 24 px; ours have 44 px (2.5.5), but not links in text."""
    page: Page = open_context(viewport=PHONE).new_page()
    for path in PAGES:
        page.goto(orchard_page.address + path)
        page.set_viewport_size({"width": 320, "height": 640})
        assert page.evaluate("document.documentElement.scrollWidth") <= 320, path
        page.set_viewport_size(PHONE)
        small = page.evaluate(
            """() => [...document.querySelectorAll("button, .button, select, summary, .ways a, label.choice,"
                 + " input:not([type=hidden]):not([type=checkbox]):not([type=radio])")]
                 .map((each) => [each.outerHTML.slice(0, 90), each.getBoundingClientRect()])
                 .filter(([_, box]) => box.height > 0 && (box.height < 44 || box.width < 44))
                 .map(([text, box]) => `${text} ${box.width}x${box.height}`)"""
        )
        assert small == [], path


def test_a_phone_on_its_side_shows_the_page_and_not_the_bar(
    orchard_page: RunningPage, open_context: Any
) -> None:
    """On a phone clamped to the handle there are only 390 px of height: nothing may cover the minutes."""
    page: Page = open_context(viewport={"width": 844, "height": 390}).new_page()
    for path in ("/live", "/mows/1"):
        page.goto(orchard_page.address + path)
        main, bar = page.locator("main").bounding_box(), page.locator(".ways").bounding_box()
        assert main and bar and main["y"] < 10 and bar["y"] >= main["y"] + main["height"], path
        assert page.evaluate("document.documentElement.scrollWidth") <= 844, path


def test_pictures_speak(orchard_page: RunningPage, open_context: Any) -> None:
    page: Page = open_context(viewport=PHONE).new_page()
    page.goto(orchard_page.address + "/mows/1")
    for picture in page.locator("figure svg.plot:visible").all():
        assert picture.get_attribute("role") == "img"
        label = picture.get_attribute("aria-labelledby")
        assert len(page.locator(f"#{label}").text_content() or "") > 10
        described = page.locator(f"#{picture.get_attribute('aria-describedby')}").text_content() or ""
        assert "minutes" in described


def test_files_can_be_dropped_and_are_named(
    orchard_page: RunningPage, open_context: Any, samples: Path
) -> None:
    page: Page = open_context(viewport=DESK).new_page()
    page.goto(orchard_page.address + "/minutes")
    page.locator("input[type=file]").set_input_files(samples / "2024-04-13a.csv")
    assert "2024-04-13a.csv (" in page.locator("[data-said]").inner_text()
    page.evaluate(
        """() => {
          const held = new DataTransfer();
          held.items.add(new File(["time_s,current_a,voltage_v"], "dropped.csv"));
          const box = document.querySelector("[data-drop]");
          box.dispatchEvent(new DragEvent("drop", {dataTransfer: held, bubbles: true, cancelable: true}));
        }"""
    )
    assert "dropped.csv (1 kB)" in page.locator("[data-said]").inner_text()


def test_files_that_are_too_large_are_told_before_they_are_sent(
    orchard_page: RunningPage, open_context: Any, tmp_path: Path
) -> None:
    page: Page = open_context(viewport=DESK).new_page()
    page.goto(orchard_page.address + "/add")
    page.evaluate("document.querySelector('input[type=file]').dataset.most = '100'")
    (tmp_path / "long.csv").write_text("1,2,3\n" * 50)
    page.locator("input[type=file]").set_input_files(tmp_path / "long.csv")
    assert "too large; send a shorter log" in page.locator("[data-said]").inner_text()
    page.get_by_role("button", name="Read it").click()
    assert page.url.endswith("/add"), "the form stays"


def test_a_form_is_sent_once_however_often_it_is_pressed(
    empty_page: RunningPage, open_context: Any, samples: Path
) -> None:
    page: Page = open_context(viewport=DESK).new_page()
    sent: list[str] = []
    page.on("request", lambda request: sent.append(request.method))
    page.goto(empty_page.address + "/add")
    page.evaluate("document.querySelector('form[data-at-once]').removeAttribute('data-at-once')")
    page.locator("input[type=file]").set_input_files(samples / "2024-04-13a.csv")
    page.get_by_role("button", name="Read it").dblclick()
    page.wait_for_url("**/add/*")
    assert sent.count("POST") == 1


def test_a_lawn_named_like_a_script_stays_a_name(empty_page: RunningPage, open_context: Any) -> None:
    page: Page = open_context(viewport=DESK).new_page()
    alarms: list[str] = []
    page.on("dialog", lambda dialog: (alarms.append(dialog.message), dialog.dismiss()))
    page.goto(empty_page.address + "/list/lawn")
    name = "<script>alert(1)</script><img src=x onerror=alert(2)>"
    page.get_by_label("What you call it").fill(name)
    page.get_by_label("Area that is mown").fill("420")
    press(page, "button", "Keep it")
    for path in ("/list", "/", "/lawns", "/mows", "/compare", "/capacity"):
        page.goto(empty_page.address + path)
    page.goto(empty_page.address + "/list")
    assert page.get_by_role("link", name=name).is_visible()
    assert alarms == []


def test_the_keyboard_reaches_the_content_first(orchard_page: RunningPage, open_context: Any) -> None:
    page: Page = open_context(viewport=DESK).new_page()
    page.goto(orchard_page.address)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    assert page.locator(".skip").bounding_box()["x"] >= 0  # type: ignore[index]


def test_trouble_is_in_focus_a_link_opens_what_it_names_and_a_press_is_seen(
    orchard_page: RunningPage, open_context: Any
) -> None:
    page: Page = open_context(viewport=PHONE).new_page()
    page.goto(orchard_page.address + "/conversion/cable?size=thick&one_way_m=1")
    page.wait_for_function("document.activeElement.classList.contains('trouble')")
    page.goto(orchard_page.address + "/mows/1")
    page.get_by_role("link", name="Correct it or remove it").click()
    page.wait_for_function("document.querySelector('#lawn').checkVisibility()")
    assert not page.evaluate("document.body.classList.contains('busy')"), "it leads nowhere else"
    page.evaluate("addEventListener('click', (event) => event.preventDefault())")
    page.get_by_role("link", name="Lawns").first.click()
    assert page.evaluate("document.body.classList.contains('busy')")


def test_paper_shows_what_is_open_and_pictures_that_leave_no_half_page_white(
    orchard_page: RunningPage, open_context: Any
) -> None:
    """A picture that does not fit moves to the next page and leaves its height white on this one."""
    page: Page = open_context(viewport={"width": 760, "height": 1075}).new_page()  # A4 within usual margins
    for _ in range(2):  # a caution is folded from the second time on
        page.goto(orchard_page.address + "/mows/1")
    page.emulate_media(media="print")
    heights = [each.bounding_box()["height"] for each in page.locator("figure.picture").all()]  # type: ignore[index]
    assert heights and max(heights) < 1075 * 0.45
    assert page.locator("figure.picture >> svg.plot").first.is_visible()
    assert not page.locator("summary", has_text="Why?").first.is_visible(), "folded away, it says nothing"
    folded = page.locator(".caution p").evaluate_all(
        "(all) => all.map((each) => each.getBoundingClientRect().height)"
    )
    assert folded and min(folded) > 10, "a caution is said on paper, folded away or not"


def test_a_page_without_a_mow_turns_to_one_that_begins(empty_page: RunningPage, open_context: Any) -> None:
    page: Page = open_context(viewport=PHONE).new_page()
    page.goto(empty_page.address + "/live")
    assert "No mow is running." in page.locator("main").inner_text()
    readings = "\n".join(f"{k},4.1,{53 - 0.01 * k:.2f}" for k in range(60))
    with empty_page.visitor() as logger:
        logger.post("/api/live", json={"mow": "a", "first": 0, "readings": readings}, headers=BEARER)
    page.get_by_role("heading", name="Done mowing?").wait_for()
    assert "No mow is running." not in page.locator("main").inner_text()
