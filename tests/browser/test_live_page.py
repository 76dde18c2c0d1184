"""The page with sliders in a real browser, its server started as a user starts it."""

import json
import re
import subprocess
import sys
import time

import pytest
from browsers import axe_problems, headless, needs_browser, shaped
from served import GEOMETRIES, served

pytestmark = needs_browser

LAMPS = (GEOMETRIES / "lamp_ring.yaml").read_text(encoding="utf-8")
SIZES = {"phone": (360, 740), "desk": (1280, 800)}


@pytest.fixture(scope="module")
def server():
    with served() as running:
        yield running


@pytest.fixture(scope="module")
def downloads(tmp_path_factory):
    return tmp_path_factory.mktemp("downloads")


@pytest.fixture(scope="module")
def browser(tmp_path_factory, downloads):
    with headless(tmp_path_factory.mktemp("profile"), downloads) as driver:
        driver.set_script_timeout(60)
        yield driver


@pytest.fixture
def page(browser, server):
    """Return the browser with a fresh page at desk size, its first answer shown."""
    shaped(browser, *SIZES["desk"])
    opened(browser, server.address)
    return browser


def opened(driver, address):
    driver.get("about:blank")
    driver.execute_cdp_cmd("Storage.clearDataForOrigin",
                           {"origin": re.match(r"http://[^/]+", address)[0],
                            "storageTypes": "all"})  # fmt: skip
    driver.get(address)
    driver.execute_script("sessionStorage.clear()")
    driver.get("about:blank")
    driver.get(address)
    settled(driver)


def settled(driver, seconds=30):
    """Wait until every move has its answer."""
    script = (
        "return !document.querySelector('main.waiting') && "
        "!!document.querySelector('#verdict')?.textContent"
    )
    until(lambda: driver.execute_script(script), seconds)


def until(true, seconds=30):
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it took too long"
        time.sleep(0.05)


def figures(driver):
    """Return the figures that the page shows, by name."""
    found = driver.execute_script(
        "return [...document.querySelectorAll('#figures [data-result]')]"
        ".map(e => [e.dataset.result, e.dataset.value])"
    )
    return {name: json.loads(value) for name, value in found}


def text_of(driver, selector):
    script = "return document.querySelector(arguments[0]).textContent"
    return driver.execute_script(script, selector)


def state(driver):
    """Return what the page would take away: the machine's text and the speed."""
    script = "return sessionStorage.getItem('work ' + document.body.dataset.key)"
    return json.loads(driver.execute_script(script))


def light_json(work, folder):
    file = folder / "machine.yaml"
    file.write_text(work["text"], encoding="utf-8")
    command = [sys.executable, "-m", "fieldsim", "light", str(file), "--json",
               "--crank-speed", f"{work['crank_rpm']} rpm"]  # fmt: skip
    return json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)


def slide(driver, path, value, settle=True):
    """Move a slider as a mouse would: input while it is dragged, change when it is let go."""
    driver.execute_script(
        """const s = document.querySelector(`input[type=range][data-parameter="${arguments[0]}"]`);
           s.value = arguments[1];
           s.dispatchEvent(new Event('input'));
           if (arguments[2]) s.dispatchEvent(new Event('change'));""",
        path, value, settle,
    )  # fmt: skip


def test_first_screen(page):
    assert page.get_log("browser") == []
    assert text_of(page, "#title") == "Two facing rotors light a ring of lamps"
    assert "6 x white LED light" in text_of(page, "#verdict")
    assert page.execute_script("return document.querySelectorAll('.lamp').length") == 6
    seen = page.execute_script(
        "return ['#verdict', '#scene', '#rpm-slider', '#lamps'].map(s =>"
        "document.querySelector(s).getBoundingClientRect().bottom)"
    )
    assert max(seen) < 800
    drawn = page.execute_script(
        """const c = document.querySelector('#scene'), d = c.getContext('2d')
             .getImageData(0, 0, c.width, c.height).data; let n = 0;
           for (let i = 3; i < d.length; i += 4) n += d[i] > 0; return n / (c.width * c.height)"""
    )
    assert 0.05 < drawn < 0.9


