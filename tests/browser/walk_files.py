"""The files of a small yard of our own, as it would bring them in on its first day."""

from __future__ import annotations

import datetime as dt
from importlib import import_module

from django.apps import apps

TYPES = """code,name,kind,tracked,section mm,length mm,splayed ends,mass kg,replacement value
F60,Edge form 150 x 6.0 m,edge form,by tag,150,6000,1,13.1,420
F30,Edge form 150 x 3.0 m,edge form,by tag,150,3000,1,6.6,240
FB,Form bracket,form bracket,by tag,,,,2.1,35
SB,Stack bracket,stack bracket,by tag,,,,2.6,48
CC,Corner clamp,corner clamp,by tag,,,,1.9,30
SP,Splice plate,splice plate,by tag,,,,1.2,15
FX,Slab fixing,slab fixing,by count,,,,0.2,2
TS,Set of tools,tool,by tag,,,,8,300
B-ST,Stud bolt,bolt,by count,,,,0.1,1
B-FL,Flanged bolt,bolt,by count,,,,0.1,1
B-SP,Splice bolt,bolt,by count,,,,0.1,1
IN,Insert M12 x 50,insert,by count,,,,0.1,1
SC,Screw M12,screw,by count,,,,0.05,1
WA,Washer,washer,by count,,,,0.02,1
"""
TAGGED = {"F60": 2, "F30": 2, "FB": 24, "SB": 24, "CC": 4, "SP": 4, "TS": 1}
COUNTED = {"FX": 200, "B-ST": 400, "B-FL": 400, "B-SP": 100, "IN": 400, "SC": 400, "WA": 400}


def as_migrated() -> None:
    """What migrating puts into an empty database; the clean-up of a test with real commits takes it along."""
    import_module("jobs.migrations.0003_the_rules_a_new_yard_starts_with")._seed(apps, None)
    import_module("inventory.migrations.0018_the_damage_reasons_a_new_yard_starts_with").seed(apps, None)


def pieces(place: str) -> str:
    rows = [f"{code}-{number},{code},{place}" for code, count in TAGGED.items() for number in range(1, count + 1)]
    return "\n".join(["own number,type,place", *rows]) + "\n"


def counted(place: str) -> str:
    return "\n".join(["type,place,quantity", *(f"{code},{place},{count}" for code, count in COUNTED.items())]) + "\n"


def schedule(first: dt.date, second: dt.date) -> str:
    """Two panels, one cast on the other."""
    return (
        "mark,width,height,thickness,stack,level,pour date,pour\n"
        f"A1,6000,3000,150,A,1,{first},Pour 1\n"
        f"A2,6000,3000,150,A,2,{second},Pour 2\n"
    )
