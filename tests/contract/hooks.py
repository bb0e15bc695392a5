"""What the talking test is told beside the description.

A repeat of a key is answered as the first request was, also when what that one made has gone since: on purpose, and a
surprise for a test that looks for everything that was made. So each well-formed Idempotency-Key is a new one here; what
repeats are answered with is tested in tests/it.

A body made up from a schema hardly ever names a station, an item or a labour operation that exists: it is refused, and
what could be done with the thing that it would have made is never tried. So, in the phase that follows links, every
second well-formed body that is sent to make something is the description's own example, under a name of its own.

The key is given on the command line, and the tool adds it to every request, also where it means to leave it out. So that
one case is left to the tool's check of ignored keys, and to tests/it, which tries every operation without one. Nor does
a talk revoke or rotate the key that it is held with: everything after it would be about that.
"""

import copy
import itertools
import os
import re
import uuid

import schemathesis

WELL_FORMED = re.compile(r'("([!#-\[\]-~]|\\["\\]){1,255}"|[!#-~][!-~]{0,254})')
OWN_KEY = uuid.UUID(os.environ["RIGBILL_KEY"].split("_")[1])
numbers = itertools.count(1)


@schemathesis.hook
def filter_case(context, case):
    """Leaves out the request without a key, which would be sent with one."""
    description = getattr(case.meta.phase.data, "description", None) if case.meta else None
    return description != "Missing `Authorization` at header"


@schemathesis.hook
def before_call(context, case, kwargs):
    """Keeps the key in use, makes the Idempotency-Key of a request its own, and its body one that can be met."""
    number = next(numbers)
    if case.path.startswith("/v1/keys/{id}") and case.method.upper() != "GET" and is_own((case.path_parameters or {}).get("id")):
        case.path_parameters["id"] = str(uuid.UUID(int=number))
    key = (case.headers or {}).get("Idempotency-Key")
    if isinstance(key, str) and WELL_FORMED.fullmatch(key):
        case.headers["Idempotency-Key"] = f"talk-{number}"
    example = example_of(case)
    if example is not None and number % 2:
        for name in ("sku", "code", "name"):
            if name in example:
                example[name] = f"{example[name]}_{number}"
        case.body = example


def is_own(identifier):
    """Whether a text is the identifier of the key in use, however it is written."""
    try:
        return uuid.UUID(str(identifier)) == OWN_KEY
    except ValueError:
        return False


def example_of(case):
    """The example of what is made, where a body that is made up can be replaced by it."""
    meta, raw = case.meta, case.operation.definition.raw
    if meta is None or meta.phase.name != "stateful" or not meta.generation.mode.is_positive:
        return None
    if case.method.upper() != "POST" or "201" not in raw["responses"]:
        return None
    media = raw.get("requestBody", {}).get("content", {}).get("application/json", {})
    examples = list(media.get("examples", {}).values())
    return copy.deepcopy(examples[0]["value"]) if examples else None
