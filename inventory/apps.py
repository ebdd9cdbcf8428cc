from django.apps import AppConfig
from django.core import checks
from django.db.models.signals import post_migrate


class InventoryConfig(AppConfig):
    name = "inventory"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from inventory.models import guard
        from inventory.models.roles import make_role_groups
        from inventory.views.access import check_every_view_is_marked

        post_migrate.connect(make_role_groups, sender=self)
        post_migrate.connect(guard.after_migrate, sender=self)
        checks.register(check_every_view_is_marked, checks.Tags.urls)
