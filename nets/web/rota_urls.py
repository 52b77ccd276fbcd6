"""Addresses of the rota, its drafts, and turns that change hands."""

from django.urls import path

from nets.web import rota, swaps

urlpatterns = [
    path("rota/", rota.board, name="rota"),
    path("rota/wishes/", rota.wishes, name="rota_wishes"),
    path("rota/fill/", rota.fill, name="rota_fill"),
    path("rota/draft/", rota.drafts, name="rota_drafts"),
    path("rota/draft/<int:pk>/", rota.draft, name="rota_draft"),
    path("rota/draft/<int:pk>/publish/", rota.publish, name="rota_publish"),
    path("rota/draft/<int:pk>/discard/", rota.discard, name="rota_discard"),
    path("swaps/", swaps.swap_list, name="swaps"),
    path("swaps/offer/<int:pk>/", swaps.offer, name="swap_offer"),
    path("swaps/<int:pk>/settle/", swaps.settle, name="swap_settle"),
    path("duties/<int:pk>/stand-ins/", swaps.substitutes, name="swap_substitutes"),
    path("duties/<int:pk>/hand-over/", swaps.hand_over, name="swap_hand_over"),
]
