"""Choosing the tags of a truck's load list."""

from __future__ import annotations

from datetime import date

from django.db import transaction
from django.utils import timezone

from inventory.models import YardSettings
from jobs.errors import Refused
from jobs.models import Delivery, Job, Pick
from jobs.planning.picking import Order, share, together
from jobs.selectors.picks import candidates, chosen_before, held_by_crates, pick_list


@transaction.atomic
def choose_tags(*, delivery: Delivery, today: date | None = None) -> int:
    """Gives every line of the load list its tags: fit, clean, the nearest yard first, in the order the yard keeps; of
    those as good as each other, what lies together.

    What is chosen already and can still go stays; what can no longer go gives way. How many tags were chosen now.
    Raises Refused: "not-accepted", "has-left".
    """
    delivery = Delivery.objects.select_for_update(of=("self",)).select_related("job", "docket").get(pk=delivery.pk)
    job = delivery.job
    # one chooser at a time, so that two trucks cannot be given one piece
    YardSettings.current()
    settings = YardSettings.objects.select_for_update().get(pk=1)
    if job.stage not in {Job.Stage.ACCEPTED, Job.Stage.RUNNING} or delivery.is_return:
        raise Refused("not-accepted", "Only a truck that brings gear to an accepted job has tags to choose.")
    if delivery.docket is not None and delivery.docket.left_at:
        raise Refused("has-left", "This truck has left: what is on it stands on its docket.")
    lines = pick_list(delivery)
    gone = [one.piece.pk for line in lines for one in line.picked if one.wrong]
    delivery.picks.filter(piece__in=gone).delete()
    order: Order = "alike" if settings.pick_order == "alike" else "fewest"
    wanted = {line.type.pk: line.lacking for line in lines if line.by_tag and line.lacking}
    free, had = candidates(wanted, delivery, today or timezone.localdate()), chosen_before(delivery)
    shares = [
        share(free.get(kind, ()), count, order, [one.uses for one in had.get(kind, ())])
        for kind, count in wanted.items()
    ]
    begun = [one for some in had.values() for one in some]
    new = [Pick(delivery=delivery, piece_id=one.id) for one in together(shares, held_by_crates(), begun)]
    Pick.objects.bulk_create(new)
    return len(new)
