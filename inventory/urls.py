from django.urls import URLPattern, URLResolver, path

from inventory.views import account, docket_forms, dockets, health, scan

urlpatterns: list[URLPattern | URLResolver] = [
    path("health", health.health, name="health"),
    path("sign-in/", account.SignIn.as_view(), name="sign-in"),
    path("sign-out/", account.SignOut.as_view(), name="sign-out"),
    path("account/password/", account.ChangePassword.as_view(), name="password"),
    path("scan/", scan.scan, name="scan"),
    path("scan/read/", scan.read, name="scan-read"),
    path("scan/undo/", scan.undo, name="scan-undo"),
    path("dockets/", dockets.DocketList.as_view(), name="dockets"),
    path("dockets/new/", dockets.new, name="docket-new"),
    path("dockets/<int:pk>/", dockets.docket, name="docket"),
    path("dockets/<int:pk>/paper/", dockets.paper, name="docket-paper"),
    path("dockets/<int:pk>/press/", dockets.press, name="docket-press"),
    path("dockets/<int:pk>/wanted/", docket_forms.want, name="docket-want"),
    path("dockets/<int:pk>/leave/", docket_forms.leave, name="docket-leave"),
    path("dockets/<int:pk>/receive/", docket_forms.receive, name="docket-receive"),
    path("dockets/<int:pk>/count/", docket_forms.count, name="docket-count"),
    path("dockets/<int:pk>/goods/", docket_forms.goods, name="docket-goods"),
    path("dockets/<int:pk>/untagged/", docket_forms.untagged, name="docket-untagged"),
    path("dockets/<int:pk>/exception/", docket_forms.exception, name="docket-exception"),
]
