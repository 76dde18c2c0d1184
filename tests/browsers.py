"""A headless Chromium for the tests that need one."""

from __future__ import annotations

import shutil
from contextlib import contextmanager

import pytest

BROWSER, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")

needs_browser = pytest.mark.skipif(
    BROWSER is None or DRIVER is None, reason="no chromium and chromedriver are installed"
)


@contextmanager
def headless(profile, downloads=None):
    """Yield a driver of a browser with an empty profile that logs its console and requests."""
    from selenium import webdriver
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    options = Options()
    options.binary_location = BROWSER
    for switch in (
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        f"--user-data-dir={profile}",
    ):
        options.add_argument(switch)
    if downloads is not None:
        options.add_experimental_option("prefs", {"download.default_directory": str(downloads)})
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    try:
        yield driver
    finally:
        driver.quit()


def shaped(driver, width, height, theme="light", *, mobile=False, still=False):
    """Give the browser's window a size, a theme, and the wish for reduced motion."""
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": mobile},
    )
    wishes = [{"name": "prefers-color-scheme", "value": theme},
              {"name": "prefers-reduced-motion", "value": "reduce" if still else ""}]  # fmt: skip
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": wishes})


def axe_problems(driver):
    """Return what the accessibility checker finds wrong, and the rules that it saw kept."""
    from axe_core_python.selenium import Axe

    found = Axe().run(driver)
    problems = [
        f"{v['id']}: {node['html'][:120]} {node['failureSummary'][:200]}"
        for v in found["violations"]
        for node in v["nodes"]
    ]
    return problems, {rule["id"] for rule in found["passes"]}
