"""Why no pieces in the list can make a run, in a sentence that can be checked against the list."""

from __future__ import annotations

from jobs.planning.request import CoverRequest, PieceType, Run


def reason_impossible(request: CoverRequest, run: Run) -> str:
    """The first reason that holds, from the plainest to the least plain."""
    rules = request.rules
    least, most = run.window(rules)
    types = [piece for piece in request.pieces if piece.section_mm == run.section_mm]
    if not types:
        return f"No edge form of section {run.section_mm} mm is in the list."
    if most <= 0:
        return f"Its pieces may total at most {most} mm, which leaves no room for any."
    shortest = min(piece.length_mm for piece in types)
    if shortest > most:
        return f"The shortest form is {shortest} mm and its pieces may total at most {most} mm."
    longest = _longest_total(types, rules.max_pieces_per_run)
    if longest < least:
        return f"At most {rules.max_pieces_per_run} pieces total {longest} mm at the longest, and it needs {least} mm."
    if rules.ends == "splayed" and run.seats and not any(piece.splayed_ends for piece in types):
        return f"No form of section {run.section_mm} mm has a splayed end to seat with."
    return (
        f"No choice of at most {rules.max_pieces_per_run} pieces totals {least} to {most} mm"
        f"{_ends_words(run.seats) if rules.ends == 'splayed' else ''}."
    )


def _longest_total(types: list[PieceType], most_pieces: int) -> int:
    return most_pieces * max(piece.length_mm for piece in types)


def _ends_words(seats: int) -> str:
    if not seats:
        return " with square ends at every joint"
    where = "at the end that seats" if seats == 1 else "at both ends"
    return f" with a splayed end {where} and square ends at every joint"
