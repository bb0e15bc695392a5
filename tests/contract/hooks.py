"""What the talking test is told beside the description.

A repeat of a key is answered as the first request was, also when what that one made has gone since: on purpose, and a
surprise for a test that looks for everything that was made. So each well-formed Idempotency-Key is a new one here; what
repeats are answered with is tested in tests/it.
"""

import itertools
import re

import schemathesis

WELL_FORMED = re.compile(r'("([!#-\[\]-~]|\\["\\]){1,255}"|[!#-~][!-~]{0,254})')
numbers = itertools.count(1)


@schemathesis.hook
def before_call(context, case, kwargs):
    """Makes the key of a request its own."""
    key = (case.headers or {}).get("Idempotency-Key")
    if isinstance(key, str) and WELL_FORMED.fullmatch(key):
        case.headers["Idempotency-Key"] = f"talk-{next(numbers)}"
