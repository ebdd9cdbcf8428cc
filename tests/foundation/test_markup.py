import datetime as dt
from decimal import Decimal

import pytest
from django.template import engines
from django.utils import timezone

from inventory.views import markup

TODAY = dt.date(2027, 3, 9)


@pytest.mark.parametrize(
    ("day", "words"),
    [
        (dt.date(2027, 3, 12), "Fri 12 Mar, in 3 days"),
        (dt.date(2027, 3, 10), "Wed 10 Mar, tomorrow"),
        (dt.date(2027, 3, 9), "Tue 9 Mar, today"),
        (dt.date(2027, 3, 8), "Mon 8 Mar, yesterday"),
        (dt.date(2026, 12, 31), "Thu 31 Dec 2026, 68 days ago"),
        (dt.datetime(2027, 3, 9, 14, 5), "Tue 9 Mar 14:05, today"),  # noqa: DTZ001
    ],
)
def test_a_date_is_said_both_ways(day, words):
    assert markup.said_both_ways(day, TODAY) == words


def test_a_moment_is_said_in_the_yards_own_time(settings):
    settings.TIME_ZONE = "Australia/Sydney"
    with timezone.override("Australia/Sydney"):
        assert "Mon 9 Mar 2020 23:30" in markup.both_ways(dt.datetime(2020, 3, 9, 12, 30, tzinfo=dt.UTC))


@pytest.mark.parametrize(
    ("length", "words"), [(3000, "3.0 m"), (3450, "3.45 m"), (3455, "3.455 m"), (600, "0.6 m"), (None, "")]
)
def test_lengths_read_in_metres(length, words):
    assert markup.metres(length) == words


def test_masses_read_in_kilograms():
    assert markup.kilograms(Decimal("1204.500")) == "1,204.5 kg"


def render(source, **context):
    return engines["django"].from_string(source).render(context)


def test_a_tally_links_its_number_and_agrees_in_number():
    assert render('{% tally 1 "piece" url="/p/" %}') == '<a class="tally" href="/p/">1 piece</a>'
    assert ">1,214 pieces<" in render('{% tally 1214 "piece" %}')


def test_a_state_is_a_word_and_an_unknown_one_is_plain():
    assert render('{% status "unfit" %}') == '<span class="status status-stop">unfit</span>'
    assert "status-plain" in render('{% status "held" %}')


def test_what_people_wrote_is_never_markup():
    source = '{% facts %}{% fact "From" place %}{% endfacts %}{% notice "look" %}{{ place }}{% endnotice %}'
    said = render(source, place="<b>")
    assert "<b>" not in said
    assert said.count("&lt;b&gt;") == 2


def test_a_stop_says_stop_in_words():
    assert "Stop" in render('{% notice "stop" %}Unfit.{% endnotice %}')
