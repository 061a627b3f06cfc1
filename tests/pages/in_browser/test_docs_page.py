"""The page of the API in a browser: it works under the site's strict content security policy, without another host."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.api.test_openapi import DOCS, OPERATIONS


def test_docs_page_shows_every_operation_and_breaks_no_policy(context, live_server):
    page = context.new_page()
    asked, complaints = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(live_server.url + DOCS)
    expect(page.locator(".opblock")).to_have_count(len(OPERATIONS))
    assert [url for url in asked if not url.startswith((live_server.url, "data:"))] == []
    assert complaints == []
