"""Hire worked out day by day, the slow and obvious way, to check the real thing against.

It shares the facts' and terms' classes with the code under test and nothing else: no calendar, no sheet, no
closed form. Every day is looked at in turn, and every mix of months, weeks and days is tried.
"""

from __future__ import annotations

from calendar import monthrange
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction
from itertools import accumulate

DAY = timedelta(days=1)
FREE_WEEKDAYS = {"calendar": (), "six_day": (6,), "five_day": (5, 6)}


class Index:
    """The facts' stays and uses by id, made once."""

    def __init__(self, facts):
        self.facts = facts
        self.stays = {one.id: one for one in facts.stays}
        self.continued = {one.continues for one in facts.stays}
        self.uses = {}
        for use in facts.uses:
            self.uses.setdefault(use.stay, []).append(use)


def plain_total(facts, until: date, places: int = 2) -> Decimal:
    """The hire, uses, losses and sales of facts up to `until`, each line rounded and summed."""
    return sum(plain_lines(facts, until, places).values(), Decimal(0))


def plain_lines(facts, until: date, places: int = 2) -> dict[tuple, Decimal]:
    exact: dict[tuple, Fraction] = {}
    facts = Index(facts)
    versions = versions_of(facts.facts)
    shares: dict[tuple, list] = {}
    for stay in facts.facts.stays:
        for number, amount in stay_charges(facts, versions, stay, until).items():
            key = ("hire", stay.line or stay.id, stay.type, number)
            add(exact, key, amount)
            shares.setdefault(key, []).append((stay, amount))
        for number, amount in use_charges(facts, versions, stay, until).items():
            add(exact, ("use", stay.line or stay.id, stay.type, number), amount)
        if stay.end != "returned" and stay.back and a_day(stay.back) < until:
            number, amount = ending_charge(versions, stay)
            add(exact, (stay.end, stay.line or stay.id, stay.type, number, stay.replacement), amount)
    for key, amount in minimums(facts, versions, shares, until, places).items():
        add(exact, key, amount)
    return {key: half_up(amount, places) for key, amount in exact.items()}


def minimums(facts, versions, shares, until, places):
    """What lines and deliveries lack of their minimum, once nothing of them is out."""
    found = {}
    for per in ("line", "delivery"):
        groups = {}
        for key, several in shares.items():
            for stay, amount in several:
                rate = rate_of(versions[key[3]], stay)
                if not rate or (rate.day, rate.week, rate.month) == (None, None, None):
                    continue
                began = chain_of(facts, stay)[0]
                whole = (began.line or began.id, stay.type if per == "line" else "")
                groups.setdefault(whole, []).append((key, stay, amount))
        for (group, _), members in groups.items():
            number = max(key[3] for key, _, _ in members)
            least = versions[number].minimum
            stays = [stay for _, stay, _ in members]
            out = [one for one in stays if not on_hire(versions, one, until)[2]]
            follows = {one.continues for one in stays}
            if least.per != per or out or any(one.id in facts.continued and one.id not in follows for one in stays):
                continue
            had = Fraction(0)
            for key in {key for key, _, _ in members}:
                part = sum((amount for one, _, amount in members if one == key), Fraction(0))
                whole = sum(one == key for one, _, _ in members) == len(shares[key])
                had += Fraction(half_up(part, places)) if whole else part
            if had < least.amount:
                own = [key for key, _, _ in members if key[1] == group] or [key for key, _, _ in members]
                line = max(own, key=lambda key: key[3]) if per == "line" else ("minimum", group, number)
                add(found, line, Fraction(least.amount) - had)
    return found


def add(into, key, amount):
    into[key] = into.get(key, Fraction(0)) + amount


def half_up(amount: Fraction, places: int) -> Decimal:
    """By decimal's own ROUND_HALF_UP at fifty digits, more than any tie here needs."""
    with localcontext() as context:
        context.prec = 50
        number = Decimal(amount.numerator) / Decimal(amount.denominator)
        return number.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def a_day(when) -> date:
    return when.date() if isinstance(when, datetime) else when


def versions_of(facts):
    replaced = [one.replaces for one in facts.terms if one.replaces]
    alive = [one for one in facts.terms if not (one.id and one.id in replaced)]
    last = {}
    for one in alive:
        last[one.holds_from] = one
    return [last[key] for key in sorted(last, key=lambda day: day or date.min)]


def holds(versions, day, started):
    found = None
    for number, terms in enumerate(versions):
        begun = terms.holds_from is None or terms.holds_from <= day
        allowed = number == 0 or terms.running_stays == "change" or terms.holds_from <= started
        if begun and allowed:
            found = number
    return found


def fitting(choices, stay):
    ranked = [
        ((2 if one.type else 0) + (1 if one.kind else 0), -place, one)
        for place, one in enumerate(choices)
        if one.type in ("", stay.type) and one.kind in ("", stay.kind)
    ]
    return max(ranked, key=lambda item: item[:2])[2] if ranked else None