def test_nothing_comes_from_elsewhere(browser, server):
    browser.get_log("performance")
    opened(browser, server.address)
    log = "\n".join(entry["message"] for entry in browser.get_log("performance"))
    asked = set(re.findall(r'"url":"((?:http|ws)[^"]*)"', log))
    assert asked
    assert {re.match(r"\w+://[^/]+", url)[0] for url in asked} == {
        f"http://{server.host}:{server.port}"
    }


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_no_sideways_scroll_and_accessible(browser, server, size, theme):
    shaped(browser, *SIZES[size], theme, mobile=size == "phone", still=True)
    opened(browser, server.address)
    browser.execute_script("document.querySelector('#rest').open = true")
    wide = browser.execute_script("return document.documentElement.scrollWidth")
    assert wide == browser.execute_script("return document.documentElement.clientWidth")
    problems, passed = axe_problems(browser)
    assert problems == []
    assert {"color-contrast", "label", "document-title", "button-name"} <= passed
    for dialog, button in (("#text-dialog", "#open"), ("#take-dialog", "#take")):
        browser.execute_script("document.querySelector(arguments[0]).click()", button)
        until(lambda d=dialog: browser.execute_script(f"return document.querySelector('{d}').open"))
        assert axe_problems(browser)[0] == []
        browser.execute_script("document.querySelector(arguments[0]).close()", dialog)


def test_reduced_motion_stands_still(browser, server):
    shaped(browser, *SIZES["desk"], still=True)
    opened(browser, server.address)
    assert browser.execute_script(
        "return document.querySelector('#turning').getAttribute('aria-pressed')"
    ) == "false"  # fmt: skip
    picture = "return document.querySelector('#scene').toDataURL()"
    first = browser.execute_script(picture)
    time.sleep(0.5)
    assert browser.execute_script(picture) == first
    shaped(browser, *SIZES["desk"])
    opened(browser, server.address)
    first = browser.execute_script(picture)
    until(lambda: browser.execute_script(picture) != first, 5)


def test_every_usual_control_by_keyboard(page, tmp_path):
    from selenium.webdriver.common.keys import Keys

    names = page.execute_script(
        "return [...document.querySelectorAll('#speed, #groups .control')]"
        ".map(c => c.querySelector('input, select').id)"
    )
    assert len(names) > 15
    for name in names:
        before = state(page)
        field = page.find_element("id", name)
        kind = field.get_attribute("type")
        last = page.execute_script(
            "const f = arguments[0];return !!f.options && f.selectedIndex === f.options.length - 1",
            field,
        )
        key = Keys.ARROW_RIGHT if kind == "range" else Keys.ARROW_UP if last else Keys.ARROW_DOWN
        field.send_keys(key)
        until(lambda b=before: state(page) != b or text_of(page, "#trouble"), 20)
        settled(page)
        assert state(page) != before or text_of(page, "#trouble"), name
        if text_of(page, "#trouble"):
            page.find_element("id", "undo").click()
            settled(page)
    expected = light_json(state(page), tmp_path)
    shown = figures(page)
    assert shown["light.lamps[0].average_current_A"] == pytest.approx(
        expected["lamps"][0]["average_current_A"], rel=1e-3
    )


def test_a_slider_by_mouse_gives_the_figures_of_the_command_line(page, tmp_path):
    from selenium.webdriver.common.action_chains import ActionChains

    slider = page.find_element("css selector", "input[type=range][data-parameter=clearance]")
    ActionChains(page).move_to_element(slider).click_and_hold().move_by_offset(
        25, 0
    ).release().perform()
    settled(page)
    work = state(page)
    assert work["text"] != LAMPS
    expected = light_json(work, tmp_path)
    shown = figures(page)
    lamp, coil = expected["lamps"][0], expected["coils"]["pickup"]
    for name, value in (("lamps[0].average_current_A", lamp["average_current_A"]),
                        ("lamps[0].share_of_rated", lamp["share_of_rated"]),
                        ("coils.pickup.rms_current_A", coil["rms_current_A"]),
                        ("useful_power_W", expected["useful_power_W"])):  # fmt: skip
        assert shown[f"light.{name}"] == pytest.approx(value, rel=1e-3), name
    words = text_of(page, "#figures")
    assert f"{1e3 * lamp['average_current_A']:.2f} mA" in words


def test_undo_and_redo(page):
    first = state(page)["text"]
    slide(page, "clearance", 4)
    settled(page)
    moved = state(page)["text"]
    assert moved != first
    page.find_element("id", "undo").click()
    settled(page)
    assert state(page)["text"] == first
    page.find_element("id", "redo").click()
    settled(page)
    assert state(page)["text"] == moved


