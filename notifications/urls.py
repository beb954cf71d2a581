from django.urls import path

from notifications import api, views

urlpatterns = [
    path("desk/notices/", views.page, name="notices"),
    path("desk/notices/told/", views.told, name="notices-told"),
    path("desk/notices/<int:notice_id>/", views.decide, name="notice-decide"),
    path("api/v1/notices/", api.Notices.as_view(), name="api-notices"),
    path("api/v1/notices/<int:pk>/", api.Decide.as_view(), name="api-notice"),
]