def rate_of(terms, stay):
    special = fitting([one for one in terms.rates if one.hired_in], stay) if stay.hired_in else None
    return special or fitting([one for one in terms.rates if not one.hired_in], stay)


def is_charged(terms, day: date) -> bool:
    return day.weekday() not in FREE_WEEKDAYS[terms.week] and day not in terms.holidays


def out_counts(terms, when) -> bool:
    if terms.cut_off_out and isinstance(when, datetime):
        return when.time() < terms.cut_off_out
    return terms.days_charged in ("out", "both")


def back_counts(terms, when) -> bool:
    if terms.cut_off_back and isinstance(when, datetime):
        return when.time() > terms.cut_off_back
    return terms.days_charged in ("back", "both")


def on_hire(versions, stay, until):
    """(days on hire up to `until`, days after a loss not settled, whether hire is over, its last day)."""
    first = a_day(stay.out)
    opening = versions[holds(versions, first, first) or 0]
    closing_day = a_day(stay.back) if stay.back else until - DAY
    closing = versions[holds(versions, closing_day, first) or 0]
    start = stay.received if opening.starts == "received" and stay.received else stay.out
    if a_day(start) >= until:
        return [], [], False, None
    over = stay.back is not None and a_day(stay.back) < until
    days, day = [], a_day(start)
    while day < until:
        keep = True
        if day == a_day(start) and not out_counts(opening, start):
            keep = over and day == a_day(stay.back) and back_counts(closing, stay.back)
        elif over and day == a_day(stay.back) and day != a_day(start):
            keep = back_counts(closing, stay.back)
        if over and day > a_day(stay.back):
            break
        if keep:
            days.append(day)
        day += DAY
    return days, tail_days(versions, stay, days, until, over, closing), over, first


def tail_days(versions, stay, days, until, over, closing):
    if not over or stay.end != "lost" or not closing.loss.until_settled:
        return []
    stop = min(until, a_day(stay.settled)) if stay.settled else until
    day = a_day(stay.back)
    found = []
    while day < stop:
        if day not in days:
            found.append(day)
        day += DAY
    return found


def chain_of(facts, stay):
    chain = [stay]
    while chain[-1].continues:
        chain.append(facts.stays[chain[-1].continues])
    return chain[::-1]


def stay_charges(facts, versions, stay, until):
    """Charge by version, for all pieces of a stay: the whole hire's up to it less the whole hire's before it."""
    chain = chain_of(facts, stay)
    whole = hire_charges(facts, versions, chain, until)
    before = hire_charges(facts, versions, chain[:-1], until) if len(chain) > 1 else {}
    return {number: whole.get(number, Fraction(0)) - before.get(number, Fraction(0)) for number in {*whole, *before}}


def hire_charges(facts, versions, chain, until):
    """A whole hire by version: its time, or its uses where the rate says whichever is less."""
    stay = chain[-1]
    time = {number: one * stay.count for number, one in chain_charge(facts, versions, chain, until).items()}
    used = {}
    for one in chain:
        for number, amount in all_uses(facts, versions, one, until).items():
            add(used, number, amount)
    amounts = dict(time)
    for number in {*time, *used}:
        rate = rate_of(versions[number], stay)
        if rate and rate.uses == "cheaper" and rate.use is not None:
            timed = rate.day is not None or rate.week is not None or rate.month is not None
            by_use = used.get(number, Fraction(0))  # never cast is charged nothing
            amounts[number] = min(by_use, time[number]) if timed and number in time else by_use
    return amounts


def all_uses(facts, versions, stay, until):
    found = {}
    for use in facts.uses.get(stay.id, ()):
        if a_day(use.date) >= until:
            continue
        number = holds(versions, a_day(use.date), a_day(chain_of(facts, stay)[0].out))
        rate = rate_of(versions[number], stay) if number is not None else None
        if rate and rate.use is not None:
            kept = kept_share(versions[number], stay)
            add(found, number, Fraction(rate.use) * use.count * kept)
    return found


def use_charges(facts, versions, stay, until):
    return {
        number: amount
        for number, amount in all_uses(facts, versions, stay, until).items()
        if rate_of(versions[number], stay).uses == "added"
    }


def kept_share(terms, stay):
    found = fitting(terms.discounts, stay)
    return 1 - Fraction(found.per_cent) / 100 if found else Fraction(1)


def chain_charge(facts, versions, chain, until):
    stay = chain[-1]
    started = a_day(chain[0].out)
    rows, taken, over = [], set(), False
    end = started
    for one in chain:
        days, tail, over, _ = on_hire(versions, one, until)
        for day in days + tail:
            if day in taken or (taken and day < max(taken)):
                continue
            taken.add(day)
            number = holds(versions, day, started)
            if number is None or not is_charged(versions[number], day):
                continue
            share = down_share(facts, one, day)
            if day in tail:
                share *= versions[holds(versions, a_day(one.back), a_day(one.out)) or 0].loss.until_settled
            rows.append((day, number, share))
        if days or tail:
            end = max(end, max(days + tail) + DAY)
        elif over:
            end = max(end, a_day(one.back))
    continued = stay.id in facts.continued
    last = last_version(versions, taken, started, end)
    least = over and not continued and last is not None
    if least:
        rows += made_up(versions[last], last, rows, end)
    return priced_by_version(versions, stay, rows, started, last if least else None, taken, end)


