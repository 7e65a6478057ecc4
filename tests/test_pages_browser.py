"""The pages as people meet them, in a real browser without a screen."""

import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from functools import partial
from importlib.resources import files
from pathlib import Path
from shutil import which
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, expect, sync_playwright
from playwright.sync_api import Page as Tab

from assistant.commands import kept_sessions
from assistant.core.club.setting_up import LONGEST_RULE, MOST_OWN_RULES
from assistant.devices.shelf import plan_text
from assistant.pages.telling import Page
from tests.rehearsal import Rehearsal

ROOT = Path(__file__).parent.parent
pytestmark = pytest.mark.alone
SCREENS = {"laptop": (1280, 720), "tablet": (820, 1180), "phone": (360, 740)}
AXE = files("axe_playwright_python") / "axe.min.js"
PATIENCE_MS = 90_000  # a busy machine is no failure
expect.set_options(timeout=PATIENCE_MS)
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    path = which("chromium")
    assert path, "chromium is missing: sudo apt-get install chromium (make test does it)"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])  # CI is root
        yield browser
        browser.close()


@pytest.fixture
def club() -> Iterator[Rehearsal]:
    with Rehearsal() as rehearsal:
        yield rehearsal


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport={"width": 1280, "height": 720})
    context.set_default_timeout(PATIENCE_MS)
    yield context
    context.close()


@pytest.fixture
def complaints(context: BrowserContext) -> list[str]:
    """What the browser complained about, on any page."""
    found: list[str] = []
    context.on("console", lambda message: found.append(message.text) if message.type in ("error", "warning") else None)
    context.on("weberror", lambda error: found.append(str(error.error)))
    return found


@pytest.fixture
def opened(club: Rehearsal, context: BrowserContext, complaints: list[str]) -> Callable[[Page], Tab]:
    """Opens a page of the club."""

    def show(page: Page) -> Tab:
        tab = context.new_page()
        tab.goto(club.address(page))
        return tab

    return show


Opened = Callable[[Page], Tab]


def ordered(tab: Tab, action: Callable[[], object]) -> None:
    """Do something, and wait until the order has been taken in."""
    with tab.expect_response("**/orders") as answer:
        action()
    assert answer.value.status == 204


def button(tab: Tab, name: str) -> Locator:
    return tab.get_by_role("button", name=name, exact=True)


# --- a session, seen from each page -----------------------------------------------------------------------------------------


def test_the_room_sees_the_roles_swap(club: Rehearsal, opened: Opened, complaints: list[str]) -> None:
    room, helper = opened(Page.ROOM), opened(Page.HELPER)
    expect(room.locator("#words")).to_have_text("We set up together. The club begins soon.")
    club.play(12)
    expect(room.locator("#words")).to_contain_text("The club begins. A is the engineer and describes.")
    expect(room.locator("#roles li")).to_have_text(["Aengineer", "Bsupplier", "Cbuilder"])
    for step in range(3):
        ordered(helper, button(helper, "Step done").click)
        club.step()
        expect(helper.locator("#standing")).to_contain_text(f"Step {step + 2} of 8")
    expect(room.locator("#words")).to_contain_text("We swap now. B is the engineer and describes.")
    expect(room.locator("#told")).to_have_attribute("data-moment", "true")
    expect(room.locator("#roles .who")).to_have_text([seat.value for seat, _ in club.session.state.roles])
    assert [seat.value for seat, _ in club.session.state.roles] != ["A", "B", "C"]
    club.play(20)
    assert room.locator("#words").text_content() == club.speaker.said[-1]  # what is read is what is said, word for word
    assert complaints == []


