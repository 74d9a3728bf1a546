"""Take the README's picture: the page on a phone after a mow of the invented orchard was kept.

`python tests/readme/take_picture.py` writes `phone.png` beside this file.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "page"))

from page_kit import CHROMIUM_FLAGS, chromium_path, running_page  # noqa: E402

LOG = HERE.parents[1] / "sample_logs" / "2025-07-05a.csv"


def main() -> None:
    """Fill a throw-away logbook with the sample season, add one more mow, and look."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        demo = [sys.executable, "-m", "estimator.cli", "demo", "--folder", name]
        subprocess.run(demo, check=True, stdout=subprocess.DEVNULL)
        later = folder / "2025-10-18.csv"
        later.write_text(
            LOG.read_text(encoding="utf-8").replace("2025-07-05", "2025-10-18"), encoding="utf-8"
        )
        with running_page(folder / "demo-logbook.sqlite", folder) as page, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium_path(), args=CHROMIUM_FLAGS)
            phone = browser.new_page(viewport={"width": 390, "height": 844}, device_scale_factor=1.5)
            phone.set_default_timeout(300_000)
            phone.goto(f"{page.address}/add")
            phone.locator("input[type=file]").set_input_files(later)
            phone.locator("label", has_text="dry").first.click()
            phone.get_by_role("button", name="Keep this mow").click()
            phone.wait_for_url("**/kept")
            phone.screenshot(path=HERE / "phone.png")
            browser.close()


if __name__ == "__main__":
    main()
