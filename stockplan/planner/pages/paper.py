"""Documents as the answer to a request."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.translation import gettext as _

from inventory.wording import in_words
from stockplan.paper.documents import Document, document_pdf
from stockplan.paper.fonts import NoGlyphError


def pdf_answer(*documents: Document, name: str) -> HttpResponse:
    """Answer with documents as a PDF of that name, or say which character could not be printed."""
    try:
        pdf = document_pdf(*documents)
    except NoGlyphError as error:
        said = _("Nothing was printed: %(why)s") % {"why": in_words(error)}
        return HttpResponse(said, status=422, content_type="text/plain; charset=utf-8")
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"'}
    return HttpResponse(pdf, content_type="application/pdf", headers=headers)