def test_a_turn_put_right_changes_the_numbers(club: Rehearsal, opened: Opened, complaints: list[str]) -> None:
    helper = opened(Page.HELPER)
    club.play(29.5)
    expect(helper.locator("#heard li")).to_have_text(["A: 2", "B: 1", "C: 1", "adult: 0", "?: 1"])
    expect(helper.locator("#turns")).to_contain_text("asks for red: 2 pieces fit, of 8, still open")
    expect(helper.locator("#sound")).to_contain_text('1 of 5 turns is "?"')
    ordered(helper, button(helper, "turn at 0:25: it was B").click)
    club.step()
    expect(helper.locator("#heard li")).to_have_text(["A: 2", "B: 2", "C: 1", "adult: 0", "?: 0"])
    expect(button(helper, "turn at 0:25: it was B")).to_have_attribute("aria-pressed", "true")
    expect(button(helper, "turn at 0:25: it was B")).to_be_focused()
    assert complaints == []


def test_a_page_loaded_again_shows_the_session_that_goes_on(club: Rehearsal, opened: Opened, complaints: list[str]) -> None:
    room = opened(Page.ROOM)
    club.play(29.5)
    expect(room.locator("#step")).to_have_text("Step 2 of 8.")
    room.reload()
    expect(room.locator("#step")).to_have_text("Step 2 of 8.")
    expect(room.locator("#roles .who")).to_have_text(["A", "B", "C"])
    assert complaints == []


def test_a_lost_line_is_said_and_found_again(club: Rehearsal, opened: Opened) -> None:
    room, helper = opened(Page.ROOM), opened(Page.HELPER)
    expect(helper.locator("#clock")).to_have_text("1:58 left")
    club.lose()
    expect(helper.locator("#lost")).to_be_visible()
    expect(room.locator("#lost")).to_contain_text("This page waits for Tray Turns.")
    club.play(29.5)  # the session does not wait for its pages
    club.regain()
    expect(room.locator("#step")).to_have_text("Step 2 of 8.")
    expect(helper.locator("#lost")).to_be_hidden()
    expect(room.locator("#lost")).to_be_hidden()


def test_the_club_ends_on_every_page(club: Rehearsal, opened: Opened, complaints: list[str]) -> None:
    room, helper, engineer = opened(Page.ROOM), opened(Page.HELPER), opened(Page.ENGINEER)
    club.play(101)
    expect(room.locator("#words")).to_have_text("Building stops now. We clear away together.")
    expect(room.locator("#told")).to_have_attribute("data-moment", "true")
    club.play(121)
    expect(room.locator("#words")).to_have_text("The club is over.")
    expect(helper.locator("#over")).to_be_visible()
    expect(engineer.locator("#over")).to_have_text("The club is over.")
    club.lose()
    helper.wait_for_timeout(1500)  # longer than a page waits before it would try again
    for tab in (room, helper, engineer):
        expect(tab.locator("#lost")).to_be_hidden()
    club.regain()
    assert complaints == []


# --- the helper -------------------------------------------------------------------------------------------------------------


def test_names_are_shown_and_said_and_are_only_text(club: Rehearsal, opened: Opened, complaints: list[str]) -> None:
    room, helper = opened(Page.ROOM), opened(Page.HELPER)
    club.play(12)
    name = "<img src=x onerror=a()>"
    helper.get_by_label("Name of A").fill(name)
    helper.get_by_label("Name of B").fill("Bo {seat} %s")
    helper.get_by_label("Name of C").press("Enter")
    expect(helper.locator("#note")).to_have_text("")
    club.step()
    expect(room.locator("#roles .who")).to_have_text([name, "Bo {seat} %s", "C"])
    assert room.locator("#roles img").count() == 3
    ordered(helper, button(helper, "Say the roles").click)
    club.step()
    assert f"{name} is the engineer" in club.speaker.said[-1]
    expect(room.locator("#words")).to_contain_text(name)
    assert complaints == []


def test_what_was_seen_is_counted_and_can_be_taken_back(club: Rehearsal, opened: Opened, complaints: list[str]) -> None:
    helper = opened(Page.HELPER)
    club.play(12)
    for name in ("B 0: waited", "C 0: helped", "B 1: waited"):
        ordered(helper, button(helper, name).click)
        club.step()
    expect(button(helper, "B 2: waited")).to_be_visible()
    ordered(helper, button(helper, "Take the last one back").click)
    club.step()
    expect(button(helper, "B 1: waited")).to_be_visible()
    expect(helper.locator("#last")).to_have_text("C helped")
    assert complaints == []


