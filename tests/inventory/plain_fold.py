"""A second fold, written apart from the first and as simply as can be: the oracle of the property tests.

It sorts every event there is, its own and everybody's presses, and walks through them once; a press counts when the
piece is in that group just then. State is a plain dict. It knows no findings.
"""

from __future__ import annotations

from inventory.lifecycle.events import Event
from inventory.lifecycle.world import Places

FRESH = {
    "books": "unregistered",
    "place": None,
    "docket": None,
    "pour": None,
    "phase": "",
    "crate": None,
    "dirty": False,
    "grade": "sound",
    "uses": 0,
    "since_clean": 0,
}


def standing_events(events: list[Event]) -> list[Event]:
    """Without what is taken back, judged from the latest link of each chain of reversals."""
    by = {}
    for e in events:
        if e.kind == "reversed":
            by.setdefault(e.target, []).append(e.id)

    def alive(pk, seen=()):
        return not any(alive(r, (*seen, pk)) for r in by.get(pk, []) if r not in (*seen, pk))

    return [e for e in events if e.kind != "reversed" and alive(e.id)]


def plain_fold(own: list[Event], presses: list[Event], places: Places, piece: int) -> dict:
    gone_for_me = {e.id for e in presses if e.kind != "reversed"} - {
        e.id for e in standing_events([*(p for p in presses if p.kind != "reversed"), *_reversals(own)])
    }
    mine = [e for e in standing_events(own) if e.group is None]
    ours = [e for e in _by_group(presses) if e.id not in gone_for_me]
    s = dict(FRESH)
    for e in sorted([*mine, *ours], key=lambda e: (e.happened, e.device, e.seq, e.id)):
        if e.group is None or _inside(s, e):
            step(s, e, places)
    return s


def _reversals(events):
    return [e for e in events if e.kind == "reversed"]


def _by_group(presses):
    groups = {e.group for e in presses}
    return [e for g in groups for e in standing_events([p for p in presses if p.group == g])]


def _inside(s, e):
    return s[{"pour": "pour", "docket": "docket", "crate": "crate"}[e.group.kind]] == e.group.id


def use(s):
    s["uses"] += 1
    s["since_clean"] += 1
    s["dirty"] = True


def leave(s):
    if s["phase"] == "set":
        use(s)
    s["phase"], s["pour"] = "", None


def step(s: dict, e: Event, places: Places) -> None:
    root, by = places.root, e.group.kind if e.group else ""
    if s["books"] in ("retired", "cut down"):
        return
    if s["books"] == "unregistered" and e.kind != "registered":
        s["books"] = "held"
    if s["books"] == "lost" and e.kind not in ("lost", "found", "retired"):
        s["books"] = "held"
    looked = ("cleaned", "counted", "found damaged", "inspected", "repaired", "retagged")
    if e.kind in looked and not by and e.place is not None and e.place != s["place"]:
        if s["place"] is None or root(e.place) != root(s["place"]):
            s["place"], s["docket"] = e.place, None
        elif e.place != root(e.place):
            s["place"] = e.place
    if not by and e.kind in ("sent", "set", "returned"):
        s["crate"] = None
    if by and by != "crate" and e.kind in ("sent", "set", "returned") and not _idle(s, e, by):
        s["crate"] = None
    rules.get(e.kind, lambda s, e, by, root: None)(s, e, by, root)


def _idle(s, e, by):
    """Presses on a docket that pass over a piece already dealt with; on a pour, one set there already."""
    if by == "docket":
        return e.kind == "sent" or (s["pour"] is not None if e.kind == "set" else s["place"] is not None)
    return s["phase"] == "set" and s["pour"] == e.place


def registered(s, e, by, root):
    if s["books"] == "unregistered":
        s["books"], s["place"] = "held", e.place


def sent(s, e, by, root):
    if by != "docket":
        leave(s)
        s["place"], s["docket"] = None, e.docket


def received(s, e, by, root):
    if by == "docket" and s["place"] is not None:
        return
    s["docket"] = e.docket or s["docket"]
    if s["place"] is None or root(s["place"]) != root(e.place):
        leave(s)
        s["place"] = e.place


def set_(s, e, by, root):
    if by == "docket" and s["pour"] is not None:
        return
    if s["phase"] == "set" and s["pour"] == e.place:
        return
    leave(s)
    s["place"] = s["pour"] = e.place
    s["phase"] = "set"


def cast(s, e, by, root):
    pour = e.group.id if by else (e.place if e.place is not None else s["pour"])
    if s["pour"] == pour and s["phase"] == "cast":
        return
    if s["phase"] != "set" or s["pour"] != pour:
        if by:
            return
        leave(s)
        s["place"] = s["pour"] = pour
    use(s)
    s["phase"] = "cast"


def called_off(s, e, by, root):
    if s["phase"] == "set":
        s["phase"] = "called off"


def stripped(s, e, by, root):
    if s["phase"] in ("set", "cast", "called off"):
        if s["phase"] == "set":
            use(s)
        s["phase"] = "stripped"
        s["place"] = root(e.place if e.place is not None else s["place"])


def cleaned(s, e, by, root):
    if by != "pour" or s["phase"] == "stripped":
        s["dirty"], s["since_clean"] = False, 0


def returned(s, e, by, root):
    if by == "docket" and s["place"] is not None:
        return
    leave(s)
    if "dirty" in e.data:
        s["dirty"] = e.data["dirty"]
        s["since_clean"] = s["since_clean"] if s["dirty"] else 0
    s["place"], s["docket"] = e.place, None


def counted(s, e, by, root):
    s["crate"] = e.data.get("crate", s["crate"])


def damaged(s, e, by, root):
    grade = e.data.get("grade", s["grade"])
    if s["grade"] == "sound" or (s["grade"] == "watch" and grade == "unfit"):
        s["grade"] = grade


def graded(s, e, by, root):
    s["grade"] = e.data.get("grade", s["grade"])


def repaired(s, e, by, root):
    if (s["grade"], e.data.get("grade")) == ("watch", "sound"):
        s["grade"] = "sound"


def lost(s, e, by, root):
    leave(s)
    s["books"] = "lost"
    s["place"] = s["docket"] = s["crate"] = None


def found(s, e, by, root):
    if s["books"] == "lost":
        s["books"], s["place"] = "held", e.place


rules = {
    "registered": registered,
    "sent": sent,
    "received": received,
    "set": set_,
    "cast": cast,
    "called off": called_off,
    "stripped": stripped,
    "cleaned": cleaned,
    "returned": returned,
    "counted": counted,
    "found damaged": damaged,
    "inspected": graded,
    "repaired": repaired,
    "lost": lost,
    "found": found,
}
