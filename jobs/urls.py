from django.urls import URLPattern, URLResolver, path

from jobs.views import boards

urlpatterns: list[URLPattern | URLResolver] = [
    path("", boards.board, name="board"),
]