def test_a_key_that_cannot_be_followed_is_explained(club: Rehearsal, opened: Opened) -> None:
    helper = opened(Page.HELPER)
    club.play(12)
    ordered(helper, button(helper, "Back one step").click)
    club.step()
    expect(helper.locator("#note")).to_have_text("There is no step to go back to.")


def test_a_hint_is_shown_and_put_away(club: Rehearsal, opened: Opened, complaints: list[str]) -> None:
    helper = opened(Page.HELPER)
    club.play(29.5)
    named = 'You could name it: "B, you asked when it was not clear, and A answered."'
    expect(helper.locator("#hint-text")).to_have_text(named)
    ordered(helper, button(helper, "Put away").click)
    club.step()
    expect(helper.locator("#no-hint")).to_be_visible()
    assert complaints == []


def test_everything_can_be_done_by_single_keys(club: Rehearsal, opened: Opened, complaints: list[str]) -> None:
    helper, room = opened(Page.HELPER), opened(Page.ROOM)
    club.play(29.5)
    expect(helper.locator("#standing")).to_contain_text("Step 2")

    def press(*keys: str) -> None:
        for key in keys:
            ordered(helper, partial(helper.keyboard.press, key))
            club.step()

    press("d")
    expect(helper.locator("#standing")).to_contain_text("Step 3")
    press("b")
    expect(helper.locator("#standing")).to_contain_text("Step 2")
    press("w")
    expect(helper.locator("#note")).to_have_text("who: whose? a b c f")
    press("b")
    expect(helper.locator("#heard li")).to_have_text(["A: 2", "B: 2", "C: 0", "adult: 0", "?: 1"])
    press(" ")
    expect(room.locator("#words")).to_have_text("Calm break. Everybody can rest.")
    press(" ", "s")
    expect(room.locator("#words")).to_contain_text("We swap now.")
    helper.keyboard.press("?")
    expect(helper.locator("#keys li")).to_have_count(14)
    expect(helper.locator("#keys")).to_be_visible()
    helper.get_by_label("Single keys work on this page").uncheck()
    helper.keyboard.press("?")
    expect(helper.locator("#keys")).to_be_visible()
    helper.get_by_label("Single keys work on this page").check()
    helper.locator("h1").click()
    press("q", "q")
    expect(helper.locator("#over")).to_be_visible()
    assert complaints == []


def test_every_control_is_reached_by_tab_in_reading_order(club: Rehearsal, opened: Opened) -> None:
    helper = opened(Page.HELPER)
    club.play(29.5)
    expect(helper.locator("#turns li")).to_have_count(5)
    controls = "a[href], button:not(:disabled), input"
    called = "(one => one.getAttribute('aria-label') || one.textContent || one.name)"
    wanted = helper.locator(controls).evaluate_all(f"all => all.filter(one => one.checkVisibility()).map{called}")
    reached = []
    for _ in wanted:
        helper.keyboard.press("Tab")
        reached.append(helper.evaluate(f"{called}(document.activeElement)"))
    assert reached == wanted
    assert len(wanted) > 40


def test_stopping_by_button_asks_first_and_keeps_the_focus(club: Rehearsal, opened: Opened) -> None:
    helper = opened(Page.HELPER)
    club.play(12)
    button(helper, "Stop the session").press("Enter")
    expect(button(helper, "No, go on")).to_be_focused()
    button(helper, "No, go on").press("Enter")
    expect(button(helper, "Stop the session")).to_be_focused()
    button(helper, "Stop the session").press("Enter")
    ordered(helper, button(helper, "Yes, stop").click)
    club.step()
    expect(helper.locator("#over")).to_be_visible()


