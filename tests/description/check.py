"""Has the interface's description read by programs that nobody here wrote.

A validator reads the document that a server answers with, and a property-based client makes requests from it, sound and
unsound ones, as an organizer with a league, an outsider, and somebody who is not signed in. No request may be answered
with a status, media type or body that the description does not have, nor with a 5xx.

Usage: check.py PROGRAM [EXAMPLES]. EXAMPLES is how many requests are made up for each route (4).
"""

import json
import os
import pathlib
import random
import re
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
import uuid

import icalendar
from openapi_spec_validator import OpenAPIV31SpecValidator

PASSWORD = "a short phrase for tests"
# The server's own limits would answer most requests with 429.
PLENTY = "100000000"
CHECKS = "not_a_server_error,status_code_conformance,content_type_conformance,response_schema_conformance"


class Server:
    """The program on a database of its own."""

    def __init__(self, program, folder):
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.origin = f"http://127.0.0.1:{self.port}"
        self.log = open(folder / "server.log", "w")
        words = ["serve", "--create", "--database", f"sqlite:{folder}/league.sqlite", "--listen", f"127.0.0.1:{self.port}"]
        words += ["--registration", "open", "--reads-per-minute", PLENTY, "--writes-per-minute", PLENTY]
        self.process = subprocess.Popen([program, *words], stdout=self.log, stderr=self.log)
        for _ in range(1200):
            try:
                urllib.request.urlopen(f"{self.origin}/livez")
                return
            except OSError:
                time.sleep(0.1)
        raise SystemExit(f"the server does not answer:\n{(folder / 'server.log').read_text()}")

    def ask(self, path, body=None, token=None):
        headers = {"Content-Type": "application/json", "Idempotency-Key": str(uuid.uuid4())}
        if token:
            headers["Authorization"] = f"Bearer {token}"
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(f"{self.origin}/api/v1{path}", data, headers)
        try:
            with urllib.request.urlopen(request) as answer:
                return json.loads(answer.read())
        except urllib.error.HTTPError as refused:
            raise SystemExit(f"{path}: {refused.status} {refused.read().decode()}") from refused

    def person(self, name):
        self.ask("/accounts", credentials(name) | {"display_name": name})
        return self.ask("/sessions", credentials(name))["access_token"]


def credentials(name):
    return {"email": f"{name.lower()}@demo.example", "password": PASSWORD}


def world(server, token):
    """Founds a league with one of everything; returns an id for each kind of path."""
    league = server.ask("/leagues", {"name": "Cellar League", "time_zone": "Europe/Zurich"}, token)
    at = f"/leagues/{league['id']}"
    holes = [{"number": n, "par": 4, "stroke_index": n} for n in range(1, 10)]
    tee = {"name": "mat", "course_rating": 35.3, "slope_rating": 121, "holes": holes}
    course = server.ask(f"{at}/courses", {"name": "Puddle Nine", "tees": [tee]}, token)
    setup = server.ask(f"{at}/setups", {"label": "Bay 1", "sensor": "camera"}, token)
    season = {"name": "First season", "starts_on": "2026-01-01", "ends_on": "2036-12-31"}
    season |= {"concession_ft": 2, "competitions": [{"name": "Table", "award": {"kind": "by_place", "table": [9, 7, 5]}}]}
    season = server.ask(f"{at}/seasons", season, token)
    event = {"name": "Night one", "tee_id": course["tees"][0]["id"], "stimp_ft": 10, "holes": 9}
    event |= {"opens_at": "2026-01-01T18:00:00Z", "closes_at": "2036-01-01T18:00:00Z"}
    event = server.ask(f"/seasons/{season['id']}/events", event, token)
    card = {"client_round_id": str(uuid.uuid4()), "played_on": "2026-01-14"}
    card["holes"] = [{"number": n, "strokes": 4, "putt_count": 2} for n in range(1, 10)]
    round_ = server.ask(f"/events/{event['id']}/rounds", card, token)
    member = server.ask(f"{at}/members", {"display_name": "Ira"}, token)
    ids = {"leagues": league, "courses": course, "setups": setup, "seasons": season, "events": event}
    ids |= {"rounds": round_, "members": member}
    return {kind: thing["id"] for kind, thing in ids.items()}


