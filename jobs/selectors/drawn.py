"""Each pour of a checked job drawn: its panels in plan with the runs that the plan composed."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from jobs.planning.drawing import draw_panel
from jobs.planning.findings import pour_words
from jobs.planning.takeoff import PanelTakeoff
from jobs.selectors.plans import Plan, SideLine, sides


@dataclass(frozen=True)
class DrawnPanel:
    """One panel: its drawing, an SVG of our own, and the pieces of each of its sides from the seat."""

    takeoff: PanelTakeoff
    svg: str
    sides: tuple[SideLine, ...]


@dataclass(frozen=True)
class DrawnPour:
    """The panels of one pour. Its days are those of the check."""

    name: str
    panels: tuple[DrawnPanel, ...]
    lines: tuple[SideLine, ...]

    @property
    def words(self) -> str:
        return pour_words(self.name)

    @property
    def days(self) -> tuple[object, object]:
        return self.lines[0].run.start, self.lines[0].run.until


def pours_of(plan: Plan, draw: Collection[str] = ()) -> list[DrawnPour]:
    """The pours of a check in the order of their days; only those named are drawn."""
    lines: dict[str, list[SideLine]] = {}
    for line in sides(plan):
        lines.setdefault(line.pour, []).append(line)
    drawn = dict(_drawn(plan, draw, lines)) if draw else {}
    found = [DrawnPour(name, drawn.get(name, ()), tuple(mine)) for name, mine in lines.items()]
    return sorted(found, key=lambda pour: (pour.lines[0].run.start, pour.name))


def _drawn(
    plan: Plan, draw: Collection[str], lines: dict[str, list[SideLine]]
) -> Iterator[tuple[str, tuple[DrawnPanel, ...]]]:
    items = plan.cut_list().takeoff.panels
    below = {item.above: item.panel for item in items if item.above}
    for name in draw:
        mine = [item for item in items if item.panel.pour == name]
        yield (
            name,
            tuple(
                DrawnPanel(
                    item,
                    draw_panel(item, below.get(item.panel.mark), f"drawn-{items.index(item)}"),
                    tuple(line for line in lines.get(name, ()) if line.key.rpartition("/")[0] == item.panel.mark),
                )
                for item in mine
            ),
        )