def test_a_calm_break_begins_and_ends_with_the_same_key_on_the_button(club: Rehearsal, opened: Opened) -> None:
    helper = opened(Page.HELPER)
    club.play(12)
    ordered(helper, lambda: button(helper, "Calm break").press("Enter"))
    club.step()
    expect(button(helper, "End the calm break")).to_be_focused()
    ordered(helper, lambda: helper.keyboard.press("Enter"))
    club.step()
    expect(button(helper, "Calm break")).to_be_focused()


# --- the engineer -----------------------------------------------------------------------------------------------------------


def test_the_engineers_picture_is_covered_until_asked_for_and_again_at_the_swap(
    club: Rehearsal, opened: Opened, complaints: list[str]
) -> None:
    engineer, helper = opened(Page.ENGINEER), opened(Page.HELPER)
    expect(engineer.locator("#wait")).to_be_visible()
    club.play(12)
    expect(engineer.locator("#picture")).to_be_hidden()
    assert engineer.locator("#picture").get_attribute("src") is None
    button(engineer, "I am A: show me the picture").click()
    expect(engineer.locator("#picture")).to_have_attribute("alt", re.compile("^long blue block; "))
    expect(engineer.locator("#picture")).to_have_js_property("complete", True)
    engineer.locator("summary").click()
    expect(engineer.locator("#words")).to_have_text("flat on the board")
    for _ in range(3):
        ordered(helper, button(helper, "Step done").click)
        club.step()
    expect(engineer.locator("#picture")).to_be_hidden()
    expect(engineer.locator("#uncover")).to_be_visible()
    assert complaints == []


# --- what every page owes to everybody --------------------------------------------------------------------------------------


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize("page", Page)
def test_axe_finds_nothing_and_nothing_runs_off_the_side(page: Page, screen: str, club: Rehearsal, opened: Opened) -> None:
    tab = opened(page)
    tab.set_viewport_size(dict(zip(("width", "height"), SCREENS[screen], strict=True)))  # type: ignore[arg-type]
    for second in (5, 29.5, 105, 121):  # setting up, building, clearing away, over
        club.play(second)
        tab.wait_for_timeout(200)
        if second == 29.5 and page is Page.ENGINEER:
            tab.locator("#uncover").click()
        if second == 29.5 and page is Page.HELPER:
            tab.keyboard.press("?")
        assert violations(tab) == []
        assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")


def violations(tab: Tab) -> list[str]:
    """What axe-core has against the page as it stands."""
    tab.evaluate(AXE.read_text(encoding="utf-8"))
    found: dict[str, Any] = tab.evaluate("tags => axe.run({ runOnly: tags })", WCAG)
    assert len(found["passes"]) > 10
    return [f"{one['id']}: {node['html']}" for one in found["violations"] for node in one["nodes"]]


@pytest.mark.parametrize("page", Page)
def test_at_400_percent_there_is_one_column_and_nothing_is_cut(page: Page, club: Rehearsal, opened: Opened) -> None:
    tab = opened(page)
    tab.set_viewport_size({"width": 320, "height": 256})  # WCAG 2.2, 1.4.10: 1280 by 1024 at 400 %
    club.play(29.5)
    tab.wait_for_timeout(200)
    assert tab.evaluate("document.documentElement.scrollWidth") <= 320


@pytest.mark.parametrize("page", Page)
def test_nothing_is_fetched_from_elsewhere_and_nothing_is_kept(
    page: Page, club: Rehearsal, context: BrowserContext, complaints: list[str]
) -> None:
    asked: list[str] = []
    context.on("request", lambda request: asked.append(request.url))
    tab = context.new_page()
    tab.goto(club.address(page))
    club.play(29.5)
    tab.wait_for_timeout(200)
    assert len(asked) > 5
    assert all(url.startswith(club.address(page)) for url in asked)
    assert context.cookies() == []
    assert tab.evaluate("localStorage.length + sessionStorage.length") == 0
    assert tab.evaluate("async () => (await indexedDB.databases()).length + (await caches.keys()).length") == 0
    assert complaints == []


