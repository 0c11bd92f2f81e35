"""The planner's page in Chromium: from asking for a year to its redrawn map, beside an empty round trip; and memory.

    python -m bench.planner_bench [SITE ...]   each shipped site, 40 changes of the minutes later
    python -m bench.planner_bench --memory     1,000 changes of one site: what planner and page hold

A change is made as a keeper makes it, in the field; the time runs from the request for the year to the first frame that
shows its map. The page's own pause, in which it waits for more changes, is not in it. "beside slow work" changes while
birds, table and battery of the setting before are being worked out.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.browser.browser import Browser

ROOT = Path(__file__).parents[1]
CHANGES, MEMORY_CHANGES, FIRST_MEMORY = 40, 1000, 100
GOAL_MS = 100.0

# Notes when a year is asked for and when a frame with its map is shown.
_WATCH = """
const asked = window.fetch;
window.benchTimes = [];
let begun = 0;
window.fetch = (address, more) => {
  if (address === '/api/plan' && !JSON.parse(more.body).before) begun = performance.now();
  return asked(address, more);
};
const shown = () => window.benchTimes.push(performance.now() - begun);
new MutationObserver(() => requestAnimationFrame(() => setTimeout(shown)))
  .observe(document.getElementById('now-map'), { childList: true });
"""
_CHANGE = """
const [value, pause, done] = arguments;
const field = document.getElementById('field-evening.later_min');
const before = window.benchTimes.length;
const wait = () => {
  if (window.benchTimes.length > before) setTimeout(done, pause, window.benchTimes.at(-1));
  else setTimeout(wait, 5);
};
field.value = String(value);
field.dispatchEvent(new Event('input', { bubbles: true }));
wait();
"""
_ROUND_TRIP = """
const [key, count, done] = arguments;
(async () => {
  const headers = { 'x-planner-key': key, 'content-type': 'application/json' };
  const times = [];
  for (let n = 0; n < count; n += 1) {
    const begun = performance.now();
    await (await fetch('/api/none', { method: 'POST', headers, body: '{}' })).text();
    times.push(performance.now() - begun);
  }
  done(times);
})();
"""


@contextlib.contextmanager
def planner(config: Path) -> Iterator[tuple[str, int]]:
    """A planner as a process of its own: its address and process id."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / config.name
        copy.write_bytes(config.read_bytes())
        words = [sys.executable, "-m", "sunsched", "planner", str(copy), "--no-browser", "--quiet"]
        env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=env) as process:
            assert process.stdout is not None
            try:
                yield process.stdout.readline().strip(), process.pid
            finally:
                process.terminate()


def opened(browser: Browser, address: str) -> None:
    """Open the page, wait for its first year and for what takes long."""
    browser.driver.get("about:blank")
    browser.go(address)
    while not browser.run("const d = document.body.dataset; return d.settled && d.settled === d.drawn"):
        time.sleep(0.05)
    browser.driver.set_script_timeout(60)
    browser.run(_WATCH)


def changes(browser: Browser, count: int, pause_ms: int) -> list[float]:
    """The time of each change to its map [ms]; the next one comes `pause_ms` after it."""
    return [float(browser.driver.execute_async_script(_CHANGE, 1 + n % 50, pause_ms)) for n in range(count)]


def figures(config: Path, browser: Browser) -> dict[str, float]:
    """Medians [ms] of one site."""
    with planner(config) as (address, _):
        opened(browser, address)
        key = address.partition("k=")[2]
        trips: Any = browser.driver.execute_async_script(_ROUND_TRIP, key, 50)
        return {
            "round_trip": statistics.median(trips),
            "redrawn": statistics.median(changes(browser, CHANGES, 0)),
            "beside_slow": statistics.median(changes(browser, CHANGES // 2, 700)),
        }


def resident_kb(pid: int) -> int:
    """Memory of a process [kB], as Linux says."""
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmRSS:")).split()[1])


def memory(config: Path, browser: Browser) -> list[tuple[int, int, float]]:
    """Changes made, the planner's memory [kB] and the page's heap [MB] after a collection."""
    found = []
    with planner(config) as (address, pid):
        opened(browser, address)
        made = 0
        for stop in (FIRST_MEMORY, MEMORY_CHANGES // 2, MEMORY_CHANGES):
            changes(browser, stop - made, 0)
            made = stop
            browser.command("HeapProfiler.collectGarbage", {})
            heap = browser.command("Runtime.getHeapUsage", {})
            found.append((made, resident_kb(pid), heap["usedSize"] / 1e6))
    return found


def main() -> None:
    """Print what was asked for."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    words.add_argument("sites", nargs="*", help="names of shipped configurations; none: all")
    words.add_argument("--memory", action="store_true")
    asked = words.parse_args()
    configs = [one for one in sorted((ROOT / "configs").glob("*.toml")) if not asked.sites or one.stem in asked.sites]
    with tempfile.TemporaryDirectory() as profile:
        browser = Browser(Path(profile))
        try:
            if asked.memory:
                print("changes  planner kB  page's heap MB")
                for made, kb, mb in memory(ROOT / "configs" / "larch_end.toml", browser):
                    print(f"{made:7}  {kb:10}  {mb:.1f}")
                return
            print(f"load {os.getloadavg()[0]:.1f}; goal {GOAL_MS:.0f} ms at the median; x: empty round trips")
            print("site            round trip ms  redrawn ms     x  beside slow work ms     x")
            for config in configs:
                one = figures(config, browser)
                trip, redrawn, slow = one["round_trip"], one["redrawn"], one["beside_slow"]
                whole = f"{config.stem:15} {trip:13.1f} {redrawn:11.1f} {redrawn / trip:5.1f}"
                print(f"{whole} {slow:20.1f} {slow / trip:5.1f}", flush=True)
        finally:
            browser.close()


if __name__ == "__main__":
    main()
