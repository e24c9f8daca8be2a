"""Addresses of this slice."""

from django.urls import path

from fleet.defects.views import (
    cocks,
    defects,
    escalating,
    isolations,
    moving,
    signing,
    work,
)

app_name = "defects"

urlpatterns = [
    path("cocks/", cocks.cock_list, name="cock-list"),
    path("cocks/<int:pk>/", cocks.cock, name="cock"),
    path("cocks/<int:pk>/prove/", cocks.cock_prove, name="cock-prove"),
    path("cocks/<int:pk>/close/", cocks.cock_close, name="cock-close"),
    path("vehicles/<int:pk>/cock/", cocks.cock_add, name="cock-add"),
    path("defects/", defects.defect_list, name="defect-list"),
    path("defects/add/", defects.defect_add, name="defect-add"),
    path("defects/<int:pk>/", defects.defect, name="defect"),
    path("defects/<int:pk>/step/<slug:step>/", defects.defect_step, name="defect-step"),
    path(
        "defects/<int:pk>/assess-higher/",
        escalating.assess_higher,
        name="assess-higher",
    ),
    path("defects/steps/<int:pk>/correct/", defects.step_correct, name="step-correct"),
    path(
        "defects/steps/<int:pk>/take-back/",
        defects.step_take_back,
        name="step-take-back",
    ),
    path("defects/steps/<int:pk>/counter-sign/", signing.step_sign, name="step-sign"),
    path("work/<int:pk>/counter-sign/", signing.work_sign, name="work-sign"),
    path("isolations/", isolations.isolation_list, name="isolation-list"),
    path("isolations/<int:pk>/", isolations.isolation, name="isolation"),
    path(
        "isolations/<int:pk>/complete/",
        isolations.isolation_complete,
        name="isolation-complete",
    ),
    path(
        "isolations/<int:pk>/restore/",
        isolations.isolation_restore,
        name="isolation-restore",
    ),
    path(
        "isolations/<int:pk>/take-back/",
        isolations.isolation_take_back,
        name="isolation-take-back",
    ),
    path("isolations/<int:pk>/move/", moving.move_authorise, name="move-authorise"),
    path("moves/<int:pk>/withdraw/", moving.move_withdraw, name="move-withdraw"),
    path(
        "vehicles/<int:pk>/isolate/<slug:system>/",
        isolations.isolation_add,
        name="isolation-add",
    ),
    path("vehicles/<int:pk>/work/", work.work_start, name="work-start"),
    path("work/<int:pk>/release/", work.work_release, name="work-release"),
]
