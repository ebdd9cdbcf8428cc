from django.contrib import admin
from django.urls import include, path
from django.views.generic import RedirectView

from inventory.views.access import public

urlpatterns = [
    # One sign-in for everyone, the admin included.
    path("admin/login/", public(RedirectView.as_view(pattern_name="sign-in", query_string=True))),
    path("admin/", admin.site.urls),
    path("", include("inventory.urls")),
    path("", include("jobs.urls")),
]

handler400 = "inventory.views.errors.bad_request"
handler403 = "inventory.views.errors.forbidden"
handler404 = "inventory.views.errors.not_found"
handler500 = "inventory.views.errors.server_error"
