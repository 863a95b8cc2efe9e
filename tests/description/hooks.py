"""How the property-based client writes media types that it does not know, and how it stays signed in."""

import json
import os
import urllib.request

import schemathesis


@schemathesis.serializer("application/x-ndjson")
def lines(ctx, value):
    text = value if isinstance(value, str) else json.dumps(value)
    return text.encode()


# A token ends after ten minutes, and a slow machine takes longer.
if "EVENFIELD_SIGN_IN" in os.environ:

    @schemathesis.auth(refresh_interval=300)
    class SignedIn:
        def get(self, case, context):
            sign_in = json.loads(os.environ["EVENFIELD_SIGN_IN"])
            data, headers = json.dumps(sign_in["body"]).encode(), {"Content-Type": "application/json"}
            request = urllib.request.Request(f"{sign_in['origin']}/api/v1/sessions", data, headers)
            with urllib.request.urlopen(request) as answer:
                return json.loads(answer.read())["access_token"]

        def set(self, case, data, context):
            case.headers = case.headers or {}
            case.headers["Authorization"] = f"Bearer {data}"
