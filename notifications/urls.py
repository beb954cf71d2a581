from django.urls import path

from notifications import views

urlpatterns = [
    path("desk/notices/", views.page, name="notices"),
    path("desk/notices/<int:notice_id>/", views.decide, name="notice-decide"),
]
