"""The look: contrast at WCAG 2.2 AA in light and dark, nothing inline, nothing from elsewhere."""

from __future__ import annotations

import re
from importlib.resources import files

import httpx
import pytest

from estimator.report.pictures import style

CSS = (files("estimator.page") / "static" / "mow.css").read_text(encoding="utf-8")
TEMPLATES = sorted((files("estimator.page") / "templates").iterdir(), key=lambda each: each.name)  # type: ignore[arg-type, return-value]


def palette(dark: bool) -> dict[str, str]:
    """Named colours of the style sheet; the dark ones are in the second block."""
    blocks = re.findall(r":root \{(.*?)\}", CSS, re.DOTALL)
    found = dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{6});", blocks[0]))
    return found | dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{6});", blocks[1])) if dark else found


def luminance(colour: str) -> float:
    """Relative luminance: WCAG 2.2, definition of "relative luminance"."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio: WCAG 2.2, definition of "contrast ratio"."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_of_known_pairs() -> None:
    """Black on white is 21:1 by definition; #767676 on white is known as the lightest grey over 4.5:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert 4.5 <= contrast("#767676", "#ffffff") < 4.6
    assert contrast("#777777", "#ffffff") < 4.5


TEXT = [
    ("ink", "paper"), ("ink", "sheet"), ("ink", "stripe-a"), ("ink", "stripe-b"), ("ink", "clay-wash"),
    ("soft", "paper"), ("soft", "sheet"), ("on-press", "press"),
    ("clay", "paper"), ("clay", "sheet"), ("link", "paper"), ("link", "sheet"), ("link", "stripe-b"),
]  # fmt: skip
SHAPES = [
    ("rule", "paper"), ("rule", "sheet"), ("focus", "paper"), ("focus", "sheet"), ("river", "sheet"),
    ("brick", "sheet"), ("plum", "sheet"), ("moss", "sheet"), ("ink", "unmown"), ("mown-a", "unmown"),
    ("press", "stripe-a"), ("press", "stripe-b"), ("focus", "stripe-b"), ("mown-b", "unmown"),
]  # fmt: skip


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize(("front", "back"), TEXT)
def test_text_stands_out(front: str, back: str, dark: bool) -> None:
    """WCAG 2.2, success criterion 1.4.6 (AAA): 7:1, for reading in sunlight."""
    colours = palette(dark)
    assert contrast(colours[front], colours[back]) >= 7.0


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize(("front", "back"), SHAPES)
def test_shapes_stand_out(front: str, back: str, dark: bool) -> None:
    """WCAG 2.2, success criterion 1.4.11: 3:1 for borders of controls, focus marks and curves."""
    colours = palette(dark)
    assert contrast(colours[front], colours[back]) >= 3.0


def test_every_colour_of_a_figure_has_its_own_on_the_page() -> None:
    for colour in (*style.PALETTE, style.PALE, style.PAPER):
        assert f'[fill="{colour}"]' in CSS or f'[stroke="{colour}"]' in CSS


def test_controls_are_as_large_as_a_thumb() -> None:
    """Common practice is 44 px or more; WCAG 2.2 requires 24 px (2.5.8), and 44 px at AAA (2.5.5)."""
    root_px = 16 * float(re.search(r"html \{ font-size: ([0-9.]+)%", CSS)[1]) / 100  # type: ignore[index]
    for rule in (
        r"\.button, button \{[^}]*",
        r"input, select \{[^}]*",
        r"\.choice \{[^}]*",
        "summary {[^}]*",
    ):
        heights = re.findall(r"min-height: ([0-9.]+)rem", re.search(rule, CSS)[0])  # type: ignore[index]
        assert heights and all(float(each) * root_px >= 44 for each in heights)


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda each: each.name)
def test_templates_have_nothing_inline_and_nothing_foreign(template: object) -> None:
    text = template.read_text(encoding="utf-8")  # type: ignore[attr-defined]
    assert " style=" not in text
    assert "<style" not in text
    assert not re.search(r"\son[a-z]+=", text)
    assert not re.search(r"<script(?![^>]*\bsrc=)", text)
    assert not re.search(r"https?:|[\"'(]//", text)
    if re.search(r"import [^%]*\b(take_care|cautions)\b", text) and template.name != "live_now.html":  # type: ignore[attr-defined]
        assert "with context %}" in text, "which cautions were shown before is known to the page alone"
    assert not re.search(r"\{\{[^}]*\|\s*safe", text) or template.name == "bits.html"  # type: ignore[attr-defined]


def test_static_files_ask_for_nothing_elsewhere() -> None:
    for name in ("mow.css", "mow.js", "sign.svg"):
        text = (files("estimator.page") / "static" / name).read_text(encoding="utf-8")
        addresses = re.findall(r"https?://[^\s\"')]+|url\([^)]*\)|@import[^;]*", text)
        assert [each for each in addresses if not each.startswith("http://www.w3.org/2000/svg")] == []


def test_assets_carry_their_hash_and_only_that(reader: httpx.Client) -> None:
    page = reader.get("/").text
    address, integrity = re.search(r'href="(/own/mow[^"]+)" integrity="(sha384-[^"]+)"', page).groups()  # type: ignore[union-attr]
    answer = reader.get(address)
    assert answer.headers["cache-control"].endswith("immutable")
    assert answer.headers["content-type"].startswith("text/css")
    import base64
    import hashlib

    assert "sha384-" + base64.b64encode(hashlib.sha384(answer.content).digest()).decode() == integrity
    for wrong in (
        "/own/mow.css",
        "/own/mow.0000000000000000.css",
        "/own/../settings.py",
        "/own/%2e%2e/app.py",
    ):
        assert reader.get(wrong).status_code == 404


def test_a_phone_finds_what_its_home_screen_needs(reader: httpx.Client) -> None:
    """W3C Web Application Manifest, with icons of 192 and 512 px and one that can be cut to any shape."""
    address = re.search(r'rel="manifest" href="([^"]+)"', reader.get("/").text)[1]  # type: ignore[index]
    answer = reader.get(address)
    assert answer.headers["content-type"].startswith("application/manifest+json")
    manifest = answer.json()
    assert manifest["start_url"] == manifest["scope"] == "/"
    assert manifest["share_target"]["action"] == "/add/shared"
    for icon in manifest["icons"]:
        shown = reader.get(icon["src"])
        assert shown.headers["content-type"] == icon["type"]
        if icon["type"] == "image/png":
            pixels = [int.from_bytes(shown.content[place : place + 4]) for place in (16, 20)]
            assert f"{pixels[0]}x{pixels[1]}" == icon["sizes"], "as its header says: ISO 15948, IHDR"
    assert {icon.get("purpose", "any") for icon in manifest["icons"]} == {"any", "maskable"}
