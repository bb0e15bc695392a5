"""Runs the measurements of tests/load/run; see there."""

import json
import os
import pathlib
import re
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request

from same_statements import pgbench_script

ROOT = pathlib.Path(__file__).parents[2]
RELEASE = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "release"
RIGBILL = RELEASE / "rigbill"
BARE = RELEASE / "examples" / "bare"
BOAT = ROOT / "tests" / "bench" / "thirty_circuits.json"
SECONDS_EACH = int(os.environ.get("SECONDS_EACH", "10"))
CONNECTIONS = 16
DATABASE_CONNECTIONS = 8
ROUNDS = 3


# A measurement asks far more than any shop does, from one address with one key.
NO_LIMITS = {f"RIGBILL_{limit}_PER_MINUTE": "0" for limit in ("ADDRESS_UNITS", "KEY_UNITS", "FAILED_KEYS")}


class Server:
    """A server that prints where it listens; stopped on leaving."""

    def __init__(self, command, database):
        environment = {**os.environ, **NO_LIMITS, "DATABASE_URL": database, "RUST_LOG": "warn"}
        self.process = subprocess.Popen(
            [str(part) for part in command], env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )

    def __enter__(self):
        said = []
        for line in self.process.stdout:
            said.append(line)
            found = re.search(r"listening on (http://\S+)", line)
            if found:
                # What it says from now on is thrown away, so that it never waits for a reader.
                subprocess.Popen(["cat"], stdin=self.process.stdout, stdout=subprocess.DEVNULL)
                return found.group(1)
        raise SystemExit("the server ended before it listened:\n" + "".join(said))

    def __exit__(self, *_):
        self.process.terminate()
        self.process.wait(timeout=30)


def post(url, body):
    """One request; the answer's bytes."""
    headers = {"Content-Type": "application/json", "Authorization": f"Bearer {os.environ['RIGBILL_KEY']}"}
    request = urllib.request.Request(url, body, headers)
    with urllib.request.urlopen(request, timeout=60) as answer:
        return answer.read()


def wrk(url, body, unique=None, seconds=SECONDS_EACH):
    """Requests a second, all answered with 2xx, and the median and 99th percentile of the time of one."""
    environment = {**os.environ, "BODY": str(body)}
    if unique:
        environment["UNIQUE"] = unique
    script = str(ROOT / "tests" / "load" / "post.lua")
    command = ["wrk", "-t2", f"-c{CONNECTIONS}", f"-d{seconds}s", "--latency", "-s", script, url]
    out = subprocess.run(command, env=environment, capture_output=True, text=True, check=True).stdout
    if "Non-2xx" in out or "Socket errors" in out:
        raise SystemExit(f"not every request was answered with 2xx:\n{out}")
    rate = float(re.search(r"Requests/sec:\s+([\d.]+)", out).group(1))
    times = [re.search(rf"^\s+{share}%\s+(\S+)", out, re.MULTILINE).group(1) for share in ("50", "99")]
    return rate, times


def stock(database):
    """Brings the demo shop into a fresh database, and makes the key that requests are sent with."""
    environment = {**os.environ, "DATABASE_URL": database}
    subprocess.run([str(BARE), "stock"], env=environment, check=True)
    command = [str(RIGBILL), "key", "create", "--role", "owner", "--name", "Load"]
    made = subprocess.run(command, env=environment, check=True, stdout=subprocess.PIPE, text=True)
    os.environ["RIGBILL_KEY"] = made.stdout.strip()


