from tests.browser.conftest import PHONE
from tests.factories import PASSWORD, UserFactory


def test_a_hand_signs_in_opens_the_menu_and_signs_out(page_as):
    UserFactory(username="ash", roles=["hand"])
    page = page_as(width=PHONE)
    page.goto("/")
    page.get_by_label("Username").fill("ash")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Our yard").wait_for()
    assert not page.get_by_role("navigation", name="Pages").is_visible()
    page.get_by_role("link", name="Menu", exact=True).click()
    assert page.get_by_role("navigation", name="Pages").is_visible()
    page.get_by_role("button", name="Sign out").click()
    page.get_by_role("heading", name="Sign in").wait_for()
