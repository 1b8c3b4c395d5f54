"""The page behind the code of a paper, for whoever opens it in a browser without a sign-in: which paper of which shop it is.

It tells what stands at the head of the paper anyway, and nothing else of the record. Programs get the refusal as ever.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from django.utils.html import escape

from shopdocs.documents.press.words import ENGLISH, first_spoken, speaks, words

PAGE = """<!doctype html>
<html lang="{language}"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex"><title>{head}</title>
<style>body{{font:1.1rem/1.5 sans-serif;max-width:34rem;margin:3rem auto;padding:0 1rem}}</style></head>
<body><h1>{head}</h1>{lines}</body></html>
"""
HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'",
    "Referrer-Policy": "no-referrer",
    "WWW-Authenticate": "Token",
}


class OnPaper:
    # A view whose record has its address as a code on a paper: `paper` names it, `numbered` is the field of its number. No
    # docstring: the API description would tell it of every view that has none of its own.
    model: Any
    paper: str
    numbered = "number"
    opens = "retrieve"

    def opened(self, request: Any, pk: UUID, **more: Any) -> HttpResponse:
        """The page, in a language of the browser's, else the shop's; the same words for every address without a record."""
        # No shop is known yet: as with the customer's link, the address itself says whose record it is.
        row: Any = self.model._default_manager.filter(pk=pk).select_related("shop").first()
        shop = row.shop if row is not None else None
        language = first_spoken(
            request.headers.get("Accept-Language", ""), speaks(shop.language if shop else "") or ENGLISH
        )
        say = words(language)
        number = "" if row is None else self.number_of(row, request)
        if shop is None or not number:
            head = say("Sign in")
            lines = [
                say(
                    "No paper is known at this address. Scan the code again, or type the address as it stands on the paper."
                )
            ]
        else:
            head = f"{say(self.paper)} {number}"
            lines = [
                say("This code is on a paper of {shop}.").format(shop=shop.name),
                say("What the paper is about is shown only to people of the shop who have signed in."),
                say("If you have a question about it, call {shop} on {phone} and name {number}.")
                if shop.phone
                else say("If you have a question about it, ask {shop} and name {number}."),
            ]
            lines[-1] = lines[-1].format(shop=shop.name, phone=shop.phone, number=number)
        told = "".join(f"<p>{escape(line)}</p>" for line in lines)
        page = PAGE.format(language=language, head=escape(head), lines=told)
        return HttpResponse(page, status=401, headers=HEADERS)

    def number_of(self, row: Any, request: Any) -> str:
        # What the paper is called, by the record or by what the code asks of it.
        number: str = getattr(row, self.numbered)
        return number