def test_one_drag_is_one_step_back(page):
    first = state(page)["text"]
    for value in (2.5, 3, 3.5, 4):
        slide(page, "clearance", value, settle=False)
        time.sleep(0.1)
    slide(page, "clearance", 4.5)
    settled(page)
    page.find_element("id", "undo").click()
    settled(page)
    assert state(page)["text"] == first


def test_parts_that_collide_leave_the_page_usable(page):
    shown = text_of(page, "#verdict")
    page.execute_script("document.querySelector('#rest').open = true")
    slide(page, "rotors.upper.magnets[0].height", 1)
    settled(page)
    until(lambda: "pickup" in text_of(page, "#trouble"))
    assert not page.execute_script("return document.querySelector('#trouble').hidden")
    assert text_of(page, "#verdict") == shown
    page.find_element("id", "undo").click()
    settled(page)
    assert page.execute_script("return document.querySelector('#trouble').hidden")


def test_an_error_in_the_text_is_shown_at_its_line(page):
    shown = text_of(page, "#verdict")
    page.find_element("id", "open").click()
    wrong = LAMPS.replace("remanence: 1.2 T", "remanence: strong")
    page.execute_script("document.querySelector('#text').value = arguments[0]", wrong)
    page.find_element("id", "use-text").click()
    until(lambda: text_of(page, "#text-problems"))
    line = 1 + wrong[: wrong.index("strong")].count("\n")
    assert f"line {line}, magnets.bar.remanence" in text_of(page, "#text-problems")
    page.execute_script("document.querySelector('#text-problems button').click()")
    chosen = page.execute_script(
        "const t = document.querySelector('#text');"
        "return t.value.slice(t.selectionStart, t.selectionEnd)"
    )
    assert chosen.strip() == "remanence: strong"
    right = wrong.replace("strong", "1 T").replace("title: Two", "title: <b>Two</b>")
    page.execute_script("document.querySelector('#text').value = arguments[0]", right)
    page.find_element("id", "use-text").click()
    until(lambda: not page.execute_script("return document.querySelector('#text-dialog').open"))
    settled(page)
    assert text_of(page, "#title").startswith("<b>Two</b> facing")
    assert text_of(page, "#verdict") != shown
    assert page.execute_script("return document.querySelectorAll('b').length") == 0


def test_a_file_that_is_no_machine_is_refused_in_words(page, tmp_path):
    first = state(page)
    page.find_element("id", "open").click()
    picture = b"\x89PNG\r\n\x1a\n" + bytes(range(256))
    for content, words in (
        (b"\x01" * 190_000, "larger than any machine"),
        (picture, "not valid YAML"),
    ):
        file = tmp_path / "picture.yaml"
        file.write_bytes(content)
        page.find_element("id", "upload").send_keys(str(file))
        until(lambda w=words: w in text_of(page, "#text-problems"), 10)
    page.execute_script("document.querySelector('#text-dialog').close()")
    assert page.execute_script("return document.querySelector('#trouble').hidden")
    assert state(page) == first


def test_a_value_that_is_refused_springs_back(page):
    from selenium.webdriver.common.keys import Keys

    entry = page.find_element("css selector", "[data-control=clearance] input[type=number]")
    for wrong in ("-500", ""):
        entry.clear()
        entry.send_keys(wrong, Keys.ENTER)
        settled(page)
        until(lambda: entry.get_property("value") == "2", 10)
    assert page.execute_script("return document.activeElement.type") == "number"
    assert text_of(page, "#verdict")


def test_link_brings_the_machine_back(page):
    slide(page, "clearance", 3.5)
    settled(page)
    work, shown = state(page), figures(page)
    page.find_element("id", "take").click()
    until(lambda: page.execute_script("return document.querySelector('#link').value"))
    link = page.execute_script("return document.querySelector('#link').value")
    page.execute_script("sessionStorage.clear()")
    page.get("about:blank")
    page.get(link)
    settled(page)
    assert state(page)["text"] == work["text"]
    assert figures(page)["light.useful_power_W"] == pytest.approx(
        shown["light.useful_power_W"], rel=1e-3
    )


def test_a_file_is_taken_away(page, downloads):
    page.find_element("id", "take").click()
    page.find_element("css selector", "[data-file='machine.yaml']").click()
    file = downloads / "machine.yaml"
    until(file.exists)
    assert "remanence: 1.2 T" in file.read_text(encoding="utf-8")


