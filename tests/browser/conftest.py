"""One browser for all tests of the page; it is started where a test asks for it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.browser import Browser
from tests.support.toolchain import needed


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """Debian's Chromium with an empty profile."""
    needed("chromium", "chromedriver", "pdftotext")
    one = Browser(tmp_path_factory.mktemp("profile"))
    yield one
    one.close()


@pytest.fixture(scope="session")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the pages under test are written."""
    return tmp_path_factory.mktemp("pages")
