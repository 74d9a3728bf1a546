"""Pictures that answer a finger, in a real Chromium: values, a closer look, type to be read."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from page_kit import CHROMIUM_FLAGS, LONGEST_WAIT_S, RunningPage, chromium_path
from playwright.sync_api import Page, sync_playwright

from estimator.answers.figures.mow_log import log_of_mow
from estimator.logbook import open_logbook

PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def page(orchard_page: RunningPage) -> Iterator[Page]:
    """The first mow on a phone that is touched."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=chromium_path(), args=CHROMIUM_FLAGS, timeout=1000 * LONGEST_WAIT_S
        )
        page = browser.new_context(viewport=PHONE, has_touch=True).new_page()
        page.set_default_timeout(1000 * LONGEST_WAIT_S)
        page.goto(orchard_page.address + "/mows/1")
        yield page
        browser.close()


def test_a_finger_reads_what_the_readings_say(page: Page, orchard_page: RunningPage) -> None:
    """The amps and volts under the finger are those of the mow's log at that minute."""
    picture = page.locator("figure.picture").nth(1)
    picture.scroll_into_view_if_needed()
    box = picture.locator("svg.plot").first.bounding_box()
    assert box is not None
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + 40)
    said = picture.locator(".reads").inner_text()
    minute, amps, volts = (
        float(each)
        for each in re.fullmatch(
            r"time ([0-9.]+) min:.* as kept (-?[0-9.]+) A;.* as kept ([0-9.]+) V\.", said
        ).groups()  # type: ignore[union-attr]
    )
    with open_logbook(orchard_page.settings.logbook) as book:
        readings = log_of_mow(book, 1).readings
    near = readings[abs(readings["time_s"] / 60 - minute) < 0.12]
    for name, read, off in (("current_a", amps, 0.1), ("voltage_v", volts, 0.05)):
        assert near[name].min() - off <= read <= near[name].max() + off


def test_a_closer_look_and_the_whole_again(page: Page) -> None:
    picture = page.locator("figure.picture").nth(1)
    curves = picture.locator("svg.curves").first
    whole = curves.get_attribute("viewBox")
    picture.get_by_role("button", name="Closer").click()
    closer = [float(each) for each in (curves.get_attribute("viewBox") or "").split()]
    assert closer[2] == pytest.approx(5000)
    assert picture.locator("svg.curves").nth(1).get_attribute("viewBox") == curves.get_attribute("viewBox")
    picture.get_by_role("button", name="Whole").click()
    assert curves.get_attribute("viewBox") == whole


def test_type_is_twelve_pixels_at_least(page: Page) -> None:
    sizes = page.locator("svg.plot text").evaluate_all(
        "all => all.map((each) => parseFloat(getComputedStyle(each).fontSize))"
    )
    assert len(sizes) > 10
    assert min(sizes) >= 12
    heights = page.locator("svg.plot text").evaluate_all(
        "all => all.filter((each) => each.textContent).map((each) => each.getBoundingClientRect().height)"
    )
    assert min(heights) >= 12


def test_seasons_are_hidden_and_shown_by_their_names(page: Page, orchard_page: RunningPage) -> None:
    """A name that holds a figure with its unit stands on one line, and is the curve's name all the same."""
    page.goto(orchard_page.address + "/seasons?pack=green+crate")
    picture = page.locator("figure.picture").first
    button = picture.locator(".legend button").first
    assert "band" in button.inner_text()
    lines = picture.locator("path[data-name]:visible")
    before = lines.count()
    button.click()
    assert lines.count() < before


def test_another_mow_is_laid_over_and_hidden_again(page: Page, orchard_page: RunningPage) -> None:
    page.goto(orchard_page.address + "/mows/1?beside=4")
    picture = page.locator("figure.picture").nth(1)
    button = picture.locator(".legend button", has_text="202").last
    name = button.inner_text().strip()
    assert picture.locator(f'path[data-name="{name}"]:visible').count() == 2, "amps and volts"
    button.click()
    assert button.get_attribute("aria-pressed") == "false"
    assert picture.locator(f'path[data-name="{name}"]:visible').count() == 0
    mark = picture.locator(".shades rect[data-said]").first
    mark.scroll_into_view_if_needed()
    box = mark.bounding_box()
    assert box is not None
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    reason = mark.get_attribute("data-said") or "nothing"
    assert reason in picture.locator(".reads").inner_text()
