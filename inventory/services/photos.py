"""Photos of damage: checked, made small, stripped of what a phone writes into them, and bound to their event."""

from __future__ import annotations

import io
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from django.core.files.base import ContentFile
from PIL import Image, ImageOps, UnidentifiedImageError

from inventory.errors import Refused
from inventory.models import Person, Photo

LONGEST_SIDE = 1600
MOST_PIXELS = 50_000_000
MOST_BYTES = 20_000_000
TYPES = ("JPEG", "PNG", "WEBP")


def keep_photo(
    event_id: UUID, upload: Any, *, by: Person | None, now: datetime, pk: UUID | None = None
) -> Photo | None:
    """Stored anew as JPEG: turned upright, no larger than needed, without place and device data.

    pk   made where the photo was taken, so that it is kept once however often it is sent; None when it was had before
    """
    if pk is not None and Photo.objects.filter(pk=pk).exists():
        return None
    if getattr(upload, "size", 0) > MOST_BYTES:
        raise Refused("photo-large", "The photo is larger than 20 MB. Take a smaller one.")
    try:
        with Image.open(upload, formats=TYPES) as image:
            if image.width * image.height > MOST_PIXELS:
                raise Refused("photo-large", "The photo has more than 50 million pixels. Take a smaller one.")
            upright = ImageOps.exif_transpose(image).convert("RGB")
    except (UnidentifiedImageError, OSError, ValueError, Image.DecompressionBombError):
        raise Refused("photo-unreadable", "The photo cannot be read. Take it again as JPEG, PNG or WebP.") from None
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    file = io.BytesIO()
    upright.save(file, "JPEG", quality=85)
    photo = Photo(id=pk or uuid4(), event_id=event_id, stored_at=now, person=by)
    photo.image.save(f"{photo.id}.jpg", ContentFile(file.getvalue()), save=False)
    photo.save(force_insert=True)
    return photo
