"""The pages, opened in a real browser: they show what they should, work, and ask no host but their own."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from service.api.examples import DESCRIPTION
from service.api.naming import NAME_PATTERN, is_name
from service.app import create_app
from service.settings import Settings
from service.wiring import wire
from tests.acceptance.in_process import serving

BROWSERS = [found for name in ("chromium", "chromium-browser") if (found := shutil.which(name))][:1]
"""The browser of this machine; where it has none, the summary of the tests says that nothing here was checked."""
PATIENCE_MS = 60_000


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A server with one household."""
    wired = wire(Settings(database=str(tmp_path_factory.mktemp("page") / "p.sqlite")))
    app = create_app(wired)
    assert app.test_client().put("/v1/households/cottage", json=DESCRIPTION).status_code == 201
    with serving(app) as found:
        yield found
    wired.database.close()


@pytest.fixture(scope="module", params=BROWSERS)
def browser(request: pytest.FixtureRequest) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        # The tests may run as root, where the browser's own sandbox does not start.
        found = playwright.chromium.launch(executable_path=request.param, args=["--no-sandbox"])
        yield found
        found.close()


@pytest.fixture
def asked() -> list[str]:
    """Every address that the page of a test asks for."""
    return []


@pytest.fixture
def page(browser: Browser, asked: list[str]) -> Iterator[Page]:
    """A page that lets no error pass."""
    page = browser.new_page()
    page.set_default_timeout(PATIENCE_MS)
    wrong: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    yield page
    page.close()
    assert wrong == []


def test_the_contract_shows_and_asks_no_other_host(page: Page, asked: list[str], address: str) -> None:
    page.goto(f"{address}/docs")
    page.wait_for_selector(".opblock")
    page.wait_for_load_state("networkidle")

    assert "Kettlecast" in page.inner_text(".info .title")
    assert page.locator(".opblock").count() > 30
    assert f"{address}/openapi.json" in asked
    assert [url for url in asked if not url.startswith((f"{address}/", "data:"))] == []


def test_an_operation_can_be_tried_from_the_page(page: Page, asked: list[str], address: str) -> None:
    page.goto(f"{address}/docs")
    now = page.locator(".opblock", has=page.locator("[data-path='/v1/households/{household}/now']"))
    now.locator(".opblock-summary").click()
    now.locator("button.execute").click()
    answer = now.locator(".live-responses-table .response-col_status").last

    answer.wait_for()
    assert answer.inner_text().strip() == "200"
    assert asked[-1] == f"{address}/v1/households/cottage/now"


def test_the_start_leads_to_the_contract_and_to_the_answers(page: Page, asked: list[str], address: str) -> None:
    page.goto(f"{address}/")
    page.click("text=everything at a glance")
    assert '"The gauge was never read' in page.inner_text("body")
    page.go_back()
    page.click("text=The contract, to read and try")
    page.wait_for_selector(".opblock")

    assert [url for url in asked if not url.startswith((f"{address}/", "data:"))] == []


def test_a_page_of_the_contract_fits_a_telephone(page: Page, address: str) -> None:
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto(f"{address}/docs")
    page.wait_for_selector(".opblock")

    assert page.evaluate("document.documentElement.scrollWidth") <= 360


def until(page: Page, true: str) -> None:
    """Wait for an expression to hold; the browser's own way of waiting is script that the page's policy forbids."""
    for _ in range(200):
        if page.evaluate(true):
            return
        page.wait_for_timeout(100)
    pytest.fail(f"never came true: {true}")


@pytest.mark.parametrize("width", [360, 1200])
def test_the_start_tells_and_draws_within_the_screen(page: Page, asked: list[str], address: str, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 840})
    page.goto(f"{address}/")
    page.locator(".told").last.wait_for()  # one that says nothing yet is not shown
    for picture in page.locator("img").all():
        picture.scroll_into_view_if_needed()
    page.wait_for_load_state("networkidle")

    assert page.evaluate("[...document.images].map((one) => one.complete && one.naturalWidth > 0)") == [True, True]
    assert "The gauge was never read" in page.locator(".told").first.inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.evaluate("[...document.images].every((one) => Math.abs(one.width - one.height) < 2)")
    assert [url for url in asked if not url.startswith((f"{address}/", "data:"))] == []


def test_a_picture_by_itself_fits_a_telephone(page: Page, address: str) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{address}/v1/households/cottage/forecast.svg")

    assert page.evaluate("document.documentElement.getBoundingClientRect().width") <= 390


def test_a_browser_takes_for_a_name_what_the_server_does(page: Page) -> None:
    tried = [
        "home",
        "Grandma's 2nd",
        "çay",
        "खाना",
        "茶",
        "a_b-c.d",
        "<b>",
        "a/b",
        "..",
        "_x",
        " x",
        "a\n",
        "\u202ea",
        "a" * 65,
        "a" * 64,
        "茶" * 64,
        "🍲",
        "a😀",
        "𐐷",
        "😀" * 33,
        "日本、",
        "a／b",
        "\u0301a",
        "c\u0327ay",
    ]
    found = page.evaluate(
        "([rule, tried]) => tried.map((one) => [new RegExp(rule).test(one), new RegExp(rule, 'u').test(one)])",
        [NAME_PATTERN, tried],
    )

    assert found == [[is_name(one)] * 2 for one in tried]
