"""Windows of a real browser, and how a test waits in them: for what its act brings about, never for a time."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from shutil import which
from typing import Any

from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright
from pytest_django.live_server_helper import LiveServer

from production.models import Membership

CHROMIUM = which("chromium-headless-shell") or which("chromium") or "chromium"
SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
AXE = (Path(__file__).parent / "vendor" / "axe.min.js").read_text()
TABLET, PHONE = (1024, 768), (390, 844)
PATIENCE_MS = 90_000  # only what fails takes so long
LOOK_EVERY_MS = 50


@contextmanager
def chromium_running() -> Iterator[Browser]:
    """A browser; its own loop runs in this thread, and the rows are still read and written by one thread at a time."""
    expect.set_options(timeout=PATIENCE_MS)
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=SWITCHES)
        yield chromium
        chromium.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


def close_all(browser: Browser) -> None:
    """Close the windows and let the server end what they asked for: nothing is written beside the next test."""
    for window in browser.contexts:
        window.close()
    for thread in threading.enumerate():
        if thread.name.endswith("(process_request_thread)"):
            thread.join(PATIENCE_MS / 1000)


def new_window(browser: Browser, live_server: LiveServer, size: tuple[int, int], **options: Any) -> BrowserContext:
    """A window in which nobody has signed in."""
    window = browser.new_context(base_url=live_server.url, viewport={"width": size[0], "height": size[1]}, **options)
    window.set_default_timeout(PATIENCE_MS)
    return window


def come_in(
    browser: Browser, live_server: LiveServer, by: Membership, size: tuple[int, int], *, scripts: bool = True
) -> BrowserContext:
    """A window in which this person has signed in."""
    window = new_window(browser, live_server, size, java_script_enabled=scripts)
    sign_in_as(window, live_server, by)
    return window


def sign_in_as(window: BrowserContext, live_server: LiveServer, by: Membership) -> None:
    """From now on what the window asks for is asked by this person."""
    client = Client()
    client.force_login(by.user)
    name = settings.SESSION_COOKIE_NAME
    window.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])


def until(page: Page, happened: str | Callable[[], bool]) -> None:
    """Ask again and again: the page, whose promises are waited for, or the rows."""
    for _ in range(PATIENCE_MS // LOOK_EVERY_MS):
        if page.evaluate(happened) if isinstance(happened, str) else happened():
            return
        page.wait_for_timeout(LOOK_EVERY_MS)
    raise AssertionError(happened)


def barriers(page: Page) -> list[str]:
    """What the accessibility checker finds wrong, with the place."""
    page.evaluate(AXE)
    found: list[Any] = page.evaluate('axe.run({resultTypes: ["violations"]}).then((found) => found.violations)')
    return [f"{each['id']} at {node['target']}" for each in found for node in each["nodes"]]


def width_beyond(page: Page) -> int:
    """How many pixels do not fit beside each other."""
    return int(page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))


def loaded_bytes(page: Page) -> dict[str, int]:
    """Our own files that the page has loaded, the letters included, with their sizes."""
    page.evaluate("document.fonts.ready.then(() => true)")
    files = page.evaluate("performance.getEntriesByType('resource').map((each) => [each.name, each.decodedBodySize])")
    return {name: size for name, size in files if "/static/" in name}
