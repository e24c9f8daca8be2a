"""The page that traces items: by type, batch, overhauler and kit."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.register.models import OverhaulVersion
from fleet.register.vocabulary import EquipmentKind
from fleet.web.tracing import LONGEST, Asked, Traced, traced

SUGGESTED = "overhaulers"  # the list of names used so far, on the page


class TraceForm(forms.Form):
    """Which items are traced."""

    kind = forms.ChoiceField(
        choices=[("", "Any kind"), *EquipmentKind.choices()], required=False
    )
    designation = forms.CharField(label="Type designation", required=False)
    batch = forms.CharField(label="Batch, of hoses", required=False)
    overhauler = forms.CharField(
        label="Overhauled by",
        required=False,
        widget=forms.TextInput({"list": SUGGESTED, "autocomplete": "off"}),
    )
    kit = forms.CharField(label="Kit or batch of seals", required=False)

    def clean(self) -> dict[str, Any]:
        """Refuse a trace of everything there is."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and not self.asked.anything:
            raise ValidationError("Say which items to trace.", code="nothing_asked")
        return cleaned

    @property
    def asked(self) -> Asked:
        """Return what is asked, spaces run together."""
        said = self.cleaned_data
        return Asked(**{name: " ".join(said[name].split()) for name in self.fields})


def trace(request: HttpRequest) -> HttpResponse:
    """Show where items of one sort have ever been; the newest first."""
    form = TraceForm(request.GET or None)
    asked = form.asked if form.is_valid() else Asked()
    context = {
        "form": form,
        "asked": asked,
        "found": traced(asked) if asked.anything else Traced(),
        "longest": LONGEST,
        "suggested": SUGGESTED,
        "names": OverhaulVersion.objects.overhaulers(),
    }
    return render(request, "web/trace_items.html", context)
