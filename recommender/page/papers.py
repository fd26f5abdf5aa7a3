"""What is handed over: the fit sheet and the report, as pages that hold everything they need, and as PDF."""

from __future__ import annotations

from typing import Final

from starlette.responses import HTMLResponse, Response

from triptych.catalog.database.engine import reading
from triptych.catalog.page_files import pdf
from triptych.catalog.stock.label_page import label_page
from triptych.catalog.stock.labels import unit_labels
from triptych.catalog.stock.quote_page import quote_page
from triptych.catalog.stock.quote_reading import offers
from triptych.recommender.advise import picturing
from triptych.recommender.advise.picturing import refuse_what_does_not_fit
from triptych.recommender.installing import newest_check
from triptych.recommender.page.asked import Visit, question_of
from triptych.recommender.page.counter_forms import number_of
from triptych.recommender.page.purchasing import labels_asked
from triptych.recommender.report.client_report import Extra, report_page
from triptych.recommender.report.fit_sheet import sheet_page
from triptych.recommender.report.page import policy

TOLD_WHOLE: Final = 3
"""So many of the ranked are shown whole in the report."""


def fit_sheet(asked: Visit) -> Response:
    """One A4 page for the installer, as `triptych sheet` writes it."""
    question = question_of(asked)
    name, place = asked.word("name"), asked.word("place") or None
    found = asked.catalogue.answer(lambda session: picturing.fitting(session, question, name, place))
    refuse_what_does_not_fit(found)
    return handed(sheet_page(found, asked.unit), asked, "fit-sheet")


def report(asked: Visit) -> Response:
    """The answer with pictures and reasons for the client, as `triptych report` writes it."""
    question = question_of(asked)
    found = asked.catalogue.answer(lambda session: picturing.dossier(session, question, TOLD_WHOLE))
    checked = newest_check(asked.catalogue, question, lambda words: None)
    return handed(report_page(found, Extra(None, checked), asked.unit), asked, "report")


def labels(asked: Visit) -> Response:
    """Labels to print, as `triptych stock labels` writes them."""
    with reading(asked.catalogue.engine) as session:
        found = unit_labels(session, labels_asked(asked))
    page, _ = label_page(found.labels)
    return handed(page, asked, "labels")


def quote(asked: Visit) -> Response:
    """A quote as the page that the customer gets, as `triptych quote print` writes it."""
    with reading(asked.catalogue.engine) as session:
        offer = offers(session, number_of(asked.word("number")))[0]
    return handed(quote_page(offer), asked, f"quote-{offer.number}")


def handed(page: str, asked: Visit, name: str) -> Response:
    """A page that holds all it needs, or a PDF of it where that is asked for."""
    if asked.word("form") == "pdf":
        headers = {"content-disposition": f'inline; filename="{name}.pdf"'}
        return Response(pdf(page), media_type="application/pdf", headers=headers)
    return HTMLResponse(page, headers={"content-security-policy": f"{policy()}; frame-ancestors 'none'"})