def take_offs():
    """The service's take-offs against a bare endpoint, by turns."""
    with tempfile.TemporaryDirectory() as folder:
        database = f"sqlite://{folder}/shop.sqlite?mode=rwc"
        stock(database)
        with Server([RIGBILL, "serve", "--port", "0"], database) as served, Server([BARE, "serve", BOAT], database) as bare:
            body = BOAT.read_bytes()
            answers = [post(f"{url}/v1/take-offs", body) for url in (served, bare)]
            if answers[0] != answers[1]:
                raise SystemExit("the service and the bare endpoint do not answer with the same bytes")
            print(f"take-offs: {len(body)} bytes in, {len(answers[0])} bytes out, {CONNECTIONS} connections, "
                  f"{ROUNDS} rounds of {SECONDS_EACH} s each")
            for url in (served, bare):
                wrk(f"{url}/v1/take-offs", BOAT, seconds=3)
            rates = {served: [], bare: []}
            for _ in range(ROUNDS):
                for name, url in (("service", served), ("bare", bare)):
                    rate, (half, most) = wrk(f"{url}/v1/take-offs", BOAT)
                    rates[url].append(rate)
                    print(f"  {name:8} {rate:9.0f} requests/s   half within {half}, 99 % within {most}")
    ratio = statistics.median(rates[served]) / statistics.median(rates[bare])
    print(f"take-offs: service / bare = {ratio:.2f} (aim 0.60)")


def quotes():
    """Quotes on PostgreSQL against take-offs on it and the same statements by pgbench, by turns."""
    server = os.environ["TEST_POSTGRES_URL"]
    database = server.rsplit("/", 1)[0] + "/load"
    subprocess.run(["psql", "-q", server, "-c", "CREATE DATABASE load"], check=True)
    stock(database)
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        body = folder / "quote.json"
        spec = json.loads(BOAT.read_text(encoding="utf-8"))
        spec["boat"]["name"] = "@NAME@"
        body.write_text(json.dumps({"spec": spec}), encoding="utf-8")

        script = folder / "statements.sql"
        logged = database + "?options=-c%20log_statement%3Dall"
        with Server([RIGBILL, "serve", "--port", "0"], logged) as url:
            # The first requests also read the shop and look up types; the last is like all that follow.
            for n in range(20):
                at = os.path.getsize(os.environ["POSTGRES_LOG"])
                post(f"{url}/v1/quotes", body.read_bytes().replace(b"@NAME@", b"Logged %d" % n))
            time.sleep(0.5)
            with open(os.environ["POSTGRES_LOG"], encoding="utf-8") as log:
                log.seek(at)
                statements, size = pgbench_script(log.read())
        script.write_text(statements, encoding="utf-8")
        print(f"quotes: {statements.count(';')} statements with {size} bytes of values, {CONNECTIONS} connections, "
              f"{DATABASE_CONNECTIONS} to the database, {ROUNDS} rounds of {SECONDS_EACH} s each")

        rates = {"R": [], "T": [], "D": []}
        with Server([RIGBILL, "serve", "--port", "0"], database) as url:
            wrk(f"{url}/v1/quotes", body, unique="warm", seconds=3)
            for n in range(ROUNDS):
                for name, rate in (
                    ("R", lambda: wrk(f"{url}/v1/quotes", body, unique=f"boat-{n}")),
                    ("T", lambda: wrk(f"{url}/v1/take-offs", BOAT)),
                    ("D", lambda: (pgbench(database, script), ("-", "-"))),
                ):
                    rate, (half, most) = rate()
                    rates[name].append(rate)
                    print(f"  {name} {rate:9.0f} a second   half within {half}, 99 % within {most}")
                # Old versions of rows and a log to be written out are nobody's fault in the next round.
                subprocess.run(["psql", "-q", database, "-c", "CHECKPOINT"], check=True)
    r, t, d = (statistics.median(rates[name]) for name in "RTD")
    print(f"quotes: R = {r:.0f}, T = {t:.0f}, D = {d:.0f}; R / (T·D/(T+D)) = {r * (t + d) / (t * d):.2f} (aim 0.80)")


def pgbench(database, script):
    """Transactions a second of the statements alone."""
    command = ["pgbench", "-n", "-M", "prepared", "-c", str(DATABASE_CONNECTIONS), "-j", "2", "-T", str(SECONDS_EACH)]
    out = subprocess.run([*command, "-f", str(script), database], capture_output=True, text=True, check=False)
    found = re.search(r"tps = ([\d.]+)", out.stdout)
    if out.returncode != 0 or not found or "0 (0.000%)" not in out.stdout.replace("number of failed transactions: ", ""):
        raise SystemExit(f"pgbench: {out.stdout}\n{out.stderr}"[:3000])
    return float(found.group(1))


if __name__ == "__main__":
    {"take-offs": take_offs, "quotes": quotes}[sys.argv[1]]()
