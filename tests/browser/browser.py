"""Debian's Chromium without a screen, driven through its own chromedriver: the page as a keeper meets it."""

from __future__ import annotations

import base64
import json
import os
import re
import shutil
import subprocess
from importlib import resources
from pathlib import Path
from typing import Any

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

FLAGS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--hide-scrollbars"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage"),
)
NARROW, PHONE, TABLET, DESKTOP = (320, 700), (390, 844), (768, 1024), (1280, 900)
A4_INCH, LETTER_INCH = (8.268, 11.693), (8.5, 11.0)


def axe_source() -> str:
    """axe-core's script: the one that AXE_CORE names, else the test package's (4.4.3)."""
    named = os.environ.get("AXE_CORE")
    script = Path(named) if named else Path(str(resources.files("axe_core_python"))) / "axe.min.js"
    return script.read_text(encoding="utf-8")


_FIXED_DATE = """
const Real = Date;
globalThis.Date = class extends Real {
  constructor(...given) { given.length ? super(...given) : super(at); }
  static now() { return at; }
};
"""


class Browser:
    """One browser process with a profile of its own."""

    def __init__(self, profile: Path) -> None:
        options = Options()
        options.binary_location = shutil.which("chromium") or "chromium"
        for flag in (*FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        self.driver = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver")))
        self._clock = ""

    def open(self, path: Path, size: tuple[int, int] = DESKTOP, dark: bool = False) -> None:
        """Open a file at a window size, on a light or a dark screen; what was logged before is forgotten."""
        self.go(path.as_uri(), size, dark)

    def go(self, address: str, size: tuple[int, int] = DESKTOP, dark: bool = False) -> None:
        """The same for any address."""
        mode = {"features": [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]}
        self.command("Emulation.setEmulatedMedia", mode)
        metrics = {"width": size[0], "height": size[1], "deviceScaleFactor": 1, "mobile": size[0] < 600}
        self.command("Emulation.setDeviceMetricsOverride", metrics)
        self.driver.get_log("browser")
        self.driver.get_log("performance")
        self.driver.get(address)

    def set_clock(self, iso_utc: str = "") -> None:
        """What pages opened from now on take for the present, such as 2027-06-21T19:50Z; none: the machine's time."""
        if self._clock:
            self.command("Page.removeScriptToEvaluateOnNewDocument", {"identifier": self._clock})
        source = f"const at = Date.parse({iso_utc!r}); {_FIXED_DATE}" if iso_utc else ""
        added = self.command("Page.addScriptToEvaluateOnNewDocument", {"source": source})
        self._clock = str(added["identifier"])

    def command(self, name: str, values: dict[str, Any]) -> Any:
        """A command of the browser's own protocol."""
        return self.driver.execute_cdp_cmd(name, values)

    def messages(self) -> list[str]:
        """What the console has said since the page was opened."""
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def requests(self) -> list[str]:
        """Every address asked for since the page was opened, but the browser's own pictures of its fields."""
        events = (json.loads(entry["message"])["message"] for entry in self.driver.get_log("performance"))
        urls = [e["params"]["request"]["url"] for e in events if e["method"] == "Network.requestWillBeSent"]
        return [url for url in urls if not url.startswith("data:")]

    def run(self, script: str, *values: Any) -> Any:
        """The value of a script's return."""
        return self.driver.execute_script(script, *values)

    def faults_found_by_axe(self) -> list[str]:
        """What axe-core finds, each with the elements it means."""
        self.run(axe_source())
        found = self.driver.execute_async_script(
            "const done = arguments[0]; axe.run(document, {resultTypes: ['violations']}).then(done);"
        )
        return [f"{v['id']}: {[n['html'][:160] for n in v['nodes'][:3]]}" for v in found["violations"]]

    def pdf(self, path: Path, paper_inch: tuple[float, float]) -> str:
        """Print to a file on a paper [inches]; returns the text on its pages, laid out, form feeds between pages."""
        values = {"paperWidth": paper_inch[0], "paperHeight": paper_inch[1], "preferCSSPageSize": False}
        content = self.command("Page.printToPDF", {**values, "printBackground": True})["data"]
        path.write_bytes(base64.b64decode(content))
        done = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, check=True, timeout=60)
        return done.stdout.decode()

    def picture(self, path: Path) -> None:
        """The whole page as a PNG file."""
        size = self.command("Page.getLayoutMetrics", {})["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}
        shot = self.command("Page.captureScreenshot", {"clip": clip, "captureBeyondViewport": True})
        path.write_bytes(base64.b64decode(shot["data"]))

    def close(self) -> None:
        """End the browser."""
        self.driver.quit()


def boxes_outside_paper(path: Path) -> list[str]:
    """Words of a PDF that reach beyond their page, by pdftotext's boxes."""
    done = subprocess.run(["pdftotext", "-bbox", path, "-"], capture_output=True, check=True, timeout=60)
    found, width, height = [], 0.0, 0.0
    for line in done.stdout.decode().splitlines():
        page = re.search(r'<page width="([\d.]+)" height="([\d.]+)"', line)
        if page:
            width, height = float(page[1]), float(page[2])
        word = re.search(r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" yMax="([-\d.]+)">(.*)</word>', line)
        if word:
            left, top, right, low = (float(word[k]) for k in range(1, 5))
            if left < 0 or top < 0 or right > width or low > height:
                found.append(f"{word[5]} at {left},{top}")
    return found