@pytest.mark.parametrize("page", Page)
def test_nothing_moves(page: Page, club: Rehearsal, opened: Opened) -> None:
    tab = opened(page)
    club.play(29.5)
    tab.wait_for_timeout(200)
    assert tab.evaluate("document.getAnimations().length") == 0
    style = "getComputedStyle(one)"
    moves = f"{style}.transitionDuration !== '0s' || {style}.animationName !== 'none'"
    assert tab.locator("*").evaluate_all(f"all => all.filter(one => {moves}).length") == 0


def test_the_room_is_read_from_two_metres(club: Rehearsal, opened: Opened) -> None:
    """Capitals of 16 minutes of arc or more for who does what (ISO 9241-303, from memory); less for the cue, which is
    also said, and for the rules, which the children know.

    13.3 inches at 16:9 are 294 mm; a capital is 0.668 of this typeface's size (its own OS/2 table).
    """
    room = opened(Page.ROOM)
    club.play(12)
    expect(room.locator(".who")).to_have_count(3)
    minutes_of_arc = """one => {
        const capital_mm = parseFloat(getComputedStyle(one).fontSize) * 0.668 * 294 / innerWidth;
        return Math.atan(capital_mm / 2000) * 180 / Math.PI * 60;
    }"""
    assert room.locator(".who").first.evaluate(minutes_of_arc) >= 16
    assert room.locator(".title").first.evaluate(minutes_of_arc) >= 16
    assert room.locator("#words").evaluate(minutes_of_arc) >= 10
    assert room.locator(".rules li").first.evaluate(minutes_of_arc) >= 7
    assert room.evaluate("document.documentElement.scrollHeight <= innerHeight")


def test_a_family_s_own_rules_are_in_sight_too(context: BrowserContext) -> None:
    longest = "We knock on the door before that".ljust(LONGEST_RULE, "m")
    with Rehearsal(own=[longest] * MOST_OWN_RULES) as club:
        room = context.new_page()
        room.goto(club.address(Page.ROOM))
        club.play(12)
        expect(room.locator("#words")).to_contain_text("The club begins.")  # the longest cue there is
        expect(room.locator(".rules li")).to_have_count(7 + MOST_OWN_RULES)
        assert room.evaluate("document.documentElement.scrollHeight <= innerHeight")


# --- the whole thing --------------------------------------------------------------------------------------------------------


COMMAND = "session --pages --from demo_audio/session.flac --voices demo_audio/voices"


@contextmanager
def set_up(command: list[str], folder: Path, context: BrowserContext) -> Iterator[tuple[subprocess.Popen[str], Tab]]:
    """A session that is started in this folder, and its set-up page."""
    run = [sys.executable, "-u", "-m", "assistant", *command]
    with ExitStack() as stack:
        session = stack.enter_context(subprocess.Popen(run, cwd=folder, stdout=-1, stderr=-1, text=True))
        stack.callback(session.kill)  # a set-up that nobody finishes goes on for good
        assert session.stdout and session.stderr
        found = re.search(r"here: (\S+)", line := session.stdout.readline())
        assert found, line + session.stderr.read()
        tab = context.new_page()
        tab.goto(found[1])
        yield session, tab


def test_a_parent_sets_up_by_page_and_the_whole_session_is_seen(context: BrowserContext, complaints: list[str]) -> None:
    with set_up(COMMAND.split(), ROOT, context) as (session, helper):
        set_up_by_keyboard_and_mouse(helper)
        button(helper, "Begin the session").click()
        expect(helper.locator("h1")).to_have_text("Helper")  # the same tab
        with context.expect_page() as opened:
            helper.get_by_role("link", name="Room page").click()
        room = opened.value
        expect(room.locator(".rules li").last).to_have_text("No shoes on the mat.")
        expect(room.locator("#words")).to_contain_text("We swap now.", timeout=300_000)
        for key in ("w", "f", "w", "f"):
            ordered(helper, partial(helper.keyboard.press, key))
        expect(helper.locator("#turns")).to_contain_text("fit")
        room.reload()
        expect(room.locator("#roles .who").filter(has_text="Ada")).to_have_count(1)
        expect(room.locator("#words")).to_have_text("The club is over.", timeout=300_000)
        expect(helper.locator("#over")).to_be_visible()
        expect(room.locator("#lost")).to_be_hidden()
        rest, wrong = session.communicate(timeout=300)
    assert session.returncode == 0, wrong
    assert re.search("Put right by the adult: [12]", rest)
    assert complaints == []


