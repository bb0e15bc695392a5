"""The main job through the generated Python client: import a catalogue, page through the items, take a boat off, quote
it, read the document, and meet the problems that a client meets.

Its address comes from RIGBILL_URL and the owner key from RIGBILL_KEY, the file to import is the argument;
or --too-much, with a service that allows little.
"""

import datetime
import io
import os
import sys
import uuid
from collections.abc import Callable
from typing import Any, TypeVar

from rigbill_client import AuthenticatedClient
from rigbill_client.api.imports import create_import
from rigbill_client.api.items import create_item, list_items, read_item, retire_item
from rigbill_client.api.keys import create_key
from rigbill_client.api.quotes import create_quote, read_quote_document, replace_quote
from rigbill_client.api.take_offs import take_off
from rigbill_client.models import (
    Access,
    BankInput,
    BoatInput,
    BoatSpecInput,
    CostedQuote,
    EquipmentInput,
    Fault,
    Import,
    IssuedKey,
    Item,
    ItemForSalePage,
    ItemPage,
    JobType,
    KeyRequest,
    Known,
    LengthUnit,
    LengthValue,
    PanelInput,
    PowerInput,
    Problem,
    Propulsion,
    QuoteDocument,
    QuoteRequest,
    Role,
    RunInput,
    StationInput,
    TakeOff,
    WireAttributes,
)
from rigbill_client.types import UNSET, File, Response, Unset

T = TypeVar("T")


def check(holds: bool, what: str) -> None:
    """Fails unless it holds."""
    if not holds:
        raise SystemExit(f"not so: {what}")
    print(f"ok  {what}")


def answer(kind: type[T], response: Response[Any]) -> T:
    """What was answered, when it is of that kind; fails with the answer when it is not."""
    if not isinstance(response.parsed, kind):
        raise SystemExit(f"answered {response.status_code}: {response.content.decode()}")
    return response.parsed


def problem(response: Response[Any], status: int, slug: str) -> Problem:
    """The problem that was answered, which has to be of that status and kind."""
    met = answer(Problem, response)
    check(response.status_code == status == met.status and met.type_ == f"/problems/{slug}", f"{status} {slug}: {met.detail}")
    return met


def places(met: Problem) -> list[str]:
    """Where a problem says that something is wrong: pointers into the body, names of query parameters."""
    errors = [] if isinstance(met.errors, Unset) else met.errors
    return [error.pointer if isinstance(error, Fault) else error.parameter for error in errors]


def boat(station: str) -> BoatSpecInput:
    """A boat with one pump at a station."""

    def feet(value: float) -> LengthValue:
        return LengthValue(value=value, unit=LengthUnit.FT)

    return BoatSpecInput(
        boat=BoatInput(
            name="Petrel",
            job_type=JobType.FIRST_RIG,
            propulsion=Propulsion.OUTBOARD,
            stations=[
                StationInput(id="helm", petrol_vapour=Known.NO),
                StationInput(id="battery_box", petrol_vapour=Known.NO),
                StationInput(id="aft_bilge", petrol_vapour=Known.YES),
            ],
            runs=[
                RunInput(from_="battery_box", to="helm", length=feet(9)),
                RunInput(from_="battery_box", to="aft_bilge", length=feet(6.5), access=Access.TUBE),
            ],
        ),
        power=PowerInput(
            banks=[BankInput(id="house", station="battery_box", nominal_voltage_v=12, cold_cranking_a=650)],
            panels=[PanelInput(id="helm_panel", station="helm", bank="house", sku="PNL6-BL")],
        ),
        equipment=[EquipmentInput(id="pump", sku="PUMP-BILGE-500A", quantity=1, station=station)],
    )


def import_catalogue(client: AuthenticatedClient, csv: bytes) -> None:
    """All rows of a good file are taken; a bad one is refused with the place of its fault."""

    def send(content: bytes) -> Response[Any]:
        return create_import.sync_detailed(client=client, body=File(payload=io.BytesIO(content)))

    rows = len(csv.decode().strip().split("\n")) - 1
    made = answer(Import, send(csv))
    check(made.state == "applied" and made.rows_read == rows, f"import: {rows} rows are applied")
    refused = problem(send(csv.replace(b"20.50", b"twenty")), 422, "import-refused")
    assert isinstance(refused.import_, Import) and not isinstance(refused.import_.report, Unset)
    fault = refused.import_.report[0]
    check((fault.line, fault.column) == (2, "cost"), "import: a bad row is told by line and column")


