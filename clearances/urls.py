"""The addresses of the board's pages and acts."""

from django.urls import include, path

from .pages import views as pages
from .views import act

urlpatterns = [
    path("", pages.home, name="home"),
    path("sign-in", pages.SignIn.as_view(), name="sign_in"),
    path("sign-out", pages.sign_out, name="sign_out"),
    path("desk/", pages.board, name="board"),
    path("desk/clearances/<int:number>/", pages.clearance, name="clearance"),
    path("desk/clearances/<int:number>/plans/", pages.plans, name="plans"),
    path("desk/clearances/<int:number>/rehearsal/", pages.rehearsal, name="rehearsal"),
    path("desk/clearances/<int:number>/rehearsal/slips/", pages.slips, name="slips"),
    path("desk/clearances/<int:number>/<slug:name>/", pages.paper, name="paper"),
    path("desk/clearances/<int:number>/<slug:name>/head.css", pages.paper_head, name="paper_head"),
    path("desk/holds/<int:hold>/tag/", pages.hold_tag, name="hold_tag"),
    path("desk/holds/<int:number>/tag/head.css", pages.paper_head, {"name": "tag"}),
    path("desk/out/", pages.out, name="out"),
    path("desk/changes/", pages.changes, name="changes"),
    path("desk/people/", pages.people, name="people"),
    path("field/", pages.field, name="field"),
    path("field/clearances/<int:number>/", pages.sheet, name="sheet"),
    path("clearances/<int:number>/proof/", pages.proof, name="proof"),
    path("service/", pages.service, name="service"),
    path("do/<str:name>/", act, name="act"),
    path("api/v1/", include("clearances.api.urls")),
]
