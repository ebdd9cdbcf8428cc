from django.urls import URLPattern, URLResolver, path

from inventory.views import account, docket_forms, dockets, health, piece_presses, pieces, scan

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
    # The QR is printed in capitals; a path, unlike a host, tells them from small letters.
    path("T/<str:code>", pieces.tag, name="tag"),
    path("t/<str:code>", pieces.tag, name="tag-typed-small"),
    path("pieces/", pieces.PieceList.as_view(), name="pieces"),
    path("pieces/new/", piece_presses.piece_new, name="piece-new"),
    path("pieces/<int:pk>/", pieces.piece, name="piece"),
    path("pieces/<int:pk>/tag/", piece_presses.piece_retag, name="piece-retag"),
    path("pieces/<int:pk>/details/", piece_presses.piece_details, name="piece-details"),
    path("pieces/<int:pk>/<str:name>/", piece_presses.piece_press, name="piece-press"),
    path("photos/<uuid:pk>/", pieces.photo, name="photo"),
]