def last_version(versions, taken, started, end):
    if taken:
        numbers = [holds(versions, day, started) for day in taken]
        return max((one for one in numbers if one is not None), default=None)
    return holds(versions, end, started) or 0


def made_up(terms, number, rows, end):
    extra, day = [], end
    while len(rows) + len(extra) < terms.minimum.days:
        if is_charged(terms, day):
            extra.append((day, number, Fraction(1)))
        day += DAY
    return extra


def down_share(facts, stay, day):
    shares = [
        one.share
        for one in facts.facts.stand_downs
        if one.from_ <= day < one.until and (not one.stays or stay.id in one.stays)
    ]
    return min(shares, default=1)


def priced_by_version(versions, stay, rows, started, least, taken, end):
    found, position = {}, 0
    for number, terms in enumerate(versions):
        mine = [(day, share) for day, version, share in rows if version == number]
        here = [day for day in taken if holds(versions, day, started) == number]
        if not here and not mine:
            continue
        here = here or [end]
        mine = stepped(terms, mine, position)
        position += len(mine)
        rate = rate_of(terms, stay)
        amount = cheapest(terms, rate, mine, min(here)) if rate else Fraction(0)
        found[number] = amount * kept_share(terms, stay)
    if least is not None and least in found and versions[least].minimum.per == "piece":
        rate = rate_of(versions[least], stay)
        if rate and any(one is not None for one in (rate.day, rate.week, rate.month)):
            found[least] += max(Fraction(0), Fraction(versions[least].minimum.amount) - sum(found.values()))
    return found


def stepped(terms, mine, position):
    result = []
    for place, (day, share) in enumerate(mine):
        reached = position + place if terms.steps_for == "beyond" else position + len(mine) - 1
        for step in terms.steps:
            if step.after_days == max([one.after_days for one in terms.steps if one.after_days <= reached], default=-1):
                share = share * step.share
        result.append((day, share))
    return result


def cheapest(terms, rate, days, start):
    """The least of every mix: some months from the start, some weeks after them, the rest in days."""
    if not days:
        return Fraction(0)
    units = {one: getattr(rate, one) for one in ("day", "week", "month")}
    if rate.choose != "cheapest":
        units = {one: value if one == rate.choose else None for one, value in units.items()}
    costs, spent, opened, months = [], Fraction(0), start, 0
    while True:
        left = [item for item in days if item[0] >= opened]
        costs += [spent + cost for cost in weeks_and_days(terms, rate, units, left)]
        if units["month"] is None or not left:
            return min(costs, default=Fraction(0))
        months += 1
        closed = month_end(start, months, terms.month)
        inside = [share for day, share in left if day < closed]
        full = sum(is_charged(terms, opened + n * DAY) for n in range((closed - opened).days))
        spent += month_cost(rate, units, inside, full)
        opened = closed


def month_cost(rate, units, shares, full):
    if not shares:
        return Fraction(0)
    alone = units["day"] is None and units["week"] is None and rate.odd_days == "pro_rata"
    return Fraction(units["month"]) * sum(shares) / (full if alone else len(shares))


def month_end(start, months, kind):
    if kind != "calendar":
        return start + months * int(kind) * DAY
    year, month = start.year, start.month
    for _ in range(months):
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
    return date(year, month, min(start.day, monthrange(year, month)[1]))


def weeks_and_days(terms, rate, units, left):
    """What each way of covering the rest without months costs; none if there is no way."""
    if not left:
        return [Fraction(0)]
    shares = [share for _, share in left]
    length = 7 - len(FREE_WEEKDAYS[terms.week])
    if units["week"] is None:
        return [Fraction(units["day"]) * sum(shares)] if units["day"] is not None else []
    week = Fraction(units["week"])
    if units["day"] is None and rate.odd_days == "pro_rata":
        return [week * sum(shares) / length]
    upto = list(accumulate(shares, initial=0))
    found, spent, done = [], Fraction(0), 0
    while True:
        if units["day"] is not None:
            found.append(spent + Fraction(units["day"]) * (upto[-1] - upto[done]))
        if done >= len(shares):
            found.append(spent)
            return found
        begun, done = done, min(done + length, len(shares))
        spent += week * (upto[done] - upto[begun]) / (done - begun)


def ending_charge(versions, stay):
    number = holds(versions, a_day(stay.back), a_day(stay.out)) or 0
    terms = versions[number]
    sold = fitting(terms.sales, stay) if stay.end == "sold" else None
    value = sold.amount if sold else stay.replacement
    if value is None:
        found = fitting(terms.replacement, stay)
        value = found.amount if found else Decimal(0)
    share = terms.loss.share if stay.end == "lost" else Fraction(1)
    return number, Fraction(value) * share * stay.count