def set_up_by_keyboard_and_mouse(tab: Tab) -> None:
    """From the first question to the last, axe-core looking at each stage."""

    def stage(title: str) -> None:
        expect(tab.locator("#title")).to_have_text(title)
        assert violations(tab) == []
        tab.set_viewport_size({"width": 320, "height": 256})  # WCAG 2.2, 1.4.10
        assert tab.evaluate("document.documentElement.scrollWidth") <= 320
        tab.set_viewport_size({"width": 1280, "height": 720})

    def go_on() -> None:
        button(tab, "Next").press("Enter")

    stage("Who plays?")
    tab.get_by_label("Name of A").fill("Ada")
    tab.get_by_label("Name of B").fill("ada")
    go_on()
    expect(tab.locator("#note")).to_have_text("Two children are called 'ada'. Add a letter to one of them.")
    tab.get_by_label("Name of B").fill("")
    go_on()  # the name is sent first
    stage("Which model?")
    expect(tab.locator("#title")).to_be_focused()
    go_on()
    expect(tab.locator("#note")).to_have_text("Choose a model first.")
    boat = tab.get_by_label("Little boat")
    expect(tab.locator("img").first).to_have_js_property("complete", True)
    boat.press(" ")
    expect(boat).to_be_checked()
    go_on()
    stage("How does the club go?")
    tab.get_by_label("Minutes in all").fill("95")
    go_on()  # what the field shows will not do, and is not left behind
    said = "'95' is no choice here. Take a whole number from 1 to 90."
    expect(tab.locator("#note")).to_have_text(said)
    expect(tab.get_by_label("Minutes in all")).to_have_accessible_description(said)
    assert violations(tab) == []
    tab.get_by_label("Minutes in all").fill("4")
    tab.get_by_label("Minutes of it for setting up").fill("0")
    tab.get_by_label("Minutes of it for clearing away").fill("1")
    tab.get_by_label("Rules of your own").fill("No shoes on the mat.")
    expect(tab.get_by_text("So you build for 3 minutes.")).to_be_visible()
    go_on()
    stage("How does it hear you?")
    expect(tab.get_by_role("meter")).not_to_have_attribute("aria-valuenow", "0")
    go_on()
    stage("Whose voice is it?")
    for who in ("Ada", "B", "C", "the adult"):
        tab.get_by_role("button", name=f"Listen to {who} now").press("Enter")
        expect(tab.get_by_text(f"{who} is known by voice.", exact=True)).to_be_visible()
    expect(tab.get_by_text("These voices can be told apart well.")).to_be_visible()
    expect(tab.get_by_role("button", name="Listen to the adult again")).to_be_focused()
    go_on()
    stage("Is anything kept?")
    expect(tab.get_by_label("Nothing", exact=True)).to_be_checked()
    tab.get_by_label("The timeline, if everybody agrees").check()
    for who in ("guardian of child Ada", "guardian of child B", "guardian of child C", "adult at the table"):
        expect(tab.get_by_text(f"For the {who}: how much")).to_be_visible()
        button(tab, "timeline").dblclick()  # the second click does not answer for the next
    expect(tab.get_by_text("Ada, I have a question for you.")).to_be_visible()
    assert violations(tab) == []
    button(tab, "no").press("Enter")
    expect(tab.get_by_text("Nothing of this session is kept, because not everybody agreed")).to_be_visible()
    go_on()
    stage("Ready")
    tab.reload()
    stage("Ready")
    expect(tab.locator("#parts li").last).to_have_text("Nothing is kept.")


# --- what is kept, with the keyboard alone ----------------------------------------------------------------------------------

PHRASE = "four o'clock is cake time"


