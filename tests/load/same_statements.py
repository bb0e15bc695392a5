"""Turns PostgreSQL's log of one request into a pgbench script of the same statements.

The values are those of the request, but for what must differ from one transaction to the next: identifiers and document
hashes, which are made from a random number. The values are written into the statements: pgbench prepares them once and
does not send them again, so its rate is, if anything, higher than the database's own would be.
"""

import re

UUID = re.compile(r"[0-9a-f]{8}-(?:[0-9a-f]{4}-){3}[0-9a-f]{12}")
HASH = re.compile(r"[0-9a-f]{64}")
VALUE = re.compile(r"\$(\d+) = (NULL|'((?:[^']|'')*)')")
# PostgreSQL writes further lines of one entry with a tab before them.
ENTRY = re.compile(r"^[^\t\n]*?\b(LOG|DETAIL):  (.*(?:\n\t.*)*)", re.MULTILINE)


def pgbench_script(log):
    """The script, and how many bytes of values its statements carry."""
    lines = ["\\set r random(1, 9000000000000000000)"]
    size = 0
    seen = {}
    statement = None
    for kind, text in ENTRY.findall(log):
        text = text.replace("\n\t", "\n")
        if kind == "DETAIL" and statement and text.lower().startswith("parameters:"):
            values = {int(n): (whole, inner) for n, whole, inner in VALUE.findall(text)}
            size += sum(len(inner) for _, inner in values.values())
            lines[-1] = re.sub(r"\$(\d+)", lambda m: literal(*values[int(m.group(1))], seen), statement) + ";"
            statement = None
            continue
        found = re.match(r"(?:execute [^:]*|statement): (.*)", text, re.DOTALL)
        if found:
            statement = " ".join(found.group(1).split())
            lines.append(statement.rstrip(";") + ";")
    if not any("INSERT" in line.upper() for line in lines):
        raise SystemExit("the log shows no INSERT: the statements of a quote were not seen")
    return "\n".join(lines) + "\n", size


def literal(whole, inner, seen):
    """One value as it stands in the script."""
    if whole == "NULL":
        return "NULL"
    for pattern, digits, cast in ((UUID, 32, "::uuid"), (HASH, 64, "")):
        if pattern.fullmatch(inner):
            # The same value gets the same number again; different ones differ in their first digit.
            mark = seen.setdefault(inner, "123456789abcdef"[len(seen) % 15])
            return f"lpad(to_hex((:r)::bigint), {digits}, '{mark}'){cast}"
    if re.fullmatch(r"-?\d+(\.\d+)?", inner):
        return whole
    if inner.startswith("\\x"):
        return whole
    # pgbench takes a colon and a letter for one of its variables, even inside quotes.
    return "E'" + inner.replace("\\", "\\\\").replace(":", "\\x3a") + "'"
