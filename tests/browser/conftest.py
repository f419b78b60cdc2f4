"""A browser with the network off, and the pages of the hand-made report."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from typing import Any

import pytest

from district.render import write_morning, write_pages
from tests.render.mornings import morning

NAMES = ("chromium", "chromium-browser", "google-chrome")


@pytest.fixture(scope="session")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder with all pages of the hand-made report and morning of tests/render."""
    place = Path(__file__).parents[1] / "render" / "conftest.py"
    spec = spec_from_file_location("hand_made_report", place)
    assert spec is not None
    assert spec.loader is not None
    hand_made = module_from_spec(spec)
    spec.loader.exec_module(hand_made)
    out = tmp_path_factory.mktemp("browser") / "maps"
    write_pages(hand_made.build(), out)
    write_morning(morning(), out)
    return out


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Chromium; without it the tests are passed over, or fail if the environment demands it."""
    program = next((found for name in NAMES if (found := shutil.which(name))), None)
    if program is None:
        said = "no Chromium here: `apt install chromium` brings it"
        if os.environ.get("DISTRICT_REQUIRE_BROWSER") == "1":
            pytest.fail(said, pytrace=False)
        pytest.skip(said)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield running
        running.close()


class Watched:
    """A page, what it asked for, and what it complained of."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.asked: list[str] = []
        self.complaints: list[str] = []
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("dialog", lambda dialog: self.complaints.append(f"dialog {dialog.message}"))
        page.on("console", lambda message: self.complaints.append(message.text))

    def strangers(self) -> list[str]:
        """Requests other than the page itself."""
        own = self.page.url.split("#")[0]
        return [url for url in self.asked if url != own and not url.startswith("data:")]


@pytest.fixture
def opened_from(browser: Any) -> Iterator[Any]:
    """`opened_from(folder)` gives a function that opens its pages from disk, network off."""
    contexts = []

    def of_folder(folder: Path) -> Any:
        def open_page(name: str, width: int = 1280, height: int = 800) -> Watched:
            touch = width < 700
            context = browser.new_context(
                viewport={"width": width, "height": height}, offline=True, has_touch=touch
            )
            contexts.append(context)
            context.set_default_timeout(10_000)
            watched = Watched(context.new_page())
            watched.page.goto((folder / name).as_uri())
            return watched

        return open_page

    yield of_folder
    for context in contexts:
        context.close()


@pytest.fixture
def opened(opened_from: Any, pages: Path) -> Any:
    """`opened(name, width, height)` opens one of the pages of the report or the morning."""
    return opened_from(pages)