def test_voices_are_kept_of_the_family_s_own_model_with_the_keyboard_alone(
    context: BrowserContext, complaints: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    monkeypatch.delenv(kept_sessions.PASSPHRASE, raising=False)
    work = tmp_path / "work"
    (work / "our-gate").mkdir(parents=True)
    (work / "our-gate" / "plan.toml").write_text(plan_text("garden-gate")[0].replace("Garden gate", "Our gate"))
    (work / "broken.toml").write_text("[[step]]\nput = \n")
    recording = ["--from", str(ROOT / "demo_audio" / "session.flac"), "--quiet", "--children", "2"]
    with set_up(["session", "--pages", *recording], work, context) as (_, tab):
        sent: list[str] = []
        context.on("request", lambda request: sent.append(request.url))
        keys = tab.keyboard

        def stage(title: str) -> None:
            expect(tab.locator("#title")).to_have_text(title)
            expect(tab.locator("#title")).to_be_focused()

        def tab_to(name: str) -> None:
            wanted = button(tab, name)
            expect(wanted).to_be_visible()
            for _ in range(40):
                if wanted.evaluate("element => element === document.activeElement"):
                    return
                keys.press("Tab")
            raise AssertionError(f"the keyboard does not reach {name}")

        def answer(question: str, name: str) -> None:
            expect(tab.get_by_text(question)).to_be_visible()
            tab_to(name)
            expect(button(tab, name)).to_be_in_viewport(ratio=1)
            keys.press("Enter")

        tab_to("Next")
        keys.press("Enter")
        stage("Which model?")
        expect(tab.get_by_text("broken.toml: this is not TOML")).to_be_visible()
        expect(tab.locator("input[type=radio]").first).to_have_attribute("value", "own-1")
        assert violations(tab) == []
        keys.press("Tab")
        keys.press("Space")
        expect(tab.get_by_label("Our gate")).to_be_checked()
        for title in ("How does the club go?", "How does it hear you?", "Is anything kept?"):
            tab_to("Next")
            keys.press("Enter")
            stage(title)
        keys.press("Tab")
        for _ in range(3):
            keys.press("ArrowDown")
        expect(tab.get_by_label("The voices too")).to_be_checked()
        first, again = tab.get_by_label("Passphrase", exact=True), tab.get_by_label("The same once more")
        for field in (first, again):
            expect(field).to_have_attribute("type", "password")
            expect(field).to_have_attribute("autocomplete", "off")
        assert violations(tab) == []
        keys.press("Tab")
        for typed in (PHRASE, "another", PHRASE, PHRASE):
            keys.type(typed)
            keys.press("Enter")
            if typed == "another":
                expect(tab.locator("#note")).to_contain_text("The two were not the same.")
                expect(first).to_be_focused()
                expect(first).to_have_value("")
                expect(again).to_have_value("")
        expect(tab.get_by_role("status").filter(has_text="The passphrase is taken.")).to_be_focused()
        for who in ("guardian of child A", "guardian of child B", "adult at the table"):
            answer(f"For the {who}: how much", "words")
        for child in "AB":
            answer(f"{child}, I have a question for you.", "yes")
        for who in ("guardian of child A: may the", "guardian of child B: may the", "adult at the table: may your"):
            answer(f"For the {who} voice", "yes")
        assert violations(tab) == []
        for child in "AB":
            answer(f"{child}, I have a question for you.", "yes")
        expect(tab.get_by_text("Will be kept: voices, until")).to_be_visible()
        assert PHRASE not in tab.content() and not any("cake" in url for url in sent)
        tab_to("Next")
        keys.press("Enter")
        stage("Ready")
        expect(tab.get_by_text("What is kept is locked with the passphrase.")).to_be_visible()
        assert not (tmp_path / "data").exists()  # until it begins
        tab_to("Begin the session")
        keys.press("Enter")
        expect(tab.locator("h1")).to_have_text("Helper")
        expect(tab.get_by_text("Our gate")).to_be_visible()
    assert (tmp_path / "data" / "tray-turns" / "sessions.locked").exists()
    assert complaints == []
