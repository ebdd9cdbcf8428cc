"""What each contradiction means and what to do, in one sentence: the words of every answer and review card."""

from __future__ import annotations

SENTENCES: dict[str, str] = {
    # found by the fold of a piece
    "seen-after-retired": "This piece was reported after it was taken off the books.",
    "not-registered": "This piece was reported before it was registered.",
    "seen-after-lost": "This piece was written off as lost and has been seen again.",
    "seen-elsewhere": "This piece was in somebody's hands at a place where the record does not have it.",
    "registered-twice": "This piece is registered a second time; the first registration stands.",
    "left-pour-unstripped": "This piece left a pour that was never recorded as stripped.",
    "unfit-sent": "Unfit gear was loaded. Take it off the truck, or have it inspected before anyone uses it.",
    "unfit-received": "Unfit gear has arrived on site. Keep it out of the pour and send it back.",
    "unfit-set": "Unfit gear is set in a pour. Have it inspected or swapped before the concrete is placed.",
    "sent-from-elsewhere": "This piece was loaded at a place where the record does not have it.",
    "not-on-docket": "This piece was counted off a docket it was not loaded on.",
    "set-while-set": "This piece was set in a pour while the record still has it in another.",
    "set-from-elsewhere": "This piece was set in a pour on a site where the record does not have it.",
    "cast-twice": "This pour was cast a second time with no setting between.",
    "cast-not-set": "This piece was cast in a pour in which it was never set.",
    "cast-uncleaned": "This piece was cast again with no cleaning since its last cast.",
    "called-off-after-cast": "This pour was called off after it was cast; the cast stands.",
    "strip-without-cast": "This pour was stripped with neither a cast nor a call-off recorded; it counts as cast.",
    "strip-not-set": "This piece was stripped from a pour in which it was not set.",
    "returned-not-out": "This piece was returned while the record already has it at this yard.",
    "returned-from-other-site": "This piece came back under another job than the one that holds it.",
    "found-not-lost": "This piece was found though nobody had written it off.",
    # found by the fold of counted goods
    "count-negative": "More of these goods have left this place than were ever counted in.",
    # found on the way in
    "tag-unknown": "No piece carries this code. Check it, or say which piece it was.",
    "tag-not-fixed": "This code was not yet on a piece when it was scanned. Say which piece it was.",
    "untagged": "A piece without a readable tag was reported by type. Say which piece it was.",
    "conflict": "The same report came twice with different contents; the first one stands.",
    "future-time": "The device gave a time in the future; the time of receipt is used.",
    "clock-off": "This device's clock is wrong; its times were corrected. Set its clock.",
    "docket-over": "This scan came in after its docket was closed, and has changed what the docket says.",
    "stocktake-unknown": "There is no such stocktake. Scan into the one that is open at this place.",
    "stocktake-over": "This was seen in a stocktake that had been closed without it. Say whether it was there.",
    # refused
    "not-loading": "This docket has left or is closed: nothing more goes onto it. Open another docket.",
    "unfit-refused": "This piece is marked unfit and stays here. A manager may override it with a reason.",
    "kind-not-for-group": "That press does not make sense for this group.",
    "says-nothing": "The report names no piece, group or goods. Scan or type a code.",
    "piece-and-group": "A report is about one piece or about one group, not both.",
    "piece-unknown": "There is no such piece. Scan or type its code.",
    "group-unknown": "There is no such pour, crate or docket.",
    "type-unknown": "There is no such type of gear in the catalogue.",
    "place-unknown": "There is no such place.",
    "docket-unknown": "There is no such docket.",
    "gear-from-where": "Where the gear of this pour comes from is not plain: several dockets or pours have some on "
    "this site, or none has. Open the pour's page and choose.",
    "place-missing": "Say at which place this happened.",
    "docket-missing": "Say on which docket it was loaded.",
    "quantity-missing": "Say how many.",
    "target-missing": "Say which event is taken back.",
    "grade-missing": "Say how the piece is: sound, watch or unfit.",
    "grade-unknown": "The grade is one of sound, watch and unfit.",
}

FOLD_CODES = frozenset(list(SENTENCES)[: list(SENTENCES).index("count-negative") + 1])
"""Codes that a fold raises, and that settle themselves when a later fold no longer finds them."""


def sentence(code: str) -> str:
    """The sentence of a code; a code without one is a mistake in this program.

    >>> sentence("docket-missing")
    'Say on which docket it was loaded.'
    """
    return SENTENCES[code]


def clock_off(seconds: int) -> str:
    """How far a clock is off, in words; seconds are its time minus ours.

    >>> clock_off(-7205)
    '120 min 5 s slow'
    """
    minutes, rest = divmod(abs(seconds), 60)
    return f"{minutes:,} min {rest} s {'fast' if seconds > 0 else 'slow'}" if seconds else "right to the second"


def is_loud(code: str) -> bool:
    """Whether somebody could be hurt: unfit gear on its way into, or in, a pour."""
    return code.startswith("unfit-") and code != "unfit-refused"