def page_through_items(client: AuthenticatedClient) -> None:
    """Every item once, page by page; the form of its attributes is a class."""
    skus: set[str] = set()
    warm = pages = rows = 0
    cursor: str | Unset = UNSET
    while True:
        page = answer(ItemPage, list_items.sync_detailed(client=client, limit=200, cursor=cursor))
        for row in page.rows:
            skus.add(row.item.sku)
            if isinstance(row.item.attributes, WireAttributes) and row.item.attributes.insulation_c >= 105:
                warm += 1
        rows += len(page.rows)
        pages += 1
        if isinstance(page.next_, Unset):
            break
        cursor = page.next_
    check(pages > 4 and len(skus) == rows > 1000 and warm > 50, f"items: {rows} on {pages} pages, each once")
    wrong = list_items.sync_detailed(client=client, limit=0)
    check(places(problem(wrong, 400, "bad-query")) == ["limit"], "items: the faulty parameter is named")


def quote(client: AuthenticatedClient) -> None:
    """From the boat to the document, and what stands in the way."""
    spec = boat("aft_bilge")
    taken_off = answer(TakeOff, take_off.sync_detailed(client=client, body=spec))
    check(taken_off.circuits[0].drop_percent < taken_off.circuits[0].drop_limit_percent, "take-off: the drop is in its limit")

    request = QuoteRequest(spec=spec, customer="A walk-in", priced_on=datetime.date(2026, 11, 25))
    key = str(uuid.uuid4())
    response = create_quote.sync_detailed(client=client, body=request, idempotency_key=key)
    created = answer(CostedQuote, response)
    again = create_quote.sync_detailed(client=client, body=request, idempotency_key=key)
    check(again.headers.get("Idempotent-Replay") == "true" and again.content == response.content, "quote: repeated byte for byte")
    another = QuoteRequest(spec=spec, customer="Another walk-in")
    problem(create_quote.sync_detailed(client=client, body=another, idempotency_key=key), 422, "key-reused")
    check(created.state == "draft" and created.total is not UNSET, f"quote: total {created.total}")
    read = read_quote_document.sync_detailed(created.id, client=client)
    check(answer(QuoteDocument, read).totals.total == created.total, "document: its total is the quote's")
    # A compressed answer is another representation (RFC 9110) and has a tag of its own, which begins alike.
    check(read.headers["ETag"].startswith(f'"{created.document_hash}'), "document: its ETag is its hash")

    def replace() -> Response[Any]:
        return replace_quote.sync_detailed(created.id, client=client, body=request, if_match=response.headers["ETag"])

    answer(CostedQuote, replace())
    problem(replace(), 412, "stale")
    nowhere = QuoteRequest(spec=boat("bridge"), customer="")
    invalid = problem(create_quote.sync_detailed(client=client, body=nowhere), 422, "invalid")
    check(places(invalid) == ["/customer", "/spec/equipment/0/station"], f"quote: 422 lists its places: {places(invalid)}")


def conflict(client: AuthenticatedClient) -> None:
    """What is there already is not made again."""
    there = answer(Item, read_item.sync_detailed("PNL6-BL", client=client))
    problem(create_item.sync_detailed(client=client, body=there), 409, "already-there")


def with_key(key: str) -> AuthenticatedClient:
    """A client with a key."""
    return AuthenticatedClient(base_url=os.environ["RIGBILL_URL"], token=key, raise_on_unexpected_status=True)


def roles(client: AuthenticatedClient) -> None:
    """A key may do what its role may, and what is no key may do nothing."""
    request = KeyRequest(name=f"Screen in the yard {uuid.uuid4()}", role=Role.READER)
    reader = with_key(answer(IssuedKey, create_key.sync_detailed(client=client, body=request)).secret)
    # A form of its own, in which there is no supplier and no cost.
    answer(ItemForSalePage, list_items.sync_detailed(client=reader, limit=1))
    problem(retire_item.sync_detailed("PNL6-BL", client=reader, if_match='"v1"'), 403, "not-your-role")
    problem(list_items.sync_detailed(client=with_key("rigbill_made_up")), 401, "no-key")


def too_much(client: AuthenticatedClient) -> None:
    """Asks until it is told to wait, and for how long."""
    for _ in range(10_000):
        response = list_items.sync_detailed(client=client, limit=1)
        if response.status_code == 429:
            break
    problem(response, 429, "too-many")
    check(int(response.headers["Retry-After"]) > 0, f"429 says when to come again: in {response.headers['Retry-After']} s")


def main() -> None:
    """The whole job; or, with a service that limits it, what a limit is like."""
    client = with_key(os.environ["RIGBILL_KEY"])
    if sys.argv[1] == "--too-much":
        too_much(client)
        return
    with open(sys.argv[1], "rb") as file:
        import_catalogue(client, file.read())
    jobs: list[Callable[[AuthenticatedClient], None]] = [page_through_items, quote, conflict, roles]
    for job in jobs:
        job(client)


if __name__ == "__main__":
    main()
