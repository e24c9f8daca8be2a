"""Whether this process can answer and reach its database."""

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe


@login_not_required
@never_cache
@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    """Answer 200 where the database answers, 503 where it does not; no log-in."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return HttpResponse("no database\n", status=503, content_type="text/plain")
    return HttpResponse("ok\n", content_type="text/plain")
