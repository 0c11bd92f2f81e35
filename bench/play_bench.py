"""How fast the door's program plays in a page: door seconds to real ones, in Chromium without a screen.

The page is that of `sunsched play`, opened from a file as a keeper opens it. Without Chromium there is no figure.
"""

from __future__ import annotations

import datetime as dt
import shutil
import tempfile
from pathlib import Path

from sunsched.config import toml_file
from sunsched.report.play.page import play_html
from tests.browser.browser import Browser

CONFIG = Path(__file__).parents[1] / "configs" / "larch_end.toml"
DAYS = 20
MEASURE = """
const [days, done] = arguments, data = JSON.parse(document.getElementById('play-data').textContent);
const seconds = days * 86400, rate = (began) => (1000 * seconds) / (performance.now() - began);
(async () => {
  const module = await WebAssembly.compile(bytesOf(data.wasm)), world = new World(module, data);
  let began = performance.now();
  await world.start(100, 'evening', 'clear');
  const start = performance.now() - began;
  began = performance.now();
  world.live(seconds);
  const whole = rate(began);
  began = performance.now();
  for (let second = 0; second < seconds; second++) world.door.second(500 + (second & 255));
  done([start, whole, rate(began)]);
})();
"""


def figures() -> dict[str, float]:
    """Door seconds a second: with sky, weather and log (`world`), the program alone (`program`); a start [ms]."""
    if shutil.which("chromium") is None or shutil.which("chromedriver") is None:
        return {}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "evening.html"
        path.write_text(play_html(toml_file.read(str(CONFIG)), 2027, dt.date(2027, 3, 20)), encoding="utf-8")
        browser = Browser(Path(folder) / "profile")
        try:
            browser.open(path)
            browser.driver.set_script_timeout(120)
            found = [browser.driver.execute_async_script(MEASURE, DAYS) for _ in range(3)]
        finally:
            browser.close()
    start_ms, world, program = (sorted(one)[1] for one in zip(*found, strict=True))
    return {"start_ms": float(start_ms), "world": float(world), "program": float(program)}
