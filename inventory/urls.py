from django.urls import URLPattern, URLResolver, path

from inventory.views import account, health

urlpatterns: list[URLPattern | URLResolver] = [
    path("health", health.health, name="health"),
    path("sign-in/", account.SignIn.as_view(), name="sign-in"),
    path("sign-out/", account.SignOut.as_view(), name="sign-out"),
    path("account/password/", account.ChangePassword.as_view(), name="password"),
]
