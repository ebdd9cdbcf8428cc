from django.urls import include, path

urlpatterns = [
    path("", include("inventory.urls")),
    path("", include("jobs.urls")),
]
