"""The report in a real browser: nothing runs, nothing is fetched, nothing scrolls sideways.

Skipped only where no Chromium is installed (``apt-get install chromium chromium-driver``).
"""

import math
import re
from pathlib import Path

import pytest
from browsers import axe_problems, headless, needs_browser, shaped

from fieldsim.report.report import PAGE_NAME, make_report, save_report

GEOMETRIES = Path(__file__).parents[2] / "geometries"
TITLE = "<script>document.title='run'</script><img src=x onerror=\"document.title='run'\"> & <b>"

pytestmark = needs_browser

SIZES = {"phone": (360, 740), "desk": (1280, 900)}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a report of two designs, one with lamps and a hostile title, and of one that fails."""
    place = tmp_path_factory.mktemp("report")
    text = (GEOMETRIES / "lamp_ring.yaml").read_text(encoding="utf-8")
    quoted = "'" + TITLE.replace("'", "''") + "'"
    odd = place / "odd.yaml"
    odd.write_text(re.sub(r"^title: .*$", lambda _: f"title: {quoted}", text, flags=re.M),
                   encoding="utf-8")  # fmt: skip
    bad = place / "bad.yaml"
    bad.write_text("title: bad\n", encoding="utf-8")
    files = [str(odd), str(bad), str(GEOMETRIES / "one_rotor.yaml")]
    save_report(make_report(files, 3 * math.pi), place / "out")
    return place / "out"


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    with headless(tmp_path_factory.mktemp("profile")) as driver:
        yield driver


@pytest.fixture(params=[(size, theme) for size in SIZES for theme in ("light", "dark")],
                ids=lambda pair: "-".join(pair))  # fmt: skip
def page(request, browser, folder):
    """Return the browser with the report open, at every size and in every theme."""
    size, theme = request.param
    shaped(browser, *SIZES[size], theme, mobile=size == "phone")
    browser.get((folder / PAGE_NAME).as_uri())
    return browser


def test_console_is_silent(page):
    assert page.get_log("browser") == []


@pytest.mark.parametrize("page", [("phone", "light")], indirect=True)
def test_nothing_is_fetched(page, folder):
    log = "\n".join(entry["message"] for entry in page.get_log("performance"))
    asked = re.findall(r'"request":\{[^{}]*(?:\{[^{}]*\}[^{}]*)*"url":"([^"]*)"', log)
    # The browser's own first page shows up too.
    others = {url for url in asked if not url.startswith(("data:", "chrome:"))}
    assert others == {(folder / PAGE_NAME).as_uri()}


def test_no_sideways_scroll(page):
    wide = page.execute_script("return document.documentElement.scrollWidth")
    assert wide == page.execute_script("return document.documentElement.clientWidth")
    beyond = page.execute_script(
        """const edge = document.documentElement.clientWidth + 0.5;
           return [...document.querySelectorAll('main *, header *')].filter(e =>
             !e.closest('.scroll') && !e.closest('svg') &&
             e.getBoundingClientRect().right > edge).map(e => e.outerHTML)"""
    )
    assert beyond == []


@pytest.mark.parametrize("page", [("phone", "light")], indirect=True)
def test_markup_in_a_title_is_not_run(page):
    assert page.title == "3 designs compared at 90 rpm"
    assert page.execute_script("return document.scripts.length") == 0
    assert page.execute_script("return document.querySelectorAll('img, b, iframe').length") == 0
    assert TITLE in page.execute_script("return document.querySelector('.card h2').innerText")


def test_accessible(page):
    # The paths inside the pictures are many thousand and would take the checker minutes; the
    # words for each picture are on the element around them, which stays.
    page.execute_script(
        "document.querySelectorAll('figure > svg').forEach(s => s.replaceChildren())"
    )
    problems, passed = axe_problems(page)
    assert problems == []
    # the checker did look at words, pictures, tables and headings
    assert {"color-contrast", "svg-img-alt", "heading-order", "document-title"} <= passed


@pytest.mark.parametrize("page", [("phone", "light"), ("desk", "light")], indirect=True)
def test_first_screen_answers(page):
    """On a desk the questions and the numbers of the first design need no scrolling."""
    last = page.execute_script(
        "return document.querySelector('.numbers').getBoundingClientRect().bottom"
    )
    shown = page.execute_script("return window.innerHeight")
    assert last < (shown if shown > 800 else 1.4 * shown)


@pytest.mark.parametrize("page", [("desk", "light")], indirect=True)
def test_links(page, folder):
    links = page.execute_script(
        "return [...document.querySelectorAll('a')].map(a => a.getAttribute('href'))"
    )
    assert len(links) > 60
    for link in links:
        if link.startswith("#"):
            assert page.execute_script("return document.getElementById(arguments[0])", link[1:])
        else:
            assert (folder / link).stat().st_size > 0, link


@pytest.mark.parametrize("page", [("desk", "light")], indirect=True)
def test_tables_and_pictures(page):
    bare = page.execute_script(
        """return [...document.querySelectorAll('table')].filter(t =>
             !t.caption || !t.tHead.querySelector('th[scope=col]') ||
             [...t.tBodies[0].rows].some(r => !r.querySelector('th[scope=row]'))).length"""
    )
    assert bare == 0
    blind = page.execute_script(
        """return [...document.querySelectorAll('figure > svg')].filter(s =>
             s.getAttribute('role') != 'img' || s.getAttribute('aria-label').length < 20 ||
             s.getBoundingClientRect().width < 100).length"""
    )
    assert blind == 0
    assert page.execute_script("return document.querySelectorAll('figure > svg').length") >= 18


# Beside a desk's and a phone's, widths at which a page has one, two or just three columns.
WIDTHS = [320, 360, 480, 767, 768, 1000, 1151, 1152, 1280]


@pytest.mark.parametrize("page", [("desk", "light")], indirect=True)
@pytest.mark.parametrize("width", WIDTHS)
def test_no_column_is_hidden(page, width):
    page.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600},
    )
    hidden = page.execute_script(
        """return [...document.querySelectorAll('.scroll')].filter(s =>
             s.scrollWidth > s.clientWidth + 1).map(s => s.getAttribute('aria-label'))"""
    )
    assert hidden == []
    # Every cell is in sight with its column's name above or beside it.
    cells = page.execute_script(
        """return [...document.querySelectorAll('td')].map(td => {
             const box = td.getBoundingClientRect(), beside = getComputedStyle(td, '::before');
             const head = td.closest('table').tHead.rows[0].cells[td.cellIndex];
             const above = head.getBoundingClientRect();
             const named = beside.content === JSON.stringify(head.textContent);
             return box.width > 0 && box.right <= innerWidth &&
               (named || (above.left <= box.left + 1 && above.right >= box.right - 1))})"""
    )
    assert len(cells) > 150
    assert all(cells)


@pytest.mark.parametrize("page", [("desk", "light")], indirect=True)
@pytest.mark.parametrize("width", WIDTHS)
def test_figures_use_the_width_they_have(page, width):
    page.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600},
    )
    shares = page.execute_script(
        """return [...document.querySelectorAll('figure')].map(f => {
             const grid = f.closest('.grid'), style = getComputedStyle(grid);
             const column = parseFloat(style.gridTemplateColumns);
             return f.getBoundingClientRect().width / Math.min(column, 576)})"""
    )
    assert len(shares) >= 18
    assert all(share > 0.99 for share in shares)


@pytest.mark.parametrize("page", [("desk", "dark"), ("phone", "dark")], indirect=True)
def test_pictures_follow_the_theme(page):
    """No white paper and no dark ink is left in any picture, those of the machine among them."""
    card, ink = "rgb(27, 36, 45)", "rgb(232, 237, 242)"
    looks = page.execute_script(
        """return [...document.querySelectorAll('figure')].map(f => {
             const paths = [...f.querySelectorAll('path')].map(p => getComputedStyle(p));
             return [getComputedStyle(f).backgroundColor, paths[0].fill,
                     paths.filter(p => p.fill === 'rgb(255, 255, 255)').length,
                     paths.filter(p => p.fill === 'rgb(29, 39, 51)').length,
                     [...f.querySelectorAll('g, path')].map(e => getComputedStyle(e)).filter(
                       e => [e.fill, e.stroke].includes(arguments[0])).length]})""",
        ink,
    )
    assert len(looks) >= 18
    for paper, first, white, dark, inked in looks:
        assert paper == first == card
        assert white == dark == 0
        assert inked > 0


@pytest.mark.parametrize("page", [("desk", "dark")], indirect=True)
@pytest.mark.parametrize(("wide", "tall"), [(8.27, 11.69), (8.5, 11.0)], ids=["A4", "Letter"])
def test_prints_on_white_paper(page, wide, tall):
    import base64

    sheets = page.execute_cdp_cmd(
        "Page.printToPDF", {"paperWidth": wide, "paperHeight": tall, "printBackground": True}
    )
    pdf = base64.b64decode(sheets["data"])
    assert 6 <= len(re.findall(rb"/Type\s*/Page\b", pdf)) <= 30
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    # The width that is left between the margins, at 96 dots an inch.
    page.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": round((wide - 28 / 25.4) * 96), "height": 900, "deviceScaleFactor": 1,
         "mobile": True},  # without a bar to scroll by, as paper has none
    )  # fmt: skip
    assert page.execute_script("return getComputedStyle(document.body).backgroundColor") == (
        "rgb(255, 255, 255)"
    )
    cut = page.execute_script(
        """return [...document.querySelectorAll('.scroll')].filter(s =>
             s.scrollWidth > s.clientWidth + 1).map(s => s.getAttribute('aria-label'))"""
    )
    assert cut == []
    # Letters in figures are 8 points at least where a figure is 88 mm wide or wider.
    widths = page.execute_script(
        "return [...document.querySelectorAll('figure > svg')].map(s => s.clientWidth)"
    )
    assert min(widths) > 88 / 25.4 * 96 - 1.5
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
