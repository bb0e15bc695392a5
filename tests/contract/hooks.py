"""What the talking test is told beside the description.

A repeat of a key is answered as the first request was, also when what that one made has gone since: on purpose, and a
surprise for a test that looks for everything that was made. So each well-formed Idempotency-Key is a new one here; what
repeats are answered with is tested in tests/it.

A body made up from a schema hardly ever names a station, an item or a labour operation that exists: it is refused, and
what could be done with the thing that it would have made is never tried. So, in the phase that follows links, every
second well-formed body that is sent to make something is the description's own example, under a name of its own.
"""

import copy
import itertools
import re

import schemathesis

WELL_FORMED = re.compile(r'("([!#-\[\]-~]|\\["\\]){1,255}"|[!#-~][!-~]{0,254})')
numbers = itertools.count(1)


@schemathesis.hook
def before_call(context, case, kwargs):
    """Makes the key of a request its own, and its body one that can be met."""
    number = next(numbers)
    key = (case.headers or {}).get("Idempotency-Key")
    if isinstance(key, str) and WELL_FORMED.fullmatch(key):
        case.headers["Idempotency-Key"] = f"talk-{number}"
    example = example_of(case)
    if example is not None and number % 2:
        for name in ("sku", "code", "name"):
            if name in example:
                example[name] = f"{example[name]}_{number}"
        case.body = example


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