def reads_calendar(server, league, token):
    """Reads a member's calendar with a parser that nobody here wrote; returns what is wrong."""
    made = server.ask(f"/leagues/{league}/addresses", {"kind": "calendar"}, token)
    with urllib.request.urlopen(f"{server.origin}{made['path']}") as answer:
        calendar = icalendar.Calendar.from_ical(answer.read())
    nights = [(str(night["SUMMARY"]), night["DTSTART"].dt.isoformat(), int(night["SEQUENCE"])) for night in calendar.events]
    due = [("Night one, Cellar League", "2026-01-01T18:00:00+00:00", 0)]
    return [] if nights == due else [f"the calendar reads as {nights}, not as {due}"]


def settings(document, ids, examples):
    """Lets the client ask for things that are there: at random ids everything is 404."""
    lines = [f"[generation]\nmax-examples = {examples}\n"]
    for path in document["paths"]:
        kind = path.split("/")[1]
        if "{id}" in path and kind in ids:
            lines.append(f'[[operations]]\ninclude-path = "{path}"\nparameters = {{ "path.id" = "{ids[kind]}" }}\n')
    return "\n".join(lines)


def plain(part):
    """Leaves joined characters out of the pattern of a name: to make up such names takes the client minutes.

    Whatever it makes up is still a name; names with joined characters have tests of their own.
    """
    if isinstance(part, list):
        return [plain(item) for item in part]
    if not isinstance(part, dict):
        return part
    part = {key: plain(value) for key, value in part.items()}
    joined = re.fullmatch(r"\^\(\?:.*\|(\[\^.*\])\)\*\$", part["pattern"]) if isinstance(part.get("pattern"), str) else None
    return part | {"pattern": f"^{joined[1]}*$"} if joined else part


def main():
    program, examples = os.path.abspath(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else "4"
    seed = os.environ.get("EVENFIELD_DESCRIPTION_SEED", str(random.randrange(2**31)))
    print(f"seed {seed} (EVENFIELD_DESCRIPTION_SEED repeats it)", flush=True)
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        server = Server(program, folder)
        try:
            document = server.ask("/openapi.json")
            faults = list(OpenAPIV31SpecValidator(document).iter_errors())
            for fault in faults:
                print(f"the description: {'/'.join(map(str, fault.absolute_path))}: {fault.message[:300]}")
            if faults:
                return 1
            print("the description is OpenAPI 3.1", flush=True)
            organizer, _ = server.person("Olga"), server.person("Otto")
            ids = world(server, organizer)
            faults = reads_calendar(server, ids["leagues"], organizer)
            if faults:
                print(*faults, sep="\n")
                return 1
            (folder / "openapi.json").write_text(json.dumps(plain(document)))
            (folder / "schemathesis.toml").write_text(settings(document, ids, examples))
            runs = []
            # Whoever may do nothing meets refusals: a few requests for each route show them all.
            everything, few = "coverage,fuzzing", "fuzzing"
            people = [("an organizer", "Olga", everything), ("an outsider", "Otto", few), ("nobody", None, few)]
            for who, name, phases in people:
                client = [pathlib.Path(sys.executable).parent / "schemathesis", "--config-file", "schemathesis.toml"]
                client += ["run", "openapi.json", "--url", f"{server.origin}/api/v1", "--checks", CHECKS, "--seed", seed]
                # How quickly requests are made up says nothing about the server.
                client += ["--phases", phases, "--request-timeout", "120", "--suppress-health-check", "too_slow", "--no-color"]
                # Ending the session or the account ends the run; a stream of a board never ends.
                for path in ["/sessions/current", "/me", "/events/{id}/board/stream", "/me/password"]:
                    client += ["--exclude-path", path]
                hooks = {"SCHEMATHESIS_HOOKS": "hooks", "PYTHONPATH": str(pathlib.Path(__file__).resolve().parent)}
                if name:
                    hooks["EVENFIELD_SIGN_IN"] = json.dumps({"origin": server.origin, "body": credentials(name)})
                output = tempfile.TemporaryFile()
                run = subprocess.Popen(client, cwd=folder, env=os.environ | hooks, stdout=output, stderr=output)
                runs.append((who, run, output))
            failed = 0
            for who, run, output in runs:
                failed += run.wait() != 0
                output.seek(0)
                print(f"as {who}\n{output.read().decode()}", flush=True)
            if server.process.poll() is not None:
                print("the server ended")
                failed += 1
            return 1 if failed else 0
        finally:
            server.process.kill()
            server.process.wait()


if __name__ == "__main__":
    sys.exit(main())