def test_before_and_now_side_by_side(page):
    page.find_element("id", "keep").click()
    slide(page, "clearance", 4)
    settled(page)
    row = page.execute_script(
        "return [...document.querySelectorAll('#figures tr')].find(r =>"
        "r.textContent.includes('average')).innerText"
    )
    numbers = re.findall(r"([\d.]+) mA", row)
    assert len(numbers) == 2
    assert float(numbers[0]) > float(numbers[1])
    assert page.execute_script("return document.querySelector('#before-scene').clientWidth") > 100
    page.find_element("id", "back").click()
    settled(page)
    assert state(page)["text"].count("9.5 mm") == 2


def test_a_lost_connection_comes_back(page):
    page.execute_cdp_cmd("Network.enable", {})
    gone = {"offline": True, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}
    page.execute_cdp_cmd("Network.emulateNetworkConditions", gone)
    slide(page, "clearance", 3)
    until(lambda: "trying again" in text_of(page, "#trouble"))
    page.execute_cdp_cmd("Network.emulateNetworkConditions", {**gone, "offline": False})
    settled(page)
    assert "3 mm" in state(page)["text"] or state(page)["text"].count("10.5 mm") == 2
    assert page.execute_script("return document.querySelector('#trouble').hidden")
    page.get_log("browser")  # the refused request is logged there, as it should be


def test_a_refusal_is_told_and_the_page_goes_on(page):
    """As by a server that was started anew and has another key: plain text, no JSON."""
    page.execute_script(
        """window.asked = window.fetch;
           window.fetch = async () => new Response('the key is missing', {status: 403});"""
    )
    slide(page, "clearance", 3)
    until(lambda: "the key is missing" in text_of(page, "#trouble"))
    settled(page)
    page.execute_script("window.fetch = window.asked")
    slide(page, "clearance", 3)
    settled(page)
    assert page.execute_script("return document.querySelector('#trouble').hidden")
    assert state(page)["text"].count("10.5 mm") == 2


def test_curves_and_lamps_are_moved_and_not_made_anew(page):
    page.execute_script(
        """window.kept = ['.lamp', '#voltage .line', '#voltage .ticks'].map(s =>
             document.querySelector(s));"""
    )
    curve = "return document.querySelector('#voltage .line').getAttribute('d')"
    first = page.execute_script(curve)
    assert first.count("L") > 200
    slide(page, "clearance", 2.1)
    settled(page)
    assert page.execute_script(curve) != first
    assert page.execute_script("return window.kept.every(each => each.isConnected)")


def test_lamps_stay_in_sight_on_a_phone(browser, server):
    shaped(browser, *SIZES["phone"], mobile=True)
    opened(browser, server.address)
    browser.execute_script("document.querySelector('#c-load-lamps-parallel').scrollIntoView()")
    time.sleep(0.3)
    lamp, slider = browser.execute_script(
        "return ['.lamp', '#c-load-lamps-parallel'].map(s =>"
        "document.querySelector(s).getBoundingClientRect().toJSON())"
    )
    assert 0 <= lamp["top"] < lamp["bottom"] <= slider["top"] < 740


def test_what_takes_longer_follows_when_the_hand_rests(page):
    assert "rests" in text_of(page, "#advice-state") or page.execute_script(
        "return document.querySelectorAll('#steps li').length"
    )
    until(lambda: page.execute_script("return document.querySelectorAll('#steps li').length") > 2)
    assert "%" in text_of(page, "#steps li")
    assert "crank takes" in text_of(page, "#crank")
    assert "Caution" in text_of(page, "#cautions")


def test_meter(page):
    until(lambda: page.execute_script("return document.querySelector('#meter-where').value"))
    page.execute_script(
        """const w = document.querySelector('#meter-where');
           const k = document.querySelector('#meter-kind');
           const there = o => o.textContent.includes('bridge output, load connected');
           w.value = [...w.options].find(there).value;
           k.value = '0'; k.dispatchEvent(new Event('change'));"""
    )
    reading = page.execute_script("return document.querySelector('#reading').dataset.value")
    value = json.loads(reading)
    assert float(text_of(page, "#reading")) == pytest.approx(value, abs=0.01)
    assert 2.5 < value < 3.5
